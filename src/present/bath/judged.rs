//! What record and readings together say of a bath: reserve used, what is left, until when.

use crate::logbook::advice::{Advice, Planned};
use crate::logbook::forecast::Kind;
use crate::logbook::judge::{Basis, Judgement, Missing, Question, Reason, judge};
use crate::logbook::ledger::Bath;
use crate::logbook::life::{Change, Life, LifeError};
use crate::logbook::unknowns::Assumption;
use crate::measurement::reading::State;
use crate::measurement::request::Limits;
use crate::present::{number, words};

/// A bath judged, with the life it was judged by.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// What went in.
    pub life: Life,
    /// What comes of it.
    pub judgement: Judgement,
    /// Limits of the states that it was judged by.
    pub limits: Limits,
}

/// Judges a bath by the usual limits of the states, with advice on a session as usual; else says why it cannot be, and what to do.
///
/// # Errors
/// Message and next action.
pub fn judged(bath: &Bath, now: i64) -> Result<Judged, (String, &'static str)> {
    judged_for(bath, now, Planned::Usual)
}

/// The same, with advice on this session.
///
/// # Errors
/// Message and next action.
pub fn judged_for(bath: &Bath, now: i64, planned: Planned) -> Result<Judged, (String, &'static str)> {
    let life = bath.life().map_err(|error| (error.to_string(), error.hint()))?;
    judge_life(life, now, Limits::USUAL, Some(planned)).map_err(|error| (error.to_string(), error.hint()))
}

/// Judges a life by these limits.
///
/// # Errors
/// As [`judge`].
pub(super) fn judge_life(life: Life, now: i64, limits: Limits, planned: Option<Planned>) -> Result<Judged, LifeError> {
    let question = Question { now, limits, kinds: kinds(&life), planned, age_limit: None };
    let judgement = judge(&life, &question)?;
    Ok(Judged { life, judgement, limits })
}

/// What went through, the latest first: what is left is counted in these.
fn kinds(life: &Life) -> Vec<Kind> {
    let mut kinds = Vec::new();
    for step in life.steps.iter().rev() {
        if let Change::Load(load) = &step.change {
            let kind = Kind { piece: load.piece, developer: load.developer };
            if !kinds.contains(&kind) {
                kinds.push(kind);
            }
        }
    }
    kinds
}

/// Kinds that are told of; the rest can be turned into them by area.
const MOST_KINDS: usize = 4;

impl Judged {
    /// All in sentences: what to do next, then what is known.
    #[must_use]
    pub fn sentences(&self, date: &dyn Fn(i64) -> String) -> Vec<String> {
        self.next().into_iter().chain(self.known(date)).collect()
    }

    /// The judgement in sentences, the weightiest first; `date` writes a time of the life as a date.
    #[must_use]
    pub fn known(&self, date: &dyn Fn(i64) -> String) -> Vec<String> {
        let judged = &self.judgement;
        let percent = number::percent;
        let used = judged.used;
        let mut said = vec![
            format!("reserve used: likely {}, with 90 % between {} and {}", percent(used.likely), percent(used.low), percent(used.high)),
            format!("chance: {}", words::chances(&judged.chance)),
        ];
        said.extend(judged.reasons.iter().map(|reason| reason_words(*reason).to_owned()));
        for (left, safe) in judged.left.iter().zip(&judged.safe).take(MOST_KINDS) {
            let (piece, developer) = (&self.life.pieces[left.kind.piece].name, &self.life.developers[left.kind.developer].name);
            let whole = |pieces: f64| format!("{:.0}", pieces.max(0.0).floor());
            said.push(format!(
                "left of {} out of {}: likely {}, with 90 % between {} and {}; {} are safe (1 in 100)",
                words::printable(piece),
                words::printable(developer),
                whole(left.pieces.likely),
                whole(left.pieces.low),
                whole(left.pieces.high),
                whole(*safe)
            ));
        }
        if let Some(dates) = judged.dates {
            let why = if dates.is_by_age { ", by its age" } else { "" };
            said.push(format!(
                "at this pace to be replaced about {}{why}; between {} and {}",
                date(dates.likely),
                date(dates.low),
                date(dates.high)
            ));
        }
        said.push(age_words(judged.age.days.floor(), judged.age.limit));
        if let Some((assumption, share)) = judged.dominant {
            said.push(format!("most of the doubt ({}) is {}", percent(share), self.assumption(assumption)));
        }
        said.extend(missing(judged));
        said
    }

    /// What to do with the next session; none where nothing tells what such a session is.
    #[must_use]
    pub fn next(&self) -> Option<String> {
        let (judged, advice) = (&self.judgement, self.judgement.advice?);
        let piece = &self.life.pieces[judged.left.first()?.kind.piece].name;
        Some(advice_words(advice, &words::printable(piece), self.is_read(), judged.age.is_over()))
    }

    /// True when it was looked at after the last load.
    fn is_read(&self) -> bool {
        let last = |is: fn(&Change) -> bool| self.life.steps.iter().rposition(|step| is(&step.change));
        last(|change| matches!(change, Change::Reading(_) | Change::DropTest(_))) > last(|change| matches!(change, Change::Load(_)))
    }

    fn assumption(&self, assumption: Assumption) -> String {
        match assumption {
            Assumption::Strength => "how strong it was mixed; weigh or measure next time".to_owned(),
            Assumption::Reader | Assumption::Foot => "how far off the readings are together; calibrate".to_owned(),
            Assumption::Turn => "where the dye of the drop test turns".to_owned(),
            Assumption::Uncounted => "what went through without being written down".to_owned(),
            Assumption::CarryOver(piece) => {
                let name = self.life.pieces.get(piece).map_or("a piece", |piece| &piece.name);
                format!("how much developer a {} drags along; weigh one wet and dry", words::printable(name))
            }
            Assumption::Alkalinity(developer) => {
                let name = self.life.developers.get(developer).map_or("the developer", |developer| &developer.name);
                format!("how much acid {} binds; the drop test tells", words::printable(name))
            }
        }
    }
}

