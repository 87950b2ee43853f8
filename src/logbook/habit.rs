//! What most likely goes through a bath next: the kinds that went through last, in usual counts.

use super::event::{Event, Load, Pieces};
use super::ledger::Bath;
use super::piece::Piece;

/// Kinds that are offered: a session rarely has more.
const KINDS: usize = 2;
/// Rolls that go through at once (common practice: tanks for one and for two).
const ROLLS: [f64; 2] = [1.0, 2.0];
/// Sheets that people write down at once (common practice: one, a handful, a packet).
const SHEETS: [f64; 3] = [1.0, 5.0, 10.0];

/// Loads to offer, the kind used last first and fewer before more; none before the first load, which alone tells the developer.
#[must_use]
pub fn usual(bath: &Bath) -> Vec<Load> {
    let mut kinds: Vec<(&Load, &Pieces)> = Vec::new();
    for (load, pieces) in before(bath) {
        if !kinds.iter().any(|(known, of)| of.piece == pieces.piece && known.developer == load.developer) {
            kinds.push((load, pieces));
        }
    }
    kinds.iter().take(KINDS).flat_map(|(load, pieces)| counts(pieces).into_iter().map(|count| again(load, pieces, count))).collect()
}

/// A load of that kind out of that developer as the last one was, with another count; none when there was none.
#[must_use]
pub fn like_before(bath: &Bath, piece: &Piece, developer: &str, count: f64) -> Option<Load> {
    let (load, pieces) = before(bath).find(|(load, pieces)| pieces.piece == *piece && load.developer.name == developer)?;
    Some(again(load, pieces, count))
}

/// Loads that count with their pieces, the latest first.
fn before(bath: &Bath) -> impl Iterator<Item = (&Load, &Pieces)> {
    let loads = bath.counting().rev().filter_map(|entry| match &entry.event {
        Event::Load(load) => Some(load),
        _ => None,
    });
    loads.flat_map(|load| load.pieces.iter().map(move |pieces| (load, pieces)))
}

fn counts(last: &Pieces) -> Vec<f64> {
    let usual: &[f64] = if last.piece.is_roll() { &ROLLS } else { &SHEETS };
    let mut counts: Vec<f64> = usual.iter().copied().chain([last.count]).collect();
    counts.sort_by(f64::total_cmp);
    counts.dedup();
    counts
}

fn again(load: &Load, pieces: &Pieces, count: f64) -> Load {
    let carry_over_ml = if pieces.measured { pieces.carry_over_ml } else { pieces.piece.carry_over(false) };
    let pieces = vec![Pieces { count, carry_over_ml, ..pieces.clone() }];
    Load { pieces, developer: load.developer.clone(), by: None, guessed: false, films: Vec::new() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::logbook::examples::{entry, id, load, mixed};
    use crate::logbook::ledger::Ledger;

    fn offered(entries: Vec<crate::logbook::event::Entry>) -> Vec<(String, f64)> {
        let bath = Ledger::of(entries).baths.remove(0);
        usual(&bath).iter().map(|load| (load.pieces[0].piece.to_string(), load.pieces[0].count)).collect()
    }

    #[test]
    fn what_went_through_last_is_offered_first() {
        let all = vec![entry(1, "10:00", mixed()), entry(2, "11:00", load("120", 1.0)), entry(3, "12:00", load("8x10rc", 24.0))];
        let wanted = [("8x10rc", 1.0), ("8x10rc", 5.0), ("8x10rc", 10.0), ("8x10rc", 24.0), ("120", 1.0), ("120", 2.0)];
        assert_eq!(offered(all), wanted.map(|(kind, count)| (kind.to_owned(), count)));
        assert!(offered(vec![entry(1, "10:00", mixed())]).is_empty());
        let again = vec![entry(1, "10:00", mixed()), entry(2, "11:00", load("120", 1.0)), entry(3, "12:00", load("120", 1.0))];
        assert_eq!(offered(again), [("120".to_owned(), 1.0), ("120".to_owned(), 2.0)]);
    }

    #[test]
    fn what_was_undone_is_not_offered() {
        let all = vec![entry(1, "10:00", mixed()), entry(2, "11:00", load("120", 1.0)), entry(3, "12:00", Event::Undo { entry: id(2) })];
        assert!(offered(all).is_empty());
    }

    #[test]
    fn what_was_measured_stays_and_what_was_guessed_does_not() {
        let Event::Load(mut first) = load("8x10fb", 12.0) else { unreachable!() };
        (first.pieces[0].carry_over_ml, first.pieces[0].measured, first.guessed) = (9.5, true, true);
        let bath = Ledger::of(vec![entry(1, "10:00", mixed()), entry(2, "11:00", Event::Load(first))]).baths.remove(0);
        let piece = Piece::try_from("8x10fb".to_owned()).unwrap();
        let next = like_before(&bath, &piece, "carbonate-1+2", 3.0).unwrap();
        assert_eq!((next.pieces[0].count, next.pieces[0].carry_over_ml, next.pieces[0].measured, next.guessed), (3.0, 9.5, true, false));
        assert!(like_before(&bath, &piece, "hydroxide", 3.0).is_none());
    }
}
