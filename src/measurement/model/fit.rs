//! Damped least squares over the shared unknowns and those of every cup.
//!
//! The normal equations have the shape of an arrow: cups meet only through the shared unknowns, so each cup is
//! eliminated on its own (Schur complement) and the cost grows linearly with their number.

use super::Wave;
use super::dye::DyeBasis;
use super::forward::{Model, Surface};
use super::hypothesis::Hypothesis;
use super::parameters::{LOCAL, LocalVector, SHARED, SharedVector, local};
use super::symmetric::{Factor, Symmetric, add_scaled, dot};

/// One measured area of the photo.
#[derive(Debug, Clone, Copy)]
pub struct Patch {
    /// What it shows.
    pub surface: Surface,
    /// Encoded R, G, B.
    pub value: [f64; 3],
    /// Standard uncertainty of each, misfit of the model included.
    pub sd: [f64; 3],
}

/// Everything measured of one photo.
#[derive(Debug, Clone, Default)]
pub struct Measured {
    /// The card and other patches that belong to no cup.
    pub common: Vec<Patch>,
    /// Patches of each cup.
    pub cups: Vec<Vec<Patch>>,
}

/// Unknowns of a photo.
#[derive(Debug, Clone)]
pub struct Unknowns {
    /// Shared by all cups.
    pub shared: SharedVector,
    /// Of each cup.
    pub cups: Vec<LocalVector>,
}

/// Degrees of freedom of the Student distribution of residuals: heavy tails for what the model does not know.
const STUDENT: f64 = 6.0;

/// State of a fit under one hypothesis.
#[derive(Debug, Clone)]
pub struct Fit {
    /// Best unknowns so far.
    pub unknowns: Unknowns,
    /// Robust misfit plus prior, twice the negative log of the posterior up to a constant.
    pub cost: f64,
    normal: Normal,
    damping: f64,
    /// True once a step brings next to nothing.
    pub converged: bool,
}

/// Normal equations.
#[derive(Debug, Clone)]
struct Normal {
    shared: Symmetric<SHARED>,
    gradient: [f64; SHARED],
    cups: Vec<Block>,
}

/// The part of the normal equations that concerns one cup.
#[derive(Debug, Clone)]
struct Block {
    own: Symmetric<LOCAL>,
    /// By the cup's and the shared unknowns.
    cross: [[f64; SHARED]; LOCAL],
    gradient: [f64; LOCAL],
}

/// Gaussian approximation of the posterior about the best unknowns.
#[derive(Debug, Clone)]
pub struct Laplace {
    /// Log determinant of the Hessian.
    pub log_determinant: f64,
    /// Variance of each cup's logit in squared prior standard deviations, all other unknowns marginalised.
    pub logit_variances: Vec<f64>,
}

/// What a fit needs to know beside its unknowns.
#[derive(Debug, Clone, Copy)]
pub struct Problem<'a> {
    /// Light and camera.
    pub hypothesis: &'a Hypothesis,
    /// The dye.
    pub basis: &'a DyeBasis,
    /// Shape of brown stain.
    pub stain: &'a Wave,
    /// The measured patches.
    pub measured: &'a Measured,
}

impl Problem<'_> {
    /// Starts a fit at `unknowns`.
    #[must_use]
    pub fn start(&self, unknowns: Unknowns) -> Fit {
        let (cost, normal) = self.evaluate(&unknowns);
        Fit { unknowns, cost, normal, damping: 0.03, converged: false }
    }

    /// Cost and normal equations at `unknowns`.
    fn evaluate(&self, unknowns: &Unknowns) -> (f64, Normal) {
        let model = Model::new(self.hypothesis, self.basis, self.stain, &unknowns.shared);
        let mut cost = unknowns.shared.norm_squared();
        let mut normal =
            Normal { shared: Symmetric::identity(), gradient: (-unknowns.shared).into(), cups: Vec::with_capacity(unknowns.cups.len()) };
        let none = LocalVector::zeros();
        for patch in &self.measured.common {
            cost += normal.add(&model, patch, &none, None);
        }
        for (patches, z) in self.measured.cups.iter().zip(&unknowns.cups) {
            cost += z.norm_squared();
            let mut block = Block { own: Symmetric::identity(), cross: [[0.0; SHARED]; LOCAL], gradient: (-*z).into() };
            for patch in patches {
                cost += normal.add(&model, patch, z, Some(&mut block));
            }
            normal.cups.push(block);
        }
        (cost, normal)
    }

    /// One damped step; keeps the old unknowns when the new ones are worse.
    pub fn step(&self, fit: &mut Fit) {
        for _ in 0..4 {
            let Some(step) = fit.normal.solve(fit.damping) else {
                fit.damping = fit.damping.max(1e-3) * 8.0;
                continue;
            };
            let trial = Unknowns {
                shared: fit.unknowns.shared + step.shared,
                cups: fit.unknowns.cups.iter().zip(&step.cups).map(|(z, d)| z + d).collect(),
            };
            let (cost, normal) = self.evaluate(&trial);
            if cost.is_finite() && cost < fit.cost {
                fit.converged = fit.cost - cost < 0.02;
                *fit = Fit { unknowns: trial, cost, normal, damping: (fit.damping * 0.25).max(1e-6), converged: fit.converged };
                return;
            }
            fit.damping = fit.damping.max(1e-3) * 8.0;
        }
        fit.converged = true;
    }

    /// Root mean square of a cup's residuals in units of their uncertainty.
    #[must_use]
    pub fn cup_misfit(&self, unknowns: &Unknowns, cup: usize) -> f64 {
        let model = Model::new(self.hypothesis, self.basis, self.stain, &unknowns.shared);
        let (mut sum, mut count) = (0.0, 0.0);
        for patch in &self.measured.cups[cup] {
            let predicted = model.predict(patch.surface, &unknowns.cups[cup]);
            for c in 0..3 {
                sum += ((patch.value[c] - predicted.value[c]) / patch.sd[c]).powi(2);
                count += 1.0;
            }
        }
        (sum / count).sqrt()
    }
}

