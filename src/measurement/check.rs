//! Does a profile still hold? One cup of known pH in the photo tells.

use super::estimate::CupEstimate;
use super::posterior::Posterior;
use super::profile::Calibrated;
use super::request::Request;
use super::warning::Notice;
use crate::indicator::equilibrium::pka_at;
use crate::quantity::Ph;

/// A drift up to this is corrected, pH: three times what a reading in the same light is off by (measured on the bench's sessions).
const SMALL: f64 = 0.15;
/// A larger one still is when the reading itself is that uncertain: standard deviations.
const LIKELY: f64 = 3.0;

/// Compares what a cup reads by the profile with the pH that was told; the cup holds a buffer with the salt of the profile's.
#[must_use]
pub fn judge(request: &Request, calibrated: &Calibrated, cup: usize, ph: Ph, estimate: Option<&CupEstimate>) -> Notice {
    let failed = Notice::CheckFailed { cup, off: None };
    let Some(estimate) = estimate else { return failed };
    let pka = pka_at(calibrated.indicator, calibrated.ionic_strength, request.temperature);
    let statement = Posterior::new(&estimate.components, pka, 0.0).statement();
    let told = ph.value();
    let (read, low, high) = match (statement.ph, statement.interval.low, statement.interval.high) {
        (Some(read), Some(low), Some(high)) => (read, low, high),
        (_, None, None) => return failed,
        (_, low, high) => return beyond(cup, told, low, high),
    };
    let off = read - told;
    // The 95 % interval is 1.96 standard deviations to either side.
    let sd = (if off < 0.0 { high - read } else { read - low }) / 1.96;
    if off.abs() > SMALL && off.abs() > LIKELY * sd { Notice::CheckFailed { cup, off: Some(off) } } else { Notice::CheckHolds { cup, off } }
}

/// A cup beyond the turn has a bound only: it may belie the profile, but bears out no more than that it is beyond.
fn beyond(cup: usize, told: f64, low: Option<f64>, high: Option<f64>) -> Notice {
    let below = low.map_or(0.0, |low| (low - told).max(0.0));
    let above = high.map_or(0.0, |high| (high - told).min(0.0));
    let off = below + above;
    if off.abs() > SMALL { Notice::CheckFailed { cup, off: Some(off) } } else { Notice::CheckSilent { cup } }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Before, every cup without a pH of its own made the photo refused.
    #[test]
    fn beyond_the_turn_a_cup_belies_or_says_nothing() {
        assert_eq!(beyond(2, 4.01, None, Some(4.9)), Notice::CheckSilent { cup: 2 });
        assert_eq!(beyond(2, 5.0, None, Some(4.9)), Notice::CheckSilent { cup: 2 });
        assert!(matches!(beyond(2, 6.86, None, Some(4.9)), Notice::CheckFailed { cup: 2, off: Some(off) } if (off + 1.96).abs() < 1e-9));
        assert!(matches!(beyond(1, 4.01, Some(7.2), None), Notice::CheckFailed { cup: 1, off: Some(off) } if (off - 3.19).abs() < 1e-9));
        assert_eq!(beyond(1, 9.18, Some(7.2), None), Notice::CheckSilent { cup: 1 });
    }
}
