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
    let (Some(read), Some(low), Some(high)) = (statement.ph, statement.interval.low, statement.interval.high) else { return failed };
    let off = read - ph.value();
    // The 95 % interval is 1.96 standard deviations to either side.
    let sd = (if off < 0.0 { high - read } else { read - low }) / 1.96;
    if off.abs() > SMALL && off.abs() > LIKELY * sd { Notice::CheckFailed { cup, off: Some(off) } } else { Notice::CheckHolds { cup, off } }
}
