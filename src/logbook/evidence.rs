//! What one reading says of the pH: its likelihood, one-sided where the reading is, and never quite sure.

use super::curve::{Curve, between};
use super::life::{Reading, Salt};
use super::normal;
use crate::chemistry::activity::Model;
use crate::quantity::{Celsius, IonicStrength};

/// Standard deviation of the error that all colour readings of one bath share - camera, lamp, the dye's own spectrum -, pH: the larger part of the 0.14 that
/// `cargo bench --bench accuracy` measures.
pub(super) const SHARED: f64 = 0.10;
/// Standard deviation of a bound, pH: a reading near the foot of the turn errs by about this much (the same bench).
const BOUND: f64 = 0.15;
/// Standard deviations from the middle of an interval of 95 % to its end, and to a bound of 95 %.
pub(super) const TWO_SIDED: f64 = 1.96;
const ONE_SIDED: f64 = 1.645;
/// Smallest own error of a reading, pH, whatever it claims.
const SMALLEST: f64 = 0.05;
/// Share of readings that have nothing to do with the bath: wrong cup, wrong dye, a slip of the pen (judgement; a few in a hundred are what clerks do).
const GROSS: f64 = 0.01;
/// Height of the flat density of such a reading: even over 6 pH.
const FLAT: f64 = 1.0 / 6.0;

/// The part of a reading that says something.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Said {
    /// About this, with a standard deviation below and above.
    About { ph: f64, below: f64, above: f64 },
    /// Below this or above it: the pH where it would be said half of the time.
    Below(f64),
    /// See [`Said::Below`].
    Above(f64),
}

/// A reading against one curve.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Evidence {
    said: Said,
    /// What a reader without error would say along the curve, where the salt that he assumed is not the bath's.
    seen: Vec<f64>,
    /// True for a colour, whose errors are partly shared with other readings.
    pub(super) by_colour: bool,
}

impl Evidence {
    /// None when the reading says nothing. A share beyond `most` is not known of: a reading up there says that it is at the end.
    pub(super) fn new(reading: &Reading, curve: &Curve, temperature: Celsius, most: f64) -> Option<Self> {
        let mut said = said(reading)?;
        let seen: Vec<f64> = match reading.salt {
            None => curve.ph.clone(),
            Some(salt) => curve.ph.iter().zip(&curve.salt).map(|(ph, bath)| ph - shift(salt, *bath, temperature)).collect(),
        };
        if let Said::About { ph, .. } | Said::Above(ph) = &mut said {
            *ph = ph.min(between(&seen, most));
        }
        Some(Evidence { said, seen, by_colour: reading.salt.is_some() })
    }

    /// True when the bath would have to be used more than this for what was said: the pH lies below the lower end of its interval of 95 %.
    pub(super) fn is_above(&self, used: f64, shared: f64) -> bool {
        let ph = between(&self.seen, used) + if self.by_colour { shared } else { 0.0 };
        match self.said {
            Said::About { ph: said, below, .. } => ph < said - TWO_SIDED * below,
            Said::Above(half) => ph < half - ONE_SIDED * BOUND,
            Said::Below(_) => false,
        }
    }

    /// Log likelihood of a bath with this share used, read with this shared error.
    pub(super) fn log_likelihood(&self, used: f64, shared: f64) -> f64 {
        let ph = between(&self.seen, used) + if self.by_colour { shared } else { 0.0 };
        let likely = match self.said {
            Said::About { ph: said, below, above } => {
                let sd = if ph < said { below } else { above };
                let bell = normal::density((ph - said) / sd) * 2.0 / (below + above);
                return ((1.0 - GROSS) * bell + GROSS * FLAT).ln();
            }
            Said::Below(half) => normal::below((half - ph) / BOUND),
            Said::Above(half) => normal::below((ph - half) / BOUND),
        };
        ((1.0 - GROSS) * likely + GROSS).ln()
    }
}

/// How much more a reader says than he would if he had assumed the bath's salt: the dye's pKa' falls by k A f(I).
fn shift(salt: Salt, bath: f64, temperature: Celsius) -> f64 {
    let log = |strength: f64| Model::Davies.log_coefficient(1, strength, temperature);
    salt.factor * (log(bath) - log(salt.assumed.value().min(IonicStrength::HIGH)))
}

/// Own error of a colour reading: what is left of the whole without the shared part.
fn own(whole: f64, by_colour: bool) -> f64 {
    let shared = if by_colour { SHARED } else { 0.0 };
    (whole * whole - shared * shared).max(SMALLEST * SMALLEST).sqrt()
}

fn said(reading: &Reading) -> Option<Said> {
    let (low, high) = (reading.low.map(|ph| ph.value()), reading.high.map(|ph| ph.value()));
    let by_colour = reading.salt.is_some();
    match (reading.ph.map(|ph| ph.value()), low, high) {
        (Some(ph), Some(low), Some(high)) => {
            let side = |width: f64| own(width / TWO_SIDED, by_colour);
            Some(Said::About { ph, below: side(ph - low), above: side(high - ph) })
        }
        (None, Some(low), Some(high)) => {
            let side = own(0.5 * (high - low) / TWO_SIDED, by_colour);
            Some(Said::About { ph: 0.5 * (low + high), below: side, above: side })
        }
        (_, None, Some(high)) => Some(Said::Below(high - ONE_SIDED * BOUND)),
        (_, Some(low), None) => Some(Said::Above(low + ONE_SIDED * BOUND)),
        (Some(ph), None, None) => Some(Said::About { ph, below: own(BOUND, by_colour), above: own(BOUND, by_colour) }),
        (None, None, None) => None,
    }
}

