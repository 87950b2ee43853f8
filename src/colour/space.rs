//! The colour space a photo declares, and the way from it to linear sRGB.

use super::tone::ToneCurve;
use nalgebra::{Matrix3, Vector3};

/// Rows first, RGB: `out[i] = sum over j of m[i][j] * in[j]`.
pub type Matrix = [[f64; 3]; 3];

/// Red, green, blue and white as CIE 1931 chromaticities x, y.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Primaries {
    /// Red.
    pub red: [f64; 2],
    /// Green.
    pub green: [f64; 2],
    /// Blue.
    pub blue: [f64; 2],
    /// White: equal parts of the three at full.
    pub white: [f64; 2],
}

/// CIE D65 as sRGB writes it (IEC 61966-2-1).
pub const D65: [f64; 2] = [0.3127, 0.3290];

/// IEC 61966-2-1.
pub const SRGB: Primaries = Primaries { red: [0.64, 0.33], green: [0.30, 0.60], blue: [0.15, 0.06], white: D65 };

/// SMPTE EG 432-1 primaries with white D65.
pub const DISPLAY_P3: Primaries = Primaries { red: [0.680, 0.320], green: [0.265, 0.690], blue: [0.150, 0.060], white: D65 };

/// Adobe RGB (1998) colour image encoding, version 2005-05, section 4.3.1.
pub const ADOBE_RGB: Primaries = Primaries { red: [0.64, 0.33], green: [0.21, 0.71], blue: [0.15, 0.06], white: D65 };

/// Adobe RGB (1998), section 4.3.4.2: the exponent is 2 51/256.
const ADOBE_EXPONENT: f64 = 2.0 + 51.0 / 256.0;

/// Bradford cone responses (Lam 1985; the numbers as printed in ICC.1:2022, annex E).
const BRADFORD: Matrix3<f64> = Matrix3::new(0.8951, 0.2664, -0.1614, -0.7502, 1.7135, 0.0367, 0.0389, -0.0685, 1.0296);

/// Matrix difference below which primaries count as those of sRGB. Published sRGB profiles differ by up to about
/// 0.001 through their rounding of primaries, white and adaptation; 0.002 is less than 0.001 in density.
const SAME_PRIMARIES: f64 = 0.002;

/// Primaries and transfer curves of a photo.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoSpace {
    /// Name for messages, such as `sRGB` or `Display P3`.
    pub name: String,
    /// Linear RGB of the photo -> linear sRGB; white stays white.
    pub to_srgb: Matrix,
    /// Transfer curve of each channel.
    pub curves: [ToneCurve; 3],
}

impl PhotoSpace {
    /// IEC 61966-2-1, also taken for untagged photos.
    #[must_use]
    pub fn srgb() -> Self {
        PhotoSpace { name: "sRGB".to_owned(), to_srgb: IDENTITY, curves: [ToneCurve::Srgb, ToneCurve::Srgb, ToneCurve::Srgb] }
    }

    /// Display P3: wide primaries with the curve of sRGB.
    #[must_use]
    pub fn display_p3() -> Self {
        Self::known("Display P3", &DISPLAY_P3, &ToneCurve::Srgb)
    }

    /// Adobe RGB (1998).
    #[must_use]
    pub fn adobe_rgb() -> Self {
        Self::known("Adobe RGB (1998)", &ADOBE_RGB, &ToneCurve::Power(ADOBE_EXPONENT))
    }

    fn known(name: &str, primaries: &Primaries, curve: &ToneCurve) -> Self {
        let curves = [curve.clone(), curve.clone(), curve.clone()];
        Self::from_primaries(name, primaries, curves).unwrap_or_else(Self::srgb)
    }

    /// From chromaticities; `None` when they span no triangle around their white.
    #[must_use]
    pub fn from_primaries(name: &str, primaries: &Primaries, curves: [ToneCurve; 3]) -> Option<Self> {
        Self::from_colorants(name, &rgb_to_xyz(primaries)?, curves)
    }

    /// From the XYZ of the three primaries (columns R, G, B), adapted to any one white: that white is the sum of
    /// the columns, and Bradford adaptation takes it to D65. `None` when the matrix cannot be inverted, is not
    /// finite, or its white is far from Y = 1.
    #[must_use]
    pub fn from_colorants(name: &str, colorants: &Matrix, curves: [ToneCurve; 3]) -> Option<Self> {
        let colorants = to_nalgebra(colorants);
        let white = colorants * Vector3::repeat(1.0);
        // A profile's white has Y = 1 by definition; a tenth is room for rounding, more is no photo's profile.
        if !colorants.iter().all(|v| v.is_finite()) || (white.y - 1.0).abs() > 0.1 {
            return None;
        }
        colorants.try_inverse()?;
        let srgb = to_nalgebra(&rgb_to_xyz(&SRGB)?);
        let to_srgb = srgb.try_inverse()? * adaptation(white, srgb * Vector3::repeat(1.0))? * colorants;
        let is_srgb = (to_srgb - Matrix3::identity()).amax() < SAME_PRIMARIES;
        let to_srgb = if is_srgb { IDENTITY } else { [0, 1, 2].map(|i| [0, 1, 2].map(|j| to_srgb[(i, j)])) };
        Some(PhotoSpace { name: name.to_owned(), to_srgb, curves })
    }
}

/// Leaves every colour as it is.
const IDENTITY: Matrix = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// Matrix times vector.
#[must_use]
pub fn apply(m: &Matrix, v: [f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|i| m[i][0] * v[0] + m[i][1] * v[1] + m[i][2] * v[2])
}

