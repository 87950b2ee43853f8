//! The straight picture of a sheet, made up.

use super::*;
use crate::placement::Paper;

/// Pixels a millimetre.
const SCALE: f64 = 2.0;

fn sheet() -> Sheet {
    Sheet::new(Paper::A4, 4).unwrap()
}

/// A straight picture with these colours at places in mm.
fn straight(colour: impl Fn(Point) -> [u8; 3]) -> Straight {
    let (w, h) = sheet().paper().size();
    let (width, height) = (((w + 2.0 * AROUND) * SCALE) as usize, ((h + 2.0 * AROUND) * SCALE) as usize);
    let place = |i: usize| (((i % width) as f64 + 0.5) / SCALE - AROUND, ((i / width) as f64 + 0.5) / SCALE - AROUND);
    let rgb = (0..width * height).flat_map(|i| colour(place(i))).collect();
    Straight { sheet: sheet(), picture: Reduced { width, height, factor: 1.0, rgb }, scale: SCALE }
}

/// The camera straight above a place.
fn above(foot: Point) -> Eye {
    Eye { foot, height: 500.0 }
}

// Millimetres count from the paper's corner, pixels from 40 mm outside it. Red rises by one level a millimetre to the right, green down.
#[test]
fn colours_are_those_of_the_place() {
    let straight = straight(|(x, y)| [((x + 40.0) / 2.0) as u8, (y + 40.0) as u8, 7]);
    for (x, y) in [(100.0, 60.0), (0.0, 0.0), (250.0, 200.0)] {
        let [red, green, blue] = straight.colour((x, y), 6.0).unwrap().map(|v| 255.0 * f64::from(v));
        assert!((red - (x + 40.0) / 2.0).abs() < 1.0 && (green - (y + 40.0)).abs() < 1.0 && (blue - 7.0).abs() < 1e-4, "{red} {green}");
    }
    let back = straight.place(280.0 - 0.5, 200.0 - 0.5);
    assert!(distance(back, (100.0, 60.0)) < 1e-9);
}

// A square of 6 mm reaches 3 mm to every side; A4 is 297 by 210 mm, with 40 mm around it.
#[test]
fn beyond_the_picture_there_is_no_colour() {
    let straight = straight(|_| [200; 3]);
    let is_seen = |x: f64, y: f64| straight.colour((x, y), 6.0).is_some();
    assert!(is_seen(-36.5, 100.0) && is_seen(333.0, 100.0) && is_seen(100.0, -36.5) && is_seen(100.0, 246.0));
    assert!(!is_seen(-38.0, 100.0) && !is_seen(335.5, 100.0) && !is_seen(100.0, -38.0) && !is_seen(100.0, 248.5));
}

// The photo shows the sheet straight already, two pixels a millimetre from 50 mm outside it, with levels that rise by two a pixel.
#[test]
fn putting_straight_moves_nothing() {
    let (width, height) = (800, 620);
    let rise = |from: f64, to: usize| (2.0 * (to as f64 - from)).clamp(0.0, 255.0) as u8;
    let rgb = (0..width * height).flat_map(|i| [rise(340.0, i % width), rise(240.0, i / width), 90]).collect();
    let fine = Reduced { width, height, factor: 1.0, rgb };
    let view = |(x, y): Point| (2.0 * (x + 50.0), 2.0 * (y + 50.0));
    let corners = [(0.0, 0.0), (297.0, 0.0), (297.0, 210.0), (0.0, 210.0)];
    let straight = Straight::of(&fine, sheet(), &Homography::through(&corners.map(|p| (p, view(p)))).unwrap());
    for (x, y) in [(340, 260), (330, 250), (360, 270)] {
        let (u, v) = view(straight.place(x as f64, y as f64));
        let found = straight.picture.pixel(x, y).map(f64::from);
        assert!((found[0] - 2.0 * (u - 340.0)).abs() < 1.0 && (found[1] - 2.0 * (v - 240.0)).abs() < 1.0, "{found:?} {u} {v}");
        assert!((found[2] - 90.0).abs() < 1e-9);
    }
}

/// A disc of this radius at a place, mm, as it is found on the straight picture.
fn disc(straight: &Straight, place: Point, radius: f64, inside: [f32; 3]) -> FoundCup {
    let pixel = |mm: f64| ((mm + AROUND) * straight.scale - 0.5) as f32;
    let radius = (radius * straight.scale) as f32;
    FoundCup { x: pixel(place.0), y: pixel(place.1), radius, rim: None, confidence: 0.9, coloured: true, white: [0.85; 3], inside }
}

const YELLOW: [f32; 3] = [0.8, 0.7, 0.2];

