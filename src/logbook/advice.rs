//! What to do with the next session of a bath.

use super::belief::{Belief, Draw};
use super::forecast::{Kind, pieces};
use super::life::Life;
use super::pace;
use super::prospect;
use super::unknowns::Assumption;

/// What a bath that passes the limit costs, in baths that were used up as far as can be aimed at: developed pieces may be lost with it. Chosen on seed 11 of
/// `cargo bench --bench lives`, so that 99 baths in 100 are replaced in time.
const FAILURE: f64 = 38.0;
/// Chance of passing the limit that is accepted at most for a bath that was never read: nothing tells there that it bears more than is assumed.
const BLIND_RISK: f64 = 0.01;
/// The same where loads are not counted: nobody knows what went through since the last reading, so that weighing what the next would tell is too bold. A stricter bound throws away
/// far more and saves next to nothing (DEVELOPERS.md).
const UNCOUNTED_RISK: f64 = 0.007;
/// Chance of being spent already from which nothing more goes through a bath (judgement: pieces are dearer than baths).
const DOUBTFUL: f64 = 0.1;

/// Probability below the interval of what is left.
const LOW: f64 = 0.05;

/// A session to come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Planned {
    /// As many pieces as the recent ones took on average.
    Usual,
    /// So many pieces.
    Of(f64),
}

/// Most pieces that a session is asked about.
pub const MOST_PIECES: f64 = 1000.0;

impl Planned {
    /// So many pieces: more than 0 and at most [`MOST_PIECES`], else none.
    #[must_use]
    pub fn of(pieces: f64) -> Option<Self> {
        (pieces > 0.0 && pieces <= MOST_PIECES).then_some(Planned::Of(pieces))
    }
}

/// What to do with a session that is planned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Advice {
    /// Pieces that are planned.
    pub session: f64,
    /// Pieces of them that may go through this bath: all, some or none; whole numbers.
    pub run: f64,
    /// True when the bath is to be replaced after them.
    pub replace: bool,
    /// Chance that the limit is passed by the end of them.
    pub risk: f64,
    /// The same if the whole session were run.
    pub risk_of_all: f64,
}

impl Belief {
    /// What to do with a session of so many pieces, `usual` being what a session takes on average in the same pieces.
    ///
    /// Replacing the bath, perhaps after a part of the session, is weighed against running the whole session and looking again, over all that may be so. What counts
    /// is the chance that a fifth of a fresh bath at most is thrown away; passing the limit costs as much as 38 such baths.
    #[must_use]
    pub fn advise(&self, kind: Kind, session: f64, usual: f64) -> Advice {
        let is_assumed = |assumption| self.assumptions().contains(&assumption);
        let within = |risk: f64| self.safe(kind, risk).floor().min(session);
        let run = match () {
            () if !is_assumed(Assumption::Reader) => within(BLIND_RISK),
            () if self.chance_used(1.0) > DOUBTFUL => 0.0,
            () if is_assumed(Assumption::Uncounted) => within(UNCOUNTED_RISK),
            // Not more than the lower end of what is said to be left: whoever reads both must not wonder which of them holds.
            () => prospect::best(self, kind, prospect::Plan { session, usual, failure: FAILURE }).min(self.safe(kind, LOW).floor()),
        };
        let risk = |count: f64| {
            let passes = |draw: &&Draw| pieces(draw, kind) < count || pieces(draw, kind) <= 0.0;
            self.draws.iter().filter(passes).map(|draw| draw.weight).sum()
        };
        Advice { session, run, replace: run < session, risk: risk(run), risk_of_all: risk(session) }
    }

    /// What to do with the next session in pieces of a kind; none before anything went through, for then no session is usual.
    #[must_use]
    pub fn advise_next(&self, life: &Life, kind: Kind, planned: Planned) -> Option<Advice> {
        let usual = pace::usual(&self.sessions(life, kind))?;
        let session = match planned {
            Planned::Usual => usual.round().max(1.0),
            Planned::Of(pieces) => pieces,
        };
        Some(self.advise(kind, session, usual))
    }
}

#[cfg(test)]
mod tests {
    use super::super::example::{ROLLS, citric, exact, load, ph, read, yellow};
    use super::*;

    fn advised(life: &Life, session: f64) -> Advice {
        Belief::new(life, ph(5.5)).unwrap().advise(ROLLS, session, session)
    }

    #[test]
    fn a_fresh_bath_takes_a_session_and_a_turned_one_none() {
        let fresh = advised(&citric(), 3.0);
        assert!(fresh.run >= 3.0 && !fresh.replace && fresh.risk < 0.01, "{fresh:?}");
        let turned = advised(&citric().with(load(10.0, ROLLS)).with(read(5.8)), 3.0);
        assert!(turned.run <= 0.0 && turned.replace && turned.risk > 0.5, "{turned:?}");
    }

    // Without a reading the count alone must end it: at 3.7 times the load assumed, 1 in 100, a litre takes 10 rolls.
    #[test]
    fn counts_alone_end_it_early() {
        let advice = advised(&citric().with(load(9.0, ROLLS)), 6.0);
        assert!(advice.replace && advice.run < 3.0, "{advice:?}");
        // A reading buys more.
        let seen = advised(&citric().with(load(9.0, ROLLS)).with(yellow()), 2.0);
        assert!(!seen.replace, "{seen:?}");
    }

    // The risk told is that of the run told: at a little more chance so many pieces pass, at half of it fewer.
    #[test]
    fn the_risk_is_that_of_the_run() {
        let belief = Belief::new(&citric().with(load(5.0, ROLLS)), ph(5.5)).unwrap();
        let advice = belief.advise(ROLLS, 8.0, 8.0);
        assert!(advice.run >= 1.0 && advice.risk > 0.0, "{advice:?}");
        assert!(belief.safe(ROLLS, advice.risk + 1e-9) >= advice.run && belief.safe(ROLLS, 0.5 * advice.risk) < advice.run, "{advice:?}");
    }

    // Ten litres, nine tenths of it used, every figure exact: what surely passes may pass, and what surely does not may not.
    #[test]
    fn a_well_known_bath_goes_on_to_its_end() {
        let mut life = exact();
        life.litres = 10.0;
        let capacity = Belief::new(&life, ph(5.5)).unwrap().left(ROLLS).pieces.likely;
        let belief = Belief::new(&life.with(load((0.9 * capacity).floor(), ROLLS)), ph(5.5)).unwrap();
        let (one, all) = (belief.advise(ROLLS, 1.0, 1.0), belief.advise(ROLLS, 0.2 * capacity, 1.0));
        assert!(!one.replace && one.run >= 1.0 && one.risk < 0.01, "{one:?}");
        assert!(all.replace && (0.05 * capacity..0.101 * capacity).contains(&all.run), "{all:?}");
    }
}
