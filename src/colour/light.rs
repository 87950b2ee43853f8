//! placeholder until tables land
use super::spectrum::Spectrum;
#[must_use]
pub fn black_body(kelvin: f64) -> Spectrum { Spectrum::from_fn(|nm| { let l = nm * 1e-9; l.powi(-5) / ((0.014_387_769 / (l * kelvin)).exp() - 1.0) * 1e-30 }) }
#[must_use]
pub fn daylight(kelvin: f64) -> Spectrum { black_body(kelvin) }
