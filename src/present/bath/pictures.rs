//! A bath's life as pictures: readings, reserve and load over time; its place on the neutralisation curve; both on one page.

use super::costs::{Account, Terms};
use super::judged::{Judged, judge_life, state};
use super::{costs, words};
use crate::indicator::catalogue;
use crate::logbook::age::DAY;
use crate::logbook::ledger::Bath;
use crate::logbook::life::{Change, Life};
use crate::measurement::reading::State;
use crate::present::chart::history::{self, Dot, History, Share};
use crate::present::chart::neutralisation::Place;
use crate::present::drawing::Drawing;
use crate::present::html;
use crate::present::mixing::picture;
use crate::present::svg::{self, escaped};
use crate::present::words::printable;
use crate::quantity::{Interval, Money};
use std::fmt::Write as _;

/// Words under the axis of time.
const TICKS: i64 = 5;

/// Readings, share of the reserve used and load of a bath over its time; `date` writes a time as a date.
#[must_use]
pub fn trend(bath: &Bath, judged: &Judged, now: i64, date: &dyn Fn(i64) -> String) -> Drawing {
    let life = &judged.life;
    let day = |at: i64| (at - life.mixed) as f64 / DAY;
    let last = life.steps.iter().map(|step| step.at).chain([now]).max().unwrap_or(now).max(life.mixed + 1);
    let ticks = (0..=TICKS).map(|k| life.mixed + (last - life.mixed) * k / TICKS).map(|at| (day(at), date(at))).collect();
    let readings = bath.readings().map(|(entry, reading)| Dot {
        at: day(entry.happened.seconds()),
        state: reading.state.into(),
        ph: Interval { low: reading.ph_low, high: reading.ph_high },
        likely: reading.ph,
    });
    let mut carried = 0.0;
    let loads = life.steps.iter().filter_map(|step| {
        let Change::Load(load) = &step.change else { return None };
        carried += load.count * life.pieces.get(load.piece)?.carry_over;
        Some((day(step.at), carried))
    });
    history::draw(&History {
        name: printable(&bath.start.name),
        span: (0.0, day(last)),
        ticks,
        limits: judged.limits,
        readings: readings.collect(),
        reserve: reserve(life, judged, now).into_iter().map(|share| Share { at: day(share.0), ..share.1 }).collect(),
        loads: loads.collect(),
        load_unit: "ml of developer carried in".to_owned(),
    })
}

/// Share used after each step, as it was known then.
fn reserve(life: &Life, judged: &Judged, now: i64) -> Vec<(i64, Share)> {
    let after = |count: usize, at: i64| {
        let until = Life { steps: life.steps[..count].to_vec(), ..life.clone() };
        let used = judge_life(until, at, judged.limits, None).ok()?.judgement.used;
        Some((at, Share { at: 0.0, low: used.low, likely: used.likely, high: used.high }))
    };
    let steps = life.steps.iter().enumerate().filter_map(|(k, step)| after(k + 1, step.at));
    let mut shares: Vec<(i64, Share)> = after(0, life.mixed).into_iter().chain(steps).collect();
    shares.extend(after(life.steps.len(), now));
    shares
}

/// The recipe's neutralisation curve with the place of the bath on it; why there is none where the chemistry refuses.
///
/// # Errors
/// What the chemistry says.
pub fn curve(bath: &Bath, judged: &Judged) -> Result<Drawing, String> {
    let Judged { life, judgement, limits } = judged;
    let indicator = bath.start.indicator.as_deref().and_then(catalogue::find);
    let place = Place {
        name: printable(&bath.start.name),
        state: state(bath, Some(judged)),
        ph: Interval { low: Some(judgement.ph.low), high: Some(judgement.ph.high) },
        likely: Some(judgement.ph.likely),
        counted: Interval::OPEN,
    };
    let terms = picture::Terms { limits: *limits, temperature: life.temperature, indicator };
    picture::drawing(&words::recipe(&bath.start.recipe), &life.fresh, terms, Some(place)).map_err(|error| error.to_string())
}

/// What the bath has cost, by the price that was written down.
fn cost(bath: &Bath) -> String {
    let currency = bath.start.paid.as_ref().map_or("", |paid| &paid.currency);
    let account = Money::new(0.0).and_then(|nothing| Account::of(&[bath], Terms::of_record(currency, nothing)));
    account.map_or_else(|error| format!("<p>{}</p>\n", escaped(&error.to_string())), |account| costs::part(&account))
}

/// One bath on a page that needs nothing else: the sentences, the trend, the curve, what it cost.
#[must_use]
pub fn page(bath: &Bath, judged: &Judged, now: i64, date: &dyn Fn(i64) -> String) -> String {
    let verdict: State = state(bath, Some(judged));
    let mut out = format!("<p class=\"state\">{}</p>\n<ul>\n", crate::present::words::state(verdict));
    for sentence in [words::start(&bath.start)].into_iter().chain(judged.sentences(date)) {
        let _ = writeln!(out, "<li>{}</li>", escaped(&sentence));
    }
    let _ = writeln!(out, "</ul>\n<figure>{}</figure>", svg::inline(&trend(bath, judged, now, date)));
    match curve(bath, judged) {
        Ok(curve) => {
            let _ = writeln!(out, "<figure>{}</figure>", svg::inline(&curve));
        }
        Err(why) => {
            let _ = writeln!(out, "<p>{}</p>", escaped(&why));
        }
    }
    out.push_str(&cost(bath));
    html::alone(&format!("Stop bath {}", bath.start.name), &out)
}
