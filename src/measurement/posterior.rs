//! From a mixture over the base fraction to a distribution over pH, an interval and the chances of the states.

use super::estimate::Component;
use super::reading::Chance;
use super::request::Limits;
use crate::quantity::Interval;

/// Lowest pH of the prior.
pub const LOWEST: f64 = 2.0;
/// Highest pH of the prior.
pub const HIGHEST: f64 = 9.0;
/// Step of the grid, pH: a fifth of the smallest uncertainty of a pKa'.
const STEP: f64 = 0.01;

/// Probability density over pH on an even grid.
#[derive(Debug, Clone)]
pub struct Posterior {
    /// Likelihood of each pH, scaled to a highest value of 1; uncertainty of pKa' included.
    likelihood: Vec<f64>,
    /// Density used for estimate and interval: the likelihood times the prior of [`ACID_END`] and [`BASE_END`].
    density: Vec<f64>,
}

/// What is stated about pH.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statement {
    /// Median of the density; none when a side is open.
    pub ph: Option<f64>,
    /// 95 % interval.
    pub interval: Interval,
    /// Median of the density, also where a side is open.
    pub median: f64,
}

/// pH of a point of the grid.
fn at(index: usize) -> f64 {
    LOWEST + STEP * index as f64
}

/// The pH values that are looked at, evenly apart.
pub fn grid() -> impl Iterator<Item = f64> {
    (0..=((HIGHEST - LOWEST) / STEP).round() as usize).map(at)
}

/// Likelihoods from their logs, the highest 1: a cup beyond both ends of the grid would leave nothing but zeros otherwise.
fn relative(logs: &[f64]) -> Vec<f64> {
    let highest = logs.iter().copied().fold(f64::MIN, f64::max);
    logs.iter().map(|l| (l - highest).exp()).collect()
}

/// Weight of a base fraction in the density used for estimate and interval.
fn pull(a: f64) -> f64 {
    a.max(1e-12).powf(ACID_END) * (1.0 - a).max(1e-12).powf(BASE_END)
}

/// Exponents of the fraction a and of 1 - a in the density used for estimate and interval. 0 and 0 is flat in pH and lets the ends run
/// off, 1 and 1 is flat in a and pulls them in; the truth lies between. A bath is mostly met acid and seldom long past its turn, hence
/// less pull at the acid end than at the base end.
const ACID_END: f64 = 0.4;
/// See [`ACID_END`].
const BASE_END: f64 = 0.8;

/// A side is open when the likelihood at its end is more than this share of the highest: a pH there explains the colour about as well.
const OPEN: f64 = 0.7;
/// Smallest standard deviation of a base fraction: below, the grid would step over the peak.
const SMALLEST_SD: f64 = 1e-4;
/// Every so many grid points are drawn.
const DRAWN: usize = 5;

impl Posterior {
    /// Builds the distribution from the mixture over base fractions and the dye's pKa' with its standard deviation.
    #[must_use]
    pub fn new(components: &[Component], pka: f64, pka_sd: f64) -> Self {
        let logs: Vec<f64> = grid().map(|ph| log_likelihood(components, fraction(ph, pka))).collect();
        Posterior::weighted(blur(&relative(&logs), pka_sd / STEP), |ph| pull(fraction(ph, pka)))
    }

    /// Builds the distribution from the log of the likelihood at each point of [`grid`], which has the uncertainty of every pKa' in it,
    /// and those pKa': the prior is that of the dye that shows most at the pH in question.
    #[must_use]
    pub fn joint(log_likelihoods: &[f64], pkas: &[f64]) -> Self {
        Posterior::weighted(relative(log_likelihoods), |ph| pkas.iter().map(|pka| pull(fraction(ph, *pka))).fold(0.0, f64::max))
    }

    fn weighted(raw: Vec<f64>, prior: impl Fn(f64) -> f64) -> Self {
        let most = raw.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
        let likelihood: Vec<f64> = raw.iter().map(|l| l / most).collect();
        let density = likelihood.iter().zip(grid()).map(|(l, ph)| l * prior(ph)).collect();
        Posterior { likelihood, density }
    }

