//! Derivatives of the forward model against numerical ones.

use super::purple;
use tintpoint::colour::space::PhotoSpace;
use tintpoint::measurement::model::dye::DyeBasis;
use tintpoint::measurement::model::forward::{Ground, Model, Surface, stain_shape};
use tintpoint::measurement::model::hypothesis::{self, Hypothesis};
use tintpoint::measurement::model::parameters::{LOCAL, LocalVector, SHARED, SharedVector, local, shared};
use tintpoint::scene::random::Random;

/// Step of the central difference, in prior standard deviations.
const STEP: f64 = 1e-4;
/// A central difference is off by STEP^2 / 6 times the third derivative. The sharpest bend is that of the sensor's full scale (24th power),
/// whose third derivative reaches some 24^2 times the first, which is 1 to 2 there: 2e-6. Elsewhere a thousand times less was seen.
const TOLERANCE: f64 = 2e-6;

const SURFACES: [Surface; 7] = [
    Surface::Liquid(0.1),
    Surface::Liquid(0.62),
    Surface::Stained(0.1),
    Surface::Stained(0.5),
    Surface::White,
    Surface::Water,
    Surface::Card(0.18),
];

struct Point<'a> {
    hypothesis: &'a Hypothesis,
    basis: &'a DyeBasis,
    shared: SharedVector,
    local: LocalVector,
}

impl Point<'_> {
    fn value(&self, surface: Surface, shared: &SharedVector, local: &LocalVector) -> [f64; 3] {
        Model::new(self.hypothesis, self.basis, &stain_shape(), Ground::Shown, shared).predict(surface, local).value
    }

    /// Central difference of one channel when unknown `k` of `shared` or `local` moves.
    fn numerical(&self, surface: Surface, is_shared: bool, k: usize) -> [f64; 3] {
        let at = |step: f64| {
            let (mut shared, mut local) = (self.shared, self.local);
            if is_shared {
                shared[k] += step
            } else {
                local[k] += step
            }
            self.value(surface, &shared, &local)
        };
        let (after, before) = (at(STEP), at(-STEP));
        [0, 1, 2].map(|c| (after[c] - before[c]) / (2.0 * STEP))
    }
}

/// Points of all brightness: `exposure` moves the level, `depth` the dose.
fn points<'a>(hypotheses: &'a [Hypothesis], basis: &'a DyeBasis) -> Vec<Point<'a>> {
    let mut random = Random::new(71);
    let mut all = Vec::new();
    for hypothesis in hypotheses.iter().step_by(11) {
        for (exposure, depth) in [(-2.0, 1.6), (-0.5, -0.5), (0.8, 0.5), (2.2, -2.0), (1.2, 1.8)] {
            // Nothing is seen of the pKa', which stays at the table's.
            let mut shared = SharedVector::from_fn(|k, _| if k == shared::PKA { 0.0 } else { random.normal(0.6) });
            let mut own = LocalVector::from_fn(|_, _| random.normal(0.6));
            shared[shared::LEVEL] = exposure;
            own[local::DOSE] = depth;
            all.push(Point { hypothesis, basis, shared, local: own });
        }
    }
    all
}

/// The largest deviation of a derivative from the difference, per unknown, and what was seen of scale and movement.
struct Comparison {
    deviation: [f64; SHARED + LOCAL],
    largest: [f64; SHARED + LOCAL],
    darkest: f64,
    brightest: f64,
}

fn compared(points: &[Point<'_>]) -> Comparison {
    let stain = stain_shape();
    let mut seen = Comparison { deviation: [0.0; SHARED + LOCAL], largest: [0.0; SHARED + LOCAL], darkest: f64::INFINITY, brightest: 0.0 };
    for point in points {
        for surface in SURFACES {
            let exact = Model::new(point.hypothesis, point.basis, &stain, Ground::Shown, &point.shared).predict(surface, &point.local);
            seen.darkest = exact.value.iter().copied().fold(seen.darkest, f64::min);
            seen.brightest = exact.value.iter().copied().fold(seen.brightest, f64::max);
            for k in 0..SHARED + LOCAL {
                let numerical = if k < SHARED { point.numerical(surface, true, k) } else { point.numerical(surface, false, k - SHARED) };
                for (c, numerical) in numerical.into_iter().enumerate() {
                    let ours = if k < SHARED { exact.shared[c][k] } else { exact.local[c][k - SHARED] };
                    seen.largest[k] = seen.largest[k].max(numerical.abs());
                    seen.deviation[k] = seen.deviation[k].max((ours - numerical).abs());
                }
            }
        }
    }
    seen
}

// At the nominal dye: see below for what bends it.
#[test]
fn every_derivative_is_the_limit_of_a_difference() {
    let hypotheses = hypothesis::all(&PhotoSpace::display_p3(), None);
    let basis = DyeBasis::new(purple());
    let mut points = points(&hypotheses, &basis);
    for point in &mut points {
        point.shared.fixed_rows_mut::<15>(shared::ACID).fill(0.0);
    }
    let seen = compared(&points);
    for (k, deviation) in seen.deviation.iter().enumerate() {
        assert!(*deviation < TOLERANCE, "unknown {k}: off by {deviation:e} of {}", seen.largest[k]);
        // A derivative that is zero everywhere would agree by itself.
        // The pKa' moves no colour, only what a known pH says of the fraction; see fit.rs.
        assert!(k == shared::PKA || seen.largest[k] > 1e-4, "unknown {k} moves nothing");
    }
    assert!(seen.darkest < 0.02 && seen.brightest > 0.97, "the points miss the ends of the scale: {} to {}", seen.darkest, seen.brightest);
}

// Without derivatives the same figures are computed in the same order.
#[test]
fn a_value_alone_is_the_same_to_the_bit() {
    let hypotheses = hypothesis::all(&PhotoSpace::display_p3(), None);
    let (basis, stain) = (DyeBasis::new(purple()), stain_shape());
    for point in points(&hypotheses, &basis) {
        for surface in SURFACES {
            let model = Model::new(point.hypothesis, point.basis, &stain, Ground::Shown, &point.shared);
            assert_eq!(model.value(surface, &point.local).map(f64::to_bits), model.predict(surface, &point.local).value.map(f64::to_bits));
        }
    }
}

// Known approximation: the channel exponents act on the mean absorptivity of a form in a channel, and the derivatives leave out that this
// mean itself moves with dose, fraction and shape, as they leave out that absorptivities end at zero. What is left out is an exponent
// (0.04) times density (up to 10 here) times the relative spread of absorptivity in a channel, hence at most about a quarter; a wrong
// sign would be off by twice the whole. All other derivatives stay exact.
#[test]
fn channel_exponents_leave_derivatives_nearly_right() {
    let hypotheses = hypothesis::all(&PhotoSpace::display_p3(), None);
    let basis = DyeBasis::new(purple());
    let seen = compared(&points(&hypotheses, &basis));
    let through_dye = [local::LOGIT, local::DOSE, local::SLOPE, local::STAIN].map(|k| SHARED + k);
    for (k, deviation) in seen.deviation.iter().enumerate() {
        let is_near = (shared::ACID..shared::ACID_CHANNEL).contains(&k) || k == shared::FORM || through_dye.contains(&k);
        let allowed = if is_near { 0.25 * seen.largest[k] } else { TOLERANCE };
        assert!(*deviation < allowed, "unknown {k}: off by {deviation:e} of {}", seen.largest[k]);
    }
    assert!(seen.largest[shared::ACID_CHANNEL..shared::ACID_CHANNEL + 6].iter().all(|d| *d > 1e-3));
}
