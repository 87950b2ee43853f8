//! Damped least squares over the shared unknowns and those of every cup.
//!
//! The normal equations have the shape of an arrow: cups meet only through the shared unknowns, so each cup is
//! eliminated on its own (Schur complement) and the cost grows linearly with their number.

use super::Wave;
use super::dye::DyeBasis;
use super::forward::{Model, Surface};
use super::hypothesis::Hypothesis;
use super::parameters::{LOCAL, LocalVector, SHARED, SharedVector, local};
use nalgebra::SMatrix;

type SharedMatrix = SMatrix<f64, SHARED, SHARED>;
type LocalMatrix = SMatrix<f64, LOCAL, LOCAL>;
type CrossMatrix = SMatrix<f64, SHARED, LOCAL>;

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

#[derive(Debug, Clone)]
struct Normal {
    shared: SharedMatrix,
    shared_gradient: SharedVector,
    cups: Vec<(LocalMatrix, CrossMatrix, LocalVector)>,
}

/// Gaussian approximation of the posterior about the best unknowns.
#[derive(Debug, Clone)]
pub struct Laplace {
    /// Log determinant of the Hessian.
    pub log_determinant: f64,
    /// Covariance of each cup's unknowns, shared ones marginalised.
    pub cups: Vec<LocalMatrix>,
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
        let mut shared = SharedMatrix::identity();
        let mut shared_gradient = -unknowns.shared;
        let none = LocalVector::zeros();
        for patch in &self.measured.common {
            cost += accumulate(&model, patch, &none, &mut shared, &mut shared_gradient, None);
        }
        let mut cups = Vec::with_capacity(unknowns.cups.len());
        for (patches, z) in self.measured.cups.iter().zip(&unknowns.cups) {
            cost += z.norm_squared();
            let mut block = (LocalMatrix::identity(), CrossMatrix::zeros(), -*z);
            for patch in patches {
                cost += accumulate(&model, patch, z, &mut shared, &mut shared_gradient, Some(&mut block));
            }
            cups.push(block);
        }
        (cost, Normal { shared, shared_gradient, cups })
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

/// Adds one patch to the normal equations; returns its part of the cost.
fn accumulate(
    model: &Model<'_>,
    patch: &Patch,
    z: &LocalVector,
    shared: &mut SharedMatrix,
    shared_gradient: &mut SharedVector,
    block: Option<&mut (LocalMatrix, CrossMatrix, LocalVector)>,
) -> f64 {
    let predicted = model.predict(patch.surface, z);
    let mut cost = 0.0;
    let mut block = block;
    for c in 0..3 {
        let residual = (patch.value[c] - predicted.value[c]) / patch.sd[c];
        let square = residual * residual;
        cost += (STUDENT + 1.0) * (square / STUDENT).ln_1p();
        let weight = (STUDENT + 1.0) / (STUDENT + square);
        let js = SharedVector::from_row_slice(&predicted.shared[c]) / patch.sd[c];
        let weighted = js * weight;
        shared.ger(1.0, &weighted, &js, 1.0);
        shared_gradient.axpy(residual, &weighted, 1.0);
        if let Some((own, cross, gradient)) = block.as_deref_mut() {
            let jl = LocalVector::from_row_slice(&predicted.local[c]) / patch.sd[c];
            own.ger(weight, &jl, &jl, 1.0);
            cross.ger(1.0, &weighted, &jl, 1.0);
            gradient.axpy(weight * residual, &jl, 1.0);
        }
    }
    cost
}

struct Step {
    shared: SharedVector,
    cups: Vec<LocalVector>,
}

/// A step longer than this many prior standard deviations is shortened: the model is too bent to trust it.
const LONGEST: f64 = 1.5;

impl Normal {
    fn solve(&self, damping: f64) -> Option<Step> {
        let mut complement = self.shared;
        let mut right = self.shared_gradient;
        for i in 0..SHARED {
            complement[(i, i)] += damping * self.shared[(i, i)];
        }
        let mut inverses = Vec::with_capacity(self.cups.len());
        for (own, cross, gradient) in &self.cups {
            let mut damped = *own;
            for i in 0..LOCAL {
                damped[(i, i)] += damping * own[(i, i)];
            }
            let inverse = damped.cholesky()?.inverse();
            let through = cross * inverse;
            complement -= through * cross.transpose();
            right -= through * gradient;
            inverses.push(inverse);
        }
        let shared = complement.cholesky()?.solve(&right);
        let cups: Vec<LocalVector> = self
            .cups
            .iter()
            .zip(&inverses)
            .map(|((_, cross, gradient), inverse)| inverse * (gradient - cross.transpose() * shared))
            .collect();
        let longest = cups.iter().map(nalgebra::Matrix::amax).fold(shared.amax(), f64::max);
        let shorten = if longest > LONGEST { LONGEST / longest } else { 1.0 };
        Some(Step { shared: shared * shorten, cups: cups.into_iter().map(|c| c * shorten).collect() })
    }
}

impl Fit {
    /// Gaussian approximation at the current unknowns; `None` when the Hessian is not positive definite.
    #[must_use]
    pub fn laplace(&self) -> Option<Laplace> {
        let mut complement = self.normal.shared;
        let mut log_determinant = 0.0;
        let mut inverses = Vec::new();
        for (own, cross, _) in &self.normal.cups {
            let factor = own.cholesky()?;
            log_determinant += 2.0 * factor.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
            let inverse = factor.inverse();
            complement -= cross * inverse * cross.transpose();
            inverses.push(inverse);
        }
        let factor = complement.cholesky()?;
        log_determinant += 2.0 * factor.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
        let shared = factor.inverse();
        let cups = self
            .normal
            .cups
            .iter()
            .zip(&inverses)
            .map(|((_, cross, _), inverse)| {
                let through = inverse * cross.transpose();
                inverse + through * shared * through.transpose()
            })
            .collect();
        Some(Laplace { log_determinant, cups })
    }

    /// Base fraction of a cup.
    #[must_use]
    pub fn base_fraction(&self, cup: usize) -> f64 {
        let logit = super::parameters::LOGIT.at(self.unknowns.cups[cup][local::LOGIT]);
        1.0 / (1.0 + (-logit).exp())
    }
}
