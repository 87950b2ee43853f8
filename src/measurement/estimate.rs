//! Marginalises the fit over lights and cameras: what the colour of each cup proves.

use super::model::Wave;
use super::model::dye::DyeBasis;
use super::model::fit::{Fit, Laplace, Measured, Patch, Problem, SharedPrior, Unknowns};
use super::model::forward::{Ground, Model, Surface, stain_shape};
use super::model::hypothesis::Hypothesis;
use super::model::parameters::{self as prior, LocalVector, Prior, SharedVector, local, shared};
use super::panel::Joint;
use super::regions::sheet::CupLight;
use super::rival::{self, Named};
use super::samples::{CardSamples, CupSamples, Sample};
use super::share;
use crate::colour::tone::srgb_decode;
use crate::indicator::Indicator;

/// What no term of the model explains, share of full scale (simulated photos of other cameras leave 0.004 to 0.006).
const MISFIT: f64 = 0.005;

/// What walls and paper beside a cup add to that: they are no single even surface.
const WHITE_UNEVEN: f64 = 0.002;
/// Grid of the coarse search: natural logits of the base fraction, from plain acid to plain base.
const START_LOGITS: [f64; 10] = [-5.0, -3.5, -2.5, -1.7, -1.0, -0.3, 0.4, 1.2, 2.2, 3.5];
/// The same for the natural log of the optical dose, from a trace to ink.
const START_LOG_DOSES: [f64; 8] = [-2.5, -1.6, -0.9, -0.4, 0.1, 0.6, 1.1, 1.6];

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
    /// How much worse bad stain explains the cup than the dye does, in cost; infinite where it was not tried.
    pub stain_excess: f64,
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

/// Log level of a perfect diffuser from white, else from the card.
fn start_level(measured: &Measured) -> f64 {
    let linear = |patch: &Patch| srgb_decode(patch.value[1].clamp(0.02, 1.0));
    let whites: Vec<f64> =
        measured.cups.iter().flatten().filter(|patch| patch.surface == Surface::White).map(|patch| linear(patch) / prior::WHITE).collect();
    let level = if whites.is_empty() {
        measured
            .common
            .iter()
            .find_map(|patch| if let Surface::Card(reflectance) = patch.surface { Some(linear(patch) / reflectance) } else { None })
            .unwrap_or(START_LEVEL)
    } else {
        whites.iter().sum::<f64>() / whites.len() as f64
    };
    level.clamp(0.01, 3.0).ln()
}

/// Log of the ground against white from the cups of water; the prior mean where there are none.
fn start_ground(measured: &Measured, z_level: f64) -> f64 {
    let water: Vec<f64> = (measured.cups.iter().flatten())
        .filter(|patch| patch.surface == Surface::Water)
        .map(|patch| srgb_decode(patch.value[1].clamp(0.02, 1.0)).ln())
        .collect();
    if water.is_empty() {
        return prior::GROUND.mean;
    }
    water.iter().sum::<f64>() / water.len() as f64 - prior::LEVEL.at(z_level) - prior::WHITE.ln()
}

/// Level supposed where there is neither white nor card: white a little below full scale.
const START_LEVEL: f64 = 0.6;

/// Coarse search of fraction and dose of each cup under one hypothesis.
fn start(problem: &Problem<'_>) -> Unknowns {
    let mut shared = problem.prior.map_or_else(SharedVector::zeros, |prior| prior.mean);
    shared[shared::LEVEL] = (start_level(problem.measured) - prior::LEVEL.mean) / prior::LEVEL.sd;
    shared[shared::GROUND] = (start_ground(problem.measured, shared[shared::LEVEL]) - prior::GROUND.mean) / prior::GROUND.sd;
    let model = |dye| Model::new(problem.hypothesis, dye, problem.stain, problem.measured.ground, &shared);
    let models: Vec<Model<'_>> = problem.dyes.iter().map(model).collect();
    let cups = problem
        .measured
        .cups
        .iter()
        .enumerate()
        .map(|(k, patches)| {
            let model = &models[problem.measured.dye(k)];
            let mut best = (f64::INFINITY, LocalVector::zeros());
            let anchor = problem.measured.anchor(k).map(|anchor| [anchor.logit]);
            for &logit in anchor.as_ref().map_or(&START_LOGITS[..], |anchor| &anchor[..]) {
                for log_dose in START_LOG_DOSES {
                    let mut z = LocalVector::zeros();
                    z[local::LOGIT] = (logit - prior::LOGIT.mean) / prior::LOGIT.sd;
                    z[local::DOSE] = (log_dose - prior::DOSE.mean) / prior::DOSE.sd;
                    let cost: f64 = patches
                        .iter()
                        .filter(|patch| matches!(patch.surface, Surface::Liquid(_)))
                        .step_by(2)
                        .map(|patch| {
                            let predicted = model.predict(patch.surface, &z).value;
                            (0..3).map(|c| (patch.value[c] - predicted[c]).abs()).sum::<f64>()
                        })
                        .sum();
                    if cost < best.0 {
                        best = (cost, z);
                    }
                }
            }
            best.1
        })
        .collect();
    Unknowns { shared: vec![shared; problem.dyes.len()], cups }
}

