//! Even patches of the picture and their four-cornered outline.

use super::pyramid::{Colour, Plane};
use multiversion::multiversion;

/// An even patch with a quadrilateral outline, in pixels of the plane it was seen on.
#[derive(Debug, Clone)]
pub(super) struct Patch {
    /// Corners in order around it.
    pub(super) corners: [(f32, f32); 4],
    /// Area of the quadrilateral over that of the convex hull: 1 for a true quadrilateral, 0.64 for a disc.
    pub(super) squareness: f32,
    /// Even pixels over the area of the hull.
    pub(super) solidity: f32,
    /// Mean encoded colour.
    pub(super) colour: Colour,
}

impl Patch {
    /// Lengths of the four sides.
    pub(super) fn sides(&self) -> [f32; 4] {
        [0, 1, 2, 3].map(|i| {
            let (a, b) = (self.corners[i], self.corners[(i + 1) % 4]);
            (a.0 - b.0).hypot(a.1 - b.1)
        })
    }

    /// Where the diagonals cross, or the mean of the corners.
    pub(super) fn centre(&self) -> (f32, f32) {
        let [a, b, c, d] = self.corners;
        let (ux, uy, vx, vy) = (c.0 - a.0, c.1 - a.1, d.0 - b.0, d.1 - b.1);
        let cross = ux * vy - uy * vx;
        if cross.abs() < 1e-6 {
            return ((a.0 + b.0 + c.0 + d.0) / 4.0, (a.1 + b.1 + c.1 + d.1) / 4.0);
        }
        let t = ((b.0 - a.0) * vy - (b.1 - a.1) * vx) / cross;
        (a.0 + t * ux, a.1 + t * uy)
    }

    /// True when the point lies inside the quadrilateral.
    pub(super) fn contains(&self, x: f32, y: f32) -> bool {
        let side = |i: usize| {
            let (a, b) = (self.corners[i], self.corners[(i + 1) % 4]);
            (b.0 - a.0) * (y - a.1) - (b.1 - a.1) * (x - a.0)
        };
        (0..4).all(|i| side(i) >= 0.0) || (0..4).all(|i| side(i) <= 0.0)
    }
}

/// Even patches whose step from pixel to pixel stays below `roughness` and whose area, as a share of the picture, lies in `share`.
pub(super) fn even_patches(plane: &Plane, roughness: f32, share: (f32, f32)) -> Vec<Patch> {
    let (w, h) = (plane.width, plane.height);
    let all = (w * h) as f32;
    let mut label = even_mask(plane, roughness);
    let mut out = Vec::new();
    let mut members = Vec::new();
    for start in 0..w * h {
        if !label[start] {
            continue;
        }
        flood(plane, &mut label, start, roughness, &mut members);
        let count = members.len() as f32;
        if count < share.0 * all || count > share.1 * all {
            continue;
        }
        if let Some(patch) = outline_of(plane, &members) {
            out.push(patch);
        }
    }
    out
}

/// Pixels around which nothing changes by more than `roughness` per pixel.
#[multiversion(targets("x86_64+avx2"))]
fn even_mask(plane: &Plane, roughness: f32) -> Vec<bool> {
    let (w, h) = (plane.width, plane.height);
    let mut mask = vec![false; w * h];
    let inner = w.saturating_sub(2);
    // Of each channel, squared and over two pixels.
    let mut slopes = vec![[0.0f32; 3]; inner];
    for y in 1..h.saturating_sub(1) {
        let [above, here, below] = [y - 1, y, y + 1].map(|y| plane.row(y));
        let (above, here, below) = (above.as_flattened(), here.as_flattened(), below.as_flattened());
        // All channels side by side and without a branch: which of them is steep cannot be foreseen.
        for (i, slope) in slopes.as_flattened_mut().iter_mut().enumerate() {
            let (across, down) = (here[i + 6] - here[i], below[i + 3] - above[i + 3]);
            *slope = across * across + down * down;
        }
        for (even, [red, green, blue]) in mask[y * w + 1..][..inner].iter_mut().zip(&slopes) {
            *even = red.max(*green).max(*blue) <= 4.0 * roughness * roughness;
        }
    }
    mask
}

