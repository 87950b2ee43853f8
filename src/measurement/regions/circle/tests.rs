//! Circles drawn, and outlines worked out by hand.

use super::super::drawing::{Canvas, PURPLE, SLATE, WHITE};
use super::*;

#[test]
fn an_outline_gives_centre_axes_and_their_direction() {
    let mut canvas = Canvas::new(300, 300, WHITE);
    canvas.ellipse((152.0, 149.0), (66.0, 60.0), PURPLE);
    let small = canvas.frame().reduced(400);
    let pyramid = Pyramid::new(&small);
    let start = Outline::circle(155.0, 150.0, 60.0);
    let found = outline(&pyramid, &start, 0.2, None, 1).unwrap();
    assert!((found.x - 152.0).abs() < 0.5 && (found.y - 149.0).abs() < 0.5, "{found:?}");
    assert!((found.radius - 63.0).abs() < 0.6, "{found:?}");
    assert!((found.bend.0 * found.radius - 3.0).abs() < 0.5 && found.bend.1.abs() < 0.01, "wider than high: {found:?}");
    assert!(found.support > 0.9);
}

#[test]
fn rings_are_seen_from_inside_out_with_the_sign_of_their_step() {
    let mut canvas = Canvas::new(300, 300, SLATE);
    canvas.disc(150.0, 150.0, 90.0, WHITE).disc(150.0, 150.0, 60.0, PURPLE);
    let small = canvas.frame().reduced(400);
    let pyramid = Pyramid::new(&small);
    let seen = rings(&pyramid, &Outline::circle(150.0, 150.0, 60.0), (25.0, 120.0), 0.012, 1);
    assert_eq!(seen.len(), 2, "{seen:?}");
    assert!((seen[0].radius - 60.0).abs() < 2.0 && seen[0].step.iter().all(|&v| v > 0.2), "white outside: {seen:?}");
    assert!((seen[1].radius - 90.0).abs() < 2.0 && seen[1].step.iter().all(|&v| v < -0.2), "dark outside: {seen:?}");
    assert!(seen[0].tint > 0.3 && seen[1].tint < 0.1, "only the liquid is coloured: {seen:?}");
}

#[test]
fn a_ring_knows_the_colours_on_its_sides() {
    let mut canvas = Canvas::new(300, 300, SLATE);
    canvas.disc(150.0, 150.0, 90.0, WHITE).disc(150.0, 150.0, 60.0, PURPLE);
    let small = canvas.frame().reduced(400);
    let seen = rings(&Pyramid::new(&small), &Outline::circle(150.0, 150.0, 60.0), (25.0, 120.0), 0.012, 1);
    let is_like = |seen: Colour, level: [u8; 3]| (0..3).all(|c| (seen[c] - f32::from(level[c]) / 255.0).abs() < 0.01);
    assert!(is_like(seen[0].inside, PURPLE) && is_like(seen[0].outside, WHITE), "{:?}", seen[0]);
    assert!(is_like(seen[1].inside, WHITE) && is_like(seen[1].outside, SLATE), "{:?}", seen[1]);
    assert!(seen.iter().all(|ring| ring.support > 0.95 && !ring.tint_only));
}

#[test]
fn the_steepest_place_lies_between_samples() {
    let parabola = |vertex: f32| (0..9).map(|i| 1.0 - 0.05 * (i as f32 - vertex).powi(2)).collect::<Vec<_>>();
    for vertex in [3.0, 3.3, 4.75] {
        assert!((steepest(&parabola(vertex)).unwrap() - vertex).abs() < 1e-4);
    }
    assert_eq!(steepest(&[0.0, 0.1, 0.5]), Some(2.0));
    assert_eq!(steepest(&[0.5, 0.1, 0.0]), Some(0.0));
    // Less than a level of eight bits is noise.
    assert_eq!((steepest(&[0.0, 0.0039, 0.0]), steepest(&[])), (None, None));
    assert_eq!(steepest(&[0.0, 0.0041, 0.0]), Some(1.0));
}

#[test]
fn a_peak_exceeds_two_samples_on_either_side() {
    let peak = |values: [f32; 5]| is_peak(|j| values[j], 2);
    assert!(peak([0.1, 0.2, 0.3, 0.2, 0.1]) && peak([0.3, 0.3, 0.3, 0.2, 0.1]));
    for higher in [0, 1, 3, 4] {
        let mut values = [0.1, 0.2, 0.3, 0.2, 0.1];
        values[higher] = 0.31;
        assert!(!peak(values), "{higher}");
    }
    // Of a plateau the last sample counts.
    assert!(!peak([0.1, 0.2, 0.3, 0.3, 0.1]) && !peak([0.1, 0.2, 0.3, 0.2, 0.3]));
}

