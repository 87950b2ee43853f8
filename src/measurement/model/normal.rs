//! The normal equations of a fit, and their solution.
//!
//! They have the shape of an arrow in an arrow: cups of one dye meet only through the shared unknowns, and dyes only through those of
//! the photo. So each cup is eliminated on its own (Schur complement), then each dye, and the cost grows linearly with their number.

use super::fit::{Anchor, Patch, SharedPrior};
use super::forward::{Model, Prediction};
use super::parameters::{
    self as prior, DYE, LOCAL, LOCAL_ROOM, LocalRow, LocalVector, SHARED, SHARED_ROOM, SharedRow, SharedVector, local, shared,
};
use super::symmetric::{Symmetric, add_scaled, add_three_scaled, dot};
use multiversion::multiversion;

/// Degrees of freedom of the Student distribution of residuals: heavy tails for what the model does not know.
const STUDENT: f64 = 6.0;

/// Normal equations.
#[derive(Debug, Clone, Default)]
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
    /// How much the cost falls, if it is as the equations say.
    pub(super) foretold: f64,
    /// False when it was shortened.
    pub(super) is_whole: bool,
}

/// A step longer than this many prior standard deviations is shortened: the model is too bent to trust it.
const LONGEST: f64 = 1.5;

impl Group {
    /// With nothing in it yet.
    pub(super) fn empty() -> Self {
        Group { shared: Symmetric::identity(), gradient: [0.0; SHARED_ROOM] }
    }

    /// The prior alone: the unit normal of the dye's unknowns, and of the photo's where `has_photo`.
    pub(super) fn set_prior(&mut self, has_photo: bool, z: &SharedVector) {
        self.shared.set_identity();
        self.gradient = row(&-*z);
        if !has_photo {
            self.shared.clear_from(DYE);
            self.gradient[DYE..].fill(0.0);
        }
    }

    /// The prior of a calibration alone.
    pub(super) fn set_told(&mut self, prior: &SharedPrior, z: &SharedVector) {
        self.shared = Symmetric::of(&prior.precision);
        self.gradient = row(&(prior.precision * (prior.mean - z)));
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
    /// `room` is to compute in.
    pub(super) fn add(
        &mut self,
        model: &Model<'_>,
        patch: &Patch,
        misfit: f64,
        z: &LocalVector,
        block: Option<&mut Block>,
        room: &mut Prediction,
    ) -> f64 {
        model.predict_into(patch.surface, z, room);
        let predicted = room;
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
        accumulate(self, block, predicted, weights, pulls);
        cost
    }
}

/// Adds the products of the derivatives of one patch.
#[multiversion(targets("x86_64+avx2"))]
fn accumulate(group: &mut Group, block: Option<&mut Block>, predicted: &Prediction, weights: [f64; 3], pulls: [f64; 3]) {
    group.shared.add_products(weights, predicted.shared.each_ref());
    add_three_scaled(&mut group.gradient, pulls, &predicted.shared);
    if let Some(block) = block {
        block.own.add_products(weights, predicted.local.each_ref());
        add_three_scaled(&mut block.gradient, pulls, &predicted.local);
        for (k, cross) in block.cross.iter_mut().enumerate() {
            let [a, b, c] = &predicted.local;
            add_three_scaled(cross, [weights[0] * a[k], weights[1] * b[k], weights[2] * c[k]], &predicted.shared);
        }
    }
}

impl Block {
    /// With nothing in it yet.
    pub(super) fn empty() -> Self {
        Block { dye: 0, own: Symmetric::identity(), cross: [[0.0; SHARED_ROOM]; LOCAL], gradient: [0.0; LOCAL_ROOM] }
    }

    /// The prior of a cup with this dye alone.
    pub(super) fn set_prior(&mut self, dye: usize, z: &LocalVector) {
        self.dye = dye;
        self.own.set_identity();
        self.cross = [[0.0; SHARED_ROOM]; LOCAL];
        self.gradient = row(&-*z);
    }
}

impl Normal {
    /// The step that solves the damped equations, shortened where it is long; `None` when they are not positive definite.
    pub(super) fn solve(&self, damping: f64, reduced: &mut Reduced) -> Option<Step> {
        reduced.set(self, damping)?;
        let mut pull =
            Pull { dyes: self.dyes.iter().map(|dye| dye.gradient).collect(), cups: self.cups.iter().map(|cup| cup.gradient).collect() };
        undo(reduced, &mut pull);
        let shared = pull.dyes.iter().map(|row| SharedVector::from_column_slice(&row[..SHARED]));
        let cups = pull.cups.iter().map(|row| LocalVector::from_column_slice(&row[..LOCAL]));
        let longest = cups.clone().map(|z| z.amax()).chain(shared.clone().map(|z| z.amax())).fold(0.0, f64::max);
        let share = if longest > LONGEST { LONGEST / longest } else { 1.0 };
        let (shared, cups): (Vec<_>, Vec<_>) = (shared.map(|z| z * share).collect(), cups.map(|z| z * share).collect());
        Some(Step { foretold: self.foretell(&shared, &cups, share, damping), is_whole: longest <= LONGEST, shared, cups })
    }