// Right under the camera no height moves a cup, so it has the likeliest one, 22 mm; elsewhere how far it leans outwards tells.
#[test]
fn a_cup_stands_as_high_as_it_leans() {
    let straight = straight(|_| [217; 3]);
    let circles = sheet().circles();
    let spot = circles[0];
    let stands =
        |eye: &Eye, place: Point, levels| straight.stands_on(&disc(&straight, place, 0.75 * spot.radius, YELLOW), &circles, eye, levels);
    let under = stands(&above(spot.middle), spot.middle, LEVELS).unwrap();
    assert!(under.circle == 0 && (under.height - 22.0).abs() < 1e-9 && under.aside < 1e-6 && under.odds < 1e-6);
    // 300 mm from the foot, 40 of 500 mm up: 300 / (1 - 0.08), a lean of 26 mm.
    let eye = above((spot.middle.0 - 300.0, spot.middle.1));
    let found = stands(&eye, (eye.foot.0 + 300.0 / 0.92, spot.middle.1), LEVELS).unwrap();
    assert!(found.circle == 0 && (found.height - 38.0).abs() < 3.0, "{}", found.height);
    // A lean of 22 mm where all others are known to be 12 mm high: this one stands aside.
    let alike = stands(&eye, (eye.foot.0 + 300.0 / 0.956, spot.middle.1), (12.0, 2.0)).unwrap();
    assert!((alike.height - 12.0).abs() < 3.0 && alike.aside > 0.1, "{} {}", alike.height, alike.aside);
    let unsure = FoundCup { confidence: 0.2, ..disc(&straight, spot.middle, 0.75 * spot.radius, YELLOW) };
    assert!(straight.stands_on(&unsure, &circles, &above(spot.middle), LEVELS).is_none());
}

// Dashes blurred over paper look like a grey ring of the circle's own size.
#[test]
fn a_printed_circle_is_no_cup() {
    let straight = straight(|_| [217; 3]);
    let circles = sheet().circles();
    let spot = circles[1];
    let stands = |place: Point, share: f64, inside: [f32; 3]| {
        straight.stands_on(&disc(&straight, place, share * spot.radius, inside), &circles, &above(spot.middle), LEVELS).is_some()
    };
    assert!(!stands(spot.middle, 1.0, [0.83; 3]));
    assert!(stands(spot.middle, 1.0, YELLOW) && stands(spot.middle, 0.8, [0.83; 3]));
    assert!(stands((spot.middle.0 + 0.2 * spot.radius, spot.middle.1), 1.0, [0.83; 3]));
}

fn standing(middle: Point) -> Standing {
    Standing { circle: 0, middle, radius: 10.0, confidence: 0.9, height: 20.0, aside: 0.0, odds: 0.0 }
}

// A cup of 10 mm hides 19 around its foot, and as much along its lean, to twice and a fifth of where its surface is seen.
#[test]
fn a_cup_hides_the_paper_that_it_leans_over() {
    let upright = |x: f64, y: f64| standing((50.0, 60.0)).hides((x, y), (50.0, 60.0));
    assert!(upright(68.9, 60.0) && upright(50.0, 41.1) && !upright(69.1, 60.0) && !upright(50.0, 40.9));
    let leaning = |x: f64, y: f64| standing((60.0, 80.0)).hides((x, y), (50.0, 60.0));
    // The far end is at (72, 104), and (61, 82) half way there; (0.894, -0.447) is across.
    let across = |share: f64| (61.0 + 0.8944 * share, 82.0 - 0.4472 * share);
    for (share, is_hidden) in [(18.9, true), (-18.9, true), (19.1, false), (-19.1, false)] {
        let (x, y) = across(share);
        assert_eq!(leaning(x, y), is_hidden, "{share}");
    }
    assert!(leaning(72.0 + 8.4, 104.0 + 16.8) && !leaning(72.0 + 8.6, 104.0 + 17.2));
    assert!(leaning(50.0 - 8.4, 60.0 - 16.8) && !leaning(50.0 - 8.6, 60.0 - 17.2));
}

/// A grey card on its place of white paper, covered from the left by this share of its core in another level.
fn with_card(share: f64, cover: u8) -> Option<CardRegion> {
    let core = sheet().card_core();
    let straight = straight(|(x, y)| match core.holds((x, y), 20.0) {
        true if x < core.x + share * core.w => [cover; 3],
        true => [115; 3],
        false => [217; 3],
    });
    let corners = [(0.0, 0.0), (297.0, 0.0), (297.0, 210.0), (0.0, 210.0)];
    let view = Homography::through(&corners.map(|p| (p, (3.0 * p.0 + 10.0, 3.0 * p.1 + 20.0)))).unwrap();
    straight.card(&view, None)
}

// By hand: of an even level 0.451 a place 0.143 off is odd, 36 of 255; up to 15 % of these may be.
#[test]
fn a_card_is_even_but_for_a_little() {
    let core = sheet().card_core();
    let found = with_card(0.0, 0).unwrap();
    let middle = (core.x + 0.5 * core.w, core.y + 0.5 * core.h);
    assert!(distance(found.corners[0], (3.0 * core.x + 10.0, 3.0 * core.y + 20.0)) < 1e-6);
    assert!((found.area.x + 0.5 * found.area.w - (3.0 * middle.0 + 10.0)).abs() < 1e-6);
    assert!((found.area.w - 0.92 * 3.0 * core.w).abs() < 1e-6 && (found.area.h - found.area.w).abs() < 1e-6);
    assert!(with_card(0.25, 75).is_none() && with_card(0.25, 85).is_some() && with_card(0.25, 155).is_none());
    assert!(with_card(0.1, 75).is_some());
}
