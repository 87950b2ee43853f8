//! The fit on noise-free predictions of its own model, and its algebra against dense matrices.

use super::purple;
use nalgebra::{DMatrix, DVector};
use tintpoint::colour::space::PhotoSpace;
use tintpoint::indicator::catalogue;
use tintpoint::measurement::estimate::{Estimate, estimate};
use tintpoint::measurement::model::Wave;
use tintpoint::measurement::model::dye::DyeBasis;
use tintpoint::measurement::model::fit::{Anchor, Descent, Fit, Measured, Patch, Problem, SharedPrior, Unknowns};
use tintpoint::measurement::model::forward::{Ground, Model, Surface, stain_shape};
use tintpoint::measurement::model::hypothesis::{self, Hypothesis};
use tintpoint::measurement::model::parameters::{
    self as prior, DYE, LOCAL, LocalVector, SHARED, SharedMatrix, SharedVector, local, shared,
};
use tintpoint::scene::random::Random;

/// Uncertainty given to every patch: the misfit that the program assumes of real photos.
const SD: f64 = 0.005;
/// Degrees of freedom of the residuals, as the fit documents them.
const STUDENT: f64 = 6.0;

/// Base fraction and optical dose of the cups.
const CUPS: [(f64, f64); 3] = [(0.06, 1.1), (0.22, 0.8), (0.8, 0.6)];

struct Bench {
    hypothesis: Hypothesis,
    dyes: Vec<DyeBasis>,
    stain: Wave,
}

impl Bench {
    fn new(which: usize) -> Self {
        let hypothesis = hypothesis::all(&PhotoSpace::srgb(), None).swap_remove(which);
        Bench { hypothesis, dyes: vec![DyeBasis::new(purple())], stain: stain_shape() }
    }

    fn problem<'a>(&'a self, measured: &'a Measured) -> Problem<'a> {
        Problem { hypothesis: &self.hypothesis, dyes: &self.dyes, stain: &self.stain, measured, prior: None }
    }

    /// What a perfect photo of these unknowns shows.
    fn measured(&self, unknowns: &Unknowns) -> Measured {
        let model = Model::new(&self.hypothesis, &self.dyes[0], &self.stain, Ground::White, &unknowns.shared[0]);
        let patch = |surface, z: &LocalVector| Patch { surface, value: model.predict(surface, z).value, sd: [SD; 3], misfit: SD };
        let surfaces = [Surface::Liquid(0.1), Surface::Liquid(0.28), Surface::Liquid(0.45), Surface::Liquid(0.62), Surface::White];
        Measured {
            common: vec![patch(Surface::Card(0.18), &LocalVector::zeros())],
            cups: unknowns.cups.iter().map(|z| surfaces.iter().map(|surface| patch(*surface, z)).collect()).collect(),
            ..Measured::default()
        }
    }

    fn estimate(&self, measured: &Measured) -> Option<Estimate> {
        estimate(std::slice::from_ref(&self.hypothesis), &[purple()], measured)
    }
}

/// Light, camera and dye a little off their prior means, and the cups of [`CUPS`].
fn truth(seed: u64) -> Unknowns {
    let mut random = Random::new(seed);
    let shared = SharedVector::from_fn(|_, _| random.normal(0.25));
    let cups = CUPS
        .iter()
        .map(|(fraction, dose)| {
            let mut z = LocalVector::from_fn(|_, _| random.normal(0.25));
            z[local::LOGIT] = ((fraction / (1.0 - fraction)).ln() - prior::LOGIT.mean) / prior::LOGIT.sd;
            z[local::DOSE] = (dose.ln() - prior::DOSE.mean) / prior::DOSE.sd;
            z
        })
        .collect();
    Unknowns { shared: vec![shared], cups }
}

fn at_prior_means(cups: usize) -> Unknowns {
    Unknowns { shared: vec![SharedVector::zeros()], cups: vec![LocalVector::zeros(); cups] }
}

fn fitted(problem: &Problem<'_>, from: Unknowns) -> Fit {
    let mut fit = problem.start(from);
    let mut descent = Descent::new();
    for _ in 0..60 {
        if fit.is_over {
            break;
        }
        problem.step(&mut fit, &mut descent);
    }
    fit
}

fn fraction_sd(fit: &Fit, cup: usize) -> f64 {
    let a = fit.base_fraction(cup);
    prior::LOGIT.sd * fit.laplace().unwrap().logit_variances[cup].sqrt() * a * (1.0 - a)
}

