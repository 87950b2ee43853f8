//! Damped least squares over the shared unknowns and those of every cup.
//!
//! The equations and their solution are in `normal`.

use super::Wave;
use super::dye::DyeBasis;
use super::forward::{Ground, Model, Prediction, Surface};
use super::hypothesis::Hypothesis;
use super::normal::{Block, Group, Normal, Reduced, Step, unit};
use super::parameters::{
    self as prior, DYE, LOCAL, LOCAL_ROOM, LocalVector, SHARED, SHARED_ROOM, SharedMatrix, SharedRow, SharedVector, local, shared,
};
use super::symmetric::{add_scaled, dot};

/// One measured area of the photo.
#[derive(Debug, Clone, Copy)]
pub struct Patch {
    /// What it shows.
    pub surface: Surface,
    /// Encoded R, G, B.
    pub value: [f64; 3],
    /// Standard uncertainty of each, misfit of the model included.
    pub sd: [f64; 3],
    /// How much of that is misfit of the model.
    pub misfit: f64,
}

impl Patch {
    /// Uncertainty of each channel where only this share of the misfit is left.
    pub(super) fn spread(&self, share: f64) -> [f64; 3] {
        let less = self.misfit * self.misfit * (1.0 - share * share);
        // The pixel noise that is stored may be nothing.
        self.sd.map(|sd| (sd * sd - less).max(LEAST_SPREAD * LEAST_SPREAD).sqrt())
    }
}

/// Uncertainty of an encoded value at least: a quarter of the step of 8 bits, about its standard deviation by rounding.
const LEAST_SPREAD: f64 = 0.25 / 255.0;

/// What is known of a cup's pH: its logit is `logit` less `by_pka` times the unknown [`shared::PKA`], within `sd`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Anchor {
    /// Natural logit of the base fraction with the table's pKa'.
    pub logit: f64,
    /// How much it falls for each standard uncertainty of pKa'.
    pub by_pka: f64,
    /// Standard uncertainty of the pH, as a natural logit.
    pub sd: f64,
}

impl Anchor {
    /// Of a cup of this pH, known to `sd`, with a dye of this pKa' that the table knows to `pka_sd`.
    #[must_use]
    pub fn new(ph: f64, sd: f64, pka: f64, pka_sd: f64) -> Self {
        Anchor { logit: std::f64::consts::LN_10 * (ph - pka), by_pka: std::f64::consts::LN_10 * pka_sd, sd: std::f64::consts::LN_10 * sd }
    }
}

/// What is believed of the shared unknowns before the photo is looked at: a Gaussian.
#[derive(Debug, Clone)]
pub struct SharedPrior {
    /// Most probable values.
    pub mean: SharedVector,
    /// Inverse of the covariance.
    pub precision: SharedMatrix,
    /// Log determinant of `precision`.
    pub log_determinant: f64,
    /// Cost of the hypothesis itself: twice the negative log of its probability.
    pub offset: f64,
    /// Share of the usual misfit that this light and camera leave, and of the usual difference between cups; above 0 and at most 1.
    pub misfit: f64,
}

impl SharedPrior {
    /// From mean and covariance; `None` when the covariance is none.
    #[must_use]
    pub fn new(mean: SharedVector, covariance: &SharedMatrix, offset: f64) -> Option<Self> {
        let factor = covariance.cholesky()?;
        let log_determinant = -2.0 * factor.l_dirty().diagonal().iter().map(|d| d.ln()).sum::<f64>();
        Some(SharedPrior { mean, precision: factor.inverse(), log_determinant, offset, misfit: 1.0 })
    }

    /// What it says of light, camera and cups alone, the dye being as nobody has measured it; `None` when the precision is none.
    #[must_use]
    pub fn without_dye(&self) -> Option<Self> {
        let mut covariance = self.precision.cholesky()?.inverse();
        let mut mean = self.mean;
        prior::forget(&mut mean, &mut covariance, 0..DYE);
        Some(SharedPrior::new(mean, &covariance, self.offset)?.with_misfit(self.misfit))
    }

    /// The same where this share of the usual misfit is left.
    #[must_use]
    pub fn with_misfit(self, misfit: f64) -> Self {
        SharedPrior { misfit, ..self }
    }

    /// How far unknowns are from it: squared distance in its own standard deviations.
    #[must_use]
    pub fn distance(&self, z: &SharedVector) -> f64 {
        let off = z - self.mean;
        off.dot(&(self.precision * off))
    }
}

