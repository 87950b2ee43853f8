//! Drawings about a bath: its neutralisation curve and its history.

use super::{CHIPS, PKA, check, limits};
use tintpoint::indicator::catalogue;
use tintpoint::measurement::reading::State;
use tintpoint::measurement::request::Limits;
use tintpoint::present::chart::history::{self, Dot, History, Share};
use tintpoint::present::chart::neutralisation::{self, Dye, Neutralisation, Place};
use tintpoint::present::drawing::{Anchor, Area, Drawing, Item};
use tintpoint::present::font;
use tintpoint::quantity::{Interval, Ph};

fn interval(low: Option<f64>, high: Option<f64>) -> Interval {
    Interval { low, high }
}

/// A weak acid of pK 4.76 and 200 meq/l without salt effect, so that better constants do not change the drawing.
fn curve() -> Vec<(f64, f64)> {
    (1..=99).map(|i| f64::from(i) / 100.0).map(|share| (200.0 * share, 4.76 + (share / (1.0 - share)).log10())).collect()
}

fn subject(place: Option<Place>) -> Neutralisation<'static> {
    let dye = Dye { indicator: catalogue::find("bromocresol-purple").unwrap(), pka: PKA, chips: &CHIPS };
    Neutralisation { recipe: "acetic acid 1.2 %".to_owned(), curve: curve(), reserve: 169.2, limits: limits(), dye: Some(dye), place }
}

fn place() -> Place {
    Place {
        name: "tray one, last reading".to_owned(),
        state: State::Fresh,
        ph: interval(Some(4.4), Some(4.9)),
        likely: Some(4.7),
        counted: interval(Some(80.0), Some(120.0)),
    }
}

fn history() -> History {
    let dot = |at, state, low, likely, high| Dot { at, state, ph: interval(low, high), likely };
    History {
        name: "tray one, mixed 2026-11-02".to_owned(),
        span: (0.0, 20.0),
        ticks: (0..=20).map(|day| (f64::from(day), format!("{} Nov", 2 + day))).collect(),
        limits: limits(),
        readings: vec![
            dot(0.2, State::Fresh, None, None, Some(4.9)),
            dot(5.0, State::Fresh, Some(4.1), Some(4.5), Some(4.8)),
            dot(9.0, State::Unclear, None, None, None),
            dot(14.0, State::Nearing, Some(5.0), Some(5.2), Some(5.5)),
            dot(19.5, State::Spent, Some(6.4), None, None),
        ],
        reserve: vec![
            Share { at: 0.0, low: 0.0, likely: 0.0, high: 0.0 },
            Share { at: 5.0, low: 0.2, likely: 0.3, high: 0.45 },
            Share { at: 14.0, low: 0.7, likely: 0.9, high: 1.1 },
            Share { at: 20.0, low: 1.0, likely: 1.25, high: 1.5 },
        ],
        loads: vec![(1.0, 20.0), (4.0, 55.0), (12.0, 150.0), (18.0, 210.0)],
        load_unit: "meq/l".to_owned(),
    }
}

/// The box of each line of words, at the height of capitals and figures.
fn boxes(drawing: &Drawing) -> Vec<(Area, String)> {
    let area = |words: &tintpoint::present::drawing::Words| {
        let w = font::width(&words.text, words.size, words.is_bold);
        let x = match words.anchor {
            Anchor::Start => words.at.0,
            Anchor::Middle => words.at.0 - 0.5 * w,
            Anchor::End => words.at.0 - w,
        };
        Area { x, y: words.at.1 - 0.75 * words.size, w, h: 0.8 * words.size }
    };
    drawing
        .items
        .iter()
        .filter_map(|item| if let Item::Words(words) = item { Some((area(words), words.text.clone())) } else { None })
        .collect()
}

fn assert_words_apart(drawing: &Drawing) {
    let all = boxes(drawing);
    for (i, (one, text)) in all.iter().enumerate() {
        let is_inside = one.x >= 0.0 && one.x + one.w <= drawing.width && one.y >= 0.0 && one.y + one.h <= drawing.height;
        assert!(is_inside, "`{text}` leaves the picture `{}`", drawing.title);
        for (other, second) in &all[i + 1..] {
            assert!(!one.overlaps(*other), "`{text}` touches `{second}` in `{}`", drawing.title);
        }
    }
}

#[test]
fn neutralisation_curve() {
    let drawing = neutralisation::draw(&subject(Some(place())));
    assert_words_apart(&drawing);
    check("neutralisation.svg", &drawing);
}

#[test]
fn history_of_a_bath() {
    let drawing = history::draw(&history());
    assert_words_apart(&drawing);
    check("history.svg", &drawing);
}

// Any recipe, indicator, limit and place: long names, limits that touch, curves that start high.
#[test]
fn words_of_a_curve_stay_apart() {
    let ph = |value| Ph::new(value).unwrap();
    let places = [
        None,
        Some(place()),
        Some(Place { ph: interval(None, Some(5.0)), likely: None, ..place() }),
        Some(Place { ph: interval(Some(6.5), None), likely: None, state: State::Spent, counted: Interval::OPEN, ..place() }),
        Some(Place { ph: Interval::OPEN, likely: None, state: State::Unclear, ..place() }),
        Some(Place { name: "a bath with a very long name on the third shelf of the cellar, read by two people".to_owned(), ..place() }),
    ];
    for indicator in catalogue::all() {
        for (nearing, spent) in [(5.0, 5.5), (5.2, 5.2), (3.0, 7.5), (4.0, 9.0)] {
            for place in &places {
                for lift in [0.0, 1.8] {
                    let dye = Dye { indicator, pka: indicator.pka.value(), chips: &CHIPS };
                    let raised = curve().into_iter().map(|(alkali, ph)| (10.0 * alkali, ph + lift)).collect();
                    let limits = Limits { nearing: ph(nearing), spent: ph(spent) };
                    let all =
                        Neutralisation { dye: Some(dye), place: place.clone(), limits, curve: raised, reserve: 1692.0, ..subject(None) };
                    assert_words_apart(&neutralisation::draw(&all));
                }
            }
        }
    }
    let long = Neutralisation { recipe: "citric acid, monohydrate ".repeat(10), dye: None, ..subject(Some(place())) };
    assert_words_apart(&neutralisation::draw(&long));
}

#[test]
fn words_of_a_history_stay_apart() {
    let full = history();
    let many = (0..400).map(|i| Dot { at: f64::from(i) / 20.0, ..full.readings[1].clone() }).collect();
    for odd in [
        History { readings: Vec::new(), reserve: Vec::new(), loads: Vec::new(), ..full.clone() },
        History { span: (3.0, 3.0), ..full.clone() },
        History { readings: many, loads: vec![(1.0, 1e6)], ..full.clone() },
        History {
            limits: Limits { nearing: Ph::new(2.0).unwrap(), spent: Ph::new(11.0).unwrap() },
            name: "tray ".repeat(60),
            ..full.clone()
        },
        History { reserve: vec![Share { at: 1.0, low: 0.0, likely: 5.0, high: 9.0 }], loads: vec![(1.0, f64::NAN)], ..full },
    ] {
        assert_words_apart(&history::draw(&odd));
    }
}
