//! One pH from several cups of the same bath, with different indicators or the same.

use super::estimate::Estimate;
use super::posterior::{Posterior, fraction, grid};
use super::reading::{CupReading, PanelReading, State};
use super::request::Request;
use super::state;
use super::verdict::MOST_STAIN;
use super::warning::Notice;
use crate::indicator::Indicator;
use crate::indicator::equilibrium::pka_at;
use nalgebra::{DMatrix, DVector};

/// Base fractions of some cups together under one hypothesis: a Gaussian.
#[derive(Debug, Clone)]
pub struct Joint {
    /// Probability of the hypothesis.
    pub weight: f64,
    /// Most probable base fraction of each cup, 0 to 1.
    pub base_fractions: Vec<f64>,
    /// Covariance of the fractions, row by row.
    pub covariance: Vec<f64>,
}

/// Hypotheses below this weight change nothing that is told.
const LIGHTEST: f64 = 1e-4;
/// Smallest standard deviation of a base fraction, as for a single cup.
const SMALLEST_SD: f64 = 1e-4;

/// Chance that cups of one bath are called contradictory is about 1 in 1000: two standard normal deviates of the squared distance's
/// cube root (Wilson and Hilferty 1931), with the model's own misfit on top.
const TOO_FAR: f64 = 3.09;

/// Indicator and pKa' of each cup of a panel.
struct Dyes {
    dyes: Vec<&'static Indicator>,
    pkas: Vec<f64>,
    /// Standard uncertainty of each pKa' that is not in the fractions yet.
    sds: Vec<f64>,
}

impl Dyes {
    fn without(&self, cup: usize) -> Self {
        let (mut dyes, mut pkas, mut sds) = (self.dyes.clone(), self.pkas.clone(), self.sds.clone());
        dyes.remove(cup);
        pkas.remove(cup);
        sds.remove(cup);
        Dyes { dyes, pkas, sds }
    }

    /// Log of the density of a joint estimate at a pH, and the squared distance from it in standard deviations.
    fn fit(&self, joint: &Joint, ph: f64) -> Option<(f64, f64)> {
        let n = self.pkas.len();
        let fractions: Vec<f64> = self.pkas.iter().map(|pka| fraction(ph, *pka)).collect();
        // How far a pKa' that is wrong by a standard deviation moves each fraction; cups of one dye move together.
        let slope = |i: usize| std::f64::consts::LN_10 * fractions[i] * (1.0 - fractions[i]) * self.sds[i];
        let covariance = DMatrix::from_fn(n, n, |i, j| {
            let floor = if i == j { SMALLEST_SD * SMALLEST_SD } else { 0.0 };
            let together = if self.dyes[i].name == self.dyes[j].name { slope(i) * slope(j) } else { 0.0 };
            joint.covariance[i * n + j] + floor + together
        });
        let factor = covariance.cholesky()?;
        let off = DVector::from_iterator(n, fractions.iter().zip(&joint.base_fractions).map(|(a, b)| a - b));
        let distance = off.dot(&factor.solve(&off));
        let log_determinant: f64 = (0..n).map(|i| 2.0 * factor.l_dirty()[(i, i)].ln()).sum();
        Some((joint.weight.ln() - 0.5 * log_determinant - 0.5 * distance, distance))
    }

    /// Log of the likelihood at each point of the grid.
    fn log_likelihoods(&self, joints: &[Joint]) -> Vec<f64> {
        grid()
            .map(|ph| {
                let logs: Vec<f64> = joints.iter().filter_map(|joint| Some(self.fit(joint, ph)?.0)).collect();
                let most = logs.iter().copied().fold(f64::MIN, f64::max);
                most + logs.iter().map(|log| (log - most).exp()).sum::<f64>().ln()
            })
            .collect()
    }

    /// Squared distance of the cups from the one pH that suits them best, in standard deviations of the whole mixture: an unlikely
    /// hypothesis with wide errors excuses little.
    fn distance(&self, joints: &[Joint]) -> f64 {
        let whole = Joint::of(joints);
        grid().filter_map(|ph| Some(self.fit(&whole, ph)?.1)).fold(f64::INFINITY, f64::min)
    }
}

