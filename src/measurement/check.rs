//! Does a profile still hold? One cup of known pH in the photo tells.

use super::estimate::CupEstimate;
use super::posterior::{Posterior, Statement};
use super::profile::Calibrated;
use super::request::Request;
use super::warning::Notice;
use crate::indicator::equilibrium::pka_at;
use crate::quantity::{Interval, Ph};

/// A drift up to this is corrected, pH: three times what a reading in the same light is off by (measured on the bench's sessions).
const SMALL: f64 = 0.15;
/// A larger one still is when the reading itself is that uncertain: standard deviations.
const LIKELY: f64 = 3.0;

/// A known pH further than this inside a bound tells nothing: an error as large as a plain reading's largest would not show.
const SHOWS: f64 = 0.5;

/// Compares what a cup reads by the profile with the pH that was told; the cup holds a buffer with the salt of the profile's.
#[must_use]
pub fn judge(request: &Request, calibrated: &Calibrated, cup: usize, ph: Ph, estimate: Option<&CupEstimate>) -> Notice {
    let Some(estimate) = estimate else { return Notice::CheckFailed { cup, off: None } };
    let pka = pka_at(calibrated.indicator, calibrated.ionic_strength, request.temperature);
    compare(cup, ph.value(), &Posterior::new(&estimate.components, pka, 0.0).statement())
}

/// Two-sided where the cup has a pH, one-sided where it only has a bound.
fn compare(cup: usize, told: f64, read: &Statement) -> Notice {
    let Interval { low, high } = read.interval;
    if let (Some(ph), Some(low), Some(high)) = (read.ph, low, high) {
        let off = ph - told;
        // The 95 % interval is 1.96 standard deviations to either side.
        let sd = (if off < 0.0 { high - ph } else { ph - low }) / 1.96;
        let is_belied = off.abs() > SMALL && off.abs() > LIKELY * sd;
        return match is_belied {
            true => Notice::CheckFailed { cup, off: Some(off) },
            // Near the end of what the dye shows an interval may be closed and yet too wide to tell anything.
            false if high - low > 2.0 * SHOWS => Notice::CheckSilent { cup },
            false => Notice::CheckHolds { cup, off: Some(off) },
        };
    }
    // How far the pH lies inside the bound, below 0 outside, and what it is off by then.
    let (inside, off) = match (low, high) {
        (None, Some(high)) => (high - told, high - told),
        (Some(low), None) => (told - low, low - told),
        _ => return Notice::CheckSilent { cup },
    };
    if inside < -SMALL {
        Notice::CheckFailed { cup, off: Some(off) }
    } else if inside > SHOWS {
        Notice::CheckSilent { cup }
    } else {
        Notice::CheckHolds { cup, off: None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bound(low: Option<f64>, high: Option<f64>) -> Statement {
        Statement { ph: None, interval: Interval { low, high }, median: 4.5 }
    }

    #[test]
    fn a_bound_is_tested_on_its_one_side() {
        let code = |told, low, high| compare(1, told, &bound(low, high)).code();
        assert_eq!(code(5.4, None, Some(5.0)), "check-failed");
        assert_eq!(code(5.1, None, Some(5.0)), "check-holds");
        assert_eq!(code(4.8, None, Some(5.0)), "check-holds");
        assert_eq!(code(4.0, None, Some(5.0)), "check-silent");
        assert_eq!(code(6.8, Some(7.2), None), "check-failed");
        assert_eq!(code(7.4, Some(7.2), None), "check-holds");
        assert_eq!(code(9.0, Some(7.2), None), "check-silent");
        assert_eq!(code(6.0, None, None), "check-silent");
        assert_eq!(compare(1, 5.4, &bound(None, Some(5.0))), Notice::CheckFailed { cup: 1, off: Some(5.0 - 5.4) });
    }

    #[test]
    fn a_ph_is_tested_on_both() {
        let read = Statement { ph: Some(6.0), interval: Interval { low: Some(5.9), high: Some(6.1) }, median: 6.0 };
        assert_eq!(compare(1, 6.1, &read).code(), "check-holds");
        assert_eq!(compare(1, 6.2, &read).code(), "check-failed");
        let wide = Statement { ph: Some(3.7), interval: Interval { low: Some(2.2), high: Some(4.3) }, median: 3.7 };
        assert_eq!(compare(1, 3.2, &wide).code(), "check-silent");
        assert_eq!(compare(1, 6.2, &wide).code(), "check-failed");
        assert_eq!(compare(1, 5.8, &read).code(), "check-failed");
        // As far off, but no more than the reading itself may be.
        let wide = Statement { interval: Interval { low: Some(5.6), high: Some(6.4) }, ..read };
        assert_eq!(compare(1, 6.2, &wide).code(), "check-holds");
    }
}