// By hand: light (outside / inside)^2.2 is a tenth in red and equal in the others; the spread of the logs is 1.
#[test]
fn spread_tells_tint_from_brightness() {
    let outside = [0.5, 0.4, 0.3f32];
    let inside = [(0.52 / 10f32.powf(-1.0 / 2.2)) - 0.02, 0.4, 0.3];
    assert!((spread(inside, outside) - 1.0).abs() < 1e-4);
    let darker = outside.map(|v| (v + 0.02) * 0.5 - 0.02);
    assert!(spread(darker, outside) < 1e-4);
}

#[test]
fn an_arc_finds_the_circle_whose_near_side_is_hidden() {
    let mut canvas = Canvas::new(300, 300, WHITE);
    canvas.disc(150.0, 140.0, 60.0, PURPLE).sheet((150.0, 215.0), (200.0, 60.0), 0.0, SLATE);
    let small = canvas.frame().reduced(400);
    let outwards = [0, 1, 2].map(|c| f32::from(WHITE[c]) - f32::from(PURPLE[c]));
    let wanted = outwards.map(|v| v / length(outwards));
    let (x, y, radius) = arc(&Pyramid::new(&small), (146.0, 143.0, 57.0), wanted, (0.0, -1.0), 0.3).unwrap();
    assert!((x - 150.0).abs() < 1.0 && (y - 140.0).abs() < 1.0 && (radius - 60.0).abs() < 1.2, "{x} {y} {radius}");
    // Nothing there to fit.
    let plain = Canvas::new(300, 300, WHITE).frame().reduced(400);
    assert!(arc(&Pyramid::new(&plain), (146.0, 143.0, 57.0), wanted, (0.0, -1.0), 0.3).is_none());
}

#[test]
fn unevenness_tells_stripes_from_a_plain_disc() {
    let mut canvas = Canvas::new(300, 300, WHITE);
    canvas.disc(150.0, 150.0, 60.0, PURPLE);
    let about = Outline::circle(150.0, 150.0, 60.0);
    let plain = unevenness(&Pyramid::new(&canvas.frame().reduced(400)), &about, 9.0, 50.0);
    for stripe in 0..10 {
        canvas.sheet((95.0 + 12.0 * f64::from(stripe), 150.0), (6.0, 100.0), 0.0, WHITE);
    }
    let striped = unevenness(&Pyramid::new(&canvas.frame().reduced(400)), &about, 9.0, 50.0);
    assert!(plain < 0.01 && striped > 0.1, "{plain} {striped}");
}

/// Radii in these directions of an outline a0 + a1 cos t + a2 sin t + a3 cos 2t + a4 sin 2t.
fn seen_of(terms: [f32; 5], sectors: impl Iterator<Item = usize>) -> Vec<(usize, f32)> {
    let radius = |sector: usize| {
        let t = TAU * sector as f32 / 64.0;
        terms[0] + terms[1] * t.cos() + terms[2] * t.sin() + terms[3] * (2.0 * t).cos() + terms[4] * (2.0 * t).sin()
    };
    sectors.map(|sector| (sector, radius(sector))).collect()
}

fn assert_terms(found: [f32; 5], wanted: [f32; 5], epsilon: f32) {
    assert!(found.iter().zip(wanted).all(|(found, wanted)| (found - wanted).abs() < epsilon), "{found:?} {wanted:?}");
}

#[test]
fn an_outline_goes_through_its_points_and_not_through_strays() {
    let truth = [50.0, 3.0, -2.0, 1.0, 0.5];
    let mut points = seen_of(truth, 0..64);
    let (found, inliers) = robust_outline(&points, 5, 0.1).unwrap();
    assert_terms(found, truth, 1e-3);
    assert_eq!(inliers, 64);
    // A glare spot over a corner, and single ones.
    for stray in [3, 4, 5, 6, 30, 41] {
        points[stray].1 += 12.0;
    }
    let (found, inliers) = robust_outline(&points, 5, 0.1).unwrap();
    assert_terms(found, truth, 0.05);
    assert_eq!(inliers, 58);
    // Off by one and a half of the least spread counts as on it, by two and a half does not.
    let mut points = seen_of([50.0, 0.0, 0.0, 0.0, 0.0], 0..64);
    (points[10].1, points[20].1) = (50.15, 50.25);
    assert_eq!(robust_outline(&points, 3, 0.1).unwrap().1, 63);
}

#[test]
fn half_an_outline_gives_a_circle() {
    let truth = [40.0, -2.0, 1.5, 0.0, 0.0];
    assert_terms(robust_outline(&seen_of(truth, 10..43), 3, 0.1).unwrap().0, truth, 1e-3);
    // One direction again and again tells no middle, and no circle has a negative radius.
    assert!(robust_outline(&[(7, 40.0); 20], 3, 0.1).is_none());
    assert!(robust_outline(&seen_of([-40.0, 0.0, 0.0, 0.0, 0.0], 0..64), 3, 0.1).is_none());
}

