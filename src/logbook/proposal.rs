//! Where draws of the unknowns are taken, so that few are wasted where the evidence has ruled them out.

use super::normal;

/// Share of draws from the prior in every round, so that no weight can be far above the rest.
const FROM_PRIOR: f64 = 0.2;
/// Effective number of scouts that shapes the next round.
const ENOUGH: f64 = 120.0;
/// Variance of the next round against the scouts': too wide costs draws, too narrow costs the tails.
const WIDER: f64 = 1.4;

/// Number of equal weights that tell as much (Kish 1965).
pub(super) fn effective(weights: impl Iterator<Item = f64> + Clone) -> f64 {
    let sum: f64 = weights.clone().sum();
    let squares: f64 = weights.map(|weight| weight * weight).sum();
    if squares > 0.0 { sum * sum / squares } else { 0.0 }
}

/// Where draws are taken: some from the prior, the rest from a normal distribution near what the evidence allows.
pub(super) struct Proposal {
    pub(super) mean: Vec<f64>,
    /// Lower triangle of Cholesky's root of the covariance, rows first; none for the prior alone.
    root: Option<Vec<Vec<f64>>>,
}

impl Proposal {
    /// The prior alone.
    pub(super) fn prior(dimensions: usize) -> Self {
        Proposal { mean: vec![0.0; dimensions], root: None }
    }

    /// True when nothing else is drawn from.
    pub(super) fn is_prior(&self) -> bool {
        self.root.is_none()
    }

    /// From weighted scouts. Where too few count, the evidence is weakened until enough do; says whether it was taken in whole.
    pub(super) fn from(scouts: &[(&[f64], f64)]) -> (Self, bool) {
        let at = |power: f64| scouts.iter().map(move |(_, log)| (power * log).exp());
        let mut power = 1.0;
        while power > 1e-3 && effective(at(power)) < ENOUGH {
            power *= 0.7;
        }
        let weights: Vec<f64> = at(power).collect();
        let sum: f64 = weights.iter().sum();
        let count = scouts.first().map_or(0, |(unknowns, _)| unknowns.len());
        let average =
            |of: &dyn Fn(&[f64]) -> f64| scouts.iter().zip(&weights).map(|((unknowns, _), w)| w * of(unknowns)).sum::<f64>() / sum;
        let mean: Vec<f64> = (0..count).map(|i| average(&|x| x[i])).collect();
        let covariance: Vec<Vec<f64>> =
            (0..count).map(|i| (0..=i).map(|j| WIDER * average(&|x| (x[i] - mean[i]) * (x[j] - mean[j]))).collect()).collect();
        (Proposal { mean, root: Some(cholesky(&covariance)) }, power >= 1.0)
    }

    /// The unknowns at a point of the unit cube that has one coordinate more: it chooses between prior and the rest.
    pub(super) fn draw(&self, mut point: impl Iterator<Item = f64>) -> Vec<f64> {
        let choice = point.next().unwrap_or(0.0);
        let normal: Vec<f64> = point.map(normal::quantile).collect();
        match &self.root {
            Some(root) if choice > FROM_PRIOR => {
                root.iter().zip(&self.mean).map(|(row, mean)| mean + row.iter().zip(&normal).map(|(l, z)| l * z).sum::<f64>()).collect()
            }
            _ => normal,
        }
    }

    /// Log of the density drawn from over the prior's.
    pub(super) fn log_ratio(&self, at: &[f64]) -> f64 {
        let Some(root) = &self.root else { return 0.0 };
        let mut whitened: Vec<f64> = Vec::with_capacity(at.len());
        let mut log = 0.0;
        for (i, row) in root.iter().enumerate() {
            let known: f64 = row[..i].iter().zip(&whitened).map(|(l, z)| l * z).sum();
            let z = (at[i] - self.mean[i] - known) / row[i];
            log += 0.5 * (at[i] * at[i] - z * z) - row[i].ln();
            whitened.push(z);
        }
        (FROM_PRIOR + (1.0 - FROM_PRIOR) * log.exp()).ln()
    }
}

