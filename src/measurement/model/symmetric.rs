//! Small symmetric matrices of fixed size: sums of products of rows, and their triangular factor.
//!
//! The fit spends most of its time here. Rows are whole vectors of four, and every inner loop runs along a row, so that the compiler
//! makes vector instructions of it. No sum depends on how many figures a processor takes at once: the order is that of the source.
//!
//! What is told to be inlined always has to be part of a function that is compiled for several kinds of processor, or it runs as on the
//! least of them.

use std::ops::Range;

/// A symmetric matrix of which only the upper triangle is kept up; what lies below the diagonal has no meaning. The size has to be a
/// multiple of four.
#[derive(Debug, Clone)]
pub(super) struct Symmetric<const N: usize>([[f64; N]; N]);

/// Upper triangle U of a positive definite matrix A = U' U.
#[derive(Debug, Clone, Copy)]
pub(super) struct Factor<'a, const N: usize>(&'a Symmetric<N>);

/// Figures side by side.
type Four = [f64; 4];

/// `a` += `factor` times `b`, item by item.
#[inline(always)]
pub(super) fn add_scaled<const N: usize>(a: &mut [f64; N], factor: f64, b: &[f64; N]) {
    for (a, b) in a.iter_mut().zip(b) {
        *a += factor * b;
    }
}

/// `a` += the sum of three rows, each times its factor, item by item.
#[inline(always)]
pub(super) fn add_three_scaled<const N: usize>(a: &mut [f64; N], factors: [f64; 3], [b, c, d]: &[[f64; N]; 3]) {
    let (b, c, d) = (b.as_chunks::<4>().0, c.as_chunks::<4>().0, d.as_chunks::<4>().0);
    for (at, a) in a.as_chunks_mut::<4>().0.iter_mut().enumerate() {
        add_three(a, factors, &b[at], &c[at], &d[at]);
    }
}

/// Sum of the products of items.
#[inline(always)]
pub(super) fn dot<const N: usize>(a: &[f64; N], b: &[f64; N]) -> f64 {
    dot_fours(a.as_chunks().0, b.as_chunks().0)
}

/// The same of whole vectors: four sums side by side, as none has to wait for the one before it.
#[inline(always)]
fn dot_fours(a: &[Four], b: &[Four]) -> f64 {
    let mut sums = [0.0; 4];
    for (a, b) in a.iter().zip(b) {
        for i in 0..4 {
            sums[i] += a[i] * b[i];
        }
    }
    (sums[0] + sums[1]) + (sums[2] + sums[3])
}

/// `sum` += f a + g b + h c, item by item.
#[inline(always)]
fn add_three(sum: &mut Four, [f, g, h]: [f64; 3], a: &Four, b: &Four, c: &Four) {
    for i in 0..4 {
        sum[i] += f * a[i] + g * b[i] + h * c[i];
    }
}

/// `a` -= `factor` times `b`, from this vector of four on.
#[inline(always)]
fn subtract<const N: usize>(a: &mut [f64; N], factor: f64, b: &[f64; N], from: usize) {
    let (a, b) = (a.as_chunks_mut::<4>().0, b.as_chunks::<4>().0);
    for place in from..N / 4 {
        for i in 0..4 {
            a[place][i] -= factor * b[place][i];
        }
    }
}

impl<const N: usize> Symmetric<N> {
    /// Ones on the diagonal.
    pub(super) fn identity() -> Self {
        const { assert!(N.is_multiple_of(4), "a ragged end would be left out of every sum") };
        let mut matrix = Symmetric([[0.0; N]; N]);
        matrix.set_identity();
        matrix
    }

    /// Becomes ones on the diagonal.
    pub(super) fn set_identity(&mut self) {
        self.0 = [[0.0; N]; N];
        for i in 0..N {
            self.0[i][i] = 1.0;
        }
    }

    /// The upper triangle of `matrix`; ones on the diagonal beyond its end.
    pub(super) fn of<const M: usize>(matrix: &nalgebra::SMatrix<f64, M, M>) -> Self {
        let mut out = Self::identity();
        for i in 0..M {
            for j in i..M {
                out.0[i][j] = matrix[(i, j)];
            }
        }
        out
    }

