//! What is believed of a bath: weighted draws of all that is not known exactly, each followed through the record.

use super::life::{Life, LifeError};
use super::normal;
use super::path::{Bath, Story};
use super::unknowns::{Assumption, Spread};
use crate::quantity::Ph;

/// Draws of the last round, enough for the chance of 1 in 200 to rest on ten of them.
const DRAWS: usize = 2048;
/// Draws of the rounds before it.
const SCOUTS: usize = 768;
/// Rounds before the last at most: each takes the evidence in more fully.
const ROUNDS: usize = 4;
/// Share of draws from the prior in every round, so that no weight can be far above the rest.
const FROM_PRIOR: f64 = 0.2;
/// Effective number of scouts that shapes the next round.
const ENOUGH: f64 = 120.0;
/// Variance of the next round against the scouts': too wide costs draws, too narrow costs the tails.
const WIDER: f64 = 1.4;

/// A probability distribution over what is in the bath and what the next pieces will do to it.
#[derive(Debug, Clone)]
pub struct Belief {
    pub(super) story: Story,
    pub(super) draws: Vec<Draw>,
}

/// One way it may be.
#[derive(Debug, Clone)]
pub(super) struct Draw {
    /// The unknowns, standard normal before anything was seen.
    pub(super) unknowns: Vec<f64>,
    /// What is in the bath.
    pub(super) bath: Bath,
    /// Carry-over of each kind of piece, ml.
    pub(super) carry_overs: Vec<f64>,
    /// Litres of stated fresh bath that a litre of each developer spends.
    pub(super) appetites: Vec<f64>,
    /// Probability.
    pub(super) weight: f64,
}

/// Lower end of the 90 % interval, median, upper end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// 5 % of the probability lies below.
    pub low: f64,
    /// Half lies below.
    pub likely: f64,
    /// 5 % lies above.
    pub high: f64,
}

impl Belief {
    /// Follows a life under the limit where its bath is spent.
    ///
    /// # Errors
    /// As [`Life::check`]; [`LifeError::Powerless`] when bath or developer cannot do what they are for; what the chemistry refuses.
    pub fn new(life: &Life, spent: Ph) -> Result<Self, LifeError> {
        let story = Story::new(life, spent)?;
        let mut proposal = Proposal::prior(story.unknowns.count());
        for _ in 0..ROUNDS {
            let scouts = drawn(&story, &proposal, SCOUTS);
            let (next, whole) = Proposal::from(&scouts);
            let enough = effective(scouts.iter().map(|(_, log)| log.exp())) > 0.3 * SCOUTS as f64;
            if enough && proposal.is_prior() {
                break;
            }
            proposal = next;
            if whole {
                break;
            }
        }
        let mut draws: Vec<Draw> =
            drawn(&story, &proposal, DRAWS).into_iter().map(|(draw, log)| Draw { weight: log.exp(), ..draw }).collect();
        let sum: f64 = draws.iter().map(|draw| draw.weight).sum();
        draws.iter_mut().for_each(|draw| draw.weight /= sum);
        Ok(Belief { story, draws })
    }

    /// Share of the reserve that is used: 0 fresh, 1 at the spent limit, more when past it.
    #[must_use]
    pub fn used(&self) -> Range {
        self.range(|draw| draw.bath.used())
    }

    /// pH of the bath, as the chemistry has it.
    #[must_use]
    pub fn ph(&self) -> Range {
        self.range(|draw| self.story.curve.ph_at(draw.bath.used()))
    }

    /// Volume, litres.
    #[must_use]
    pub fn litres(&self) -> Range {
        self.range(|draw| draw.bath.litres)
    }

    /// Probability that the share used is at least this.
    #[must_use]
    pub fn chance_used(&self, at_least: f64) -> f64 {
        self.draws.iter().filter(|draw| draw.bath.used() >= at_least).map(|draw| draw.weight).sum()
    }

    /// Share used at which the bath has this pH.
    #[must_use]
    pub fn used_at(&self, ph: Ph) -> f64 {
        self.story.curve.used_at(ph.value())
    }

    /// All unknowns of this life.
    #[must_use]
    pub fn assumptions(&self) -> &[Assumption] {
        &self.story.unknowns.list
    }

    /// The 90 % interval and median of something that each draw has.
    pub(super) fn range(&self, of: impl Fn(&Draw) -> f64) -> Range {
        let sorted = self.sorted(of);
        Range { low: quantile(&sorted, 0.05), likely: quantile(&sorted, 0.5), high: quantile(&sorted, 0.95) }
    }

