//! Perceived colour: CIELAB, its hue and chroma, and the CIEDE2000 difference.

use palette::color_difference::Ciede2000;
use palette::white_point::D65;
use palette::{FromColor, Lab, LinSrgb};

/// CIELAB (D65, 2 degrees) of linear sRGB, of which 1, 1, 1 is white. Values below 0 or above 1 are taken as they are.
#[must_use]
pub fn lab_of_linear_srgb(rgb: [f64; 3]) -> [f64; 3] {
    let lab = Lab::<D65, f64>::from_color(LinSrgb::new(rgb[0], rgb[1], rgb[2]));
    [lab.l, lab.a, lab.b]
}

/// Linear sRGB, of which 1, 1, 1 is white, of a CIELAB colour (D65, 2 degrees); colours beyond sRGB leave 0 to 1.
#[must_use]
pub fn linear_srgb_of_lab(lab: [f64; 3]) -> [f64; 3] {
    let rgb: LinSrgb<f64> = LinSrgb::from_color(Lab::<D65, f64>::new(lab[0], lab[1], lab[2]));
    [rgb.red, rgb.green, rgb.blue]
}

/// CIELAB of tristimulus values against a white, both on the same scale (CIE 15:2004 section 8.2).
#[must_use]
pub fn lab_of_xyz(xyz: [f64; 3], white: [f64; 3]) -> [f64; 3] {
    // CIE 15:2004: (6/29)^3 is where the cube root passes into the straight line.
    let f = |t: f64| if t > (6.0f64 / 29.0).powi(3) { t.cbrt() } else { t * 841.0 / 108.0 + 4.0 / 29.0 };
    let [x, y, z] = [0, 1, 2].map(|i| f(xyz[i] / white[i]));
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// Hue in degrees, 0 to below 360 counted from +a (red) over +b (yellow), and chroma of a CIELAB colour.
#[must_use]
pub fn hue_chroma(lab: [f64; 3]) -> (f64, f64) {
    let degrees = lab[2].atan2(lab[1]).to_degrees().rem_euclid(360.0);
    // A tiny negative angle rounds up to 360, which is 0.
    (if degrees < 360.0 { degrees } else { 0.0 }, lab[1].hypot(lab[2]))
}

/// CIEDE2000 difference of two CIELAB colours with all weights 1.
#[must_use]
pub fn ciede2000(one: [f64; 3], other: [f64; 3]) -> f64 {
    let lab = |c: [f64; 3]| Lab::<D65, f64>::new(c[0], c[1], c[2]);
    Ciede2000::difference(lab(one), lab(other))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    // L* of 18 % reflectance is 49.50 (CIE 15:2004 formula, worked by hand: 116 * 0.18^(1/3) - 16).
    #[test]
    fn grey_card_is_half_way() {
        let [l, a, b] = lab_of_linear_srgb([0.18, 0.18, 0.18]);
        assert_abs_diff_eq!(l, 49.50, epsilon = 0.005);
        assert_abs_diff_eq!(a.hypot(b), 0.0, epsilon = 0.02);
    }

    #[test]
    fn there_and_back() {
        for rgb in [[0.18, 0.18, 0.18], [0.7, 0.6, 0.05], [0.1, 0.02, 0.5]] {
            let back = linear_srgb_of_lab(lab_of_linear_srgb(rgb));
            for i in 0..3 {
                assert_abs_diff_eq!(back[i], rgb[i], epsilon = 1e-6);
            }
        }
    }

    // The signs stated in prose: red has +a, green -a, yellow +b, blue -b.
    #[test]
    fn signs_are_as_stated() {
        assert!(lab_of_linear_srgb([1.0, 0.0, 0.0])[1] > 0.0 && lab_of_linear_srgb([0.0, 1.0, 0.0])[1] < 0.0);
        assert!(lab_of_linear_srgb([1.0, 1.0, 0.0])[2] > 0.0 && lab_of_linear_srgb([0.0, 0.0, 1.0])[2] < 0.0);
        assert_abs_diff_eq!(hue_chroma([50.0, 0.0, -3.0]).0, 270.0, epsilon = 1e-9);
        assert_abs_diff_eq!(hue_chroma([50.0, 1.0, -1e-20]).0, 0.0, epsilon = 1e-9);
    }
}