/// How far, in standard deviations of the two own errors, the later reading lies below the earlier: a bath does not become more acid by itself. At most 0 when nothing can be said.
pub(super) fn backwards(earlier: &Reading, later: &Reading) -> f64 {
    let from = match said(earlier) {
        Some(Said::About { ph, below, .. }) => Some((ph, below)),
        Some(Said::Above(half)) => Some((half, BOUND)),
        _ => None,
    };
    let to = match said(later) {
        Some(Said::About { ph, above, .. }) => Some((ph, above)),
        Some(Said::Below(half)) => Some((half, BOUND)),
        _ => None,
    };
    match (from, to) {
        (Some((from, below)), Some((to, above))) => (from - to) / below.hypot(above),
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::super::curve::MOST;
    use super::*;
    use crate::chemistry::{bath, developer, powder};
    use crate::quantity::Ph;
    use approx::assert_abs_diff_eq;

    fn curve() -> Curve {
        let bath = bath::powdered(powder::find("citric-anhydrous").unwrap(), 15.0);
        let developer = developer::find("borax-sulfite-1+1").unwrap().liquid();
        Curve::new(&bath, &developer, Ph::new(5.5).unwrap(), Celsius::STANDARD).unwrap()
    }

    fn ph(value: f64) -> Option<Ph> {
        Some(Ph::new(value).unwrap())
    }

    fn log(reading: &Reading, used: f64) -> f64 {
        Evidence::new(reading, &curve(), Celsius::STANDARD, MOST).unwrap().log_likelihood(used, 0.0)
    }

    #[test]
    fn a_figure_is_likeliest_where_it_stands() {
        let reading = Reading { ph: ph(5.5), low: ph(5.2), high: ph(5.8), salt: None };
        assert!(log(&reading, 1.0) > log(&reading, 0.9) && log(&reading, 1.0) > log(&reading, 1.1));
        // However far off, a slip of the pen explains it: 1 % of readings, even over 6 pH.
        assert_abs_diff_eq!(log(&reading, 0.0), (0.01f64 / 6.0).ln(), epsilon = 1e-6);
    }

    // An interval without a figure says what its middle with the same interval would.
    #[test]
    fn an_interval_stands_for_its_middle() {
        let told = Reading { ph: ph(5.5), low: ph(5.2), high: ph(5.8), salt: None };
        let open = Reading { ph: None, ..told };
        for used in [0.5, 0.9, 1.0, 1.1] {
            assert_abs_diff_eq!(log(&open, used), log(&told, used), epsilon = 1e-9);
        }
    }

    // Two half bells of 0.2 and 0.4 over 1.96 join at their height, 2 over the sum of their deviations times the normal's 0.39894, so that they hold 1 together.
    #[test]
    fn uneven_sides_hold_one_together() {
        let reading = Reading { ph: ph(5.0), low: ph(4.8), high: ph(5.4), salt: None };
        let height = 0.398_94 * 2.0 / (0.6 / 1.96);
        assert_abs_diff_eq!(log(&reading, curve().used_at(5.0)), (0.99 * height + 0.01 / 6.0f64).ln(), epsilon = 0.01);
    }

    #[test]
    fn a_bound_speaks_on_one_side() {
        let below = Reading { high: ph(5.1), ..Reading::default() };
        assert_abs_diff_eq!(log(&below, 0.0), 0.0, epsilon = 1e-6);
        assert_abs_diff_eq!(log(&below, 0.3), 0.0, epsilon = 1e-4);
        assert!(log(&below, 1.1) < -4.0);
        let above = Reading { low: ph(6.5), ..Reading::default() };
        let wide = |used| log(&above, used);
        assert!(wide(0.5) < -4.0 && wide(1.5) > wide(1.1) && wide(1.1) > wide(0.9));
        assert!(Evidence::new(&Reading::default(), &curve(), Celsius::STANDARD, MOST).is_none());
    }

    // A bound is the end of a one-sided 95 % interval: where the bath stands on it, one reading in twenty says so, and 1 % are slips.
    #[test]
    fn on_its_bound_a_reading_is_a_twentieth() {
        for (reading, at) in [(Reading { high: ph(5.1), ..Reading::default() }, 5.1), (Reading { low: ph(4.5), ..Reading::default() }, 4.5)]
        {
            assert_abs_diff_eq!(log(&reading, curve().used_at(at)), (0.99f64 * 0.05 + 0.01).ln(), epsilon = 0.03);
        }
    }

    // 3 A f: with A = 0.511 at 25 C, f(0.3) = 0.264 and f(0.1) = 0.210, a dye in 0.1 mol/l read as if in 0.3 seems 0.082 lower than it is.
    #[test]
    fn salt_is_put_right() {
        let salt = Salt { assumed: IonicStrength::new(0.3).unwrap(), factor: 3.0 };
        assert_abs_diff_eq!(shift(salt, 0.3, Celsius::STANDARD), 0.0);
        assert_abs_diff_eq!(shift(salt, 0.1, Celsius::STANDARD), 0.082, epsilon = 0.002);
    }

    #[test]
    fn going_backwards_is_seen() {
        let reading = |at: f64| Reading { ph: ph(at), low: ph(at - 0.3), high: ph(at + 0.3), salt: None };
        assert!(backwards(&reading(5.9), &reading(5.2)) > 2.5);
        assert!(backwards(&reading(5.2), &reading(5.9)) < 0.0);
        let below = Reading { high: ph(5.1), ..Reading::default() };
        assert!(backwards(&reading(5.6), &below) > 2.5);
        assert!(backwards(&below, &reading(5.6)) <= 0.0);
    }
}
