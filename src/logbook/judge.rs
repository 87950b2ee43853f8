//! The answer: what the record and the readings say of a bath, together or each alone.

use super::advice::{Advice, Planned};
use super::age::Age;
use super::belief::{Belief, Range};
use super::evidence;
use super::forecast::{Kind, Left};
use super::life::{Change, Life, LifeError, Reading};
use super::pace::{Dates, pace};
use super::unknowns::Assumption;
use crate::measurement::reading::{Chance, State};
use crate::measurement::request::Limits;
use crate::measurement::state;
use crate::quantity::Ph;

/// Share of the reserve from which a bath is nearing exhaustion, whatever its colour (common practice: the last quarter).
pub const NEARING_FROM: f64 = 0.75;
/// A reading that lies so many standard deviations below an earlier one goes backwards: less than 1 in 100 by chance.
const BACKWARDS: f64 = 2.5;
/// Chance of passing the limit that "safe" leaves.
const SAFE: f64 = 0.01;

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Now, seconds on the clock of the life.
    pub now: i64,
    /// Limits of the states.
    pub limits: Limits,
    /// Kinds to count what is left in; the first also for dates.
    pub kinds: Vec<Kind>,
    /// Session that advice is wanted on, in pieces of the first kind; none where no advice is.
    pub planned: Option<Planned>,
    /// Age that it may reach, days, where the usual limit is not wanted.
    pub age_limit: Option<f64>,
}

/// What the answer rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// Loads and what was seen.
    Both,
    /// Loads alone, or a bath just mixed.
    Record,
    /// What was seen alone: a reading or a drop test.
    Seen,
    /// Neither: nobody counted and nobody looked.
    Nothing,
}

/// What the missing half would settle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Missing {
    /// Nothing is missing.
    None,
    /// A photo.
    Photo {
        /// Chance that it would show the turn: the pH of the nearing limit or above.
        turned: f64,
        /// Share used, if it does not.
        if_yellow: Range,
        /// Share used, if it does.
        if_turned: Range,
    },
    /// Counts: how far below the turn the bath is, a reading cannot tell.
    Counts,
}

/// Why the answer is as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reason {
    /// The colour has not turned, but what went through says that the bath is not fresh.
    YellowButLoaded,
    /// The latest reading is at or above the nearing limit.
    TurnSeen,
    /// No reading backs the count.
    CountsAlone,
    /// No count backs the reading.
    SeenAlone,
    /// It is older than it may be.
    TooOld,
    /// A reading lies below an earlier one, with no top-up between: a wrong cup, a top-up that was not written down, or another light.
    Backwards,
    /// The last look says that more is used than was written down: loads are missing, or another cup was read. The look counts.
    Contradicted,
    /// Record and readings leave everything from fresh to spent open.
    Undecided,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Judgement {
    /// The verdict.
    pub state: State,
    /// Probability of each state, age left out.
    pub chance: Chance,
    /// Why, in the order of weight.
    pub reasons: Vec<Reason>,
    /// What it rests on.
    pub basis: Basis,
    /// Share of the reserve used, 1 at the spent limit.
    pub used: Range,
    /// pH by chemistry, record and readings.
    pub ph: Range,
    /// Volume, litres.
    pub litres: Range,
    /// Pieces left of each kind that was asked for.
    pub left: Vec<Left>,
    /// Of each, the number that passes the limit with a chance of 1 in 100; whole.
    pub safe: Vec<f64>,
    /// What to do with the session that is planned, in pieces of the first kind.
    pub advice: Option<Advice>,
    /// The assumption that a measurement of would shrink the answer most, with the share of the variance it explains.
    pub dominant: Option<(Assumption, f64)>,
    /// What the missing half would settle.
    pub missing: Missing,
    /// Age.
    pub age: Age,
    /// When it is to be replaced; none without two sessions.
    pub dates: Option<Dates>,
    /// Steps of an earlier and a later reading where the later goes backwards.
    pub backwards: Vec<(usize, usize)>,
}

