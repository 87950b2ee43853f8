//! From a mixture over the base fraction to pH, interval, chances and state.

use tintpoint::measurement::estimate::Component;
use tintpoint::measurement::posterior::{HIGHEST, LOWEST, Posterior, Statement};
use tintpoint::measurement::reading::{Chance, State};
use tintpoint::measurement::request::Limits;
use tintpoint::measurement::state;
use tintpoint::quantity::Ph;

const PKA: f64 = 6.2;
const PKA_SD: f64 = 0.05;

fn one(fraction: f64, sd: f64) -> Vec<Component> {
    vec![Component { weight: 1.0, base_fraction: fraction, sd }]
}

fn stated(components: &[Component]) -> Statement {
    Posterior::new(components, PKA, PKA_SD).statement()
}

fn limits() -> Limits {
    Limits { nearing: Ph::new(5.0).unwrap(), spent: Ph::new(5.5).unwrap() }
}

#[test]
fn the_estimate_is_the_ph_of_the_fraction() {
    for fraction in [0.1f64, 0.3, 0.5, 0.7, 0.9] {
        let statement = stated(&one(fraction, 0.004));
        // pH = pKa' + log10(a / (1 - a)); the interval is narrow, so its middle cannot be far.
        let ph = PKA + (fraction / (1.0 - fraction)).log10();
        assert!((statement.ph.unwrap() - ph).abs() < 0.02, "{statement:?} instead of {ph}");
        assert!((statement.median - ph).abs() < 0.02);
    }
}

#[test]
fn interval_shrinks_with_the_deviation() {
    let widths: Vec<f64> = [0.1, 0.05, 0.02, 0.01, 0.001].iter().map(|sd| stated(&one(0.4, *sd)).interval.width().unwrap()).collect();
    assert!(widths.is_sorted_by(|a, b| a > b), "{widths:?}");
    // What is left is the pKa' alone: 95 % of a Gaussian are 2 x 1.96 deviations.
    assert!((widths[4] - 2.0 * 1.96 * PKA_SD).abs() < 0.02, "{widths:?}");
}

#[test]
fn interval_opens_where_the_dye_shows_nothing_more() {
    let low = stated(&one(0.003, 0.01));
    assert!(low.interval.low.is_none() && low.interval.high.is_some_and(|high| high < PKA - 1.0), "{low:?}");
    let high = stated(&one(0.997, 0.01));
    assert!(high.interval.high.is_none() && high.interval.low.is_some_and(|low| low > PKA + 1.0), "{high:?}");
    let nothing = stated(&one(0.5, 100.0));
    assert!(nothing.interval.low.is_none() && nothing.interval.high.is_none(), "{nothing:?}");
}

#[test]
fn a_single_figure_only_between_two_bounds() {
    let (mut closed, mut open) = (0, 0);
    for i in 1..200 {
        for sd in [0.003, 0.01, 0.03, 0.1, 0.3] {
            let statement = stated(&one(f64::from(i) / 200.0, sd));
            let bounds = statement.interval.low.zip(statement.interval.high);
            assert_eq!(statement.ph.is_some(), bounds.is_some(), "{statement:?}");
            if let (Some(ph), Some((low, high))) = (statement.ph, bounds) {
                assert!(LOWEST <= low && low < ph && ph < high && high <= HIGHEST, "{statement:?}");
                closed += 1;
            } else {
                open += 1;
            }
        }
    }
    assert!(closed > 300 && open > 100, "{closed} closed, {open} open");
}

#[test]
fn chances_sum_to_one_and_follow_the_fraction() {
    let chances: Vec<Chance> =
        [0.01, 0.05, 0.1, 0.15, 0.3, 0.6].iter().map(|a| Posterior::new(&one(*a, 0.01), PKA, PKA_SD).chance(&limits())).collect();
    for chance in &chances {
        assert!((chance.fresh + chance.nearing + chance.spent - 1.0).abs() < 1e-9, "{chance:?}");
        assert!(chance.fresh >= 0.0 && chance.nearing >= 0.0 && chance.spent >= 0.0);
    }
    assert!(chances.is_sorted_by(|a, b| a.spent <= b.spent && a.fresh >= b.fresh), "{chances:?}");
    assert!(chances[0].fresh > 0.9 && chances[5].spent > 0.99, "{chances:?}");
}

#[test]
fn a_shift_of_pka_moves_everything_by_itself() {
    // Whole steps of the grid, so that nothing but the ends can differ.
    let shift = 0.3;
    let (here, there) = (stated(&one(0.35, 0.02)), Posterior::new(&one(0.35, 0.02), PKA + shift, PKA_SD).statement());
    let moved = |a: Option<f64>, b: Option<f64>| b.unwrap() - a.unwrap();
    for by in [moved(here.ph, there.ph), moved(here.interval.low, there.interval.low), moved(here.interval.high, there.interval.high)] {
        assert!((by - shift).abs() < 1e-3, "{by}");
    }
    assert!((there.median - here.median - shift).abs() < 1e-3);
}

#[test]
fn a_mixture_of_two_holds_both() {
    let mut both = one(0.2, 0.01);
    both.extend(one(0.6, 0.01));
    let statement = stated(&both);
    for fraction in [0.2f64, 0.6] {
        assert!(statement.interval.contains(PKA + (fraction / (1.0 - fraction)).log10()), "{statement:?}");
    }
    // A light that hardly anything speaks for does not stretch the interval.
    both[1].weight = 1e-4;
    assert!(!stated(&both).interval.contains(PKA + (0.6f64 / 0.4).log10()));
}

#[test]
fn points_are_a_density() {
    let points = Posterior::new(&one(0.4, 0.03), PKA, PKA_SD).points();
    assert!(points.is_sorted_by(|a, b| a.0 < b.0) && points.iter().all(|p| p.1 >= 0.0));
    let area: f64 = points.windows(2).map(|p| 0.5 * (p[0].1 + p[1].1) * (p[1].0 - p[0].0)).sum();
    assert!((area - 1.0).abs() < 0.01, "{area}");
}

// Spent from a quarter on, fresh only from nine tenths on, unclear when both stay above a tenth.
#[test]
fn chances_to_states() {
    for (fresh, nearing, spent, expected) in [
        (1.0, 0.0, 0.0, State::Fresh),
        (0.9, 0.1, 0.0, State::Fresh),
        (0.9, 0.0, 0.1, State::Fresh),
        (0.89, 0.11, 0.0, State::Nearing),
        (0.5, 0.5, 0.0, State::Nearing),
        (0.05, 0.9, 0.05, State::Nearing),
        (0.05, 0.71, 0.24, State::Nearing),
        (0.05, 0.7, 0.25, State::Spent),
        (0.0, 0.75, 0.25, State::Spent),
        (0.1, 0.65, 0.25, State::Spent),
        (0.0, 0.0, 1.0, State::Spent),
        (0.11, 0.64, 0.25, State::Unclear),
        (0.5, 0.0, 0.5, State::Unclear),
        (0.89, 0.0, 0.11, State::Unclear),
        (0.1, 0.0, 0.9, State::Spent),
    ] {
        assert_eq!(state::judge(&Chance { fresh, nearing, spent }), expected, "{fresh} {nearing} {spent}");
    }
}
