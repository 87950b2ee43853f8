//! From the chromaticities of a screen's primaries to matrices.

use super::adaptation::{inverse, product};
use super::space::{Matrix, apply};

/// Chromaticity x, y of red, green and blue of sRGB (IEC 61966-2-1).
pub const SRGB: [(f64, f64); 3] = [(0.64, 0.33), (0.30, 0.60), (0.15, 0.06)];
/// Chromaticity x, y of red, green and blue of Display P3 (SMPTE RP 431-2 primaries).
pub const DISPLAY_P3: [(f64, f64); 3] = [(0.680, 0.320), (0.265, 0.690), (0.150, 0.060)];
/// Chromaticity x, y of the white of both (D65 as IEC 61966-2-1 rounds it).
pub const D65: (f64, f64) = (0.3127, 0.3290);

/// XYZ of a chromaticity at Y = 1.
#[must_use]
pub fn xyz((x, y): (f64, f64)) -> [f64; 3] {
    [x / y, 1.0, (1.0 - x - y) / y]
}

/// Linear RGB -> XYZ for these primaries, so that 1, 1, 1 is `white` with Y = 1 (SMPTE RP 177).
#[must_use]
pub fn rgb_to_xyz(primaries: [(f64, f64); 3], white: (f64, f64)) -> Matrix {
    let columns = primaries.map(xyz);
    let unscaled: Matrix = std::array::from_fn(|i| std::array::from_fn(|j| columns[j][i]));
    let amounts = apply(&inverse(&unscaled), xyz(white));
    let scale = [[amounts[0], 0.0, 0.0], [0.0, amounts[1], 0.0], [0.0, 0.0, amounts[2]]];
    product(&unscaled, &scale)
}

/// Linear RGB of these primaries -> linear sRGB; both have the same white.
#[must_use]
pub fn to_srgb(primaries: [(f64, f64); 3]) -> Matrix {
    product(&inverse(&rgb_to_xyz(SRGB, D65)), &rgb_to_xyz(primaries, D65))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn white_stays_white() {
        let white = apply(&to_srgb(DISPLAY_P3), [1.0, 1.0, 1.0]);
        assert!(white.iter().all(|v| (v - 1.0).abs() < 1e-12), "{white:?}");
        // The wider red lies outside sRGB: more than all of its red, less than none of its green.
        let red = apply(&to_srgb(DISPLAY_P3), [1.0, 0.0, 0.0]);
        assert!(red[0] > 1.0 && red[1] < 0.0);
    }

    // IEC 61966-2-1: the green column's Y is 0.7152.
    #[test]
    fn luminance_of_green() {
        assert_abs_diff_eq!(rgb_to_xyz(SRGB, D65)[1][1], 0.7152, epsilon = 5e-5);
    }
}