/// Everything measured of one photo.
#[derive(Debug, Clone, Default)]
pub struct Measured {
    /// The card and other patches that belong to no cup.
    pub common: Vec<Patch>,
    /// Patches of each cup.
    pub cups: Vec<Vec<Patch>>,
    /// Which of the problem's dyes each cup holds; cups beyond the end hold the first.
    pub dyes: Vec<usize>,
    /// What lies under the liquids.
    pub ground: Ground,
    /// What is known of the pH of each cup; nothing of cups beyond the end.
    pub anchors: Vec<Option<Anchor>>,
}

impl Measured {
    /// What is known of a cup's pH.
    #[must_use]
    pub fn anchor(&self, cup: usize) -> Option<Anchor> {
        self.anchors.get(cup).copied().flatten()
    }

    /// Which of the problem's dyes a cup holds.
    #[must_use]
    pub fn dye(&self, cup: usize) -> usize {
        self.dyes.get(cup).copied().unwrap_or(0)
    }
}

/// Unknowns of a photo.
#[derive(Debug, Clone)]
pub struct Unknowns {
    /// Shared by the cups of a dye, for each dye; all hold the same values from [`DYE`] on, those of the photo.
    pub shared: Vec<SharedVector>,
    /// Of each cup.
    pub cups: Vec<LocalVector>,
}

impl Unknowns {
    /// Whether no unknown differs by this many prior standard deviations or more.
    #[must_use]
    pub fn is_near(&self, other: &Unknowns, within: f64) -> bool {
        let near = |(a, b): (&SharedVector, &SharedVector)| (a - b).amax() < within;
        self.shared.iter().zip(&other.shared).all(near) && self.cups.iter().zip(&other.cups).all(|(a, b)| (a - b).amax() < within)
    }

    fn moved(&self, step: &Step) -> Self {
        Unknowns {
            shared: self.shared.iter().zip(&step.shared).map(|(z, d)| z + d).collect(),
            cups: self.cups.iter().zip(&step.cups).map(|(z, d)| z + d).collect(),
        }
    }

    /// Sum of squares of the shared unknowns: how far light, camera and dyes had to be bent, in prior standard deviations.
    #[must_use]
    pub fn bend(&self) -> f64 {
        let dyes: f64 = self.shared.iter().map(|z| z.rows(0, DYE).norm_squared()).sum();
        dyes + self.shared.first().map_or(0.0, |z| z.rows(DYE, SHARED - DYE).norm_squared())
    }
}

/// State of a fit under one hypothesis.
#[derive(Debug, Clone)]
pub struct Fit {
    /// Best unknowns so far.
    pub unknowns: Unknowns,
    /// Robust misfit plus prior, twice the negative log of the posterior up to a constant.
    pub cost: f64,
    normal: Normal,
    damping: f64,
    /// True once no step is worth while any more: it would bring next to nothing, or the fit would hardly come below the limit of its descent.
    pub is_over: bool,
}

/// What is kept from one step of a fit to the next: how low it has to come, and room to compute in.
#[derive(Debug)]
pub struct Descent {
    limit: f64,
    is_begun: bool,
    trial: Normal,
    reduced: Reduced,
}

impl Descent {
    /// To wherever it leads.
    #[must_use]
    pub fn new() -> Self {
        Self::below(f64::INFINITY)
    }

    /// Given up when the cost will hardly come below `limit`.
    #[must_use]
    pub fn below(limit: f64) -> Self {
        Descent { limit, is_begun: false, trial: Normal::default(), reduced: Reduced::default() }
    }

    /// Whether a cost that may still fall by `reach` stays above the limit.
    fn is_out_of_reach(&self, cost: f64, reach: f64) -> bool {
        cost - self.limit > reach
    }
}

impl Default for Descent {
    fn default() -> Self {
        Self::new()
    }
}

/// Damping that fits begin with: of what a step may bring it leaves a thousandth.
const DAMPING: f64 = 0.03;
/// A step that brings less than this in cost is next to nothing; so is a difference between what a whole and hardly damped step brought and what
/// the equations foretold of it: then the model is straight here, and no more is to come.
const NOTHING: f64 = 0.02;
/// A fit is given up that is further above its limit than this many times what its last step brought.
const REACH: f64 = 4.0;
/// The same for what is foretold of the first step, and of the next ones. Outliers count little in the equations, so that far from its end a fit does better
/// than foretold. All were set on rendered photos with 315 wrong dyes named: of these 231 are found out, and 237 by fits that are given up at 20 times only.
const REACH_FORETOLD: (f64, f64) = (8.0, 5.0);

