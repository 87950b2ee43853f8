//! Cups: a disc of liquid, white around it, and the rim of a vessel with the same centre.

use super::circle::{self, Outline, Ring};
use super::median::median_colour;
use super::pyramid::{Colour, Pyramid, bright_level};
use super::vote::Candidate;
use crate::measurement::share;

/// A cup in base pixels of the pyramid.
#[derive(Debug, Clone, Copy)]
pub(super) struct FoundCup {
    pub(super) x: f32,
    pub(super) y: f32,
    /// The liquid's surface.
    pub(super) radius: f32,
    /// Outer radius of the vessel.
    pub(super) rim: Option<f32>,
    /// 0 to 1.
    pub(super) confidence: f32,
    /// The liquid's density differs plainly between channels; false for grey, black and water.
    pub(super) coloured: bool,
    /// Encoded colour of the vessel or paper next to the liquid.
    pub(super) white: Colour,
    /// Encoded colour of the liquid next to its edge.
    pub(super) inside: Colour,
}

/// Most candidates looked at closely, so that a dotted cloth does not cost seconds.
const MOST_CANDIDATES: usize = 300;
/// Most sets of concentric circles looked at in each octave of radius: the dots of a cloth must not crowd out larger vessels.
const CENTRES_PER_OCTAVE: usize = 32;
/// More discs than this are a pattern, not cups: twelve are asked for, a few more may stand about.
const MOST_CUPS: usize = 20;
/// Cups less sure than this are not reported.
const LEAST_CONFIDENCE: f32 = 0.45;
/// A liquid's surface varies around the centre by no more than this share of its contrast to the vessel ...
const UNEVEN: f32 = 0.4;
/// ... or than the grain of a dim photo, encoded.
const GRAIN: f32 = 0.03;
/// Radius over the picture's longer side: a smaller liquid has too few pixels for a steady median, and grain is full of small circles.
const LEAST_RADIUS: f32 = 0.013;
/// Half the difference of the axes over the mean: a cup seen 45 degrees from above has 0.17.
const GREATEST_FLATTENING: f32 = 0.18;
/// Least share of directions that must agree on a candidate's outline.
const OUTLINE_SUPPORT: f32 = 0.45;

/// Finds the cups among the circles that may be there, surest first.
pub(super) fn find(pyramid: &Pyramid, circles: Vec<Candidate>) -> Vec<FoundCup> {
    let mut suspects = suspects(pyramid, circles);
    // What is white is told by suspects that do not overlap, so that a badly centred circle has no say in it.
    if let Some(white) = brightest_white(&apart(&suspects)) {
        suspects.retain(|c| is_white(c, white));
    }
    let coarse = &pyramid.levels()[pyramid.levels().len() - 1];
    let bright = bright_level(coarse);
    suspects.retain(|c| c.rim.is_some() || (0..3).all(|k| c.white[k] > 0.85 * bright[k]));
    let base = &pyramid.levels()[0];
    with_kin(&apart(&suspects), base.width.min(base.height) as f32)
}

/// All discs that may be a liquid's surface, likeliest first; they may overlap.
pub(super) fn suspects(pyramid: &Pyramid, mut candidates: Vec<Candidate>) -> Vec<FoundCup> {
    candidates.sort_by(|a, b| b.share.total_cmp(&a.share));
    candidates.truncate(MOST_CANDIDATES);
    let mut outlines: Vec<Outline> = share::map(&candidates, |c| settled(pyramid, c)).into_iter().flatten().collect();
    outlines.sort_by(|a, b| b.support.total_cmp(&a.support));
    let mut suspects: Vec<FoundCup> = share::map(&concentric(&outlines), |set| examine(pyramid, set)).into_iter().flatten().collect();
    // The larger of two that overlap comes first unless it is far less sure: glare spots are round, too.
    let rank = |c: &FoundCup| c.confidence * c.radius.powf(0.35);
    suspects.sort_by(|a, b| rank(b).total_cmp(&rank(a)));
    suspects
}

/// The outline of a candidate after two rounds, if enough of it is there.
fn settled(pyramid: &Pyramid, start: &Candidate) -> Option<Outline> {
    let first = circle::outline(pyramid, &Outline::circle(start.x, start.y, start.radius), 0.15, None, 2)?;
    if first.support < 0.3 {
        return None;
    }
    let second = circle::outline(pyramid, &first, 0.10, None, 2)?;
    (second.support >= OUTLINE_SUPPORT && second.flattening() < GREATEST_FLATTENING).then_some(second)
}

