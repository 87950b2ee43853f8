//! How a colour is to be changed when the white it is seen against changes.

use super::space::{Matrix, apply};

/// XYZ to sharpened cone responses, Bradford (Lam 1985; ICC.1:2022 annex E).
const BRADFORD: Matrix = [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]];

/// XYZ under white `from` -> XYZ under white `to`, linear Bradford adaptation; both whites are XYZ with positive Y.
#[must_use]
pub fn bradford(from: [f64; 3], to: [f64; 3]) -> Matrix {
    let (source, target) = (apply(&BRADFORD, from), apply(&BRADFORD, to));
    let gains: Matrix = std::array::from_fn(|i| std::array::from_fn(|j| BRADFORD[i][j] * target[i] / source[i]));
    product(&inverse(&BRADFORD), &gains)
}

/// Matrix product `a b`, rows first.
#[must_use]
pub fn product(a: &Matrix, b: &Matrix) -> Matrix {
    std::array::from_fn(|i| std::array::from_fn(|j| (0..3).map(|k| a[i][k] * b[k][j]).sum()))
}

/// Inverse of a 3 x 3 matrix by cofactors; not finite when it is singular.
#[must_use]
pub fn inverse(m: &Matrix) -> Matrix {
    let cofactor = |i: usize, j: usize| {
        let (r0, r1, c0, c1) = ((i + 1) % 3, (i + 2) % 3, (j + 1) % 3, (j + 2) % 3);
        m[r0][c0] * m[r1][c1] - m[r0][c1] * m[r1][c0]
    };
    let determinant: f64 = (0..3).map(|j| m[0][j] * cofactor(0, j)).sum();
    std::array::from_fn(|i| std::array::from_fn(|j| cofactor(j, i) / determinant))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn inverse_undoes() {
        let both = product(&inverse(&BRADFORD), &BRADFORD);
        for (i, row) in both.iter().enumerate() {
            for (j, value) in row.iter().enumerate() {
                assert_abs_diff_eq!(*value, if i == j { 1.0 } else { 0.0 }, epsilon = 1e-12);
            }
        }
    }

    #[test]
    fn white_becomes_white() {
        let (from, to) = ([1.09849, 1.0, 0.3558], [0.9504, 1.0, 1.0889]);
        let seen = apply(&bradford(from, to), from);
        for i in 0..3 {
            assert_abs_diff_eq!(seen[i], to[i], epsilon = 1e-12);
        }
    }
}
