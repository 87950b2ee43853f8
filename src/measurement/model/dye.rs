//! The indicator's two forms on the model's wavelengths, and how each uncertain trait changes them.

use super::parameters::{MIX, PEAK_NM, SHOULDER, SharedVector, VIOLET, WIDTH, shared};
use super::{WAVES, Wave, nanometres};
use crate::indicator::Indicator;
use crate::indicator::shape::{acid, base};

/// Number of traits of the acid form: peak, width, family mix.
pub const ACID_TRAITS: usize = 3;
/// Number of traits of the base form: ratio, peak, width, family mix, shoulder, violet band.
pub const BASE_TRAITS: usize = 6;

/// Absorptivities relative to the acid peak; traits are changes per standard deviation.
#[derive(Debug, Clone)]
pub struct DyeBasis {
    acid: Wave,
    base: Wave,
    /// Change of the acid form per trait.
    pub acid_traits: [Wave; ACID_TRAITS],
    /// Change of the base form per trait.
    pub base_traits: [Wave; BASE_TRAITS],
}

/// Gaussian in wavenumber, centre in nm, width in 1/cm.
fn bump(centre_nm: f64, width: f64, nm: f64) -> f64 {
    (-0.5 * ((1e7 / nm - 1e7 / centre_nm) / width).powi(2)).exp()
}

impl DyeBasis {
    /// The traits of one indicator.
    #[must_use]
    pub fn new(dye: &Indicator) -> Self {
        let wave = |f: &dyn Fn(f64) -> f64| -> Wave { std::array::from_fn(|i| f(nanometres(i))) };
        let half = |f: &dyn Fn(f64, f64) -> f64| -> Wave { wave(&|nm| 0.5 * (f(nm, 1.0) - f(nm, -1.0))) };
        let base_bump = 1e7 / (1e7 / dye.base_nm + 2000.0);
        let (a, b) = (dye.acid_nm, dye.base_nm);
        DyeBasis {
            acid: wave(&|nm| acid(dye, a, dye.mix, 1.0, nm)),
            base: wave(&|nm| base(dye, b, dye.mix, 1.0, nm)),
            acid_traits: [
                half(&|nm, z| acid(dye, a + PEAK_NM * z, dye.mix, 1.0, nm)),
                half(&|nm, z| acid(dye, a, dye.mix, 1.0 + WIDTH * z, nm)),
                half(&|nm, z| acid(dye, a, dye.mix + MIX * z, 1.0, nm)),
            ],
            base_traits: [
                wave(&|nm| dye.ratio_sd * base(dye, b, dye.mix, 1.0, nm)),
                half(&|nm, z| base(dye, b + PEAK_NM * z, dye.mix, 1.0, nm)),
                half(&|nm, z| base(dye, b, dye.mix, 1.0 + WIDTH * z, nm)),
                half(&|nm, z| base(dye, b, dye.mix + MIX * z, 1.0, nm)),
                wave(&|nm| dye.ratio * SHOULDER * bump(base_bump, 1100.0, nm)),
                wave(&|nm| VIOLET * bump(375.0, 1500.0, nm)),
            ],
        }
    }

    /// Absorptivities of the acid and the base form for these traits, never negative.
    #[must_use]
    pub fn forms(&self, z: &SharedVector) -> (Wave, Wave) {
        let (mut acid, mut base) = (self.acid, self.base);
        for (k, trait_) in self.acid_traits.iter().enumerate() {
            for i in 0..WAVES {
                acid[i] += z[shared::ACID + k] * trait_[i];
            }
        }
        for (k, trait_) in self.base_traits.iter().enumerate() {
            for i in 0..WAVES {
                base[i] += z[shared::BASE + k] * trait_[i];
            }
        }
        (acid.map(|e| e.max(0.0)), base.map(|e| e.max(0.0)))
    }
}
