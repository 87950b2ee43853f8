//! The grey card: an even, neutral quadrilateral between black and white.

use super::circle::median;
use super::cup::FoundCup;
use super::patch::{Patch, even_patches};
use super::pyramid::{Colour, Pyramid, to_base};
use super::{CardRegion, Rectangle, in_photo};

/// The card in base pixels of the pyramid.
#[derive(Debug, Clone, Copy)]
pub(super) struct FoundCard {
    corners: [(f32, f32); 4],
    centre: (f32, f32),
    /// Half the side of an upright square well inside.
    half: f32,
    confidence: f32,
}

/// A card covers between these shares of the picture: smaller ones give no steady mean, larger ones leave no room for cups.
const SHARE: (f32, f32) = (0.004, 0.3);
/// Steps per pixel, encoded, that still count as even: from a clean studio card to a grainy one in dim light.
const ROUGHNESS: [f32; 4] = [0.006, 0.010, 0.017, 0.028];
/// Longest side of the level on which even patches are looked for.
const LONGEST: usize = 600;
/// Half the square's side as a share of the short side: its corners then stay inside at any angle, 0.3 * sqrt(2) < 0.5.
const HALF: f32 = 0.3;

impl FoundCard {
    /// In pixels of the photo.
    pub(super) fn enlarged(&self, factor: f64) -> CardRegion {
        let half = f64::from(self.half) * factor;
        let (x, y) = (in_photo(self.centre.0, factor), in_photo(self.centre.1, factor));
        CardRegion {
            area: Rectangle { x: x - half, y: y - half, w: 2.0 * half, h: 2.0 * half },
            corners: self.corners.map(|(u, v)| (in_photo(u, factor), in_photo(v, factor))),
            confidence: f64::from(self.confidence),
        }
    }
}

/// Finds the card; the cups tell what is white.
pub(super) fn find(pyramid: &Pyramid, cups: &[FoundCup]) -> Option<FoundCard> {
    let level = pyramid.level_within(LONGEST);
    let plane = &pyramid.levels()[level];
    if plane.width < 8 || plane.height < 8 {
        return None;
    }
    let white = white_of(cups);
    let mut best: Option<(f32, Patch)> = None;
    for roughness in ROUGHNESS {
        for patch in even_patches(plane, roughness, SHARE) {
            let merit = shape(&patch) * greyness(patch.colour, white);
            let holds_cup =
                || cups.iter().any(|c| patch.contains(super::pyramid::to_level(c.x, level), super::pyramid::to_level(c.y, level)));
            if merit > best.as_ref().map_or(0.0, |b| b.0) && !holds_cup() {
                best = Some((merit, patch));
            }
        }
    }
    let (confidence, patch) = best?;
    let base = |(x, y): (f32, f32)| (to_base(x, level), to_base(y, level));
    let scale = (1 << level) as f32;
    let short = patch.sides().into_iter().fold(f32::MAX, f32::min) * scale;
    Some(FoundCard { corners: patch.corners.map(base), centre: base(patch.centre()), half: HALF * short, confidence })
}

/// The white next to the cups, encoded.
fn white_of(cups: &[FoundCup]) -> Option<Colour> {
    if cups.is_empty() {
        return None;
    }
    Some([0, 1, 2].map(|c| median(&mut cups.iter().map(|k| k.white[c]).collect::<Vec<_>>())))
}

/// 0 to 1: how much of a rectangle seen from above.
fn shape(patch: &Patch) -> f32 {
    let s = patch.sides();
    let (short, long) = (s.iter().fold(f32::MAX, |a, &b| a.min(b)), s.iter().fold(0.0f32, |a, &b| a.max(b)));
    let opposite = (s[0] / s[2]).max(s[2] / s[0]).max((s[1] / s[3]).max(s[3] / s[1]));
    // A tape or a ruler is long; a card is at most two and a half times as long as wide.
    if short < 6.0 || long > 2.6 * short || opposite > 1.35 {
        return 0.0;
    }
    let [a, b, c, d] = patch.corners;
    let slant = [(d, a, b), (a, b, c), (b, c, d), (c, d, a)].map(|(p, q, r)| {
        let (ux, uy, vx, vy) = (p.0 - q.0, p.1 - q.1, r.0 - q.0, r.1 - q.1);
        ((ux * vx + uy * vy) / (ux.hypot(uy) * vx.hypot(vy))).abs()
    });
    // 0.4 is the cosine of 66 degrees: more is no card seen from above.
    let worst = slant.into_iter().fold(0.0f32, f32::max);
    let square = ((patch.squareness - 0.86) / 0.08).clamp(0.0, 1.0);
    let solid = ((patch.solidity - 0.75) / 0.15).clamp(0.0, 1.0);
    square * solid * (1.0 - (worst / 0.4).powi(2)).max(0.0)
}

/// 0 to 1: how well the colour suits a grey card. Encoded to light by a power of 2.2.
fn greyness(colour: Colour, white: Option<Colour>) -> f32 {
    let reference = white.unwrap_or([0.8; 3]);
    let ratio = [0, 1, 2].map(|c| (colour[c].max(0.01) / reference[c].max(0.01)).powf(2.2));
    let red = (ratio[0] / ratio[1]).log10();
    let blue = (ratio[2] / ratio[1]).log10();
    let green = ratio[1];
    // A card of 0.18 beside a vessel wall of 0.6 to 0.85, light falling off by a third, and a camera's curve: 0.1 to 0.55.
    if white.is_some() && !(0.07..0.62).contains(&green) {
        return 0.0;
    }
    let off = ((red / 0.12).powi(2) + (blue / 0.15).powi(2)).sqrt();
    (1.0 - off * off).max(0.0)
}
