//! How many more pieces a bath takes.

use super::belief::{Belief, Draw, Range, quantile};
use super::life::{Life, LifeError};
use super::unknowns::Assumption;

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
    use super::super::example::{ROLLS, citric, load, ph};
    use super::*;

    // Carry-over and alkalinity are as unsure as each other, 0.4 in the logarithm, and all else is far below.
    #[test]
    fn the_widest_assumption_decides_most() {
        let (assumption, share) = Belief::new(&citric().with(load(5.0, ROLLS)), ph(5.5)).unwrap().dominant(ROLLS).unwrap();
        assert!(matches!(assumption, Assumption::CarryOver(0) | Assumption::Alkalinity(0)), "{assumption:?}");
        assert!((0.35..0.65).contains(&share), "{share}");
    }

    #[test]
    fn more_safety_is_fewer_pieces() {
        let belief = Belief::new(&citric().with(load(5.0, ROLLS)), ph(5.5)).unwrap();
        let safe: Vec<f64> = [0.001, 0.01, 0.05, 0.5].iter().map(|risk| belief.safe(ROLLS, *risk)).collect();
        assert!(safe.is_sorted() && safe[0] < safe[3], "{safe:?}");
    }
}
