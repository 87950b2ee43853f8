//! Everything that makes one photo, and how to draw it at random.

use super::camera::Camera;
use super::develop::{Processing, Tone};
use super::dye::{Lot, Medium, Sample};
use super::lamp::{Lamp, LampKind};
use super::random::Random;
use super::sheet::SheetScene;
use super::surface::Table;
use super::vessel::Vessel;
use super::view::Pose;
use crate::indicator::Indicator;
use crate::indicator::equilibrium::pka_at;
use crate::quantity::{Ph, Reflectance};

/// How careful the photographer was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// Straight rows on paper, card on top, one even light, good exposure.
    Easy,
    /// As it comes.
    Hard,
}

/// The grey card.
#[derive(Debug, Clone, PartialEq)]
pub struct Card {
    /// What it says it reflects.
    pub stated: Reflectance,
    /// What it reflects over what it says.
    pub true_over_stated: f64,
    /// How its colour leans over the visible range, relative.
    pub slope: f64,
    /// How unevenly it shines from one end to the other, relative.
    pub gloss: f64,
    /// A shadow lies across it.
    pub shaded: bool,
}

/// How the light falls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lighting {
    /// Height of the lamp over the table in mm; the lower, the less even.
    pub lamp_height: f64,
    /// From where it comes, degrees.
    pub lamp_from: f64,
    /// How far aside it stands, over its height.
    pub lamp_aside: f64,
    /// How much a cup's shadow takes away, 0 to 1.
    pub shadow: f64,
    /// Loss of light in the corners of the picture, 0 to 1.
    pub vignette: f64,
    /// Light mirrored by the liquid everywhere, share of white.
    pub veil: f64,
    /// Number of bright reflections on each liquid.
    pub glare: usize,
    /// A soft shadow over one side of the table, such as that of whoever holds the camera.
    pub shade: Option<Shade>,
}

/// A soft shadow over one side of the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shade {
    /// The side it lies on, degrees.
    pub side: f64,
    /// How far from the middle of the picture its edge is, mm; negative when it covers the middle.
    pub from_middle: f64,
    /// Share of the light that it takes, 0 to 1.
    pub depth: f64,
}

/// One photo to be made.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Seed of arrangement, grain and noise.
    pub seed: u64,
    /// How tidy it is.
    pub level: Level,
    /// Salt and warmth of the bath.
    pub medium: Medium,
    /// What is in the cups; one cup each.
    pub samples: Vec<Sample>,
    /// False: the samples are not in the picture.
    pub has_cups: bool,
    /// The cups.
    pub vessel: Vessel,
    /// The light.
    pub lamp: Lamp,
    /// A second light from the other side.
    pub second_lamp: Option<Lamp>,
    /// How it falls.
    pub lighting: Lighting,
    /// The grey card.
    pub card: Option<Card>,
    /// A sheet of paper under the cups.
    pub paper: bool,
    /// A placement sheet with the cups on it, in place of any other arrangement.
    pub sheet: Option<SheetScene>,
    /// The table.
    pub table: Table,
    /// Number of other things lying about.
    pub clutter: usize,
    /// How the camera is held.
    pub pose: Pose,
    /// The camera.
    pub camera: Camera,
    /// Its settings.
    pub processing: Processing,
    /// Where a perfect white lands in the fullest raw channel, 1 = full scale.
    pub exposure: f64,
    /// Blur of lens and focus, standard deviation in pixels.
    pub blur: f64,
    /// Quality at which to save as JPEG, 1 to 100.
    pub quality: u8,
}

impl Options {
    /// A photo of these `samples`, everything else drawn at random from the seed; 1200 x 900 pixels.
    #[must_use]
    pub fn drawn(level: Level, samples: Vec<Sample>, medium: Medium, seed: u64) -> Self {
        let mut random = Random::new(seed);
        let random = &mut random;
        let easy = level == Level::Easy;
        let glass = !easy && random.chance(0.25);
        let lamp = Lamp::drawn(random);
        Options {
            width: 1200,
            height: 900,
            seed: random.bits(),
            level,
            medium,
            samples,
            has_cups: true,
            vessel: if glass { Vessel::glass(random) } else { Vessel::glazed(random) },
            second_lamp: None,
            lighting: lighting(easy, random),
            card: Some(card(random)),
            sheet: None,
            paper: easy || glass || random.chance(0.75),
            table: Table::ALL[random.below(Table::ALL.len())],
            clutter: if easy { 0 } else { random.below(5) },
            pose: Pose {
                tilt: if easy { random.between(0.0, 4.0) } else { random.between(0.0, 20.0) },
                towards: random.between(0.0, 360.0),
                roll: if easy { 0.0 } else { random.between(-22.0, 22.0) },
                height: random.between(380.0, 700.0),
            },
            camera: Camera::drawn(random),
            processing: processing(easy, lamp.kind, random),
            exposure: if easy { random.between(0.6, 0.8) } else { random.between(0.35, 0.85) },
            blur: random.between(0.4, 0.9),
            quality: [76, 84, 90, 94][random.below(4)],
            lamp,
        }
    }
}

