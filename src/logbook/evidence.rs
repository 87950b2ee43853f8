//! What one reading says of the pH: its likelihood, one-sided where the reading is, and never quite sure.

use super::curve::{Curve, between};
use super::life::{Reading, Salt};
use super::normal;
use crate::chemistry::activity::Model;
use crate::measurement::posterior::{behind, fraction};
use crate::quantity::{Celsius, IonicStrength};

/// Standard deviation of the error that all colour readings of one bath share - camera, lamp, the dye's own spectrum -, pH: the larger part of the 0.14 that
/// `cargo bench --bench accuracy` measures.
const SHARED: f64 = 0.10;
/// Share of the variance that a photo states which all photos of a bath share. In one darkroom the errors go with the colour and hardly scatter: photos lay 0.15 to 0.28 of what they
/// state beside their neighbours (`cargo bench --bench accuracy -- --darkrooms 100`); this leaves 0.45 for a darkroom that is less steady than a simulated one.
const TOGETHER: f64 = 0.8;
/// Base fraction where the errors shared at the foot of the turn and further up weigh the same: in 100 darkrooms those at 0.01 and at 0.2 had a correlation of 0.2, those at 0.01 and
/// here 0.7.
const FOOT: f64 = 0.066;
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
    /// This base fraction, with its whole standard deviation.
    Turned(Turned),
}

/// Standard deviations from an unturned dye to the upper end of its interval of 95 %: with the prior of readings 1.76 to 1.80 for 0.05 down to 0.005.
const UNTURNED: f64 = 1.78;
/// Density of a slip over the highest of a reading that says no more than a bound: it could be anywhere below.
const SLIP_BELOW: f64 = 1.0;

/// What a photo says of a known dye.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Turned {
    fraction: f64,
    sd: f64,
    pka: f64,
    /// Density that a slip would have, over the highest of this reading.
    slip: f64,
}

/// Errors that the colour readings of a bath share, standard normal.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Shared {
    /// While the dye is hardly turned.
    pub(super) foot: f64,
    /// From there on.
    pub(super) turn: f64,
}

impl Shared {
    /// What both come to where the dye begins to turn.
    pub(super) fn at_foot(self) -> f64 {
        self.at(FOOT)
    }

    /// What both come to at a base fraction, in standard deviations.
    fn at(self, fraction: f64) -> f64 {
        (FOOT * self.foot + fraction * self.turn) / fraction.hypot(FOOT)
    }
}

impl Turned {
    fn new(ph: f64, (low, high): (f64, f64), pka: f64) -> Self {
        let (fraction, sd) = behind(ph, (low, high), pka);
        let highest = TWO_SIDED * 2.0 * normal::density(0.0) / (high - low).max(SMALLEST);
        Turned { fraction, sd, pka, slip: FLAT / highest }
    }

    /// Below this, and nothing tells it from unturned.
    fn below(high: f64, pka: f64) -> Self {
        Turned { fraction: 0.0, sd: fraction(high, pka) / UNTURNED, pka, slip: SLIP_BELOW }
    }

    /// How far the reading lies above what is seen at a pH, in fractions.
    fn above(&self, ph: f64, shared: Shared) -> f64 {
        let at = fraction(ph, self.pka);
        self.fraction - at - TOGETHER.sqrt() * self.sd * shared.at(at)
    }