/// Judges a bath.
///
/// # Errors
/// As [`Belief::new`]; [`LifeError::Unlisted`] when a kind is asked for that the life does not have.
pub fn judge(life: &Life, question: &Question) -> Result<Judgement, LifeError> {
    question.kinds.iter().try_for_each(|kind| kind.check(life))?;
    let belief = Belief::new(life, question.limits.spent)?;
    let near = belief.used_at(question.limits.nearing).min(NEARING_FROM);
    let (not_fresh, spent) = (belief.chance_used(near), belief.chance_used(1.0));
    let chance = Chance { fresh: 1.0 - not_fresh, nearing: not_fresh - spent, spent };
    let age = Age::of(life, question.now, question.age_limit);
    let basis = basis(life);
    let backwards = backwards(life);
    let latest = latest(life);
    let is_old = age.is_over();
    let state = verdict(&belief, life, &Seen { chance, near, latest, is_old, basis, spent: question.limits.spent });
    let is_loaded =
        verdict(&belief, life, &Seen { chance, near, latest, is_old: false, basis, spent: question.limits.spent }) != State::Fresh;
    let reasons = reasons(&Weighed {
        state,
        is_loaded,
        basis,
        latest,
        limits: question.limits,
        is_old,
        is_contradicted: belief.is_contradicted(),
        goes_back: !backwards.is_empty(),
    });
    let first = question.kinds.first().copied();
    let dates = first.and_then(|kind| Some(belief.dates(kind, &pace(&belief.sessions(life, kind))?, &age, question.now)));
    Ok(Judgement {
        state,
        chance,
        reasons,
        basis,
        used: belief.used(),
        ph: belief.ph(),
        litres: belief.litres(),
        left: question.kinds.iter().map(|kind| belief.left(*kind)).collect(),
        safe: question.kinds.iter().map(|kind| belief.safe(*kind, SAFE).floor()).collect(),
        advice: first.zip(question.planned).and_then(|(kind, planned)| {
            let advice = belief.advise_next(life, kind, planned)?;
            // Too old is too old, whatever acid is left.
            Some(if is_old { Advice { run: 0.0, replace: true, risk: spent, ..advice } } else { advice })
        }),
        dominant: first.and_then(|kind| belief.dominant(kind)),
        missing: missing(&belief, basis, belief.used_at(question.limits.nearing)),
        age,
        dates,
        backwards,
    })
}

/// The latest reading of what is in the bath now: one before a top-up is of another bath.
fn latest(life: &Life) -> Option<Reading> {
    let since = life.steps.iter().rev().take_while(|step| !matches!(step.change, Change::TopUp { .. }));
    since.into_iter().find_map(|step| match &step.change {
        Change::Reading(reading) => Some(*reading),
        _ => None,
    })
}

/// What a verdict is drawn from.
struct Seen {
    chance: Chance,
    near: f64,
    latest: Option<Reading>,
    is_old: bool,
    basis: Basis,
    spent: Ph,
}

fn verdict(belief: &Belief, life: &Life, seen: &Seen) -> State {
    // A bath that was plainly seen spent is spent until it is read again, however few pieces were written down.
    let is_seen_spent = seen.latest.and_then(|reading| reading.low).is_some_and(|low| low >= seen.spent);
    let is_counted = life.counted && !belief.is_contradicted();
    match if seen.basis == Basis::Nothing { State::Unclear } else { state::judge(&seen.chance) } {
        _ if is_seen_spent => State::Spent,
        // Too old is never fresh, slime and cloud are for the eye; nor is a bath that by the count alone is in its last quarter.
        State::Fresh if seen.is_old || (is_counted && belief.stated() >= NEARING_FROM) => State::Nearing,
        // Without counts, "not turned yet" leaves everything below the turn open.
        State::Fresh if !is_counted && belief.used().high >= seen.near => State::Unclear,
        other => other,
    }
}

fn basis(life: &Life) -> Basis {
    let is_seen = life.steps.iter().any(|step| matches!(step.change, Change::Reading(_) | Change::DropTest(_)));
    match (life.counted, is_seen) {
        (true, true) => Basis::Both,
        (true, false) => Basis::Record,
        (false, true) => Basis::Seen,
        (false, false) => Basis::Nothing,
    }
}

fn missing(belief: &Belief, basis: Basis, turn: f64) -> Missing {
    match basis {
        Basis::Both => Missing::None,
        Basis::Seen | Basis::Nothing => Missing::Counts,
        Basis::Record => Missing::Photo {
            turned: belief.chance_used(turn),
            if_yellow: belief.used_within(0.0, turn),
            if_turned: belief.used_within(turn, f64::INFINITY),
        },
    }
}

