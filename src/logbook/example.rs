//! Lives for the tests of this module.

use super::forecast::Kind;
use super::judge::Question;
use super::life::{AcidKind, Change, DEFAULT_SPREAD, Developer, Keeping, Life, Load, Piece, Reading, STRENGTH_SPREAD, Salt, Step};
use crate::chemistry::{bath, developer, powder};
use crate::measurement::request::Limits;
use crate::quantity::{Celsius, IonicStrength, Ph};

/// Rolls in film developer 1+1.
pub(super) const ROLLS: Kind = Kind { piece: 0, developer: 0 };
/// Sheets in paper developer 1+2.
pub(super) const SHEETS: Kind = Kind { piece: 1, developer: 1 };

pub(super) fn ph(value: f64) -> Ph {
    Ph::new(value).unwrap()
}

/// A litre of citric bath, 15 g/l, with film and paper.
pub(super) fn citric() -> Life {
    let developer =
        |name: &str| Developer { name: name.to_owned(), liquid: developer::find(name).unwrap().liquid(), spread: DEFAULT_SPREAD };
    Life {
        fresh: bath::powdered(powder::find("citric-anhydrous").unwrap(), 15.0),
        strength_spread: STRENGTH_SPREAD,
        litres: 1.0,
        temperature: Celsius::STANDARD,
        mixed: 0,
        acid: AcidKind::Citric,
        keeping: Keeping::Bottle,
        pieces: vec![
            Piece { name: "135-36".to_owned(), carry_over: 10.0, spread: DEFAULT_SPREAD, area: 0.0516 },
            Piece { name: "8x10 RC".to_owned(), carry_over: 3.0, spread: DEFAULT_SPREAD, area: 0.0516 },
        ],
        developers: vec![developer("borax-sulfite-1+1"), developer("carbonate-1+2")],
        counted: true,
        steps: Vec::new(),
    }
}

/// The same, every figure known exactly.
pub(super) fn exact() -> Life {
    let mut life = citric();
    life.strength_spread = 0.0;
    life.pieces.iter_mut().for_each(|piece| piece.spread = 0.0);
    life.developers.iter_mut().for_each(|developer| developer.spread = 0.0);
    life
}

impl Life {
    /// With one more step, a day after the last.
    pub(super) fn with(mut self, change: Change) -> Self {
        let at = 86_400 * (self.steps.len() as i64 + 1);
        self.steps.push(Step { at, change });
        self
    }
}

pub(super) fn load(count: f64, kind: Kind) -> Change {
    Change::Load(Load { count, count_spread: 0.0, piece: kind.piece, developer: kind.developer })
}

fn salt() -> Option<Salt> {
    Some(Salt { assumed: IonicStrength::new(0.3).unwrap(), factor: 3.0 })
}

pub(super) fn yellow() -> Change {
    Change::Reading(Reading { high: Some(ph(5.1)), salt: salt(), ..Reading::default() })
}

pub(super) fn read(value: f64) -> Change {
    Change::Reading(Reading { ph: Some(ph(value)), low: Some(ph(value - 0.3)), high: Some(ph(value + 0.3)), salt: salt(), pka: None })
}

/// As photos of a dye with pKa' 6.1 are read.
pub(super) fn photographed(value: f64, (low, high): (f64, f64)) -> Change {
    Change::Reading(Reading { ph: Some(ph(value)), low: Some(ph(low)), high: Some(ph(high)), salt: salt(), pka: Some(6.1) })
}

pub(super) fn question() -> Question {
    Question {
        now: 86_400,
        limits: Limits { nearing: ph(5.0), spent: ph(5.5) },
        kinds: vec![ROLLS, SHEETS],
        planned: None,
        age_limit: None,
    }
}
