//! A candidate circle looked at along its radii: where its edge really is, and what other edges share its centre.

use super::median::{median, median_colour};
use super::pyramid::{Colour, Pyramid, to_level};
use std::f32::consts::TAU;
use std::sync::LazyLock;

/// Directions in which a circle is looked at; enough to see a glare spot as a minority.
const SECTORS: usize = 64;
/// Radius, in pixels of the level used, at which an edge is placed to about two per cent.
const WORKING_RADIUS: f32 = 18.0;

/// An outline r(t) = radius + shift + flattening, as fitted to edge points in all directions. Base pixels.
#[derive(Debug, Clone, Copy)]
pub(super) struct Outline {
    pub(super) x: f32,
    pub(super) y: f32,
    /// Mean radius.
    pub(super) radius: f32,
    /// Departure from a circle: r(t) = radius * (1 + bend.0 cos 2t + bend.1 sin 2t).
    pub(super) bend: Bend,
    /// Share of the directions whose edge lies on the outline, 0 to 1.
    pub(super) support: f32,
}

/// Departure from a circle, see [`Outline::bend`]; zero twice for a circle.
pub(super) type Bend = (f32, f32);

impl Outline {
    /// A circle nothing is known about yet.
    pub(super) fn circle(x: f32, y: f32, radius: f32) -> Self {
        Outline { x, y, radius, bend: (0.0, 0.0), support: 0.0 }
    }

    /// Half the difference of the axes as a share of the mean radius.
    pub(super) fn flattening(&self) -> f32 {
        self.bend.0.hypot(self.bend.1)
    }
}

/// A concentric edge.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ring {
    /// Base pixels.
    pub(super) radius: f32,
    /// Encoded colour outside less inside, median over the directions.
    pub(super) step: Colour,
    /// Length of `step`.
    pub(super) contrast: f32,
    /// Share of the directions that show the same step, 0 to 1.
    pub(super) support: f32,
    /// Change of colour apart from brightness: spread over the channels of log10 of light, outside over inside.
    pub(super) tint: f32,
    /// Stands out by its tint only, not by its contrast: may be the tail of a neighbouring edge.
    pub(super) tint_only: bool,
    /// Median colour just inside and just outside.
    pub(super) inside: Colour,
    pub(super) outside: Colour,
}

/// Samples on either side of an edge, over which a step of colour is taken.
const WIDTH: usize = 2;
/// A colour outside the picture. Whatever is worked out with it is no number either, so that nothing needs to branch for it.
const UNSEEN: Colour = [f32::NAN; 3];

/// Colours along the radii around one centre.
struct Polar {
    /// Mean radii in base pixels, ascending, evenly spaced.
    radii: Vec<f32>,
    /// Direction after direction, a colour for each radius; the directions are evenly spread over the circle.
    colours: Vec<Colour>,
    /// For each of them the mean of the two, [`WIDTH`], that begin with it; the last one of each direction mixes two directions and is not used.
    means: Vec<Colour>,
}

/// Cosine and sine of a direction.
fn direction(sector: usize) -> (f32, f32) {
    static ALL: LazyLock<[(f32, f32); SECTORS]> = LazyLock::new(|| {
        std::array::from_fn(|sector| {
            let t = TAU * sector as f32 / SECTORS as f32;
            (t.cos(), t.sin())
        })
    });
    ALL[sector]
}

fn length(v: Colour) -> f32 {
    along(v, v).sqrt()
}

fn along(v: Colour, direction: Colour) -> f32 {
    v[0] * direction[0] + v[1] * direction[1] + v[2] * direction[2]
}