/// Pairs of readings where the later lies clearly below one before, with nothing poured in between. Only the last before counts, so that one slip is flagged once.
fn backwards(life: &Life) -> Vec<(usize, usize)> {
    let mut pairs = Vec::new();
    let mut before: Option<(usize, &Reading)> = None;
    for (at, step) in life.steps.iter().enumerate() {
        match &step.change {
            Change::TopUp { .. } => before = None,
            Change::Reading(reading) => {
                if let Some((earlier, known)) = before
                    && evidence::backwards(known, reading) > BACKWARDS
                {
                    pairs.push((earlier, at));
                }
                before = Some((at, reading));
            }
            _ => {}
        }
    }
    pairs
}

/// What reasons are drawn from.
struct Weighed {
    state: State,
    /// True when it is not fresh for another cause than its age.
    is_loaded: bool,
    basis: Basis,
    latest: Option<Reading>,
    limits: Limits,
    is_old: bool,
    is_contradicted: bool,
    goes_back: bool,
}

fn reasons(weighed: &Weighed) -> Vec<Reason> {
    let lowest = weighed.latest.and_then(|reading| reading.ph.or(reading.low));
    let is_turned = lowest.is_some_and(|ph| ph >= weighed.limits.nearing);
    let mut reasons = Vec::new();
    let mut add = |is: bool, reason: Reason| {
        if is {
            reasons.push(reason);
        }
    };
    add(weighed.is_old, Reason::TooOld);
    add(weighed.is_contradicted, Reason::Contradicted);
    add(weighed.goes_back, Reason::Backwards);
    add(is_turned, Reason::TurnSeen);
    let is_yellow = weighed.basis == Basis::Both && weighed.latest.is_some() && !is_turned;
    add(is_yellow && weighed.is_loaded && !weighed.is_contradicted, Reason::YellowButLoaded);
    add(weighed.basis == Basis::Record, Reason::CountsAlone);
    add(weighed.basis == Basis::Seen, Reason::SeenAlone);
    add(weighed.state == State::Unclear, Reason::Undecided);
    reasons
}

#[cfg(test)]
mod tests {
    use super::super::example::{ROLLS, SHEETS, citric, load, ph, question, read, yellow};
    use super::super::life::DropTest;
    use super::*;

    fn judged(life: &Life) -> Judgement {
        judge(life, &question()).unwrap()
    }

    #[test]
    fn fresh_as_mixed_and_spent_when_purple() {
        let fresh = judged(&citric());
        assert_eq!((fresh.state, fresh.basis), (State::Fresh, Basis::Record));
        assert!(fresh.used.high < 0.01 && fresh.left[0].pieces.likely > 25.0);
        let spent = judged(&citric().with(load(15.0, ROLLS)).with(read(6.6)));
        assert_eq!(spent.state, State::Spent);
        assert!(!spent.reasons.contains(&Reason::YellowButLoaded), "{:?}", spent.reasons);
        // Also where hardly anything was written down.
        assert_eq!(judged(&citric().with(load(3.0, ROLLS)).with(read(6.6))).state, State::Spent);
        assert!(spent.reasons.contains(&Reason::TurnSeen) && spent.left[0].pieces.likely < 1.0 && spent.chance.spent > 0.5);
    }

    // 35 rolls are over three quarters of what a litre takes to 5.5: yellow or not, nobody may call that fresh.
    #[test]
    fn yellow_alone_is_never_fresh_when_the_count_says_otherwise() {
        for count in [35.0, 45.0, 80.0] {
            let judgement = judged(&citric().with(load(count, ROLLS)).with(yellow()));
            assert_ne!(judgement.state, State::Fresh, "{count}");
            assert!(judgement.reasons.contains(&Reason::YellowButLoaded));
        }
        assert_eq!(judged(&citric().with(load(2.0, ROLLS)).with(yellow())).state, State::Fresh);
        let mut unrecorded = citric().with(yellow());
        unrecorded.counted = false;
        let seen = judged(&unrecorded);
        assert_eq!(seen.state, State::Unclear);
        assert_eq!((seen.basis, seen.missing), (Basis::Seen, Missing::Counts));
        assert!(seen.reasons.contains(&Reason::SeenAlone));
    }

