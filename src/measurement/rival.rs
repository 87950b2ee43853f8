//! Other explanations of the same colours: another dye, or brown stain in place of the acid form.

use super::estimate::{finish, fit_all};
use super::model::dye::DyeBasis;
use super::model::fit::{Fit, Measured, Problem};
use super::model::forward::Surface;
use super::model::hypothesis::Hypothesis;
use super::model::parameters::{self as prior, local};
use crate::indicator::{Indicator, catalogue};

/// Cost of a photo with its right dye: this much, and as much again for each cup, is no cause for doubt.
const USUAL_COST: f64 = 4.5;
/// Dyes whose base peaks are closer than this look alike to a camera, nm.
const ALIKE_NM: f64 = 12.0;

/// The built-in dye that explains the photo best in place of `dye`, with the gain in cost over `cost`; looked for only when the fit
/// is poorer than usual.
#[must_use]
pub fn other_dye(problem: &Problem<'_>, cost: f64, dye: &Indicator, hypotheses: &[Hypothesis]) -> Option<(&'static str, f64)> {
    if cost < USUAL_COST * (1 + problem.measured.cups.len()) as f64 {
        return None;
    }
    let mut tried = vec![dye.base_nm];
    let mut best: Option<(&'static str, f64)> = None;
    for other in catalogue::all() {
        if other.acid_family != dye.acid_family || tried.iter().any(|nm| (other.base_nm - nm).abs() < ALIKE_NM) {
            continue;
        }
        tried.push(other.base_nm);
        let basis = DyeBasis::new(other);
        let fits = fit_all(&|h| Problem { hypothesis: &hypotheses[h], basis: &basis, ..*problem }, hypotheses.len(), 4);
        // Every cup adds its own misfit to either cost, and chance with it.
        let gain = cost - 0.5 * (problem.measured.cups.len() - 1) as f64 - fits.first().map_or(f64::INFINITY, |(_, fit)| fit.cost);
        if gain > best.map_or(0.0, |(_, gain)| gain) {
            best = Some((other.name, gain));
        }
    }
    best
}

/// Only cups that a stain can imitate are tried: little base form, and not so deep that the dye is beyond doubt.
const IMITATED: (f64, f64) = (0.03, 0.45);
/// Deepest optical dose that is tried.
const DEEPEST: f64 = 1.75;

/// Cost of the best fit in which `cup` is badly stained, less the cost of `fit`.
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
    for logit in [-2.0, 1.0] {
        let mut unknowns = fit.unknowns.clone();
        unknowns.cups[cup][local::LOGIT] = (logit - prior::LOGIT.mean) / prior::LOGIT.sd;
        unknowns.cups[cup][local::DOSE] = (-1.2 - prior::DOSE.mean) / prior::DOSE.sd;
        unknowns.cups[cup][local::STAIN] = 0.0;
        let mut trial = stained.start(unknowns);
        finish(&stained, &mut trial);
        lowest = lowest.min(trial.cost);
    }
    lowest - fit.cost
}