/// Cholesky's root of a symmetric matrix given by its lower triangle, rows first; a direction without extent gets a thousandth.
fn cholesky(matrix: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let mut root: Vec<Vec<f64>> = Vec::with_capacity(matrix.len());
    for (i, row) in matrix.iter().enumerate() {
        let mut line: Vec<f64> = Vec::with_capacity(i + 1);
        for j in 0..i {
            let dot: f64 = line.iter().zip(&root[j]).map(|(a, b)| a * b).take(j).sum();
            line.push((row[j] - dot) / root[j][j]);
        }
        let left = row[i] - line.iter().map(|a| a * a).sum::<f64>();
        line.push(left.max(1e-6).sqrt());
        root.push(line);
    }
    root
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::logbook::unknowns::Spread;
    use approx::assert_abs_diff_eq;

    // By hand: [[4, 2], [2, 5]] = L L' with L = [[2, 0], [1, 2]].
    #[test]
    fn cholesky_of_a_small_matrix() {
        let root = cholesky(&[vec![4.0], vec![2.0, 5.0]]);
        assert_abs_diff_eq!(root[0][0], 2.0);
        assert_abs_diff_eq!(root[1][0], 1.0);
        assert_abs_diff_eq!(root[1][1], 2.0);
        // And [[4, 2, -2], [2, 5, 5], [-2, 5, 11]] with a third row of [-1, 3, 1].
        let root = cholesky(&[vec![4.0], vec![2.0, 5.0], vec![-2.0, 5.0, 11.0]]);
        for (found, wanted) in root[2].iter().zip([-1.0, 3.0, 1.0]) {
            assert_abs_diff_eq!(*found, wanted, epsilon = 1e-12);
        }
    }

    // A normal prior and a normal likelihood of standard deviation 0.1 at 2: mean 2 / 1.01, variance 0.01 / 1.01, whatever the draws came from.
    #[test]
    fn corrected_draws_have_the_moments_of_the_product() {
        let log = |x: &[f64]| -0.5 * ((x[0] - 2.0) / 0.1f64).powi(2);
        let taken = |proposal: &Proposal| -> Vec<(Vec<f64>, f64)> {
            let spread = Spread::new(3);
            let draws = (0..2000).map(|i| proposal.draw(spread.point(i)));
            draws.map(|x| (x.clone(), log(&x) - proposal.log_ratio(&x))).collect()
        };
        let mut proposal = Proposal::prior(2);
        for _ in 0..3 {
            let scouts = taken(&proposal);
            let most = scouts.iter().map(|(_, log)| *log).fold(f64::MIN, f64::max);
            let relative: Vec<(&[f64], f64)> = scouts.iter().map(|(x, log)| (x.as_slice(), log - most)).collect();
            proposal = Proposal::from(&relative).0;
        }
        let draws = taken(&proposal);
        let weights = || draws.iter().map(|(_, log)| log.exp());
        let sum: f64 = weights().sum();
        let mean = |axis: usize| draws.iter().zip(weights()).map(|((x, _), w)| w * x[axis]).sum::<f64>() / sum;
        let variance = draws.iter().zip(weights()).map(|((x, _), w)| w * (x[0] - mean(0)).powi(2)).sum::<f64>() / sum;
        assert_abs_diff_eq!(mean(0), 2.0 / 1.01, epsilon = 0.005);
        assert_abs_diff_eq!(variance, 0.01 / 1.01, epsilon = 0.001);
        assert_abs_diff_eq!(mean(1), 0.0, epsilon = 0.05);
        assert!(effective(weights()) > 500.0);
    }

    #[test]
    fn equal_weights_are_all_effective() {
        assert_abs_diff_eq!(effective([1.0; 10].into_iter()), 10.0, epsilon = 1e-12);
        assert_abs_diff_eq!(effective([1.0, 0.0, 0.0].into_iter()), 1.0, epsilon = 1e-12);
    }
}