    #[test]
    fn counts_alone_say_what_a_photo_would_settle() {
        let judgement = judged(&citric().with(load(15.0, ROLLS)));
        assert!(judgement.reasons.contains(&Reason::CountsAlone));
        let Missing::Photo { turned, if_yellow, if_turned } = judgement.missing else { panic!("{:?}", judgement.missing) };
        assert!((0.05..0.5).contains(&turned));
        assert!(if_yellow.high < judgement.used.high && if_turned.low > judgement.used.likely);
    }

    // A top-up makes another bath of it: what was seen before does not stand.
    #[test]
    fn topping_up_lifts_a_verdict_seen_before() {
        let spent = citric().with(load(15.0, ROLLS)).with(read(6.6));
        let topped = spent.with(Change::TopUp { litres: 20.0, liquid: citric().fresh });
        assert_eq!(judged(&topped).state, State::Fresh);
    }

    // The advice is on as many as usual, here the mean of 2 and 4, or on as many as are named; nothing is usual before the first load.
    #[test]
    fn advice_is_on_the_session_asked_for() {
        let asked = |life: &Life, planned| judge(life, &Question { planned: Some(planned), ..question() }).unwrap().advice;
        let used = citric().with(load(2.0, ROLLS)).with(load(4.0, ROLLS));
        let usual = asked(&used, Planned::Usual).unwrap();
        assert_eq!((usual.session, usual.run, usual.replace), (3.0, 3.0, false));
        let all = asked(&used, Planned::Of(30.0)).unwrap();
        // Never read: what is safe, and no more.
        assert_eq!((all.session, all.run, all.replace), (30.0, judged(&used).safe[0], true));
        assert!(all.risk < 0.011 && all.risk_of_all > 0.3, "{all:?}");
        assert_eq!(asked(&citric(), Planned::Usual), None);
        assert_eq!(judged(&used).advice, None);
    }

    // Whoever reads that a session may go through must not read that fewer are left, at the lower end.
    #[test]
    fn advice_stays_below_the_lower_end_of_what_is_left() {
        for count in [4.0, 8.0, 12.0, 14.0] {
            let life = citric().with(load(count, ROLLS)).with(yellow());
            let judgement = judge(&life, &Question { planned: Some(Planned::Of(40.0)), ..question() }).unwrap();
            let (run, low) = (judgement.advice.unwrap().run, judgement.left[0].pieces.low);
            assert!(run <= low, "{count}: {run} of {low}");
        }
    }

    #[test]
    fn a_kind_that_is_not_listed_is_refused() {
        let asked = Question { kinds: vec![Kind { piece: 0, developer: 7 }], ..question() };
        assert!(matches!(judge(&citric(), &asked), Err(LifeError::Unlisted { what: "developer", index: 7, count: 2 })));
    }

    #[test]
    fn nobody_counted_and_nobody_looked() {
        let mut life = citric();
        life.counted = false;
        let judgement = judged(&life);
        assert_eq!((judgement.state, judgement.basis), (State::Unclear, Basis::Nothing));
    }

    // The alkalinity of one developer and the carry-over of one piece are equally uncertain; weighing the piece leaves the developer, and the other way round.
    #[test]
    fn the_dominant_assumption_is_the_one_not_measured() {
        let mut weighed = citric().with(load(10.0, ROLLS));
        weighed.pieces[0].spread = 0.1;
        assert_eq!(judged(&weighed).dominant.unwrap().0, Assumption::Alkalinity(0));
        let mut titrated = citric().with(load(10.0, ROLLS));
        titrated.developers[0].spread = 0.1;
        assert_eq!(judged(&titrated).dominant.unwrap().0, Assumption::CarryOver(0));
    }

    #[test]
    fn readings_that_go_backwards_are_flagged_once() {
        let life = citric().with(load(9.0, ROLLS)).with(read(5.9)).with(read(5.1)).with(yellow());
        assert_eq!(judged(&life).backwards, [(1, 2)]);
        assert!(judged(&life).reasons.contains(&Reason::Backwards));
        let topped = citric().with(read(5.9)).with(Change::TopUp { litres: 0.5, liquid: citric().fresh }).with(read(5.1));
        assert!(judged(&topped).backwards.is_empty());
        assert!(judged(&citric().with(yellow()).with(read(5.9))).backwards.is_empty());
    }