/// Gaussian approximation of the posterior about the best unknowns.
#[derive(Debug, Clone)]
pub struct Laplace {
    /// Log determinant of the Hessian.
    pub log_determinant: f64,
    /// Variance of each cup's logit in squared prior standard deviations, all other unknowns marginalised.
    pub logit_variances: Vec<f64>,
    /// How each cup's logit follows the shared unknowns, in coordinates in which these are independent and of unit variance.
    along: Vec<SharedRow>,
    /// How the pKa' of each dye does.
    pka_along: Vec<SharedRow>,
    dyes: Vec<usize>,
}

impl Laplace {
    /// Variance of the unknown [`shared::PKA`] of a cup's dye.
    #[must_use]
    pub fn pka_variance(&self, cup: usize) -> f64 {
        let along = &self.pka_along[self.dyes[cup]];
        dot(along, along)
    }

    /// Covariance of a cup's logit with the unknown [`shared::PKA`] of its dye, in prior standard deviations of either.
    #[must_use]
    pub fn logit_pka_covariance(&self, cup: usize) -> f64 {
        -dot(&self.along[cup], &self.pka_along[self.dyes[cup]])
    }

    /// Covariance of the logits of two cups in squared prior standard deviations; the variance for a cup with itself.
    #[must_use]
    pub fn logit_covariance(&self, one: usize, other: usize) -> f64 {
        if one == other {
            return self.logit_variances[one];
        }
        let (one_dye, one_photo) = self.along[one].split_at(DYE);
        let (other_dye, other_photo) = self.along[other].split_at(DYE);
        let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let alike = if self.dyes[one] == self.dyes[other] { 1.0 } else { ALIKE };
        alike * product(one_dye, other_dye) + product(one_photo, other_photo)
    }
}

/// Correlation of the errors of two dyes' spectra: the shapes of all dyes come from the same two measured ones, so that what is wrong
/// with one is half likely to be wrong with the next.
const ALIKE: f64 = 0.5;

/// What a fit needs to know beside its unknowns.
#[derive(Debug, Clone, Copy)]
pub struct Problem<'a> {
    /// Light and camera.
    pub hypothesis: &'a Hypothesis,
    /// The dyes, at least one.
    pub dyes: &'a [DyeBasis],
    /// Shape of brown stain.
    pub stain: &'a Wave,
    /// The measured patches.
    pub measured: &'a Measured,
    /// What a calibration says of the shared unknowns of the first dye and the photo; the unit normal when absent.
    pub prior: Option<&'a SharedPrior>,
}

