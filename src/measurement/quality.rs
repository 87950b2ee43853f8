//! Is the photo fit to be read? Figures about light, card and sharpness, and the refusals that follow from them.

use super::frame::Reduced;
use super::samples::{CardSamples, CupSamples, Sample};
use super::warning::Notice;
use crate::colour::tone::srgb_decode;

/// Figures behind the refusals; `None` where there was nothing to measure.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Quality {
    /// Brightest white or brightest hundredth of the picture, linear, share of full scale.
    pub white: Option<f64>,
    /// Share of the picture that is clipped in any channel.
    pub burnt: f64,
    /// Weakest over strongest channel of what is bright and neutral, linear.
    pub balance: Option<f64>,
    /// Share of clipped pixels in the worst channel of the card.
    pub card_clipped: Option<f64>,
    /// Brightest over darkest ninth of the card, linear.
    pub card_ratio: Option<f64>,
    /// Largest difference of colour between neutral surfaces, log10 of a channel ratio.
    pub light_difference: Option<f64>,
    /// Width of the sharpest edge, share of the picture's longer side.
    pub edge: Option<f64>,
}

/// White below this share of full scale leaves too few levels for its liquids: a density of 2 is then 3 of 255.
const DARKEST_WHITE: f64 = 0.10;
/// Share of a burnt-out picture in which a missing card counts as clipped.
const MOST_BURNT: f64 = 0.25;
/// A channel below this share of the strongest carries no signal. Filament light on a daylight balance keeps about 0.14.
const WEAKEST_CHANNEL: f64 = 0.04;
/// Share of clipped card pixels that spoils it as a reference.
const MOST_CLIPPED: f64 = 0.05;
/// Light across a card at arm's length falls off by a tenth; a shadow makes this ratio at least.
const MOST_UNEVEN: f64 = 1.35;
/// Neutral surfaces under one light agree within the tolerance of card, paper and tone curve.
const MOST_DIFFERENT: f64 = 0.14;
/// By how much more a difference counts between surfaces of the same brightness.
const SAME_LEVEL: f64 = 2.0;
/// White is at least this many times as bright as an 18 % card; white paper is over four times.
const LEAST_WHITE: f64 = 1.8;
/// Neutral surfaces above this share of the brightest are bright enough to tell the balance.
const BRIGHT: f64 = 0.3;
/// 8-bit level from which a pixel of the reduced picture counts as clipped, as in the samples.
const CLIPPED: u8 = 251;
/// Smallest side of a reduced picture in which edges are looked for, pixels.
const SMALLEST: usize = 32;
/// Share of the steepest places that is left out against single hot pixels.
const HOT: f64 = 0.001;
/// Share of the darkest and of the brightest pixels that is left out of the contrast.
const EXTREME: f64 = 0.02;
/// Sharpest edge as a share of the longer side: beyond, a ring of liquid is no longer free of its surroundings.
const WIDEST_EDGE: f64 = 0.018;

/// Linear values, in the photo's own primaries.
fn linear(sample: &Sample) -> [f64; 3] {
    sample.value.map(|v| srgb_decode(v.clamp(0.0, 1.0)))
}

/// log10 of R/G and B/G, levels floored where noise rules.
fn chroma(rgb: [f64; 3]) -> [f64; 2] {
    let [r, g, b] = rgb.map(|v| v.max(0.003));
    [(r / g).log10(), (b / g).log10()]
}

/// Largest difference of R/G, B/G or R/B between any two.
fn largest_difference(all: &[[f64; 2]]) -> f64 {
    let mut most: f64 = 0.0;
    for (i, a) in all.iter().enumerate() {
        for b in &all[..i] {
            most = most.max((a[0] - b[0]).abs()).max((a[1] - b[1]).abs()).max((a[0] - b[0] - a[1] + b[1]).abs());
        }
    }
    most
}

/// Level of the strongest channel.
fn level(rgb: &[f64; 3]) -> f64 {
    rgb.iter().copied().fold(0.0, f64::max)
}

/// Weakest over strongest channel.
fn evenness(rgb: &[f64; 3]) -> f64 {
    rgb.iter().copied().fold(f64::INFINITY, f64::min) / level(rgb).max(1e-6)
}