impl Joint {
    /// The Gaussian with mean and covariance of a mixture.
    fn of(mixture: &[Joint]) -> Self {
        let n = mixture.first().map_or(0, |joint| joint.base_fractions.len());
        let total: f64 = mixture.iter().map(|joint| joint.weight).sum();
        let mean = |figure: &dyn Fn(&Joint) -> f64| mixture.iter().map(|joint| joint.weight * figure(joint)).sum::<f64>() / total;
        let base_fractions: Vec<f64> = (0..n).map(|i| mean(&|joint| joint.base_fractions[i])).collect();
        let off = |joint: &Joint, i: usize| joint.base_fractions[i] - base_fractions[i];
        let covariance = (0..n * n).map(|k| mean(&|joint| joint.covariance[k] + off(joint, k / n) * off(joint, k % n))).collect();
        Joint { weight: 1.0, base_fractions, covariance }
    }

    fn without(&self, cup: usize) -> Self {
        let n = self.base_fractions.len();
        let kept = |k: usize| k != cup;
        Joint {
            weight: self.weight,
            base_fractions: (0..n).filter(|k| kept(*k)).map(|k| self.base_fractions[k]).collect(),
            covariance: (0..n * n).filter(|k| kept(k / n) && kept(k % n)).map(|k| self.covariance[k]).collect(),
        }
    }
}

/// True when `distance` is too large for `free` degrees of freedom.
fn is_too_far(distance: f64, free: usize) -> bool {
    // Wilson and Hilferty: the cube root of chi squared over its degrees of freedom is nearly normal.
    let k = 2.0 / (9.0 * free as f64);
    (distance / free as f64).cbrt() > 1.0 - k + TOO_FAR * k.sqrt()
}

/// True for a cup that has a say: one that was judged, or one whose colour a stain would give as well, since the others tell which it is.
fn has_a_say(cup: &CupReading) -> bool {
    cup.chance.is_some() || matches!(cup.reasons[..], [Notice::Stained { density }] if density <= MOST_STAIN)
}

/// The joint reading of all cups that have a say; none where as many cups hardly
/// show their dye, for dyes and cups may be mixed up. `fitted` holds the number of each cup of the estimate; `salt_unsure` is what a
/// calibration leaves uncertain of pKa' beyond the estimate, where one was used.
#[must_use]
pub fn judge(request: &Request, estimate: &Estimate, fitted: &[usize], cups: &[CupReading], salt_unsure: Option<f64>) -> PanelReading {
    let odd: Vec<&Notice> = cups.iter().flat_map(|cup| &cup.reasons).filter(|notice| matches!(notice, Notice::OtherDye { .. })).collect();
    let speaks = |number: &usize| cups.iter().any(|cup| cup.number == *number && has_a_say(cup));
    let at: Vec<usize> = (0..fitted.len()).filter(|k| speaks(&fitted[*k])).collect();
    let numbers: Vec<usize> = at.iter().map(|k| fitted[*k]).collect();
    match odd.first() {
        Some(notice) if odd.len() >= numbers.len() => return unjudged((*notice).clone()),
        None if numbers.is_empty() => return unjudged(Notice::PanelEmpty),
        _ => {}
    }
    let chosen: Vec<&'static Indicator> = numbers.iter().map(|number| request.contents.dye(*number)).collect();
    let pkas = chosen.iter().map(|dye| pka_at(dye, request.ionic_strength, request.temperature)).collect();
    let sds = chosen.iter().map(|dye| salt_unsure.unwrap_or(dye.pka_sd)).collect();
    let dyes = Dyes { dyes: chosen, pkas, sds };
    let joints: Vec<Joint> = estimate.together(&at).into_iter().filter(|joint| joint.weight > LIGHTEST).collect();
    if let Some(notice) = contradiction(&dyes, &joints, &numbers) {
        return PanelReading { cups: numbers, ..unjudged(notice) };
    }
    let posterior = Posterior::joint(&dyes.log_likelihoods(&joints), &dyes.pkas);
    let statement = posterior.statement();
    let chance = posterior.chance(&request.limits);
    let state = state::judge(&chance);
    let mut reasons = Vec::new();
    if statement.ph.is_none() {
        reasons.push(Notice::BoundOnly);
    }
    if state == State::Unclear {
        reasons.push(Notice::Undecided { fresh: chance.fresh, spent: chance.spent });
    }
    let (ph_low, ph_high) = (statement.interval.low, statement.interval.high);
    PanelReading { cups: numbers, ph: statement.ph, ph_low, ph_high, chance: Some(chance), state, reasons, posterior: posterior.points() }
}

/// A panel of which nothing can be told, and why.
#[must_use]
pub fn unjudged(notice: Notice) -> PanelReading {
    PanelReading {
        cups: Vec::new(),
        ph: None,
        ph_low: None,
        ph_high: None,
        chance: None,
        state: State::Unclear,
        reasons: vec![notice],
        posterior: Vec::new(),
    }
}