/// Outlines that share a centre.
struct Concentric {
    x: f32,
    y: f32,
    least: f32,
    most: f32,
}

/// Gathers outlines, surest first, around common centres.
fn concentric(outlines: &[Outline]) -> Vec<Concentric> {
    let mut sets: Vec<Concentric> = Vec::new();
    let mut places = [CENTRES_PER_OCTAVE; 12];
    for o in outlines {
        let near = sets.iter().position(|s| {
            let reach = 0.2 * o.radius.min(s.least);
            (s.x - o.x).hypot(s.y - o.y) < reach && o.radius < 2.2 * s.least && o.radius > 0.45 * s.most
        });
        match near {
            Some(i) => {
                let s = &mut sets[i];
                s.least = s.least.min(o.radius);
                s.most = s.most.max(o.radius);
            }
            None => {
                let octave = (o.radius.max(1.0).log2() as usize).min(places.len() - 1);
                if places[octave] > 0 {
                    places[octave] -= 1;
                    sets.push(Concentric { x: o.x, y: o.y, least: o.radius, most: o.radius });
                }
            }
        }
    }
    sets
}

/// log10 of outside over inside per channel: the density that the inside shows against the outside. Encoded to light by a power of 2.2;
/// 0.02 keeps a channel without light from telling anything.
fn density(ring: &Ring) -> Colour {
    [0, 1, 2].map(|c| 2.2 * ((ring.outside[c] + 0.02) / (ring.inside[c] + 0.02)).log10())
}

/// Absorbs in at least one channel and takes light away on the whole, or more in one than it gives in another: a shallow floor
/// may be brighter than the wall beside it, and under coloured light a camera's colour matrix may brighten one channel.
fn absorbs(ring: &Ring) -> bool {
    let d = density(ring);
    let (most, least) = (d.iter().fold(f32::MIN, |a, &b| a.max(b)), d.iter().fold(f32::MAX, |a, &b| a.min(b)));
    most > 0.04 && (ring.step.iter().sum::<f32>() > 0.0 || most > -1.5 * least)
}

/// A liquid's edge this strong is told from the vessel's own edges by its contrast alone.
const PLAIN_CONTRAST: f32 = 0.10;
/// A tint this strong is not that of a white vessel's own edges.
const PLAIN_TINT: f32 = 0.03;
/// No fold of a white wall is darker than the wall beside it by more than this density.
const WALL_SHADE: f32 = 0.2;
/// The edges of a white vessel's own wall are about this strong, or weaker.
const VESSEL_CONTRAST: f32 = 0.07;
/// Rims lie between these multiples of the liquid's radius.
const RIM_REACH: (f32, f32) = (1.06, 1.8);

/// Which of the concentric edges is that of the liquid.
fn liquid_edge(rings: &[Ring]) -> Option<usize> {
    let weight = |r: &Ring| r.contrast * r.support;
    let plain = |r: &Ring| absorbs(r) && (r.tint > 0.05 || density(r).iter().any(|&d| d > WALL_SHADE));
    let best = rings.iter().filter(|r| plain(r)).map(weight).fold(0.0, f32::max);
    if best > PLAIN_CONTRAST {
        return rings.iter().position(|r| plain(r) && weight(r) > 0.6 * best);
    }
    // Nearly water. A change of tint is the liquid's; without one, the innermost edge that does not fall behind the vessel's own.
    // An edge far darker on one side is a rim against the table, or a glare spot.
    let outermost = rings.last()?.radius;
    let shade = |r: &Ring| (luminance(r.outside) / luminance(r.inside)).log10();
    let gentle =
        |r: &Ring| r.radius > 0.45 * outermost && r.radius < 0.93 * outermost && (-WALL_SHADE..2.0 * WALL_SHADE).contains(&shade(r));
    let tinted = |r: &Ring| if gentle(r) && absorbs(r) { r.tint * r.support } else { 0.0 };
    let strongest = rings.iter().map(tinted).fold(0.0, f32::max);
    if strongest > PLAIN_TINT {
        return rings.iter().position(|r| tinted(r) > 0.6 * strongest);
    }
    let best = rings.iter().filter(|r| gentle(r)).map(weight).fold(0.0, f32::max).min(VESSEL_CONTRAST);
    rings.iter().position(|r| gentle(r) && weight(r) >= if r.support > 0.8 { 0.3 } else { 0.45 } * best)
}

