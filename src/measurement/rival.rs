//! Other explanations of the same colours: another dye, or brown stain in place of the acid form.

use super::estimate::{HOPELESS, HOPELESS_TOLD, weighed};
use super::model::dye::DyeBasis;
use super::model::fit::{Fit, Measured, Problem, SharedPrior, Unknowns};
use super::model::forward::Surface;
use super::model::hypothesis::Hypothesis;
use super::model::parameters::{self as prior, local};
use super::search::{finished, fit_all_from, fit_all_told, follow};
use super::share;
use crate::indicator::{Indicator, catalogue};

/// Sum of squares of the shared unknowns (standard deviations) up to which the named dye needs no doubt, for one cup and for each more: of single cups of another dye one in seven fits so well.
const UNBENT: (f64, f64) = (1.5, 0.6);
/// Beyond this the named dye fits only with a light or camera that hardly exists, whether or not another built-in dye does better. Rendered photos of another make bend the right dye by
/// up to 13; at a limit of 10 that refused 11 of 80, whose evidence was against every other dye.
const BENT: (f64, f64) = (20.0, 8.0);
/// The same as [`UNBENT`] for a photo read with a profile, in standard deviations of what the profile leaves open, which is much less.
const UNBENT_TOLD: (f64, f64) = (1.0, 0.3);
/// The same as [`BENT`].
const BELIED: (f64, f64) = (40.0, 8.0);
/// Another dye explains the photo better by this, log of the odds, for one cup and for each more: better no number than a wrong one. Of 487 rendered single cups of the right dye 0.03 come
/// to more; of cups of bromothymol blue that is more than 0.4 turned 0.97, of those that are 0.15 to 0.4 turned 0.80. By the cost of the best fits alone it was 0.09, 0.55 and 0.51.
const LOG_ODDS: (f64, f64) = (1.0, 0.5);
/// The same for a photo read with a profile: 20 to 1. Right dyes came to 2 at most, most of them below -2, and wrong ones to 2 to 7 on photos of the project's renderer.
const LOG_ODDS_TOLD: f64 = 3.0;
/// Another dye that stays this much above the named one in cost in each of the lights where that is at its best is not looked at further: where evidence spoke for another, it came to 0.6 above at most.
const FAR: f64 = 3.0;
/// Fits of another dye that stay this much above the named one in cost are not taken to their end.
const REACH: f64 = 6.0;
/// Another dye is tried in every so many hypotheses, and in more of them where the first are in doubt. No numbers that the cameras, four for each light, can be counted by. On 122
/// trials on rendered photos, 23 for another dye, every third hypothesis decided as all do but for one trial either way; their odds differ by 0.15.
const EVERY: (usize, usize) = (5, 3);
/// How near to the odds that are asked for is in doubt: beyond it every fifth hypothesis decided 105 of the 122 trials as all do.
const DOUBT: f64 = 0.75;
/// Fits of each other dye that are taken to the end under a profile.
const KEPT: usize = 16;
/// Dyes whose base peaks are closer than this look alike to a camera, nm.
const ALIKE_NM: f64 = 12.0;

/// What was fitted with the named dyes, as other dyes are held against it.
#[derive(Debug)]
pub struct Named<'a> {
    /// The best fit's hypothesis.
    pub hypothesis: usize,
    /// Its problem.
    pub problem: Problem<'a>,
    /// The best fit.
    pub fit: &'a Fit,
    /// The likeliest hypotheses and what was fitted under them.
    pub likely: &'a [(usize, Unknowns)],
    /// The dyes of the photo.
    pub dyes: &'a [&'a Indicator],
    /// Lights and cameras that were tried.
    pub hypotheses: &'a [Hypothesis],
    /// What a calibration says of each.
    pub priors: Option<&'a [SharedPrior]>,
    /// Log evidence of the photo with the named dyes, summed over all hypotheses.
    pub log_evidence: f64,
    /// Share of each in that.
    pub weights: &'a [f64],
}

