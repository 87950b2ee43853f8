//! Fits that are tried again from elsewhere.

use super::{MOST_STEPS, Problems};
use crate::measurement::model::fit::{Descent, Fit, Problem};
use crate::measurement::model::parameters::{self as prior, local};
use crate::measurement::share;

/// Fits that are tried again from other starting points: the first ones, and as many as the second figure says where that helped one of them. Of the twelve
/// best fits of 102 rendered photos of the named dye, without a profile, 23 came out lower by [`HELPED`], 14 of them behind three that did not. Left as they are, no pH of these photos moved by more than 0.016.
const RESTARTED: [usize; 2] = [3, 12];
/// Less than this in cost is taken for some more steps towards the same end.
const HELPED: f64 = 0.5;

/// Tries the best fits again from elsewhere: where they begin may lead to an end that is not the best, and without a profile all follow one. They come best first,
/// and may not be in that order any more.
pub(in crate::measurement) fn try_again(problem: &Problems<'_, '_>, fits: &mut Vec<(usize, Fit)>) {
    let mut done = 0;
    for end in RESTARTED.map(|count| count.min(fits.len())) {
        let again = share::map(&fits[done..end], |(h, fit)| (*h, restart(&problem(*h), fit)));
        let has_helped = fits[done..].iter().zip(&again).any(|((_, before), (_, after))| before.cost - after.cost > HELPED);
        fits.splice(done..end, again);
        done = end;
        if !has_helped {
            break;
        }
    }
}

/// A fit whose unknowns are all as near as this to those of another, in prior standard deviations, is on its way to the same end.
const SAME: f64 = 0.2;

/// Tries again with every cup half a pH unit lower and higher, and returns what is best.
fn restart(problem: &Problem<'_>, fit: &Fit) -> Fit {
    let mut best = fit.clone();
    let shift = 0.5 * std::f64::consts::LN_10 / prior::LOGIT.sd;
    for direction in [-shift, shift] {
        let mut unknowns = best.unknowns.clone();
        for cup in &mut unknowns.cups {
            cup[local::LOGIT] += direction;
        }
        let mut trial = problem.start(unknowns);
        let mut descent = Descent::new();
        for step in 0..MOST_STEPS {
            if trial.is_over || (step > 1 && trial.unknowns.is_near(&best.unknowns, SAME)) {
                break;
            }
            problem.step(&mut trial, &mut descent);
        }
        if trial.cost < best.cost - 0.01 {
            best = trial;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::super::fit_all;
    use super::super::tests::seen;
    use super::*;
    use crate::colour::space::PhotoSpace;
    use crate::indicator::catalogue;
    use crate::measurement::model::dye::DyeBasis;
    use crate::measurement::model::fit::Measured;
    use crate::measurement::model::forward::stain_shape;
    use crate::measurement::model::hypothesis;

    // Fits on either side of where each portion ends are moved away from their ends. Where none of the best three is moved, the fourth and the twelfth are left where they
    // are; where the third is moved, too, all three are brought to their ends. The thirteenth is left in any case.
    #[test]
    fn later_fits_are_tried_again_where_that_helped_an_earlier_one() {
        let hypotheses = hypothesis::all(&PhotoSpace::srgb(), None);
        let (bases, stain, nothing) = ([DyeBasis::new(catalogue::usual())], stain_shape(), Measured::default());
        let under = |h: usize, measured| Problem { hypothesis: &hypotheses[h], dyes: &bases, stain: &stain, measured, prior: None };
        let measured = seen(&under(18, &nothing));
        let problem = |h: usize| under(h, &measured);
        let ends = fit_all(&problem, hypotheses.len(), 18, |_| f64::INFINITY);
        for (moved, helped) in [(&[3, 11, 12][..], &[][..]), (&[2, 3, 11, 12], &[2, 3, 11])] {
            let mut fits = ends.clone();
            for k in moved {
                let mut unknowns = fits[*k].1.unknowns.clone();
                unknowns.cups[0][local::LOGIT] += 0.5;
                fits[*k].1 = problem(fits[*k].0).start(unknowns);
            }
            let before = fits.clone();
            try_again(&problem, &mut fits);
            assert_eq!(fits.len(), ends.len());
            for k in moved {
                let (end, start, now) = (ends[*k].1.cost, before[*k].1.cost, fits[*k].1.cost);
                assert!(start > end + 1.0, "{k}: {start} {end}");
                assert!(if helped.contains(k) { now < end + 0.2 } else { now >= start }, "{k}: from {start} to {now}, end {end}");
            }
            assert!(fits.iter().zip(&ends).all(|(a, b)| a.0 == b.0), "each in its place");
        }
    }
}
