//! The normal equations of a fit, and their solution.
//!
//! They have the shape of an arrow in an arrow: cups of one dye meet only through the shared unknowns, and dyes only through those of
//! the photo. So each cup is eliminated on its own (Schur complement), then each dye, and the cost grows linearly with their number.

use super::fit::{Anchor, Patch, SharedPrior};
use super::forward::{Model, Prediction};
use super::parameters::{
    self as prior, DYE, LOCAL, LOCAL_ROOM, LocalRow, LocalVector, SHARED, SHARED_ROOM, SharedRow, SharedVector, local, shared,
};
use super::symmetric::{Symmetric, add_scaled, dot};
use multiversion::multiversion;

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
    pub(super) shared: Symmetric<SHARED_ROOM>,
    pub(super) gradient: SharedRow,
}

/// The part of the normal equations that concerns one cup.
#[derive(Debug, Clone)]
pub(super) struct Block {
    pub(super) dye: usize,
    pub(super) own: Symmetric<LOCAL_ROOM>,
    /// By the cup's and the shared unknowns.
    pub(super) cross: [SharedRow; LOCAL],
    pub(super) gradient: LocalRow,
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
        let mut group = Group { shared: Symmetric::identity(), gradient: row(&-*z) };
        if !has_photo {
            group.shared.clear_from(DYE);
            group.gradient[DYE..].fill(0.0);
        }
        group
    }

    /// The prior of a calibration alone.
    pub(super) fn told(prior: &SharedPrior, z: &SharedVector) -> Self {
        Group { shared: Symmetric::of(&prior.precision), gradient: row(&(prior.precision * (prior.mean - z))) }
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
        accumulate(self, block, &predicted, weights, pulls);
        cost
    }
}

/// Adds the products of the derivatives of one patch.
#[multiversion(targets("x86_64+avx2"))]
fn accumulate(group: &mut Group, block: Option<&mut Block>, predicted: &Prediction, weights: [f64; 3], pulls: [f64; 3]) {
    group.shared.add_products(weights, predicted.shared.each_ref());
    for (pull, row) in pulls.iter().zip(&predicted.shared) {
        add_scaled(&mut group.gradient, *pull, row);
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
}

impl Normal {
    /// The step that solves the damped equations, shortened where it is long; `None` when they are not positive definite.
    pub(super) fn solve(&self, damping: f64) -> Option<Step> {
        let mut reduced = Reduced::new(self, damping)?;
        let shared: Vec<SharedRow> = (reduced.dyes.iter())
            .map(|dye| {
                let mut step = dye.gradient;
                dye.shared.eliminated().solve_upper(&mut step);
                step
            })
            .collect();
        let mut cups = Vec::with_capacity(self.cups.len());
        for cup in &mut reduced.cups {
            for (item, row) in cup.gradient.iter_mut().zip(&cup.cross) {
                *item -= dot(row, &shared[cup.dye]);
            }
            cup.own.eliminated().solve_upper(&mut cup.gradient);
            cups.push(LocalVector::from_column_slice(&cup.gradient[..LOCAL]));
        }
        let shared: Vec<SharedVector> = shared.iter().map(|row| SharedVector::from_column_slice(&row[..SHARED])).collect();
        let longest = cups.iter().map(nalgebra::Matrix::amax).chain(shared.iter().map(nalgebra::Matrix::amax)).fold(0.0, f64::max);
        let shorten = if longest > LONGEST { LONGEST / longest } else { 1.0 };
        Some(Step { shared: shared.into_iter().map(|z| z * shorten).collect(), cups: cups.into_iter().map(|c| c * shorten).collect() })
    }
}

/// Normal equations of the shared unknowns alone, the cups' eliminated.
pub(super) struct Reduced {
    /// For each dye the factor U of its own and the photo's unknowns, all other dyes eliminated, and U'^-1 times the gradient; the
    /// photo's rows are the same in all.
    pub(super) dyes: Vec<Group>,
    /// Cups with the lower half U' of their own factor undone: U'^-1 cross and U'^-1 gradient.
    pub(super) cups: Vec<Block>,
}

impl Reduced {
    pub(super) fn new(normal: &Normal, damping: f64) -> Option<Self> {
        let mut reduced = Reduced { dyes: normal.dyes.clone(), cups: normal.cups.clone() };
        for (group, own) in reduced.dyes.iter_mut().zip(&normal.dyes) {
            group.shared.damp(damping, &own.shared);
        }
        for (cup, block) in reduced.cups.iter_mut().zip(&normal.cups) {
            cup.own.damp(damping, &block.own);
        }
        eliminate(&mut reduced)?;
        Some(reduced)
    }
}

/// Eliminates the unknowns of the cups, then those of the dyes.
#[multiversion(targets("x86_64+avx2"))]
fn eliminate(reduced: &mut Reduced) -> Option<()> {
    for cup in &mut reduced.cups {
        let own = cup.own.factor()?;
        own.solve_lower_rows(&mut cup.cross);
        own.solve_lower(&mut cup.gradient);
        let [a, b, c, d, e, f] = cup.cross.each_ref();
        let group = &mut reduced.dyes[cup.dye];
        group.shared.add_products([-1.0; 3], [a, b, c]);
        group.shared.add_products([-1.0; 3], [d, e, f]);
        for (row, by) in cup.cross.iter().zip(cup.gradient) {
            add_scaled(&mut group.gradient, -by, row);
        }
    }
    meet(&mut reduced.dyes)
}

/// Eliminates the dyes' own unknowns and joins what each leaves to those of the photo.
#[inline(always)]
fn meet(groups: &mut [Group]) -> Option<()> {
    for group in groups.iter_mut() {
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
    Some(())
}

/// A vector with room at its end.
pub(super) fn row<const N: usize, const ROOM: usize>(z: &nalgebra::SVector<f64, N>) -> [f64; ROOM] {
    let mut row = [0.0; ROOM];
    row[..N].copy_from_slice(z.as_slice());
    row
}

/// One unknown alone.
pub(super) fn unit(k: usize) -> SharedRow {
    let mut unit = [0.0; SHARED_ROOM];
    unit[k] = 1.0;
    unit
}