// By hand: 10 once and 20 three times is a mean of 17.5.
#[test]
fn a_fit_weighs_its_points() {
    assert_terms(fit_outline(&[(0, 10.0), (9, 20.0)], &[1.0, 3.0], 1).unwrap(), [17.5, 0.0, 0.0, 0.0, 0.0], 1e-5);
    let truth = [50.0, 3.0, -2.0, 1.0, 0.5];
    let mut points = seen_of(truth, 0..64);
    points[12].1 = 90.0;
    let weights: Vec<f32> = (0..64).map(|k| if k == 12 { 0.0 } else { 0.2 + (k % 3) as f32 }).collect();
    assert_terms(fit_outline(&points, &weights, 5).unwrap(), truth, 1e-3);
}

/// Nine samples along each of 64 directions, the last four of another colour in as many as show a step.
fn stepped(showing: usize, seen: usize) -> Polar {
    let row = |s: usize| -> Vec<Colour> {
        let outside = if s < showing { [0.5, 0.2, 0.6] } else { [0.2, 0.2, 0.2] };
        (0..9)
            .map(|j| {
                if s >= seen {
                    UNSEEN
                } else if j < 5 {
                    [0.2, 0.2, 0.2]
                } else {
                    outside
                }
            })
            .collect()
    };
    Polar::of((0..9).map(|j| 10.0 + j as f32).collect(), (0..64).flat_map(row).collect())
}

// By hand: steps of 0.3 and 0.4 are 0.5 together; 48 of 64 directions are three quarters.
#[test]
fn a_ring_is_what_most_directions_show() {
    let ring = ring_at(&stepped(48, 64), 4).unwrap();
    assert!((ring.contrast - 0.5).abs() < 1e-6 && (ring.support - 0.75).abs() < 1e-6 && (ring.radius - 14.0).abs() < 1e-6, "{ring:?}");
    assert!([0.3, 0.0, 0.4].iter().zip(ring.step).all(|(wanted, step)| (wanted - step).abs() < 1e-6));
    // Directions outside the picture support nothing, and too few that are inside make no ring.
    assert!((ring_at(&stepped(40, 40), 4).unwrap().support - 0.625).abs() < 1e-6);
    assert!(ring_at(&stepped(37, 37), 4).is_none() && ring_at(&stepped(0, 64), 4).is_none());
    let polar = stepped(48, 64);
    let is = |found: Colour, wanted: Colour| found.iter().zip(wanted).all(|(found, wanted)| (found - wanted).abs() < 1e-6);
    assert!(is(polar.mean(0, 4, 6), [0.35, 0.2, 0.4]) && is(polar.step(0, 6), [0.15, 0.0, 0.2]));
    assert!(is(polar.colour(5, 9).unwrap(), [0.5, 0.2, 0.6]) && is(stepped(32, 32).colour(5, 9).unwrap(), [0.5, 0.2, 0.6]));
    assert!(stepped(31, 31).colour(5, 9).is_none());
}

// A near wall hides the upper half of a disc drawn; the lower half alone gives the circle, be it small or so large that it is looked for in a reduced picture.
#[test]
fn half_a_circle_is_enough_for_the_whole() {
    for (x, y, radius) in [(160.0, 170.0, 60.0), (402.0, 410.0, 260.0)] {
        let mut canvas = Canvas::new(820, 820, WHITE);
        canvas.disc(x, y, radius, PURPLE).sheet((410.0, 0.5 * y), (820.0, y), 0.0, SLATE);
        let small = canvas.frame().reduced(820);
        let pyramid = Pyramid::new(&small);
        let wanted: Colour = std::array::from_fn(|c| (f32::from(WHITE[c]) - f32::from(PURPLE[c])) / 255.0);
        let (x, y, radius) = (x as f32, y as f32, radius as f32);
        let from =
            |dx: f32, dy: f32, scale: f32| arc(&pyramid, (x + dx * radius, y + dy * radius, scale * radius), wanted, (0.0, 1.0), 0.25);
        for start in [from(0.0, 0.0, 1.0), from(0.06, -0.05, 1.04), from(-0.05, 0.04, 0.92)] {
            let (found_x, found_y, found) = start.unwrap();
            let off = [found_x - x, found_y - y, found - radius].map(f32::abs);
            assert!(off.iter().all(|&off| off < 0.004 * radius + 0.4), "{x} {radius}: {off:?}");
        }
        // Towards the wall there is no such edge, and farther than it may lie it is not looked for.
        let hidden = arc(&pyramid, (x, y, radius), wanted, (0.0, -1.0), 0.25);
        assert!(hidden.is_none_or(|(_, _, found)| (found - radius).abs() > 0.05 * radius), "{hidden:?}");
        assert!(from(0.0, 0.0, 1.5).is_none_or(|(_, _, found)| (found - radius).abs() > 0.05 * radius));
    }
}
