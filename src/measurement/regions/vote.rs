//! Circle voting: every edge pixel votes for the centres that lie along its gradient, one per radius and side.

use super::pyramid::{Plane, Pyramid, to_base};
use crate::measurement::share;
use std::ops::Range;

/// A circle that may be there, in base pixels of the pyramid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Candidate {
    pub(super) x: f32,
    pub(super) y: f32,
    pub(super) radius: f32,
    /// Share of the circumference that voted, about 0 to 1.
    pub(super) share: f32,
}

/// An edge pixel: place, unit gradient, weight of its vote.
struct EdgePixel {
    x: f32,
    y: f32,
    ux: f32,
    uy: f32,
    weight: f32,
}

/// Longest side, pixels, of the finest level that votes.
const LONGEST: usize = 400;
/// Radii looked for on the finest level, its pixels: the least that still gives thirty edge pixels, up to where the next level begins.
const FINEST_RADII: (f32, f32) = (4.5, 18.5);
/// Radii looked for on each coarser level, its pixels; ranges of neighbouring levels meet.
const COARSE_RADII: (f32, f32) = (9.0, 18.5);
/// Ratio of one radius looked for to the next: the votes of an edge two pixels wide then meet in one of them.
const RADIUS_RATIO: f32 = 1.06;
/// A step of one 8-bit level over two pixels: below this all is noise.
const FAINTEST: f32 = 0.004;
/// An edge this steep counts in full; weaker ones count less, as there are many.
const FULL_WEIGHT: f32 = 0.03;
/// At most this share of the pixels may be edges: a busy pattern keeps its strongest.
const EDGE_SHARE: f32 = 0.15;
/// Pixels on a drawn circle per radius, 4 * sqrt(2).
const PIXELS_PER_RADIUS: f32 = 5.657;
/// Least share of the circumference that makes a candidate.
const LEAST_SHARE: f32 = 0.22;
/// Most candidates kept of one level below and above its dividing radius: a dotted cloth must neither cost seconds nor hide the vessels.
const PER_OCTAVE: usize = 60;

/// Circles that may be there, best first within each level.
pub(super) fn candidates(pyramid: &Pyramid) -> Vec<Candidate> {
    let mut all = Vec::new();
    let finest = pyramid.level_within(LONGEST);
    for (level, plane) in pyramid.levels().iter().enumerate().skip(finest) {
        let short = plane.width.min(plane.height) as f32;
        let (least, most) = if level == finest { FINEST_RADII } else { COARSE_RADII };
        let most = if level + 1 == pyramid.levels().len() { 0.5 * short } else { most.min(0.5 * short) };
        if most <= least {
            continue;
        }
        for mut c in vote(plane, (least, most)) {
            c.x = to_base(c.x, level);
            c.y = to_base(c.y, level);
            c.radius *= (1 << level) as f32;
            all.push(c);
        }
    }
    all
}

/// Sobel gradient of the channel that changes most, for each inner pixel.
fn gradients(plane: &Plane) -> Vec<(f32, f32)> {
    let mut out = vec![(0.0, 0.0); plane.width * plane.height];
    for y in 1..plane.height.saturating_sub(1) {
        let [above, here, below] = [y - 1, y, y + 1].map(|y| plane.row(y));
        let line = &mut out[y * plane.width..][..plane.width];
        for x in 1..plane.width - 1 {
            let mut best = (0.0f32, 0.0f32, -1.0f32);
            for c in 0..3 {
                let left = above[x - 1][c] + 2.0 * here[x - 1][c] + below[x - 1][c];
                let right = above[x + 1][c] + 2.0 * here[x + 1][c] + below[x + 1][c];
                let top = above[x - 1][c] + 2.0 * above[x][c] + above[x + 1][c];
                let bottom = below[x - 1][c] + 2.0 * below[x][c] + below[x + 1][c];
                let (gx, gy) = ((right - left) * 0.125, (bottom - top) * 0.125);
                let square = gx * gx + gy * gy;
                if square > best.2 {
                    best = (gx, gy, square);
                }
            }
            line[x] = (best.0, best.1);
        }
    }
    out
}

/// Pixels steeper than their neighbours along the gradient.
fn edges(plane: &Plane) -> Vec<EdgePixel> {
    let (w, h) = (plane.width, plane.height);
    if w < 5 || h < 5 {
        return Vec::new();
    }
    let gradient = gradients(plane);
    let square = |i: usize| gradient[i].0 * gradient[i].0 + gradient[i].1 * gradient[i].1;
    let mut out = Vec::new();
    for y in 2..h - 2 {
        for x in 2..w - 2 {
            let i = y * w + x;
            let s = square(i);
            if s < FAINTEST * FAINTEST {
                continue;
            }
            let (gx, gy) = gradient[i];
            let step = if gx.abs() > 2.4 * gy.abs() {
                1
            } else if gy.abs() > 2.4 * gx.abs() {
                w
            } else if gx * gy > 0.0 {
                w + 1
            } else {
                w - 1
            };
            if s < square(i - step) || s <= square(i + step) {
                continue;
            }
            let steep = s.sqrt();
            out.push(EdgePixel { x: x as f32, y: y as f32, ux: gx / steep, uy: gy / steep, weight: steep });
        }
    }
    thin_out(&mut out, (EDGE_SHARE * (w * h) as f32) as usize);
    for e in &mut out {
        e.weight = (e.weight / FULL_WEIGHT).min(1.0).sqrt();
    }
    out
}

/// Keeps the steepest `most` edges; `weight` still holds the steepness.
fn thin_out(edges: &mut Vec<EdgePixel>, most: usize) {
    if edges.len() > most {
        edges.select_nth_unstable_by(most, |a, b| b.weight.total_cmp(&a.weight));
        edges.truncate(most);
    }
}

