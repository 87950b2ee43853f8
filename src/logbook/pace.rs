//! When a bath will be used up, from the sessions written down lately.

use super::age::{Age, DAY};
use super::belief::{Belief, Draw, quantile};
use super::forecast::{Kind, pieces};
use super::life::{Change, Life};
use super::normal;

/// Loads no further apart than this belong to one session, seconds: half a day.
pub(super) const SAME_SESSION: i64 = 43_200;
/// So many sessions back count as the recent pace.
const RECENT: usize = 8;
/// Scatter of sessions and of the days between, standard deviation over mean, before any are known (judgement: a hobby is not a shift).
const USUAL_SCATTER: f64 = 0.6;
/// Sessions that this expectation weighs as much as.
const EXPECTED_LIKE: f64 = 2.0;

/// One session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Session {
    /// When it began, seconds on the clock of the life.
    pub at: i64,
    /// What went through, in pieces of the kind that was asked for: others by the alkali they brought.
    pub pieces: f64,
}

/// How fast it goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pace {
    /// Sessions it rests on.
    pub sessions: usize,
    /// Pieces of a session.
    pub pieces: f64,
    /// Days from session to session.
    pub days: f64,
    /// Scatter of the pieces, standard deviation over mean.
    pieces_scatter: f64,
    /// Scatter of the days.
    days_scatter: f64,
    last: i64,
}

/// When the bath is to be replaced, seconds on the clock of the life; 90 % interval and median.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dates {
    /// Earliest.
    pub low: i64,
    /// Likely.
    pub likely: i64,
    /// Latest.
    pub high: i64,
    /// True when the likely date is the end of its age, not of its reserve.
    pub is_by_age: bool,
}

impl Belief {
    /// The sessions of a life, in pieces of one kind.
    #[must_use]
    pub fn sessions(&self, life: &Life, kind: Kind) -> Vec<Session> {
        let mut sessions: Vec<Session> = Vec::new();
        let mut last = i64::MIN;
        let weight = |piece: usize, developer: usize| life.pieces[piece].carry_over * self.story.appetite[developer];
        for step in &life.steps {
            let Change::Load(load) = &step.change else { continue };
            let pieces = load.count * weight(load.piece, load.developer) / weight(kind.piece, kind.developer);
            match sessions.last_mut() {
                Some(session) if step.at.saturating_sub(last) <= SAME_SESSION => session.pieces += pieces,
                _ => sessions.push(Session { at: step.at, pieces }),
            }
            last = step.at;
        }
        sessions
    }

    /// When it will be used up at this pace, or too old.
    #[must_use]
    pub fn dates(&self, kind: Kind, pace: &Pace, age: &Age, now: i64) -> Dates {
        let too_old = now as f64 + (age.limit - age.days) * DAY;
        let until = |number: usize, draw: &Draw| {
            let sessions = pieces(draw, kind) / pace.pieces.max(f64::MIN_POSITIVE);
            // The mean of the past is uncertain by its scatter over the root of its number, the mean of the future likewise; each draw takes its own.
            let spread = pace.pieces_scatter.hypot(pace.days_scatter) * (1.0 / pace.sessions as f64 + 1.0 / sessions.max(1.0)).sqrt();
            let share = (0.5 + (number + 1) as f64 * GOLDEN).fract();
            pace.last as f64 + pace.days * DAY * sessions * (spread * normal::quantile(share)).exp()
        };
        let mut all: Vec<(f64, f64)> = self.draws.iter().enumerate().map(|(i, draw)| (until(i, draw), draw.weight)).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let at = |share: f64| quantile(&all, share).min(too_old).max(now as f64) as i64;
        Dates { low: at(0.05), likely: at(0.5), high: at(0.95), is_by_age: quantile(&all, 0.5) > too_old }
    }
}

/// Multiples of the golden ratio's fraction are spread evenly.
const GOLDEN: f64 = 0.618_033_988_749_895;

/// The pace of the latest sessions; none from fewer than two, for one has no days between.
#[must_use]
pub fn pace(sessions: &[Session]) -> Option<Pace> {
    let recent = &sessions[sessions.len().saturating_sub(RECENT)..];
    let (first, last) = (recent.first()?, recent.last()?);
    if last.at <= first.at {
        return None;
    }
    let sizes: Vec<f64> = recent.iter().map(|session| session.pieces).collect();
    let gaps: Vec<f64> = recent.windows(2).map(|pair| (pair[1].at - pair[0].at) as f64 / DAY).collect();
    let ((pieces, pieces_scatter), (days, days_scatter)) = (scatter(&sizes), scatter(&gaps));
    Some(Pace { sessions: recent.len(), pieces, days, pieces_scatter, days_scatter, last: last.at })
}

/// Pieces of a session on average of the latest; none from no session.
#[must_use]
pub fn usual(sessions: &[Session]) -> Option<f64> {
    let recent = &sessions[sessions.len().saturating_sub(RECENT)..];
    (!recent.is_empty()).then(|| recent.iter().map(|session| session.pieces).sum::<f64>() / recent.len() as f64)
}

