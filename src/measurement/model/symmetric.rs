//! Small symmetric matrices of fixed size: sums of products of rows, and their triangular factor.
//!
//! The fit spends most of its time here. Rows lie side by side in memory and every inner loop runs along a row, so that the
//! compiler makes vector instructions of it; sums keep one order, so that results do not depend on the machine.

use std::ops::Range;

/// A symmetric matrix of which only the upper triangle is kept up; what lies below the diagonal has no meaning.
#[derive(Debug, Clone)]
pub(super) struct Symmetric<const N: usize>([[f64; N]; N]);

/// Upper triangle U of a positive definite matrix A = U' U.
#[derive(Debug, Clone)]
pub(super) struct Factor<const N: usize>(Symmetric<N>);

/// Where to begin in row `i`: a whole number of vectors from the start costs less than a ragged one, though it spills a little
/// below the diagonal.
fn begin(i: usize) -> usize {
    i & !3
}

/// `a` += `factor` times `b`, item by item.
pub(super) fn add_scaled<const N: usize>(a: &mut [f64; N], factor: f64, b: &[f64; N]) {
    for (a, b) in a.iter_mut().zip(b) {
        *a += factor * b;
    }
}

/// Sum of the products of items.
pub(super) fn dot<const N: usize>(a: &[f64; N], b: &[f64; N]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

impl<const N: usize> Symmetric<N> {
    /// Ones on the diagonal.
    pub(super) fn identity() -> Self {
        Symmetric(std::array::from_fn(|i| std::array::from_fn(|j| if i == j { 1.0 } else { 0.0 })))
    }

    /// The upper triangle of `matrix`.
    pub(super) fn of(matrix: &nalgebra::SMatrix<f64, N, N>) -> Self {
        Symmetric(std::array::from_fn(|i| std::array::from_fn(|j| matrix[(i, j)])))
    }

    /// Adds to the item of two unknowns, in whichever order they come.
    pub(super) fn add_item(&mut self, i: usize, j: usize, amount: f64) {
        self.0[i.min(j)][i.max(j)] += amount;
    }

    /// Adds the sum of `weights[c]` times the product of row c with itself. Three at a time, as many as a colour has channels.
    pub(super) fn add_products(&mut self, weights: [f64; 3], rows: [&[f64; N]; 3]) {
        for i in 0..N {
            let [f, g, h] = [0, 1, 2].map(|c| weights[c] * rows[c][i]);
            // Unknowns that the patch does not depend on.
            if f == 0.0 && g == 0.0 && h == 0.0 {
                continue;
            }
            let [a, b, c] = rows.map(|row| &row[begin(i)..]);
            for (((sum, a), b), c) in self.0[i][begin(i)..].iter_mut().zip(a).zip(b).zip(c) {
                *sum += f * a + g * b + h * c;
            }
        }
    }

    /// The same matrix with its diagonal enlarged by this share of `of`'s.
    pub(super) fn damp(&mut self, damping: f64, of: &Self) {
        for i in 0..N {
            self.0[i][i] += damping * of.0[i][i];
        }
    }

    /// Cholesky factor; `None` when the matrix is not positive definite.
    pub(super) fn factor(mut self) -> Option<Factor<N>> {
        self.eliminate(0..N)?;
        Some(self.eliminated())
    }

    /// Turns these rows into rows of the factor and what lies below into the equations of the other unknowns alone; all rows before
    /// must have been eliminated already. `None` when the matrix is not positive definite.
    pub(super) fn eliminate(&mut self, rows: Range<usize>) -> Option<()> {
        for k in rows {
            let pivot = self.0[k][k];
            if !(pivot > 0.0 && pivot.is_finite()) {
                return None;
            }
            let scale = 1.0 / pivot.sqrt();
            let row = self.0[k].map(|v| v * scale);
            self.0[k] = row;
            for i in k + 1..N {
                let f = row[i];
                for (a, b) in self.0[i][begin(i)..].iter_mut().zip(&row[begin(i)..]) {
                    *a -= f * b;
                }
            }
        }
        Some(())
    }

    /// The factor, once all rows are eliminated.
    pub(super) fn eliminated(self) -> Factor<N> {
        Factor(self)
    }

    /// Solves U' y = b in place for rows that have been eliminated; `b` further down becomes the right side that is left to the rest.
    pub(super) fn solve_lower(&self, rows: Range<usize>, b: &mut [f64; N]) {
        for k in rows {
            let row = &self.0[k];
            b[k] /= row[k];
            let y = b[k];
            for (b, u) in b[k + 1..].iter_mut().zip(&row[k + 1..]) {
                *b -= u * y;
            }
        }
    }

    /// Zeros in the rows from `first` on.
    pub(super) fn clear_from(&mut self, first: usize) {
        self.0[first..].fill([0.0; N]);
    }

    /// Adds the rows from `first` on of `other`.
    pub(super) fn add_from(&mut self, first: usize, other: &Self) {
        for (row, more) in self.0[first..].iter_mut().zip(&other.0[first..]) {
            add_scaled(row, 1.0, more);
        }
    }

    /// Takes over the rows from `first` on of `other`.
    pub(super) fn copy_from(&mut self, first: usize, other: &Self) {
        self.0[first..].copy_from_slice(&other.0[first..]);
    }
}

impl<const N: usize> Factor<N> {
    /// Solves U' y = b in place.
    pub(super) fn solve_lower(&self, b: &mut [f64; N]) {
        self.0.solve_lower(0..N, b);
    }

    /// Solves U' Y = B in place for several right sides at once; row k of `b` holds item k of each.
    pub(super) fn solve_lower_rows<const M: usize>(&self, b: &mut [[f64; M]; N]) {
        for (k, row) in self.0.0.iter().enumerate() {
            b[k] = b[k].map(|v| v / row[k]);
            let done = b[k];
            for (b, u) in b[k + 1..].iter_mut().zip(&row[k + 1..]) {
                add_scaled(b, -u, &done);
            }
        }
    }

    /// Solves U x = y in place.
    pub(super) fn solve_upper(&self, y: &mut [f64; N]) {
        for (i, row) in self.0.0.iter().enumerate().rev() {
            let known: f64 = row[i + 1..].iter().zip(&y[i + 1..]).map(|(u, x)| u * x).sum();
            y[i] = (y[i] - known) / row[i];
        }
    }

    /// Part of these rows in the log determinant of A; all rows make up the whole.
    pub(super) fn log_determinant(&self, rows: Range<usize>) -> f64 {
        2.0 * rows.map(|i| self.0.0[i][i].ln()).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{SMatrix, SVector};

    /// Rows without pattern.
    fn rows() -> [[f64; 7]; 9] {
        std::array::from_fn(|i| std::array::from_fn(|j| ((3 * i + 5 * j * j + i * j) % 11) as f64 / 5.0 - 1.0))
    }

    /// The same sum by this module and by nalgebra.
    fn both() -> (Symmetric<7>, SMatrix<f64, 7, 7>) {
        let (mut ours, mut theirs) = (Symmetric::identity(), SMatrix::identity());
        for three in rows().chunks(3) {
            ours.add_products([0.5, 1.0, 2.0], [&three[0], &three[1], &three[2]]);
            for (row, weight) in three.iter().zip([0.5, 1.0, 2.0]) {
                let v = SVector::<f64, 7>::from_row_slice(row);
                theirs += weight * v * v.transpose();
            }
        }
        (ours, theirs)
    }

    #[test]
    fn agrees_with_a_general_library() {
        let (ours, theirs) = both();
        for i in 0..7 {
            for j in i..7 {
                assert!((ours.0[i][j] - theirs[(i, j)]).abs() < 1e-12);
            }
        }
        let factor = ours.factor().unwrap();
        assert!((factor.log_determinant(0..7) - theirs.determinant().ln()).abs() < 1e-10);
        let right = rows()[4];
        let mut x = right;
        factor.solve_lower(&mut x);
        let mut together: [[f64; 1]; 7] = right.map(|v| [v]);
        factor.solve_lower_rows(&mut together);
        assert!(x.iter().zip(together).all(|(a, [b])| (a - b).abs() < 1e-12));
        factor.solve_upper(&mut x);
        let expected = theirs.try_inverse().unwrap() * SVector::<f64, 7>::from_row_slice(&right);
        assert!(x.iter().zip(expected.iter()).all(|(a, b)| (a - b).abs() < 1e-10), "{x:?} {expected}");
    }

    #[test]
    fn refuses_what_is_not_positive_definite() {
        let mut matrix = Symmetric::<3>::identity();
        matrix.add_products([-2.0, 0.0, 0.0], [&[0.0, 1.0, 0.0], &[0.0; 3], &[0.0; 3]]);
        assert!(matrix.factor().is_none());
    }
}
