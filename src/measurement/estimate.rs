//! Marginalises the fit over lights and cameras: what the colour of each cup proves.

use super::model::Wave;
use super::model::dye::DyeBasis;
use super::model::fit::{Fit, Laplace, Measured, Patch, Problem, SharedPrior};
use super::model::forward::{Ground, Surface, stain_shape};
use super::model::hypothesis::Hypothesis;
use super::model::parameters::{self as prior, Prior, local, shared};
use super::panel::Joint;
use super::regions::sheet::CupLight;
use super::rival::{self, Named};
use super::samples::{CardSamples, CupSamples, Sample};
use super::search::{fit_all, fit_all_told, try_again};
use super::share;
use crate::indicator::Indicator;

/// What no term of the model explains, share of full scale (simulated photos of other cameras leave 0.004 to 0.006).
const MISFIT: f64 = 0.005;

/// What walls and paper beside a cup add to that: they are no single even surface.
const WHITE_UNEVEN: f64 = 0.002;
/// One Gaussian of the mixture: a cup's base fraction under one hypothesis.
#[derive(Debug, Clone, Copy)]
pub struct Component {
    /// Probability of the hypothesis.
    pub weight: f64,
    /// Most probable base fraction under it, 0 to 1.
    pub base_fraction: f64,
    /// Standard deviation of the base fraction.
    pub sd: f64,
}

/// Everything the fit says of one cup.
#[derive(Debug, Clone)]
pub struct CupEstimate {
    /// The mixture over hypotheses.
    pub components: Vec<Component>,
    /// Mean optical dose.
    pub dose: f64,
    /// Mean density of stain at 420 nm.
    pub stain: f64,
    /// Bad stain as what colours the cup; `None` where it was not tried.
    pub bad_stain: Option<rival::Stain>,
    /// Residuals against their uncertainty under the best hypothesis, root mean square.
    pub misfit: f64,
    /// Another built-in dye explains the cups of this dye better, or none does in a likely light.
    pub is_other_dye: bool,
}

/// Everything the fit says of a photo.
#[derive(Debug, Clone)]
pub struct Estimate {
    /// Probability of each hypothesis, in the order given.
    pub weights: Vec<f64>,
    /// Each cup.
    pub cups: Vec<CupEstimate>,
    candidates: Vec<Candidate>,
    /// The table's uncertainty of pKa' where a calibration has found what it is instead: then that is in the fractions.
    found_pka: Option<f64>,
}

impl Estimate {
    /// The base fractions of some cups together, under each hypothesis.
    #[must_use]
    pub fn together(&self, cups: &[usize]) -> Vec<Joint> {
        self.candidates.iter().map(|candidate| candidate.together(cups, self.found_pka)).collect()
    }
}

/// What a cup holds, as far as it was told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Content {
    /// A bath with a dye: its place among the dyes of the photo.
    Dyed(usize),
    /// Plain water.
    Water,
}

/// A measured colour as the model takes it: with what no term of the model explains.
#[must_use]
pub fn patch(surface: Surface, value: [f64; 3], noise: [f64; 3]) -> Patch {
    Patch { surface, value, sd: noise.map(|noise| (MISFIT.powi(2) + noise.powi(2)).sqrt()), misfit: MISFIT }
}

/// The same for white beside a cup.
#[must_use]
pub fn white_patch(value: [f64; 3], noise: [f64; 3]) -> Patch {
    let sd = noise.map(|noise| (MISFIT.powi(2) + WHITE_UNEVEN * WHITE_UNEVEN + noise.powi(2)).sqrt());
    Patch { surface: Surface::White, value, sd, misfit: MISFIT }
}

/// Turns samples into what the model predicts. Cups follow the order of `cups`; the card comes with its reflectance.
#[must_use]
pub fn measured(card: Option<(&CardSamples, f64)>, cups: &[(&CupSamples, Content)]) -> Measured {
    let ground = if cups.iter().any(|(_, content)| *content == Content::Water) { Ground::Shown } else { Ground::White };
    let patch = |surface: Surface, sample: &Sample, more: f64| Patch {
        surface,
        value: sample.value,
        sd: [0, 1, 2].map(|c| (MISFIT.powi(2) + more * more + sample.noise(c).powi(2)).sqrt()),
        misfit: MISFIT,
    };
    Measured {
        common: card.iter().map(|(samples, reflectance)| patch(Surface::Card(*reflectance), &samples.whole, 0.0)).collect(),
        cups: cups
            .iter()
            .map(|(cup, content)| {
                let liquid = |square| if *content == Content::Water { Surface::Water } else { Surface::Liquid(square) };
                let mut patches: Vec<Patch> = cup.rings.iter().map(|ring| patch(liquid(ring.square), &ring.sample, 0.0)).collect();
                patches.extend(cup.white.iter().map(|white| patch(Surface::White, white, WHITE_UNEVEN)));
                patches
            })
            .collect(),
        dyes: cups.iter().map(|(_, content)| if let Content::Dyed(dye) = content { *dye } else { 0 }).collect(),
        ground,
        anchors: Vec::new(),
    }
}