/// Steps before the less probable hypotheses are dropped.
const FIRST_STEPS: usize = 6;
/// Steps at most for those kept.
const MOST_STEPS: usize = 25;
/// Hypotheses this much worse in cost than the best are dropped: their weight would be below e^-6.
const HOPELESS: f64 = 12.0;
/// The same where hypotheses come with priors of their own: a narrow one costs more and gains it back by its width.
pub(super) const HOPELESS_TOLD: f64 = 50.0;
/// Hypotheses kept at most after the first steps.
const KEPT: usize = 64;
/// Hypotheses that are tried again from other starting points.
const RESTARTED: usize = 12;

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
    let (kept, hopeless) = if priors.is_some() { (hypotheses.len(), HOPELESS_TOLD) } else { (KEPT, HOPELESS) };
    let mut fits = fit_all(&problem, hypotheses.len(), kept);
    let restarted = share::map(&fits[..RESTARTED.min(fits.len())], |(h, fit)| (*h, restart(&problem(*h), fit)));
    fits.splice(..restarted.len(), restarted);
    let Weighed { candidates, log_evidence } = weighed(hypotheses, fits, hopeless);
    let best = candidates.first()?;
    let best_problem = problem(best.hypothesis);
    let named = Named { problem: best_problem, fit: &best.fit, dyes, hypotheses, priors, log_evidence };
    let mut weights = vec![0.0; hypotheses.len()];
    for candidate in &candidates {
        weights[candidate.hypothesis] += candidate.weight;
    }
    let numbers: Vec<usize> = (0..measured.cups.len()).collect();
    let (excesses, others): (_, Vec<bool>) = share::beside(
        || share::map(&numbers, |&k| rival::stain_excess(&named.problem, &best.fit, k)),
        || (0..dyes.len()).map(|k| rival::is_other_dye(&named, k)).collect(),
    );
    // A calibration is for photos of its dye alone.
    let found_pka = priors.and(dyes.first()).map(|dye| dye.pka_sd);
    let cups = (numbers.into_iter().zip(excesses))
        .map(|(k, stain_excess)| CupEstimate {
            components: candidates.iter().map(|candidate| candidate.component(k, found_pka)).collect(),
            dose: mean(&candidates, |fit| prior::DOSE.at(fit.unknowns.cups[k][local::DOSE]).exp()),
            stain: mean(&candidates, |fit| prior::STAIN.at(fit.unknowns.cups[k][local::STAIN]).exp()),
            stain_excess,
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

/// Fits every hypothesis a few steps and the `kept` best to the end, best first.
pub(super) fn fit_all<'a>(problem: &(dyn Fn(usize) -> Problem<'a> + Sync), count: usize, kept: usize) -> Vec<(usize, Fit)> {
    let unknowns = start(&problem(0));
    let mut fits = share::map(&(0..count).collect::<Vec<_>>(), |&h| {
        let problem = problem(h);
        // What a calibration believes differs from light to light.
        let mut fit = problem.start(if problem.prior.is_some() { start(&problem) } else { unknowns.clone() });
        for _ in 0..FIRST_STEPS {
            problem.step(&mut fit);
        }
        (h, fit)
    });
    fits.sort_by(|a, b| a.1.cost.total_cmp(&b.1.cost));
    fits.truncate(kept);
    let mut fits = share::map(&fits, |(h, fit)| (*h, finished(&problem(*h), fit.clone())));
    fits.sort_by(|a, b| a.1.cost.total_cmp(&b.1.cost));
    fits
}

/// Goes on until a step brings next to nothing, at most [`MOST_STEPS`].
pub(super) fn finished(problem: &Problem<'_>, mut fit: Fit) -> Fit {
    for _ in 0..MOST_STEPS {
        if fit.converged {
            break;
        }
        problem.step(&mut fit);
    }
    fit
}

/// Tries again with every cup half a pH unit lower and higher, and returns what is best.
fn restart(problem: &Problem<'_>, fit: &Fit) -> Fit {
    let mut best = fit.clone();
    let shift = 0.5 * std::f64::consts::LN_10 / prior::LOGIT.sd;
    for direction in [-shift, shift] {
        let mut unknowns = best.unknowns.clone();
        for cup in &mut unknowns.cups {
            cup[local::LOGIT] += direction;
        }
        let trial = finished(problem, problem.start(unknowns));
        if trial.cost < best.cost - 0.01 {
            best = trial;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::tone::srgb_encode;

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

    // Water that lets half of the light of white through stands on a ground of half of white; two that show 0.4 and 0.6 of it, on the
    // geometric mean. Without water nothing is known of the ground.
    #[test]
    fn the_ground_is_guessed_from_the_water_on_it() {
        let water = |share: f64| patch(Surface::Water, [srgb_encode(0.6 * prior::WHITE * share); 3], [0.01; 3]);
        let of = |shares: &[f64]| Measured { cups: shares.iter().map(|share| vec![water(*share)]).collect(), ..Measured::default() };
        let level = (0.6f64.ln() - prior::LEVEL.mean) / prior::LEVEL.sd;
        assert!((start_ground(&of(&[0.5]), level) - 0.5f64.ln()).abs() < 1e-9);
        assert!((start_ground(&of(&[0.4, 0.6]), level) - 0.24f64.sqrt().ln()).abs() < 1e-9);
        assert!((start_ground(&of(&[]), level) - prior::GROUND.mean).abs() < 1e-12);
    }
}