impl Polar {
    /// Samples `count` mean radii from `from` to `to`, in base pixels, on the given level; centre and shape are those of `like`.
    fn new(pyramid: &Pyramid, level: usize, like: &Outline, (from, to): (f32, f32), count: usize, every: usize) -> Self {
        let plane = &pyramid.levels()[level];
        let scale = 1.0 / (1 << level) as f32;
        let (cx, cy) = (to_level(like.x, level), to_level(like.y, level));
        let radii: Vec<f32> = (0..count).map(|j| from + (to - from) * j as f32 / (count.max(2) - 1) as f32).collect();
        let mut colours = Vec::with_capacity(count * SECTORS.div_ceil(every));
        for s in (0..SECTORS).step_by(every) {
            let (ux, uy) = direction(s);
            let stretch = scale * (1.0 + like.bend.0 * (ux * ux - uy * uy) + like.bend.1 * 2.0 * ux * uy);
            colours.extend(radii.iter().map(|&r| plane.sample(cx + r * stretch * ux, cy + r * stretch * uy).unwrap_or(UNSEEN)));
        }
        Polar::of(radii, colours)
    }

    fn of(radii: Vec<f32>, colours: Vec<Colour>) -> Self {
        let mut means = vec![UNSEEN; colours.len()];
        let flat = colours.as_flattened();
        // All channels side by side, so that many are worked out at once.
        for ((mean, a), b) in means.as_flattened_mut().iter_mut().zip(flat).zip(flat.iter().skip(3)) {
            *mean = 0.5 * (a + b);
        }
        Polar { radii, colours, means }
    }

    /// Number of directions.
    fn directions(&self) -> usize {
        self.colours.len() / self.radii.len()
    }

    /// Colours of one direction by radius.
    fn row(&self, sector: usize) -> &[Colour] {
        &self.colours[sector * self.radii.len()..][..self.radii.len()]
    }

    /// Mean colour of samples `from..to` of one direction; [`UNSEEN`] when any is.
    #[inline]
    fn mean(&self, sector: usize, from: usize, to: usize) -> Colour {
        let sum = self.row(sector)[from..to].iter().fold([0.0; 3], |sum: Colour, p| [0, 1, 2].map(|c| sum[c] + p[c]));
        sum.map(|s| s / (to - from) as f32)
    }

    /// Colour steps outwards of one direction, across each sample that has [`WIDTH`] on either side; [`UNSEEN`] where one of those is.
    fn steps(&self, sector: usize) -> impl Iterator<Item = Colour> {
        let means = &self.means[sector * self.radii.len()..][..self.radii.len() + 1 - WIDTH];
        means.iter().zip(means.iter().skip(WIDTH + 1)).map(|(inner, outer)| [0, 1, 2].map(|c| outer[c] - inner[c]))
    }

    /// The step across sample `j` of one direction.
    fn step(&self, sector: usize, j: usize) -> Colour {
        let at = sector * self.radii.len() + j;
        let (inner, outer) = (self.means[at - WIDTH], self.means[at + 1]);
        [0, 1, 2].map(|c| outer[c] - inner[c])
    }

    /// Median colour over the directions and samples `from..to`.
    fn colour(&self, from: usize, to: usize) -> Option<Colour> {
        let seen: Vec<Colour> = (0..self.directions()).map(|s| self.mean(s, from, to)).filter(is_seen).collect();
        if seen.len() < self.directions() / 2 {
            return None;
        }
        Some(median_colour(&seen))
    }
}

fn is_seen(colour: &Colour) -> bool {
    !colour[0].is_nan()
}

/// How uneven a ring is all around: median, over directions and radii, of the distance from the median colour of the same radius.
/// Glare and a depth that grows towards the centre leave it small; texture does not. 1 when too little of the ring can be seen.
pub(super) fn unevenness(pyramid: &Pyramid, like: &Outline, from: f32, to: f32) -> f32 {
    let level = pyramid.level_for(like.radius, WORKING_RADIUS);
    let polar = Polar::new(pyramid, level, like, (from, to), 6, 2);
    let mut off = Vec::with_capacity(6 * SECTORS / 2);
    for j in 0..polar.radii.len() {
        let Some(middle) = polar.colour(j, j + 1) else { continue };
        off.extend((0..polar.directions()).map(|s| polar.row(s)[j]).filter(is_seen).map(|p| length([0, 1, 2].map(|c| p[c] - middle[c]))));
    }
    if off.len() < SECTORS { 1.0 } else { median(off) }
}