/// Spread of the log level of a cup's own white, and of the liquid's ground, against paper in the same light: ware differs from paper, and
/// a wall is turned away from the light.
const WARE: f64 = 0.06;
/// Spread of a card's log level about its stated reflectance where it lies in known light: its tolerance and shine.
const CARD_ALONE: f64 = 0.04;
/// Uncertainty of the encoded white of paper: papers reflect 0.80 to 0.90.
const PAPER_UNEVEN: f64 = 0.012;
/// Uncertainty of a channel that tells nothing.
const MUTE: f64 = 1e6;

/// A figure that takes the place of a prior: what, together with the prior, comes to `mean` and `sd`. It must tell more than the prior.
fn in_place_of(prior: &Prior, surface: Surface, mean: f64, sd: f64) -> Patch {
    let information = (sd.powi(-2) - prior.sd.powi(-2)).max(1e-3 * prior.sd.powi(-2));
    let value = (mean * sd.powi(-2) - prior.mean * prior.sd.powi(-2)) / information;
    Patch { surface, value: [value, 0.0, 0.0], sd: [information.powf(-0.5), MUTE, MUTE], misfit: 0.0 }
}

/// Adds what a placement sheet tells of the light: at each cup against the card, and the paper's white as it would be beside the card.
pub fn add_light(measured: &mut Measured, lights: &[Option<CupLight>], paper: Option<[f64; 3]>) {
    if lights.iter().all(Option::is_none) {
        return;
    }
    measured.common.push(in_place_of(&prior::CARD, Surface::CardLight, 0.0, CARD_ALONE));
    measured.common.extend(paper.map(|value| Patch {
        surface: Surface::White,
        value,
        sd: [MISFIT.hypot(PAPER_UNEVEN); 3],
        misfit: MISFIT,
    }));
    for (patches, light) in measured.cups.iter_mut().zip(lights) {
        let tells = |light: &CupLight| {
            in_place_of(&prior::SHADE, Surface::CupLight, light.log_level, WARE.hypot(light.sd).min(0.99 * prior::SHADE.sd))
        };
        patches.extend(light.as_ref().map(tells));
    }
}

/// Hypotheses this much worse in cost than the best are dropped: their weight would be below e^-6.
pub(super) const HOPELESS: f64 = 12.0;
/// The same where hypotheses come with priors of their own: a narrow one costs more and gains it back by its width.
pub(super) const HOPELESS_TOLD: f64 = 50.0;
/// Hypotheses in which another dye is tried first.
const LIKELY: usize = 6;

/// Fits every hypothesis and weighs them; `None` when there is no hypothesis or no dye, or none could be fitted.
#[must_use]
pub fn estimate(hypotheses: &[Hypothesis], dyes: &[&Indicator], measured: &Measured) -> Option<Estimate> {
    estimate_from(hypotheses, None, dyes, measured)
}

