//! What nobody knows exactly of a bath's life, as independent standard normal numbers, and evenly spread draws of them.

use super::evidence::Shared;
use super::life::{Change, Life, Reading};
use super::normal;

/// One thing that is not known exactly.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Assumption {
    /// Strength of the bath as mixed.
    Strength,
    /// The error that all colour readings of this bath share.
    Reader,
    /// The error that they share while the dye is hardly turned.
    Foot,
    /// Where the dye of the drop tests turns.
    Turn,
    /// What went through without being written down.
    Uncounted,
    /// Carry-over of the piece at this place of [`Life::pieces`].
    CarryOver(usize),
    /// Alkalinity of the developer at this place of [`Life::developers`].
    Alkalinity(usize),
}

/// Most share of the reserve used that an uncounted bath is met with; from nothing to here all are as probable.
pub(super) const MOST_UNCOUNTED: f64 = 1.3;

/// Places of the unknowns in a draw; what the life does not have has none.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Unknowns {
    /// What each place stands for.
    pub(super) list: Vec<Assumption>,
    strength: f64,
    pieces: Vec<(f64, Option<usize>)>,
    developers: Vec<(f64, Option<usize>)>,
}

impl Unknowns {
    /// Those that this life depends on.
    pub(super) fn of(life: &Life) -> Self {
        let mut list = vec![Assumption::Strength];
        let has = |wanted: fn(&Change) -> bool| life.steps.iter().any(|step| wanted(&step.change));
        if has(|change| matches!(change, Change::Reading(_))) {
            list.push(Assumption::Reader);
        }
        if has(|change| matches!(change, Change::Reading(Reading { pka: Some(_), .. }))) {
            list.push(Assumption::Foot);
        }
        if has(|change| matches!(change, Change::DropTest(_))) {
            list.push(Assumption::Turn);
        }
        if !life.counted {
            list.push(Assumption::Uncounted);
        }
        let pieces = life
            .pieces
            .iter()
            .enumerate()
            .map(|(i, piece)| (piece.spread, placed(&mut list, piece.spread, Assumption::CarryOver(i))))
            .collect();
        let alkalinity = |(i, spread): (usize, f64), list: &mut Vec<Assumption>| (spread, placed(list, spread, Assumption::Alkalinity(i)));
        let developers =
            life.developers.iter().map(|developer| developer.spread).enumerate().map(|each| alkalinity(each, &mut list)).collect();
        Unknowns { strength: life.strength_spread, pieces, developers, list }
    }

    /// Their number.
    pub(super) fn count(&self) -> usize {
        self.list.len()
    }

    fn place(&self, wanted: Assumption) -> Option<usize> {
        self.list.iter().position(|assumption| *assumption == wanted)
    }

    /// Strength against the stated one.
    pub(super) fn strength(&self, draw: &[f64]) -> f64 {
        (self.strength * draw[0]).exp()
    }

    /// Errors that the colour readings share.
    pub(super) fn shared(&self, draw: &[f64]) -> Shared {
        let of = |assumption| self.place(assumption).map_or(0.0, |i| draw[i]);
        Shared { foot: of(Assumption::Foot), turn: of(Assumption::Reader) }
    }

    /// Error of the turn in standard deviations.
    pub(super) fn turn(&self, draw: &[f64]) -> f64 {
        self.place(Assumption::Turn).map_or(0.0, |i| draw[i])
    }

    /// Share of the reserve that was used without being written down.
    pub(super) fn uncounted(&self, draw: &[f64]) -> Option<f64> {
        self.place(Assumption::Uncounted).map(|i| MOST_UNCOUNTED * normal::below(draw[i]))
    }

    /// Carry-over of a kind of piece against the stated one.
    pub(super) fn carry_over(&self, piece: usize, draw: &[f64]) -> f64 {
        factor(self.pieces[piece], draw)
    }

    /// Strength of a developer against the stated one.
    pub(super) fn alkalinity(&self, developer: usize, draw: &[f64]) -> f64 {
        factor(self.developers[developer], draw)
    }
}

/// A place for what is not known exactly.
fn placed(list: &mut Vec<Assumption>, spread: f64, assumption: Assumption) -> Option<usize> {
    (spread > 0.0).then(|| {
        list.push(assumption);
        list.len() - 1
    })
}

fn factor((spread, place): (f64, Option<usize>), draw: &[f64]) -> f64 {
    place.map_or(1.0, |i| (spread * draw[i]).exp())
}

/// An evenly spread sequence in the unit cube: multiples of powers of the root of x^(d+1) = x + 1, the golden ratio's kin for d dimensions (Roberts 2018).
pub(super) struct Spread(Vec<f64>);

impl Spread {
    /// For points of so many coordinates.
    pub(super) fn new(dimensions: usize) -> Self {
        let root = root(dimensions);
        Spread((1..=dimensions).map(|axis| root.powi(-(axis as i32))).collect())
    }

    /// The point of this number, each coordinate from 0 to below 1.
    pub(super) fn point(&self, index: usize) -> impl Iterator<Item = f64> {
        self.0.iter().map(move |step| (0.5 + (index + 1) as f64 * step).fract())
    }
}

/// Fixed-point iteration; contracts for any dimension.
fn root(dimensions: usize) -> f64 {
    (0..60).fold(1.5f64, |x, _| (1.0 + x).powf(1.0 / (dimensions as f64 + 1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    // d = 1 is the golden ratio, d = 2 the plastic number 1.3247.
    #[test]
    fn roots_are_the_known_ones() {
        assert_abs_diff_eq!(root(1), 1.618_034, epsilon = 1e-6);
        assert_abs_diff_eq!(root(2), 1.324_718, epsilon = 1e-6);
    }

    #[test]
    fn points_are_spread_evenly() {
        let spread = Spread::new(5);
        let points: Vec<Vec<f64>> = (0..1000).map(|i| spread.point(i).collect()).collect();
        for axis in 0..5 {
            for tenth in 0..10 {
                let inside = points.iter().filter(|p| (p[axis] * 10.0) as usize == tenth).count();
                assert!((90..=110).contains(&inside), "{axis} {tenth}: {inside}");
            }
        }
    }
}
