//! Cups of known steps but uncertain height: a ladder whose cups share one error, and what the colours say of it.
//!
//! Seven cups that are all off by 0.3 pH are no seven buffers of 0.3: taken for that, their error would shrink with their number. So the shared error is one
//! unknown. The colours narrow it down as far as the dye's pKa' and a plain reading let them, and the cups get the pH that this makes likely. But those colours
//! are counted again when the model is fitted to them: so every cup is told to be as unsure as the whole shared error makes all of them together, or the built-in
//! dye would bear itself out (80 readings of 20 ladders: 70 within their 95 % intervals with what the colours leave, 78 with the whole).

use super::ladder::{Finding, Rung};
use crate::indicator::equilibrium::pka_at;
use crate::measurement::posterior::fraction;
use crate::measurement::profile::{BufferSeen, Evidence};
use crate::quantity::Ph;

/// The ladder when what its cups share is off by so many of its standard deviations; the deviation of a rung is its own alone.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumed {
    /// Standard deviations.
    pub sds: f64,
    /// The cups in their order.
    pub rungs: Vec<Rung>,
}

/// Standard deviation of a base fraction that is read without calibration: plain reading is off by about 0.05 (README, figures).
const SEEN: f64 = 0.05;
/// The part of it that all cups of a photo share, as pH: what the built-in spectra of the dye leave open (DEVELOPERS.md, what the fit cannot do).
const GAUGE: f64 = 0.08;
/// Smallest slope of a fraction, per pH, at which its cup says anything: beyond, the dye has turned to within a hundredth.
const LEAST_SLOPE: f64 = 0.02;
/// Steps on either side of what the dye's pKa' and its built-in spectra are off by together, in its standard deviation.
const PKA_STEPS: [f64; 13] = [-3.0, -2.5, -2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0];

/// What the colours leave of the shared error, in its standard deviations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Left {
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
}

/// Gives the cups of the first photo the pH that their colours bear out, with what stays uncertain of it; `assumed` in rising order, with one that is not
/// off at all, whose rungs `evidence` was made with. Nothing when the colours cannot be explained.
pub fn narrow(evidence: &mut Evidence, assumed: &[Assumed]) -> Option<Left> {
    let seen = evidence.fractions_unseen(0)?;
    borne_out(evidence, &seen, assumed)
}

/// The same with the base fractions that the cups show.
fn borne_out(evidence: &mut Evidence, seen: &[f64], assumed: &[Assumed]) -> Option<Left> {
    let told = &assumed.iter().min_by(|a, b| a.sds.abs().total_cmp(&b.sds.abs()))?.rungs;
    // The order of the cups may be another than the order told.
    let of_rung =
        |rung: &Rung| evidence.photos[0].cups.iter().position(|cup| cup.ph == rung.ph && cup.ionic_strength == rung.ionic_strength);
    let places = told.iter().map(of_rung).collect::<Option<Vec<_>>>()?;
    let left = left(evidence, seen, &places, assumed);
    let informing = told.iter().filter(|rung| slope(evidence, rung, 0.0) > LEAST_SLOPE).count().max(1) as f64;
    for (i, place) in places.into_iter().enumerate() {
        let at = |sds: f64| between(assumed, i, sds);
        let shared = 0.5 * (at(left.mean + 1.0) - at(left.mean - 1.0)).abs();
        let buffer: &mut BufferSeen = evidence.photos[0].cups.get_mut(place)?;
        buffer.ph = Ph::new(at(left.mean)).ok()?;
        // Independent errors of n cups average out to 1/sqrt(n); this one must not, and what the colours said of it must not count twice.
        buffer.ph_sd = told[i].sd.hypot(informing.sqrt() * shared);
    }
    Some(left)
}

/// A finding for the report: where the turn was taken to be, and where it was by the colours, pH.
#[must_use]
pub fn finding(left: Left, turn: f64, turn_sd: f64) -> Finding {
    Finding::Turned { taken: turn, taken_sd: turn_sd, seen: turn + left.mean * turn_sd, seen_sd: left.sd * turn_sd }
}

