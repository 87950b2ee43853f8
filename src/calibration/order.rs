//! Which cup of a photo holds which buffer: as the reading numbers them, or along the row, as their colours bear out.

use crate::measurement::regions::Circle;

/// How the cups of a photo stand, by their colours.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Arrangement {
    /// As the reading numbers them, or nothing better is seen.
    AsNumbered,
    /// Along the row.
    Along {
        /// True from left to right, false from top to bottom.
        is_across: bool,
        /// The cup of each buffer, from 0.
        cups: Vec<usize>,
    },
    /// In no order that the colours follow.
    AtOdds {
        /// Numbers of the cups that are furthest off, from 1.
        cups: Vec<usize>,
    },
}

/// Root mean square difference of base fractions, by colour alone and by the pH told, up to which the order needs no doubt: plain reading
/// is off by about 0.05 (README, figures).
const IN_ORDER: f64 = 0.10;
/// Another order must make that so much smaller to be taken.
const BETTER: f64 = 0.6;
/// Beyond this no order is right.
const NO_ORDER: f64 = 0.30;

/// Finds the order of the cups that their colours bear out: base fractions `seen` of each cup and `told` of each buffer. `is_told` when the
/// places of the cups were told, whose order then stands.
pub(super) fn arrange(seen: &[f64], told: &[f64], places: &[Circle], is_told: bool) -> Arrangement {
    let off = |cups: &[usize]| -> Vec<f64> { cups.iter().zip(told).map(|(&cup, told)| seen[cup] - told).collect() };
    let rms = |cups: &[usize]| {
        let off = off(cups);
        (off.iter().map(|d| d * d).sum::<f64>() / off.len() as f64).sqrt()
    };
    let numbered: Vec<usize> = (0..told.len()).collect();
    let as_numbered = rms(&numbered);
    if as_numbered <= IN_ORDER {
        return Arrangement::AsNumbered;
    }
    let rows = [(true, along(places, |cup| cup.x)), (false, along(places, |cup| cup.y))];
    let best = rows.into_iter().filter_map(|(is_across, cups)| Some((is_across, cups?))).min_by(|a, b| rms(&a.1).total_cmp(&rms(&b.1)));
    if let Some((is_across, cups)) = best.filter(|(_, cups)| !is_told && rms(cups) < BETTER * as_numbered && rms(cups) < NO_ORDER) {
        return Arrangement::Along { is_across, cups };
    }
    if as_numbered > NO_ORDER {
        let off = off(&numbered);
        return Arrangement::AtOdds { cups: numbered.iter().filter(|&&k| off[k].abs() > NO_ORDER).map(|k| k + 1).collect() };
    }
    Arrangement::AsNumbered
}