    fn likelihood(&self, ph: f64, shared: Shared) -> f64 {
        let own = self.above(ph, shared) / ((1.0 - TOGETHER).sqrt() * self.sd);
        (1.0 - GROSS) * (-0.5 * own * own).exp() + GROSS * self.slip
    }
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
        let mut said = by_dye(reading).map_or_else(|| said(reading), |turned| Some(Said::Turned(turned)))?;
        let seen: Vec<f64> = match reading.salt {
            None => curve.ph.clone(),
            Some(salt) => curve.ph.iter().zip(&curve.salt).map(|(ph, bath)| ph - shift(salt, *bath, temperature)).collect(),
        };
        let end = between(&seen, most);
        match &mut said {
            Said::About { ph, .. } | Said::Above(ph) => *ph = ph.min(end),
            Said::Turned(turned) => turned.fraction = turned.fraction.min(fraction(end, turned.pka)),
            Said::Below(_) => {}
        }
        Some(Evidence { said, seen, by_colour: reading.salt.is_some() })
    }

    /// True when the bath would have to be used more than this for what was said: the pH lies below the lower end of its interval of 95 %.
    pub(super) fn is_above(&self, used: f64, shared: Shared) -> bool {
        let ph = self.seen(used, shared);
        match self.said {
            Said::About { ph: said, below, .. } => ph < said - TWO_SIDED * below,
            Said::Above(half) => ph < half - ONE_SIDED * BOUND,
            Said::Below(_) => false,
            Said::Turned(turned) => turned.above(between(&self.seen, used), shared) > TWO_SIDED * turned.sd,
        }
    }

    /// Log likelihood of a bath with this share used, read with this shared error.
    pub(super) fn log_likelihood(&self, used: f64, shared: Shared) -> f64 {
        let ph = self.seen(used, shared);
        let likely = match self.said {
            Said::About { ph: said, below, above } => {
                let sd = if ph < said { below } else { above };
                let bell = normal::density((ph - said) / sd) * 2.0 / (below + above);
                return ((1.0 - GROSS) * bell + GROSS * FLAT).ln();
            }
            Said::Below(half) => normal::below((half - ph) / BOUND),
            Said::Above(half) => normal::below((ph - half) / BOUND),
            Said::Turned(turned) => return turned.likelihood(between(&self.seen, used), shared).ln(),
        };
        ((1.0 - GROSS) * likely + GROSS).ln()
    }

    /// What is said of a bath with this share used where the dye is not known: an error of the reader is one of the pH.
    fn seen(&self, used: f64, shared: Shared) -> f64 {
        between(&self.seen, used) + if self.by_colour { SHARED * shared.turn } else { 0.0 }
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

/// What a photo says of a dye that is known; none where it says that the dye is turned at least so far, or no figure between two ends.
fn by_dye(reading: &Reading) -> Option<Turned> {
    let (pka, high) = (reading.pka?, reading.high?.value());
    match (reading.ph, reading.low) {
        (Some(ph), Some(low)) => Some(Turned::new(ph.value(), (low.value(), high), pka)),
        (_, None) => Some(Turned::below(high, pka)),
        (None, Some(_)) => None,
    }
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
        Evidence::new(reading, &curve(), Celsius::STANDARD, MOST).unwrap().log_likelihood(used, Shared::default())
    }

    #[test]
    fn a_figure_is_likeliest_where_it_stands() {
        let reading = Reading { ph: ph(5.5), low: ph(5.2), high: ph(5.8), salt: None, pka: None };
        assert!(log(&reading, 1.0) > log(&reading, 0.9) && log(&reading, 1.0) > log(&reading, 1.1));
        // However far off, a slip of the pen explains it: 1 % of readings, even over 6 pH.
        assert_abs_diff_eq!(log(&reading, 0.0), (0.01f64 / 6.0).ln(), epsilon = 1e-6);
    }

    // An interval without a figure says what its middle with the same interval would.
    #[test]
    fn an_interval_stands_for_its_middle() {
        let told = Reading { ph: ph(5.5), low: ph(5.2), high: ph(5.8), salt: None, pka: None };
        let open = Reading { ph: None, ..told };
        for used in [0.5, 0.9, 1.0, 1.1] {
            assert_abs_diff_eq!(log(&open, used), log(&told, used), epsilon = 1e-9);
        }
    }

    // Two half bells of 0.2 and 0.4 over 1.96 join at their height, 2 over the sum of their deviations times the normal's 0.39894, so that they hold 1 together.
    #[test]
    fn uneven_sides_hold_one_together() {
        let reading = Reading { ph: ph(5.0), low: ph(4.8), high: ph(5.4), salt: None, pka: None };
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

    // A dye of pKa' 6.1 at pH 5.1 shows 1/11 of its base form. The bell is as high there whatever the reader's errors were, if they are known; a bath that shows less has one deviation of the
    // own error less, and a slip makes up for what is far off.
    #[test]
    fn a_photo_is_weighed_by_the_fraction_it_saw() {
        let turned = Turned { fraction: 1.0 / 11.0, sd: 0.03, pka: 6.1, slip: 0.1 };
        let none = Shared::default();
        assert_abs_diff_eq!(turned.likelihood(5.1, none), 0.99 + 0.001, epsilon = 1e-9);
        let own = 0.2f64.sqrt() * 0.03;
        let lower = 6.1 - (1.0 / (1.0 / 11.0 - own) - 1.0).log10();
        assert_abs_diff_eq!(turned.likelihood(lower, none), 0.99 * (-0.5f64).exp() + 0.001, epsilon = 1e-9);
        assert_abs_diff_eq!(turned.likelihood(7.0, none), 0.001, epsilon = 1e-9);
        // Read two deviations of the shared error too high: then the bath shows so much less.
        let error = Shared { foot: 2.0, turn: 0.0 };
        let at = |ph: f64| turned.above(ph, error);
        assert!(at(4.0) > 0.0 && at(5.1) < 0.0, "{} {}", at(4.0), at(5.1));
    }

    // At the foot of the turn one of the two shared errors counts, where it is far turned the other, and between them both alike.
    #[test]
    fn shared_errors_change_over() {
        let (foot, turn) = (Shared { foot: 1.0, turn: 0.0 }, Shared { foot: 0.0, turn: 1.0 });
        assert_abs_diff_eq!(foot.at(0.0), 1.0);
        assert_abs_diff_eq!(turn.at(0.0), 0.0);
        assert_abs_diff_eq!(foot.at_foot(), 0.5f64.sqrt(), epsilon = 1e-12);
        assert_abs_diff_eq!(turn.at_foot(), 0.5f64.sqrt(), epsilon = 1e-12);
        assert!(turn.at(0.5) > 0.99 && foot.at(0.5) < 0.14);
    }

    // Nothing below a bound is less likely than all else there but for the dye that would show; at the bound itself the bell has fallen to that of its quantile.
    #[test]
    fn a_bound_by_a_photo_says_nothing_of_what_is_below() {
        let reading = Reading { high: ph(5.1), pka: Some(6.1), ..Reading::default() };
        let turned = by_dye(&reading).unwrap();
        assert_abs_diff_eq!(turned.sd * UNTURNED, 1.0 / 11.0, epsilon = 1e-9);
        assert!(turned.likelihood(2.5, Shared::default()) > 0.99 && turned.likelihood(5.5, Shared::default()) < 0.02);
        assert!(
            by_dye(&Reading { low: ph(6.8), ..reading }).is_none() && by_dye(&Reading { low: ph(6.8), high: None, ..reading }).is_none()
        );
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
        let reading = |at: f64| Reading { ph: ph(at), low: ph(at - 0.3), high: ph(at + 0.3), salt: None, pka: None };
        assert!(backwards(&reading(5.9), &reading(5.2)) > 2.5);
        assert!(backwards(&reading(5.2), &reading(5.9)) < 0.0);
        let below = Reading { high: ph(5.1), ..Reading::default() };
        assert!(backwards(&reading(5.6), &below) > 2.5);
        assert!(backwards(&below, &reading(5.6)) <= 0.0);
    }
}
