//! Rows of cups: dyes of their own, plain water, one bath in several cups.
//!
//! The photos come from the crate's own spectral simulation.

use super::purple;
use tintpoint::colour::space::PhotoSpace;
use tintpoint::colour::spectrum::Spectrum;
use tintpoint::indicator::{Indicator, catalogue};
use tintpoint::measurement::frame::{Frame, Orientation, Samples};
use tintpoint::measurement::read;
use tintpoint::measurement::reading::{Reading, State};
use tintpoint::measurement::regions::{Circle, Rectangle};
use tintpoint::measurement::request::{Contents, Request};
use tintpoint::quantity::{Celsius, IonicStrength, Ph};
use tintpoint::scene::dye::{Lot, Medium, Sample};
use tintpoint::scene::options::{Level, Options};
use tintpoint::scene::random::Random;
use tintpoint::scene::vessel::Ware;
use tintpoint::scene::{Photograph, photograph};

fn dye(name: &str) -> &'static Indicator {
    catalogue::find(name).unwrap()
}

fn medium() -> Medium {
    Medium { ionic_strength: IonicStrength::new(0.1).unwrap(), temperature: Celsius::new(22.0).unwrap() }
}

/// Cups with these dyes at these pH and doses; a dose of nought is water.
fn options(cups: &[(&'static Indicator, f64, f64)], seed: u64) -> Options {
    let mut random = Random::new(seed);
    let mut lots: Vec<Lot> = Vec::new();
    let samples = cups
        .iter()
        .map(|(dye, ph, dose)| {
            if !lots.iter().any(|lot| lot.indicator.name == dye.name) {
                lots.push(Lot::drawn(dye, &mut random));
            }
            let lot = lots.iter().find(|lot| lot.indicator.name == dye.name).unwrap().clone();
            Sample { lot, ph: Ph::new(*ph).unwrap(), dose: *dose, stain: 0.0 }
        })
        .collect();
    Options { width: 800, height: 600, ..Options::drawn(Level::Easy, samples, medium(), seed) }
}

fn read_photo(photo: &Photograph, contents: Contents) -> Reading {
    let frame =
        Frame::new(photo.width, photo.height, Orientation::Upright, Samples::Eight(photo.rgb.clone().into()), PhotoSpace::srgb()).unwrap();
    let [x, y, w, h] = photo.truth.card.as_ref().unwrap().area.map(f64::round);
    let request = Request {
        contents,
        card: Some(Rectangle { x, y, w, h }),
        cups: photo.truth.cups.iter().map(|cup| Circle { x: cup.centre.0, y: cup.centre.1, radius: cup.radius }).collect(),
        ionic_strength: medium().ionic_strength,
        temperature: medium().temperature,
        ..Request::default()
    };
    read(&frame, &request)
}

fn has(reading: &Reading, cup: usize, code: &str) -> bool {
    reading.cups[cup - 1].reasons.iter().any(|notice| notice.code() == code)
}

fn panel_dyes() -> [&'static Indicator; 3] {
    ["bromophenol-blue", "bromocresol-green", "bromocresol-purple"].map(dye)
}

fn panel_contents() -> Contents {
    let others = panel_dyes().into_iter().enumerate().map(|(i, dye)| (i + 1, dye)).collect();
    Contents { others, count: Some(3), is_panel: true, ..Contents::of(purple()) }
}

// Eight panels do not measure the error, which is about 0.15; they show that nothing is broken.
#[test]
fn a_panel_follows_the_bath_over_four_ph_units() {
    let (mut closed, mut covered, mut squares) = (0, 0, 0.0);
    for (i, ph) in [3.3, 3.8, 4.3, 4.8, 5.3, 5.8, 6.3, 6.8].into_iter().enumerate() {
        let cups = panel_dyes().map(|dye| (dye, ph, 1.1));
        let reading = read_photo(&photograph(&options(&cups, 500 + i as u64)), panel_contents());
        let panel = reading.panel.unwrap();
        if let Some(found) = panel.ph {
            closed += 1;
            squares += (found - ph).powi(2);
        }
        covered += usize::from(panel.ph_low.is_none_or(|low| low <= ph) && panel.ph_high.is_none_or(|high| ph <= high));
        assert!(ph < 5.5 || panel.state != State::Fresh, "pH {ph} is spent");
        assert!(ph > 4.7 || panel.state == State::Fresh, "pH {ph} is fresh, and a panel sees it: {panel:?}");
    }
    let rms = (squares / f64::from(closed)).sqrt();
    assert!(closed >= 7 && covered >= 7 && rms < 0.2, "{closed} with a pH, {covered} covered, RMS {rms}");
}

#[test]
fn a_panel_of_two_baths_contradicts_itself() {
    let [blue, green, purple] = panel_dyes();
    let cups = [(blue, 4.0, 1.1), (green, 4.0, 1.1), (purple, 6.4, 1.1)];
    let panel = read_photo(&photograph(&options(&cups, 520)), panel_contents()).panel.unwrap();
    assert_eq!((panel.ph, panel.state), (None, State::Unclear));
    assert_eq!(panel.reasons.iter().map(|notice| notice.code()).collect::<Vec<_>>(), ["panel-contradicts"]);
}

#[test]
fn a_photo_without_a_panel_says_so() {
    let cups = [(purple(), 5.4, 1.0)];
    let photo = photograph(&options(&cups, 530));
    assert!(read_photo(&photo, Contents::of(purple())).panel.is_none());
    let panel = read_photo(&photo, Contents { is_panel: true, ..Contents::of(purple()) }).panel.unwrap();
    assert_eq!(panel.cups, [1]);
}

#[test]
fn named_cups_that_are_not_there_refuse_the_photo() {
    let cups = [(purple(), 5.4, 1.0), (purple(), 5.9, 1.0)];
    let reading = read_photo(&photograph(&options(&cups, 540)), panel_contents());
    assert!(reading.warnings.iter().any(|notice| notice.code() == "cup-count"));
    assert!(reading.cups.iter().all(|cup| cup.chance.is_none()));
    assert!(reading.panel.unwrap().chance.is_none());
}

#[test]
fn too_many_labels_are_left_off_and_the_cups_judged() {
    let cups = [(purple(), 5.4, 1.0), (purple(), 5.9, 1.0)];
    let photo = photograph(&options(&cups, 550));
    let labels = |count: usize| (1..=count).map(|n| (n, format!("tray {n}"))).collect::<Vec<_>>();
    let right = read_photo(&photo, Contents { labels: labels(2), labelled: Some(2), ..Contents::of(purple()) });
    assert_eq!(right.cups[1].label.as_deref(), Some("tray 2"));
    let wrong = read_photo(&photo, Contents { labels: labels(3), labelled: Some(3), ..Contents::of(purple()) });
    assert!(wrong.warnings.iter().any(|notice| notice.code() == "label-count"));
    assert!(wrong.cups.iter().all(|cup| cup.label.is_none() && cup.chance.is_some()));
}

/// Glass on a bare table of a plain tint: nothing in the photo is white.
fn on_bare_table(cups: &[(&'static Indicator, f64, f64)], seed: u64) -> Photograph {
    let mut options = options(cups, seed);
    options.paper = false;
    options.vessel.ware = Ware::Glass;
    // Light wood: a third of the light, redder than blue.
    options.vessel.wall = Spectrum::from_fn(|nm| 0.33 + 0.0006 * (nm - 550.0));
    photograph(&options)
}

// What a row without any white gains by its cup of water: measured on ten photos, errors where a pH was given.
#[test]
fn water_stands_in_for_missing_white() {
    let (mut with, mut without) = (Vec::new(), Vec::new());
    for seed in 0..10 {
        let phs = [5.2, 5.7, 6.1].map(|ph| ph + 0.05 * seed as f64);
        let cups = [(purple(), 7.0, 0.0), (purple(), phs[0], 1.0), (purple(), phs[1], 1.3), (purple(), phs[2], 0.8)];
        let photo = on_bare_table(&cups, 560 + seed);
        for (blanks, errors) in [(vec![1], &mut with), (vec![], &mut without)] {
            let reading = read_photo(&photo, Contents { blanks, ..Contents::of(purple()) });
            errors.extend(reading.cups[1..].iter().zip(phs).map(|(cup, ph)| cup.ph.map(|found| found - ph)));
        }
    }
    let rms = |errors: &[Option<f64>]| {
        let given: Vec<f64> = errors.iter().flatten().map(|e| e * e).collect();
        (given.len(), (given.iter().sum::<f64>() / given.len().max(1) as f64).sqrt())
    };
    let ((count, error), (count_without, error_without)) = (rms(&with), rms(&without));
    println!("with water {count} of 30, RMS {error:.3}; without {count_without}, RMS {error_without:.3}");
    assert!(count >= 24 && count > count_without, "{count} with water, {count_without} without");
    assert!(error < 0.25, "{error}");
}

#[test]
fn water_that_is_coloured_is_not_white() {
    let cups = [(purple(), 6.6, 0.8), (purple(), 5.4, 1.0), (purple(), 5.9, 1.0)];
    let photo = photograph(&options(&cups, 580));
    let reading = read_photo(&photo, Contents { blanks: vec![1], ..Contents::of(purple()) });
    assert!(has(&reading, 1, "blank-coloured") && reading.cups[0].chance.is_none());
    // The others read as if it had been covered up.
    assert!(reading.cups[1].chance.is_some());
    let clear = [(purple(), 6.6, 0.0), (purple(), 5.4, 1.0), (purple(), 5.9, 1.0)];
    let reading = read_photo(&photograph(&options(&clear, 580)), Contents { blanks: vec![1], ..Contents::of(purple()) });
    assert!(has(&reading, 1, "blank") && reading.cups[0].ph.is_none() && reading.cups[0].state == State::Unclear);
}
