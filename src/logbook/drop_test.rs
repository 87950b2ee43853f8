//! The drop test alone: one's own developer into a sample of bath until it turns. Works without pH and with any acid.

use super::belief::Range;
use super::life::{DropTest, Piece};

/// Relative standard deviation: the eye finds the turn to about a tenth of the volume (judgement).
pub(super) const SPREAD: f64 = 0.1;
/// A drop, ml: no test is finer.
pub(super) const DROP: f64 = 0.05;
/// Standard deviations from the middle to the ends of 90 %.
const ENDS: f64 = 1.645;

impl DropTest {
    /// Millilitres of developer that a litre of bath still takes before the dye turns, 90 % interval and likely figure.
    #[must_use]
    pub fn available(&self) -> Range {
        let likely = 1000.0 * self.used / self.bath;
        let reach = ENDS * (SPREAD * likely).hypot(1000.0 * DROP / self.bath);
        Range { low: (likely - reach).max(0.0), likely, high: likely + reach }
    }

    /// Pieces that so much bath still takes before its dye turns: every piece also carries bath out, so that it is 1000 ln(1 + available / 1000) ml a litre.
    #[must_use]
    pub fn pieces(&self, litres: f64, piece: &Piece) -> Range {
        let available = self.available();
        let of = |ml: f64, factor: f64| 1000.0 * litres * (ml / 1000.0).ln_1p() / (piece.carry_over * factor);
        let likely = of(available.likely, 1.0);
        // The two errors are independent: logarithms of their effects add in squares.
        let end = |ml: f64, sign: f64| {
            let by_test = (of(ml, 1.0).max(1e-9) / likely.max(1e-9)).ln();
            likely * (sign * by_test.hypot(ENDS * piece.spread)).exp()
        };
        Range { low: end(available.low, -1.0), likely, high: end(available.high, 1.0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Ph;
    use approx::assert_abs_diff_eq;

    fn test(used: f64) -> DropTest {
        DropTest { developer: 0, bath: 10.0, used, turn: Ph::new(6.0).unwrap() }
    }

    // By hand: 3.5 ml into 10 ml is 350 ml a litre; 0.5 l at 10 ml a roll takes 500 ln 1.35 / 10 = 15.0 rolls.
    #[test]
    fn hand_calculation() {
        let piece = Piece { name: "135-36".to_owned(), carry_over: 10.0, spread: 0.1, area: 0.0516 };
        assert_abs_diff_eq!(test(3.5).available().likely, 350.0, epsilon = 1e-9);
        let pieces = test(3.5).pieces(0.5, &piece);
        assert_abs_diff_eq!(pieces.likely, 15.0, epsilon = 0.01);
        assert!(pieces.low < 13.0 && pieces.high > 17.0);
        // The test's own ends in rolls, and 10 % of carry-over times 1.645, as squares of logarithms.
        let (available, rolls) = (test(3.5).available(), |ml: f64| 50.0 * (1.0 + ml / 1000.0).ln());
        for (end, ml) in [(pieces.low, available.low), (pieces.high, available.high)] {
            let by_test = (rolls(ml) / rolls(350.0)).ln();
            assert_abs_diff_eq!((end / pieces.likely).ln().abs(), by_test.hypot(0.1645), epsilon = 1e-3);
        }
    }

    #[test]
    fn a_bath_that_turns_at_once_takes_nothing() {
        let piece = Piece { name: "8x10 RC".to_owned(), carry_over: 3.0, spread: 0.4, area: 0.0516 };
        assert_abs_diff_eq!(test(0.0).available().low, 0.0);
        assert!(test(0.0).pieces(1.0, &piece).low < 1e-3);
    }
}