    /// Estimate and interval.
    #[must_use]
    pub fn statement(&self) -> Statement {
        let low_open = self.likelihood[0] > OPEN;
        let high_open = self.likelihood[self.likelihood.len() - 1] > OPEN;
        let low = quantile(&self.density, 0.025);
        let high = quantile(&self.density, 0.975);
        let median = quantile(&self.density, 0.5);
        Statement {
            ph: (!low_open && !high_open).then_some(median),
            interval: Interval { low: (!low_open).then_some(low), high: (!high_open).then_some(high) },
            median,
        }
    }

    /// Chance of each state under a prior flat over pH 2 to 9.
    #[must_use]
    pub fn chance(&self, limits: &Limits) -> Chance {
        let total: f64 = self.likelihood.iter().sum();
        let between = |low: f64, high: f64| {
            self.likelihood.iter().enumerate().filter(|(i, _)| at(*i) >= low && at(*i) < high).map(|(_, l)| l).sum::<f64>() / total
        };
        let (nearing, spent) = (limits.nearing.value(), limits.spent.value());
        Chance { fresh: between(f64::NEG_INFINITY, nearing), nearing: between(nearing, spent), spent: between(spent, f64::INFINITY) }
    }

    /// Points (pH, density per pH) for drawing, every 0.05.
    #[must_use]
    pub fn points(&self) -> Vec<(f64, f64)> {
        let total: f64 = self.density.iter().sum::<f64>() * STEP;
        self.density.iter().enumerate().step_by(DRAWN).map(|(i, d)| (at(i), d / total)).collect()
    }
}

/// Log of the mixture's density at base fraction `a`.
fn log_likelihood(components: &[Component], a: f64) -> f64 {
    let log = |c: &Component| {
        let sd = c.sd.max(SMALLEST_SD);
        (c.weight / sd).ln() - 0.5 * ((a - c.base_fraction) / sd).powi(2)
    };
    let most = components.iter().map(log).fold(f64::MIN, f64::max);
    most + components.iter().map(|c| (log(c) - most).exp()).sum::<f64>().ln()
}

/// Base fraction at a pH.
#[must_use]
pub fn fraction(ph: f64, pka: f64) -> f64 {
    1.0 / (1.0 + 10f64.powf(pka - ph))
}

/// Gaussian blur with standard deviation in grid steps; the ends are held.
fn blur(values: &[f64], sd: f64) -> Vec<f64> {
    if sd < 0.3 {
        return values.to_vec();
    }
    let reach = (3.0 * sd).ceil() as isize;
    let kernel: Vec<f64> = (-reach..=reach).map(|d| (-0.5 * (d as f64 / sd).powi(2)).exp()).collect();
    let sum: f64 = kernel.iter().sum();
    let last = values.len() as isize - 1;
    (0..=last)
        .map(|i| kernel.iter().enumerate().map(|(k, w)| w * values[(i + k as isize - reach).clamp(0, last) as usize]).sum::<f64>() / sum)
        .collect()
}

/// Points of the grid on which [`behind`] works out what would be stated, and its rounds at most: they fix fraction and deviation to about a hundredth of the deviation.
const BEHIND_POINTS: usize = 160;
/// See [`BEHIND_POINTS`].
const BEHIND_ROUNDS: usize = 40;