/// Whether the cups can hold the same bath; if not, which of them it is.
fn contradiction(dyes: &Dyes, joints: &[Joint], numbers: &[usize]) -> Option<Notice> {
    let count = numbers.len();
    if count < 2 {
        return None;
    }
    let distance = dyes.distance(joints);
    if !is_too_far(distance, count - 1) {
        return None;
    }
    let without = |cup: usize| dyes.without(cup).distance(&joints.iter().map(|joint| joint.without(cup)).collect::<Vec<_>>());
    let odd = (count > 2).then(|| (0..count).map(|cup| (without(cup), cup)).min_by(|a, b| a.0.total_cmp(&b.0))).flatten();
    Some(Notice::PanelContradicts { cup: odd.map(|(_, cup)| numbers[cup]), distance })
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    // The law of total variance, by hand: means 0.2 and 0.6, 0.9 and 0.5 with weights 3 and 1 are 0.3 and 0.8; between them they vary by 0.03 and -0.03.
    #[test]
    fn a_mixture_has_the_moments_of_its_parts() {
        let part = |weight, base_fractions, covariance| Joint { weight, base_fractions, covariance };
        let one = part(3.0, vec![0.2, 0.9], vec![0.01, 0.002, 0.002, 0.04]);
        let other = part(1.0, vec![0.6, 0.5], vec![0.05, -0.002, -0.002, 0.02]);
        let whole = Joint::of(&[one, other]);
        for (seen, wanted) in whole.base_fractions.iter().zip([0.3, 0.8]) {
            assert_abs_diff_eq!(*seen, wanted, epsilon = 1e-12);
        }
        for (seen, wanted) in whole.covariance.iter().zip([0.02 + 0.03, 0.001 - 0.03, 0.001 - 0.03, 0.035 + 0.03]) {
            assert_abs_diff_eq!(*seen, wanted, epsilon = 1e-12);
        }
        let left = whole.without(0);
        assert_eq!((left.base_fractions.len(), left.covariance.len()), (1, 1));
        assert_abs_diff_eq!(left.covariance[0], 0.065, epsilon = 1e-12);
    }

    // Chi squared, scipy 1.17.1 `stats.chi2.ppf(0.999, free)`: 10.83 for one and 22.46 for six degrees of freedom are exceeded once in a thousand.
    #[test]
    fn a_thousandth_is_too_far() {
        for (free, thousandth) in [(1, 10.83), (2, 13.82), (6, 22.46), (11, 31.26)] {
            assert!(!is_too_far(0.95 * thousandth, free) && is_too_far(1.05 * thousandth, free), "{free}");
        }
    }

    // By hand, two cups of one dye at its pKa': a pKa' off by 0.1 moves both fractions by 2.3026 * 0.25 * 0.1 = 0.05756, together. Along the
    // sum of the two the variance is then 0.01 + 2 * 0.003314, along the difference 0.01.
    #[test]
    fn cups_of_one_dye_move_together() {
        let dye = crate::indicator::catalogue::usual();
        let dyes = Dyes { dyes: vec![dye; 2], pkas: vec![6.0; 2], sds: vec![0.1; 2] };
        let joint = |base_fractions: [f64; 2]| Joint {
            weight: 0.25,
            base_fractions: base_fractions.to_vec(),
            covariance: vec![0.01, 0.0, 0.0, 0.01],
        };
        let (sum, difference) = (0.016_628, 0.01);
        for (fractions, distance) in [([0.4, 0.4], 0.02 / sum), ([0.4, 0.6], 0.02 / difference), ([0.5, 0.5], 0.0)] {
            let (log, found) = dyes.fit(&joint(fractions), 6.0).unwrap();
            assert_abs_diff_eq!(found, distance, epsilon = 0.02);
            assert_abs_diff_eq!(log, 0.25f64.ln() - 0.5 * (sum * difference).ln() - 0.5 * distance, epsilon = 0.02);
        }
        // Two that say the same are as likely as both together.
        let at = |joints: &[Joint]| dyes.log_likelihoods(joints)[grid().position(|ph| (ph - 6.0).abs() < 1e-9).unwrap()];
        assert_abs_diff_eq!(at(&[joint([0.5, 0.5]), joint([0.5, 0.5])]) - at(&[joint([0.5, 0.5])]), 2f64.ln(), epsilon = 1e-9);
    }
}
