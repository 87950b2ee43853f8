//! What a profile promises, and what it leaves for the next photo.

use super::*;

fn profile(points: &[(f64, f64)]) -> Profile {
    let point = |&(error, half): &(f64, f64)| Point {
        photo: 1,
        cup: 1,
        ph: 6.0,
        read: Some(6.0 + error),
        interval: Interval { low: Some(6.0 + error - half), high: Some(6.0 + error + half) },
        is_used: true,
    };
    let indicator = crate::indicator::catalogue::usual();
    let evidence = Evidence { indicator, light: None, temperature: Celsius::STANDARD, photos: Vec::new() };
    Profile { date: None, camera: None, lot: None, note: None, evidence, points: points.iter().map(point).collect() }
}

// By hand: 0.1 and -0.2 are 0.158 as a root mean square; one that was left out does not count.
#[test]
fn the_error_told_is_that_of_the_buffers_used() {
    let mut of = profile(&[(0.1, 0.1), (-0.2, 0.1), (0.9, 0.1)]);
    of.points[2].is_used = false;
    assert!((of.left_out_rms().unwrap() - 0.025f64.sqrt()).abs() < 1e-9);
    assert!(profile(&[]).left_out_rms().is_none() && profile(&[]).promise().is_none());
}

// Buffers told 0.2 wrong once promised 0.13 beside a leave-one-out error of 0.28.
#[test]
fn no_promise_is_better_than_the_buffers_bear_out() {
    assert!((profile(&[(0.01, 0.1), (-0.02, 0.1), (0.01, 0.12)]).promise().unwrap() - 0.1).abs() < 1e-9);
    let wrong = profile(&[(0.2, 0.12), (-0.19, 0.13), (-0.19, 0.08), (-0.38, 0.25)]);
    assert!(wrong.promise().unwrap() > 0.5, "{:?}", wrong.promise());
}

/// Two lights before one camera, three to one, that differ in what they make of the dye's pKa'.
fn calibrated() -> Calibrated {
    let all = hypothesis::all(&PhotoSpace::srgb(), None);
    let belief = |h: &Hypothesis, weight: f64, pka: f64, misfit: f64| {
        let mut mean = SharedVector::zeros();
        mean[shared::PKA] = pka;
        let log_weight = f64::ln(weight);
        Belief { light: h.light, camera: h.camera, kind: h.kind, log_weight, mean, covariance: SharedMatrix::identity(), misfit }
    };
    let other = all.iter().find(|h| h.camera == all[0].camera && h.kind != all[0].kind).unwrap();
    let beliefs = vec![belief(&all[0], 0.25, 0.0, 0.2), belief(other, 0.75, 2.0, 0.4)];
    let ionic_strength = IonicStrength::new(0.1).unwrap();
    Calibrated { name: "shelf".to_owned(), indicator: crate::indicator::catalogue::usual(), ionic_strength, beliefs }
}

fn salt(value: f64) -> IonicStrength {
    IonicStrength::new(value).unwrap()
}

// By hand with the Davies equation at 25 C: from 0.1 to 0.4 mol/l the function goes from 0.2102 to 0.2674, times three and 0.5092.
#[test]
fn a_fifth_of_the_salt_error_stays_unsure() {
    let shift = -3.0 * 0.5092 * (0.2674 - 0.2102);
    let of = calibrated();
    assert!((of.salt_error(salt(0.4), Celsius::STANDARD) - shift).abs() < 2e-4);
    assert!((of.salt_unsure(salt(0.4), Celsius::STANDARD) + 0.2 * shift).abs() < 5e-5);
    assert!(of.salt_unsure(salt(0.1), Celsius::STANDARD).abs() < 1e-12);
    let told = |ionic_strength: f64| match of.notice(salt(ionic_strength), Celsius::STANDARD) {
        Notice::Calibrated { salt, .. } => salt,
        other => panic!("{other:?}"),
    };
    assert!(told(0.1).is_none() && (told(0.4).unwrap() - shift).abs() < 2e-4);
}

// Odds are shares of one: all that is believed, in the light of the profile or another, each with two misfits.
#[test]
fn the_odds_of_all_lights_come_to_one() {
    let of = calibrated();
    let total = |told: Option<LightKind>| {
        let (hypotheses, priors) = of.hypotheses(&PhotoSpace::srgb(), told);
        assert_eq!(hypotheses.len(), priors.len());
        priors.iter().map(|prior| (-0.5 * prior.offset).exp()).sum::<f64>()
    };
    assert!((total(None) - 1.0).abs() < 1e-9, "{}", total(None));
    // Told the kind of the light of three quarters, the other quarter of the fifth in the profile's own light loses its say.
    let told = 0.8 + 0.2 * (0.75 + 0.25 * (-hypothesis::TOLD).exp());
    assert!((total(Some(of.beliefs[1].kind)) - told).abs() < 1e-9);
    let (_, priors) = of.hypotheses(&PhotoSpace::srgb(), None);
    assert_eq!([0, 1, 2, 3].map(|k| (priors[k].misfit * 10.0).round() as i32), [2, 4, 4, 8]);
}

// By hand: 2 with three quarters is a mean of 1.5; 1.5 off with a quarter and 0.5 with three is a variance of 0.75 beside the lights' own 1.
#[test]
fn lights_that_disagree_leave_more_open() {
    let of = calibrated();
    let (mean, sd) = of.pka_shift();
    assert!((mean - 1.5 * of.indicator.pka_sd).abs() < 1e-9 && (sd - 1.75f64.sqrt() * of.indicator.pka_sd).abs() < 1e-9);
    let (log, mean, covariance, misfit) = of.abroad(of.beliefs[0].camera).unwrap();
    assert!(log.abs() < 1e-9 && (misfit - 0.35).abs() < 1e-9 && (mean[shared::PKA] - 1.5).abs() < 1e-9);
    assert!((covariance[(shared::PKA, shared::PKA)] - 1.75).abs() < 1e-9);
    assert!(of.abroad(of.beliefs[0].camera + 1).is_none());
    for (kind, weight) in of.lights() {
        let wanted = [0.25, 0.75].into_iter().zip(&of.beliefs).find(|(_, belief)| belief.kind == kind).map_or(0.0, |(weight, _)| weight);
        assert!((weight - wanted).abs() < 1e-9, "{kind:?}");
    }
}
