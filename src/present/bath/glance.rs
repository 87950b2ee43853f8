//! A bath in the few words that a small screen has room for.

use super::judged::Judged;
use super::words;
use crate::logbook::event::{Entry, Keeping, Load, Mixed, Reading, Work};
use crate::logbook::finding::Finding;
use crate::logbook::ledger::Bath;
use crate::logbook::recipe::Acid;
use crate::present::number::percent;
use crate::present::words::printable;

/// Kinds that are told of; the page of the bath tells of more.
const KINDS: usize = 2;

/// What is to be known of a bath, each with its name: reserve, what is left, age, volume.
#[must_use]
pub fn facts(bath: &Bath, judged: Result<&Judged, &str>, now: i64) -> Vec<(&'static str, String)> {
    let mut facts = Vec::new();
    match judged {
        Ok(judged) => {
            let used = judged.judgement.used;
            let between = format!("likely {}, with 90 % between {} and {}", percent(used.likely), percent(used.low), percent(used.high));
            facts.push(("reserve used", between));
            facts.extend(left(judged).into_iter().take(KINDS).map(|text| ("left", text)));
            if judged.judgement.left.is_empty() {
                facts.push(("left", "told from the first load on".to_owned()));
            }
            facts.push(("age", format!("{}; usually kept {:.0} at most", words::age(bath, now), judged.judgement.age.limit)));
        }
        Err(why) => {
            facts.push(("left", format!("cannot be told: {why}")));
            facts.push(("age", words::age(bath, now)));
        }
    }
    facts.push(("volume", words::volume(bath.standing().volume_ml)));
    facts
}

/// What is left of each kind that went through.
fn left(judged: &Judged) -> Vec<String> {
    let whole = |pieces: f64| format!("{:.0}", pieces.max(0.0).floor());
    let one = |(left, safe): (&crate::logbook::forecast::Left, &f64)| {
        let piece = judged.life.pieces.get(left.kind.piece).map_or("pieces", |piece| &piece.name);
        let (low, likely, high) = (whole(left.pieces.low), whole(left.pieces.likely), whole(left.pieces.high));
        format!("{}: likely {likely}, with 90 % between {low} and {high}; {} are safe", printable(piece), whole(*safe))
    };
    judged.judgement.left.iter().zip(&judged.judgement.safe).map(one).collect()
}

/// The pieces of a load as a button says them: `2 rolls 135-36`, `10 sheets 8x10rc`.
#[must_use]
pub fn button(load: &Load) -> String {
    let one = |pieces: &crate::logbook::event::Pieces| {
        let what = match (pieces.piece.is_roll(), words::plain(pieces.count) == "1") {
            (true, true) => "roll",
            (true, false) => "rolls",
            (false, true) => "sheet",
            (false, false) => "sheets",
        };
        format!("{} {what} {}", words::plain(pieces.count), pieces.piece)
    };
    load.pieces.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// An entry in one line.
#[must_use]
pub fn entry(entry: &Entry) -> String {
    words::entry(entry)
}

/// A reading in a few words.
#[must_use]
pub fn reading(reading: &Reading) -> String {
    words::reading(reading)
}

/// How a bath began.
#[must_use]
pub fn start(start: &Mixed) -> String {
    words::start(start)
}

/// What stands out, and what to do about it.
#[must_use]
pub fn finding(finding: &Finding) -> (String, &'static str) {
    words::finding(finding)
}

/// An acid in words.
#[must_use]
pub fn acid(acid: Acid) -> &'static str {
    words::acid(acid)
}

/// How a bath is kept, in words.
#[must_use]
pub fn keeping(keeping: Keeping) -> &'static str {
    words::keeping(keeping)
}

/// What a bath is for, in words.
#[must_use]
pub fn work(work: Work) -> &'static str {
    words::work(work)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::logbook::event::{Developer, Pieces};
    use crate::logbook::piece::Piece;

    #[test]
    fn buttons_say_how_many_of_what() {
        let load = |piece: &str, count| {
            let piece = Piece::try_from(piece.to_owned()).unwrap();
            let pieces = vec![Pieces { piece, count, carry_over_ml: 1.0, measured: false }];
            let developer = Developer { name: "carbonate-1+2".to_owned(), own_meq: None };
            Load { pieces, developer, by: None, guessed: false, films: Vec::new() }
        };
        assert_eq!(button(&load("135-36", 1.0)), "1 roll 135-36");
        assert_eq!(button(&load("120", 2.0)), "2 rolls 120");
        assert_eq!(button(&load("8x10rc", 10.0)), "10 sheets 8x10rc");
        assert_eq!(button(&load("4x5film", 1.0)), "1 sheet 4x5film");
    }
}
