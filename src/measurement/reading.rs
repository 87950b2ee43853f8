//! The one result that is stored, drawn and exported.

use super::quality::Quality;
use super::regions::sheet::{CupLight, SeenSheet};
use super::regions::{CardRegion, CupRegion};
use super::request::Limits;
use super::warning::Notice;

/// What the bath is worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// Below the nearing limit.
    Fresh,
    /// Between the limits.
    Nearing,
    /// At or above the spent limit.
    Spent,
    /// Cannot tell.
    Unclear,
}

/// Probability of each state, 0 to 1, sum 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chance {
    /// Below the nearing limit.
    pub fresh: f64,
    /// Between the limits.
    pub nearing: f64,
    /// At or above the spent limit.
    pub spent: f64,
}

/// The light as told or inferred.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LightReport {
    /// The kind that was told, if any.
    pub told: Option<&'static str>,
    /// Posterior weight of each kind (daylight, tungsten, led, fluorescent), sum 1; empty when nothing was fitted.
    pub weights: Vec<(&'static str, f64)>,
}

/// The reading of one cup. `None` everywhere a figure could not be had.
#[derive(Debug, Clone, PartialEq)]
pub struct CupReading {
    /// From 1, in the order of the report.
    pub number: usize,
    /// A name given by the user.
    pub label: Option<String>,
    /// Where the cup is.
    pub region: CupRegion,
    /// Light at the cup against that at the card, where a placement sheet told.
    pub light: Option<CupLight>,
    /// Name of the indicator.
    pub indicator: &'static str,
    /// CIELAB (D65, 2 degrees) of the white-balanced sample, card at its stated reflectance.
    pub lab: Option<[f64; 3]>,
    /// Direction of (density R, density B): atan2 of the two, degrees, 0 (all blue absorption) to 90 (all red absorption).
    pub dye_hue: Option<f64>,
    /// Density R, G, B in linear sRGB against white in the same light.
    pub density: Option<[f64; 3]>,
    /// Share of the dye in its base form.
    pub base_fraction: Option<f64>,
    /// Optical dose: decadic absorbance of the wholly acid dye at its peak, along the light's path.
    pub dose: Option<f64>,
    /// Density of brown stain at 420 nm.
    pub stain: Option<f64>,
    /// Residuals of the fit in multiples of what is expected, root mean square.
    pub misfit: Option<f64>,
    /// Likely pH, the median of the posterior; `None` when a side is open.
    pub ph: Option<f64>,
    /// Lower end of the 95 % interval.
    pub ph_low: Option<f64>,
    /// Upper end of the 95 % interval.
    pub ph_high: Option<f64>,
    /// Probability of each state.
    pub chance: Option<Chance>,
    /// The verdict.
    pub state: State,
    /// Why, and what goes with it.
    pub reasons: Vec<Notice>,
    /// Points (pH, probability density per pH) of the posterior, for drawing; may be empty.
    pub posterior: Vec<(f64, f64)>,
    /// Inner and outer radius of each ring that was measured, upright pixels.
    pub rings: Vec<(f64, f64)>,
}

impl CupReading {
    /// A cup about which nothing is known yet.
    #[must_use]
    pub fn unjudged(number: usize, region: &CupRegion, indicator: &'static str) -> Self {
        CupReading {
            number,
            label: None,
            region: *region,
            light: None,
            indicator,
            lab: None,
            dye_hue: None,
            density: None,
            base_fraction: None,
            dose: None,
            stain: None,
            misfit: None,
            ph: None,
            ph_low: None,
            ph_high: None,
            chance: None,
            state: State::Unclear,
            reasons: Vec::new(),
            posterior: Vec::new(),
            rings: Vec::new(),
        }
    }
}

/// One pH from several cups of the same bath.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelReading {
    /// Numbers of the cups it rests on.
    pub cups: Vec<usize>,
    /// Likely pH, the median of the joint posterior; `None` when a side is open or the cups contradict each other.
    pub ph: Option<f64>,
    /// Lower end of the 95 % interval.
    pub ph_low: Option<f64>,
    /// Upper end of the 95 % interval.
    pub ph_high: Option<f64>,
    /// Probability of each state.
    pub chance: Option<Chance>,
    /// The verdict.
    pub state: State,
    /// Why, and what goes with it.
    pub reasons: Vec<Notice>,
    /// Points (pH, probability density per pH) of the posterior, for drawing; may be empty.
    pub posterior: Vec<(f64, f64)>,
}

/// The reading of one photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Upright width, pixels.
    pub width: usize,
    /// Upright height, pixels.
    pub height: usize,
    /// The grey card, if found or given.
    pub card: Option<CardRegion>,
    /// The placement sheet, if one was seen.
    pub sheet: Option<SeenSheet>,
    /// The light.
    pub light: LightReport,
    /// Figures about light, card and sharpness.
    pub quality: Quality,
    /// About the photo as a whole.
    pub warnings: Vec<Notice>,
    /// One per cup, in their numbering.
    pub cups: Vec<CupReading>,
    /// All cups together, when they were said to hold the same bath.
    pub panel: Option<PanelReading>,
    /// The limits that the states were judged by.
    pub limits: Limits,
}
