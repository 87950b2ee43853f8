//! Cups: a disc of liquid, white around it, and the rim of a vessel with the same centre.

use super::circle::{self, Outline, Ring};
use super::pyramid::{Colour, Pyramid};
use super::vote::{self, Candidate};

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
    /// Encoded step of colour at the liquid's edge.
    pub(super) contrast: f32,
    /// Encoded colour of the vessel or paper next to the liquid.
    pub(super) white: Colour,
}

/// Most candidates looked at closely, so that a dotted cloth does not cost seconds.
const MOST_CANDIDATES: usize = 110;
/// Most sets of concentric circles looked at.
const MOST_CENTRES: usize = 48;
/// Most cups reported: twelve are asked for, a few more may stand about.
const MOST_CUPS: usize = 24;
/// Cups less sure than this are not reported.
const LEAST_CONFIDENCE: f32 = 0.4;
/// Least share of directions that must agree on a candidate's outline.
const OUTLINE_SUPPORT: f32 = 0.45;

/// Finds the cups, surest first.
pub(super) fn find(pyramid: &Pyramid) -> Vec<FoundCup> {
    let mut candidates = vote::candidates(pyramid);
    candidates.sort_by(|a, b| b.share.total_cmp(&a.share));
    candidates.truncate(MOST_CANDIDATES);
    let mut outlines: Vec<Outline> = candidates.iter().filter_map(|c| settled(pyramid, c)).collect();
    outlines.sort_by(|a, b| b.support.total_cmp(&a.support));
    let mut suspects: Vec<FoundCup> = concentric(&outlines).iter().filter_map(|set| examine(pyramid, set)).collect();
    suspects.sort_by(|a, b| b.confidence.total_cmp(&a.confidence));
    let mut cups = apart(suspects);
    if let Some(white) = brightest_white(&cups) {
        cups.retain(|c| is_white(c.white, white));
    }
    with_kin(cups)
}

/// The outline of a candidate after two rounds, if enough of it is there.
fn settled(pyramid: &Pyramid, start: &Candidate) -> Option<Outline> {
    let first = circle::outline(pyramid, start, 0.15, None)?;
    if first.support < 0.3 {
        return None;
    }
    let next = Candidate { x: first.x, y: first.y, radius: first.radius, share: start.share };
    let second = circle::outline(pyramid, &next, 0.10, None)?;
    (second.support >= OUTLINE_SUPPORT && second.flattening < 0.2 * second.radius).then_some(second)
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
            None if sets.len() < MOST_CENTRES => sets.push(Concentric { x: o.x, y: o.y, least: o.radius, most: o.radius }),
            None => {}
        }
    }
    sets
}

/// log10 of outside over inside per channel: the density that the inside shows against the outside. Encoded to light by a power of 2.2.
fn density(ring: &Ring) -> Colour {
    [0, 1, 2].map(|c| 2.2 * (ring.outside[c].max(0.01) / ring.inside[c].max(0.01)).log10())
}

/// Absorbs in at least one channel and brightens in none.
fn absorbs(ring: &Ring) -> bool {
    let d = density(ring);
    let (most, least) = (d.iter().fold(f32::MIN, |a, &b| a.max(b)), d.iter().fold(f32::MAX, |a, &b| a.min(b)));
    most > 0.04 && most > -1.2 * least
}

/// A liquid's edge this strong is told from the vessel's own edges by its contrast alone.
const PLAIN_CONTRAST: f32 = 0.06;
/// Rims lie between these multiples of the liquid's radius.
const RIM_REACH: (f32, f32) = (1.06, 1.8);

/// Which of the concentric edges is that of the liquid.
fn liquid_edge(rings: &[Ring]) -> Option<usize> {
    let best = rings.iter().filter(|r| absorbs(r)).map(|r| r.contrast * r.support).fold(0.0, f32::max);
    if best > PLAIN_CONTRAST {
        return rings.iter().position(|r| absorbs(r) && r.contrast * r.support > 0.6 * best);
    }
    let outermost = rings.last()?.radius;
    rings
        .iter()
        .position(|r| r.support > 0.7 && r.radius > 0.45 * outermost && r.radius < 0.95 * outermost && r.contrast * r.support > 0.5 * best)
}

/// Looks for liquid and rim around one centre.
fn examine(pyramid: &Pyramid, set: &Concentric) -> Option<FoundCup> {
    let (_, rings) = circle::rings(pyramid, (set.x, set.y), 0.35 * set.least, 1.9 * set.most);
    let liquid = rings[liquid_edge(&rings)?];
    let norm = liquid.step.map(|v| v / liquid.contrast);
    let start = Candidate { x: set.x, y: set.y, radius: liquid.radius, share: 0.0 };
    let outline = circle::outline(pyramid, &start, 0.1, Some(norm))?;
    if outline.support < OUTLINE_SUPPORT {
        return None;
    }
    let rim = rings.iter().rev().find(|r| r.radius > RIM_REACH.0 * liquid.radius && r.radius < RIM_REACH.1 * liquid.radius);
    let plain = ((liquid.contrast - 0.02) / 0.1).clamp(0.0, 1.0);
    let whole = ((liquid.support.min(outline.support + 0.1) - 0.5) / 0.4).clamp(0.0, 1.0);
    Some(FoundCup {
        x: outline.x,
        y: outline.y,
        radius: outline.radius - outline.flattening,
        rim: rim.map(|r| r.radius),
        confidence: whole * (0.6 + 0.4 * plain),
        white: liquid.outside,
        contrast: liquid.contrast,
    })
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
    Some([0, 1, 2].map(|c| circle::median(&mut whites.iter().map(|w| w[c]).collect::<Vec<_>>())))
}

/// About the same colour as `white`, and not much darker.
fn is_white(colour: Colour, white: Colour) -> bool {
    let (a, b) = (light(colour), light(white));
    let tint = |num: usize| ((a[num] / a[1]) / (b[num] / b[1])).log10().abs();
    luminance(colour) > 0.35 * luminance(white) && tint(0) < 0.14 && tint(2) < 0.18
}

/// Drops whatever lies within a surer cup; surest first.
fn apart(suspects: Vec<FoundCup>) -> Vec<FoundCup> {
    let mut kept: Vec<FoundCup> = Vec::new();
    for s in suspects {
        let clear = kept.iter().all(|k| {
            let distance = (k.x - s.x).hypot(k.y - s.y);
            distance > (0.95 * (k.radius + s.radius)).max(1.05 * k.rim.unwrap_or(k.radius))
        });
        if clear && kept.len() < MOST_CUPS {
            kept.push(s);
        }
    }
    kept
}

/// Drops discs without a rim unless they are plainly coloured and stand beside vessels of their size whose rims were seen,
/// and anything far smaller than its surer companions.
fn with_kin(cups: Vec<FoundCup>) -> Vec<FoundCup> {
    let kin = |c: &FoundCup| cups.iter().any(|k| k.rim.is_some() && k.confidence > 0.6 && (0.6..1.7).contains(&(k.radius / c.radius)));
    let largest = cups.iter().filter(|c| c.confidence > 0.7).map(|c| c.radius).fold(0.0, f32::max);
    cups.iter()
        .filter(|c| c.confidence > LEAST_CONFIDENCE && c.radius > 0.3 * largest && (c.rim.is_some() || (c.contrast > 0.08 && kin(c))))
        .copied()
        .collect()
}
