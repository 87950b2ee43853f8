//! Reflectances of a 24-patch colour chart, on which camera matrices are fitted.

use super::spectrum::Spectrum;
use super::table;
use std::sync::OnceLock;

/// Head of the file names source and licence.
const TABLE: &str = include_str!("../../calibration/chart.csv");

/// Reflectance (0 to 1) of each patch in the chart's order: eighteen coloured ones, then six greys from white to black.
#[must_use]
pub fn patches() -> &'static [Spectrum] {
    static PATCHES: OnceLock<Vec<Spectrum>> = OnceLock::new();
    PATCHES.get_or_init(|| table::lines(TABLE).into_iter().map(|(_, spectrum)| spectrum).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twenty_four_reflectances() {
        assert_eq!(patches().len(), 24);
        assert!(patches().iter().all(|p| p.0.iter().all(|v| (0.0..=1.0).contains(v))));
        let greys: Vec<f64> = patches()[18..].iter().map(|p| p.at(550.0)).collect();
        assert!(greys.is_sorted_by(|a, b| a > b), "{greys:?}");
    }
}
