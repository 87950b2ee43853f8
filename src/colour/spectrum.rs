//! A spectrum on the one wavelength grid of the project.

/// First wavelength of the grid, nm.
pub const FIRST_NM: f64 = 380.0;
/// Spacing of the grid, nm.
pub const STEP_NM: f64 = 5.0;
/// Number of wavelengths: 380 to 780 nm.
pub const POINTS: usize = 81;

/// Values at 380, 385, ... 780 nm.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectrum(pub [f64; POINTS]);

impl Spectrum {
    /// Evaluates `value` at each wavelength in nm.
    #[must_use]
    pub fn from_fn(mut value: impl FnMut(f64) -> f64) -> Self {
        Spectrum(std::array::from_fn(|i| value(wavelength(i))))
    }

    /// Linear interpolation; the end values are held outside the grid.
    #[must_use]
    pub fn at(&self, nm: f64) -> f64 {
        let x = ((nm - FIRST_NM) / STEP_NM).clamp(0.0, (POINTS - 1) as f64);
        let i = (x as usize).min(POINTS - 2);
        self.0[i] + (self.0[i + 1] - self.0[i]) * (x - i as f64)
    }

    /// Sum of the products at each wavelength.
    #[must_use]
    pub fn dot(&self, other: &Spectrum) -> f64 {
        self.0.iter().zip(&other.0).map(|(a, b)| a * b).sum()
    }

    /// Product at each wavelength.
    #[must_use]
    pub fn times(&self, other: &Spectrum) -> Spectrum {
        Spectrum(std::array::from_fn(|i| self.0[i] * other.0[i]))
    }

    /// Each value changed by `change`.
    #[must_use]
    pub fn map(&self, mut change: impl FnMut(f64) -> f64) -> Spectrum {
        Spectrum(std::array::from_fn(|i| change(self.0[i])))
    }
}

/// Wavelength in nm of grid point `index`.
#[must_use]
pub fn wavelength(index: usize) -> f64 {
    FIRST_NM + STEP_NM * index as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    // A straight line is its own interpolation; beyond the grid its ends are held.
    #[test]
    fn interpolates_and_holds_the_ends() {
        let line = Spectrum::from_fn(|nm| 3.0 * nm - 7.0);
        for nm in [FIRST_NM, 503.2, 555.0, 601.7] {
            assert_abs_diff_eq!(line.at(nm), 3.0 * nm - 7.0, epsilon = 1e-9);
        }
        assert_abs_diff_eq!(line.at(0.0), line.0[0]);
        assert_abs_diff_eq!(line.at(1e4), line.0[POINTS - 1]);
    }
}