/// The radii looked for on one level: a geometric series.
#[derive(Clone, Copy)]
struct Radii {
    least: f32,
    count: usize,
}

impl Radii {
    fn at(self, k: usize) -> f32 {
        self.least * RADIUS_RATIO.powi(k as i32)
    }
}

/// A level of fewer pixels is voted on sooner than a thread is started.
const SMALL: usize = 20_000;

/// Votes for one radius in each pixel, as cast and as gathered over three by three pixels.
#[derive(Clone)]
struct Slab {
    votes: Vec<f32>,
    sums: Vec<f32>,
}

/// Votes on one level for radii in the range; circles in pixels of that level, best first.
fn vote(plane: &Plane, (least, most): (f32, f32)) -> Vec<Candidate> {
    let (w, h) = (plane.width, plane.height);
    let edges = edges(plane);
    let count = ((most / least).ln() / RADIUS_RATIO.ln()).ceil() as usize + 1;
    let radii = Radii { least, count };
    let part = |run: &Range<usize>| tally(&edges, (w, h), radii, run.clone());
    let mut found = if w * h < SMALL { part(&(0..count)) } else { share::map(&share::runs(count), part).concat() };
    found.sort_by(|a, b| b.share.total_cmp(&a.share));
    let mut places = [PER_OCTAVE; 2];
    found.retain(|c| {
        let left = &mut places[usize::from(c.radius >= COARSE_RADII.0)];
        let stays = *left > 0;
        *left = left.saturating_sub(1);
        stays
    });
    found
}

/// The circles of a run of the radii.
fn tally(edges: &[EdgePixel], (w, h): (usize, usize), radii: Radii, run: Range<usize>) -> Vec<Candidate> {
    let empty = Slab { votes: vec![0.0; w * h], sums: vec![0.0; w * h] };
    // Only three neighbouring radii are needed at a time; all of them would not fit a processor's cache.
    let [mut below, mut here, mut above] = [empty.clone(), empty.clone(), empty];
    let mut scratch = vec![0.0f32; w * h];
    let mut found = Vec::new();
    for k in run.start.saturating_sub(1)..=run.end {
        if k < radii.count {
            cast(edges, radii.at(k), (w, h), &mut above.votes);
            gather(&above.votes, w, &mut scratch, &mut above.sums);
        } else {
            above.sums.fill(0.0);
        }
        if k > run.start {
            peaks(&below, &here, &above, (w, h), radii.at(k - 1), &mut found);
        }
        (below, here, above) = (here, above, below);
    }
    found
}

/// Every edge votes on both its sides at this radius.
fn cast(edges: &[EdgePixel], radius: f32, (w, h): (usize, usize), votes: &mut [f32]) {
    votes.fill(0.0);
    for e in edges {
        for side in [-radius, radius] {
            let (x, y) = (e.x + 0.5 + side * e.ux, e.y + 0.5 + side * e.uy);
            if x >= 0.0 && y >= 0.0 {
                let (cx, cy) = (x as usize, y as usize);
                if cx < w && cy < h {
                    votes[cy * w + cx] += e.weight;
                }
            }
        }
    }
}

/// Adds the local maxima among the sums of one radius, which also exceed those of its neighbours.
fn peaks(below: &Slab, here: &Slab, above: &Slab, (w, h): (usize, usize), radius: f32, found: &mut Vec<Candidate>) {
    let full = PIXELS_PER_RADIUS * radius;
    let floor = LEAST_SHARE * full;
    // Row by row, for a division of every place by the width would take as long as all the rest of the voting.
    for (y, row) in here.sums.chunks_exact(w).enumerate().take(h - 1).skip(1) {
        for (x, &sum) in row.iter().enumerate().take(w - 1).skip(1) {
            let i = y * w + x;
            if sum < floor || sum < below.sums[i] || sum < above.sums[i] {
                continue;
            }
            let around = [i - w - 1, i - w, i - w + 1, i - 1, i + 1, i + w - 1, i + w, i + w + 1];
            if around.iter().all(|&j| here.sums[j] <= sum) {
                let (dx, dy) = offset(&here.votes, x, y, w);
                found.push(Candidate { x: x as f32 + dx, y: y as f32 + dy, radius, share: sum / full });
            }
        }
    }
}

/// Sums over three by three pixels around each inner pixel; 0 at the border.
fn gather(votes: &[f32], w: usize, across: &mut [f32], sums: &mut [f32]) {
    for (out, row) in across.chunks_exact_mut(w).zip(votes.chunks_exact(w)) {
        for (sum, three) in out.iter_mut().skip(1).zip(row.windows(3)) {
            *sum = three[0] + three[1] + three[2];
        }
    }
    let (middle, lower) = (across.get(w..).unwrap_or(&[]), across.get(2 * w..).unwrap_or(&[]));
    for (((sum, a), b), c) in sums.iter_mut().skip(w).zip(&*across).zip(middle).zip(lower) {
        *sum = a + b + c;
    }
}

/// Centre of gravity of the three by three cells, from the middle one, in cells.
fn offset(cells: &[f32], cx: usize, cy: usize, w: usize) -> (f32, f32) {
    let (mut sx, mut sy, mut total) = (0.0, 0.0, 0.0);
    for (j, dy) in [-1.0f32, 0.0, 1.0].into_iter().enumerate() {
        for (i, dx) in [-1.0f32, 0.0, 1.0].into_iter().enumerate() {
            let v = cells[(cy + j - 1) * w + cx + i - 1];
            sx += v * dx;
            sy += v * dy;
            total += v;
        }
    }
    if total > 0.0 { (sx / total, sy / total) } else { (0.0, 0.0) }
}
