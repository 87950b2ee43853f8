//! Expected drawings as SVG text. `TINTPOINT_REFRESH=1 cargo test --test golden` writes them anew and still fails, so that
//! nobody accepts a drawing without looking at it.

// A test that cannot do its work must stop.
#![allow(clippy::unwrap_used)]

mod baths;
mod readings;

use std::fs;
use std::path::Path;
use tintpoint::indicator::catalogue;
use tintpoint::measurement::reading::{Chance, CupReading, State};
use tintpoint::measurement::regions::{Circle, CupRegion};
use tintpoint::measurement::request::Limits;
use tintpoint::present::chart::{self, Subject};
use tintpoint::present::drawing::{Area, Drawing};
use tintpoint::present::{svg, symbol};
use tintpoint::quantity::Ph;

fn check(name: &str, drawing: &Drawing) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden").join(name);
    let drawn = svg::render(drawing);
    if std::env::var_os("TINTPOINT_REFRESH").is_some() {
        fs::write(&path, &drawn).unwrap();
        panic!("{name} was written anew: look at it, then run without TINTPOINT_REFRESH");
    }
    let expected = fs::read_to_string(&path).unwrap_or_else(|e| panic!("{name}: {e}"));
    let different = expected.lines().zip(drawn.lines()).position(|(a, b)| a != b);
    if let Some(line) = different {
        panic!(
            "{name} differs in line {}:\nexpected {}\ndrawn    {}",
            line + 1,
            expected.lines().nth(line).unwrap_or(""),
            drawn.lines().nth(line).unwrap_or("")
        );
    }
    assert_eq!(expected.lines().count(), drawn.lines().count(), "{name}: number of lines");
}

fn canvas(width: f64, height: f64) -> Drawing {
    Drawing { width, height, title: "test".to_owned(), items: Vec::new() }
}

fn cup(number: usize, state: State) -> CupReading {
    let region = CupRegion { liquid: Circle { x: 0.0, y: 0.0, radius: 10.0 }, rim: None, confidence: 1.0, face: None };
    CupReading { state, ..CupReading::unjudged(number, &region, "bromocresol-purple") }
}

fn limits() -> Limits {
    Limits { nearing: Ph::new(5.0).unwrap(), spent: Ph::new(5.5).unwrap() }
}

#[test]
fn symbols() {
    let mut drawing = canvas(200.0, 50.0);
    for (i, state) in [State::Fresh, State::Nearing, State::Spent, State::Unclear].into_iter().enumerate() {
        symbol::draw(&mut drawing, state, (25.0 + 50.0 * i as f64, 25.0), 20.0);
    }
    check("symbols.svg", &drawing);
}

/// The charts are compared with a pKa' and colours of their own, so that better tables do not change them.
const PKA: f64 = 6.1;
const CHIPS: [[u8; 3]; 3] = [[250, 240, 80], [150, 130, 160], [120, 50, 230]];

fn subject(limits: Option<Limits>) -> Subject<'static> {
    Subject { indicator: catalogue::find("bromocresol-purple").unwrap(), pka: PKA, limits, chips: &CHIPS }
}

#[test]
fn transition() {
    let mut drawing = canvas(900.0, 620.0);
    chart::transition::draw(&mut drawing, Area { x: 24.0, y: 20.0, w: 852.0, h: 590.0 }, &subject(None), &[]);
    check("transition.svg", &drawing);
}

/// A closed interval, an open one and a cup without a reading, each on curve and lane.
#[test]
fn lanes() {
    let closed = CupReading {
        ph: Some(5.3),
        lab: Some([70.0, 2.0, 30.0]),
        ph_low: Some(5.1),
        ph_high: Some(5.5),
        chance: Some(Chance { fresh: 0.03, nearing: 0.94, spent: 0.03 }),
        posterior: vec![(5.0, 0.0), (5.3, 2.5), (5.6, 0.0)],
        ..cup(1, State::Nearing)
    };
    let open = CupReading { ph_high: Some(4.9), posterior: vec![(2.0, 0.4), (4.5, 0.4), (5.0, 0.0)], ..cup(2, State::Fresh) };
    let cups = [closed, open, cup(3, State::Unclear)];
    let mut drawing = canvas(640.0, 880.0);
    let axis = chart::transition::draw(&mut drawing, Area { x: 10.0, y: 10.0, w: 620.0, h: 480.0 }, &subject(Some(limits())), &cups);
    chart::lanes::draw(
        &mut drawing,
        Area { x: 10.0, y: 500.0, w: 620.0, h: 300.0 },
        &axis,
        limits(),
        &cups.each_ref().map(chart::lanes::Lane::from),
    );
    check("lanes.svg", &drawing);
}

/// Two buffers that read, one beyond the turn and one that was left out.
#[test]
fn ladder() {
    use tintpoint::measurement::profile::{Evidence, Point, Profile};
    use tintpoint::quantity::{Celsius, Interval};
    let point = |cup: usize, ph: f64, read: Option<f64>, (low, high): (Option<f64>, Option<f64>), is_used: bool| Point {
        photo: 1,
        cup,
        ph,
        read,
        interval: Interval { low, high },
        is_used,
    };
    let points = vec![
        point(1, 4.01, None, (None, Some(4.9)), true),
        point(2, 5.6, Some(5.57), (Some(5.48), Some(5.66)), true),
        point(3, 6.1, Some(6.12), (Some(6.02), Some(6.22)), true),
        point(4, 6.6, Some(6.91), (Some(6.8), Some(7.02)), false),
    ];
    let indicator = catalogue::find("bromocresol-purple").unwrap();
    let evidence = Evidence { indicator, light: None, temperature: Celsius::STANDARD, photos: Vec::new() };
    let profile = Profile { date: None, camera: None, lot: None, note: None, evidence, points };
    check("ladder.svg", &chart::ladder::draw("bench-lamp", &profile, PKA));
}