/// Takes the connected even pixels from `start` out of the mask.
fn flood(plane: &Plane, mask: &mut [bool], start: usize, roughness: f32, members: &mut Vec<usize>) {
    let w = plane.width;
    members.clear();
    members.push(start);
    mask[start] = false;
    let mut next = 0;
    while next < members.len() {
        let i = members[next];
        next += 1;
        let here = plane.pixel(i);
        for j in [i - 1, i + 1, i - w, i + w] {
            if mask[j] {
                let there = plane.pixel(j);
                let off = [0, 1, 2].map(|c| (here[c] - there[c]).abs());
                if off[0].max(off[1]).max(off[2]) < 2.0 * roughness {
                    mask[j] = false;
                    members.push(j);
                }
            }
        }
    }
}

/// Hull and quadrilateral of a set of pixels; `None` when it touches the picture's edge or is no quadrilateral.
fn outline_of(plane: &Plane, members: &[usize]) -> Option<Patch> {
    let (w, h) = (plane.width, plane.height);
    let mut spans = vec![(usize::MAX, 0usize); h];
    let mut sum = [0.0f64; 3];
    for &i in members {
        let (x, y) = (i % w, i / w);
        spans[y] = (spans[y].0.min(x), spans[y].1.max(x));
        let p = plane.pixel(i);
        for c in 0..3 {
            sum[c] += f64::from(p[c]);
        }
    }
    let mut points = Vec::new();
    for (y, &(left, right)) in spans.iter().enumerate().filter(|(_, s)| s.0 != usize::MAX) {
        if left <= 1 || right + 2 >= w || y <= 1 || y + 2 >= h {
            return None;
        }
        // The corners of the pixels: a hull through their centres would lose half a pixel on each side.
        let (l, r, t, b) = (left as f32 - 0.5, right as f32 + 0.5, y as f32 - 0.5, y as f32 + 0.5);
        points.extend([(l, t), (l, b), (r, t), (r, b)]);
    }
    let hull = convex_hull(points);
    let hull_area = area(&hull);
    let corners = greatest_quadrilateral(&hull)?;
    let n = members.len() as f64;
    Some(Patch {
        corners,
        squareness: area(&corners) / hull_area,
        solidity: members.len() as f32 / hull_area,
        colour: sum.map(|s| (s / n) as f32),
    })
}

fn turn(a: (f32, f32), b: (f32, f32), c: (f32, f32)) -> f32 {
    (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0)
}

/// Monotone chain; counter-clockwise in a frame with y up, no repeated point.
fn convex_hull(mut points: Vec<(f32, f32)>) -> Vec<(f32, f32)> {
    points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    points.dedup();
    let mut hull: Vec<(f32, f32)> = Vec::new();
    let mut half = |points: &mut dyn Iterator<Item = (f32, f32)>| {
        let base = hull.len();
        for p in points {
            while hull.len() >= base + 2 && turn(hull[hull.len() - 2], hull[hull.len() - 1], p) <= 0.0 {
                hull.pop();
            }
            hull.push(p);
        }
        hull.pop();
    };
    half(&mut points.iter().copied());
    half(&mut points.iter().rev().copied());
    hull
}

/// Area of a simple polygon.
fn area(polygon: &[(f32, f32)]) -> f32 {
    let n = polygon.len();
    let twice: f32 = (0..n).map(|i| polygon[i].0 * polygon[(i + 1) % n].1 - polygon[(i + 1) % n].0 * polygon[i].1).sum();
    0.5 * twice.abs()
}

/// The four hull points that span the greatest area, climbing from four starts spread over the hull.
fn greatest_quadrilateral(hull: &[(f32, f32)]) -> Option<[(f32, f32); 4]> {
    let n = hull.len();
    if n < 4 {
        return None;
    }
    let of = |k: [usize; 4]| area(&k.map(|i| hull[i]));
    let mut best = ([0; 4], -1.0f32);
    for start in 0..4 {
        let mut k = [0, 1, 2, 3].map(|i| (i * n / 4 + start * n / 16) % n);
        let mut top = of(k);
        for _ in 0..8 {
            let before = top;
            for side in 0..4 {
                let (low, high) = (k[(side + 3) % 4], k[(side + 1) % 4]);
                let mut i = (low + 1) % n;
                while i != high && i != low {
                    let mut trial = k;
                    trial[side] = i;
                    let a = of(trial);
                    if a > top {
                        (k, top) = (trial, a);
                    }
                    i = (i + 1) % n;
                }
            }
            if top <= before {
                break;
            }
        }
        if top > best.1 {
            best = (k, top);
        }
    }
    Some(best.0.map(|i| hull[i]))
}

#[cfg(test)]
mod tests {
    use super::super::drawing::{Canvas, GREY, SLATE};
    use super::super::pyramid::Pyramid;
    use super::*;
    use crate::measurement::frame::Reduced;
    use approx::assert_abs_diff_eq;

