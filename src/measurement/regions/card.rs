//! The grey card: an even, neutral quadrilateral between black and white.

use super::cup::FoundCup;
use super::median::median_colour;
use super::patch::{Patch, even_patches};
use super::pyramid::{Colour, Pyramid, to_base, to_level};
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
/// Longest side of the picture looked at, pixels, and the step per pixel, encoded, that still counts as even: from a clean card in good
/// light to a grainy one in dim light, whose grain only gives way on a smaller picture.
const SIGHTS: [(usize, f32); 6] = [(400, 0.010), (400, 0.017), (400, 0.028), (700, 0.006), (200, 0.020), (200, 0.035)];
/// A merit at which the search ends.
const GOOD: f32 = 0.85;
/// Half the square's side as a share of the short side: its corners then stay inside at any angle, 0.3 * sqrt(2) < 0.5.
const HALF: f32 = 0.3;

/// Light of a card of 0.18 over that of a vessel wall of 0.6 to 0.85, with light falling off by a third and a camera's curve between.
const DARKEST: f32 = 0.07;
const BRIGHTEST: f32 = 0.62;
/// log10 of the red-green and blue-green ratio against white at which a patch is no longer grey: camera curves bend the ratios of an
/// unbalanced photo by up to 0.08, kraft paper and wood lie beyond 0.15.
const RED_REACH: f32 = 0.12;
const BLUE_REACH: f32 = 0.15;
/// Share of these reaches beyond which a patch is not taken for the card at all: a wrong card is worse than none.
const MOST_OFF: f32 = 0.9;
/// Tint of white, log10, up to which a photo is balanced well enough for these; and how fast they widen beyond.
const UNBALANCED: f32 = 0.15;
const SLACK_PER_TINT: f32 = 2.0;

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

/// Patches of the first sight, which mostly is the only one.
pub(super) fn first_patches(pyramid: &Pyramid) -> Vec<Patch> {
    patches(pyramid, SIGHTS[0])
}

fn patches(pyramid: &Pyramid, (longest, roughness): (usize, f32)) -> Vec<Patch> {
    let plane = &pyramid.levels()[pyramid.level_within(longest)];
    if plane.width < 8 || plane.height < 8 { Vec::new() } else { even_patches(plane, roughness, SHARE) }
}

/// Finds the card; the cups tell what is white. The first patches may be known.
pub(super) fn find(pyramid: &Pyramid, cups: &[FoundCup], mut first: Option<Vec<Patch>>) -> Option<FoundCard> {
    let white = white_of(cups);
    let mut best: Option<(f32, FoundCard)> = None;
    for sight in SIGHTS {
        let level = pyramid.level_within(sight.0);
        for patch in first.take().unwrap_or_else(|| patches(pyramid, sight)) {
            let merit = shape(&patch) * suits(patch.colour, white);
            let holds_cup = || cups.iter().any(|c| patch.contains(to_level(c.x, level), to_level(c.y, level)));
            if merit > best.as_ref().map_or(0.0, |b| b.0) && !holds_cup() {
                best = Some((merit, in_base_pixels(&patch, level, merit)));
            }
        }
        // A finer or more even sight that shows the card well is not bettered by a coarser one.
        if best.as_ref().is_some_and(|b| b.0 > GOOD) {
            break;
        }
    }
    best.map(|b| b.1)
}

fn in_base_pixels(patch: &Patch, level: usize, confidence: f32) -> FoundCard {
    let base = |(x, y): (f32, f32)| (to_base(x, level), to_base(y, level));
    let short = patch.sides().into_iter().fold(f32::MAX, f32::min) * (1 << level) as f32;
    FoundCard { corners: patch.corners.map(base), centre: base(patch.centre()), half: HALF * short, confidence }
}

