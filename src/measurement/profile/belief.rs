//! What buffers say of dye, camera and light under each hypothesis, and what of that is left for the next photo.

use super::super::estimate::{Candidate, HOPELESS_TOLD, weighed};
use super::super::model::dye::DyeBasis;
use super::super::model::fit::{Fit, Measured, Problem, SharedPrior};
use super::super::model::forward::stain_shape;
use super::super::model::hypothesis::{self, Hypothesis};
use super::super::model::parameters::{self as prior, CHANNEL, SharedMatrix, SharedVector, forget, shared};
use super::super::search::{finished, fit_all_told};
use super::super::share;
use crate::colour::generic::LightKind;
use crate::colour::space::{Matrix, PhotoSpace};
use crate::indicator::Indicator;

/// What the buffers say under one light and camera.
#[derive(Debug, Clone)]
pub(super) struct Belief {
    pub(super) light: usize,
    pub(super) camera: usize,
    pub(super) kind: LightKind,
    /// Log of its probability.
    pub(super) log_weight: f64,
    pub(super) mean: SharedVector,
    pub(super) covariance: SharedMatrix,
    /// Share of the usual misfit that the buffers leave.
    pub(super) misfit: f64,
}

/// Channel exponents for a calibration: it may ask more of them than a plain reading, whose cups could hide behind them.
const CHANNEL_CALIBRATED: f64 = 0.08;

/// Lights and cameras of a calibration that are fitted to the end.
const KEPT: usize = 24;

/// Shares of the usual misfit that are tried on the buffers, all equally likely: it is set for cameras nobody knows, and how much of it is
/// left once a camera and a dye are fitted freely only their own cups can tell.
const MISFITS: [f64; 3] = [1.0, 0.5, 0.25];

/// Beliefs of less than e to this of the best are dropped.
pub(super) const LEAST: f64 = -10.0;

/// White balance from photo to photo in one light, log gain: what a camera's automatic does to a scene that is little changed.
const GAIN_MOVES: f64 = 0.04;

/// The card's place in the light from photo to photo, log.
pub(super) const CARD_MOVES: f64 = 0.06;

/// Reopens unknowns: each gets this much variance more, in squared prior standard deviations.
pub(super) fn loosen(covariance: &mut SharedMatrix, unknowns: impl IntoIterator<Item = usize>, variance: f64) {
    for k in unknowns {
        covariance[(k, k)] += variance;
    }
}

/// Unknowns of the single photo, not of camera, light or dye.
pub(super) const OF_THE_PHOTO: [usize; 4] = [shared::LEVEL, shared::GROUND, shared::GROUND_RED, shared::GROUND_BLUE];

/// The same light is not quite the same the next day: lamps warm up and age, clouds pass. Channel exponents move by this much.
const LIGHT_DRIFTS: f64 = 0.02;

/// Unknowns of the kind of cup.
pub(super) const OF_THE_CUPS: [usize; 3] = [shared::VEIL, shared::WARE, shared::FORM];

/// Cups of another photo are mostly of the same kind, stand elsewhere, and are filled otherwise, in squared prior standard deviations.
pub(super) const CUPS_CHANGE: f64 = 0.1;

/// The exponents of both forms.
pub(super) const CHANNELS: std::ops::Range<usize> = shared::ACID_CHANNEL..shared::PKA;

impl Belief {
    /// What remains for another photo in the same light.
    pub(super) fn next_photo(&self) -> (SharedVector, SharedMatrix) {
        let (mut mean, mut covariance) = (self.mean, self.covariance);
        forget(&mut mean, &mut covariance, OF_THE_PHOTO);
        let share = |sd: f64, prior: f64| (sd / prior).powi(2);
        loosen(&mut covariance, [shared::RED, shared::BLUE], share(GAIN_MOVES, prior::GAIN.sd));
        loosen(&mut covariance, [shared::CARD], share(CARD_MOVES, prior::CARD.sd));
        loosen(&mut covariance, OF_THE_CUPS, CUPS_CHANGE);
        loosen(&mut covariance, CHANNELS, share(LIGHT_DRIFTS, CHANNEL));
        (mean, covariance)
    }
}

/// Every light and camera before any photo.
pub(super) fn first(to_srgb: &Matrix, told: Option<LightKind>) -> Option<(Vec<Hypothesis>, Vec<SharedPrior>)> {
    let mut covariance = SharedMatrix::identity();
    loosen(&mut covariance, CHANNELS, (CHANNEL_CALIBRATED / CHANNEL).powi(2) - 1.0);
    let hypotheses = hypothesis::all(&space(to_srgb), told);
    let priors = hypotheses.iter().map(|h| SharedPrior::new(SharedVector::zeros(), &covariance, -2.0 * h.log_prior));
    let priors = priors.collect::<Option<Vec<_>>>()?;
    Some((weightless(hypotheses, &priors), priors))
}

/// What is left of earlier photos for the next one.
pub(super) fn again(beliefs: &[Belief], to_srgb: &Matrix) -> Option<(Vec<Hypothesis>, Vec<SharedPrior>)> {
    let all = hypothesis::all(&space(to_srgb), None);
    let (mut hypotheses, mut priors) = (Vec::new(), Vec::new());
    for belief in beliefs {
        hypotheses.push(all.iter().find(|h| h.light == belief.light && h.camera == belief.camera)?.clone());
        let (mean, covariance) = belief.next_photo();
        priors.push(SharedPrior::new(mean, &covariance, -2.0 * belief.log_weight)?.with_misfit(belief.misfit));
    }
    Some((weightless(hypotheses, &priors), priors))
}

