//! Where things lie on the table, in millimetres.

use super::random::Random;
use super::view::Point;

/// A flat four-cornered thing, corners in order around it.
pub(super) type Quad = [Point; 4];

/// Something that is neither card nor cup.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Shape {
    /// Centre and radius.
    Disc(Point, f64),
    /// Corners.
    Sheet(Quad),
}

/// The arrangement of one photo.
#[derive(Debug, Clone, Default)]
pub(super) struct Layout {
    /// Centre and rim radius of each cup.
    pub(super) cups: Vec<(Point, f64)>,
    pub(super) card: Option<Quad>,
    pub(super) paper: Option<Quad>,
    pub(super) clutter: Vec<Shape>,
}

/// What has to be laid out.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wanted {
    pub(super) cups: usize,
    pub(super) card: bool,
    pub(super) paper: bool,
    pub(super) clutter: usize,
    /// True: straight rows, card on top. False: as hands leave things.
    pub(super) tidy: bool,
}

/// A rectangle about a centre, turned by `degrees`.
pub(super) fn turned(centre: Point, (width, height): (f64, f64), degrees: f64) -> Quad {
    let (s, c) = degrees.to_radians().sin_cos();
    [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)].map(|(u, v)| {
        let (x, y) = (u * width, v * height);
        (centre.0 + c * x - s * y, centre.1 + s * x + c * y)
    })
}

/// Distance from the outline in mm, positive outside, for a convex quad whose corners run clockwise on the screen.
pub(super) fn outside(quad: &Quad, p: Point) -> f64 {
    (0..4).fold(f64::NEG_INFINITY, |most, i| {
        let (a, b) = (quad[i], quad[(i + 1) % 4]);
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        most.max(((p.0 - a.0) * dy - (p.1 - a.1) * dx) / dx.hypot(dy))
    })
}

/// Lays everything out.
pub(super) fn arrange(random: &mut Random, wanted: Wanted) -> Layout {
    let cups = place_cups(random, wanted);
    let bounds = |grow: f64| {
        cups.iter().fold((f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY), |b, ((x, y), r)| {
            let r = r + grow;
            (b.0.min(x - r), b.1.min(y - r), b.2.max(x + r), b.3.max(y + r))
        })
    };
    let (left, top, right, bottom) = bounds(0.0);
    // Cards between a playing card and a postcard and a half.
    let size = if wanted.tidy { (120.0, 85.0) } else { (random.between(80.0, 150.0), random.between(60.0, 100.0)) };
    let angle = if wanted.tidy { 0.0 } else { random.between(-28.0, 28.0) };
    let reach = 0.5 * size.0.hypot(size.1);
    let gap = if wanted.tidy { 12.0 + 0.5 * size.1 } else { random.between(2.0, 20.0) + reach };
    let (along_x, along_y) = (random.between(left, right), random.between(top, bottom));
    let spot = match if wanted.tidy { 0 } else { random.below(4) } {
        0 => (along_x, top - gap),
        1 => (along_x, bottom + gap),
        2 => (left - gap, along_y),
        _ => (right + gap, along_y),
    };
    let card = wanted.card.then(|| turned(spot, size, angle));
    let paper = wanted.paper.then(|| {
        let (l, t, r, b) = bounds(if wanted.tidy { 15.0 } else { random.between(6.0, 30.0) });
        let degrees = if wanted.tidy { 0.0 } else { random.between(-4.0, 4.0) };
        turned((0.5 * (l + r), 0.5 * (t + b)), (r - l, b - t), degrees)
    });
    let mut layout = Layout { cups, card: Some(turned(spot, size, angle)), paper, clutter: Vec::new() };
    strew(random, &mut layout, wanted.clutter);
    layout.card = card;
    layout
}

/// One row, two rows, or an arc.
fn place_cups(random: &mut Random, wanted: Wanted) -> Vec<(Point, f64)> {
    let largest = random.between(26.0, 44.0);
    let pitch = 2.0 * largest + random.between(8.0, 26.0);
    let way = if wanted.tidy || wanted.cups < 3 { 0 } else { random.below(3) };
    let per_row = match way {
        0 if wanted.cups <= 5 => wanted.cups.max(1),
        _ => wanted.cups.div_ceil(2).max(1),
    };
    (0..wanted.cups)
        .map(|i| {
            let radius = if wanted.tidy { largest } else { largest * random.between(0.78, 1.0) };
            let (column, row) = ((i % per_row) as f64, (i / per_row) as f64);
            let spot = if way == 2 && wanted.cups <= 7 {
                // On an arc whose chord between neighbours is the pitch.
                let bend = 0.45;
                let turn = bend * (i as f64 - 0.5 * (wanted.cups as f64 - 1.0));
                let arm = 0.5 * pitch / (0.5 * bend).sin();
                (arm * turn.sin(), arm * (1.0 - turn.cos()))
            } else {
                (pitch * column + if way == 1 { 0.25 * pitch * row } else { 0.0 }, pitch * row)
            };
            let loose = if wanted.tidy { 0.0 } else { 0.5 * (pitch - 2.0 * largest) };
            ((spot.0 + random.between(-loose, loose), spot.1 + random.between(-loose, loose)), radius)
        })
        .collect()
}

/// Puts small things where they cover neither card nor cup.
fn strew(random: &mut Random, layout: &mut Layout, count: usize) {
    let reach = layout.cups.iter().map(|((x, y), r)| x.abs().max(y.abs()) + r).fold(60.0, f64::max) + 70.0;
    for _ in 0..count {
        // Forty tries; a crowded table simply gets fewer things.
        for _ in 0..40 {
            let centre = (random.between(-reach, reach), random.between(-reach, reach));
            let (shape, size) = match random.below(3) {
                0 => {
                    let radius = random.between(6.0, 26.0);
                    (Shape::Disc(centre, radius), radius)
                }
                1 => {
                    let length = random.between(50.0, 130.0);
                    (Shape::Sheet(turned(centre, (length, random.between(5.0, 14.0)), random.between(0.0, 180.0))), 0.5 * length)
                }
                _ => {
                    let side = random.between(25.0, 60.0);
                    (Shape::Sheet(turned(centre, (side, 0.7 * side), random.between(0.0, 180.0))), 0.62 * side)
                }
            };
            let clear = layout.cups.iter().all(|((x, y), r)| (x - centre.0).hypot(y - centre.1) > r + size + 3.0)
                && layout.card.is_none_or(|quad| outside(&quad, centre) > size + 3.0);
            if clear {
                layout.clutter.push(shape);
                break;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_overlaps() {
        for seed in 0..60 {
            let mut random = Random::new(seed);
            let wanted = Wanted { cups: 1 + seed as usize % 8, card: true, paper: true, clutter: 4, tidy: seed % 3 == 0 };
            let layout = arrange(&mut random, wanted);
            let card = layout.card.unwrap();
            for (i, (p, r)) in layout.cups.iter().enumerate() {
                assert!(outside(&card, *p) > *r, "seed {seed}: card under a cup");
                for (q, s) in &layout.cups[i + 1..] {
                    assert!((p.0 - q.0).hypot(p.1 - q.1) > r + s, "seed {seed}: cups touch");
                }
            }
        }
    }

    #[test]
    fn distance_has_its_sign() {
        let quad = turned((10.0, 10.0), (4.0, 2.0), 30.0);
        assert!(outside(&quad, (10.0, 10.0)) < -0.9 && outside(&quad, (20.0, 10.0)) > 0.0);
    }
}
