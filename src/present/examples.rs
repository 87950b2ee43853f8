//! Constructed readings for tests; the figures are invented and agree with each other.

use super::{Entry, Failure};
use crate::measurement::reading::{Chance, CupReading, LightReport, PanelReading, Reading, State};
use crate::measurement::regions::{CardRegion, Circle, CupRegion, Rectangle};
use crate::measurement::request::Limits;
use crate::measurement::warning::Notice;
use crate::quantity::Ph;

pub(crate) fn entry(photo: &str, reading: Reading) -> Entry {
    Entry { photo: photo.to_owned(), taken: Some("2031-04-05T18:20:00".to_owned()), camera: None, outcome: Ok(reading) }
}

pub(crate) fn failed(photo: &str) -> Entry {
    let failure = Failure {
        code: "damaged".to_owned(),
        message: "not a readable picture".to_owned(),
        hint: Some("export it as JPEG or PNG and read that".to_owned()),
    };
    Entry { photo: photo.to_owned(), taken: None, camera: None, outcome: Err(failure) }
}

pub(crate) fn empty() -> Reading {
    let area = Rectangle { x: 700.0, y: 80.0, w: 150.0, h: 150.0 };
    Reading {
        width: 1000,
        height: 750,
        card: Some(CardRegion { area, corners: [(690.0, 70.0), (860.0, 75.0), (862.0, 242.0), (688.0, 240.0)], confidence: 0.9 }),
        sheet: None,
        quality: crate::measurement::quality::Quality::default(),
        light: LightReport { told: None, weights: vec![("daylight", 0.1), ("tungsten", 0.9)] },
        warnings: Vec::new(),
        cups: Vec::new(),
        panel: None,
        limits: Limits { nearing: Ph::new(5.0).unwrap(), spent: Ph::new(5.5).unwrap() },
    }
}

pub(crate) fn no_cup() -> Reading {
    Reading { warnings: vec![Notice::CupMissing], ..empty() }
}

fn cup(number: usize, x: f64) -> CupReading {
    let region = CupRegion { liquid: Circle { x, y: 480.0, radius: 90.0 }, rim: Some(120.0), confidence: 0.8, face: None };
    CupReading { rings: vec![(10.0, 30.0), (30.0, 50.0), (50.0, 70.0)], ..CupReading::unjudged(number, &region, "bromocresol-purple") }
}

/// Normal density around `mean`, every 0.05 pH.
fn bell(mean: f64, sd: f64) -> Vec<(f64, f64)> {
    (0..=160)
        .map(|i| 2.0 + 0.05 * f64::from(i))
        .map(|ph| (ph, (-0.5 * ((ph - mean) / sd).powi(2)).exp() / (sd * std::f64::consts::TAU.sqrt())))
        .collect()
}

fn judged(number: usize, x: f64, ph: f64, half: f64, state: State, chance: [f64; 3]) -> CupReading {
    let [fresh, nearing, spent] = chance;
    CupReading {
        ph: Some(ph),
        ph_low: Some(ph - half),
        ph_high: Some(ph + half),
        lab: Some([60.0, 5.0, 30.0]),
        dye_hue: Some(20.0),
        density: Some([0.1, 0.2, 0.7]),
        base_fraction: Some(0.2),
        dose: Some(1.1),
        chance: Some(Chance { fresh, nearing, spent }),
        state,
        posterior: bell(ph, half / 1.96),
        ..cup(number, x)
    }
}

pub(crate) fn fresh_cup() -> Reading {
    let fresh = CupReading {
        ph_high: Some(4.88),
        lab: Some([85.0, -6.0, 70.0]),
        chance: Some(Chance { fresh: 0.96, nearing: 0.04, spent: 0.001 }),
        state: State::Fresh,
        reasons: vec![Notice::BoundOnly, Notice::ReserveUnseen],
        posterior: (0..=60).map(|i| 2.0 + 0.05 * f64::from(i)).map(|ph| (ph, 0.36 / (1.0 + ((ph - 4.7) / 0.08).exp()))).collect(),
        ..cup(1, 300.0)
    };
    Reading { cups: vec![fresh], ..empty() }
}

pub(crate) fn three_cups() -> Reading {
    let unclear = CupReading { reasons: vec![Notice::TooDeep { dose: 8.2 }], ..cup(3, 780.0) };
    Reading {
        warnings: vec![Notice::CardShaded { ratio: 1.3 }],
        cups: vec![
            judged(1, 220.0, 5.93, 0.21, State::Spent, [0.0, 0.01, 0.99]),
            judged(2, 500.0, 5.31, 0.17, State::Nearing, [0.02, 0.95, 0.03]),
            unclear,
        ],
        ..empty()
    }
}

/// Three cups of one bath.
pub(crate) fn panel() -> Reading {
    let panel = PanelReading {
        cups: vec![1, 2],
        ph: Some(5.4),
        ph_low: Some(5.25),
        ph_high: Some(5.56),
        chance: Some(Chance { fresh: 0.001, nearing: 0.85, spent: 0.149 }),
        state: State::Nearing,
        reasons: Vec::new(),
        posterior: bell(5.4, 0.08),
    };
    Reading { panel: Some(panel), ..three_cups() }
}

/// Cups that cannot hold the same bath.
pub(crate) fn contradiction() -> Reading {
    let reasons = vec![Notice::PanelContradicts { cup: Some(2), distance: 30.0 }];
    let panel = panel().panel.map(|panel| PanelReading {
        ph: None,
        ph_low: None,
        ph_high: None,
        chance: None,
        state: State::Unclear,
        reasons,
        ..panel
    });
    Reading { panel, ..three_cups() }
}
