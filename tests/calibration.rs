//! From buffers to readings: photos of the crate's own simulation, lots of dye of their own, places told.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]
#![allow(clippy::print_stdout, reason = "figures are shown with --nocapture")]

#[path = "calibration/file.rs"]
mod file;
#[path = "calibration/ladder.rs"]
mod ladder;
#[path = "calibration/own.rs"]
mod own;

use ladder::{errors, rms};
use std::sync::Arc;
use tintpoint::calibration::{self, CalibrationError, Finding, Rung};
use tintpoint::colour::space::PhotoSpace;
use tintpoint::indicator::{Indicator, catalogue};
use tintpoint::measurement::frame::{Frame, Orientation, Samples};
use tintpoint::measurement::profile::{Calibrated, Profile};
use tintpoint::measurement::reading::Reading;
use tintpoint::measurement::regions::{Circle, Rectangle};
use tintpoint::measurement::request::{Contents, Request};
use tintpoint::measurement::{read, survey};
use tintpoint::quantity::{Celsius, IonicStrength, Ph, Reflectance};
use tintpoint::scene::dye::{Lot, Medium, Sample};
use tintpoint::scene::options::{Level, Options};
use tintpoint::scene::random::Random;
use tintpoint::scene::{Photograph, photograph};

/// Six buffers across the transition of bromocresol purple.
const BUFFERS: [f64; 6] = [4.0, 5.2, 5.7, 6.1, 6.6, 7.4];

fn purple() -> &'static Indicator {
    catalogue::find("bromocresol-purple").unwrap()
}

fn medium() -> Medium {
    Medium { ionic_strength: IonicStrength::new(0.1).unwrap(), temperature: Celsius::new(22.0).unwrap() }
}

/// One table, lamp, camera and bottle of dye.
struct Session {
    lot: Lot,
    base: Options,
    random: Random,
}

impl Session {
    fn new(seed: u64) -> Self {
        let mut random = Random::new(seed);
        let lot = Lot::drawn(purple(), &mut random);
        Session { lot, base: Options::drawn(Level::Easy, Vec::new(), medium(), seed), random }
    }

    /// A photo of cups of these pH.
    fn photo(&mut self, all: &[f64]) -> Photograph {
        let samples = all.iter().map(|ph| Sample {
            lot: self.lot.clone(),
            ph: Ph::new(*ph).unwrap(),
            dose: self.random.between(0.8, 1.2),
            stain: 0.0,
        });
        let samples = samples.collect();
        photograph(&Options { width: 800, height: 600, samples, seed: self.random.bits(), ..self.base.clone() })
    }
}

fn frame(photo: &Photograph) -> Frame {
    Frame::new(photo.width, photo.height, Orientation::Upright, Samples::Eight(photo.rgb.clone().into()), PhotoSpace::srgb()).unwrap()
}

fn request(photo: &Photograph, calibrated: Option<Arc<Calibrated>>) -> Request {
    let card = photo.truth.card.as_ref().map(|card| {
        let [x, y, w, h] = card.area.map(f64::round);
        Rectangle { x, y, w, h }
    });
    Request {
        contents: Contents::of(purple()),
        card,
        cups: photo.truth.cups.iter().map(|cup| Circle { x: cup.centre.0, y: cup.centre.1, radius: cup.radius }).collect(),
        ionic_strength: medium().ionic_strength,
        temperature: medium().temperature,
        calibrated,
        ..Request::default()
    }
}

fn reading(photo: &Photograph, calibrated: Option<Arc<Calibrated>>) -> Reading {
    read(&frame(photo), &request(photo, calibrated))
}

fn rung(ph: f64) -> Rung {
    Rung { ph: Ph::new(ph).unwrap(), sd: 0.02, ionic_strength: medium().ionic_strength }
}

/// Calibrates on one photo whose cups were told to have these pH.
fn calibrate(photo: &Photograph, told: &[Rung], is_told: bool) -> Result<(Profile, Calibrated, Vec<Finding>), CalibrationError> {
    let frame = frame(photo);
    let survey = survey(&frame, &request(photo, None));
    let seen = [(frame.space(), &survey)];
    let reflectance = Reflectance::new(0.18).unwrap();
    let (mut evidence, mut findings) = calibration::evidence(purple(), None, medium().temperature, reflectance, &seen, told, is_told)?;
    let (calibrated, points, more) = calibration::calibrate(&mut evidence)?;
    findings.extend(more);
    Ok((Profile { date: None, camera: None, lot: None, note: None, evidence, points }, calibrated, findings))
}

fn rungs(all: &[f64]) -> Vec<Rung> {
    all.iter().map(|ph| rung(*ph)).collect()
}