/// Weighted least squares of r(t) = a0 + a1 cos t + a2 sin t + a3 cos 2t + a4 sin 2t; `None` when singular.
fn fit_outline(points: &[(usize, f32)], weights: &[f32], terms: usize) -> Option<[f32; 5]> {
    let mut normal = [[0.0f64; 6]; 5];
    for (&(sector, r), &w) in points.iter().zip(weights) {
        let row = basis(sector).map(f64::from);
        for i in 0..terms {
            for j in 0..terms {
                normal[i][j] += f64::from(w) * row[i] * row[j];
            }
            normal[i][5] += f64::from(w) * row[i] * f64::from(r);
        }
    }
    for i in 0..terms {
        let pivot = normal[i][i];
        if pivot < 1e-6 {
            return None;
        }
        let above = normal[i];
        for row in &mut normal[i + 1..terms] {
            let f = row[i] / pivot;
            for (v, a) in row.iter_mut().zip(above) {
                *v -= f * a;
            }
        }
    }
    let mut out = [0.0f64; 5];
    for i in (0..terms).rev() {
        let known: f64 = (i + 1..terms).map(|j| normal[i][j] * out[j]).sum();
        out[i] = (normal[i][5] - known) / normal[i][i];
    }
    Some(out.map(|v| v as f32))
}

fn basis(sector: usize) -> [f32; 5] {
    let (c, s) = direction(sector);
    [1.0, c, s, c * c - s * s, 2.0 * c * s]
}

/// Robust fit: points far from the outline lose their weight (Tukey's biweight, 4.7 spreads). Returns coefficients and inliers.
fn robust_outline(points: &[(usize, f32)], terms: usize, least_spread: f32) -> Option<([f32; 5], usize)> {
    let mut weights = vec![1.0f32; points.len()];
    let mut middle = median(points.iter().map(|p| p.1));
    let mut coefficients = [middle, 0.0, 0.0, 0.0, 0.0];
    let mut inliers = 0;
    for _ in 0..6 {
        let residuals: Vec<f32> =
            points.iter().map(|&(s, r)| r - basis(s).iter().zip(coefficients).map(|(b, c)| b * c).sum::<f32>()).collect();
        let spread = (1.48 * median(residuals.iter().map(|v| v.abs()))).max(least_spread);
        inliers = 0;
        for (w, v) in weights.iter_mut().zip(&residuals) {
            let u = v / (4.7 * spread);
            *w = if u.abs() < 1.0 { (1.0 - u * u) * (1.0 - u * u) } else { 0.0 };
            inliers += usize::from(v.abs() < 2.0 * least_spread);
        }
        coefficients = fit_outline(points, &weights, terms)?;
        middle = coefficients[0];
    }
    (middle > 0.0).then_some((coefficients, inliers))
}

/// Fits the outline next to the candidate; `reach` is how far from its radius the edge may lie, as a share of it.
/// One direction in `every` is looked at. With `wanted` only steps in that direction of colour count.
pub(super) fn outline(pyramid: &Pyramid, start: &Outline, reach: f32, wanted: Option<Colour>, every: usize) -> Option<Outline> {
    let level = pyramid.level_for(start.radius, WORKING_RADIUS);
    let pixel = (1 << level) as f32;
    let spacing = (0.02 * start.radius).max(0.5 * pixel);
    let count = (2.0 * reach * start.radius / spacing).ceil() as usize + 1 + 2 * WIDTH;
    let margin = reach * start.radius + WIDTH as f32 * spacing;
    let span = (start.radius - margin, start.radius - margin + (count - 1) as f32 * spacing);
    let polar = Polar::new(pyramid, level, &Outline::circle(start.x, start.y, start.radius), span, count, every);
    let mut points = Vec::with_capacity(SECTORS);
    let directions = polar.directions();
    let mut steps = Vec::with_capacity(count);
    for s in 0..directions {
        steps.clear();
        match wanted {
            None => steps.extend(polar.steps(s).map(|step| if is_seen(&step) { length(step) } else { 0.0 })),
            Some(wanted) => steps.extend(polar.steps(s).map(|step| if is_seen(&step) { along(step, wanted) } else { 0.0 })),
        }
        if let Some(place) = steepest(&steps) {
            points.push((s * every, span.0 + (WIDTH as f32 + place) * spacing));
        }
    }
    if points.len() < directions * 2 / 5 {
        return None;
    }
    let terms = if points.len() > directions * 3 / 4 { 5 } else { 3 };
    let (c, inliers) = robust_outline(&points, terms, (0.02 * start.radius).max(0.4 * pixel))?;
    Some(Outline {
        x: start.x + c[1],
        y: start.y + c[2],
        radius: c[0],
        bend: (c[3] / c[0], c[4] / c[0]),
        support: inliers as f32 / directions as f32,
    })
}

