//! The normal equations of a fit, and their solution.
//!
//! They have the shape of an arrow in an arrow: cups of one dye meet only through the shared unknowns, and dyes only through those of
//! the photo. So each cup is eliminated on its own (Schur complement), then each dye, and the cost grows linearly with their number.

use super::fit::{Anchor, Patch, SharedPrior};
use super::forward::Model;
use super::parameters::{self as prior, DYE, LOCAL, LocalVector, SHARED, SharedVector, local, shared};
use super::symmetric::{Factor, Symmetric, add_scaled, dot};

/// Degrees of freedom of the Student distribution of residuals: heavy tails for what the model does not know.
const STUDENT: f64 = 6.0;

/// Normal equations.
#[derive(Debug, Clone)]
pub(super) struct Normal {
    pub(super) dyes: Vec<Group>,
    pub(super) cups: Vec<Block>,
}

/// What the cups of one dye add to the equations of the shared unknowns; the photo's own part stands with the first dye.
#[derive(Debug, Clone)]
pub(super) struct Group {
    pub(super) shared: Symmetric<SHARED>,
    pub(super) gradient: [f64; SHARED],
}

/// The part of the normal equations that concerns one cup.
#[derive(Debug, Clone)]
pub(super) struct Block {
    pub(super) dye: usize,
    pub(super) own: Symmetric<LOCAL>,
    /// By the cup's and the shared unknowns.
    pub(super) cross: [[f64; SHARED]; LOCAL],
    pub(super) gradient: [f64; LOCAL],
}

pub(super) struct Step {
    pub(super) shared: Vec<SharedVector>,
    pub(super) cups: Vec<LocalVector>,
}

/// A step longer than this many prior standard deviations is shortened: the model is too bent to trust it.
const LONGEST: f64 = 1.5;

impl Group {
    /// The prior alone: the unit normal of the dye's unknowns, and of the photo's where `has_photo`.
    pub(super) fn prior(has_photo: bool, z: &SharedVector) -> Self {
        let mut group = Group { shared: Symmetric::identity(), gradient: (-*z).into() };
        if !has_photo {
            group.shared.clear_from(DYE);
            group.gradient[DYE..].fill(0.0);
        }
        group
    }

    /// The prior of a calibration alone.
    pub(super) fn told(prior: &SharedPrior, z: &SharedVector) -> Self {
        Group { shared: Symmetric::of(&prior.precision), gradient: (prior.precision * (prior.mean - z)).into() }
    }

    /// Adds what is known of a cup's pH, in place of the nearly flat prior of its logit; returns the change of the cost.
    pub(super) fn hold(&mut self, anchor: Anchor, pka: f64, z: f64, block: &mut Block) -> f64 {
        let residual = (anchor.logit - anchor.by_pka * pka - prior::LOGIT.at(z)) / anchor.sd;
        let (by_logit, by_pka) = (prior::LOGIT.sd / anchor.sd, anchor.by_pka / anchor.sd);
        block.own.add_item(local::LOGIT, local::LOGIT, by_logit * by_logit - 1.0);
        block.gradient[local::LOGIT] += by_logit * residual + z;
        block.cross[local::LOGIT][shared::PKA] += by_logit * by_pka;
        self.shared.add_item(shared::PKA, shared::PKA, by_pka * by_pka);
        self.gradient[shared::PKA] += by_pka * residual;
        residual * residual - z * z
    }

    /// Adds one patch, of which only a share of the misfit is left, and to the block of its cup; returns its part of the cost.
    pub(super) fn add(&mut self, model: &Model<'_>, patch: &Patch, misfit: f64, z: &LocalVector, block: Option<&mut Block>) -> f64 {
        let predicted = model.predict(patch.surface, z);
        let sd = if misfit < 1.0 { patch.spread(misfit) } else { patch.sd };
        let residuals = [0, 1, 2].map(|c| (patch.value[c] - predicted.value[c]) / sd[c]);
        let squares = residuals.map(|r| r * r);
        // The sum of the channels' logarithms, as the logarithm of their product.
        let mut cost = (STUDENT + 1.0) * squares.iter().map(|square| 1.0 + square / STUDENT).product::<f64>().ln();
        if misfit < 1.0 {
            // A narrower distribution is a higher one; all costs are told against the whole misfit.
            cost += 2.0 * (0..3).map(|c| (sd[c] / patch.sd[c]).ln()).sum::<f64>();
        }
        let robust = squares.map(|square| (STUDENT + 1.0) / (STUDENT + square));
        let weights = [0, 1, 2].map(|c| robust[c] / sd[c].powi(2));
        let pulls = [0, 1, 2].map(|c| robust[c] * residuals[c] / sd[c]);
        self.shared.add_products(weights, predicted.shared.each_ref());
        for (pull, row) in pulls.iter().zip(&predicted.shared) {
            add_scaled(&mut self.gradient, *pull, row);
        }
        if let Some(block) = block {
            block.own.add_products(weights, predicted.local.each_ref());
            for c in 0..3 {
                add_scaled(&mut block.gradient, pulls[c], &predicted.local[c]);
                for (cross, by) in block.cross.iter_mut().zip(&predicted.local[c]) {
                    add_scaled(cross, weights[c] * by, &predicted.shared[c]);
                }
            }
        }
        cost
    }
}