struct Step {
    shared: SharedVector,
    cups: Vec<LocalVector>,
}

/// A step longer than this many prior standard deviations is shortened: the model is too bent to trust it.
const LONGEST: f64 = 1.5;

impl Normal {
    /// Adds one patch, and to the block of its cup; returns its part of the cost.
    fn add(&mut self, model: &Model<'_>, patch: &Patch, z: &LocalVector, block: Option<&mut Block>) -> f64 {
        let predicted = model.predict(patch.surface, z);
        let residuals = [0, 1, 2].map(|c| (patch.value[c] - predicted.value[c]) / patch.sd[c]);
        let squares = residuals.map(|r| r * r);
        // The sum of the channels' logarithms, as the logarithm of their product.
        let cost = (STUDENT + 1.0) * squares.iter().map(|square| 1.0 + square / STUDENT).product::<f64>().ln();
        let robust = squares.map(|square| (STUDENT + 1.0) / (STUDENT + square));
        let weights = [0, 1, 2].map(|c| robust[c] / patch.sd[c].powi(2));
        let pulls = [0, 1, 2].map(|c| robust[c] * residuals[c] / patch.sd[c]);
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

    /// The step that solves the damped equations, shortened where it is long; `None` when they are not positive definite.
    fn solve(&self, damping: f64) -> Option<Step> {
        let mut reduced = Reduced::new(self, damping)?;
        reduced.shared.solve_lower(&mut reduced.gradient);
        reduced.shared.solve_upper(&mut reduced.gradient);
        let shared = reduced.gradient;
        let mut cups = Vec::with_capacity(self.cups.len());
        for cup in &mut reduced.cups {
            for (item, row) in cup.gradient.iter_mut().zip(&cup.cross) {
                *item -= dot(row, &shared);
            }
            cup.own.solve_upper(&mut cup.gradient);
            cups.push(LocalVector::from(cup.gradient));
        }
        let shared = SharedVector::from(shared);
        let longest = cups.iter().map(nalgebra::Matrix::amax).fold(shared.amax(), f64::max);
        let shorten = if longest > LONGEST { LONGEST / longest } else { 1.0 };
        Some(Step { shared: shared * shorten, cups: cups.into_iter().map(|c| c * shorten).collect() })
    }
}

/// Normal equations of the shared unknowns alone, the cups' eliminated.
struct Reduced {
    shared: Factor<SHARED>,
    gradient: [f64; SHARED],
    cups: Vec<Eliminated>,
}

/// A cup's block with the lower half U' of its factor undone: U'^-1 cross and U'^-1 gradient.
struct Eliminated {
    own: Factor<LOCAL>,
    cross: [[f64; SHARED]; LOCAL],
    gradient: [f64; LOCAL],
}

impl Reduced {
    fn new(normal: &Normal, damping: f64) -> Option<Self> {
        let (mut shared, mut gradient) = (normal.shared.clone(), normal.gradient);
        shared.damp(damping, &normal.shared);
        let mut cups = Vec::with_capacity(normal.cups.len());
        for block in &normal.cups {
            let mut own = block.own.clone();
            own.damp(damping, &block.own);
            let mut cup = Eliminated { own: own.factor()?, cross: block.cross, gradient: block.gradient };
            cup.own.solve_lower_rows(&mut cup.cross);
            cup.own.solve_lower(&mut cup.gradient);
            let [a, b, c, d, e, f] = cup.cross.each_ref();
            shared.add_products([-1.0; 3], [a, b, c]);
            shared.add_products([-1.0; 3], [d, e, f]);
            for (row, by) in cup.cross.iter().zip(cup.gradient) {
                add_scaled(&mut gradient, -by, row);
            }
            cups.push(cup);
        }
        Some(Reduced { shared: shared.factor()?, gradient, cups })
    }
}

impl Fit {
    /// Gaussian approximation at the current unknowns; `None` when the Hessian is not positive definite.
    #[must_use]
    pub fn laplace(&self) -> Option<Laplace> {
        let reduced = Reduced::new(&self.normal, 0.0)?;
        let own: f64 = reduced.cups.iter().map(|cup| cup.own.log_determinant()).sum();
        let logit_variances = reduced
            .cups
            .iter()
            .map(|cup| {
                // With all other unknowns of the cup eliminated, the logit follows the shared unknowns along `along`.
                let mut along_own = [0.0; LOCAL];
                along_own[local::LOGIT] = 1.0;
                cup.own.solve_lower(&mut along_own);
                let mut along = [0.0; SHARED];
                for (row, by) in cup.cross.iter().zip(along_own) {
                    add_scaled(&mut along, by, row);
                }
                reduced.shared.solve_lower(&mut along);
                dot(&along_own, &along_own) + dot(&along, &along)
            })
            .collect();
        Some(Laplace { log_determinant: own + reduced.shared.log_determinant(), logit_variances })
    }

    /// Base fraction of a cup.
    #[must_use]
    pub fn base_fraction(&self, cup: usize) -> f64 {
        let logit = super::parameters::LOGIT.at(self.unknowns.cups[cup][local::LOGIT]);
        1.0 / (1.0 + (-logit).exp())
    }
}