/// Mean and deviation over even steps of the shared error, each with all that the dye's pKa' may be.
fn left(evidence: &Evidence, seen: &[f64], places: &[usize], assumed: &[Assumed]) -> Left {
    let fit = |assumed: &Assumed, pka: f64| {
        let shift = pka * evidence.indicator.pka_sd.hypot(GAUGE);
        let of_cup = |(rung, place): (&Rung, &usize)| {
            let off = seen[*place] - told(evidence, rung, shift);
            let sd = SEEN.hypot(slope(evidence, rung, shift) * rung.sd);
            -0.5 * (off / sd).powi(2) - sd.ln()
        };
        let fit: f64 = assumed.rungs.iter().zip(places).map(of_cup).sum();
        (fit - 0.5 * (assumed.sds.powi(2) + pka * pka)).exp()
    };
    let weights: Vec<(f64, f64)> =
        assumed.iter().map(|assumed| (assumed.sds, PKA_STEPS.iter().map(|pka| fit(assumed, *pka)).sum())).collect();
    let total: f64 = weights.iter().map(|(_, weight)| weight).sum();
    if total <= 0.0 {
        // The colours are beyond every step: nothing is learnt, and the buffers will be told odd.
        return Left { mean: 0.0, sd: 1.0 };
    }
    let mean = weights.iter().map(|(sds, weight)| sds * weight).sum::<f64>() / total;
    let variance = weights.iter().map(|(sds, weight)| (sds - mean).powi(2) * weight).sum::<f64>() / total;
    Left { mean, sd: variance.sqrt() }
}

/// Base fraction that a rung should have, with the dye's pKa' off by `shift`.
fn told(evidence: &Evidence, rung: &Rung, shift: f64) -> f64 {
    fraction(rung.ph.value(), pka_at(evidence.indicator, rung.ionic_strength, evidence.temperature) + shift)
}

/// Its change with pH.
fn slope(evidence: &Evidence, rung: &Rung, shift: f64) -> f64 {
    let share = told(evidence, rung, shift);
    std::f64::consts::LN_10 * share * (1.0 - share)
}