// The start has to fail, or nothing would be proved of the fit.
#[test]
fn known_unknowns_are_found_again() {
    for (which, seed) in [(0, 1), (20, 2), (40, 3), (60, 4)] {
        let bench = Bench::new(which);
        let measured = bench.measured(&truth(seed));
        let problem = bench.problem(&measured);
        let start = problem.start(at_prior_means(CUPS.len()));
        let fit = fitted(&problem, at_prior_means(CUPS.len()));
        assert!(fit.is_over && fit.cost < 0.01 * start.cost, "light {which}: cost {} from {}", fit.cost, start.cost);
        for (cup, (fraction, _)) in CUPS.iter().enumerate() {
            let sd = fraction_sd(&fit, cup);
            let (found, at_start) = (fit.base_fraction(cup), start.base_fraction(cup));
            assert!((found - fraction).abs() < sd, "light {which}, cup {cup}: {found:.4} +- {sd:.4} instead of {fraction}");
            assert!((at_start - fraction).abs() > 3.0 * sd, "light {which}, cup {cup}: the start {at_start:.4} is no test");
            assert!(fit.base_fraction(cup) > 0.0 && problem.cup_misfit(&fit.unknowns, cup) < 0.3);
        }
    }
}

#[test]
fn the_whole_estimate_finds_them_too() {
    let bench = Bench::new(20);
    let found = bench.estimate(&bench.measured(&truth(5))).unwrap();
    for (cup, (fraction, dose)) in found.cups.iter().zip(CUPS) {
        let [component] = cup.components[..] else { panic!("one light gives one component") };
        let a = component.base_fraction;
        assert!((a - fraction).abs() < component.sd, "{a:.4} +- {:.4} instead of {fraction}", component.sd);
        assert!((component.weight - 1.0).abs() < 1e-9);
        assert!((cup.dose / dose).ln().abs() < 0.3, "dose {} instead of {dose}", cup.dose);
    }
}

#[test]
fn what_is_not_a_number_gives_no_number() {
    let bench = Bench::new(3);
    for spoilt in [f64::NAN, f64::INFINITY] {
        let mut measured = bench.measured(&truth(6));
        measured.cups[1][0].value[2] = spoilt;
        assert!(bench.estimate(&measured).is_none(), "{spoilt} in a ring");
        let mut measured = bench.measured(&truth(6));
        measured.common[0].value[0] = spoilt;
        assert!(bench.estimate(&measured).is_none(), "{spoilt} in the card");
    }
}

#[test]
fn nothing_measured_says_nothing() {
    let bench = Bench::new(3);
    assert!(bench.estimate(&Measured::default()).is_none_or(|found| found.cups.is_empty()));
    assert!(estimate(&[], &[purple()], &bench.measured(&truth(6))).is_none());
    // A cup of which nothing was seen keeps its prior: half, and no idea.
    let empty = Measured { cups: vec![Vec::new()], ..Measured::default() };
    let fit = fitted(&bench.problem(&empty), at_prior_means(1));
    assert!((fit.base_fraction(0) - 0.5).abs() < 1e-9 && fraction_sd(&fit, 0) > 0.5);
}

#[test]
fn the_same_cup_twice_reads_like_the_cup() {
    let bench = Bench::new(12);
    let mut truth = truth(7);
    truth.cups.truncate(1);
    let one = bench.measured(&truth);
    truth.cups.push(truth.cups[0]);
    let twice = bench.measured(&truth);
    let (one, twice) = (fitted(&bench.problem(&one), at_prior_means(1)), fitted(&bench.problem(&twice), at_prior_means(2)));
    let sd = fraction_sd(&one, 0);
    assert!((twice.base_fraction(0) - twice.base_fraction(1)).abs() < 1e-9);
    // Priors weigh a little less against two cups, hence not the very same.
    assert!((twice.base_fraction(0) - one.base_fraction(0)).abs() < 0.3 * sd);
    // In logits, which are what is fitted: the same doubt there is more of a fraction the nearer that is to a half.
    let in_logits = |fit: &Fit| fraction_sd(fit, 0) / (fit.base_fraction(0) * (1.0 - fit.base_fraction(0)));
    assert!(in_logits(&twice) < in_logits(&one), "twice as much seen must not know less");
}

#[test]
fn the_order_of_cups_does_not_matter() {
    let bench = Bench::new(33);
    let measured = bench.measured(&truth(8));
    let mut reversed = measured.clone();
    reversed.cups.reverse();
    let (one, other) = (bench.estimate(&measured).unwrap(), bench.estimate(&reversed).unwrap());
    for (a, b) in one.cups.iter().zip(other.cups.iter().rev()) {
        // Sums in another order round elsewhere; the steps magnify that.
        assert!((a.components[0].base_fraction - b.components[0].base_fraction).abs() < 1e-6);
        assert!((a.components[0].sd - b.components[0].sd).abs() < 1e-6);
    }
}