impl Problem<'_> {
    /// How far light, camera and dyes had to be bent from what was believed of them, as a sum of squared standard deviations.
    #[must_use]
    pub fn bend(&self, unknowns: &Unknowns) -> f64 {
        let Some(prior) = self.prior else { return unknowns.bend() };
        let others: f64 = unknowns.shared.iter().skip(1).map(|z| z.rows(0, DYE).norm_squared()).sum();
        unknowns.shared.first().map_or(0.0, |z| prior.distance(z)) + others
    }

    /// The same for one dye with the photo's unknowns.
    #[must_use]
    pub fn bend_of(&self, unknowns: &Unknowns, dye: usize) -> f64 {
        let z = &unknowns.shared[dye];
        self.prior.filter(|_| dye == 0).map_or_else(|| z.norm_squared(), |prior| prior.distance(z))
    }

    /// Starts a fit at `unknowns`.
    #[must_use]
    pub fn start(&self, unknowns: Unknowns) -> Fit {
        let mut normal = Normal::default();
        let cost = self.evaluate(&unknowns, &mut normal);
        Fit { unknowns, cost, normal, damping: DAMPING, is_over: false }
    }

    /// The model of each dye.
    fn models(&self, unknowns: &Unknowns) -> Vec<Model<'_>> {
        self.dyes.iter().zip(&unknowns.shared).map(|(dye, z)| self.model(dye, z)).collect()
    }

    fn model<'b>(&'b self, dye: &'b DyeBasis, z: &SharedVector) -> Model<'b> {
        Model::new(self.hypothesis, dye, self.stain, self.measured.ground, z).with_cups_unlike(self.misfit())
    }

    fn misfit(&self) -> f64 {
        self.prior.map_or(1.0, |prior| prior.misfit)
    }

    /// Cost at `unknowns`; `normal` becomes the normal equations there.
    fn evaluate(&self, unknowns: &Unknowns, normal: &mut Normal) -> f64 {
        let models = self.models(unknowns);
        let mut cost = self.bend(unknowns) + self.prior.map_or(0.0, |prior| prior.offset);
        normal.dyes.resize_with(unknowns.shared.len(), Group::empty);
        for (k, (group, z)) in normal.dyes.iter_mut().zip(&unknowns.shared).enumerate() {
            match self.prior {
                Some(prior) if k == 0 => group.set_told(prior, z),
                _ => group.set_prior(k == 0, z),
            }
        }
        normal.cups.resize_with(unknowns.cups.len(), Block::empty);
        let (none, mut room) = (LocalVector::zeros(), Prediction::NONE);
        let misfit = self.misfit();
        for patch in &self.measured.common {
            cost += normal.dyes[0].add(&models[0], patch, misfit, &none, None, &mut room);
        }
        let Normal { dyes, cups } = normal;
        for (k, ((patches, z), block)) in self.measured.cups.iter().zip(&unknowns.cups).zip(cups).enumerate() {
            let dye = self.measured.dye(k);
            cost += z.norm_squared();
            block.set_prior(dye, z);
            if let Some(anchor) = self.measured.anchor(k) {
                cost += dyes[dye].hold(anchor, unknowns.shared[dye][shared::PKA], z[local::LOGIT], block);
            }
            for patch in patches {
                cost += dyes[dye].add(&models[dye], patch, misfit, z, Some(block), &mut room);
            }
        }
        cost
    }

    /// One damped step; keeps the old unknowns when the new ones are worse. Tells when the fit is over, be it before the step or after it.
    pub fn step(&self, fit: &mut Fit, descent: &mut Descent) {
        let times = if descent.is_begun { REACH_FORETOLD.1 } else { REACH_FORETOLD.0 };
        descent.is_begun = true;
        for _ in 0..4 {
            let Some(step) = fit.normal.solve(fit.damping, &mut descent.reduced) else {
                fit.damping = fit.damping.max(1e-3) * 8.0;
                continue;
            };
            if step.foretold < NOTHING || descent.is_out_of_reach(fit.cost - step.foretold, times * step.foretold) {
                break;
            }
            let trial = fit.unknowns.moved(&step);
            let cost = self.evaluate(&trial, &mut descent.trial);
            if cost.is_finite() && cost < fit.cost {
                let gain = fit.cost - cost;
                let is_straight = step.is_whole && fit.damping <= DAMPING && (gain - step.foretold).abs() < NOTHING;
                std::mem::swap(&mut fit.normal, &mut descent.trial);
                (fit.unknowns, fit.cost, fit.damping) = (trial, cost, (fit.damping * 0.25).max(1e-6));
                fit.is_over = gain < NOTHING || is_straight || descent.is_out_of_reach(cost, REACH * gain);
                return;
            }
            fit.damping = fit.damping.max(1e-3) * 8.0;
        }
        fit.is_over = true;
    }

    /// Root mean square of a cup's residuals in units of their uncertainty.
    #[must_use]
    pub fn cup_misfit(&self, unknowns: &Unknowns, cup: usize) -> f64 {
        let dye = self.measured.dye(cup);
        let model = self.model(&self.dyes[dye], &unknowns.shared[dye]);
        let (mut sum, mut count) = (0.0, 0.0);
        for patch in &self.measured.cups[cup] {
            let predicted = model.value(patch.surface, &unknowns.cups[cup]);
            for ((value, predicted), sd) in patch.value.iter().zip(predicted).zip(patch.sd) {
                sum += ((value - predicted) / sd).powi(2);
                count += 1.0;
            }
        }
        (sum / count).sqrt()
    }
}