    /// Sum of the squares of `z`, each times its item on the diagonal.
    pub(super) fn diagonal_form(&self, z: &[f64; N]) -> f64 {
        (0..N).map(|i| self.0[i][i] * z[i] * z[i]).sum()
    }

    /// Adds to the item of two unknowns, in whichever order they come.
    pub(super) fn add_item(&mut self, i: usize, j: usize, amount: f64) {
        self.0[i.min(j)][i.max(j)] += amount;
    }

    /// Adds the sum of `weights[c]` times the product of row c with itself. Three at a time, as many as a colour has channels.
    #[inline(always)]
    pub(super) fn add_products(&mut self, weights: [f64; 3], rows: [&[f64; N]; 3]) {
        let [a, b, c] = rows.map(|row| row.as_chunks::<4>().0);
        for (place, four) in self.0.as_chunks_mut::<4>().0.iter_mut().enumerate() {
            // Unknowns that the patch does not depend on: no bit but the sign is set in any figure.
            if (0..4).fold(0, |bits, i| bits | a[place][i].to_bits() | b[place][i].to_bits() | c[place][i].to_bits()) << 1 == 0 {
                continue;
            }
            let mut factors = [[0.0; 3]; 4];
            for (i, factors) in factors.iter_mut().enumerate() {
                *factors = [weights[0] * a[place][i], weights[1] * b[place][i], weights[2] * c[place][i]];
            }
            // Four rows together, so that what they have in common is loaded once.
            let [one, two, three, last] = four.each_mut().map(|row| row.as_chunks_mut::<4>().0);
            for at in place..N / 4 {
                add_three(&mut one[at], factors[0], &a[at], &b[at], &c[at]);
                add_three(&mut two[at], factors[1], &a[at], &b[at], &c[at]);
                add_three(&mut three[at], factors[2], &a[at], &b[at], &c[at]);
                add_three(&mut last[at], factors[3], &a[at], &b[at], &c[at]);
            }
        }
    }

    /// Becomes `of` with its diagonal enlarged by this share.
    pub(super) fn set_damped(&mut self, damping: f64, of: &Self) {
        self.0 = of.0;
        for i in 0..N {
            self.0[i][i] += damping * of.0[i][i];
        }
    }

