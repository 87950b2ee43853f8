//! The CIE 1931 standard observer and the tristimulus values it sees.

use super::spectrum::Spectrum;
use super::table;
use std::sync::OnceLock;

/// Head of the file names source and licence.
const TABLE: &str = include_str!("../../calibration/observer.csv");

/// Colour matching functions x, y, z of the CIE 1931 2-degree observer.
#[must_use]
pub fn cie_1931() -> &'static [Spectrum; 3] {
    static OBSERVER: OnceLock<[Spectrum; 3]> = OnceLock::new();
    OBSERVER.get_or_init(|| {
        let columns = table::columns(TABLE);
        std::array::from_fn(|i| columns[i].1.clone())
    })
}

/// X, Y, Z of a surface of this `reflectance` (0 to 1) under `light`, scaled so that a perfect white has Y = 1.
#[must_use]
pub fn tristimulus(light: &Spectrum, reflectance: &Spectrum) -> [f64; 3] {
    let observer = cie_1931();
    let white = light.dot(&observer[1]);
    let seen = light.times(reflectance);
    [0, 1, 2].map(|i| seen.dot(&observer[i]) / white)
}

/// X, Y, Z of a perfect white under `light`, Y = 1.
#[must_use]
pub fn white_point(light: &Spectrum) -> [f64; 3] {
    let observer = cie_1931();
    let y = light.dot(&observer[1]);
    [0, 1, 2].map(|i| light.dot(&observer[i]) / y)
}

/// Chromaticity x, y of tristimulus values.
#[must_use]
pub fn chromaticity(xyz: [f64; 3]) -> (f64, f64) {
    let sum = xyz[0] + xyz[1] + xyz[2];
    (xyz[0] / sum, xyz[1] / sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn every_value_is_there() {
        assert!(cie_1931().iter().all(|curve| curve.0.iter().all(|v| v.is_finite() && *v >= 0.0)));
    }

    // CIE 15:2004 (values from memory): y-bar is 1.0000 at 555 nm, x-bar 1.0622 at 600 nm, z-bar 1.7721 at 450 nm.
    #[test]
    fn peaks_as_published() {
        let [x, y, z] = cie_1931();
        assert_abs_diff_eq!(y.at(555.0), 1.0, epsilon = 1e-4);
        assert_abs_diff_eq!(x.at(600.0), 1.0622, epsilon = 1e-4);
        assert_abs_diff_eq!(z.at(450.0), 1.7721, epsilon = 1e-4);
    }

    // An equal-energy light has x = y = 1/3 (normalisation of the observer, CIE 15:2004 section 7.1); 5 nm sums keep 1e-4.
    #[test]
    fn equal_energy_is_in_the_middle() {
        let (x, y) = chromaticity(white_point(&Spectrum::from_fn(|_| 1.0)));
        assert_abs_diff_eq!(x, 1.0 / 3.0, epsilon = 1e-4);
        assert_abs_diff_eq!(y, 1.0 / 3.0, epsilon = 1e-4);
    }
}