/// Whether another built-in dye explains the photo better in place of dye `which`, or none does in a likely light. Looked for only when the fit had to bend light, camera
/// or dye. What counts is the evidence over all lights and cameras: a wrong dye may fit about as well as the right one, but in fewer of them, and only just.
#[must_use]
pub fn is_other_dye(named: &Named<'_>, which: usize) -> bool {
    let more = named.problem.measured.cups.len().saturating_sub(1) as f64;
    let bend = named.problem.bend_of(&named.fit.unknowns, which);
    let (unbent, bent) = if named.priors.is_some() { (UNBENT_TOLD, BELIED) } else { (UNBENT, BENT) };
    if bend < unbent.0 + unbent.1 * more {
        return false;
    }
    if bend > bent.0 + bent.1 * more {
        return true;
    }
    let mut rivals = rivals(named.dyes[which]);
    match named.priors {
        Some(priors) => {
            let told = without_dye(named.hypotheses, priors);
            rivals.any(|basis| gain_told(named, &told, which, &basis) > LOG_ODDS_TOLD)
        }
        None => rivals.any(|basis| is_likelier(named, which, &basis, LOG_ODDS.0 + LOG_ODDS.1 * more)),
    }
}

/// All built-in dyes that a camera can tell from this one by their base form alone.
fn rivals(dye: &Indicator) -> impl Iterator<Item = DyeBasis> {
    let mut tried = vec![dye.base_nm];
    let family = dye.acid_family;
    catalogue::all().iter().filter_map(move |other| {
        if other.acid_family != family || tried.iter().any(|nm| (other.base_nm - nm).abs() < ALIKE_NM) {
            return None;
        }
        tried.push(other.base_nm);
        Some(DyeBasis::new(other))
    })
}

/// Whether the photo is likelier with another dye by `log_odds`, in whatever light and before whatever camera. Not for one that is far off where the named dye is at its best.
fn is_likelier(named: &Named<'_>, which: usize, other: &DyeBasis, log_odds: f64) -> bool {
    let bases = with_other(named, which, other);
    let rival = |h: usize| Problem { hypothesis: &named.hypotheses[h], dyes: &bases, ..named.problem };
    let limit = named.fit.cost + FAR;
    let near = |(h, unknowns): &(usize, Unknowns)| Some(follow(&rival(*h), unknowns, limit)).filter(|fit| fit.cost <= limit);
    let Some(near) = first_some(named.likely, share::threads(), near) else { return false };
    let first = follow(&rival(named.hypothesis), &near.unknowns, f64::INFINITY);
    let reach = first.cost.min(named.fit.cost) + REACH;
    let gain_in = |every: usize| {
        let chosen: Vec<usize> = (named.hypothesis % every..named.hypotheses.len()).step_by(every).collect();
        let fits = fit_all_from(&|k| rival(chosen[k]), chosen.len(), named.hypothesis / every, first.clone(), reach);
        let fits = fits.into_iter().map(|(k, fit)| (chosen[k], fit)).collect();
        let own: f64 = chosen.iter().map(|h| named.weights[*h]).sum();
        weighed(named.hypotheses, fits, HOPELESS).log_evidence - named.log_evidence - own.ln()
    };
    let few = gain_in(EVERY.0);
    if (few - log_odds).abs() < DOUBT { gain_in(EVERY.1) > log_odds } else { few > log_odds }
}

/// The first thing that `job` makes of any of the items, in their order. `at_once` of them are tried together; what comes out does not depend on that.
fn first_some<T: Sync, R: Send>(items: &[T], at_once: usize, job: impl Fn(&T) -> Option<R> + Sync) -> Option<R> {
    items.chunks(at_once).find_map(|some| share::map(some, &job).into_iter().flatten().next())
}

/// What a calibration says of light and camera under each hypothesis, whatever the dye.
fn without_dye(hypotheses: &[Hypothesis], priors: &[SharedPrior]) -> (Vec<Hypothesis>, Vec<SharedPrior>) {
    let told = hypotheses.iter().zip(priors).filter_map(|(hypothesis, prior)| {
        let prior = prior.without_dye()?;
        Some((Hypothesis { log_prior: 0.5 * prior.log_determinant, ..hypothesis.clone() }, prior))
    });
    told.unzip()
}