fn lighting(easy: bool, random: &mut Random) -> Lighting {
    Lighting {
        lamp_height: if easy { random.between(1500.0, 3000.0) } else { random.between_log(600.0, 3000.0) },
        lamp_from: random.between(0.0, 360.0),
        lamp_aside: random.between(0.1, if easy { 0.3 } else { 0.5 }),
        shadow: random.between(0.1, 0.5),
        vignette: if easy { random.between(0.0, 0.06) } else { random.between(0.0, 0.22) },
        veil: if easy { random.between(0.0, 0.006) } else { random.between(0.0, 0.018) },
        glare: if easy { 0 } else { random.below(4) },
        shade: (!easy && random.chance(0.2)).then(|| Shade {
            side: random.between(0.0, 360.0),
            from_middle: random.between(-60.0, 90.0),
            depth: random.between(0.05, 0.2),
        }),
    }
}

fn card(random: &mut Random) -> Card {
    Card {
        // 18 % is the grey card of photographic practice.
        stated: Reflectance::new(0.18).unwrap_or_else(|_| unreachable!("0.18 lies inside the range of a reflectance")),
        true_over_stated: 1.0 + random.normal(0.015),
        slope: random.normal(0.012),
        gloss: random.normal(0.02),
        shaded: false,
    }
}

fn processing(easy: bool, kind: LampKind, random: &mut Random) -> Processing {
    // Balance errs mostly between warm and cool, less between green and magenta.
    let (warmth, tint) = if easy { (random.normal(0.025), random.normal(0.012)) } else { (random.normal(0.09), random.normal(0.04)) };
    // Cameras leave filament light a little warm on purpose.
    let warm = if kind == LampKind::Tungsten && !easy { random.between(0.0, 0.12) } else { 0.0 };
    let matrix_for = match random.below(3) {
        0 => None,
        1 if kind == LampKind::Tungsten => Lamp::illuminant("A"),
        _ => Lamp::illuminant("D65"),
    };
    let tone = match random.below(4) {
        0 => Tone::Power(1.0 / random.between(2.0, 2.4)),
        1 => Tone::Shoulder(random.between(0.4, 0.7)),
        2 => Tone::Filmic { contrast: random.between(0.98, 1.15), half: random.between(0.6, 1.6) },
        _ => Tone::Srgb,
    };
    Processing {
        balanced_for: None,
        balance_error: [(tint + warmth + warm).exp(), 1.0, (tint - 1.2 * warmth - warm).exp()],
        matrix_for: if easy { None } else { matrix_for },
        saturation: if easy { random.between(0.97, 1.06) } else { random.between(0.95, 1.22) },
        tone: if easy { Tone::Srgb } else { tone },
        pales: random.chance(0.5),
        sharpening: if easy { 0.0 } else { random.between(0.0, 0.6) },
    }
}

/// Samples of one lot at random: one to six cups (easy) or up to ten, three of four within the transition.
#[must_use]
pub fn samples_drawn(level: Level, indicator: &'static Indicator, medium: Medium, random: &mut Random) -> Vec<Sample> {
    let lot = Lot::drawn(indicator, random);
    let counts: &[usize] = if level == Level::Easy { &[1, 1, 2, 3, 4, 6] } else { &[1, 1, 2, 2, 3, 4, 5, 6, 8, 10] };
    let count = counts[random.below(counts.len())];
    let pka = pka_at(indicator, medium.ionic_strength, medium.temperature);
    let mut samples = Vec::with_capacity(count);
    while samples.len() < count {
        let offset = if random.chance(0.75) { random.between(-1.3, 1.3) } else { random.between(-2.2, 2.0) };
        let stain = if random.chance(0.25) { random.between(0.0, 0.1) } else { 0.0 };
        // A pH outside what water can have is drawn again.
        if let Ok(ph) = Ph::new(pka + offset) {
            samples.push(Sample { lot: lot.clone(), ph, dose: random.between_log(0.35, 3.5), stain });
        }
    }
    samples
}
