//! Circle voting: every edge pixel votes for the centres that lie along its gradient, one per radius and side.

use super::pyramid::{Plane, Pyramid, to_base};

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

/// Longest side, pixels, of the finest level that votes: finer ones cost time and only add the edges of grain.
const LONGEST: usize = 800;
/// Radii looked for on the finest level, its pixels: the least that still gives sixteen edge pixels, up to where the next level begins.
const FINEST_RADII: (f32, f32) = (6.0, 34.0);
/// Radii looked for on each coarser level, its pixels; ranges of neighbouring levels meet.
const COARSE_RADII: (f32, f32) = (16.0, 34.0);
/// A step of one 8-bit level over two pixels: below this all is noise.
const FAINTEST: f32 = 0.004;
/// An edge this steep counts in full; weaker ones count less, as there are many.
const FULL_WEIGHT: f32 = 0.03;
/// At most this share of the pixels may be edges: a busy pattern keeps its strongest.
const EDGE_SHARE: f32 = 0.08;
/// Pixels on a drawn circle per radius, 4 * sqrt(2).
const PIXELS_PER_RADIUS: f32 = 5.657;
/// Least share of the circumference that makes a candidate.
const LEAST_SHARE: f32 = 0.22;
/// Most candidates kept of one level, so that a dotted cloth does not cost seconds.
const PER_LEVEL: usize = 48;

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
        for mut c in vote(plane, least, most) {
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
        let (above, here, below) = (plane.row(y - 1), plane.row(y), plane.row(y + 1));
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

/// Votes on one level; circles in pixels of that level.
fn vote(plane: &Plane, least: f32, most: f32) -> Vec<Candidate> {
    let edges = edges(plane);
    // Cells of two by two pixels: a gradient's direction is good to about five degrees, two pixels at a radius of twenty.
    let (cw, ch) = (plane.width / 2 + 1, plane.height / 2 + 1);
    let ratio = 1.06f32;
    let count = ((most / least).ln() / ratio.ln()).ceil() as usize + 1;
    let radii: Vec<f32> = (0..count).map(|k| least * ratio.powi(k as i32)).collect();
    let mut cells = vec![0.0f32; count * cw * ch];
    for e in &edges {
        for (k, &r) in radii.iter().enumerate() {
            for side in [-1.0, 1.0] {
                let (x, y) = (e.x + side * r * e.ux, e.y + side * r * e.uy);
                if x >= 0.0 && y >= 0.0 {
                    let (cx, cy) = (x as usize / 2, y as usize / 2);
                    if cx < cw && cy < ch {
                        cells[(k * ch + cy) * cw + cx] += e.weight;
                    }
                }
            }
        }
    }
    peaks(&cells, cw, ch, &radii)
}

/// Local maxima of the votes gathered over three by three cells.
fn peaks(cells: &[f32], cw: usize, ch: usize, radii: &[f32]) -> Vec<Candidate> {
    let sums: Vec<Vec<f32>> = radii.iter().enumerate().map(|(k, _)| gathered(&cells[k * cw * ch..][..cw * ch], cw, ch)).collect();
    let mut found = Vec::new();
    for (k, &radius) in radii.iter().enumerate() {
        let full = PIXELS_PER_RADIUS * radius;
        let floor = LEAST_SHARE * full;
        for cy in 1..ch.saturating_sub(1) {
            for cx in 1..cw - 1 {
                let here = sums[k][cy * cw + cx];
                if here < floor || !is_peak(&sums, k, cx, cy, cw, here) {
                    continue;
                }
                let (dx, dy) = offset(&cells[k * cw * ch..][..cw * ch], cx, cy, cw);
                found.push(Candidate { x: 2.0 * (cx as f32 + dx) + 0.5, y: 2.0 * (cy as f32 + dy) + 0.5, radius, share: here / full });
            }
        }
    }
    found.sort_by(|a, b| b.share.total_cmp(&a.share));
    found.truncate(PER_LEVEL);
    found
}

/// Sum over three by three cells around each inner cell.
fn gathered(cells: &[f32], cw: usize, ch: usize) -> Vec<f32> {
    let mut across = vec![0.0f32; cw * ch];
    for cy in 0..ch {
        for cx in 1..cw.saturating_sub(1) {
            let i = cy * cw + cx;
            across[i] = cells[i - 1] + cells[i] + cells[i + 1];
        }
    }
    let mut out = vec![0.0f32; cw * ch];
    for cy in 1..ch.saturating_sub(1) {
        for cx in 0..cw {
            let i = cy * cw + cx;
            out[i] = across[i - cw] + across[i] + across[i + cw];
        }
    }
    out
}

/// No neighbour in place has more, and no neighbouring radius at the same place.
fn is_peak(sums: &[Vec<f32>], k: usize, cx: usize, cy: usize, cw: usize, here: f32) -> bool {
    let i = cy * cw + cx;
    let around = [i - cw - 1, i - cw, i - cw + 1, i - 1, i + 1, i + cw - 1, i + cw, i + cw + 1];
    around.iter().all(|&j| sums[k][j] <= here) && (k == 0 || sums[k - 1][i] <= here) && (k + 1 >= sums.len() || sums[k + 1][i] <= here)
}

/// Centre of gravity of the three by three cells, from the middle one, in cells.
fn offset(cells: &[f32], cx: usize, cy: usize, cw: usize) -> (f32, f32) {
    let (mut sx, mut sy, mut total) = (0.0, 0.0, 0.0);
    for (j, dy) in [-1.0f32, 0.0, 1.0].into_iter().enumerate() {
        for (i, dx) in [-1.0f32, 0.0, 1.0].into_iter().enumerate() {
            let v = cells[(cy + j - 1) * cw + cx + i - 1];
            sx += v * dx;
            sy += v * dy;
            total += v;
        }
    }
    if total > 0.0 { (sx / total, sy / total) } else { (0.0, 0.0) }
}
