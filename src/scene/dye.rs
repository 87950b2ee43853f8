//! One lot of an indicator: what a bottle really holds, a little off the book.

use super::random::Random;
use crate::colour::spectrum::Spectrum;
use crate::indicator::equilibrium::{base_fraction, pka_at};
use crate::indicator::shape::{absorptivity, acid, band, base};
use crate::indicator::{BandFamily, Indicator};
use crate::quantity::{BaseFraction, Celsius, IonicStrength, Ph};

/// The salt and warmth of a bath, which move pKa'.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Medium {
    /// mol/l.
    pub ionic_strength: IonicStrength,
    /// Degrees Celsius.
    pub temperature: Celsius,
}

/// A bottle of dye.
#[derive(Debug, Clone, PartialEq)]
pub struct Lot {
    /// Which dye it is sold as.
    pub indicator: &'static Indicator,
    /// Decadic absorptivity of the acid form relative to its peak in the book.
    pub acid: Spectrum,
    /// The same for the base form.
    pub base: Spectrum,
    /// This lot's pKa' less the one of the book.
    pub pka_offset: f64,
}

impl Lot {
    /// The dye of the book.
    #[must_use]
    pub fn nominal(indicator: &'static Indicator) -> Self {
        Lot {
            indicator,
            acid: Spectrum::from_fn(|nm| absorptivity(indicator, nm).0),
            base: Spectrum::from_fn(|nm| absorptivity(indicator, nm).1),
            pka_offset: 0.0,
        }
    }

    /// A lot as it may come: bands moved by a nanometre or two, wider or narrower, other shoulders, some yellow that is no indicator.
    #[must_use]
    pub fn drawn(indicator: &'static Indicator, random: &mut Random) -> Self {
        // Invented spreads; peaks of one dye differ by 1 to 2 nm between the papers cited in calibration/indicators.csv.
        let (acid_nm, base_nm) = (indicator.acid_nm + random.normal(1.3), indicator.base_nm + random.normal(1.3));
        let mut blend = || (indicator.mix + random.normal(0.25)).clamp(0.0, 1.0);
        let (acid_mix, base_mix) = (blend(), blend());
        let (acid_stretch, base_stretch) = (1.0 + random.normal(0.04), 1.0 + random.normal(0.05));
        let strength = random.normal(0.8 * indicator.ratio_sd).exp();
        let (impurity, impurity_nm) = (random.normal(0.025).abs(), random.between(415.0, 450.0));
        let violet = random.between(0.0, 0.08);
        let stray = |nm: f64| impurity * band(BandFamily::Yellow, impurity_nm, 1.0, 1.2, nm);
        // The near-ultraviolet band of the base forms, whose foot reaches into the violet.
        let foot = |nm: f64| violet * (-0.5 * ((nm - 378.0) / 22.0f64).powi(2)).exp();
        Lot {
            indicator,
            acid: Spectrum::from_fn(|nm| acid(indicator, acid_nm, acid_mix, acid_stretch, nm) + stray(nm)),
            base: Spectrum::from_fn(|nm| strength * base(indicator, base_nm, base_mix, base_stretch, nm) + foot(nm) + stray(nm)),
            pka_offset: random.normal(0.8 * indicator.pka_sd),
        }
    }

    /// pKa' of this lot in a bath.
    #[must_use]
    pub fn pka(&self, medium: Medium) -> f64 {
        pka_at(self.indicator, medium.ionic_strength, medium.temperature) + self.pka_offset
    }

    /// Absorptivity of the mixture at this base fraction.
    #[must_use]
    pub fn mixture(&self, fraction: BaseFraction) -> Spectrum {
        let a = fraction.value();
        Spectrum(std::array::from_fn(|i| (1.0 - a) * self.acid.0[i] + a * self.base.0[i]))
    }
}

/// A portion of the bath with its drop of dye.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// The dye in it.
    pub lot: Lot,
    /// pH on the meter scale.
    pub ph: Ph,
    /// Decadic absorbance of the wholly acid dye at its peak, along the light's whole path at the deepest place.
    pub dose: f64,
    /// Density of a brown stain at 420 nm along the same path.
    pub stain: f64,
}

impl Sample {
    /// Share of the dye in its base form.
    #[must_use]
    pub fn fraction(&self, medium: Medium) -> BaseFraction {
        base_fraction(self.ph, self.lot.pka(medium))
    }

    /// Decadic absorbance along the whole path at the deepest place.
    #[must_use]
    pub fn absorbance(&self, medium: Medium) -> Spectrum {
        let mixture = self.lot.mixture(self.fraction(medium));
        // Oxidised developer: absorption falling evenly towards the red; the 80 nm are invented.
        let stain = Spectrum::from_fn(|nm| self.stain * (-(nm - 420.0) / 80.0).exp());
        Spectrum(std::array::from_fn(|i| self.dose * mixture.0[i] + stain.0[i]))
    }
}