/// The probability of a hypothesis stands with its prior; what remains with it makes up for the width of that prior.
fn weightless(mut hypotheses: Vec<Hypothesis>, priors: &[SharedPrior]) -> Vec<Hypothesis> {
    for (hypothesis, prior) in hypotheses.iter_mut().zip(priors) {
        hypothesis.log_prior = 0.5 * prior.log_determinant;
    }
    hypotheses
}

/// A photo's space as far as the model asks for it.
fn space(to_srgb: &Matrix) -> PhotoSpace {
    PhotoSpace { to_srgb: *to_srgb, ..PhotoSpace::srgb() }
}

/// A fit to buffers and the share of the usual misfit that it allows for.
pub(super) struct Learnt {
    pub(super) candidate: Candidate,
    pub(super) misfit: f64,
}

/// Fits a photo of buffers under each hypothesis, the most probable first.
pub(super) fn learnt(dye: &Indicator, hypotheses: &[Hypothesis], priors: &[SharedPrior], measured: &Measured) -> Vec<Learnt> {
    let (bases, stain) = ([DyeBasis::new(dye)], stain_shape());
    let problem = |h: usize| Problem { hypothesis: &hypotheses[h], dyes: &bases, stain: &stain, measured, prior: Some(&priors[h]) };
    let fits = fit_all_told(&problem, hypotheses.len(), KEPT);
    let narrower: Vec<(usize, f64, Fit)> =
        MISFITS[1..].iter().flat_map(|share| fits.iter().map(|(h, fit)| (*h, *share, fit.clone()))).collect();
    let narrower = share::map(&narrower, |(h, share, fit)| {
        let narrower = priors[*h].clone().with_misfit(share * priors[*h].misfit);
        let problem = Problem { prior: Some(&narrower), ..problem(*h) };
        (*h, *share, finished(&problem, problem.start(fit.unknowns.clone())))
    });
    let (mut allowed, mut all) = (Vec::new(), Vec::new());
    for (h, share, fit) in fits.into_iter().map(|(h, fit)| (h, MISFITS[0], fit)).chain(narrower) {
        all.push((allowed.len(), fit));
        allowed.push((h, share * priors[h].misfit));
    }
    let tried: Vec<Hypothesis> = allowed.iter().map(|(h, _)| hypotheses[*h].clone()).collect();
    let learnt = weighed(&tried, all, HOPELESS_TOLD).candidates.into_iter().map(|mut candidate| {
        let (hypothesis, misfit) = allowed[candidate.hypothesis];
        candidate.hypothesis = hypothesis;
        Learnt { candidate, misfit }
    });
    learnt.collect()
}

/// What the fits leave for the next photo.
pub(super) fn believed(hypotheses: &[Hypothesis], candidates: &[Learnt]) -> Option<Vec<Belief>> {
    let beliefs = share::map(candidates, |Learnt { candidate, misfit }| {
        let hypothesis = &hypotheses[candidate.hypothesis];
        (candidate.weight > LEAST.exp()).then_some(())?;
        Some(Belief {
            light: hypothesis.light,
            camera: hypothesis.camera,
            kind: hypothesis.kind,
            log_weight: candidate.weight.ln(),
            mean: candidate.fit.unknowns.shared[0],
            covariance: candidate.fit.shared_covariance()?,
            misfit: *misfit,
        })
    });
    let beliefs: Vec<Belief> = beliefs.into_iter().flatten().collect();
    (!beliefs.is_empty()).then_some(beliefs)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    // What belongs to the photo is as before any photo; a balance of 0.15 that moves by 0.04 opens by 0.0711, a card of 0.10 by 0.06 by
    // 0.36, cups by a tenth; what belongs to the camera stays.
    #[test]
    fn the_next_photo_knows_less() {
        let (light, camera, kind, misfit) = (0, 0, LightKind::Led, 0.5);
        let (mean, covariance) = (SharedVector::repeat(0.7), SharedMatrix::identity() * 0.01);
        let (next, left) = Belief { light, camera, kind, log_weight: 0.0, mean, covariance, misfit }.next_photo();
        for (k, wanted, variance) in [
            (shared::LEVEL, 0.0, 1.0),
            (shared::GROUND, 0.0, 1.0),
            (shared::RED, 0.7, 0.01 + 0.0711),
            (shared::BLUE, 0.7, 0.01 + 0.0711),
            (shared::CARD, 0.7, 0.01 + 0.36),
            (shared::WARE, 0.7, 0.01 + 0.1),
            (shared::BASE_CHANNEL, 0.7, 0.01 + 1.0 / 9.0),
            (shared::TONE_ONE, 0.7, 0.01),
            (shared::PKA, 0.7, 0.01),
        ] {
            assert_abs_diff_eq!(next[k], wanted);
            assert_abs_diff_eq!(left[(k, k)], variance, epsilon = 1e-4);
        }
    }
}
