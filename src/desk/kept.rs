//! The reading of a photo as the logbook keeps it.

use crate::logbook::event::{Reading, Word};
use crate::measurement::reading::{CupReading, State};
use crate::present::Entry;
use crate::present::bath::codes;

/// Why there is no reading to keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoReading {
    /// No cup has that number.
    #[error("the photo has no cup {0}")]
    NoCup(usize),
    /// There are so many cups, and none was named.
    #[error("the photo has {0} cups, and none was named")]
    WhichCup(usize),
}

/// The reading of the cup that was named, else of the panel, else of the only cup, with its kind of light and without the photo;
/// `ionic_strength` is what it assumed, mol/l.
///
/// # Errors
/// [`NoReading`] when there is no such cup, or more than one.
pub fn reading(entry: &Entry, cup: Option<usize>, ionic_strength: f64) -> Result<Reading, NoReading> {
    let Ok(read) = &entry.outcome else { return Ok(blank(State::Unclear, ionic_strength)) };
    let blank = |state| Reading {
        light: read.light.told.map(str::to_owned).or_else(|| heaviest(&read.light.weights)),
        ..blank(state, ionic_strength)
    };
    let of_cup = |cup: &CupReading| Reading {
        ph: cup.ph,
        ph_low: cup.ph_low,
        ph_high: cup.ph_high,
        reasons: codes(cup.reasons.iter().chain(&read.warnings)),
        indicator: Some(cup.indicator.to_owned()),
        ..blank(cup.state)
    };
    match (cup, &read.panel, read.cups.as_slice()) {
        (Some(number), _, cups) => cups.iter().find(|cup| cup.number == number).map(of_cup).ok_or(NoReading::NoCup(number)),
        (None, Some(panel), _) => Ok(Reading {
            ph: panel.ph,
            ph_low: panel.ph_low,
            ph_high: panel.ph_high,
            reasons: codes(panel.reasons.iter().chain(&read.warnings)),
            ..blank(panel.state)
        }),
        (None, None, [cup]) => Ok(of_cup(cup)),
        (None, None, []) => Ok(Reading { reasons: codes(&read.warnings), ..blank(State::Unclear) }),
        (None, None, cups) => Err(NoReading::WhichCup(cups.len())),
    }
}

/// The kind of light that explains the photo best.
fn heaviest(weights: &[(&'static str, f64)]) -> Option<String> {
    weights.iter().max_by(|(_, a), (_, b)| a.total_cmp(b)).map(|(name, _)| (*name).to_owned())
}

fn blank(state: State, ionic_strength: f64) -> Reading {
    Reading {
        ph: None,
        ph_low: None,
        ph_high: None,
        state: Word::from(state),
        reasons: Vec::new(),
        light: None,
        means: "photo".to_owned(),
        indicator: None,
        ionic_strength: Some(ionic_strength),
        photo: None,
    }
}