/// Hessian and downhill direction of half the cost, written out over all unknowns: shared ones first, then cup by cup.
fn dense(bench: &Bench, measured: &Measured, at: &Unknowns) -> (DMatrix<f64>, DVector<f64>) {
    let model = Model::new(&bench.hypothesis, &bench.dyes[0], &bench.stain, Ground::White, &at.shared[0]);
    let size = SHARED + LOCAL * at.cups.len();
    let mut hessian = DMatrix::identity(size, size);
    let mut downhill = -DVector::from_iterator(size, at.shared[0].iter().chain(at.cups.iter().flat_map(|z| z.iter())).copied());
    let none = LocalVector::zeros();
    let cups = measured.cups.iter().zip(&at.cups).enumerate().flat_map(|(k, (cup, z))| cup.iter().map(move |patch| (Some(k), patch, z)));
    for (cup, patch, z) in measured.common.iter().map(|patch| (None, patch, &none)).chain(cups) {
        let predicted = model.predict(patch.surface, z);
        for c in 0..3 {
            let mut row = DVector::zeros(size);
            row.rows_mut(0, SHARED).copy_from_slice(&predicted.shared[c][..SHARED]);
            if let Some(k) = cup {
                row.rows_mut(SHARED + LOCAL * k, LOCAL).copy_from_slice(&predicted.local[c][..LOCAL]);
            }
            row /= patch.sd[c];
            let residual = (patch.value[c] - predicted.value[c]) / patch.sd[c];
            let weight = (STUDENT + 1.0) / (STUDENT + residual * residual);
            hessian += weight * &row * row.transpose();
            downhill += weight * residual * row;
        }
    }
    (hessian, downhill)
}

#[test]
fn eliminating_cup_by_cup_equals_the_dense_inverse() {
    let bench = Bench::new(7);
    let measured = bench.measured(&truth(9));
    let fit = fitted(&bench.problem(&measured), at_prior_means(CUPS.len()));
    let laplace = fit.laplace().unwrap();
    let (hessian, _) = dense(&bench, &measured, &fit.unknowns);
    let factor = hessian.cholesky().unwrap();
    let log_determinant = 2.0 * factor.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
    assert!((laplace.log_determinant - log_determinant).abs() < 1e-6, "{} instead of {log_determinant}", laplace.log_determinant);
    let covariance = factor.inverse();
    assert_eq!(laplace.logit_variances.len(), CUPS.len());
    for (k, ours) in laplace.logit_variances.iter().enumerate() {
        let at = SHARED + LOCAL * k + local::LOGIT;
        let dense = covariance[(at, at)];
        assert!((ours - dense).abs() < 1e-9, "cup {k}: {ours} instead of {dense}");
    }
}

/// Cups of two dyes: what each dye has of its own, and what they share.
fn two_dyes() -> (Bench, Measured, Fit) {
    let green = catalogue::find("bromocresol-green").unwrap();
    let mut bench = Bench::new(7);
    bench.dyes.push(DyeBasis::new(green));
    let mut truth = truth(12);
    truth.shared.push(SharedVector::from_fn(|k, _| if k < DYE { -0.5 * truth.shared[0][k] } else { truth.shared[0][k] }));
    let whose = [0, 1, 0];
    let mut measured = bench.measured(&truth);
    for (k, dye) in whose.into_iter().enumerate() {
        let model = Model::new(&bench.hypothesis, &bench.dyes[dye], &bench.stain, Ground::White, &truth.shared[dye]);
        for patch in &mut measured.cups[k] {
            patch.value = model.predict(patch.surface, &truth.cups[k]).value;
        }
    }
    measured.dyes = whose.to_vec();
    let start = Unknowns { shared: vec![SharedVector::zeros(); 2], ..at_prior_means(CUPS.len()) };
    let fit = fitted(&bench.problem(&measured), start);
    (bench, measured, fit)
}

