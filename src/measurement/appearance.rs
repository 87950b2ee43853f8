//! What a cup looks like, judged or not: its colour beside the card, and its density against white.

use super::model::parameters::WHITE;
use super::reading::CupReading;
use super::samples::{CupSamples, Sample};
use crate::colour::lab::lab_of_linear_srgb;
use crate::colour::space::{PhotoSpace, apply};
use crate::colour::tone::srgb_decode;

/// A channel darker than this share of full scale is noise; its density is taken as that of this level.
const DARKEST: f64 = 2e-4;

/// Density below which a direction of density is chance.
const FAINTEST: f64 = 0.02;

/// Linear sRGB of an area; unlike an encoded value it may lie outside 0 to 1.
fn linear(space: &PhotoSpace, sample: &Sample) -> [f64; 3] {
    apply(&space.to_srgb, sample.value.map(srgb_decode))
}

/// Fills in rings, CIELAB, density and dye hue. `card` comes with its reflectance.
pub fn describe(space: &PhotoSpace, card: Option<(&Sample, f64)>, cup: &CupSamples, reading: &mut CupReading) {
    reading.rings = cup.rings.iter().map(|ring| ring.radii).collect();
    // The second ring: past the glare that likes the middle, well before the shallow edge.
    let Some(ring) = cup.rings.get(1).or(cup.rings.first()) else { return };
    let liquid = linear(space, &ring.sample);
    let card = card.map(|(sample, reflectance)| linear(space, sample).map(|v| v.max(DARKEST) / reflectance));
    let beside = cup.white.as_ref().map(|sample| linear(space, sample).map(|v| v.max(DARKEST)));
    if let Some(full) = card.or(beside.map(|white| white.map(|v| v / WHITE))) {
        reading.lab = Some(lab_of_linear_srgb([0, 1, 2].map(|c| liquid[c] / full[c])));
    }
    if let Some(white) = beside.or(card.map(|full| full.map(|v| v * WHITE))) {
        let density = [0, 1, 2].map(|c| -(liquid[c].max(DARKEST) / white[c]).log10());
        reading.density = Some(density);
        let (red, blue) = (density[0].max(0.0), density[2].max(0.0));
        if red + blue > FAINTEST {
            reading.dye_hue = Some(red.atan2(blue).to_degrees());
        }
    }
}