    /// Values with their weights, rising.
    pub(super) fn sorted(&self, of: impl Fn(&Draw) -> f64) -> Vec<(f64, f64)> {
        let mut values: Vec<(f64, f64)> = self.draws.iter().map(|draw| (of(draw), draw.weight)).collect();
        values.sort_by(|a, b| a.0.total_cmp(&b.0));
        values
    }

    /// Share of the variance of something that a straight line in each unknown explains, in their order.
    pub(super) fn explained(&self, of: impl Fn(&Draw) -> f64) -> Vec<f64> {
        let moments = |f: &dyn Fn(&Draw) -> f64| {
            let mean: f64 = self.draws.iter().map(|draw| draw.weight * f(draw)).sum();
            let variance: f64 = self.draws.iter().map(|draw| draw.weight * (f(draw) - mean).powi(2)).sum();
            (mean, variance)
        };
        let (mean, variance) = moments(&of);
        (0..self.story.unknowns.count())
            .map(|axis| {
                let (center, width) = moments(&|draw| draw.unknowns[axis]);
                let joint: f64 = self.draws.iter().map(|draw| draw.weight * (of(draw) - mean) * (draw.unknowns[axis] - center)).sum();
                if variance * width > 0.0 { joint * joint / (variance * width) } else { 0.0 }
            })
            .collect()
    }
}

/// The value below which this share of the weight lies; weights sum to 1.
pub(super) fn quantile(sorted: &[(f64, f64)], share: f64) -> f64 {
    let mut below = 0.0;
    for (value, weight) in sorted {
        below += weight;
        if below >= share {
            return *value;
        }
    }
    sorted.last().map_or(f64::NAN, |(value, _)| *value)
}

/// Number of equal weights that tell as much (Kish 1965).
fn effective(weights: impl Iterator<Item = f64> + Clone) -> f64 {
    let sum: f64 = weights.clone().sum();
    let squares: f64 = weights.map(|weight| weight * weight).sum();
    if squares > 0.0 { sum * sum / squares } else { 0.0 }
}

/// Draws with the log of what corrects for where they were drawn, the largest 0.
fn drawn(story: &Story, proposal: &Proposal, count: usize) -> Vec<(Draw, f64)> {
    let spread = Spread::new(proposal.mean.len() + 1);
    let mut all: Vec<(Draw, f64)> = (0..count)
        .map(|i| {
            let unknowns = proposal.draw(spread.point(i));
            let followed = story.follow(&unknowns, i);
            let log = followed.log - proposal.log_ratio(&unknowns);
            let draw =
                Draw { unknowns, bath: followed.bath, carry_overs: followed.carry_overs, appetites: followed.appetites, weight: 0.0 };
            (draw, log)
        })
        .collect();
    let most = all.iter().map(|(_, log)| *log).fold(f64::MIN, f64::max);
    all.iter_mut().for_each(|(_, log)| *log -= most);
    all
}

/// Where draws are taken: some from the prior, the rest from a normal distribution near what the evidence allows.
struct Proposal {
    mean: Vec<f64>,
    /// Lower triangle of Cholesky's root of the covariance, rows first; none for the prior alone.
    root: Option<Vec<Vec<f64>>>,
}

impl Proposal {
    fn prior(dimensions: usize) -> Self {
        Proposal { mean: vec![0.0; dimensions], root: None }
    }

    fn is_prior(&self) -> bool {
        self.root.is_none()
    }

    /// From weighted scouts. Where too few count, the evidence is weakened until enough do; says whether it was taken in whole.
    fn from(scouts: &[(Draw, f64)]) -> (Self, bool) {
        let at = |power: f64| scouts.iter().map(move |(_, log)| (power * log).exp());
        let mut power = 1.0;
        while power > 1e-3 && effective(at(power)) < ENOUGH {
            power *= 0.7;
        }
        let weights: Vec<f64> = at(power).collect();
        let sum: f64 = weights.iter().sum();
        let count = scouts[0].0.unknowns.len();
        let average =
            |of: &dyn Fn(&[f64]) -> f64| scouts.iter().zip(&weights).map(|((draw, _), w)| w * of(&draw.unknowns)).sum::<f64>() / sum;
        let mean: Vec<f64> = (0..count).map(|i| average(&|x| x[i])).collect();
        let covariance: Vec<Vec<f64>> =
            (0..count).map(|i| (0..=i).map(|j| WIDER * average(&|x| (x[i] - mean[i]) * (x[j] - mean[j]))).collect()).collect();
        (Proposal { mean, root: Some(cholesky(&covariance)) }, power >= 1.0)
    }

    /// The unknowns at a point of the unit cube that has one coordinate more: it chooses between prior and the rest.
    fn draw(&self, mut point: impl Iterator<Item = f64>) -> Vec<f64> {
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
    fn log_ratio(&self, at: &[f64]) -> f64 {
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