/// Looks for liquid and rim around one centre, and once more around the centre and in the shape of the liquid found.
fn examine(pyramid: &Pyramid, set: &Concentric) -> Option<FoundCup> {
    let start = Outline::circle(set.x, set.y, set.least);
    let (liquid, _) = liquid_of(pyramid, &start, (0.35 * set.least, 1.9 * set.most), 2)?;
    let (liquid, rings) = liquid_of(pyramid, &liquid.0, (0.5 * liquid.0.radius, 1.95 * liquid.0.radius), 1).unwrap_or((liquid, Vec::new()));
    let (outline, edge) = liquid;
    let base = &pyramid.levels()[0];
    let smallest = LEAST_RADIUS * base.width.max(base.height) as f32;
    if outline.support < OUTLINE_SUPPORT || outline.flattening() > GREATEST_FLATTENING || outline.radius < smallest {
        return None;
    }
    let rim = rings.iter().rev().find(|r| is_rim(r, &edge)).map(|r| r.radius).or_else(|| thin_rim(pyramid, &outline));
    let uneven = circle::unevenness(pyramid, &outline, 0.15 * outline.radius, 0.85 * outline.radius);
    if uneven > (UNEVEN * edge.contrast).max(GRAIN) {
        return None;
    }
    let plain = ((edge.contrast - 0.02) / 0.1).clamp(0.0, 1.0);
    let whole = ((0.5 * (edge.support + outline.support) - 0.55) / 0.35).clamp(0.0, 1.0);
    let d = density(&edge);
    let (most, least) = (d.iter().fold(f32::MIN, |a, &b| a.max(b)), d.iter().fold(f32::MAX, |a, &b| a.min(b)));
    Some(FoundCup {
        x: outline.x,
        y: outline.y,
        radius: outline.radius * (1.0 - outline.flattening()),
        rim,
        confidence: whole * (0.55 + 0.45 * plain),
        white: edge.outside,
        inside: edge.inside,
        coloured: most - least > (0.4 * most).max(0.15),
    })
}

/// Whether `ring` may be the rim around the liquid's edge, and not a tail of that edge.
fn is_rim(ring: &Ring, liquid: &Ring) -> bool {
    let same_way: f32 = ring.step.iter().zip(liquid.step).map(|(a, b)| a * b).sum();
    let least = if same_way > 0.0 { RIM_REACH.0 + 0.06 } else { RIM_REACH.0 };
    !ring.tint_only && ring.radius > least * liquid.radius && ring.radius < RIM_REACH.1 * liquid.radius
}

/// How far an outline may lie from the ring it was seen as, share of the radius ...
const OUTLINE_REACH: f32 = 0.1;
/// ... and at least, where the next edge is close: circles are fitted no better.
const LEAST_REACH: f32 = 0.04;

/// The liquid's edge among the edges of one shape: its outline, the edge as seen, and all edges.
fn liquid_of(pyramid: &Pyramid, like: &Outline, span: (f32, f32), every: usize) -> Option<((Outline, Ring), Vec<Ring>)> {
    let rings = circle::rings(pyramid, like, span, 0.012, every);
    let edge = rings[liquid_edge(&rings)?];
    let norm = edge.step.map(|v| v / edge.contrast);
    let round = Outline::circle(like.x, like.y, edge.radius);
    let within = |reach: f32| circle::outline(pyramid, &round, reach + like.flattening(), Some(norm), 1);
    let outline = within(OUTLINE_REACH)?;
    // A fold of the wall just above the liquid may be the stronger edge and draw the outline to it: then only what is nearer to the liquid's own edge counts.
    let next = rings.iter().map(|ring| (ring.radius / edge.radius - 1.0).abs()).filter(|gap| *gap > 0.0).fold(f32::INFINITY, f32::min);
    let nearer = (0.5 * next).max(LEAST_REACH);
    let is_drawn_off = (outline.radius / edge.radius - 1.0).abs() > nearer;
    if nearer >= OUTLINE_REACH || (outline.support >= OUTLINE_SUPPORT && !is_drawn_off) {
        return Some(((outline, edge), rings));
    }
    let narrow = within(nearer).filter(|narrow| is_drawn_off || narrow.support > outline.support).unwrap_or(outline);
    Some(((narrow, edge), rings))
}

