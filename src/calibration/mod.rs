//! From photos of buffers to a profile. Pure: photos, dates and files come from outside.

pub mod ladder;
mod order;
pub mod shared;

pub use ladder::{CalibrationError, Finding, Rung, calibrate, evidence};