/// What stands behind a statement: base fraction and standard deviation of the component of which a reading with these figures and this pKa' would be made.
///
/// What is stated can be weighed again by it without the prior that draws the ends in, which would count once for every reading otherwise. The uncertainty of the pKa' becomes part of
/// the deviation. Fractions below 0 or above 1 belong to a colour beyond the end. `interval` is that of 95 %, pH, around `ph`.
#[must_use]
pub fn behind(ph: f64, interval: (f64, f64), pka: f64) -> (f64, f64) {
    let (low, high) = interval;
    // Beyond half turned the other end is where the fraction runs against its limit.
    let is_turned = ph > pka;
    let (median, far) =
        if is_turned { (1.0 - fraction(ph, pka), 1.0 - fraction(low, pka)) } else { (fraction(ph, pka), fraction(high, pka)) };
    let from = (low - 0.5 * (ph - low)).max(LOWEST);
    let to = (high + 0.5 * (high - ph)).min(HIGHEST);
    let points: Vec<(f64, f64)> = (0..BEHIND_POINTS)
        .map(|i| {
            let a = fraction(from + (to - from) * i as f64 / (BEHIND_POINTS - 1) as f64, pka);
            (if is_turned { 1.0 - a } else { a }, pull(a))
        })
        .collect();
    let stated = |middle: f64, sd: f64| {
        let mut density: Vec<(f64, f64)> = points.iter().map(|(a, pull)| (*a, pull * (-0.5 * ((a - middle) / sd).powi(2)).exp())).collect();
        if is_turned {
            density.reverse();
        }
        let whole: f64 = density.iter().map(|(_, d)| d).sum();
        [0.5, 0.975].map(|share| at_share(&density, share * whole))
    };
    let (mut middle, mut sd) = (median, ((far - median) / 1.96).max(SMALLEST_SD));
    for _ in 0..BEHIND_ROUNDS {
        let [half, end] = stated(middle, sd);
        let (off, wide) = (median - half, (far - median) / (end - half).max(f64::MIN_POSITIVE));
        sd = (sd * wide.clamp(0.5, 2.0)).max(SMALLEST_SD);
        middle = (middle + off).max(-MOST_BELOW * sd);
        if off.abs() < 0.01 * sd && (wide - 1.0).abs() < 0.01 {
            break;
        }
    }
    (if is_turned { 1.0 - middle } else { middle }, sd)
}

/// A fraction so many deviations below none is as far as a statement is followed: what is left of the bell there hardly changes any more.
const MOST_BELOW: f64 = 3.0;

/// The fraction, rising, below which so much of the density lies.
fn at_share(density: &[(f64, f64)], wanted: f64) -> f64 {
    let mut below = 0.0;
    for pair in density.windows(2) {
        let [(a, d), (next, _)] = [pair[0], pair[1]];
        if below + d >= wanted {
            return a + (next - a) * if d > 0.0 { (wanted - below) / d } else { 0.5 };
        }
        below += d;
    }
    density.last().map_or(0.0, |(a, _)| *a)
}

