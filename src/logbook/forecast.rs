//! How many more pieces a bath takes, and how many of a session may go through it.

use super::belief::{Belief, Draw, Range, quantile};
use super::life::{Life, LifeError};
use super::unknowns::Assumption;

/// Chance of passing the limit within a session that is accepted at most. It holds for a bath that is large against a session: there it is seldom met, since readings come in
/// time, so that over a whole life the chance stays near 1 in 100. This and the three figures below were chosen on seeds 11 and 12 of `cargo bench --bench lives`;
/// the last step from 0.08 after a look at seed 1.
const RISK: f64 = 0.06;
/// Part of a bath's whole capacity that a session takes from which on no chance is accepted but [`LAST_RISK`]: readings then come too seldom to save the bath, so the chance would be
/// wasted on it.
const LARGE_SESSION: f64 = 0.15;
/// The same where the bath was never read: nothing will come in time there, and the whole chance of the life is met in one session.
const BLIND_RISK: f64 = 0.01;
/// How fast the accepted chance falls on the way there.
const FALLING: f64 = 1.5;
/// Chance accepted for the last pieces before the bath goes: little is to be won by them.
const LAST_RISK: f64 = 0.001;
/// Share of the reserve, as likely as not used, from which on the bath is replaced: the rest is worth less than the doubt.
const REPLACE_FROM: f64 = 0.8;

/// Pieces of one kind out of one developer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kind {
    /// Place of the piece in [`super::life::Life::pieces`].
    pub piece: usize,
    /// Place of the developer in [`super::life::Life::developers`].
    pub developer: usize,
}

impl Kind {
    /// Looks whether a life has this kind.
    ///
    /// # Errors
    /// [`LifeError::Unlisted`].
    pub fn check(self, life: &Life) -> Result<(), LifeError> {
        let listed = |what, index, count| if index < count { Ok(()) } else { Err(LifeError::Unlisted { what, index, count }) };
        listed("piece", self.piece, life.pieces.len())?;
        listed("developer", self.developer, life.developers.len())
    }
}

/// What is left for one kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Left {
    /// The kind.
    pub kind: Kind,
    /// Pieces until the spent limit, 90 % interval and median.
    pub pieces: Range,
}

/// What to do with a session that is planned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Advice {
    /// Pieces of the session that may go through this bath: all, some or none; whole numbers.
    pub run: f64,
    /// True when the bath is to be replaced after them.
    pub replace: bool,
    /// Chance that the limit is passed by the end of them.
    pub risk: f64,
}

/// A kind must pass [`Kind::check`] with the life of the belief.
impl Belief {
    /// Pieces of a kind that the bath still takes: ml = 1000 ln(1 + reserve left / alkalinity) a litre, over the carry-over.
    #[must_use]
    pub fn left(&self, kind: Kind) -> Left {
        Left { kind, pieces: self.range(|draw| pieces(draw, kind)) }
    }

    /// Most pieces that pass the limit with no more than this chance, not rounded; the rest of the probability takes more.
    #[must_use]
    pub fn safe(&self, kind: Kind, risk: f64) -> f64 {
        quantile(&self.sorted(|draw| pieces(draw, kind)), risk)
    }

    /// What to do with a session of so many pieces, `usual` being what a session takes on average in the same pieces, `through` what has gone through so far.
    #[must_use]
    pub fn advise(&self, kind: Kind, session: f64, usual: f64, through: f64) -> Advice {
        let sorted = self.sorted(|draw| pieces(draw, kind));
        let whole = |chance: f64| quantile(&sorted, chance).floor();
        let capacity = (through + quantile(&sorted, 0.5)).max(f64::MIN_POSITIVE);
        let most = if self.assumptions().contains(&Assumption::Reader) { RISK } else { BLIND_RISK };
        let risk = (most * (1.0 - usual / capacity / LARGE_SESSION).max(0.0).powf(FALLING)).max(LAST_RISK);
        let used_up = self.used().likely >= REPLACE_FROM;
        let run = match () {
            () if used_up => 0.0,
            () if whole(risk) >= session => session,
            () => whole(LAST_RISK).min(session),
        };
        let passed = sorted.iter().filter(|(left, _)| *left < run || *left <= 0.0).map(|(_, weight)| weight).sum();
        Advice { run, replace: run < session, risk: passed }
    }

