//! The fit of a photo in every light and before every camera: where it starts, in which order, and what is given up early.

mod again;
mod tree;

use super::model::fit::{Descent, Fit, Measured, Patch, Problem, Unknowns};
use super::model::forward::{Model, Surface};
use super::model::hypothesis::Hypothesis;
use super::model::parameters::{self as prior, LocalVector, SharedVector, local, shared};
use super::share;
use crate::colour::tone::srgb_decode;
pub(super) use again::try_again;
use tree::{colours, neighbours};

/// The problem that stands for a hypothesis.
pub(super) type Problems<'a, 'b> = dyn Fn(usize) -> Problem<'a> + Sync + 'b;

/// Grid of the coarse search: natural logits of the base fraction, from plain acid to plain base.
const START_LOGITS: [f64; 10] = [-5.0, -3.5, -2.5, -1.7, -1.0, -0.3, 0.4, 1.2, 2.2, 3.5];
/// The same for the natural log of the optical dose, from a trace to ink.
const START_LOG_DOSES: [f64; 8] = [-2.5, -1.6, -0.9, -0.4, 0.1, 0.6, 1.1, 1.6];

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
                    let mut rings = patches.iter().filter(|patch| matches!(patch.surface, Surface::Liquid(_))).step_by(2);
                    // What is further off than the best already need not be looked at further.
                    let cost = rings.try_fold(0.0, |cost, patch| {
                        let predicted = model.value(patch.surface, &z);
                        let cost = cost + (0..3).map(|c| (patch.value[c] - predicted[c]).abs()).sum::<f64>();
                        (cost < best.0).then_some(cost)
                    });
                    if let Some(cost) = cost.filter(|cost| *cost < best.0) {
                        best = (cost, z);
                    }
                }
            }
            best.1
        })
        .collect();
    Unknowns { shared: vec![shared; problem.dyes.len()], cups }
}

/// Steps of a fit that begins at what a calibration believes, before the less probable hypotheses are dropped.
const TOLD_STEPS: usize = 6;
/// Steps of any fit at most.
const MOST_STEPS: usize = 25;

/// Fits every hypothesis, from `lead` on, and returns all, best first. Those that will hardly come below a limit, which `limit` makes of the lead's cost, are not taken to their end.
pub(super) fn fit_all(problem: &Problems<'_, '_>, count: usize, lead: usize, limit: impl Fn(f64) -> f64) -> Vec<(usize, Fit)> {
    if count == 0 {
        return Vec::new();
    }
    let first = first(&problem(lead));
    let limit = limit(first.cost);
    fit_all_from(problem, count, lead, first, limit)
}

/// The same where the lead is fitted already.
pub(super) fn fit_all_from(problem: &Problems<'_, '_>, count: usize, lead: usize, first: Fit, limit: f64) -> Vec<(usize, Fit)> {
    best(grown(problem, count, lead, first, &|problem, near| follow(problem, near, limit)), count)
}

/// Goes on from the unknowns of another fit; given up when the cost will hardly come below `limit`.
pub(super) fn follow(problem: &Problem<'_>, near: &Unknowns, limit: f64) -> Fit {
    descended(problem, problem.start(near.clone()), Descent::below(limit))
}

/// The same where a calibration tells what to begin at, which differs from light to light: fits every hypothesis a few steps and the `kept` best to the end.
pub(super) fn fit_all_told(problem: &Problems<'_, '_>, count: usize, kept: usize) -> Vec<(usize, Fit)> {
    let begun = share::map(&(0..count).collect::<Vec<_>>(), |&h| {
        let problem = problem(h);
        let mut fit = problem.start(start(&problem));
        let mut descent = Descent::new();
        for _ in 0..TOLD_STEPS {
            problem.step(&mut fit, &mut descent);
        }
        (h, fit)
    });
    best(share::map(&best(begun, kept), |(h, fit)| (*h, finished(&problem(*h), fit.clone()))), kept)
}

/// The `kept` best, best first.
fn best(mut fits: Vec<(usize, Fit)>, kept: usize) -> Vec<(usize, Fit)> {
    fits.sort_by(|a, b| a.1.cost.total_cmp(&b.1.cost));
    fits.truncate(kept);
    fits
}

/// A fit from nothing to its end.
fn first(problem: &Problem<'_>) -> Fit {
    finished(problem, problem.start(start(problem)))
}

/// How a fit goes on from the unknowns of another.
type Follow<'f> = dyn Fn(&Problem<'_>, &Unknowns) -> Fit + Sync + 'f;