fn advice_words(advice: Advice, piece: &str, is_read: bool, is_old: bool) -> String {
    let good_for = if advice.run < 1.0 { "none".to_owned() } else { pieces(advice.run) };
    let what = match () {
        () if is_old => "replace the bath before it, for it is too old".to_owned(),
        () if !advice.replace => "the bath is good for it".to_owned(),
        // A photo buys most, and a count alone is trusted little.
        () if !is_read => format!("read the bath first; unread it is good for {good_for} of it"),
        () if advice.run < 1.0 => "replace the bath before it".to_owned(),
        () => format!("the bath is good for {good_for} of it; then read it again, or replace it"),
    };
    let chance = number::percent(advice.risk_of_all);
    format!("next session ({} x {piece}): {what}. Chance that the whole of it uses the bath up: {chance}", pieces(advice.session))
}

/// A number of pieces: whole but where half a box was told.
fn pieces(count: f64) -> String {
    format!("{count:.1}").trim_end_matches(".0").to_owned()
}

/// Whole days since it was mixed, against those that such a bath is usually kept.
fn age_words(days: f64, limit: f64) -> String {
    let counted = |days: f64| if days < 1.5 { "a day".to_owned() } else { format!("{days:.0} days") };
    let age = if days < 1.0 { "less than a day".to_owned() } else { counted(days) };
    let kept = counted(limit);
    let beyond = if days >= limit { ", which is past" } else { "" };
    format!("age: {age}; such a bath is usually kept for {kept} at most{beyond}")
}

fn reason_words(reason: Reason) -> &'static str {
    match reason {
        Reason::YellowButLoaded => "the colour has not turned, but by what went through it is no longer fresh",
        Reason::TurnSeen => "the dye has been seen turning",
        Reason::CountsAlone => "this rests on the count alone: no reading backs it",
        Reason::SeenAlone => "this rests on what was seen alone: nothing was counted",
        Reason::TooOld => "it is older than such a bath is usually kept",
        Reason::Backwards => "a reading lies below an earlier one: a wrong cup, a top-up that was not written down, or another light",
        Reason::Contradicted => {
            "the last look says that more is used than was written down: loads are missing, or another cup was read; the look counts until you read again"
        }
        Reason::Undecided => "record and readings leave everything from fresh to spent open",
    }
}

fn missing(judged: &Judgement) -> Option<String> {
    match judged.missing {
        Missing::None => None,
        // Beyond 99 % the model itself is the larger doubt, and the photo is worth nothing to the judgement.
        Missing::Photo { turned, .. } if turned < 0.01 => {
            Some("a photo would most likely show it still yellow, and settle nothing yet".to_owned())
        }
        Missing::Photo { turned, .. } if turned > 0.99 => Some("a photo would most likely show it turning, and settle little".to_owned()),
        Missing::Photo { turned, if_yellow, if_turned } => Some(format!(
            "a photo would tell: still yellow (chance {}) means about {} used, turning about {}",
            number::percent(1.0 - turned),
            number::percent(if_yellow.likely),
            number::percent(if_turned.likely)
        )),
        Missing::Counts => Some("a count would tell how far below the turn it is; colour cannot".to_owned()),
    }
}

/// What the judgement rests on, as one word for programs.
#[must_use]
pub fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Both => "both",
        Basis::Record => "record",
        Basis::Seen => "seen",
        Basis::Nothing => "nothing",
    }
}

/// The state of a bath: by the judgement where there is one, else at a glance.
#[must_use]
pub fn state(bath: &Bath, judged: Option<&Judged>) -> State {
    judged.map_or_else(|| bath.glance().into(), |judged| judged.judgement.state)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_age_past_its_limit_is_a_sentence() {
        assert_eq!(age_words(0.0, 1.0), "age: less than a day; such a bath is usually kept for a day at most");
        assert_eq!(age_words(4.0, 1.0), "age: 4 days; such a bath is usually kept for a day at most, which is past");
        assert_eq!(age_words(1.0, 56.0), "age: a day; such a bath is usually kept for 56 days at most");
    }

    // What is said follows from what may run: all, a part or nothing, with and without a look since the last load.
    #[test]
    fn advice_says_what_to_do_first() {
        let said = |run, is_read, is_old| {
            let advice = Advice { session: 4.0, run, replace: run < 4.0, risk: 0.001, risk_of_all: 0.07 };
            advice_words(advice, "120", is_read, is_old)
        };
        let whole = |what: &str| format!("next session (4 x 120): {what}. Chance that the whole of it uses the bath up: 7 %");
        assert_eq!(said(4.0, false, false), whole("the bath is good for it"));
        assert_eq!(said(1.0, true, false), whole("the bath is good for 1 of it; then read it again, or replace it"));
        assert_eq!(said(0.0, true, false), whole("replace the bath before it"));
        assert_eq!(said(2.0, false, false), whole("read the bath first; unread it is good for 2 of it"));
        assert_eq!(said(0.0, false, false), whole("read the bath first; unread it is good for none of it"));
        assert_eq!(said(4.0, true, true), whole("replace the bath before it, for it is too old"));
        assert_eq!((pieces(2.5), pieces(30.0)), ("2.5".to_owned(), "30".to_owned()));
    }
}
