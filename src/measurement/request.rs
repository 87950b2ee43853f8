//! What the caller asks of one photo.

use super::regions::{Circle, Rectangle};
use crate::colour::generic::LightKind;
use crate::indicator::Indicator;
use crate::quantity::{Celsius, IonicStrength, Ph, Reflectance};

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

/// Everything `read` needs to know beside the photo.
#[derive(Debug, Clone)]
pub struct Request {
    /// The dye in the cups.
    pub indicator: &'static Indicator,
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
}