/// pH below which `share` of the density lies.
fn quantile(density: &[f64], share: f64) -> f64 {
    let total: f64 = density.iter().sum();
    let mut below = 0.0;
    for (i, d) in density.iter().enumerate() {
        if below + d >= share * total {
            let part = if *d > 0.0 { (share * total - below) / d } else { 0.5 };
            return at(i) + STEP * (part - 0.5);
        }
        below += d;
    }
    HIGHEST
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Ph;
    use approx::assert_abs_diff_eq;

    fn told(base_fraction: f64, sd: f64, pka: f64) -> Posterior {
        Posterior::new(&[Component { weight: 1.0, base_fraction, sd }], pka, 0.05)
    }

    // What is stated of a component leads back to it, from hardly turned to hardly unturned.
    #[test]
    fn behind_a_statement_is_its_component() {
        for (base_fraction, sd) in
            [(0.0, 0.02), (0.02, 0.02), (0.05, 0.02), (0.1, 0.04), (0.3, 0.06), (0.3, 0.01), (0.6, 0.06), (0.9, 0.05), (0.97, 0.03)]
        {
            let posterior = Posterior::new(&[Component { weight: 1.0, base_fraction, sd }], 6.1, 0.0);
            let interval = (quantile(&posterior.density, 0.025), quantile(&posterior.density, 0.975));
            let found = behind(quantile(&posterior.density, 0.5), interval, 6.1);
            assert_abs_diff_eq!(found.0, base_fraction, epsilon = 0.1 * sd);
            assert_abs_diff_eq!(found.1, sd, epsilon = 0.06 * sd);
        }
    }

    // As a density every twentieth of a pH, the whole comes to one.
    #[test]
    fn what_is_drawn_is_the_density() {
        let points = told(0.3, 0.05, 6.1).points();
        assert_eq!(points.len(), 141);
        assert!(points.windows(2).all(|two| (two[1].0 - two[0].0 - 0.05).abs() < 1e-9) && (points[0].0 - LOWEST).abs() < 1e-9);
        assert_abs_diff_eq!(points.iter().map(|(_, density)| 0.05 * density).sum::<f64>(), 1.0, epsilon = 1e-3);
        let highest = points.iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
        assert!((highest.0 - 5.75).abs() < 0.051, "{highest:?}");
    }

    // By hand: one from 0 to 0.2 and two from there to 0.6; what lies beyond the last point is there.
    #[test]
    fn a_share_lies_between_the_points() {
        let density = [(0.0, 1.0), (0.2, 2.0), (0.6, 1.0)];
        for (wanted, at) in [(0.5, 0.1), (1.0, 0.2), (2.0, 0.4), (2.5, 0.5), (3.0, 0.6), (3.5, 0.6)] {
            assert_abs_diff_eq!(at_share(&density, wanted), at, epsilon = 1e-12);
        }
        assert_abs_diff_eq!(at_share(&[], 1.0), 0.0);
    }

    // By hand: 0.5^1.2, and 0.2^0.4 times 0.8^0.8; the ends weigh next to nothing, the base end least.
    #[test]
    fn the_ends_are_drawn_in() {
        assert_abs_diff_eq!(pull(0.5), 0.43528, epsilon = 1e-5);
        assert_abs_diff_eq!(pull(0.2), 0.43943, epsilon = 1e-5);
        assert!(pull(1.0) < pull(0.0) && pull(0.0) < 1e-4, "{} {}", pull(0.0), pull(1.0));
    }

    // Henderson-Hasselbalch: half turned is pH = pKa'.
    #[test]
    fn half_turned_is_the_pka() {
        let statement = told(0.5, 0.01, 6.0).statement();
        assert!((statement.ph.unwrap() - 6.0).abs() < 0.01, "{statement:?}");
        // 0.01 in fraction is 0.017 in pH there; with 0.05 of the pKa' the 95 % interval is 1.96 x 0.053 either side.
        assert!((statement.interval.high.unwrap() - 6.104).abs() < 0.01, "{statement:?}");
    }

    // Of even density every share lies as far along; each point stands for a step about it.
    #[test]
    fn quantiles_of_an_even_density_are_evenly_apart() {
        let density: Vec<f64> = (0..120).map(|i| if (20..100).contains(&i) { 1.0 } else { 0.0 }).collect();
        for share in [0.025, 0.3, 0.5, 0.731, 0.975] {
            let wanted = at(20) - 0.5 * STEP + share * 80.0 * STEP;
            assert!((quantile(&density, share) - wanted).abs() < 1e-9, "{share}");
        }
    }

    #[test]
    fn plain_acid_colour_gives_a_bound() {
        let statement = told(0.0, 0.01, 6.0).statement();
        assert!(statement.ph.is_none() && statement.interval.low.is_none());
        assert!(statement.interval.high.is_some_and(|high| (4.0..5.0).contains(&high)), "{statement:?}");
    }

    // A dye that turns at pH 1.5 or 11 in its acid or base form: every pH of the grid is a thousand standard deviations off.
    #[test]
    fn cup_beyond_the_grid_has_an_open_side_and_finite_chances() {
        let limits = Limits { nearing: Ph::new(5.0).unwrap(), spent: Ph::new(5.5).unwrap() };
        for (posterior, is_low) in [(told(0.0, 1e-4, 1.5), true), (told(1.0, 1e-4, 11.0), false)] {
            let statement = posterior.statement();
            assert!(statement.ph.is_none());
            assert_eq!((statement.interval.low.is_none(), statement.interval.high.is_none()), (is_low, !is_low), "{statement:?}");
            let chance = posterior.chance(&limits);
            assert!((chance.fresh + chance.nearing + chance.spent - 1.0).abs() < 1e-9, "{chance:?}");
        }
    }
}