/// A circle through the edge points of an arc about the direction `away`: what lies on the other side is not looked at, for a near
/// wall may hide it. `wanted` is the step of colour outwards, `reach` how far the edge may lie from the start, share of its radius.
pub(super) fn arc(pyramid: &Pyramid, start: (f32, f32, f32), wanted: Colour, away: (f32, f32), reach: f32) -> Option<(f32, f32, f32)> {
    let (x, y, radius) = start;
    let level = pyramid.level_for(radius, WORKING_RADIUS);
    let spacing = (0.02 * radius).max(0.5 * (1 << level) as f32);
    let count = (2.0 * reach * radius / spacing).ceil() as usize + 1 + 2 * WIDTH;
    let from = (radius - reach * radius - WIDTH as f32 * spacing).max(0.1 * radius);
    let span = (from, from + (count - 1) as f32 * spacing);
    let polar = Polar::new(pyramid, level, &Outline::circle(x, y, radius), span, count, 1);
    let mut points = Vec::with_capacity(SECTORS);
    let mut steps = Vec::with_capacity(count);
    for s in 0..SECTORS {
        let (ux, uy) = direction(s);
        if ux * away.0 + uy * away.1 < ARC {
            continue;
        }
        steps.clear();
        steps.extend(polar.steps(s).map(|step| if is_seen(&step) { along(step, wanted) } else { 0.0 }));
        if let Some(place) = steepest(&steps) {
            points.push((s, span.0 + (WIDTH as f32 + place) * spacing));
        }
    }
    if points.len() < SECTORS / 4 {
        return None;
    }
    let (c, inliers) = robust_outline(&points, 3, (0.02 * radius).max(0.4 * (1 << level) as f32))?;
    let is_sound = inliers as f32 > ARC_SUPPORT * points.len() as f32 && c[1].hypot(c[2]) < 0.8 * radius;
    is_sound.then_some((x + c[1], y + c[2], c[0]))
}

/// Cosine of the half angle of an arc: 98 degrees, a little more than half a circle, holds the middle steady.
const ARC: f32 = -0.14;
/// Least share of an arc's directions whose edge lies on the circle; noise alone gives a third.
const ARC_SUPPORT: f32 = 0.5;

/// Place of the greatest value, between samples by a parabola; `None` when nothing stands out.
fn steepest(steps: &[f32]) -> Option<f32> {
    let (at, &top) = steps.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
    if top < 0.004 {
        return None;
    }
    if at == 0 || at + 1 == steps.len() {
        return Some(at as f32);
    }
    let (a, b) = (steps[at - 1], steps[at + 1]);
    let bend = a - 2.0 * top + b;
    Some(at as f32 + if bend < -1e-9 { (0.5 * (a - b) / bend).clamp(-0.5, 0.5) } else { 0.0 })
}

/// Least support of a concentric edge; noise alone gives about a half.
const RING_SUPPORT: f32 = 0.62;
/// Least contrast of a concentric edge: two 8-bit levels.
const RING_CONTRAST: f32 = 0.008;