/// Hessian over all unknowns of cups with two dyes: the first dye's, the photo's, the second dye's, then cup by cup.
fn dense_of_two(bench: &Bench, measured: &Measured, at: &Unknowns) -> DMatrix<f64> {
    let size = SHARED + DYE + LOCAL * at.cups.len();
    let mut hessian = DMatrix::identity(size, size);
    let mut add = |patch: &Patch, dye: usize, cup: Option<usize>, z: &LocalVector| {
        let model = Model::new(&bench.hypothesis, &bench.dyes[dye], &bench.stain, Ground::White, &at.shared[dye]);
        let predicted = model.predict(patch.surface, z);
        for c in 0..3 {
            let mut row = DVector::zeros(size);
            let own = if dye == 0 { 0 } else { SHARED };
            row.rows_mut(own, DYE).copy_from_slice(&predicted.shared[c][..DYE]);
            row.rows_mut(DYE, SHARED - DYE).copy_from_slice(&predicted.shared[c][DYE..SHARED]);
            if let Some(k) = cup {
                row.rows_mut(SHARED + DYE + LOCAL * k, LOCAL).copy_from_slice(&predicted.local[c][..LOCAL]);
            }
            row /= patch.sd[c];
            let residual = (patch.value[c] - predicted.value[c]) / patch.sd[c];
            hessian += (STUDENT + 1.0) / (STUDENT + residual * residual) * &row * row.transpose();
        }
    };
    for patch in &measured.common {
        add(patch, 0, None, &LocalVector::zeros());
    }
    for (k, z) in at.cups.iter().enumerate() {
        for patch in &measured.cups[k] {
            add(patch, measured.dye(k), Some(k), z);
        }
    }
    hessian
}

#[test]
fn eliminating_dye_by_dye_equals_the_dense_inverse() {
    let (bench, measured, fit) = two_dyes();
    let laplace = fit.laplace().unwrap();
    let factor = dense_of_two(&bench, &measured, &fit.unknowns).cholesky().unwrap();
    let log_determinant = 2.0 * factor.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
    assert!((laplace.log_determinant - log_determinant).abs() < 1e-6, "{} instead of {log_determinant}", laplace.log_determinant);
    let covariance = factor.inverse();
    let at = |k: usize| SHARED + DYE + LOCAL * k + local::LOGIT;
    for (i, j) in [(0, 0), (1, 1), (2, 2), (0, 2)] {
        let (ours, dense) = (laplace.logit_covariance(i, j), covariance[(at(i), at(j))]);
        assert!((ours - dense).abs() < 1e-9, "cups {i} and {j}: {ours} instead of {dense}");
    }
    assert!(covariance[(at(0), at(2))].abs() > 1e-4, "cups of one dye depend on each other, or nothing is proved");
}

#[test]
fn cups_of_two_dyes_are_found_again() {
    let (_, _, fit) = two_dyes();
    assert!(fit.is_over);
    for (cup, (fraction, _)) in CUPS.iter().enumerate() {
        let sd = fraction_sd(&fit, cup);
        assert!((fit.base_fraction(cup) - fraction).abs() < sd, "cup {cup}: {:.4} +- {sd:.4}", fit.base_fraction(cup));
    }
    let [one, other] = &fit.unknowns.shared[..] else { panic!("two dyes") };
    assert!((DYE..SHARED).all(|k| (one[k] - other[k]).abs() < 1e-9), "the photo is the same for both dyes");
    assert!((0..DYE).any(|k| (one[k] - other[k]).abs() > 0.05), "each dye has its own shape");
}

// A damped step s solves (H + d diag H) s = g for some damping d, which is fitted here: one number cannot mend a wrong direction of 46.
#[test]
fn a_step_solves_the_dense_equations() {
    let bench = Bench::new(50);
    let goal = truth(10);
    let measured = bench.measured(&goal);
    let mut from = goal.clone();
    let mut random = Random::new(11);
    // Near enough that the step is not shortened.
    from.shared[0].iter_mut().chain(from.cups.iter_mut().flat_map(|z| z.iter_mut())).for_each(|z| *z += random.normal(0.02));
    let problem = bench.problem(&measured);
    let (hessian, downhill) = dense(&bench, &measured, &from);
    let mut fit = problem.start(from.clone());
    problem.step(&mut fit, &mut Descent::new());
    let moved = (fit.unknowns.shared[0] - from.shared[0]).iter().copied().collect::<Vec<_>>().into_iter();
    let moved: Vec<f64> =
        moved.chain(fit.unknowns.cups.iter().zip(&from.cups).flat_map(|(a, b)| (a - b).iter().copied().collect::<Vec<_>>())).collect();
    let moved = DVector::from_vec(moved);
    let left = &downhill - &hessian * &moved;
    let pull = hessian.diagonal().component_mul(&moved);
    let damping = left.dot(&pull) / pull.norm_squared();
    assert!(damping > 0.0 && moved.norm() > 0.01, "damping {damping}, step {}", moved.norm());
    let rest = (left - damping * pull).norm();
    assert!(rest < 1e-7 * downhill.norm(), "{rest} of {}", downhill.norm());
}