/// The rim of a clear glass, which is but a thin line close to the liquid: where its dark line turns bright again.
fn thin_rim(pyramid: &Pyramid, liquid: &Outline) -> Option<f32> {
    let rings = circle::rings(pyramid, liquid, (0.97 * liquid.radius, 1.4 * liquid.radius), 0.005, 1);
    let brightens = |r: &Ring| r.step.iter().sum::<f32>() > 0.0;
    let line = rings.iter().position(|r| r.radius > 1.02 * liquid.radius && r.support > 0.7 && !brightens(r))?;
    rings[line..].iter().rev().find(|r| r.support > 0.7 && brightens(r)).map(|r| r.radius)
}

fn light(colour: Colour) -> Colour {
    colour.map(|v| v.max(0.004).powf(2.2))
}

fn luminance(colour: Colour) -> f32 {
    let l = light(colour);
    0.2 * l[0] + 0.7 * l[1] + 0.1 * l[2]
}

/// The white of the brightest vessels.
fn brightest_white(cups: &[FoundCup]) -> Option<Colour> {
    let surest = cups.iter().map(|c| c.confidence).fold(0.0, f32::max);
    let sure = || cups.iter().filter(|c| c.rim.is_some() && c.confidence > 0.6 * surest);
    let brightest = sure().map(|c| luminance(c.white)).fold(0.0, f32::max);
    let whites: Vec<Colour> = sure().map(|c| c.white).filter(|&w| luminance(w) > 0.6 * brightest).collect();
    if whites.is_empty() {
        return None;
    }
    Some(median_colour(&whites))
}

/// About the same colour as `white`, and not much darker. A disc of no colour whose rim was not seen must stand on white itself.
fn is_white(cup: &FoundCup, white: Colour) -> bool {
    // A channel that hardly gets light tells nothing about colour: 0.02 of full scale is added to each.
    let (a, b) = (light(cup.white).map(|v| v + 0.02), light(white).map(|v| v + 0.02));
    let tint = |c: usize| ((a[c] / a[1]) / (b[c] / b[1])).log10().abs();
    let brightness = luminance(cup.white) / luminance(white);
    if cup.rim.is_none() {
        return brightness > 0.6 && tint(0) < 0.10 && tint(2) < 0.14;
    }
    brightness > 0.42 && tint(0) < 0.14 && tint(2) < 0.18
}

/// Drops whatever lies within a surer cup; surest first.
fn apart(suspects: &[FoundCup]) -> Vec<FoundCup> {
    let mut kept: Vec<FoundCup> = Vec::new();
    for &s in suspects {
        let clear = kept.iter().all(|k| {
            let distance = (k.x - s.x).hypot(k.y - s.y);
            distance > (0.95 * (k.radius + s.radius)).max(1.05 * k.rim.unwrap_or(k.radius))
        });
        if clear {
            kept.push(s);
        }
    }
    kept
}

/// A coloured disc on white without a visible rim is still taken for a glass when its radius exceeds this share of the shorter side:
/// dots of a pattern and lids are smaller.
const LARGE_DISC: f32 = 0.07;

/// Sizes of vessels that may stand together.
const KIN: std::ops::Range<f32> = 0.6..1.7;
/// Vessels with rims that make a disc without rim and colour the next of their row: one more of one size is no chance any more.
const ROW: usize = 2;
/// Sizes of one row: the same cups, nearer and farther.
const ONE_SIZE: std::ops::Range<f32> = 0.8..1.25;