/// All edges of the shape of `like` between the two mean radii (base pixels), innermost first; `fineness` is the spacing of the radii
/// as a share of the greater one; one direction in `every` is looked at.
pub(super) fn rings(pyramid: &Pyramid, like: &Outline, (from, to): (f32, f32), fineness: f32, every: usize) -> Vec<Ring> {
    let level = pyramid.level_for(from.max(0.5 * to), 0.216 * WORKING_RADIUS / (fineness * 18.0));
    let pixel = (1 << level) as f32;
    let spacing = (fineness * to).max(0.5 * pixel);
    let count = ((to - from) / spacing).ceil().max(8.0) as usize + 1;
    let polar = Polar::new(pyramid, level, like, (from, from + (count - 1) as f32 * spacing), count, every);
    let mut seen: Vec<Option<Ring>> = vec![None; count];
    for (j, slot) in seen.iter_mut().enumerate().take(count - WIDTH - 1).skip(WIDTH) {
        *slot = ring_at(&polar, j);
    }
    let strength = |j: usize| seen.get(j).copied().flatten().map_or(0.0, |r| r.contrast);
    let profile: Vec<Option<Colour>> = (0..count).map(|j| polar.colour(j, j + 1)).collect();
    let tint = |j: usize| match (j.checked_sub(WIDTH).and_then(|i| profile[i]), profile.get(j + WIDTH).copied().flatten()) {
        (Some(inside), Some(outside)) => spread(inside, outside),
        _ => 0.0,
    };
    let mut out: Vec<Ring> = Vec::new();
    for (j, slot) in seen.iter().enumerate().take(count - WIDTH - 1).skip(WIDTH) {
        let Some(mut ring) = *slot else { continue };
        ring.tint = tint(j);
        let turns = ring.tint > RING_TINT && is_peak(tint, j);
        ring.tint_only = !is_peak(strength, j);
        if (ring.tint_only && !turns) || ring.support < RING_SUPPORT || ring.contrast < RING_CONTRAST {
            continue;
        }
        let far = WIDTH + 2;
        if let Some(c) = polar.colour(j.saturating_sub(far), j - WIDTH + 1) {
            ring.inside = c;
        }
        if let Some(c) = polar.colour(j + WIDTH, (j + far + 1).min(count)) {
            ring.outside = c;
        }
        // The peaks of brightness and of tint may fall on neighbouring samples of one edge.
        match out.last_mut() {
            Some(last) if ring.radius - last.radius < 2.5 * spacing => {
                if ring.contrast > last.contrast {
                    *last = ring;
                }
            }
            _ => out.push(ring),
        }
    }
    out
}

/// Not less than the two samples on either side.
fn is_peak(of: impl Fn(usize) -> f32, j: usize) -> bool {
    let here = of(j);
    here >= of(j - 1) && here >= of(j - 2) && here > of(j + 1) && here > of(j + 2)
}

/// Spread over the channels of log10(outside / inside); encoded values to light by a power of 2.2.
fn spread(inside: Colour, outside: Colour) -> f32 {
    let d = [0, 1, 2].map(|c| 2.2 * ((outside[c] + 0.02) / (inside[c] + 0.02)).log10());
    d.iter().fold(f32::MIN, |a, &b| a.max(b)) - d.iter().fold(f32::MAX, |a, &b| a.min(b))
}

/// Least change of tint that marks an edge of its own: twice that of neutral surfaces under uneven light.
const RING_TINT: f32 = 0.03;

/// The step across sample `j`, median over the directions.
fn ring_at(polar: &Polar, j: usize) -> Option<Ring> {
    let directions = polar.directions();
    let steps: Vec<Colour> = (0..directions).map(|s| polar.step(s, j)).filter(is_seen).collect();
    if steps.len() < directions * 3 / 5 {
        return None;
    }
    let step = median_colour(&steps);
    let contrast = length(step);
    if contrast < 1e-5 {
        return None;
    }
    let support = steps.iter().filter(|v| along(**v, step) / contrast > 0.4 * contrast).count() as f32 / directions as f32;
    Some(Ring { radius: polar.radii[j], step, contrast, support, tint: 0.0, tint_only: false, inside: [0.0; 3], outside: [0.0; 3] })
}

#[cfg(test)]
mod tests;