/// A prior without pattern, and cups of which two have a known pH.
fn told() -> (Bench, Measured, SharedPrior) {
    let bench = Bench::new(7);
    let mut measured = bench.measured(&truth(13));
    measured.anchors = vec![None, Some(Anchor::new(5.6, 0.02, 6.1, 0.05)), Some(Anchor::new(6.7, 0.3, 6.1, 0.05))];
    let mut random = Random::new(14);
    let root = SharedMatrix::from_fn(|i, j| if i == j { 1.0 } else { random.normal(0.05) });
    let mean = SharedVector::from_fn(|_, _| random.normal(0.3));
    (bench, measured, SharedPrior::new(mean, &(root * root.transpose()), 1.5).unwrap())
}

#[test]
fn a_told_prior_and_known_ph_enter_like_in_the_dense_equations() {
    let (bench, measured, prior) = told();
    let problem = Problem { prior: Some(&prior), ..bench.problem(&measured) };
    let fit = fitted(&problem, at_prior_means(CUPS.len()));
    assert!(fit.is_over);
    let (mut hessian, _) = dense(&bench, &measured, &fit.unknowns);
    for i in 0..SHARED {
        for j in 0..SHARED {
            hessian[(i, j)] += prior.precision[(i, j)] - f64::from(u8::from(i == j));
        }
    }
    for (k, anchor) in measured.anchors.iter().enumerate() {
        let Some(anchor) = anchor else { continue };
        let mut row = DVector::zeros(hessian.nrows());
        let at = SHARED + LOCAL * k + local::LOGIT;
        row[at] = prior::LOGIT.sd / anchor.sd;
        row[shared::PKA] = anchor.by_pka / anchor.sd;
        hessian += &row * row.transpose();
        // The nearly flat prior of the logit gives way to what is known.
        hessian[(at, at)] -= 1.0;
    }
    let factor = hessian.cholesky().unwrap();
    let laplace = fit.laplace().unwrap();
    let log_determinant = 2.0 * factor.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
    assert!((laplace.log_determinant - log_determinant).abs() < 1e-6, "{} instead of {log_determinant}", laplace.log_determinant);
    let covariance = factor.inverse();
    let ours = fit.shared_covariance().unwrap();
    for i in 0..SHARED {
        for j in 0..SHARED {
            assert!((ours[(i, j)] - covariance[(i, j)]).abs() < 1e-9, "unknowns {i} and {j}");
        }
    }
    for k in 0..CUPS.len() {
        let at = SHARED + LOCAL * k + local::LOGIT;
        assert!((laplace.logit_variances[k] - covariance[(at, at)]).abs() < 1e-9);
        assert!((laplace.logit_pka_covariance(k) - covariance[(at, shared::PKA)]).abs() < 1e-9);
        assert!((laplace.pka_variance(k) - covariance[(shared::PKA, shared::PKA)]).abs() < 1e-9);
    }
    // Where the fit ends there is no slope left: cost, prior and known pH belong together.
    let cost = |unknowns: Unknowns| problem.start(unknowns).cost;
    for k in [0, shared::PKA, shared::SATURATION] {
        let moved = |by: f64| {
            let mut unknowns = fit.unknowns.clone();
            unknowns.shared[0][k] += by;
            cost(unknowns)
        };
        let curvature = 0.5 * (moved(1e-3) + moved(-1e-3) - 2.0 * fit.cost) / 1e-6;
        let slope = (moved(1e-3) - moved(-1e-3)) / 2e-3;
        assert!((0.5 * slope / curvature).abs() < 0.1, "unknown {k}: {slope} of {curvature}");
    }
}

#[test]
fn the_unit_normal_told_is_the_unit_normal() {
    let bench = Bench::new(30);
    let measured = bench.measured(&truth(15));
    let unit = SharedPrior::new(SharedVector::zeros(), &SharedMatrix::identity(), 0.0).unwrap();
    let plain = fitted(&bench.problem(&measured), at_prior_means(CUPS.len()));
    let told = fitted(&Problem { prior: Some(&unit), ..bench.problem(&measured) }, at_prior_means(CUPS.len()));
    assert!((plain.cost - told.cost).abs() < 1e-9 && unit.log_determinant.abs() < 1e-12);
    assert!((plain.unknowns.shared[0] - told.unknowns.shared[0]).amax() < 1e-9);
}