    fn patches(canvas: &Canvas) -> Vec<Patch> {
        let small = canvas.frame().reduced(400);
        let pyramid = Pyramid::new(&small);
        even_patches(&pyramid.levels()[0], 0.01, (0.01, 0.5))
    }

    #[test]
    fn a_square_fills_its_quadrilateral_and_a_disc_does_not() {
        let mut canvas = Canvas::new(300, 200, SLATE);
        canvas.sheet((80.0, 100.0), (80.0, 60.0), 15.0, GREY).disc(220.0, 100.0, 40.0, GREY);
        let found = patches(&canvas);
        assert_eq!(found.len(), 2, "the table reaches the edge and is left out");
        let (square, disc) = if found[0].centre().0 < 150.0 { (&found[0], &found[1]) } else { (&found[1], &found[0]) };
        assert!(square.squareness > 0.95 && square.solidity > 0.9, "{square:?}");
        // The greatest quadrilateral in a disc is its square: 2 / pi of the area.
        assert!((disc.squareness - std::f32::consts::FRAC_2_PI).abs() < 0.03, "{disc:?}");
        let mut sides = square.sides();
        sides.sort_by(f32::total_cmp);
        assert!((sides[0] - 58.0).abs() < 3.0 && (sides[3] - 78.0).abs() < 3.0, "{sides:?}");
        assert!(square.contains(80.0, 100.0) && !square.contains(80.0, 150.0));
    }

    // A step of 4 across and 3 down changes by 5 over two pixels: by 2.5 a pixel, in levels.
    #[test]
    fn even_is_what_changes_less_than_its_roughness() {
        let rgb = (0..400).flat_map(|i| [200, 100 + (4 * (i % 20) + 3 * (i / 20)) as u8 / 2, 210]).collect();
        let small = Reduced { width: 20, height: 20, factor: 1.0, rgb };
        let pyramid = Pyramid::new(&small);
        let even = |levels: f32| even_mask(&pyramid.levels()[0], levels / 255.0).iter().filter(|&&even| even).count();
        // Halves are cut off, so that steps of 1.5 down are 1 and 2 by turns, 3 over two pixels.
        assert_eq!((even(2.4), even(2.6)), (0, 18 * 18));
    }

    #[test]
    fn only_pixels_beside_a_step_are_uneven() {
        let rgb = (0..400).flat_map(|i| if i % 20 < 10 { [220; 3] } else { [210, 220, 220] }).collect();
        let small = Reduced { width: 20, height: 20, factor: 1.0, rgb };
        let mask = even_mask(&Pyramid::new(&small).levels()[0], 0.01);
        for (i, even) in mask.into_iter().enumerate() {
            let (x, y) = (i % 20, i / 20);
            let is_border = x == 0 || y == 0 || x == 19 || y == 19;
            assert_eq!(even, !is_border && x != 9 && x != 10, "{x}, {y}");
        }
    }

    #[test]
    fn diagonals_cross_in_the_centre() {
        let patch = |corners| Patch { corners, squareness: 1.0, solidity: 1.0, colour: [0.0; 3] };
        assert_eq!(patch([(0.0, 0.0), (4.0, 0.0), (4.0, 2.0), (0.0, 2.0)]).centre(), (2.0, 1.0));
        // A trapezium, by hand: x + y = 4 meets y = x on the way from (0, 0) to (3, 3).
        assert_eq!(patch([(0.0, 0.0), (4.0, 0.0), (3.0, 3.0), (1.0, 3.0)]).centre(), (2.0, 2.0));
        assert_eq!(patch([(0.0, 0.0), (1.0, 1.0), (2.0, 2.0), (5.0, 5.0)]).centre(), (2.0, 2.0));
    }

    const HOUSE: [(f32, f32); 5] = [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (2.0, 5.0), (0.0, 3.0)];

    // By hand: a wall of 12 and a gable of 4.
    #[test]
    fn areas_are_those_of_polygons() {
        assert_abs_diff_eq!(area(&HOUSE), 16.0);
        assert_abs_diff_eq!(area(&HOUSE.map(|(x, y)| (y - 7.0, x + 3.0))), 16.0);
        assert_abs_diff_eq!(area(&HOUSE[..3]), 6.0);
    }

