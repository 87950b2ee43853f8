//! Absorption bands: measured shapes moved to a dye's own peaks.

use super::{BandFamily, Indicator};
use std::sync::OnceLock;

const TABLE: &str = include_str!("../../calibration/band_shapes.csv");
const FIRST_NM: f64 = 350.0;
const STEP_NM: f64 = 2.0;

/// Columns: bromophenol blue acid, base, m-cresol purple acid, base.
fn columns() -> &'static [Vec<f64>; 4] {
    static COLUMNS: OnceLock<[Vec<f64>; 4]> = OnceLock::new();
    COLUMNS.get_or_init(|| {
        let mut columns: [Vec<f64>; 4] = Default::default();
        for line in TABLE.lines().filter(|line| !line.starts_with('#')).skip(1) {
            for (column, field) in columns.iter_mut().zip(line.split(',').skip(1)) {
                column.push(field.parse().unwrap_or(0.0));
            }
        }
        columns
    })
}

/// Value at `nm`, interpolated; zero beyond the red end, held at the violet end.
fn sample(column: &[f64], nm: f64) -> f64 {
    let at = ((nm - FIRST_NM) / STEP_NM).max(0.0);
    let left = at as usize;
    if left + 1 >= column.len() {
        return 0.0;
    }
    column[left] + (column[left + 1] - column[left]) * (at - left as f64)
}

/// Peak wavelength of a column in its own band.
fn peak_of(column: &[f64], family: BandFamily) -> (f64, f64) {
    let from = match family {
        BandFamily::Yellow => 410.0,
        BandFamily::Deep => 520.0,
    };
    let start = ((from - FIRST_NM) / STEP_NM) as usize;
    let mut best = start;
    for i in start..column.len() {
        if column[i] > column[best] {
            best = i;
        }
    }
    // Parabola through the three highest points: the table is finer than the peak is sharp.
    let (a, b, c) = (column[best - 1], column[best], column[best + 1]);
    let offset = 0.5 * (a - c) / (a - 2.0 * b + c);
    (FIRST_NM + STEP_NM * (best as f64 + offset), b)
}

/// A band of `family` with peak height 1 at `peak_nm`, evaluated at `nm`.
///
/// `mix` blends the two measured dyes: 0 is bromophenol blue, 1 is m-cresol purple. The measured band is moved in
/// wavenumber and stretched about its peak by `stretch` (1 = as measured), since band widths are alike in energy.
#[must_use]
pub fn band(family: BandFamily, peak_nm: f64, mix: f64, stretch: f64, nm: f64) -> f64 {
    static PEAKS: OnceLock<[(f64, f64); 4]> = OnceLock::new();
    let columns = columns();
    let peaks = PEAKS.get_or_init(|| {
        let family = [BandFamily::Yellow, BandFamily::Deep, BandFamily::Yellow, BandFamily::Deep];
        [0, 1, 2, 3].map(|i| peak_of(&columns[i], family[i]))
    });
    let pair = match family {
        BandFamily::Yellow => [0, 2],
        BandFamily::Deep => [1, 3],
    };
    let one = |i: usize| {
        let (peak, height) = peaks[i];
        let wavenumber = (1e7 / nm - 1e7 / peak_nm) / stretch + 1e7 / peak;
        sample(&columns[i], 1e7 / wavenumber.max(1.0)) / height
    };
    (1.0 - mix) * one(pair[0]) + mix * one(pair[1])
}

/// Acid bands differ less than base bands: those of bromophenol blue and phenol red are both 98 nm wide at half height
/// (carbspec splines; Rovati et al. 2012, digitised), only that of m-cresol purple is broader, so one in three.
const ACID_SHARE: f64 = 0.33;

/// Absorptivity of the acid form at `nm`, relative to its nominal peak.
#[must_use]
pub fn acid(indicator: &Indicator, peak_nm: f64, mix: f64, stretch: f64, nm: f64) -> f64 {
    band(indicator.acid_family, peak_nm, mix * ACID_SHARE, stretch, nm)
}

/// Absorptivity of the base form at `nm`, relative to the acid form's nominal peak.
///
/// The far end of the base form's band, near the acid form's peak, is scaled to the published rest absorptivity there:
/// it differs much from dye to dye, and the base form's own violet absorption is what a camera takes for remaining acid form.
#[must_use]
pub fn base(indicator: &Indicator, peak_nm: f64, mix: f64, stretch: f64, nm: f64) -> f64 {
    let height = indicator.ratio * band(indicator.base_family, peak_nm, mix, stretch, nm);
    if indicator.base_family == BandFamily::Yellow || indicator.rest <= 0.0 {
        return height;
    }
    let nominal = indicator.ratio * band(indicator.base_family, indicator.base_nm, mix, 1.0, indicator.acid_nm);
    let scale = (indicator.rest / nominal.max(1e-6)).clamp(0.1, 4.0);
    // Blends from the scaled end to the band as measured about 40 nm redward of the acid peak.
    let redward = 1.0 / (1.0 + (-(nm - indicator.acid_nm - 40.0) / 12.0).exp());
    height * (scale + (1.0 - scale) * redward)
}

/// Absorptivity of the acid and the base form at `nm`, relative to the acid form's peak.
#[must_use]
pub fn absorptivity(indicator: &Indicator, nm: f64) -> (f64, f64) {
    (acid(indicator, indicator.acid_nm, indicator.mix, 1.0, nm), base(indicator, indicator.base_nm, indicator.mix, 1.0, nm))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::indicator::catalogue;
    use approx::assert_abs_diff_eq;

    // Table of section "band shapes" values of bromophenol blue (splines of carbspec 0.0.3): acid 0.459 at 440 nm, base 0.883 at 580 nm.
    #[test]
    fn keeps_the_measured_values_at_home() {
        assert_abs_diff_eq!(sample(&columns()[0], 440.0), 0.459, epsilon = 0.001);
        assert_abs_diff_eq!(sample(&columns()[1], 580.0), 0.883, epsilon = 0.001);
    }

    #[test]
    fn peaks_where_it_is_told() {
        for dye in catalogue::all() {
            let base = |nm: f64| absorptivity(dye, nm).1;
            assert!(base(dye.base_nm) > 0.97 * dye.ratio, "{}", dye.name);
            assert!(base(dye.base_nm) >= base(dye.base_nm + 8.0) && base(dye.base_nm) >= base(dye.base_nm - 8.0), "{}", dye.name);
        }
    }
}
