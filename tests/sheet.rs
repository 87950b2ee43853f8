//! Photos of the placement sheet, computed by the project's own renderer: cups and card are where they truly are, and nothing else is.
//!
//! `cargo bench --bench sheet` measures the same over many photos.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use tintpoint::colour::space::PhotoSpace;
use tintpoint::indicator::catalogue;
use tintpoint::measurement::frame::{Frame, Orientation, Samples};
use tintpoint::measurement::regions::{Circle, LONGEST, Rectangle, Regions, find, locate};
use tintpoint::measurement::request::Request;
use tintpoint::placement::{Corner, Paper};
use tintpoint::quantity::{Celsius, IonicStrength, Ph};
use tintpoint::scene::dye::{Lot, Medium, Sample};
use tintpoint::scene::options::{Level, Options};
use tintpoint::scene::random::Random;
use tintpoint::scene::sheet::{photo_drawn, slanted};
use tintpoint::scene::{Photograph, photograph};

fn request() -> Request {
    Request { ionic_strength: IonicStrength::new(0.1).unwrap(), temperature: Celsius::new(22.0).unwrap(), ..Request::default() }
}

/// A photo of cups with these pH on a sheet with so many circles.
fn options(all: &[f64], circles: usize, seed: u64) -> Options {
    let mut random = Random::new(seed);
    let lot = Lot::drawn(catalogue::find("bromocresol-purple").unwrap(), &mut random);
    let samples = all.iter().map(|ph| Sample { lot: lot.clone(), ph: Ph::new(*ph).unwrap(), dose: 1.0, stain: 0.0 }).collect();
    let medium = Medium { ionic_strength: IonicStrength::new(0.1).unwrap(), temperature: Celsius::new(22.0).unwrap() };
    photo_drawn(Level::Hard, samples, circles, medium, (1000, 750), &mut random).unwrap()
}

fn frame(photo: &Photograph) -> Frame {
    Frame::new(photo.width, photo.height, Orientation::Upright, Samples::Eight(photo.rgb.clone().into()), PhotoSpace::srgb()).unwrap()
}

fn found(frame: &Frame, request: &Request) -> Regions {
    find(frame, &frame.reduced(LONGEST), request)
}

fn inside(quad: &[(f64, f64); 4], p: (f64, f64)) -> bool {
    let side = |i: usize| {
        let (a, b) = (quad[i], quad[(i + 1) % 4]);
        (b.0 - a.0) * (p.1 - a.1) - (b.1 - a.1) * (p.0 - a.0)
    };
    (0..4).all(|i| side(i) >= 0.0) || (0..4).all(|i| side(i) <= 0.0)
}

/// Every cup within 0.15 of its radius, its radius within 15 %, its number that of its circle; no other cup; the card's area on the card.
fn check(options: &Options, photo: &Photograph, regions: &Regions) {
    let scene = options.sheet.as_ref().unwrap();
    let meant: Vec<usize> = scene.standing.iter().map(|s| s.circle + 1).collect();
    assert_eq!(regions.numbers, meant);
    for (cup, truth) in regions.cups.iter().zip(&photo.truth.cups) {
        let off = (cup.liquid.x - truth.centre.0).hypot(cup.liquid.y - truth.centre.1) / truth.radius;
        let ratio = cup.liquid.radius / truth.radius;
        assert!(off < 0.15 && (ratio - 1.0).abs() < 0.15, "off by {off:.3} radii, radius times {ratio:.3}");
    }
    let area = regions.card.unwrap().area;
    let card = &photo.truth.card.as_ref().unwrap().corners;
    for (u, v) in [(0.0, 0.0), (area.w, 0.0), (area.w, area.h), (0.0, area.h)] {
        assert!(inside(card, (area.x + u, area.y + v)), "{area:?} is not on the card");
    }
}

#[test]
fn cups_and_card_are_found_from_every_side() {
    for (seed, (yaw, pitch, roll), circles) in
        [(1, (35.0, 35.0, 20.0), 4), (2, (-35.0, 20.0, 110.0), 6), (3, (10.0, -35.0, 200.0), 3), (4, (-5.0, 3.0, -80.0), 12)]
    {
        let mut options = options(&[4.6, 5.6, 6.4], circles, seed);
        options.pose = slanted(yaw, pitch, roll, 600.0);
        let photo = photograph(&options);
        let regions = found(&frame(&photo), &request());
        let sheet = regions.sheet.as_ref().unwrap();
        assert_eq!((sheet.sheet.cups(), sheet.sheet.paper()), (circles, options.sheet.as_ref().unwrap().sheet.paper()));
        assert!(sheet.is_used && sheet.missing().is_empty() && regions.notices.is_empty(), "{:?}", regions.notices);
        check(&options, &photo, &regions);
    }
}

