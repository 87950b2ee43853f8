//! What a dye does: its spectra and its equilibrium with the acidity of the bath.

pub mod catalogue;
pub mod equilibrium;
pub mod shape;

use crate::quantity::Pka;

/// Which measured band family a form's absorption follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BandFamily {
    /// The broad bands near 435 nm of the yellow forms.
    Yellow,
    /// The strong bands near 590 nm with a steep red edge of the deep forms.
    Deep,
}

/// One transition of one dye.
#[derive(Debug, Clone, PartialEq)]
pub struct Indicator {
    /// Lower-case name with hyphens.
    pub name: &'static str,
    /// Peak of the acid form, nm.
    pub acid_nm: f64,
    /// Peak of the base form, nm.
    pub base_nm: f64,
    /// Absorptivity of the base form at its peak over that of the acid form at its own.
    pub ratio: f64,
    /// Relative standard uncertainty of `ratio`.
    pub ratio_sd: f64,
    /// Absorptivity of the base form over that of the acid form, both at the acid form's peak.
    pub rest: f64,
    /// Apparent pKa' on the meter scale at 25 C and ionic strength 0.1 mol/l.
    pub pka: Pka,
    /// Standard uncertainty of `pka`.
    pub pka_sd: f64,
    /// Factor k of the ionic-strength shift -k A f(I).
    pub step: f64,
    /// Change of pKa' per degree Celsius.
    pub slope: f64,
    /// Visual transition interval of handbook tables, pH.
    pub visual: (f64, f64),
    /// Colour of the acid form.
    pub acid_colour: &'static str,
    /// Colour of the base form.
    pub base_colour: &'static str,
    /// Molar mass of the acid form, g/mol.
    pub molar_mass: f64,
    /// Band family of the acid form.
    pub acid_family: BandFamily,
    /// Band family of the base form.
    pub base_family: BandFamily,
    /// Blend of the two measured dyes that the bands follow: 0 is bromophenol blue, 1 is m-cresol purple.
    pub mix: f64,
    /// Where the figures come from.
    pub source: &'static str,
}