/// Gain in log evidence with another dye in the light and before the camera that a calibration knows.
fn gain_told(named: &Named<'_>, (hypotheses, priors): &(Vec<Hypothesis>, Vec<SharedPrior>), which: usize, other: &DyeBasis) -> f64 {
    let bases = with_other(named, which, other);
    let rival = |h: usize| Problem { hypothesis: &hypotheses[h], dyes: &bases, prior: Some(&priors[h]), ..named.problem };
    let fits = fit_all_told(&rival, hypotheses.len(), KEPT);
    weighed(hypotheses, fits, HOPELESS_TOLD).log_evidence - named.log_evidence
}

fn with_other(named: &Named<'_>, which: usize, other: &DyeBasis) -> Vec<DyeBasis> {
    let mut bases = named.problem.dyes.to_vec();
    bases[which] = other.clone();
    bases
}

/// Only cups that a stain can imitate are tried: little base form, and not so deep that the dye is beyond doubt.
const IMITATED: (f64, f64) = (0.03, 0.33);
/// Deepest optical dose that is tried.
const DEEPEST: f64 = 2.0;
/// Where the fits with a bad stain start, natural logits of the base fraction: little dye in either form under the brown.
const STAINED_LOGITS: [f64; 2] = [-2.0, 1.0];
/// Natural log of the optical dose they start with: a third of the usual, for the stain takes its place.
const STAINED_LOG_DOSE: f64 = -1.2;

/// Bad stain against the dye as what colours a cup, under the same hypothesis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stain {
    /// How much more the best fit with stain costs.
    pub excess: f64,
    /// How much likelier it makes the photo: log of the odds, in which the width of what fits counts, too.
    pub log_odds: f64,
}

/// What fits when `cup` is badly stained, against what was fitted; none for a cup that a stain cannot imitate.
#[must_use]
pub fn stain(problem: &Problem<'_>, fit: &Fit, cup: usize) -> Option<Stain> {
    let fraction = fit.base_fraction(cup);
    let dose = prior::DOSE.at(fit.unknowns.cups[cup][local::DOSE]).exp();
    if fraction < IMITATED.0 || fraction > IMITATED.1 || dose > DEEPEST {
        return None;
    }
    let mut measured: Measured = problem.measured.clone();
    for patch in &mut measured.cups[cup] {
        if let Surface::Liquid(square) = patch.surface {
            patch.surface = Surface::Stained(square);
        }
    }
    let stained = Problem { measured: &measured, ..*problem };
    let fits = STAINED_LOGITS.map(|logit| {
        let mut unknowns = fit.unknowns.clone();
        unknowns.cups[cup][local::LOGIT] = (logit - prior::LOGIT.mean) / prior::LOGIT.sd;
        unknowns.cups[cup][local::DOSE] = (STAINED_LOG_DOSE - prior::DOSE.mean) / prior::DOSE.sd;
        unknowns.cups[cup][local::STAIN] = 0.0;
        finished(&stained, stained.start(unknowns))
    });
    let [one, other] = &fits;
    let best = if other.cost < one.cost { other } else { one };
    Some(Stain { excess: best.cost - fit.cost, log_odds: log_evidence(best) - log_evidence(fit) })
}

/// Log of the evidence of one hypothesis by Laplace's approximation, but for what all fits of a photo share; minus infinity where that is none.
fn log_evidence(fit: &Fit) -> f64 {
    fit.laplace().map_or(f64::NEG_INFINITY, |laplace| -0.5 * (fit.cost + laplace.log_determinant))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_counts_however_many_are_tried_at_once() {
        for at_once in 1..=8 {
            let even = |n: &u32| n.is_multiple_of(2).then_some(*n);
            assert_eq!(first_some(&[7, 5, 6, 2, 4, 1], at_once, even), Some(6));
            assert_eq!(first_some(&[7, 5, 1], at_once, even), None);
        }
    }
}