/// Drops discs without a rim unless they are the next of a row of vessels, or plainly coloured and either large or beside vessels of about their size whose rims were
/// seen, and anything far smaller than its surer companions. `short` is the picture's shorter side.
fn with_kin(cups: &[FoundCup], short: f32) -> Vec<FoundCup> {
    let rimmed = |c: &FoundCup, sizes: &std::ops::Range<f32>| {
        let alike = |k: &&FoundCup| k.rim.is_some() && k.confidence > 0.6 && sizes.contains(&(k.radius / c.radius));
        cups.iter().filter(alike).count()
    };
    let largest = cups.iter().filter(|c| c.confidence > 0.7).map(|c| c.radius).fold(0.0, f32::max);
    let stays = |c: &&FoundCup| {
        // Half turned and under lilac light a liquid may be grey, and a rim of the paper's white on paper is not seen.
        let lone = c.coloured && (rimmed(c, &KIN) > 0 || c.radius > LARGE_DISC * short);
        let vessel = c.rim.is_some() || lone || rimmed(c, &ONE_SIZE) >= ROW;
        vessel && c.confidence > LEAST_CONFIDENCE && c.radius > 0.3 * largest
    };
    let kept: Vec<FoundCup> = cups.iter().filter(stays).copied().collect();
    if kept.len() > MOST_CUPS { Vec::new() } else { kept }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An edge between two encoded colours.
    fn ring(radius: f32, inside: Colour, outside: Colour, support: f32) -> Ring {
        let step = [0, 1, 2].map(|c| outside[c] - inside[c]);
        let contrast = step.iter().map(|v| v * v).sum::<f32>().sqrt();
        let ring = Ring { radius, step, contrast, support, tint: 0.0, tint_only: false, inside, outside };
        let d = density(&ring);
        Ring { tint: d.iter().fold(f32::MIN, |a, &b| a.max(b)) - d.iter().fold(f32::MAX, |a, &b| a.min(b)), ..ring }
    }

    const WALL: Colour = [0.85, 0.85, 0.85];
    const TABLE: Colour = [0.3, 0.3, 0.3];
    const YELLOW: Colour = [0.8, 0.75, 0.3];

    // By hand: 0.87 / 0.435 is 2, so 2.2 times log10 of 2 are 0.662.
    #[test]
    fn density_is_what_the_inside_takes_away() {
        let d = density(&ring(1.0, [0.415, 0.85, 0.415], WALL, 1.0));
        assert!((d[0] - 0.6623).abs() < 1e-3 && d[1].abs() < 1e-6 && (d[2] - d[0]).abs() < 1e-6, "{d:?}");
    }

    #[test]
    fn a_liquid_takes_light_away() {
        assert!(absorbs(&ring(1.0, YELLOW, WALL, 1.0)) && absorbs(&ring(1.0, [0.8; 3], WALL, 1.0)));
        assert!(!absorbs(&ring(1.0, WALL, TABLE, 1.0)) && !absorbs(&ring(1.0, [0.84; 3], WALL, 1.0)));
        // A camera's colours may brighten one channel a little, while another is taken away.
        assert!(absorbs(&ring(1.0, [0.9, 0.9, 0.3], WALL, 1.0)));
        assert!(!absorbs(&ring(1.0, [0.97, 0.97, 0.82], [0.8, 0.8, 0.85], 1.0)));
    }

    #[test]
    fn the_liquid_is_the_innermost_of_the_plain_edges() {
        let rim = ring(1.4, WALL, TABLE, 0.9);
        let liquid = ring(1.0, YELLOW, WALL, 0.9);
        let fold = ring(1.2, [0.8; 3], WALL, 0.9);
        assert_eq!(liquid_edge(&[liquid, fold, rim]), Some(0));
        // A second edge that absorbs half as much again is that of the liquid; one nearly as strong is a floor's.
        let faint = ring(0.6, [0.8, 0.75, 0.62], YELLOW, 0.9);
        let strong = ring(0.6, [0.8, 0.75, 0.0], [0.8, 0.75, 0.4], 0.9);
        assert_eq!((liquid_edge(&[faint, liquid, rim]), liquid_edge(&[strong, liquid, rim])), (Some(1), Some(0)));
        assert_eq!(liquid_edge(&[]), None);
    }

    #[test]
    fn water_is_told_by_tint_or_by_place() {
        let rim = ring(1.4, WALL, TABLE, 0.9);
        let pale = ring(1.0, [0.84, 0.84, 0.79], WALL, 0.9);
        let fold = ring(0.8, [0.83; 3], WALL, 0.9);
        assert_eq!(liquid_edge(&[fold, pale, rim]), Some(1));
        // Without a tint the innermost that does not fall behind; nothing within half the outermost, or close to it.
        let edge = ring(1.0, [0.80; 3], WALL, 0.9);
        assert_eq!(liquid_edge(&[fold, edge, rim]), Some(0));
        assert_eq!(liquid_edge(&[ring(0.5, [0.83; 3], WALL, 0.9), edge, rim]), Some(1));
        assert_eq!(liquid_edge(&[ring(1.35, [0.8; 3], WALL, 0.9), rim]), None);
    }

    #[test]
    fn a_rim_lies_outside_the_liquid_within_reach() {
        let liquid = ring(1.0, YELLOW, WALL, 0.9);
        let dark = |radius: f32| is_rim(&ring(radius, WALL, TABLE, 0.9), &liquid);
        assert_eq!([1.05, 1.07, 1.79, 1.81].map(dark), [false, true, true, false]);
        // An edge the same way may be the tail of the liquid's own, and has to be farther off.
        let bright = |radius: f32| is_rim(&ring(radius, TABLE, WALL, 0.9), &liquid);
        assert_eq!([1.07, 1.11, 1.13].map(bright), [false, false, true]);
        assert!(!is_rim(&Ring { tint_only: true, ..ring(1.4, WALL, TABLE, 0.9) }, &liquid));
    }

    fn found(x: f32, radius: f32, confidence: f32) -> FoundCup {
        FoundCup { x, y: 0.0, radius, rim: Some(1.4 * radius), confidence, coloured: true, white: WALL, inside: YELLOW }
    }

    #[test]
    fn white_is_judged_by_tint_and_brightness() {
        let of = |light: [f32; 3], rim: Option<f32>| {
            let white = [0, 1, 2].map(|c| WALL[c] * light[c].powf(1.0 / 2.2));
            is_white(&FoundCup { white, rim, ..found(0.0, 10.0, 1.0) }, WALL)
        };
        // In the shade of a tenth, four and seven tenths of the light, with a rim and without.
        assert_eq!([0.3, 0.5, 0.7].map(|share| of([share; 3], Some(14.0))), [false, true, true]);
        assert_eq!([0.3, 0.5, 0.7].map(|share| of([share; 3], None)), [false, false, true]);
        // log10 of 1.3 is 0.114: a tint allowed beside a rim only.
        assert_eq!((of([1.0, 0.77, 0.77], Some(14.0)), of([1.0, 0.77, 0.77], None)), (true, false));
        assert!(!of([1.0, 0.6, 0.6], Some(14.0)) && !of([0.9, 0.9, 0.5], Some(14.0)));
    }

    #[test]
    fn of_two_that_overlap_the_surer_stays() {
        let kept = |all: &[FoundCup]| apart(all).iter().map(|cup| cup.x).collect::<Vec<_>>();
        assert_eq!(kept(&[found(0.0, 10.0, 0.9), found(12.0, 10.0, 0.8), found(30.0, 10.0, 0.7)]), [0.0, 30.0]);
        // Nothing stands within a rim; radii that just meet are two cups.
        assert_eq!(kept(&[found(0.0, 10.0, 0.9), found(14.6, 2.0, 0.8), found(14.8, 2.0, 0.7)]), [0.0, 14.8]);
    }

    #[test]
    fn a_disc_without_a_rim_needs_kin() {
        let bare = |x: f32, radius: f32, coloured: bool| FoundCup { rim: None, coloured, ..found(x, radius, 0.9) };
        let left = |all: &[FoundCup]| with_kin(all, 400.0).iter().map(|cup| cup.x).collect::<Vec<_>>();
        assert_eq!(left(&[bare(0.0, 10.0, true)]), [0.0; 0]);
        assert_eq!(left(&[bare(0.0, 30.0, true)]), [0.0]);
        assert_eq!(left(&[found(0.0, 12.0, 0.9), bare(50.0, 10.0, true)]), [0.0, 50.0]);
        // Grey, it must be the next of a row of cups of its size.
        assert_eq!(left(&[found(0.0, 10.0, 0.9), bare(50.0, 10.0, false)]), [0.0]);
        assert_eq!(left(&[found(0.0, 10.0, 0.9), found(50.0, 11.0, 0.9), bare(100.0, 10.0, false)]), [0.0, 50.0, 100.0]);
        // Far smaller than its companions, or unsure, it is none; a crowd is a pattern.
        assert_eq!(left(&[found(0.0, 40.0, 0.9), found(90.0, 11.0, 0.9), found(200.0, 20.0, 0.4)]), [0.0]);
        let crowd: Vec<FoundCup> = (0..=MOST_CUPS).map(|i| found(40.0 * i as f32, 10.0, 0.9)).collect();
        assert_eq!((left(&crowd).len(), left(&crowd[1..]).len()), (0, MOST_CUPS));
    }

    #[test]
    fn white_is_that_of_the_brightest_vessels() {
        let of = |level: f32, confidence: f32| FoundCup { white: [level; 3], ..found(0.0, 10.0, confidence) };
        assert_eq!(brightest_white(&[of(0.8, 0.9), of(0.7, 0.9), of(0.75, 0.9), of(0.4, 0.9), of(0.95, 0.5)]), Some([0.75; 3]));
        assert_eq!(brightest_white(&[FoundCup { rim: None, ..of(0.8, 0.9) }]), None);
    }
}