/// Mean, and standard deviation over mean drawn towards what is usual.
fn scatter(values: &[f64]) -> (f64, f64) {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value / mean.max(f64::MIN_POSITIVE) - 1.0).powi(2)).sum();
    (mean, ((squares + EXPECTED_LIKE * USUAL_SCATTER.powi(2)) / (count - 1.0 + EXPECTED_LIKE)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::super::example::{ROLLS, SHEETS, citric, exact, load, ph};
    use super::super::life::{AcidKind, Keeping};
    use super::*;
    use approx::assert_abs_diff_eq;

    fn day(days: i64) -> i64 {
        days * 86_400
    }

    // By hand: 1 and 3 are off by half their mean, 0.5 in squares; with two more of 0.36 that is 1.22 of three.
    #[test]
    fn few_sessions_scatter_as_is_usual() {
        let (mean, scatter) = scatter(&[1.0, 3.0]);
        assert_abs_diff_eq!(mean, 2.0);
        assert_abs_diff_eq!(scatter, (1.22f64 / 3.0).sqrt(), epsilon = 1e-12);
    }

    fn sessions(of: &[(i64, f64)]) -> Vec<Session> {
        of.iter().map(|(at, pieces)| Session { at: day(*at), pieces: *pieces }).collect()
    }

    #[test]
    fn loads_of_one_evening_are_one_session() {
        let mut life = citric().with(load(2.0, ROLLS)).with(load(3.0, ROLLS)).with(load(4.0, ROLLS));
        life.steps[1].at = life.steps[0].at + 3600;
        let belief = Belief::new(&life, ph(5.5)).unwrap();
        let found = belief.sessions(&life, ROLLS);
        assert_eq!(found.iter().map(|session| session.pieces).collect::<Vec<_>>(), [5.0, 4.0]);
        // Sheets count by the alkali they bring.
        let paper = citric().with(load(30.0, SHEETS));
        let rolls = belief.sessions(&paper, ROLLS)[0].pieces;
        assert!((9.0..15.0).contains(&rolls), "{rolls}");
    }

    // By hand: 3 rolls every 5 days, the last on day 20; 12 left make four sessions more, so the likely end is day 40.
    #[test]
    fn a_steady_pace_is_carried_on() {
        let steady = pace(&sessions(&[(0, 3.0), (5, 3.0), (10, 3.0), (15, 3.0), (20, 3.0)])).unwrap();
        assert_abs_diff_eq!(steady.pieces, 3.0);
        assert_abs_diff_eq!(steady.days, 5.0);
        let belief = Belief::new(&exact(), ph(5.5)).unwrap();
        let capacity = belief.left(ROLLS).pieces.likely;
        let mut life = exact().with(load(capacity - 12.0, ROLLS));
        (life.acid, life.keeping) = (AcidKind::Acetic, Keeping::Bottle);
        let loaded = Belief::new(&life, ph(5.5)).unwrap();
        let dates = loaded.dates(ROLLS, &steady, &Age::of(&life, day(20), None), day(20));
        assert_abs_diff_eq!(dates.likely as f64 / DAY, 40.0, epsilon = 2.5);
        assert!(dates.low < dates.likely && dates.likely < dates.high && dates.low >= day(20) && !dates.is_by_age);
        // Of a bath whose capacity is known the day is as wide as the means of five past and as many future sessions are uncertain.
        let fresh = belief.dates(ROLLS, &steady, &Age { days: 0.0, limit: 1e4 }, day(20));
        let spread = steady.pieces_scatter.hypot(steady.days_scatter) * (1.0 / 5.0 + 3.0 / capacity).sqrt();
        let wide = ((fresh.high - day(20)) as f64 / (fresh.likely - day(20)) as f64).ln();
        assert_abs_diff_eq!(wide, 1.645 * spread, epsilon = 0.03);
        assert!(steady.pieces_scatter < USUAL_SCATTER);
        // A shorter age ends it sooner.
        let aged = loaded.dates(ROLLS, &steady, &Age::of(&life, day(20), Some(30.0)), day(20));
        assert_eq!((aged.likely, aged.is_by_age), (day(30), true));
    }

    // The mean of five sessions is surer than that of two.
    #[test]
    fn a_longer_record_tells_the_day_better() {
        let belief = Belief::new(&exact().with(load(5.0, ROLLS)), ph(5.5)).unwrap();
        let width = |of: &[(i64, f64)]| {
            let dates = belief.dates(ROLLS, &pace(&sessions(of)).unwrap(), &Age { days: 0.0, limit: 1e4 }, day(20));
            dates.high - dates.low
        };
        let five = [(0, 2.0), (5, 4.0), (10, 2.0), (15, 4.0), (20, 3.0)];
        assert!(width(&five) < width(&[(15, 2.0), (20, 4.0)]));
    }

    #[test]
    fn twice_the_pace_ends_sooner_and_one_session_says_nothing() {
        let belief = Belief::new(&citric().with(load(5.0, ROLLS)), ph(5.5)).unwrap();
        let age = Age { days: 0.0, limit: 1e4 };
        let ends = |of: &[(i64, f64)]| belief.dates(ROLLS, &pace(&sessions(of)).unwrap(), &age, day(10)).likely;
        assert!(ends(&[(0, 6.0), (5, 6.0), (10, 6.0)]) < ends(&[(0, 3.0), (5, 3.0), (10, 3.0)]));
        assert!(ends(&[(0, 3.0), (5, 3.0), (10, 3.0)]) < ends(&[(0, 3.0), (10, 3.0)]));
        assert!(pace(&sessions(&[(0, 3.0)])).is_none() && pace(&[]).is_none());
    }
}