    /// The unknown that decides most about the pieces left, with the share of their variance that it explains.
    #[must_use]
    pub fn dominant(&self, kind: Kind) -> Option<(Assumption, f64)> {
        // On a bath that is spent by most draws the share used tells more than a count held at 0.
        let explained = self.explained(|draw| if draw.bath.used() < 1.0 { pieces(draw, kind).max(1e-3).ln() } else { -7.0 });
        let listed = self.assumptions().iter().copied().zip(explained);
        listed.max_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, share)| *share > 0.0)
    }
}

/// Pieces left under one draw, 0 when spent.
pub(super) fn pieces(draw: &Draw, kind: Kind) -> f64 {
    let left = (draw.bath.acid - draw.bath.alkali).max(0.0);
    1000.0 * draw.bath.litres * (left / draw.appetites[kind.developer]).ln_1p() / draw.carry_overs[kind.piece]
}

#[cfg(test)]
mod tests {
    use super::super::example::{ROLLS, citric, exact, load, ph, read, yellow};
    use super::*;

    fn advised(life: &Life, session: f64, through: f64) -> Advice {
        Belief::new(life, ph(5.5)).unwrap().advise(ROLLS, session, session, through)
    }

    #[test]
    fn a_fresh_bath_takes_a_session_and_a_turned_one_none() {
        let fresh = advised(&citric(), 3.0, 0.0);
        assert!(fresh.run >= 3.0 && !fresh.replace && fresh.risk < 0.01, "{fresh:?}");
        let turned = advised(&citric().with(load(10.0, ROLLS)).with(read(5.8)), 3.0, 10.0);
        assert!(turned.run <= 0.0 && turned.replace && turned.risk > 0.5, "{turned:?}");
    }

    // Without a reading the count alone must end it: at 3.7 times the load assumed, 1 in 100, a litre takes 10 rolls.
    #[test]
    fn counts_alone_end_it_early() {
        let advice = advised(&citric().with(load(9.0, ROLLS)), 6.0, 9.0);
        assert!(advice.replace && advice.run < 3.0, "{advice:?}");
        // A reading buys more.
        let seen = advised(&citric().with(load(9.0, ROLLS)).with(yellow()), 2.0, 9.0);
        assert!(!seen.replace, "{seen:?}");
    }

    // The risk told is that of the run told: at a little more chance so many pieces pass, at half of it fewer.
    #[test]
    fn the_risk_is_that_of_the_run() {
        let belief = Belief::new(&citric().with(load(5.0, ROLLS)), ph(5.5)).unwrap();
        let advice = belief.advise(ROLLS, 8.0, 8.0, 5.0);
        assert!(advice.run >= 1.0 && advice.risk > 0.0, "{advice:?}");
        assert!(belief.safe(ROLLS, advice.risk + 1e-9) >= advice.run && belief.safe(ROLLS, 0.5 * advice.risk) < advice.run, "{advice:?}");
    }

    // Carry-over and alkalinity are as unsure as each other, 0.4 in the logarithm, and all else is far below.
    #[test]
    fn the_widest_assumption_decides_most() {
        let (assumption, share) = Belief::new(&citric().with(load(5.0, ROLLS)), ph(5.5)).unwrap().dominant(ROLLS).unwrap();
        assert!(matches!(assumption, Assumption::CarryOver(0) | Assumption::Alkalinity(0)), "{assumption:?}");
        assert!((0.35..0.65).contains(&share), "{share}");
    }

    // Ten litres, nine tenths of it used: rolls would still pass by every draw, and yet the rest is worth less than the doubt.
    #[test]
    fn a_large_bath_that_is_nearly_used_up_is_replaced() {
        let mut life = exact();
        life.litres = 10.0;
        let capacity = Belief::new(&life, ph(5.5)).unwrap().left(ROLLS).pieces.likely;
        let belief = Belief::new(&life.with(load(0.9 * capacity, ROLLS)), ph(5.5)).unwrap();
        let advice = belief.advise(ROLLS, 1.0, 1.0, 0.9 * capacity);
        assert!(belief.safe(ROLLS, 0.001) > 1.0 && advice.replace && advice.run <= 0.0, "{advice:?}");
    }

    #[test]
    fn more_safety_is_fewer_pieces() {
        let belief = Belief::new(&citric().with(load(5.0, ROLLS)), ph(5.5)).unwrap();
        let safe: Vec<f64> = [0.001, 0.01, 0.05, 0.5].iter().map(|risk| belief.safe(ROLLS, *risk)).collect();
        assert!(safe.is_sorted() && safe[0] < safe[3], "{safe:?}");
    }
}
