//! The colour space a photo declares, and the way from it to linear sRGB.

use super::tone::ToneCurve;

/// Rows first, RGB: `out[i] = sum over j of m[i][j] * in[j]`.
pub type Matrix = [[f64; 3]; 3];

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
        PhotoSpace {
            name: "sRGB".to_owned(),
            to_srgb: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
            curves: [ToneCurve::Srgb, ToneCurve::Srgb, ToneCurve::Srgb],
        }
    }
}

/// Matrix times vector.
#[must_use]
pub fn apply(m: &Matrix, v: [f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|i| m[i][0] * v[0] + m[i][1] * v[1] + m[i][2] * v[2])
}