/// The same with what a calibration says of each hypothesis, for cups that all hold the calibrated dye. Base fractions are then those that
/// the table's pKa' would give at the same pH, and what is uncertain of pKa' is in them.
#[must_use]
pub fn estimate_from(
    hypotheses: &[Hypothesis],
    priors: Option<&[SharedPrior]>,
    dyes: &[&Indicator],
    measured: &Measured,
) -> Option<Estimate> {
    if hypotheses.is_empty() || dyes.is_empty() {
        return None;
    }
    let bases: Vec<DyeBasis> = dyes.iter().map(|dye| DyeBasis::new(dye)).collect();
    let stain: Wave = stain_shape();
    let problem =
        |h: usize| Problem { hypothesis: &hypotheses[h], dyes: &bases, stain: &stain, measured, prior: priors.map(|priors| &priors[h]) };
    let (mut fits, hopeless) = if priors.is_some() {
        (fit_all_told(&problem, hypotheses.len(), hypotheses.len()), HOPELESS_TOLD)
    } else {
        (fit_all(&problem, hypotheses.len(), hypotheses.len() / 2, |first| first + HOPELESS), HOPELESS)
    };
    try_again(&problem, &mut fits);
    let Weighed { candidates, log_evidence } = weighed(hypotheses, fits, hopeless);
    let best = candidates.first()?;
    let best_problem = problem(best.hypothesis);
    let likely: Vec<_> = candidates.iter().take(LIKELY).map(|candidate| (candidate.hypothesis, candidate.fit.unknowns.clone())).collect();
    let mut weights = vec![0.0; hypotheses.len()];
    for candidate in &candidates {
        weights[candidate.hypothesis] += candidate.weight;
    }
    let named = Named {
        hypothesis: best.hypothesis,
        problem: best_problem,
        fit: &best.fit,
        likely: &likely,
        dyes,
        hypotheses,
        priors,
        log_evidence,
        weights: &weights,
    };
    let numbers: Vec<usize> = (0..measured.cups.len()).collect();
    let (stains, others): (_, Vec<bool>) = share::beside(
        || share::map(&numbers, |&k| rival::stain(&named.problem, &best.fit, k)),
        || (0..dyes.len()).map(|k| rival::is_other_dye(&named, k)).collect(),
    );
    // A calibration is for photos of its dye alone.
    let found_pka = priors.and(dyes.first()).map(|dye| dye.pka_sd);
    let cups = (numbers.into_iter().zip(stains))
        .map(|(k, bad_stain)| CupEstimate {
            components: candidates.iter().map(|candidate| candidate.component(k, found_pka)).collect(),
            dose: mean(&candidates, |fit| prior::DOSE.at(fit.unknowns.cups[k][local::DOSE]).exp()),
            stain: mean(&candidates, |fit| prior::STAIN.at(fit.unknowns.cups[k][local::STAIN]).exp()),
            bad_stain,
            misfit: named.problem.cup_misfit(&best.fit.unknowns, k),
            is_other_dye: others[measured.dye(k)],
        })
        .collect();
    Some(Estimate { weights, cups, candidates, found_pka })
}

/// A hypothesis that is still in the running.
#[derive(Debug, Clone)]
pub(super) struct Candidate {
    pub(super) hypothesis: usize,
    pub(super) fit: Fit,
    laplace: Laplace,
    /// Probability.
    pub(super) weight: f64,
}

impl Candidate {
    /// With `pka_sd` what the calibration found of pKa' goes into the fraction.
    pub(super) fn component(&self, cup: usize, pka_sd: Option<f64>) -> Component {
        let base_fraction = self.base_fraction(cup, pka_sd);
        let logit_sd = self.logit_covariance(cup, cup, pka_sd).max(0.0).sqrt();
        // The derivative of the fraction by its logit is a (1 - a).
        Component { weight: self.weight, base_fraction, sd: logit_sd * base_fraction * (1.0 - base_fraction) }
    }

    /// Most probable base fraction; with `pka_sd` as the table's pKa' would have it: the pH, as a logit about that, is the sum of the
    /// cup's logit and what the calibration found of pKa'.
    fn base_fraction(&self, cup: usize, pka_sd: Option<f64>) -> f64 {
        let shift = pka_sd.map_or(0.0, |sd| std::f64::consts::LN_10 * sd * self.fit.unknowns.shared[self.fit.dye(cup)][shared::PKA]);
        1.0 / (1.0 + (-prior::LOGIT.at(self.fit.unknowns.cups[cup][local::LOGIT]) - shift).exp())
    }

    /// Covariance of the logits of two cups; with `pka_sd` of their sums with what the calibration found of pKa'.
    fn logit_covariance(&self, one: usize, other: usize, pka_sd: Option<f64>) -> f64 {
        let of_logits = prior::LOGIT.sd.powi(2) * self.laplace.logit_covariance(one, other);
        let by_pka = std::f64::consts::LN_10 * pka_sd.unwrap_or(0.0);
        let crossed = self.laplace.logit_pka_covariance(one) + self.laplace.logit_pka_covariance(other);
        of_logits + prior::LOGIT.sd * by_pka * crossed + by_pka * by_pka * self.laplace.pka_variance(one)
    }

    fn together(&self, cups: &[usize], pka_sd: Option<f64>) -> Joint {
        let base_fractions: Vec<f64> = cups.iter().map(|&k| self.base_fraction(k, pka_sd)).collect();
        let slope = |i: usize| base_fractions[i] * (1.0 - base_fractions[i]);
        let covariance = (0..cups.len())
            .flat_map(|i| (0..cups.len()).map(move |j| (i, j)))
            .map(|(i, j)| slope(i) * slope(j) * self.logit_covariance(cups[i], cups[j], pka_sd))
            .collect();
        Joint { weight: self.weight, base_fractions, covariance }
    }
}

