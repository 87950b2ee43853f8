//! An invented community darkroom, for the tests of this module.

use super::event::{Developer, Entry, Event, Id, Keeping, Load, Mixed, Pieces, Reading, Word, Work};
use super::moment::Moment;
use super::piece::Piece;
use super::recipe::{Acid, Recipe};

pub(super) fn id(number: u64) -> Id {
    Id::of(u128::from(number))
}

/// An entry of the day about the bath that entry 1 mixed.
pub(super) fn entry(number: u64, time: &str, event: Event) -> Entry {
    let at = Moment::parse(&format!("2026-03-14T{time}:00+01:00")).unwrap();
    Entry {
        id: id(number),
        book: id(9_999_999),
        number,
        bath: id(1),
        happened: at.clone(),
        recorded: at,
        who: "ada".to_owned(),
        note: None,
        event,
    }
}

pub(super) fn citric() -> Recipe {
    Recipe { acid: Acid::CitricAnhydrous, percent: None, per_litre: 15.0 }
}

pub(super) fn mixed() -> Event {
    let (name, place) = ("tray-1".to_owned(), None);
    let (keeping, work) = (Keeping::Bottle, Work::Paper);
    Event::Mixed(Mixed { name, recipe: citric(), indicator: None, volume_ml: 1000.0, place, keeping, work, paid: None })
}

pub(super) fn load(piece: &str, count: f64) -> Event {
    let piece = Piece::try_from(piece.to_owned()).unwrap();
    let carry_over_ml = piece.carry_over(false);
    let developer = Developer { name: "carbonate-1+2".to_owned(), own_meq: None };
    let pieces = vec![Pieces { piece, count, carry_over_ml, measured: false }];
    Event::Load(Load { pieces, developer, by: None, guessed: false, films: vec!["A12".to_owned()] })
}

pub(super) fn reading(low: f64, high: f64, state: Word) -> Event {
    let (light, indicator, photo, ionic_strength) = (None, None, None, None);
    let (ph, ph_low, ph_high) = (Some(0.5 * (low + high)), Some(low), Some(high));
    Event::Reading(Reading {
        ph,
        ph_low,
        ph_high,
        state,
        reasons: Vec::new(),
        light,
        means: "meter".to_owned(),
        indicator,
        ionic_strength,
        photo,
    })
}