impl Fit {
    /// Gaussian approximation at the current unknowns; `None` when the Hessian is not positive definite.
    #[must_use]
    pub fn laplace(&self) -> Option<Laplace> {
        let reduced = Reduced::new(&self.normal, 0.0)?;
        let own: f64 = reduced.cups.iter().map(|cup| cup.own.eliminated().log_determinant(0..LOCAL)).sum();
        let dyes: f64 = reduced.dyes.iter().map(|dye| dye.eliminated().log_determinant(0..DYE)).sum();
        let photo = reduced.dyes.first()?.eliminated().log_determinant(DYE..SHARED);
        let (mut logit_variances, mut all_along) = (Vec::new(), Vec::new());
        for cup in &reduced.cups {
            // With all other unknowns of the cup eliminated, the logit follows the shared unknowns along `along`.
            let mut along_own = [0.0; LOCAL_ROOM];
            along_own[local::LOGIT] = 1.0;
            cup.own.eliminated().solve_lower(&mut along_own);
            let mut along = [0.0; SHARED_ROOM];
            for (row, by) in cup.cross.iter().zip(along_own) {
                add_scaled(&mut along, by, row);
            }
            reduced.dyes[cup.dye].eliminated().solve_lower(&mut along);
            logit_variances.push(dot(&along_own, &along_own) + dot(&along, &along));
            all_along.push(along);
        }
        let dyes_of_cups = reduced.cups.iter().map(|cup| cup.dye).collect();
        let pka_along = (reduced.dyes.iter())
            .map(|dye| {
                let mut along = unit(shared::PKA);
                dye.eliminated().solve_lower(&mut along);
                along
            })
            .collect();
        Some(Laplace { log_determinant: own + dyes + photo, logit_variances, along: all_along, pka_along, dyes: dyes_of_cups })
    }

    /// Covariance of the shared unknowns of the first dye and the photo, all others marginalised; `None` when the Hessian is not positive
    /// definite.
    #[must_use]
    pub fn shared_covariance(&self) -> Option<SharedMatrix> {
        let reduced = Reduced::new(&self.normal, 0.0)?;
        let factor = reduced.dyes.first()?.eliminated();
        let mut covariance = SharedMatrix::zeros();
        for k in 0..SHARED {
            let mut column = unit(k);
            factor.solve_lower(&mut column);
            factor.solve_upper(&mut column);
            covariance.set_column(k, &SharedVector::from_column_slice(&column[..SHARED]));
        }
        Some((covariance + covariance.transpose()) * 0.5)
    }

    /// Which of the problem's dyes a cup holds.
    #[must_use]
    pub fn dye(&self, cup: usize) -> usize {
        self.normal.cups[cup].dye
    }

    /// Base fraction of a cup.
    #[must_use]
    pub fn base_fraction(&self, cup: usize) -> f64 {
        let logit = prior::LOGIT.at(self.unknowns.cups[cup][local::LOGIT]);
        1.0 / (1.0 + (-logit).exp())
    }
}

#[cfg(test)]
mod tests {
    use super::super::forward::stain_shape;
    use super::super::hypothesis;
    use super::*;
    use crate::colour::space::PhotoSpace;
    use crate::indicator::catalogue;
    use approx::assert_abs_diff_eq;

    // By hand: 0.05 of which 0.03 are misfit leaves 0.04 of noise; with half of the misfit it is the root of 0.0016 + 0.000225.
    #[test]
    fn less_misfit_leaves_the_noise() {
        let patch = Patch { surface: Surface::White, value: [0.5; 3], sd: [0.05, 0.03, 0.13], misfit: 0.03 };
        assert_abs_diff_eq!(patch.spread(1.0).as_slice(), [0.05, 0.03, 0.13].as_slice(), epsilon = 1e-12);
        assert_abs_diff_eq!(patch.spread(0.5)[0], 0.001_825f64.sqrt(), epsilon = 1e-12);
        // No noise at all was stored: rounding to 8 bits stays.
        assert_abs_diff_eq!(patch.spread(0.0).as_slice(), [0.04, 0.25 / 255.0, 0.016f64.sqrt()].as_slice(), epsilon = 1e-12);
    }

    // By hand: six values off by 1, 2, 0, 0, 3 and 2 of their standard deviations are the root of 18 / 6.
    #[test]
    fn a_misfit_is_the_root_mean_square_of_what_is_left() {
        let hypotheses = hypothesis::all(&PhotoSpace::srgb(), None);
        let (dyes, stain) = ([DyeBasis::new(catalogue::usual())], stain_shape());
        let mut measured = Measured { cups: vec![Vec::new()], ..Measured::default() };
        let unknowns = Unknowns { shared: vec![SharedVector::zeros()], cups: vec![LocalVector::zeros()] };
        let model = Model::new(&hypotheses[0], &dyes[0], &stain, Ground::White, &unknowns.shared[0]);
        let (surface, sd) = (Surface::Liquid(0.4), [0.01, 0.02, 0.04]);
        let seen = model.value(surface, &unknowns.cups[0]);
        for off in [[1.0, -2.0, 0.0], [0.0, 3.0, -2.0]] {
            let value = [0, 1, 2].map(|c| seen[c] + off[c] * sd[c]);
            measured.cups[0].push(Patch { surface, value, sd, misfit: 0.0 });
        }
        let problem = Problem { hypothesis: &hypotheses[0], dyes: &dyes, stain: &stain, measured: &measured, prior: None };
        assert_abs_diff_eq!(problem.cup_misfit(&unknowns, 0), 3f64.sqrt(), epsilon = 1e-9);
    }