/// Linear RGB -> XYZ with white at Y = 1; `None` when the primaries lie on one line.
#[must_use]
pub fn rgb_to_xyz(primaries: &Primaries) -> Option<Matrix> {
    let columns = [primaries.red, primaries.green, primaries.blue].map(xyz);
    let unscaled = Matrix3::from_columns(&columns);
    let parts = unscaled.try_inverse()? * xyz(primaries.white);
    let scaled = unscaled * Matrix3::from_diagonal(&parts);
    let matrix = [0, 1, 2].map(|i| [0, 1, 2].map(|j| scaled[(i, j)]));
    scaled.iter().all(|v| v.is_finite()).then_some(matrix)
}

/// XYZ under white `from` -> XYZ of the same look under white `to` (Bradford).
#[must_use]
pub fn bradford(from: [f64; 2], to: [f64; 2]) -> Option<Matrix> {
    let matrix = adaptation(xyz(from), xyz(to))?;
    Some([0, 1, 2].map(|i| [0, 1, 2].map(|j| matrix[(i, j)])))
}

fn adaptation(from: Vector3<f64>, to: Vector3<f64>) -> Option<Matrix3<f64>> {
    let (from, to) = (BRADFORD * from, BRADFORD * to);
    let matrix = BRADFORD.try_inverse()? * Matrix3::from_diagonal(&to.component_div(&from)) * BRADFORD;
    matrix.iter().all(|v| v.is_finite()).then_some(matrix)
}

/// XYZ with Y = 1 of a chromaticity.
fn xyz([x, y]: [f64; 2]) -> Vector3<f64> {
    Vector3::new(x / y, 1.0, (1.0 - x - y) / y)
}

fn to_nalgebra(m: &Matrix) -> Matrix3<f64> {
    Matrix3::from_fn(|i, j| m[i][j])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn assert_close(ours: &Matrix, published: &Matrix, tolerance: f64) {
        for i in 0..3 {
            for j in 0..3 {
                assert!((ours[i][j] - published[i][j]).abs() < tolerance, "row {i} column {j}: {} against {}", ours[i][j], published[i][j]);
            }
        }
    }

    // IEC 61966-2-1:1999, equation 7, four decimals.
    #[test]
    fn srgb_matrix_is_the_published_one() {
        let published = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]];
        assert_close(&rgb_to_xyz(&SRGB).unwrap(), &published, 1e-4);
    }

    // Display P3 from the colour-science 0.4.7 package (BSD-3-Clause), RGB_COLOURSPACE_DISPLAY_P3.matrix_RGB_to_XYZ.
    #[test]
    fn display_p3_matrix_is_the_published_one() {
        let published = [
            [0.486_570_949, 0.265_667_693, 0.198_217_285],
            [0.228_974_564, 0.691_738_522, 0.079_286_914_1],
            [0.0, 0.045_113_381_9, 1.043_944_37],
        ];
        assert_close(&rgb_to_xyz(&DISPLAY_P3).unwrap(), &published, 1e-8);
    }

    // Adobe RGB (1998) version 2005-05, section 4.3.5.3, five decimals.
    #[test]
    fn adobe_rgb_matrix_is_the_published_one() {
        let published = [[0.57667, 0.18556, 0.18823], [0.29734, 0.62736, 0.07529], [0.02703, 0.07069, 0.99134]];
        assert_close(&rgb_to_xyz(&ADOBE_RGB).unwrap(), &published, 1.5e-5);
    }

    // D65 -> D50 from colour-science 0.4.7 (CHROMATIC_ADAPTATION_TRANSFORMS["Bradford"], rounded D50).
    #[test]
    fn bradford_matrix_is_the_published_one() {
        let published = [
            [1.047_929_79, 0.022_946_87, -0.050_192_27],
            [0.029_627_81, 0.990_434_43, -0.017_073_80],
            [-0.009_243_04, 0.015_055_19, 0.751_874_28],
        ];
        assert_close(&bradford(D65, [0.3457, 0.3585]).unwrap(), &published, 1e-8);
    }

    #[test]
    fn white_stays_white_and_wide_red_leaves_srgb() {
        for space in [PhotoSpace::display_p3(), PhotoSpace::adobe_rgb()] {
            for channel in apply(&space.to_srgb, [1.0, 1.0, 1.0]) {
                assert!((channel - 1.0).abs() < 1e-12, "{}: {channel}", space.name);
            }
        }
        let red = apply(&PhotoSpace::display_p3().to_srgb, [1.0, 0.0, 0.0]);
        assert!(red[0] > 1.2 && red[1] < 0.0 && red[2] < 0.0, "{red:?}");
    }

    #[test]
    fn primaries_on_one_line_are_refused() {
        let line = Primaries { red: [0.3, 0.3], green: [0.4, 0.4], blue: [0.5, 0.5], white: D65 };
        let curves = || [ToneCurve::Srgb, ToneCurve::Srgb, ToneCurve::Srgb];
        assert_eq!(PhotoSpace::from_primaries("line", &line, curves()), None);
        assert_eq!(PhotoSpace::from_colorants("nan", &[[f64::NAN; 3]; 3], curves()), None);
        assert_eq!(PhotoSpace::from_colorants("dark", &[[0.1, 0.0, 0.0], [0.0, 0.1, 0.0], [0.0, 0.0, 0.1]], curves()), None);
    }
}