impl Normal {
    /// The step that solves the damped equations, shortened where it is long; `None` when they are not positive definite.
    pub(super) fn solve(&self, damping: f64) -> Option<Step> {
        let mut reduced = Reduced::new(self, damping)?;
        let shared: Vec<[f64; SHARED]> = (reduced.dyes.iter())
            .zip(&reduced.gradients)
            .map(|(dye, gradient)| {
                let mut step = *gradient;
                dye.solve_upper(&mut step);
                step
            })
            .collect();
        let mut cups = Vec::with_capacity(self.cups.len());
        for cup in &mut reduced.cups {
            for (item, row) in cup.gradient.iter_mut().zip(&cup.cross) {
                *item -= dot(row, &shared[cup.dye]);
            }
            cup.own.solve_upper(&mut cup.gradient);
            cups.push(LocalVector::from(cup.gradient));
        }
        let shared: Vec<SharedVector> = shared.into_iter().map(SharedVector::from).collect();
        let longest = cups.iter().map(nalgebra::Matrix::amax).chain(shared.iter().map(nalgebra::Matrix::amax)).fold(0.0, f64::max);
        let shorten = if longest > LONGEST { LONGEST / longest } else { 1.0 };
        Some(Step { shared: shared.into_iter().map(|z| z * shorten).collect(), cups: cups.into_iter().map(|c| c * shorten).collect() })
    }
}

/// Normal equations of the shared unknowns alone, the cups' eliminated.
pub(super) struct Reduced {
    /// For each dye the factor U of its own and the photo's unknowns, all other dyes eliminated; the photo's rows are the same in all.
    pub(super) dyes: Vec<Factor<SHARED>>,
    /// U'^-1 times the gradient.
    pub(super) gradients: Vec<[f64; SHARED]>,
    pub(super) cups: Vec<Eliminated>,
}

/// A cup's block with the lower half U' of its factor undone: U'^-1 cross and U'^-1 gradient.
pub(super) struct Eliminated {
    pub(super) dye: usize,
    pub(super) own: Factor<LOCAL>,
    pub(super) cross: [[f64; SHARED]; LOCAL],
    pub(super) gradient: [f64; LOCAL],
}

impl Reduced {
    pub(super) fn new(normal: &Normal, damping: f64) -> Option<Self> {
        let mut groups = normal.dyes.clone();
        for (group, own) in groups.iter_mut().zip(&normal.dyes) {
            group.shared.damp(damping, &own.shared);
        }
        let mut cups = Vec::with_capacity(normal.cups.len());
        for block in &normal.cups {
            let mut own = block.own.clone();
            own.damp(damping, &block.own);
            let mut cup = Eliminated { dye: block.dye, own: own.factor()?, cross: block.cross, gradient: block.gradient };
            cup.own.solve_lower_rows(&mut cup.cross);
            cup.own.solve_lower(&mut cup.gradient);
            let [a, b, c, d, e, f] = cup.cross.each_ref();
            let group = &mut groups[cup.dye];
            group.shared.add_products([-1.0; 3], [a, b, c]);
            group.shared.add_products([-1.0; 3], [d, e, f]);
            for (row, by) in cup.cross.iter().zip(cup.gradient) {
                add_scaled(&mut group.gradient, -by, row);
            }
            cups.push(cup);
        }
        let (dyes, gradients) = meet(groups)?;
        Some(Reduced { dyes, gradients, cups })
    }
}

/// Eliminates the dyes' own unknowns and joins what each leaves to those of the photo.
fn meet(mut groups: Vec<Group>) -> Option<(Vec<Factor<SHARED>>, Vec<[f64; SHARED]>)> {
    for group in &mut groups {
        group.shared.eliminate(0..DYE)?;
        group.shared.solve_lower(0..DYE, &mut group.gradient);
    }
    let (first, others) = groups.split_first_mut()?;
    for other in others.iter() {
        first.shared.add_from(DYE, &other.shared);
        for (sum, more) in first.gradient[DYE..].iter_mut().zip(&other.gradient[DYE..]) {
            *sum += more;
        }
    }
    first.shared.eliminate(DYE..SHARED)?;
    first.shared.solve_lower(DYE..SHARED, &mut first.gradient);
    for other in others {
        other.shared.copy_from(DYE, &first.shared);
        other.gradient[DYE..].copy_from_slice(&first.gradient[DYE..]);
    }
    Some(groups.into_iter().map(|group| (group.shared.eliminated(), group.gradient)).unzip())
}

/// One unknown alone.
pub(super) fn unit(k: usize) -> [f64; SHARED] {
    let mut unit = [0.0; SHARED];
    unit[k] = 1.0;
    unit
}
