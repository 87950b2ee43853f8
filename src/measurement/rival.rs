//! Other explanations of the same colours: another dye, or brown stain in place of the acid form.

use super::estimate::{finished, fit_all};
use super::model::dye::DyeBasis;
use super::model::fit::{Fit, Measured, Problem};
use super::model::forward::Surface;
use super::model::hypothesis::Hypothesis;
use super::model::parameters::{self as prior, local};
use crate::indicator::{Indicator, catalogue};

/// Sum of squares of the shared unknowns (standard deviations) up to which the right dye needs no doubt, for one cup and for each more.
const UNBENT: (f64, f64) = (3.4, 1.2);
/// Beyond this the named dye fits only with a light or camera that hardly exists, whether or not another built-in dye does better.
const BENT: (f64, f64) = (10.0, 4.0);
/// The same for a photo read with a profile, in standard deviations of what the profile leaves open, which is much less.
const BELIED: (f64, f64) = (40.0, 8.0);
/// Fits of each other dye that are taken to the end.
const KEPT: usize = 16;
/// Gain in cost that chance allows for each cup after the first: every cup adds its own misfit to either cost.
const BY_CHANCE: f64 = 1.5;
/// Dyes whose base peaks are closer than this look alike to a camera, nm.
const ALIKE_NM: f64 = 12.0;

/// Gain in cost over `fit` with the built-in dye that explains the photo best in place of dye `which`; looked for only when the fit had to
/// bend light, camera or dye more than usual, and infinite when it had to bend them too far for any dye.
#[must_use]
pub fn other_dye(problem: &Problem<'_>, fit: &Fit, dyes: &[&Indicator], which: usize, hypotheses: &[Hypothesis]) -> Option<f64> {
    let more = problem.measured.cups.len().saturating_sub(1) as f64;
    let bend = problem.bend_of(&fit.unknowns, which);
    if problem.prior.is_some() {
        // The buffers have shown that it is this dye; only a photo that belies them stays in doubt.
        return (bend > BELIED.0 + BELIED.1 * more).then_some(f64::INFINITY);
    }
    if bend < UNBENT.0 + UNBENT.1 * more {
        return None;
    }
    if bend > BENT.0 + BENT.1 * more {
        return Some(f64::INFINITY);
    }
    let dye = dyes[which];
    let mut tried = vec![dye.base_nm];
    let mut best: Option<f64> = None;
    for other in catalogue::all() {
        if other.acid_family != dye.acid_family || tried.iter().any(|nm| (other.base_nm - nm).abs() < ALIKE_NM) {
            continue;
        }
        tried.push(other.base_nm);
        let mut bases = problem.dyes.to_vec();
        bases[which] = DyeBasis::new(other);
        let rival = |h: usize| Problem { hypothesis: &hypotheses[h], dyes: &bases, ..*problem };
        let fits = fit_all(&rival, hypotheses.len(), KEPT);
        let gain = fit.cost - BY_CHANCE * more - fits.first().map_or(f64::INFINITY, |(_, fit)| fit.cost);
        if gain > best.unwrap_or(0.0) {
            best = Some(gain);
        }
    }
    best
}

/// Only cups that a stain can imitate are tried: little base form, and not so deep that the dye is beyond doubt.
const IMITATED: (f64, f64) = (0.03, 0.33);
/// Deepest optical dose that is tried.
const DEEPEST: f64 = 2.0;
/// Where the fits with a bad stain start, natural logits of the base fraction: little dye in either form under the brown.
const STAINED_LOGITS: [f64; 2] = [-2.0, 1.0];
/// Natural log of the optical dose they start with: a third of the usual, for the stain takes its place.
const STAINED_LOG_DOSE: f64 = -1.2;

/// Cost of the best fit in which `cup` is badly stained, less the cost of `fit`; infinite for a cup that a stain cannot imitate.
#[must_use]
pub fn stain_excess(problem: &Problem<'_>, fit: &Fit, cup: usize) -> f64 {
    let fraction = fit.base_fraction(cup);
    let dose = prior::DOSE.at(fit.unknowns.cups[cup][local::DOSE]).exp();
    if fraction < IMITATED.0 || fraction > IMITATED.1 || dose > DEEPEST {
        return f64::INFINITY;
    }
    let mut measured: Measured = problem.measured.clone();
    for patch in &mut measured.cups[cup] {
        if let Surface::Liquid(square) = patch.surface {
            patch.surface = Surface::Stained(square);
        }
    }
    let stained = Problem { measured: &measured, ..*problem };
    let mut lowest = f64::INFINITY;
    for logit in STAINED_LOGITS {
        let mut unknowns = fit.unknowns.clone();
        unknowns.cups[cup][local::LOGIT] = (logit - prior::LOGIT.mean) / prior::LOGIT.sd;
        unknowns.cups[cup][local::DOSE] = (STAINED_LOG_DOSE - prior::DOSE.mean) / prior::DOSE.sd;
        unknowns.cups[cup][local::STAIN] = 0.0;
        lowest = lowest.min(finished(&stained, stained.start(unknowns)).cost);
    }
    lowest - fit.cost
}