/// pH of a rung between the steps, straight on beyond them.
fn between(assumed: &[Assumed], rung: usize, sds: f64) -> f64 {
    let last = assumed.len() - 1;
    let upper = assumed.iter().position(|step| step.sds >= sds).unwrap_or(last).max(1).min(last);
    let [low, high] = [upper.saturating_sub(1), upper].map(|step| &assumed[step]);
    let (a, b) = (low.rungs[rung].ph.value(), high.rungs[rung].ph.value());
    if high.sds > low.sds { a + (b - a) * (sds - low.sds) / (high.sds - low.sds) } else { a }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::space::PhotoSpace;
    use crate::indicator::catalogue;
    use crate::measurement::profile::{PhotoSeen, Seen};
    use crate::quantity::{Celsius, IonicStrength};
    use approx::assert_abs_diff_eq;

    fn evidence() -> Evidence {
        Evidence { indicator: catalogue::usual(), light: None, temperature: Celsius::STANDARD, photos: Vec::new() }
    }

    /// A cup so far above the dye's pKa'.
    fn rung(above: f64, sd: f64) -> Rung {
        let ionic_strength = IonicStrength::new(0.1).unwrap();
        let pka = pka_at(catalogue::usual(), ionic_strength, Celsius::STANDARD);
        Rung { ph: Ph::new(pka + above).unwrap(), sd, ionic_strength }
    }

    // Henderson and Hasselbalch: half at the pKa', ten to one a unit above; the change with pH as a difference quotient has it.
    #[test]
    fn fractions_and_their_slopes() {
        let at = |above: f64, shift: f64| told(&evidence(), &rung(above, 0.02), shift);
        assert_abs_diff_eq!(at(0.0, 0.0), 0.5, epsilon = 1e-9);
        assert_abs_diff_eq!(at(1.0, 0.0), 10.0 / 11.0, epsilon = 1e-9);
        assert_abs_diff_eq!(at(0.3, 0.3), 0.5, epsilon = 1e-9);
        for (above, shift) in [(-0.7, 0.0), (0.0, 0.1), (0.4, -0.2)] {
            let quotient = (at(above + 1e-4, shift) - at(above - 1e-4, shift)) / 2e-4;
            assert_abs_diff_eq!(slope(&evidence(), &rung(above, 0.02), shift), quotient, epsilon = 1e-6);
        }
    }

    #[test]
    fn between_steps_is_straight() {
        let assumed = [(-1.0, 0.0), (0.0, 0.4), (2.0, 1.0)].map(|(sds, above)| Assumed { sds, rungs: vec![rung(above, 0.02)] });
        let at = |sds: f64| between(&assumed, 0, sds) - rung(0.0, 0.02).ph.value();
        for (sds, wanted) in [(-1.0, 0.0), (-0.5, 0.2), (0.0, 0.4), (0.5, 0.55), (2.0, 1.0), (3.0, 1.3), (-2.0, -0.4)] {
            assert_abs_diff_eq!(at(sds), wanted, epsilon = 1e-9);
        }
        let (same, low) = ([assumed[0].clone(), assumed[0].clone()], assumed[0].rungs[0].ph.value());
        assert_abs_diff_eq!(between(&same, 0, 0.7), low);
        assert_abs_diff_eq!(between(&same[..1], 0, 0.7), low);
    }

    // The same sums over fine steps in NumPy: cups at -1.0, -0.4, 0.1 and 0.6 from the pKa' of a dye whose own error is 0.05, shared error of these pH to a standard deviation,
    // read as 0.19, 0.42, 0.66 and 0.84.
    #[test]
    fn colours_narrow_the_shared_error_as_worked_out_elsewhere() {
        const EVEN: [f64; 4] = [0.3; 4];
        const FALLING: [f64; 4] = [0.3, 0.25, 0.2, 0.1];
        for (own, shared, mean, sd) in [
            (0.02, EVEN, 0.687, 0.353),
            (0.02, FALLING, 0.885, 0.415),
            (0.15, EVEN, 0.661, 0.412),
            (0.15, FALLING, 0.800, 0.496),
            (0.30, EVEN, 0.603, 0.509),
            (0.30, FALLING, 0.646, 0.609),
        ] {
            let cups = |sds: f64| [-1.0, -0.4, 0.1, 0.6].iter().zip(shared).map(|(above, each)| rung(above + each * sds, own)).collect();
            let assumed: Vec<Assumed> = (-20..=20).map(|i| 0.2 * f64::from(i)).map(|sds| Assumed { sds, rungs: cups(sds) }).collect();
            let left = left(&evidence(), &[0.19, 0.42, 0.66, 0.84], &[0, 1, 2, 3], &assumed);
            assert_abs_diff_eq!(left.mean, mean, epsilon = 0.004);
            assert_abs_diff_eq!(left.sd, sd, epsilon = 0.004);
        }
    }

    /// A photo of cups told to hold these.
    fn told_as(rungs: &[Rung]) -> Evidence {
        let cup = |rung: &Rung| BufferSeen {
            ph: rung.ph,
            ph_sd: rung.sd,
            ionic_strength: rung.ionic_strength,
            is_used: true,
            rings: Vec::new(),
            white: None,
        };
        let photo = PhotoSeen { to_srgb: PhotoSpace::srgb().to_srgb, card: None, cups: rungs.iter().map(cup).collect() };
        Evidence { photos: vec![photo], ..evidence() }
    }

    // The photo's cups stand the other way round. Their colours are those of 0.3 pH, one deviation, above what was told. Two of the three
    // turn, so the error that all share counts as the root of 2 times 0.3 for each: with its own 0.02, 0.4247.
    #[test]
    fn cups_get_the_ph_that_their_colours_bear_out() {
        let ladder = |sds: f64| -> Vec<Rung> { [0.0, 0.5, 3.0].map(|above| rung(above + 0.3 * sds, 0.02)).to_vec() };
        let assumed: Vec<Assumed> = (-12..=12).map(|i| 0.25 * f64::from(i)).map(|sds| Assumed { sds, rungs: ladder(sds) }).collect();
        let turned: Vec<Rung> = ladder(0.0).into_iter().rev().collect();
        let mut evidence = told_as(&turned);
        let seen: Vec<f64> = ladder(1.0).iter().rev().map(|rung| told(&evidence, rung, 0.0)).collect();
        let left = borne_out(&mut evidence, &seen, &assumed).unwrap();
        assert!(left.mean > 0.5 && left.mean < 1.0 && left.sd < 0.6, "{left:?}");
        for (cup, before) in evidence.photos[0].cups.iter().zip(&turned) {
            assert_abs_diff_eq!(cup.ph.value(), before.ph.value() + 0.3 * left.mean, epsilon = 1e-9);
            assert_abs_diff_eq!(cup.ph_sd, 0.02f64.hypot(2f64.sqrt() * 0.3), epsilon = 1e-9);
        }
        // A cup that is none of the ladder's.
        assert_eq!(borne_out(&mut told_as(&turned[..2]), &seen, &assumed), None);
        assert_eq!(borne_out(&mut told_as(&turned), &seen, &[]), None);
    }

    // Yellow, turning and purple: the one in the middle gets what the three say together.
    #[test]
    fn colours_of_a_photo_narrow_the_shared_error() {
        let ladder = |sds: f64| -> Vec<Rung> { [-1.5, 0.0, 1.5].map(|above| rung(above + 0.3 * sds, 0.02)).to_vec() };
        let assumed: Vec<Assumed> = (-12..=12).map(|i| 0.25 * f64::from(i)).map(|sds| Assumed { sds, rungs: ladder(sds) }).collect();
        let mut evidence = told_as(&ladder(0.0));
        let seen = |value: [f64; 3]| Seen { value, noise: [0.005; 3] };
        for (cup, value) in evidence.photos[0].cups.iter_mut().zip([[0.84, 0.75, 0.16], [0.56, 0.30, 0.27], [0.38, 0.12, 0.47]]) {
            (cup.rings, cup.white) = (vec![(0.1, seen(value))], Some(seen([0.87, 0.88, 0.87])));
        }
        let left = narrow(&mut evidence, &assumed).unwrap();
        assert!(left.sd > 0.1 && left.sd < 0.9 && left.mean.abs() < 3.0, "{left:?}");
        let middle = &evidence.photos[0].cups[1];
        assert_abs_diff_eq!(middle.ph.value(), rung(0.3 * left.mean, 0.02).ph.value(), epsilon = 1e-9);
    }

    // None of the cups turns: the shared error is told once.
    #[test]
    fn cups_that_say_nothing_keep_the_shared_error() {
        let ladder = |sds: f64| vec![rung(3.0 + 0.3 * sds, 0.04)];
        let assumed = [-1.0, 0.0, 1.0].map(|sds| Assumed { sds, rungs: ladder(sds) });
        let mut evidence = told_as(&ladder(0.0));
        borne_out(&mut evidence, &[1.0], &assumed).unwrap();
        assert_abs_diff_eq!(evidence.photos[0].cups[0].ph_sd, 0.04f64.hypot(0.3), epsilon = 1e-9);
    }

    #[test]
    fn impossible_colours_teach_nothing() {
        let assumed = [-1.0, 0.0, 1.0].map(|sds| Assumed { sds, rungs: vec![rung(0.3 * sds, 1e-3)] });
        assert_eq!(left(&evidence(), &[1e3], &[0], &assumed), Left { mean: 0.0, sd: 1.0 });
    }

    #[test]
    fn the_turn_is_told_in_ph() {
        let Finding::Turned { taken, taken_sd, seen, seen_sd } = finding(Left { mean: -1.5, sd: 0.4 }, 6.07, 0.3) else { panic!() };
        for (value, wanted) in [(taken, 6.07), (taken_sd, 0.3), (seen, 5.62), (seen_sd, 0.12)] {
            assert_abs_diff_eq!(value, wanted, epsilon = 1e-9);
        }
    }
}
