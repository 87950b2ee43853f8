//! Products and inverses of 3 x 3 matrices, rows first.

use super::space::Matrix;

/// Matrix product `a b`.
#[must_use]
pub fn product(a: &Matrix, b: &Matrix) -> Matrix {
    std::array::from_fn(|i| std::array::from_fn(|j| (0..3).map(|k| a[i][k] * b[k][j]).sum()))
}

/// Inverse by cofactors; not finite when the matrix is singular.
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
        let m = [[0.9, 0.27, -0.16], [-0.75, 1.71, 0.04], [0.04, -0.07, 1.03]];
        let both = product(&inverse(&m), &m);
        for (i, row) in both.iter().enumerate() {
            for (j, value) in row.iter().enumerate() {
                assert_abs_diff_eq!(*value, if i == j { 1.0 } else { 0.0 }, epsilon = 1e-12);
            }
        }
    }

    #[test]
    fn singular_is_not_finite() {
        let flat = [[1.0, 2.0, 3.0], [2.0, 4.0, 6.0], [0.0, 1.0, 1.0]];
        assert!(inverse(&flat).iter().flatten().any(|v| !v.is_finite()));
    }
}
