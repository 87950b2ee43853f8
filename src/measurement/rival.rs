//! Other explanations of the same colours: another dye, or brown stain in place of the acid form.

use super::estimate::{finish, start};
use super::model::dye::DyeBasis;
use super::model::fit::{Fit, Measured, Problem};
use super::model::forward::Surface;
use super::model::parameters::{self as prior, SHARED, local, shared};
use crate::indicator::{Indicator, catalogue};

/// Below this sum of squares of the shared unknowns (standard deviations) the dye fits without being bent, and no other is tried.
const SUSPICIOUS: f64 = 5.0;
/// Dyes whose base peaks are closer than this look alike to a camera, nm.
const ALIKE_NM: f64 = 8.0;

/// The built-in dye that explains the photo best in place of `dye`, with the gain in cost; looked for only when the fit had to
/// bend what the cups share.
#[must_use]
pub fn other_dye(problem: &Problem<'_>, fit: &Fit, dye: &Indicator) -> Option<(&'static str, f64)> {
    let z = &fit.unknowns.shared;
    if z.norm_squared() < SUSPICIOUS {
        return None;
    }
    let mut best: Option<(&'static str, f64)> = None;
    for other in catalogue::all() {
        if (other.base_nm - dye.base_nm).abs() < ALIKE_NM || other.acid_family != dye.acid_family {
            continue;
        }
        let basis = DyeBasis::new(other);
        let rival = Problem { basis: &basis, ..*problem };
        let mut unknowns = start(&rival);
        // Light, camera and tone are as found; only what belongs to the dye starts anew.
        for i in (0..SHARED).filter(|i| !(shared::ACID..shared::BASE_CHANNEL + 3).contains(i)) {
            unknowns.shared[i] = z[i];
        }
        let mut trial = rival.start(unknowns);
        finish(&rival, &mut trial);
        let gain = fit.cost - trial.cost;
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
