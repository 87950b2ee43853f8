//! The spectral model of a photo and its fit.
//!
//! One model for all cups of a photo: light, camera, tone and dye are shared, dose and base fraction belong to a cup.
//! It predicts *encoded* values, where the noise of a photo is nearly uniform and clipping is part of the prediction.

pub mod dye;
mod exponential;
pub mod fit;
pub mod forward;
pub mod hypothesis;
mod normal;
pub mod parameters;
mod symmetric;

/// Number of wavelengths of the model: 400 to 710 nm by 10.
pub const WAVES: usize = 32;

/// One value per wavelength of the model.
pub type Wave = [f64; WAVES];

/// Wavelength in nm of point `index`.
#[must_use]
pub fn nanometres(index: usize) -> f64 {
    400.0 + 10.0 * index as f64
}