/// Follows the `first` fit, that of hypothesis `lead`, from neighbour to neighbour: from one that is near, two steps mostly do.
fn grown(problem: &Problems<'_, '_>, count: usize, lead: usize, first: Fit, follow: &Follow<'_>) -> Vec<(usize, Fit)> {
    let hypotheses: Vec<&Hypothesis> = (0..count).map(|h| problem(h).hypothesis).collect();
    let below = neighbours(&colours(&hypotheses, &problem(lead).dyes[0].forms(&SharedVector::zeros())), lead);
    share::grow(&below, lead, first, |h, near| follow(&problem(h), &near.unknowns))
}

/// Goes on until the descent is over.
fn descended(problem: &Problem<'_>, mut fit: Fit, mut descent: Descent) -> Fit {
    for _ in 0..MOST_STEPS {
        if fit.is_over {
            break;
        }
        problem.step(&mut fit, &mut descent);
    }
    fit
}

/// Goes on until a step brings next to nothing.
pub(super) fn finished(problem: &Problem<'_>, fit: Fit) -> Fit {
    descended(problem, fit, Descent::new())
}

#[cfg(test)]
mod tests {
    use super::super::estimate::patch;
    use super::super::model::dye::DyeBasis;
    use super::super::model::forward::{Ground, stain_shape};
    use super::super::model::hypothesis;
    use super::*;
    use crate::colour::space::PhotoSpace;
    use crate::colour::tone::srgb_encode;
    use crate::indicator::catalogue;

    /// A card and a cup as the model itself sees them in one light, with gains and a tone curve that no fit starts from.
    pub(super) fn seen(problem: &Problem<'_>) -> Measured {
        let (mut shared, mut cup) = (SharedVector::zeros(), LocalVector::zeros());
        (shared[shared::RED], shared[shared::BLUE], shared[shared::TONE_ONE]) = (1.0, -1.2, 0.7);
        (cup[local::LOGIT], cup[local::DOSE]) = (-0.3, 0.4);
        let model = Model::new(problem.hypothesis, &problem.dyes[0], problem.stain, Ground::White, &shared);
        let patch = |surface| patch(surface, model.predict(surface, &cup).value, [0.002; 3]);
        Measured {
            common: vec![patch(Surface::Card(0.18))],
            cups: vec![[Surface::White, Surface::Liquid(0.1), Surface::Liquid(0.4), Surface::Liquid(0.8)].map(patch).to_vec()],
            ..Measured::default()
        }
    }

    // What was computed in one light and before one camera is fitted there at no more than its own cost, and wherever the search begins, it finds the same best.
    #[test]
    fn the_search_finds_its_own_light() {
        let hypotheses = hypothesis::all(&PhotoSpace::srgb(), None);
        let (bases, stain, nothing) = ([DyeBasis::new(catalogue::usual())], stain_shape(), Measured::default());
        let under = |h: usize, measured| Problem { hypothesis: &hypotheses[h], dyes: &bases, stain: &stain, measured, prior: None };
        for truth in [5, 18, 70] {
            let measured = seen(&under(truth, &nothing));
            let problem = |h: usize| Problem { hypothesis: &hypotheses[h], dyes: &bases, stain: &stain, measured: &measured, prior: None };
            let fits = fit_all(&problem, hypotheses.len(), hypotheses.len() / 2, |_| f64::INFINITY);
            let mut tried: Vec<usize> = fits.iter().map(|(h, _)| *h).collect();
            tried.sort_unstable();
            assert!(tried.into_iter().eq(0..hypotheses.len()), "each once");
            let own = fits.iter().find(|(h, _)| *h == truth).map_or(f64::INFINITY, |(_, fit)| fit.cost);
            assert!(fits.is_sorted_by(|a, b| a.1.cost <= b.1.cost));
            let best = fits[0].1.cost;
            // The unknowns are 1.0, -1.2, 0.7, -0.3 and 0.4 from the prior's middle: with no misfit at all the cost is the sum of their squares.
            assert!(own < 1.0 + 1.44 + 0.49 + 0.09 + 0.16, "{truth}: {own}");
            for lead in [0, 50] {
                let other = fit_all(&problem, hypotheses.len(), lead, |first| first + 12.0)[0].1.cost;
                assert!((other - best).abs() < 0.5, "{truth} from {lead}: {other} {best}");
            }
        }
    }

    // A calibration may leave no light in which another dye can be tried.
    #[test]
    fn of_no_hypothesis_there_is_no_fit() {
        assert!(fit_all(&|_| unreachable!("there is none"), 0, 4, |first| first).is_empty());
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
