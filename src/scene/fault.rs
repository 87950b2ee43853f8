//! Photos that must be refused, and how to spoil one.

use super::dye::{Lot, Sample};
use super::lamp::Lamp;
use super::options::Options;
use super::random::Random;
use crate::indicator::catalogue;
use crate::quantity::Ph;

/// What is wrong with a photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// Taken by amber or red light.
    Safelight,
    /// Overexposed until the card itself is white.
    CardClipped,
    /// A shadow across the card.
    CardShaded,
    /// Two lights of different colour from two sides.
    MixedLight,
    /// Hardly any light.
    TooDark,
    /// Out of focus.
    Blurred,
    /// No dye to speak of.
    TooPale,
    /// More brown than dye.
    Stained,
    /// Another indicator than the one told.
    OtherDye,
    /// No card.
    CardMissing,
    /// No cup.
    CupMissing,
}

impl Fault {
    /// All of them.
    pub const ALL: [Fault; 11] = [
        Fault::Safelight,
        Fault::CardClipped,
        Fault::CardShaded,
        Fault::MixedLight,
        Fault::TooDark,
        Fault::Blurred,
        Fault::TooPale,
        Fault::Stained,
        Fault::OtherDye,
        Fault::CardMissing,
        Fault::CupMissing,
    ];

    /// The code by which a reading is to name it.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Fault::Safelight => "safelight",
            Fault::CardClipped => "card-clipped",
            Fault::CardShaded => "card-shaded",
            Fault::MixedLight => "mixed-light",
            Fault::TooDark => "too-dark",
            Fault::Blurred => "blurred",
            Fault::TooPale => "too-pale",
            Fault::Stained => "stained",
            Fault::OtherDye => "other-dye",
            Fault::CardMissing => "card-missing",
            Fault::CupMissing => "cup-missing",
        }
    }

    /// Spoils a photo in this way.
    pub fn spoil(self, options: &mut Options, random: &mut Random) {
        match self {
            Fault::Safelight => safelight(options, random),
            // The card (18 %) then lies above full scale in the fullest channel.
            Fault::CardClipped => options.exposure = random.between(7.0, 11.0),
            Fault::CardShaded => options.card.iter_mut().for_each(|card| card.shaded = true),
            Fault::MixedLight => {
                options.lamp = Lamp::daylight(random.between(5500.0, 7500.0));
                options.second_lamp = Some(Lamp::filament(random.between(2500.0, 3000.0)));
            }
            Fault::TooDark => options.exposure = random.between(0.003, 0.01),
            Fault::Blurred => options.blur = random.between(0.025, 0.045) * options.width as f64,
            Fault::TooPale => options.samples.iter_mut().for_each(|sample| sample.dose = random.between(0.0, 0.02)),
            Fault::Stained => options.samples.iter_mut().for_each(|sample| {
                sample.dose = 0.25;
                sample.stain = random.between(0.9, 1.6);
            }),
            Fault::OtherDye => options.samples.iter_mut().for_each(|sample| {
                if let Some(other) = other_dye(random) {
                    *sample = other;
                }
            }),
            Fault::CardMissing => options.card = None,
            Fault::CupMissing => {
                options.has_cups = false;
                options.paper = false;
            }
        }
    }
}

fn safelight(options: &mut Options, random: &mut Random) {
    options.lamp = Lamp::safelight(if random.chance(0.5) { 585.0 } else { 620.0 });
    // Balancing pure red is beyond any camera; it stays at daylight or goes as far as filament light.
    options.processing.balanced_for = Some(if random.chance(0.5) { Lamp::daylight(6504.0) } else { Lamp::filament(2700.0) });
    options.processing.matrix_for = Some(Lamp::daylight(6504.0));
    options.exposure = random.between(0.2, 0.7);
}

/// Blue bromothymol blue, a colour that no mixture of yellow and purple has.
fn other_dye(random: &mut Random) -> Option<Sample> {
    let lot = Lot::drawn(catalogue::find("bromothymol-blue")?, random);
    let ph = Ph::new(7.5 + random.between(0.0, 0.6)).ok()?;
    Some(Sample { lot, ph, dose: 1.2, stain: 0.0 })
}