/// The white next to the cups, encoded.
fn white_of(cups: &[FoundCup]) -> Option<Colour> {
    if cups.is_empty() {
        return None;
    }
    Some(median_colour(&cups.iter().map(|k| k.white).collect::<Vec<_>>()))
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

/// 0 to 1: how well the colour suits a grey card beside this white. Encoded to light by a power of 2.2.
fn suits(colour: Colour, white: Option<Colour>) -> f32 {
    // Overexposed, the card is as white as the rest; a later stage tells so.
    let burnt = colour.iter().any(|&v| v > 0.985) && colour.iter().all(|&v| v > 0.85);
    let grey = match white {
        // Without white to compare with only a neutral camera is left to hope for.
        None => 0.5 * neutral(colour, [0.8; 3]),
        Some(white) => {
            let green = ((colour[1] + 0.02) / (white[1] + 0.02)).powf(2.2);
            if (DARKEST..BRIGHTEST).contains(&green) { neutral(colour, white) } else { 0.0 }
        }
    };
    if burnt { grey.max(0.3) } else { grey }
}

/// 0 to 1: how nearly the colour has the tint of white. Under coloured light a camera's clipping and colour matrix bend the ratios
/// more, about in proportion to the tint of white itself.
fn neutral(colour: Colour, white: Colour) -> f32 {
    let logs = white.map(|v| 2.2 * (v + 0.02).log10());
    let tint = logs.iter().fold(f32::MIN, |a, &b| a.max(b)) - logs.iter().fold(f32::MAX, |a, &b| a.min(b));
    let slack = (1.0 + SLACK_PER_TINT * (tint - UNBALANCED).max(0.0)).min(2.0);
    let ratio = [0, 1, 2].map(|c| 2.2 * (colour[c] + 0.02).log10() - logs[c]);
    let off = ((ratio[0] - ratio[1]) / (slack * RED_REACH)).hypot((ratio[2] - ratio[1]) / (slack * BLUE_REACH));
    if off < MOST_OFF { 1.0 - off * off } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// White in a light of this tint, and a grey of this share of its light, encoded by the power that the search assumes.
    fn seen(tint: [f32; 3], share: f32) -> Colour {
        tint.map(|light| (light * share).powf(1.0 / 2.2) - 0.02)
    }

    #[test]
    fn grey_has_the_tint_of_white_in_any_light() {
        for tint in [[0.9, 0.9, 0.9], [0.95, 0.7, 0.35], [0.5, 0.7, 0.9]] {
            let white = seen(tint, 1.0);
            assert!((suits(seen(tint, 0.21), Some(white)) - 1.0).abs() < 1e-3, "{tint:?}");
            // As bright as the white beside it, or as dark as a shadow, it is no grey card.
            assert_eq!((suits(seen(tint, 0.7), Some(white)), suits(seen(tint, 0.05), Some(white))), (0.0, 0.0));
        }
    }

    // A white that is dim itself, a tenth of full scale: the limits are shares of it all the same.
    #[test]
    fn a_card_in_dim_light_is_one_by_its_share_of_white() {
        let white = seen([0.1; 3], 1.0);
        for (share, wanted) in [(0.06, 0.0), (0.08, 1.0), (0.55, 1.0), (0.64, 0.0)] {
            assert!((suits(seen([0.1; 3], share), Some(white)) - wanted).abs() < 1e-3, "{share}");
        }
    }

    // By hand, in a balanced light: a ratio off by half the reach leaves 1 - 1/4; off by nine tenths of it, nothing.
    #[test]
    fn a_tint_of_its_own_makes_a_card_less_likely() {
        let white = seen([0.8; 3], 1.0);
        let tinted = |red: f32, blue: f32| seen([0.8 * 10f32.powf(red), 0.8, 0.8 * 10f32.powf(blue)], 0.21);
        for (red, blue, wanted) in [(0.06, 0.0, 0.75), (0.0, -0.075, 0.75), (-0.036, 0.06, 0.75), (0.109, 0.0, 0.0), (0.0, 0.136, 0.0)] {
            let merit = suits(tinted(red, blue), Some(white));
            assert!((merit - wanted).abs() < 2e-3, "{red} {blue}: {merit}");
        }
        // Colours are bent more under coloured light: with a tint of 0.4 the reach is half as wide again.
        let warm = [0.8, 0.8 * 10f32.powf(-0.2), 0.8 * 10f32.powf(-0.4)];
        let off = |red: f32| seen([warm[0] * 10f32.powf(red), warm[1], warm[2]], 0.21);
        assert!((suits(off(0.09), Some(seen(warm, 1.0))) - 0.75).abs() < 2e-3);
    }

    // Sides of a true rectangle leave its squareness and solidity to speak; one thing out of shape is enough for nothing.
    #[test]
    fn a_card_has_the_sides_of_a_rectangle() {
        let of = |corners| shape(&Patch { corners, squareness: 1.0, solidity: 1.0, colour: [0.2; 3] });
        let upright = |w: f32, h: f32| of([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]);
        assert_eq!(
            [upright(8.0, 7.0), upright(17.0, 7.0), upright(5.5, 6.5), upright(19.0, 7.0)].map(|merit| merit > 0.0),
            [true, true, false, false]
        );
        assert_abs_diff_eq!(upright(8.0, 7.0), 1.0);
        // A trapezium with one side half as long again as the other, and a slanted one of equal sides.
        assert_abs_diff_eq!(of([(0.0, 0.0), (30.0, 0.0), (25.0, 30.0), (5.0, 30.0)]), 0.0);
        assert!((of([(0.0, 0.0), (20.0, 0.0), (26.0, 19.0), (6.0, 19.0)]) - 0.43).abs() < 0.01);
        let patch = |squareness, solidity| Patch {
            corners: [(0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0)],
            squareness,
            solidity,
            colour: [0.2; 3],
        };
        assert_abs_diff_eq!(shape(&patch(0.9, 0.84)), 0.5 * 0.6, epsilon = 1e-5);
    }

    #[test]
    fn a_burnt_card_is_kept_for_a_later_stage_and_one_without_white_is_doubted() {
        let white = seen([0.8; 3], 1.0);
        assert_abs_diff_eq!(suits([0.99, 0.95, 0.9], Some(white)), 0.3);
        assert_abs_diff_eq!(suits([0.99, 0.95, 0.8], Some(white)), 0.0);
        assert!((suits(seen([0.8; 3], 0.21), None) - 0.5).abs() < 1e-3);
        assert_abs_diff_eq!(suits([0.5, 0.3, 0.1], None), 0.0);
    }
}