    /// How much the cost would fall if it were as these equations say, after a `share` of the step that solves them with damping.
    fn foretell(&self, shared: &[SharedVector], cups: &[LocalVector], share: f64, damping: f64) -> f64 {
        // The step d is a share s of what solves (H + damping D) x = g, so that 2 g d - d H d is (2 - s) g d + damping d D d. The photo's unknowns
        // stand in the steps of all dyes; each dye has its own part of their equations.
        let (mut along, mut damped) = (0.0, 0.0);
        for (dye, z) in self.dyes.iter().zip(shared) {
            along += dot(&dye.gradient, &row(z));
            damped += dye.shared.diagonal_form(&row(z));
        }
        for (cup, z) in self.cups.iter().zip(cups) {
            along += dot(&cup.gradient, &row(z));
            damped += cup.own.diagonal_form(&row(z));
        }
        (2.0 - share) * along + damping * damped
    }
}

/// The right side of the equations: what pulls at the unknowns, downhill.
struct Pull {
    dyes: Vec<SharedRow>,
    cups: Vec<LocalRow>,
}

/// Normal equations of the shared unknowns alone, the cups' eliminated.
#[derive(Debug, Default)]
pub(super) struct Reduced {
    /// For each dye the factor U of its own and the photo's unknowns, all other dyes eliminated; the photo's rows are the same in all.
    pub(super) dyes: Vec<Symmetric<SHARED_ROOM>>,
    /// Cups with the lower half U' of their own factor undone: U'^-1 cross.
    pub(super) cups: Vec<Eliminated>,
}

/// A cup whose unknowns have been eliminated.
#[derive(Debug)]
pub(super) struct Eliminated {
    pub(super) dye: usize,
    /// The factor U of its own unknowns.
    pub(super) own: Symmetric<LOCAL_ROOM>,
    /// U'^-1 times what it has in common with the shared unknowns.
    pub(super) cross: [SharedRow; LOCAL],
}

impl Eliminated {
    /// With nothing in it yet.
    fn empty() -> Self {
        Eliminated { dye: 0, own: Symmetric::identity(), cross: [[0.0; SHARED_ROOM]; LOCAL] }
    }
}

impl Reduced {
    /// Of these equations with damping; `None` when they are not positive definite.
    pub(super) fn new(normal: &Normal, damping: f64) -> Option<Self> {
        let mut reduced = Reduced::default();
        reduced.set(normal, damping)?;
        Some(reduced)
    }

    /// The same in the place of what was here.
    fn set(&mut self, normal: &Normal, damping: f64) -> Option<()> {
        self.dyes.resize_with(normal.dyes.len(), Symmetric::identity);
        for (dye, group) in self.dyes.iter_mut().zip(&normal.dyes) {
            dye.set_damped(damping, &group.shared);
        }
        self.cups.resize_with(normal.cups.len(), Eliminated::empty);
        for (cup, block) in self.cups.iter_mut().zip(&normal.cups) {
            cup.dye = block.dye;
            cup.own.set_damped(damping, &block.own);
            cup.cross = block.cross;
        }
        eliminate(self)
    }
}

/// Eliminates the unknowns of the cups, then those of the dyes.
#[multiversion(targets("x86_64+avx2"))]
fn eliminate(reduced: &mut Reduced) -> Option<()> {
    for cup in &mut reduced.cups {
        let own = cup.own.factor()?;
        own.solve_lower_rows(&mut cup.cross);
        let [a, b, c, d, e, f] = cup.cross.each_ref();
        let shared = &mut reduced.dyes[cup.dye];
        shared.add_products([-1.0; 3], [a, b, c]);
        shared.add_products([-1.0; 3], [d, e, f]);
    }
    for dye in &mut reduced.dyes {
        dye.eliminate(0..DYE)?;
    }
    // What each dye leaves is joined to the equations of the photo.
    let (first, others) = reduced.dyes.split_first_mut()?;
    for other in others.iter() {
        first.add_from(DYE, other);
    }
    first.eliminate(DYE..SHARED)?;
    for other in others {
        other.copy_from(DYE, first);
    }
    Some(())
}

/// Turns pulls into the step, with the factors of [`eliminate`].
#[multiversion(targets("x86_64+avx2"))]
fn undo(reduced: &Reduced, pull: &mut Pull) {
    for (cup, gradient) in reduced.cups.iter().zip(&mut pull.cups) {
        cup.own.eliminated().solve_lower(gradient);
        for (row, by) in cup.cross.iter().zip(gradient) {
            add_scaled(&mut pull.dyes[cup.dye], -*by, row);
        }
    }
    for (dye, gradient) in reduced.dyes.iter().zip(&mut pull.dyes) {
        dye.solve_lower(0..DYE, gradient);
    }
    let Some((first, others)) = pull.dyes.split_first_mut() else { return };
    for other in others.iter() {
        for (sum, more) in first[DYE..].iter_mut().zip(&other[DYE..]) {
            *sum += more;
        }
    }
    reduced.dyes[0].solve_lower(DYE..SHARED, first);
    for other in others {
        other[DYE..].copy_from_slice(&first[DYE..]);
    }
    for (dye, gradient) in reduced.dyes.iter().zip(&mut pull.dyes) {
        dye.eliminated().solve_upper(gradient);
    }
    for (cup, gradient) in reduced.cups.iter().zip(&mut pull.cups) {
        for (item, row) in gradient.iter_mut().zip(&cup.cross) {
            *item -= dot(row, &pull.dyes[cup.dye]);
        }
        cup.own.eliminated().solve_upper(gradient);
    }
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
