//! The photos in `fixtures/`: the renderer still makes them, and the program still reads them.
//!
//! With `TINTPOINT_REFRESH=1` they are written anew; that run fails too, so that nobody accepts a new picture by accident.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use serde_json::{Value, json};
use std::path::PathBuf;
use tintpoint::measurement::reading::{Reading, State};
use tintpoint::measurement::regions::{Circle, Rectangle};
use tintpoint::measurement::request::Request;
use tintpoint::photo::encode::jpeg;
use tintpoint::quantity::{Celsius, IonicStrength};
use tintpoint::scene::demo::{Demo, photos};
use tintpoint::scene::{Photograph, photograph};

/// The demo photos that are kept, small enough to travel with the source.
const KEPT: [&str; 5] = ["nearing.jpg", "row-of-cups.jpg", "warm-lamp.jpg", "safelight.jpg", "sheet.jpg"];
const QUALITY: u8 = 85;
/// Bytes that a fixture may have.
const LARGEST: usize = 120_000;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures")
}

fn kept() -> Vec<Demo> {
    let mut all: Vec<Demo> = photos().into_iter().filter(|demo| KEPT.contains(&demo.name)).collect();
    for demo in &mut all {
        (demo.options.width, demo.options.height) = (800, 600);
    }
    assert_eq!(all.len(), KEPT.len());
    all
}

fn place(v: f64) -> f64 {
    (10.0 * v).round() / 10.0
}

fn truth(demo: &Demo, shot: &Photograph) -> Value {
    let fine = |v: f64| (1e4 * v).round() / 1e4;
    json!({
        "photo": demo.name,
        "shows": demo.shows,
        "made": "computed from spectra by the demo renderer of this project (src/scene), 800 x 600; no real photo",
        "licence": "MIT OR Apache-2.0, as the project",
        "light": shot.truth.lamp,
        "light_kind": shot.truth.lamp_kind.name(),
        "sensor": shot.truth.camera,
        "ionic_strength": demo.options.medium.ionic_strength.value(),
        "temperature": demo.options.medium.temperature.value(),
        "card": shot.truth.card.as_ref().map(|card| json!({
            "area": card.area.map(place), "corners": card.corners.map(|(x, y)| [place(x), place(y)]), "reflectance": fine(card.reflectance),
        })),
        "cups": shot.truth.cups.iter().map(|cup| json!({
            "x": place(cup.centre.0), "y": place(cup.centre.1), "radius": place(cup.radius), "rim": place(cup.rim),
            "indicator": cup.indicator, "ph": cup.ph, "pka": fine(cup.pka), "base_fraction": fine(cup.base_fraction), "dose": cup.dose,
        })).collect::<Vec<_>>(),
    })
}

#[test]
fn renderer_still_makes_them() {
    let is_refresh = std::env::var_os("TINTPOINT_REFRESH").is_some();
    for demo in kept() {
        let shot = photograph(&demo.options);
        let bytes = jpeg(shot.width, shot.height, &shot.rgb, QUALITY).unwrap();
        let (picture, facts) = (folder().join(demo.name), folder().join(demo.name).with_extension("json"));
        if is_refresh {
            std::fs::write(&picture, &bytes).unwrap();
            std::fs::write(&facts, format!("{:#}\n", truth(&demo, &shot))).unwrap();
            continue;
        }
        let kept = std::fs::read(&picture).unwrap();
        assert!(kept.len() < LARGEST, "{} has {} bytes", demo.name, kept.len());
        let [was, is] = [&kept, &bytes].map(|bytes| image::load_from_memory(bytes).unwrap().to_rgb8());
        assert_eq!(was.dimensions(), is.dimensions());
        // Another platform's powers and sines may round a level differently here and there; JPEG spreads that over a block.
        let differing = was.as_raw().iter().zip(is.as_raw()).filter(|(a, b)| a.abs_diff(**b) > 2).count();
        assert!(differing < was.as_raw().len() / 500, "{}: {differing} values differ by more than two levels", demo.name);
        let facts: Value = serde_json::from_str(&std::fs::read_to_string(facts).unwrap()).unwrap();
        assert_eq!(facts, truth(&demo, &shot), "{}", demo.name);
    }
    assert!(!is_refresh, "fixtures were written anew; look at them, then run again without TINTPOINT_REFRESH");
}

/// Reads a fixture, told where card and cups are.
fn reading(name: &str) -> (Reading, Vec<Value>) {
    let facts: Value = serde_json::from_str(&std::fs::read_to_string(folder().join(name).with_extension("json")).unwrap()).unwrap();
    let number = |v: &Value| v.as_f64().unwrap();
    let card = facts["card"].as_object().map(|card| {
        let [x, y, w, h] = [0, 1, 2, 3].map(|i| number(&card["area"][i]).round());
        Rectangle { x, y, w, h }
    });
    let cups = facts["cups"].as_array().unwrap().clone();
    let request = Request {
        card,
        cups: cups.iter().map(|c| Circle { x: number(&c["x"]), y: number(&c["y"]), radius: number(&c["radius"]) }).collect(),
        ionic_strength: IonicStrength::new(number(&facts["ionic_strength"])).unwrap(),
        temperature: Celsius::new(number(&facts["temperature"])).unwrap(),
        ..Request::default()
    };
    let photo = tintpoint::photo::load(&folder().join(name)).unwrap();
    (tintpoint::measurement::read(&photo.frame, &request), cups)
}

#[test]
fn readings_cover_what_is_in_the_cups() {
    for name in ["nearing.jpg", "row-of-cups.jpg", "warm-lamp.jpg"] {
        let (reading, cups) = reading(name);
        assert_eq!(reading.cups.len(), cups.len());
        for (read, truth) in reading.cups.iter().zip(&cups) {
            let ph = truth["ph"].as_f64().unwrap();
            let (low, high) = (read.ph_low.unwrap_or(f64::NEG_INFINITY), read.ph_high.unwrap_or(f64::INFINITY));
            assert!(read.ph_low.or(read.ph_high).is_some(), "{name}, cup {}: no answer", read.number);
            assert!(low <= ph && ph <= high, "{name}, cup {}: {low} to {high}, truly {ph}", read.number);
            // An interval that says nothing would cover too. Inside the transition half a pH either side is the least worth having.
            let is_turning = (0.05..=0.95).contains(&truth["base_fraction"].as_f64().unwrap());
            assert!(!is_turning || high - low < 1.0, "{name}, cup {}: {low} to {high}", read.number);
            let wrong = if ph < 5.0 {
                State::Spent
            } else if ph >= 5.5 {
                State::Fresh
            } else {
                State::Unclear
            };
            assert!(wrong == State::Unclear || read.state != wrong, "{name}, cup {}: {:?} at pH {ph}", read.number, read.state);
        }
    }
}

#[test]
fn safelight_is_not_judged() {
    let (reading, _) = reading("safelight.jpg");
    assert!(reading.cups.iter().all(|cup| cup.state == State::Unclear), "{:?}", reading.cups);
}

#[test]
fn safelight_is_named() {
    let (reading, _) = reading("safelight.jpg");
    let codes: Vec<&str> = reading.warnings.iter().chain(reading.cups.iter().flat_map(|cup| &cup.reasons)).map(|n| n.code()).collect();
    assert!(codes.contains(&"safelight"), "{codes:?}");
}
