//! What the caller asks of one photo.

use super::profile::Calibrated;
use super::regions::{Circle, Rectangle};
use crate::colour::generic::LightKind;
use crate::indicator::{Indicator, catalogue};
use crate::quantity::{Celsius, IonicStrength, Ph, Reflectance};
use std::sync::Arc;

/// Kind of light, told or to be inferred.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LightChoice {
    /// Inferred from the photo.
    #[default]
    Auto,
    /// Sun or sky.
    Daylight,
    /// Filament lamp.
    Tungsten,
    /// White LED.
    Led,
    /// Fluorescent tube or compact lamp.
    Fluorescent,
}

impl LightChoice {
    /// The kind that was told, if any.
    #[must_use]
    pub fn kind(self) -> Option<LightKind> {
        match self {
            LightChoice::Auto => None,
            LightChoice::Daylight => Some(LightKind::Daylight),
            LightChoice::Tungsten => Some(LightKind::Tungsten),
            LightChoice::Led => Some(LightKind::Led),
            LightChoice::Fluorescent => Some(LightKind::Fluorescent),
        }
    }
}

/// pH limits of the states.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Fresh below, nearing exhaustion from here.
    pub nearing: Ph,
    /// Spent from here on; not below `nearing`.
    pub spent: Ph,
}

impl Limits {
    /// Common practice, unless told otherwise: the last quarter of a bath begins near pH 5.0, and at 5.5 it is called spent.
    pub const USUAL: Limits = Limits { nearing: usual(5.0), spent: usual(5.5) };
}

/// A pH known when the program is built; a wrong one does not build.
const fn usual(ph: f64) -> Ph {
    match Ph::new(ph) {
        Ok(ph) => ph,
        Err(_) => panic!("outside the scale"),
    }
}

/// What the worker says of the cups, by their number along the row, from 1.
#[derive(Debug, Clone)]
pub struct Contents {
    /// The dye of every cup that is not named in `others`.
    pub indicator: &'static Indicator,
    /// Cups with a dye of their own.
    pub others: Vec<(usize, &'static Indicator)>,
    /// Number of cups when each was named with its dye: a photo with another number of them must not be read, for names would go astray.
    pub count: Option<usize>,
    /// Cups of plain water.
    pub blanks: Vec<usize>,
    /// Names of cups.
    pub labels: Vec<(usize, String)>,
    /// Number of cups when each was given a name.
    pub labelled: Option<usize>,
    /// All cups hold the same bath, and one pH is wanted from them together.
    pub is_panel: bool,
}

impl Contents {
    /// One dye in all cups.
    #[must_use]
    pub fn of(indicator: &'static Indicator) -> Self {
        Contents { indicator, others: Vec::new(), count: None, blanks: Vec::new(), labels: Vec::new(), labelled: None, is_panel: false }
    }

    /// The dye of cup `number`.
    #[must_use]
    pub fn dye(&self, number: usize) -> &'static Indicator {
        self.others.iter().find(|(n, _)| *n == number).map_or(self.indicator, |(_, dye)| dye)
    }

    /// True for a cup of plain water.
    #[must_use]
    pub fn is_blank(&self, number: usize) -> bool {
        self.blanks.contains(&number)
    }

    /// The name given to cup `number`.
    #[must_use]
    pub fn label(&self, number: usize) -> Option<&str> {
        self.labels.iter().find(|(n, _)| *n == number).map(|(_, label)| label.as_str())
    }

    /// How many cups were named, when what was said of them does not fit a photo with `found` cups.
    #[must_use]
    pub fn miscounted(&self, found: usize) -> Option<usize> {
        let highest = self.others.iter().map(|(n, _)| *n).chain(self.blanks.iter().copied()).max().unwrap_or(0);
        match self.count {
            Some(count) if count != found => Some(count),
            _ if highest > found => Some(highest),
            _ => None,
        }
    }

    /// How many cups were given a name, when that does not fit a photo with `found` cups.
    #[must_use]
    pub fn mislabelled(&self, found: usize) -> Option<usize> {
        let highest = self.labels.iter().map(|(n, _)| *n).max().unwrap_or(0);
        match self.labelled {
            Some(count) if count != found => Some(count),
            _ if highest > found => Some(highest),
            _ => None,
        }
    }
}

/// Everything `read` needs to know beside the photo.
#[derive(Debug, Clone)]
pub struct Request {
    /// What is in the cups.
    pub contents: Contents,
    /// Kind of light.
    pub light: LightChoice,
    /// Where the card is, upright pixels; found when absent.
    pub card: Option<Rectangle>,
    /// Reflectance of the card.
    pub card_reflectance: Reflectance,
    /// Where the cups are, upright pixels, radius of the liquid's surface; found when empty.
    pub cups: Vec<Circle>,
    /// Ionic strength of the bath, mol/l.
    pub ionic_strength: IonicStrength,
    /// Temperature of the bath.
    pub temperature: Celsius,
    /// Limits of the states.
    pub limits: Limits,
    /// A calibration to read with, if there is one.
    pub calibrated: Option<Arc<Calibrated>>,
    /// Number and pH of a cup that tests the calibration.
    pub check: Option<(usize, Ph)>,
}

impl Default for Request {
    /// What is assumed where nothing is told: the usual dye in every cup, any light, everything to be found.
    fn default() -> Self {
        Request {
            contents: Contents::of(catalogue::usual()),
            light: LightChoice::Auto,
            card: None,
            card_reflectance: Reflectance::GREY_CARD,
            cups: Vec::new(),
            ionic_strength: IonicStrength::USED_BATH,
            temperature: Celsius::STANDARD,
            limits: Limits::USUAL,
            calibrated: None,
            check: None,
        }
    }
}