/// What the picture as a whole shows, whatever is in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overall {
    burnt: f64,
    /// Linear.
    brightest: [f64; 3],
    edge: Option<f64>,
}

impl Overall {
    /// Looks at a whole picture.
    #[must_use]
    pub fn of(picture: &Reduced) -> Self {
        let (burnt, brightest) = brightness(picture);
        Overall { burnt, brightest, edge: sharpest_edge(picture) }
    }
}

/// Measures what can be measured.
#[must_use]
pub fn assess(card: Option<&CardSamples>, cups: &[&CupSamples], overall: &Overall) -> Quality {
    let Overall { burnt, brightest, edge } = *overall;
    let card_linear = card.map(|card| linear(&card.whole));
    let whites = whites(card_linear, cups);
    let mut neutral = whites.clone();
    neutral.extend(card_linear);
    let mut quality = Quality {
        edge,
        burnt,
        // The brightest hundredth of the picture is no darker than white, if there is any.
        white: Some(whites.iter().map(level).fold(level(&brightest), f64::max)),
        balance: Some(balance(&neutral, &brightest)),
        ..Quality::default()
    };
    let mut across_card = 0.0;
    if let Some(card) = card {
        quality.card_clipped = Some(card.whole.clipped.iter().copied().fold(0.0, f64::max));
        let levels: Vec<f64> = card.parts.iter().map(|part| level(&linear(part)).max(1e-4)).collect();
        let (low, high) = levels.iter().fold((f64::INFINITY, 0.0f64), |(l, h), &v| (l.min(v), h.max(v)));
        quality.card_ratio = Some(high / low);
        across_card = spread(card.parts.iter().map(linear));
    }
    if neutral.len() > 1 {
        // Surfaces of one brightness go through the same part of the tone curve, so they have to agree more closely.
        let same_level = spread(whites.into_iter());
        quality.light_difference = Some(spread(neutral.into_iter()).max(SAME_LEVEL * same_level.max(across_card)));
    }
    quality
}

/// White surfaces beside the cups, linear: what is clearly brighter than the card, else it is table.
fn whites(card: Option<[f64; 3]>, cups: &[&CupSamples]) -> Vec<[f64; 3]> {
    cups.iter()
        .flat_map(|cup| cup.white.iter().chain(cup.white_halves.iter().flatten()))
        .map(linear)
        .filter(|rgb| card.is_none_or(|card| level(rgb) > LEAST_WHITE * level(&card)))
        .collect()
}

/// Weakest over strongest channel: of the best of the bright neutral surfaces, or of what is brightest in the whole picture, whichever
/// is less. A safelight leaves neither with all channels.
fn balance(neutral: &[[f64; 3]], brightest: &[f64; 3]) -> f64 {
    let top = neutral.iter().map(level).fold(0.0, f64::max);
    let surfaces = neutral.iter().filter(|rgb| level(rgb) > BRIGHT * top).map(evenness).reduce(f64::max);
    surfaces.unwrap_or(f64::INFINITY).min(evenness(brightest))
}

/// Largest difference of colour between surfaces, log10 of a channel ratio.
fn spread(surfaces: impl Iterator<Item = [f64; 3]>) -> f64 {
    largest_difference(&surfaces.map(chroma).collect::<Vec<_>>())
}

/// Share of pixels clipped in any channel, and the linear level that only one pixel in a hundred exceeds, per channel.
fn brightness(picture: &Reduced) -> (f64, [f64; 3]) {
    let count = (picture.rgb.len() / 3).max(1);
    let clipped = picture.rgb.chunks_exact(3).filter(|p| p.iter().any(|&v| v >= CLIPPED)).count();
    let mut histograms = [[0usize; 256]; 3];
    for pixel in picture.rgb.chunks_exact(3) {
        for c in 0..3 {
            histograms[c][usize::from(pixel[c])] += 1;
        }
    }
    let brightest = histograms.map(|histogram| {
        let mut above = 0;
        let level = histogram.iter().enumerate().rev().find(|(_, n)| {
            above += **n;
            above * 100 > count
        });
        srgb_decode(level.map_or(0.0, |(level, _)| level as f64 / 255.0))
    });
    (clipped as f64 / count as f64, brightest)
}