    /// Cholesky factor, in place of the matrix; `None` when it is not positive definite.
    #[inline(always)]
    pub(super) fn factor(&mut self) -> Option<Factor<'_, N>> {
        self.eliminate(0..N)?;
        Some(self.eliminated())
    }

    /// Turns these rows into rows of the factor and what lies below into the equations of the other unknowns alone; all rows before
    /// must have been eliminated already. `None` when the matrix is not positive definite.
    #[inline(always)]
    pub(super) fn eliminate(&mut self, rows: Range<usize>) -> Option<()> {
        let mut from = rows.start;
        while from < rows.end {
            let place = from / 4;
            let end = rows.end.min(4 * place + 4);
            let (above, below) = self.0.split_at_mut(4 * place + 4);
            let panel: &mut [[f64; N]; 4] = above.last_chunk_mut()?;
            for k in from..end {
                let (done, rest) = panel.split_at_mut(k % 4 + 1);
                let row = done.last_mut()?;
                let pivot = row[k];
                if !(pivot > 0.0 && pivot.is_finite()) {
                    return None;
                }
                let scale = 1.0 / pivot.sqrt();
                for item in row.iter_mut() {
                    *item *= scale;
                }
                for (other, &factor) in rest.iter_mut().zip(&row[k + 1..]) {
                    subtract(other, factor, row, place);
                }
            }
            if end - from == 4 {
                subtract_four(panel, below, place + 1);
            } else {
                for row in &panel[from % 4..=(end - 1) % 4] {
                    for (i, other) in (4 * place + 4..).zip(below.iter_mut()) {
                        subtract(other, row[i], row, i / 4);
                    }
                }
            }
            from = end;
        }
        Some(())
    }

    /// The factor, once all rows are eliminated.
    pub(super) fn eliminated(&self) -> Factor<'_, N> {
        Factor(self)
    }

    /// Solves U' y = b in place for rows that have been eliminated, the first a multiple of four; `b` further down becomes the right side
    /// that is left to the rest. Beyond the last row, up to the end of its vector, `b` has to be zero.
    #[inline(always)]
    pub(super) fn solve_lower(&self, rows: Range<usize>, b: &mut [f64; N]) {
        let b = b.as_chunks_mut::<4>().0;
        for (place, panel) in self.0.as_chunks::<4>().0.iter().enumerate().take(rows.end.div_ceil(4)).skip(rows.start / 4) {
            let rows = panel.each_ref().map(|row| row.as_chunks::<4>().0);
            let mut y = b[place];
            for k in 0..4 {
                y[k] /= rows[k][place][k];
                for j in k + 1..4 {
                    y[j] -= rows[k][place][j] * y[k];
                }
            }
            b[place] = y;
            for at in place + 1..N / 4 {
                let (x, [p, q, r, s]) = (b[at], rows.map(|row| row[at]));
                b[at] = std::array::from_fn(|j| x[j] - p[j] * y[0] - q[j] * y[1] - r[j] * y[2] - s[j] * y[3]);
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

/// Subtracts from the rows `below`, the first of which begins at vector `first`, what four rows of the factor leave of them: the same
/// sums in the same order as one row after the other, with a fourth of the loads.
#[inline(always)]
fn subtract_four<const N: usize>(panel: &[[f64; N]; 4], below: &mut [[f64; N]], first: usize) {
    let [a, b, c, d] = panel.each_ref().map(|row| row.as_chunks::<4>().0);
    for (place, four) in (first..N / 4).zip(below.as_chunks_mut::<4>().0) {
        for (i, row) in four.iter_mut().enumerate() {
            let (f, g, h, k) = (a[place][i], b[place][i], c[place][i], d[place][i]);
            let row = row.as_chunks_mut::<4>().0;
            for at in place..N / 4 {
                let (x, a, b, c, d) = (row[at], &a[at], &b[at], &c[at], &d[at]);
                row[at] = std::array::from_fn(|j| x[j] - f * a[j] - g * b[j] - h * c[j] - k * d[j]);
            }
        }
    }
}

impl<const N: usize> Factor<'_, N> {
    /// Solves U' y = b in place.
    #[inline(always)]
    pub(super) fn solve_lower(self, b: &mut [f64; N]) {
        self.0.solve_lower(0..N, b);
    }

    /// Solves U' Y = B in place for several right sides at once; row k of `b` holds item k of each. Rows of which `b` has none are zero.
    #[inline(always)]
    pub(super) fn solve_lower_rows<const M: usize, const K: usize>(self, b: &mut [[f64; M]; K]) {
        for (k, row) in self.0.0.iter().take(K).enumerate() {
            let Some((done, rest)) = b[k..].split_first_mut() else { return };
            let scale = 1.0 / row[k];
            for item in done.iter_mut() {
                *item *= scale;
            }
            for (b, u) in rest.iter_mut().zip(&row[k + 1..]) {
                add_scaled(b, -u, done);
            }
        }
    }

    /// Solves U x = y in place.
    #[inline(always)]
    pub(super) fn solve_upper(self, y: &mut [f64; N]) {
        let y = y.as_chunks_mut::<4>().0;
        for (place, panel) in self.0.0.as_chunks::<4>().0.iter().enumerate().rev() {
            let rows = panel.each_ref().map(|row| row.as_chunks::<4>().0);
            let far = rows.map(|row| dot_fours(&row[place + 1..], &y[place + 1..]));
            let mut x = y[place];
            for k in (0..4).rev() {
                let near: f64 = (k + 1..4).map(|j| rows[k][place][j] * x[j]).sum();
                x[k] = (x[k] - near - far[k]) / rows[k][place][k];
            }
            y[place] = x;
        }
    }

    /// Part of these rows in the log determinant of A; all rows make up the whole.
    pub(super) fn log_determinant(self, rows: Range<usize>) -> f64 {
        2.0 * rows.map(|i| self.0.0[i][i].ln()).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{SMatrix, SVector};

    /// Rows without pattern.
    fn rows() -> [[f64; 8]; 9] {
        std::array::from_fn(|i| std::array::from_fn(|j| ((3 * i + 5 * j * j + i * j) % 11) as f64 / 5.0 - 1.0))
    }

    /// The same sum by this module and by nalgebra.
    fn both() -> (Symmetric<8>, SMatrix<f64, 8, 8>) {
        let (mut ours, mut theirs) = (Symmetric::identity(), SMatrix::identity());
        for three in rows().chunks(3) {
            ours.add_products([0.5, 1.0, 2.0], [&three[0], &three[1], &three[2]]);
            for (row, weight) in three.iter().zip([0.5, 1.0, 2.0]) {
                let v = SVector::<f64, 8>::from_row_slice(row);
                theirs += weight * v * v.transpose();
            }
        }
        (ours, theirs)
    }

    #[test]
    fn agrees_with_a_general_library() {
        let (mut ours, theirs) = both();
        for i in 0..8 {
            for j in i..8 {
                assert!((ours.0[i][j] - theirs[(i, j)]).abs() < 1e-12);
            }
        }
        let factor = ours.factor().unwrap();
        assert!((factor.log_determinant(0..8) - theirs.determinant().ln()).abs() < 1e-10);
        let right = rows()[4];
        let mut x = right;
        factor.solve_lower(&mut x);
        let mut together: [[f64; 1]; 8] = right.map(|v| [v]);
        factor.solve_lower_rows(&mut together);
        assert!(x.iter().zip(together).all(|(a, [b])| (a - b).abs() < 1e-12));
        factor.solve_upper(&mut x);
        let expected = theirs.try_inverse().unwrap() * SVector::<f64, 8>::from_row_slice(&right);
        assert!(x.iter().zip(expected.iter()).all(|(a, b)| (a - b).abs() < 1e-10), "{x:?} {expected}");
    }

    // A right side is solved in portions of whole vectors.
    #[test]
    fn right_sides_are_solved_in_portions() {
        let (mut ours, theirs) = both();
        let right = rows()[2];
        let factor = ours.factor().unwrap();
        let mut whole = right;
        factor.solve_lower(&mut whole);
        let mut portions = right;
        factor.0.solve_lower(0..4, &mut portions);
        factor.0.solve_lower(4..8, &mut portions);
        let expected = theirs.cholesky().unwrap().l().solve_lower_triangular(&SVector::<f64, 8>::from_row_slice(&right)).unwrap();
        assert!(whole.iter().zip(portions).zip(expected.iter()).all(|((a, b), c)| (a - b).abs() < 1e-12 && (a - c).abs() < 1e-10));
        assert!((both().0.diagonal_form(&right) - (0..8).map(|i| both().1[(i, i)] * right[i] * right[i]).sum::<f64>()).abs() < 1e-9);
    }

    // Cups and dyes are eliminated in portions that do not end where a vector does.
    #[test]
    fn portions_come_to_the_whole() {
        let (matrix, _) = both();
        let mut whole = matrix.clone();
        whole.eliminate(0..8).unwrap();
        for split in 1..8 {
            let mut portions = matrix.clone();
            portions.eliminate(0..split).unwrap();
            portions.eliminate(split..8).unwrap();
            for i in 0..8 {
                for j in i..8 {
                    assert!((portions.0[i][j] - whole.0[i][j]).abs() < 1e-12, "{split} {i} {j}");
                }
            }
        }
    }

    #[test]
    fn refuses_what_is_not_positive_definite() {
        let mut matrix = Symmetric::<4>::identity();
        matrix.add_products([-2.0, 0.0, 0.0], [&[0.0, 1.0, 0.0, 0.0], &[0.0; 4], &[0.0; 4]]);
        assert!(matrix.factor().is_none());
    }
}