/// The cups in the order of a coordinate; `None` where two of them lie side by side in it, so that a pixel would decide.
fn along(places: &[Circle], by: impl Fn(&Circle) -> f64) -> Option<Vec<usize>> {
    let mut cups: Vec<usize> = (0..places.len()).collect();
    cups.sort_by(|a, b| by(&places[*a]).total_cmp(&by(&places[*b])));
    let is_apart = |pair: &[usize]| {
        let (a, b) = (&places[pair[0]], &places[pair[1]]);
        by(b) - by(a) > a.radius.min(b.radius)
    };
    cups.windows(2).all(is_apart).then_some(cups)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(x: f64, y: f64) -> Circle {
        Circle { x, y, radius: 10.0 }
    }

    /// Three cups numbered from left to right.
    fn row() -> [Circle; 3] {
        [at(10.0, 50.0), at(50.0, 52.0), at(90.0, 49.0)]
    }

    /// Three numbered from right to left.
    fn turned() -> [Circle; 3] {
        [at(90.0, 50.0), at(50.0, 52.0), at(10.0, 49.0)]
    }

    fn across(cups: &[usize]) -> Arrangement {
        Arrangement::Along { is_across: true, cups: cups.to_vec() }
    }

    #[test]
    fn only_cups_apart_have_an_order() {
        let row = [at(90.0, 3.0), at(10.0, 5.0), at(40.0, 1.0)];
        assert_eq!((along(&row, |cup| cup.x), along(&row, |cup| cup.y)), (Some(vec![1, 2, 0]), None));
        assert_eq!(along(&[at(0.0, 10.1), at(0.0, 0.0)], |cup| cup.y), Some(vec![1, 0]));
        // A radius apart is not more than a radius; of two sizes the smaller counts.
        assert_eq!(along(&[at(0.0, 10.0), at(0.0, 0.0)], |cup| cup.y), None);
        let wide = Circle { radius: 30.0, ..at(0.0, 20.0) };
        assert_eq!(
            (along(&[at(0.0, 0.0), wide], |cup| cup.y), along(&[wide, at(0.0, 0.0)], |cup| cup.y)),
            (Some(vec![0, 1]), Some(vec![1, 0]))
        );
    }

    #[test]
    fn colours_that_follow_the_numbers_are_left_alone() {
        // Off by 0.1, 0.05 and 0.1: 0.087 as a root mean square, though turned round the ends would not be off at all.
        assert_eq!(arrange(&[0.4, 0.45, 0.5], &[0.5, 0.4, 0.4], &turned(), false), Arrangement::AsNumbered);
    }

    #[test]
    fn a_row_numbered_from_the_other_end_is_turned_round() {
        assert_eq!(arrange(&[0.9, 0.5, 0.1], &[0.1, 0.5, 0.9], &turned(), false), across(&[2, 1, 0]));
        // The same from top to bottom.
        let column = turned().map(|cup| at(cup.y, cup.x));
        let down = Arrangement::Along { is_across: false, cups: vec![2, 1, 0] };
        assert_eq!(arrange(&[0.9, 0.5, 0.1], &[0.1, 0.5, 0.9], &column, false), down);
    }

    // On a slant both ways are orders: rising from left to right, falling from top to bottom.
    #[test]
    fn of_two_ways_along_a_slant_the_better_is_taken() {
        let slant = [at(50.0, 50.0), at(10.0, 90.0), at(90.0, 10.0)];
        assert_eq!(arrange(&[0.5, 0.1, 0.9], &[0.1, 0.5, 0.9], &slant, false), across(&[1, 0, 2]));
        let down = Arrangement::Along { is_across: false, cups: vec![2, 0, 1] };
        assert_eq!(arrange(&[0.5, 0.9, 0.1], &[0.1, 0.5, 0.9], &slant, false), down);
    }

    // Told places and numbers stand: what is 0.8 off at both ends cannot be used, what is 0.2 off can.
    #[test]
    fn places_that_were_told_keep_their_order() {
        assert_eq!(arrange(&[0.9, 0.5, 0.1], &[0.1, 0.5, 0.9], &turned(), true), Arrangement::AtOdds { cups: vec![1, 3] });
        assert_eq!(arrange(&[0.6, 0.5, 0.4], &[0.4, 0.5, 0.6], &turned(), true), Arrangement::AsNumbered);
    }

    // As numbered the ends are 0.2 off and the middle is right: 0.163. Turned round they are as far off as the last column says.
    #[test]
    fn another_order_must_be_much_better() {
        // By hand: 0.6 of 0.163 is 0.098, reached when both ends are off by 0.12.
        for (left, is_turned) in [(0.05, true), (0.11, true), (0.13, false), (0.19, false)] {
            let told = [0.5, 0.5, 0.7 + left];
            let seen = [0.7, 0.5, 0.5 + left];
            // As numbered 0.2, 0 and -0.2; turned round left, 0 and -left.
            let found = arrange(&seen, &told, &turned(), false);
            assert_eq!(found, if is_turned { across(&[2, 1, 0]) } else { Arrangement::AsNumbered }, "{left}");
        }
    }

    // Turned round both ends are 0.4 off (0.327 as a root mean square) instead of 1.0 and 0.2 (0.589): better by far, and still no order.
    #[test]
    fn the_better_of_two_wrong_orders_is_none() {
        assert_eq!(arrange(&[1.0, 0.5, 0.4], &[0.0, 0.5, 0.6], &turned(), false), Arrangement::AtOdds { cups: vec![1] });
        // Nothing but the numbers: cups 2 and 3 are exchanged, 1 is right.
        assert_eq!(arrange(&[0.1, 0.95, 0.5], &[0.1, 0.5, 0.95], &row(), false), Arrangement::AtOdds { cups: vec![2, 3] });
        // Two in one column and a row above: there is no other order to try.
        let block = [at(10.0, 10.0), at(12.0, 50.0), at(60.0, 12.0)];
        assert_eq!(arrange(&[0.1, 0.95, 0.5], &[0.1, 0.5, 0.95], &block, false), Arrangement::AtOdds { cups: vec![2, 3] });
    }
}