#[test]
fn three_marks_suffice_and_the_fourth_is_missed() {
    let mut options = options(&[4.8, 5.9], 4, 7);
    options.sheet.as_mut().unwrap().covered = vec![Corner::LowerLeft];
    let photo = photograph(&options);
    let regions = found(&frame(&photo), &request());
    assert_eq!(regions.sheet.as_ref().unwrap().missing(), [Corner::LowerLeft]);
    assert!(regions.notices.iter().any(|n| n.code() == "sheet-mark-missing" && !n.refuses()), "{:?}", regions.notices);
    check(&options, &photo, &regions);
}

#[test]
fn two_marks_are_too_few() {
    let mut options = options(&[4.8, 5.9], 4, 8);
    options.sheet.as_mut().unwrap().covered = vec![Corner::LowerLeft, Corner::UpperRight];
    let photo = photograph(&options);
    let frame = frame(&photo);
    let regions = found(&frame, &request());
    let sheet = regions.sheet.as_ref().unwrap();
    assert!(!sheet.is_used && sheet.corners.is_none() && sheet.seen.len() == 2);
    assert!(regions.notices.iter().any(|n| n.code() == "sheet-mark-missing"));
    assert_eq!(regions.cups, locate(&frame.reduced(LONGEST), &request()).cups, "then it searches as without a sheet");
}

#[test]
fn an_empty_sheet_has_no_cups() {
    for seed in [21, 22] {
        let mut options = options(&[5.0, 5.0], 6, seed);
        options.has_cups = false;
        let photo = photograph(&options);
        let regions = found(&frame(&photo), &request());
        assert!(regions.sheet.is_some_and(|s| s.is_used));
        assert!(regions.cups.is_empty(), "{:?}", regions.cups);
    }
}

#[test]
fn what_is_told_wins() {
    let options = options(&[5.2], 2, 11);
    let frame = frame(&photograph(&options));
    let circle = Circle { x: 400.0, y: 300.0, radius: 50.0 };
    let card = Rectangle { x: 10.0, y: 20.0, w: 30.0, h: 40.0 };
    let told = found(&frame, &Request { cups: vec![circle], ..request() });
    assert_eq!(told.cups[0].liquid, circle);
    assert!(told.card.is_some() && told.numbers.is_empty());
    let told = found(&frame, &Request { card: Some(card), ..request() });
    assert_eq!(told.card.unwrap().area, card);
    assert_eq!(told.cups.len(), 1);
    assert!(told.lights.is_empty(), "the light on a card laid elsewhere is not known");
}

#[test]
fn light_from_card_to_cup_is_told() {
    let mut options = options(&[4.8, 5.4, 5.9, 6.4], 4, 12);
    options.lighting.lamp_height = 500.0;
    options.lighting.lamp_aside = 0.6;
    options.second_lamp = None;
    options.lighting.shade = None;
    let photo = photograph(&options);
    let regions = found(&frame(&photo), &request());
    let card = photo.truth.card.as_ref().unwrap().light;
    let (mut even, mut told) = (0.0, 0.0);
    for (light, truth) in regions.lights.iter().zip(&photo.truth.cups) {
        let (true_log, light) = ((truth.light / card).ln(), light.unwrap());
        even += true_log * true_log;
        told += (light.log_level - true_log).powi(2);
        assert!((light.log_level - true_log).abs() < 4.0 * light.sd, "{light:?}, truly {true_log}");
    }
    assert_eq!(regions.lights.len(), 4);
    // Half the error is a quarter of its square.
    assert!(even > 4.0 * 0.05 * 0.05 && told < 0.25 * even, "{told} {even}");
}

#[test]
fn a_photo_without_a_sheet_is_searched_as_ever() {
    for name in ["nearing.jpg", "row-of-cups.jpg", "warm-lamp.jpg", "safelight.jpg"] {
        let photo = tintpoint::photo::load(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures").join(name)).unwrap();
        let small = photo.frame.reduced(LONGEST);
        let (with, without) = (find(&photo.frame, &small, &request()), locate(&small, &request()));
        assert!(with.sheet.is_none() && with.lights.is_empty() && with.numbers.is_empty());
        assert_eq!((with.card, with.cups), (without.card, without.cups));
    }
}

#[test]
fn the_fixture_is_read_without_being_told() {
    let photo = tintpoint::photo::load(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/sheet.jpg")).unwrap();
    let asked = Request { ionic_strength: IonicStrength::new(0.3).unwrap(), temperature: Celsius::new(25.0).unwrap(), ..request() };
    let reading = tintpoint::measurement::read(&photo.frame, &asked);
    let sheet = reading.sheet.as_ref().unwrap();
    assert!(sheet.is_used && sheet.seen.len() == 4);
    assert_eq!((sheet.sheet.paper(), sheet.sheet.cups()), (Paper::A4, 4));
    assert_eq!(reading.cups.len(), 3);
    // What is in them, from fixtures/sheet.json.
    for (cup, ph) in reading.cups.iter().zip([4.6, 5.4, 6.2]) {
        assert!(cup.ph_low.or(cup.ph_high).is_some(), "cup {}: no answer, {:?}", cup.number, cup.reasons);
        assert!(cup.ph_low.is_none_or(|low| low <= ph) && cup.ph_high.is_none_or(|high| ph <= high), "cup {}: pH {ph}", cup.number);
    }
}