    // With nothing measured but the pH of a cup, the cost is a quadratic form: the equations are exact, and so is what they foretell of a step, be it
    // damped or shortened. With one dye and two, with a calibration and without.
    #[test]
    fn what_is_foretold_comes_where_the_model_is_straight() {
        let hypotheses = hypothesis::all(&PhotoSpace::srgb(), None);
        let (basis, stain) = (DyeBasis::new(catalogue::usual()), stain_shape());
        let (one, two) = ([basis.clone()], [basis.clone(), basis]);
        let root = SharedMatrix::from_fn(|i, j| if i == j { 1.0 } else { 0.03 * (((3 * i + 5 * j) % 7) as f64 - 3.0) });
        let prior = SharedPrior::new(SharedVector::from_fn(|k, _| 0.1 * (k % 5) as f64), &(root * root.transpose()), 0.0).unwrap();
        for (dyes, prior) in [(&one[..], None), (&two[..], None), (&one[..], Some(&prior)), (&two[..], Some(&prior))] {
            let anchors = vec![Some(Anchor::new(5.6, 0.2, 6.1, 0.05)), None, Some(Anchor::new(6.7, 0.3, 6.1, 0.05))];
            let measured = Measured { cups: vec![Vec::new(); 3], dyes: vec![0, 0, dyes.len() - 1], anchors, ..Measured::default() };
            let problem = Problem { hypothesis: &hypotheses[0], dyes, stain: &stain, measured: &measured, prior };
            for (far, damping) in [(0.3, 0.0), (0.3, 0.4), (4.0, 1e-6), (4.0, 2.0)] {
                let z = SharedVector::from_fn(|k, _| far * (((7 * k) % 11) as f64 / 5.0 - 1.0));
                // What is the photo's is the same for all dyes.
                let other = SharedVector::from_fn(|k, _| if k < DYE { -0.5 * z[k] } else { z[k] });
                let cups = (0..3).map(|cup| LocalVector::from_fn(|k, _| far * (((5 * k + cup) % 3) as f64 - 1.0))).collect();
                let fit = problem.start(Unknowns { shared: [z, other][..dyes.len()].to_vec(), cups });
                let step = fit.normal.solve(damping, &mut Reduced::default()).unwrap();
                let came = fit.cost - problem.start(fit.unknowns.moved(&step)).cost;
                assert!(came > 0.01);
                assert_abs_diff_eq!(step.foretold, came, epsilon = 1e-9 * fit.cost);
            }
        }
    }

    // A single cup of which nothing was measured, with its logit 10 standard deviations off: the cost is 100, and the first step of 1.5 brings 27.75 as foretold,
    // without being the last. Towards a limit steps are taken while it is not far below what they bring.
    #[test]
    fn a_straight_model_is_gone_through_to_its_end_or_given_up() {
        let hypotheses = hypothesis::all(&PhotoSpace::srgb(), None);
        let (dyes, stain) = ([DyeBasis::new(catalogue::usual())], stain_shape());
        let measured = Measured { cups: vec![Vec::new()], ..Measured::default() };
        let problem = Problem { hypothesis: &hypotheses[0], dyes: &dyes, stain: &stain, measured: &measured, prior: None };
        let mut cup = LocalVector::zeros();
        cup[local::LOGIT] = 10.0;
        let start = problem.start(Unknowns { shared: vec![SharedVector::zeros()], cups: vec![cup] });
        assert_abs_diff_eq!(start.cost, 100.0, epsilon = 1e-9);
        let after = |most: usize, mut descent: Descent| {
            let mut fit = start.clone();
            (0..most).for_each(|_| {
                if !fit.is_over {
                    problem.step(&mut fit, &mut descent)
                }
            });
            fit
        };
        let (first, last) = (after(1, Descent::new()), after(9, Descent::new()));
        assert_abs_diff_eq!(first.cost, 72.25, epsilon = 1e-9);
        assert!(!first.is_over && last.is_over && last.cost < NOTHING);
        assert_abs_diff_eq!(after(1, Descent::below(-100.0)).cost, 72.25, epsilon = 1e-9);
        let far = after(1, Descent::below(-200.0));
        assert!(far.is_over && (far.cost - start.cost).abs() < 1e-12);
    }
}