/// Contrast of the picture over its steepest gradient, share of the longer side.
fn sharpest_edge(picture: &Reduced) -> Option<f64> {
    let (w, h) = (picture.width, picture.height);
    if w < SMALLEST || h < SMALLEST {
        return None;
    }
    let luminance: Vec<i32> = picture.rgb.chunks_exact(3).map(|p| i32::from(p[0]) + 2 * i32::from(p[1]) + i32::from(p[2])).collect();
    let mut histogram = vec![0usize; 1024];
    for &l in &luminance {
        histogram[l as usize] += 1;
    }
    let at = |share: f64| {
        let mut below = 0;
        histogram
            .iter()
            .position(|&n| {
                below += n;
                below as f64 >= share * luminance.len() as f64
            })
            .unwrap_or(0) as f64
    };
    let contrast = at(1.0 - EXTREME) - at(EXTREME);
    // Differences over two pixels.
    let mut slopes = vec![0usize; 1025];
    for y in 0..h {
        for x in 2..w {
            slopes[(luminance[y * w + x] - luminance[y * w + x - 2]).unsigned_abs() as usize] += 1;
        }
    }
    let total: usize = slopes.iter().sum();
    let mut above = 0;
    let steepest = slopes
        .iter()
        .enumerate()
        .rev()
        .find(|(_, n)| {
            above += **n;
            above as f64 > HOT * total as f64
        })?
        .0 as f64
        / 2.0;
    (steepest > 0.0).then(|| contrast / steepest / w.max(h) as f64)
}

/// What speaks against reading the photo at all.
#[must_use]
pub fn refusals(quality: &Quality, card: Option<&CardSamples>) -> Vec<Notice> {
    let mut notices = Vec::new();
    let dark = quality.white.is_some_and(|white| white < DARKEST_WHITE);
    if let (true, Some(white)) = (dark, quality.white) {
        notices.push(Notice::TooDark { white });
    }
    let lopsided = quality.balance.is_some_and(|balance| balance < WEAKEST_CHANNEL);
    if lopsided {
        notices.push(Notice::Safelight);
    }
    if let (Some(share), Some(card)) = (quality.card_clipped.filter(|share| *share > MOST_CLIPPED), card) {
        let worst = (0..3).max_by(|&a, &b| card.whole.clipped[a].total_cmp(&card.whole.clipped[b])).unwrap_or(0);
        notices.push(Notice::CardClipped { channel: ["red", "green", "blue"][worst], share });
    }
    if card.is_none() && !lopsided && quality.burnt > MOST_BURNT {
        notices.push(Notice::CardClipped { channel: "one or more channels", share: quality.burnt });
    }
    if let Some(ratio) = quality.card_ratio.filter(|ratio| !dark && *ratio > MOST_UNEVEN) {
        notices.push(Notice::CardShaded { ratio });
    }
    if let Some(difference) = quality.light_difference.filter(|d| !dark && notices.is_empty() && *d > MOST_DIFFERENT) {
        notices.push(Notice::MixedLight { difference });
    }
    if let Some(edge) = quality.edge.filter(|edge| *edge > WIDEST_EDGE) {
        notices.push(Notice::Blurred { width: edge });
    }
    notices
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    // Level 128 of sRGB is 0.2159 of white (IEC 61966-2-1). Of a hundred pixels one may be brighter; with two the picture is as bright as these.
    #[test]
    fn one_pixel_in_a_hundred_may_be_brighter() {
        let seen = |bright: usize| {
            let rgb = (0..100).flat_map(|i| if i < bright { [255, 128, 128] } else { [128; 3] }).collect();
            brightness(&Reduced { width: 10, height: 10, factor: 1.0, rgb })
        };
        let ((one, dark), (two, bright)) = (seen(1), seen(2));
        assert_abs_diff_eq!(one, 0.01);
        assert_abs_diff_eq!(two, 0.02);
        for (level, wanted) in dark.into_iter().chain(bright).zip([0.21586, 0.21586, 0.21586, 1.0, 0.21586, 0.21586]) {
            assert_abs_diff_eq!(level, wanted, epsilon = 1e-5);
        }
    }
}
