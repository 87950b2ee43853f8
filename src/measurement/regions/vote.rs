//! Circle voting: every edge pixel votes for the centres that lie along its gradient, one per radius and side.

use super::pyramid::{Plane, Pyramid, to_base};
use crate::measurement::share;
use multiversion::multiversion;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};

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
    candidates_unless(&AtomicBool::new(false), pyramid)
}

/// The same; only some of them once they are moot.
pub(super) fn candidates_unless(is_moot: &AtomicBool, pyramid: &Pyramid) -> Vec<Candidate> {
    let mut all = Vec::new();
    let finest = pyramid.level_within(LONGEST);
    for (level, plane) in pyramid.levels().iter().enumerate().skip(finest) {
        let short = plane.width.min(plane.height) as f32;
        let (least, most) = if level == finest { FINEST_RADII } else { COARSE_RADII };
        let most = if level + 1 == pyramid.levels().len() { 0.5 * short } else { most.min(0.5 * short) };
        if most <= least {
            continue;
        }
        for mut c in vote(is_moot, plane, (least, most)) {
            c.x = to_base(c.x, level);
            c.y = to_base(c.y, level);
            c.radius *= (1 << level) as f32;
            all.push(c);
        }
    }
    all
}

/// Sobel gradient of the channel that changes most, for each inner pixel.
#[multiversion(targets("x86_64+avx2"))]
fn gradients(plane: &Plane) -> Vec<(f32, f32)> {
    let mut out = vec![(0.0, 0.0); plane.width * plane.height];
    let inner = 3 * plane.width.saturating_sub(2);
    let (mut across, mut down) = (vec![0.0f32; inner], vec![0.0f32; inner]);
    for y in 1..plane.height.saturating_sub(1) {
        let [above, here, below] = [y - 1, y, y + 1].map(|y| plane.row(y));
        let [above, here, below] = [&above, &here, &below].map(|row| row.as_flattened());
        let (before, behind) = (0..above.len() - 6, 6..above.len());
        let [a, b, c] = [above, here, below].map(|row| (&row[before.clone()], &row[3..row.len() - 3], &row[behind.clone()]));
        // All channels side by side, so that many are worked out at once.
        for (i, (across, down)) in across.iter_mut().zip(&mut down).enumerate() {
            let left = a.0[i] + 2.0 * b.0[i] + c.0[i];
            let right = a.2[i] + 2.0 * b.2[i] + c.2[i];
            let top = a.0[i] + 2.0 * a.1[i] + a.2[i];
            let bottom = c.0[i] + 2.0 * c.1[i] + c.2[i];
            (*across, *down) = ((right - left) * 0.125, (bottom - top) * 0.125);
        }
        let line = &mut out[y * plane.width + 1..][..plane.width - 2];
        for ((out, across), down) in line.iter_mut().zip(across.as_chunks::<3>().0).zip(down.as_chunks::<3>().0) {
            let square = |c: usize| across[c] * across[c] + down[c] * down[c];
            let most = if square(1) > square(0) { 1 } else { 0 };
            let most = if square(2) > square(most) { 2 } else { most };
            *out = (across[most], down[most]);
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
    // Which of these holds cannot be foreseen, so that a table is quicker than branches: steepest across, down, or between right and down.
    let along = [w - 1, 1, w, 1, w + 1, 1, w, 1];
    for y in 2..h - 2 {
        for x in 2..w - 2 {
            let i = y * w + x;
            let (gx, gy) = gradient[i];
            let kind = [gx.abs() > 2.4 * gy.abs(), gy.abs() > 2.4 * gx.abs(), gx * gy > 0.0];
            let step = along[usize::from(kind[0]) | usize::from(kind[1]) << 1 | usize::from(kind[2]) << 2];
            let s = square(i);
            if (s >= FAINTEST * FAINTEST) & (s >= square(i - step)) & (s > square(i + step)) {
                let steep = s.sqrt();
                out.push(EdgePixel { x: x as f32, y: y as f32, ux: gx / steep, uy: gy / steep, weight: steep });
            }
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
fn vote(is_moot: &AtomicBool, plane: &Plane, (least, most): (f32, f32)) -> Vec<Candidate> {
    let (w, h) = (plane.width, plane.height);
    let edges = edges(plane);
    let count = ((most / least).ln() / RADIUS_RATIO.ln()).ceil() as usize + 1;
    let radii = Radii { least, count };
    let part = |run: &Range<usize>| tally(is_moot, &edges, (w, h), radii, run.clone());
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
#[multiversion(targets("x86_64+avx2"))]
fn tally(is_moot: &AtomicBool, edges: &[EdgePixel], (w, h): (usize, usize), radii: Radii, run: Range<usize>) -> Vec<Candidate> {
    let rays = Rays::of(edges);
    let empty = Slab { votes: vec![0.0; w * h], sums: vec![0.0; w * h] };
    // Only three neighbouring radii are needed at a time; all of them would not fit a processor's cache.
    let [mut below, mut here, mut above] = [empty.clone(), empty.clone(), empty];
    let mut scratch = vec![0.0f32; w * h];
    let mut found = Vec::new();
    for k in run.start.saturating_sub(1)..=run.end {
        if is_moot.load(Ordering::Relaxed) {
            break;
        }
        if k < radii.count {
            cast(&rays, radii.at(k), (w, h), &mut above.votes);
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

/// Edges by property and not by edge, so that many are worked out at once; those that are missing in the last run lie outside.
struct Rays {
    /// Middle of the pixel, from the picture's corner.
    x: Vec<f32>,
    y: Vec<f32>,
    ux: Vec<f32>,
    uy: Vec<f32>,
    weight: Vec<f32>,
}

impl Rays {
    fn of(edges: &[EdgePixel]) -> Self {
        let missing = edges.len().next_multiple_of(RUN) - edges.len();
        let all = |property: fn(&EdgePixel) -> f32| -> Vec<f32> {
            edges.iter().map(property).chain(std::iter::repeat_n(f32::NEG_INFINITY, missing)).collect()
        };
        Rays { x: all(|e| e.x + 0.5), y: all(|e| e.y + 0.5), ux: all(|e| e.ux), uy: all(|e| e.uy), weight: all(|e| e.weight) }
    }
}

/// Every edge votes on both its sides at this radius.
#[inline(always)]
fn cast(rays: &Rays, radius: f32, (w, h): (usize, usize), votes: &mut [f32]) {
    votes.fill(0.0);
    let [xs, ys, uxs, uys, weights] = [&rays.x, &rays.y, &rays.ux, &rays.uy, &rays.weight].map(|all| all.as_chunks::<RUN>().0);
    for ((((xs, ys), uxs), uys), weights) in xs.iter().zip(ys).zip(uxs).zip(uys).zip(weights) {
        let before = places((xs, ys), (uxs, uys), -radius, (w, h));
        let behind = places((xs, ys), (uxs, uys), radius, (w, h));
        for ((weight, before), behind) in weights.iter().zip(before).zip(behind) {
            for place in [before, behind] {
                if let Some(votes) = votes.get_mut(place as usize) {
                    *votes += weight;
                }
            }
        }
    }
}

/// Where edges vote on one side, row by row; beyond all places where that is outside.
#[inline(always)]
fn places((xs, ys): (&Run, &Run), (uxs, uys): (&Run, &Run), side: f32, (w, h): (usize, usize)) -> [u32; RUN] {
    let (wide, high) = (w as f32, h as f32);
    let mut places = [u32::MAX; RUN];
    for (i, out) in places.iter_mut().enumerate() {
        let (x, y) = (xs[i] + side * uxs[i], ys[i] + side * uys[i]);
        let is_inside = (x >= 0.0) & (y >= 0.0) & (x < wide) & (y < high);
        let place = (y as i32).wrapping_mul(w as i32).wrapping_add(x as i32);
        *out = if is_inside { place.cast_unsigned() } else { u32::MAX };
    }
    places
}

/// Places of a row, or edges, that are looked at together.
const RUN: usize = 32;
type Run = [f32; RUN];

/// Adds the local maxima among the sums of one radius, which also exceed those of its neighbours.
#[inline(always)]
fn peaks(below: &Slab, here: &Slab, above: &Slab, (w, h): (usize, usize), radius: f32, found: &mut Vec<Candidate>) {
    let full = PIXELS_PER_RADIUS * radius;
    let floor = LEAST_SHARE * full;
    // Row by row, for a division of every place by the width would take as long as all the rest of the voting.
    for (y, row) in here.sums.chunks_exact(w).enumerate().take(h - 1).skip(1) {
        for (run, places) in row.chunks(RUN).enumerate() {
            // No branch for each place, so that many are compared at once; in few runs is any high enough.
            if !places.iter().fold(false, |any, &sum| any | (sum >= floor)) {
                continue;
            }
            for (x, &sum) in (run * RUN..).zip(places).filter(|(x, _)| (1..w - 1).contains(x)) {
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
}

/// Sums over three by three pixels around each inner pixel; 0 at the border.
#[inline(always)]
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

#[cfg(test)]
mod tests {
    use super::super::drawing::{Canvas, PURPLE, SLATE, WHITE};
    use super::*;
    use crate::measurement::frame::Reduced;
    use approx::assert_abs_diff_eq;

    /// Gradients of a picture with these levels, a pixel in from its border.
    fn slopes(level: impl Fn(usize, usize) -> [u8; 3]) -> Vec<(f32, f32)> {
        let (width, height) = (9, 7);
        let rgb = (0..width * height).flat_map(|i| level(i % width, i / width)).collect();
        let small = Reduced { width, height, factor: 1.0, rgb };
        let pyramid = Pyramid::new(&small);
        let all = gradients(&pyramid.levels()[0]);
        let is_inside = |i: &usize| (1..width - 1).contains(&(i % width)) && (1..height - 1).contains(&(i / width));
        assert!((0..all.len()).filter(|i| !is_inside(i)).all(|i| all[i] == (0.0, 0.0)));
        (0..all.len()).filter(is_inside).map(|i| all[i]).collect()
    }

    // On a plane of levels a gradient is its slope, whatever the smoothing across it: 5 levels a pixel to the right, 7 down.
    #[test]
    fn a_gradient_is_the_slope_of_the_channel_that_changes_most() {
        for channel in 0..3 {
            let level = |x: usize, y: usize| {
                let mut rgb = [180 + 2 * x as u8 + y as u8, 250 - 3 * y as u8, 210];
                rgb[channel] = 110 + 5 * x as u8 + 7 * y as u8;
                rgb
            };
            for (across, down) in slopes(level) {
                assert_abs_diff_eq!(across, 5.0 / 255.0, epsilon = 1e-6);
                assert_abs_diff_eq!(down, 7.0 / 255.0, epsilon = 1e-6);
            }
        }
    }

    /// Edges of a dark half plane whose border goes through (75, 75) at this angle.
    fn border(degrees: f64) -> (Vec<EdgePixel>, (f32, f32)) {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let mut canvas = Canvas::new(150, 150, WHITE);
        canvas.sheet((75.0 - 500.0 * cos, 75.0 - 500.0 * sin), (1000.0, 1000.0), degrees, SLATE);
        let small = canvas.frame().reduced(400);
        (edges(&Pyramid::new(&small).levels()[0]), (cos as f32, sin as f32))
    }

    #[test]
    fn an_edge_is_one_pixel_wide_and_points_uphill() {
        for degrees in [0.0, 20.0, 45.0, 70.0, 90.0, 135.0, 160.0, 200.0, 290.0] {
            let (seen, (ux, uy)) = border(degrees);
            // The border crosses 146 rows or columns, whichever are more; a pixel in two of them at most.
            assert!((130..300).contains(&seen.len()), "{degrees}: {}", seen.len());
            for e in seen {
                let off = (e.x - 75.0) * ux + (e.y - 75.0) * uy;
                assert!(off.abs() < 1.1 && e.ux * ux + e.uy * uy > 0.98, "{degrees}: {off} {} {}", e.ux, e.uy);
                assert_abs_diff_eq!(e.weight, 1.0, epsilon = 1e-6);
            }
        }
    }

    #[test]
    fn faint_edges_count_by_the_root_of_their_steepness() {
        // A ramp of two levels and back: 2 / 255 a pixel, against the full weight of 0.03.
        let mut canvas = Canvas::new(60, 60, [200, 200, 200]);
        canvas.sheet((30.0, 30.0), (20.0, 200.0), 0.0, [204, 204, 204]);
        let small = canvas.frame().reduced(400);
        let seen = edges(&Pyramid::new(&small).levels()[0]);
        assert!(!seen.is_empty());
        let wanted = (2.0 / 255.0 / FULL_WEIGHT).sqrt();
        assert!(seen.iter().all(|e| (e.weight - wanted).abs() < 0.01), "{}", seen[0].weight);
    }

    #[test]
    fn only_the_steepest_edges_of_a_busy_picture_stay() {
        let edge = |weight: f32| EdgePixel { x: 0.0, y: 0.0, ux: 1.0, uy: 0.0, weight };
        let mut all: Vec<EdgePixel> = [0.3, 0.1, 0.5, 0.2, 0.4].map(edge).into();
        thin_out(&mut all, 2);
        let mut left: Vec<f32> = all.iter().map(|e| e.weight).collect();
        left.sort_by(f32::total_cmp);
        assert_eq!(left, [0.4, 0.5]);
    }

    #[test]
    fn a_disc_is_voted_for_at_its_centre_with_its_radius() {
        for (x, y, radius) in [(60.0, 50.0, 12.0), (100.3, 81.6, 30.0), (90.0, 75.0, 58.0)] {
            let mut canvas = Canvas::new(200, 150, WHITE);
            canvas.disc(x, y, radius, PURPLE);
            let small = canvas.frame().reduced(400);
            let all = candidates(&Pyramid::new(&small));
            let best = all.iter().max_by(|a, b| a.share.total_cmp(&b.share)).unwrap();
            let (x, y, radius) = (x as f32, y as f32, radius as f32);
            assert!((best.x - x).hypot(best.y - y) < (0.05 * radius).max(0.7), "{best:?}");
            // Radii looked for are six per cent apart, and votes are gathered over three pixels.
            assert!((best.radius - radius).abs() < 1.5f32.max(0.06 * radius), "{best:?} of {radius}");
            assert!((0.7..1.5).contains(&best.share), "{best:?}");
        }
    }

    // By hand: 3 at the right, 1 below, of 8 in all.
    #[test]
    fn an_offset_is_the_centre_of_gravity() {
        let cells = [0.0, 0.0, 0.0, 0.0, 4.0, 3.0, 0.0, 1.0, 0.0];
        assert_eq!(offset(&cells, 1, 1, 3), (0.375, 0.125));
        assert_eq!(offset(&[0.0; 9], 1, 1, 3), (0.0, 0.0));
    }

    #[test]
    fn sums_are_of_three_by_three() {
        let votes: Vec<f32> = (0..20).map(|i| (i * i) as f32).collect();
        let (mut across, mut sums) = (vec![0.0; 20], vec![0.0; 20]);
        gather(&votes, 5, &mut across, &mut sums);
        for (x, y) in (1..3).flat_map(|y| (1..4).map(move |x| (x, y))) {
            let wanted: f32 = (y - 1..=y + 1).flat_map(|v| (x - 1..=x + 1).map(move |u| 5 * v + u)).map(|i| votes[i]).sum();
            assert_abs_diff_eq!(sums[5 * y + x], wanted);
        }
    }

    // By hand: five pixels along (0.6, 0.8) from the middle of (10, 8) is (13, 12), and against it (7, 4).
    #[test]
    fn an_edge_votes_on_both_its_sides() {
        let edge = |x: f32, y: f32, weight: f32| EdgePixel { x, y, ux: 0.6, uy: 0.8, weight };
        let mut votes = vec![9.0; 20 * 16];
        let edges = [edge(10.0, 8.0, 0.7), edge(10.0, 8.0, 0.2), edge(2.0, 3.0, 0.4), edge(17.0, 13.0, 0.5)];
        cast(&Rays::of(&edges), 5.0, (20, 16), &mut votes);
        let cast_at: Vec<(usize, usize, f32)> =
            (0..20 * 16).filter(|i| votes[*i] > 0.0).map(|i| (i % 20, i / 20, (votes[i] * 10.0).round())).collect();
        // Of the two near a corner each keeps the vote that lies inside.
        assert_eq!(cast_at, [(7, 4, 9.0), (5, 7, 4.0), (14, 9, 5.0), (13, 12, 9.0)]);
    }

    /// A slab of 9 by 7 with these sums at (x, y), and single votes below a peak.
    fn slab(sums: &[(usize, usize, f32)]) -> Slab {
        let mut all = Slab { votes: vec![0.0; 63], sums: vec![0.0; 63] };
        sums.iter().for_each(|&(x, y, sum)| all.sums[9 * y + x] = sum);
        all
    }

    // A circle of radius 10 has 56.57 pixels, of which 0.22 are 12.4.
    #[test]
    fn a_peak_exceeds_its_neighbours_in_place_and_radius() {
        let seen = |below: &[(usize, usize, f32)], here: &Slab, above: &[(usize, usize, f32)]| {
            let mut found = Vec::new();
            peaks(&slab(below), here, &slab(above), (9, 7), 10.0, &mut found);
            found.iter().map(|c: &Candidate| (c.x, c.y, (100.0 * c.share).round())).collect::<Vec<_>>()
        };
        assert_eq!(seen(&[], &slab(&[(3, 2, 40.0), (6, 5, 20.0), (7, 1, 12.3)]), &[]), [(3.0, 2.0, 71.0), (6.0, 5.0, 35.0)]);
        assert_eq!(seen(&[(3, 2, 39.0)], &slab(&[(3, 2, 40.0)]), &[(3, 2, 38.0)]).len(), 1);
        assert!(
            seen(&[(3, 2, 41.0)], &slab(&[(3, 2, 40.0)]), &[]).is_empty() && seen(&[], &slab(&[(3, 2, 40.0)]), &[(3, 2, 41.0)]).is_empty()
        );
        for (dx, dy) in [(0, 0), (1, 0), (2, 0), (0, 1), (2, 1), (0, 2), (1, 2), (2, 2)] {
            let neighbour = (3 + dx - 1, 3 + dy - 1);
            assert_eq!(seen(&[], &slab(&[(3, 3, 40.0), (neighbour.0, neighbour.1, 41.0)]), &[]).len(), 1, "{neighbour:?}");
        }
        // The border's sums are none.
        assert!(seen(&[], &slab(&[(0, 3, 40.0), (8, 3, 40.0), (4, 0, 40.0), (4, 6, 40.0)]), &[]).is_empty());
        let mut aside = slab(&[(4, 3, 40.0)]);
        (aside.votes[9 * 3 + 4], aside.votes[9 * 3 + 5]) = (3.0, 1.0);
        assert_eq!(seen(&[], &aside, &[]), [(4.25, 3.0, 71.0)]);
    }

    #[test]
    fn radii_are_six_per_cent_apart() {
        let radii = Radii { least: 4.5, count: 30 };
        assert_abs_diff_eq!(radii.at(0), 4.5);
        assert_abs_diff_eq!(radii.at(2), 4.5 * 1.1236, epsilon = 1e-4);
    }
}