    #[test]
    fn a_hull_drops_what_lies_within_or_along_a_side() {
        let mut points = HOUSE.to_vec();
        points.extend([(2.0, 1.0), (2.0, 0.0), (4.0, 1.5), (3.0, 4.0), (1.0, 3.0), (4.0, 3.0)]);
        let hull = convex_hull(points);
        assert_eq!(hull.len(), 5, "{hull:?}");
        assert!(HOUSE.iter().all(|corner| hull.contains(corner)));
        assert!((0..5).all(|i| turn(hull[i], hull[(i + 1) % 5], hull[(i + 2) % 5]) > 0.0), "{hull:?}");
    }

    // The greatest quadrilateral in a circle's 16-gon is a square: 2 by a radius of 1. In a house it has the ridge, an eave and both feet (13),
    // or both eaves and feet (12).
    #[test]
    fn a_quadrilateral_is_the_greatest() {
        let round: Vec<(f32, f32)> = (0..16).map(|i| (std::f32::consts::TAU * i as f32 / 16.0).sin_cos()).collect();
        assert_abs_diff_eq!(area(&greatest_quadrilateral(&round).unwrap()), 2.0, epsilon = 1e-5);
        let box_ = [(0.0, 0.0), (5.0, -0.1), (10.0, 0.0), (10.1, 3.0), (10.0, 6.0), (0.0, 6.0)];
        let corners = greatest_quadrilateral(&box_).unwrap();
        assert!(area(&corners) >= 60.0, "{corners:?}");
        assert!(greatest_quadrilateral(&HOUSE[..3]).is_none());
        let kite = greatest_quadrilateral(&HOUSE).unwrap();
        assert_abs_diff_eq!(area(&kite), 13.0);
    }

    #[test]
    fn inside_is_on_the_same_side_of_all_four() {
        let slanted = [(0.0, 0.0), (6.0, 2.0), (5.0, 6.0), (-1.0, 4.0)];
        for corners in [slanted, [slanted[0], slanted[3], slanted[2], slanted[1]]] {
            let patch = Patch { corners, squareness: 1.0, solidity: 1.0, colour: [0.0; 3] };
            assert!([(0.0, 1.0), (2.5, 3.0), (5.0, 4.0), (5.9, 2.1)].iter().all(|(x, y)| patch.contains(*x, *y)));
            assert!(![(3.0, 0.5), (6.0, 4.5), (2.0, 6.0), (-1.0, 1.0)].iter().any(|(x, y)| patch.contains(*x, *y)));
        }
        // Three and four make five.
        let patch =
            Patch { corners: [(0.0, 0.0), (3.0, 4.0), (3.0, 10.0), (-9.0, 10.0)], squareness: 1.0, solidity: 1.0, colour: [0.0; 3] };
        assert!(patch.sides().iter().zip([5.0, 6.0, 12.0, 181f32.sqrt()]).all(|(side, wanted)| (side - wanted).abs() < 1e-5));
    }

    /// A picture of 20 by 16 with a lighter box of these borders, and the patch that its pixels make.
    fn boxed((left, right): (usize, usize), (top, bottom): (usize, usize)) -> Option<Patch> {
        let is_in = |i: usize| (left..=right).contains(&(i % 20)) && (top..=bottom).contains(&(i / 20));
        let rgb = (0..320).flat_map(|i| if is_in(i) { [204, 102, 51] } else { [10; 3] }).collect();
        let small = Reduced { width: 20, height: 16, factor: 1.0, rgb };
        outline_of(&Pyramid::new(&small).levels()[0], &(0..320).filter(|i| is_in(*i)).collect::<Vec<_>>())
    }

    // Pixels are squares about their middles, and the mask leaves out a pixel at the picture's border: the next one in touches it.
    #[test]
    fn a_patch_has_the_outline_and_colour_of_its_pixels() {
        let patch = boxed((4, 12), (3, 8)).unwrap();
        let mut corners = patch.corners;
        corners.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        assert_eq!(corners, [(3.5, 2.5), (3.5, 8.5), (12.5, 2.5), (12.5, 8.5)]);
        assert!((patch.squareness - 1.0).abs() < 1e-6 && (patch.solidity - 1.0).abs() < 1e-6);
        assert!(patch.colour.iter().zip([0.8, 0.4, 0.2]).all(|(seen, wanted)| (seen - wanted).abs() < 1e-5), "{:?}", patch.colour);
        assert!(boxed((2, 17), (2, 13)).is_some());
        for (across, down) in [((1, 17), (2, 13)), ((2, 18), (2, 13)), ((2, 17), (1, 13)), ((2, 17), (2, 14))] {
            assert!(boxed(across, down).is_none(), "{across:?} {down:?}");
        }
    }
}