    // One roll is written down, and the dye is seen turning, or a meter says 4.4 where a fresh bath has 2.4, or the drop test takes next to nothing: loads were forgotten, or another cup was read. Before,
    // the look was taken for a slip of the pen and the bath called fresh, "surely", even beside "spent".
    #[test]
    fn a_look_that_says_more_than_was_written_down_counts() {
        let asked = |look: Change| {
            judge(&citric().with(load(1.0, ROLLS)).with(look), &Question { planned: Some(Planned::Usual), ..question() }).unwrap()
        };
        let metered = |value| {
            Change::Reading(Reading { ph: Some(ph(value)), low: Some(ph(value - 0.2)), high: Some(ph(value + 0.2)), salt: None, pka: None })
        };
        let dripped = Change::DropTest(DropTest { developer: 0, bath: 10.0, used: 0.1, turn: ph(6.0) });
        for (look, at_least, states) in [
            (read(5.35), 0.7, [State::Nearing, State::Spent]),
            (read(6.6), 0.9, [State::Spent, State::Spent]),
            (metered(4.4), 0.4, [State::Fresh, State::Unclear]),
            (dripped, 0.8, [State::Nearing, State::Spent]),
        ] {
            let judgement = asked(look.clone());
            assert_eq!(judgement.reasons[0], Reason::Contradicted, "{look:?}");
            assert!(
                judgement.used.likely > at_least && states.contains(&judgement.state),
                "{look:?}: {:?} {:?}",
                judgement.used,
                judgement.state
            );
            assert!(judgement.state == State::Fresh || judgement.advice.unwrap().replace, "{look:?}");
        }
        // Six rolls are a fifth of it, and a part of the belief follows the look while most takes it for a slip: 19 % used then, between 5 and 97 %.
        let more = judged(&citric().with(load(6.0, ROLLS)).with(metered(5.3)));
        assert!(more.reasons[0] == Reason::Contradicted && more.state == State::Nearing && more.used.low > 0.7, "{:?}", more.used);
        // What fits, and a look that says less than was written down, contradict nothing.
        for look in [yellow(), metered(2.5), Change::Reading(Reading { low: Some(ph(2.0)), ..Reading::default() })] {
            assert!(!asked(look.clone()).reasons.contains(&Reason::Contradicted), "{look:?}");
        }
        let topped = citric().with(load(1.0, ROLLS)).with(read(5.9)).with(Change::TopUp { litres: 2.0, liquid: citric().fresh });
        assert!(!judged(&topped).reasons.contains(&Reason::Contradicted));
    }

    #[test]
    fn age_is_told_apart() {
        let old = Question { now: 20 * 86_400, ..question() };
        let judgement = judge(&citric(), &old).unwrap();
        assert_eq!(judgement.state, State::Nearing);
        assert_eq!(judgement.reasons[0], Reason::TooOld);
        // Yellow and hardly used: it is its age that speaks against it, not what went through.
        let yellow = judge(&citric().with(load(1.0, ROLLS)).with(yellow()), &old).unwrap();
        assert_eq!((yellow.state, yellow.reasons), (State::Nearing, vec![Reason::TooOld]));
        let asked = |question| judge(&citric().with(load(1.0, ROLLS)), &question).unwrap().advice.unwrap();
        let advice = asked(Question { planned: Some(Planned::Usual), ..old.clone() });
        assert!(
            advice.replace && advice.run < 1.0 && !asked(Question { planned: Some(Planned::Usual), ..question() }).replace,
            "{advice:?}"
        );
        let allowed = Question { age_limit: Some(30.0), ..old };
        assert_eq!(judge(&citric(), &allowed).unwrap().state, State::Fresh);
    }

    // RC sheets of 3 ml in paper developer against rolls of 10 ml in film developer: capacities as the trade has them, 77 to 30 at pH 5.2.
    #[test]
    fn one_bath_is_counted_in_any_kind() {
        let judgement =
            judge(&citric().with(load(5.0, ROLLS)), &Question { limits: Limits { nearing: ph(5.0), spent: ph(5.2) }, ..question() })
                .unwrap();
        let ratio = judgement.left[1].pieces.likely / judgement.left[0].pieces.likely;
        assert_eq!(judgement.left[1].kind, SHEETS);
        assert!((2.3..2.9).contains(&ratio), "{ratio}");
        for (left, safe) in judgement.left.iter().zip(&judgement.safe) {
            assert!(*safe <= left.pieces.low && left.pieces.low < left.pieces.likely && left.pieces.likely < left.pieces.high);
        }
    }
}