/// Fits held against each other by Laplace's approximation of their evidence.
#[derive(Debug)]
pub(super) struct Weighed {
    /// The most probable first.
    pub(super) candidates: Vec<Candidate>,
    /// Log of the summed evidence but for factors that all dyes share; without any fit minus infinity.
    pub(super) log_evidence: f64,
}

/// Weighs the fits; those worse than the best by more than `hopeless` in cost are dropped.
pub(super) fn weighed(hypotheses: &[Hypothesis], mut fits: Vec<(usize, Fit)>, hopeless: f64) -> Weighed {
    let lowest = fits.iter().map(|(_, fit)| fit.cost).fold(f64::INFINITY, f64::min);
    fits.retain(|(_, fit)| fit.cost < lowest + hopeless);
    let mut candidates: Vec<Candidate> = fits
        .into_iter()
        .filter_map(|(hypothesis, fit)| {
            let laplace = fit.laplace()?;
            let log_weight = hypotheses[hypothesis].log_prior - 0.5 * (fit.cost - lowest) - 0.5 * laplace.log_determinant;
            Some(Candidate { hypothesis, fit, laplace, weight: log_weight })
        })
        .collect();
    let most = candidates.iter().map(|c| c.weight).fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = candidates.iter().map(|c| (c.weight - most).exp()).sum();
    for candidate in &mut candidates {
        candidate.weight = (candidate.weight - most).exp() / total;
    }
    candidates.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    Weighed { candidates, log_evidence: most + total.ln() - 0.5 * lowest }
}

/// Mean of a figure over the candidates.
fn mean(candidates: &[Candidate], figure: impl Fn(&Fit) -> f64) -> f64 {
    candidates.iter().map(|candidate| candidate.weight * figure(&candidate.fit)).sum()
}

#[cfg(test)]
mod tests {
    use super::super::samples::Ring;
    use super::*;

    // Two independent Gaussians come to the mean weighted by inverse variances, and to the sum of these.
    #[test]
    fn a_figure_takes_the_place_of_a_prior() {
        let prior = Prior { mean: 0.1, sd: 0.08 };
        let patch = in_place_of(&prior, Surface::CupLight, -0.4, 0.05);
        let (a, b) = (prior.sd.powi(-2), patch.sd[0].powi(-2));
        assert!(((prior.mean * a + patch.value[0] * b) / (a + b) + 0.4).abs() < 1e-12);
        assert!(((a + b).powf(-0.5) - 0.05).abs() < 1e-12);
        // What tells less than the prior leaves it about as it is.
        let vague = in_place_of(&prior, Surface::CupLight, 0.1, 0.2);
        assert!(vague.sd[0] > 2.0);
    }

    // By hand: white is uncertain by its own unevenness too, which a liquid has not.
    #[test]
    fn the_uncertainties_of_a_colour_add_up() {
        let sample = Sample { value: [0.5; 3], spread: [0.04; 3], clipped: [0.0; 3], independent: 16.0 };
        let noise = sample.noise(0);
        assert!((noise - 0.01).abs() < 1e-4);
        let ring = Ring { radii: (0.0, 9.0), square: 0.3, sample };
        let cup = CupSamples { rings: vec![ring], white: Some(sample), white_halves: None };
        let measured = measured(None, &[(&cup, Content::Dyed(0))]);
        let sds: Vec<f64> = measured.cups[0].iter().map(|patch| patch.sd[1]).collect();
        let by_hand = [0.0, WHITE_UNEVEN].map(|more: f64| MISFIT.hypot(more).hypot(noise));
        assert!(sds.iter().zip(by_hand).all(|(sd, by_hand)| (sd - by_hand).abs() < 1e-12) && by_hand[0] < by_hand[1], "{sds:?}");
    }

    #[test]
    fn light_is_added_only_where_a_sheet_tells() {
        let mut measured = Measured { cups: vec![Vec::new(), Vec::new()], ..Measured::default() };
        add_light(&mut measured, &[None, None], Some([0.8; 3]));
        assert!(measured.common.is_empty() && measured.cups.iter().all(Vec::is_empty));
        add_light(&mut measured, &[None, Some(CupLight { log_level: -0.2, sd: 0.02 })], Some([0.8; 3]));
        assert!(measured.cups[0].is_empty());
        assert_eq!(measured.cups[1][0].surface, Surface::CupLight);
        assert!(measured.common.iter().any(|patch| patch.surface == Surface::White));
        assert!(measured.common.iter().any(|patch| patch.surface == Surface::CardLight));
    }
}
