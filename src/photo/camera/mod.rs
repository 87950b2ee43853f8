//! A photo from a camera: find it, choose a format, wait until the picture rests, average frames in linear light.
//!
//! What a driver is asked stands in `enabled.rs` and below it, built with the feature `camera` on Linux; without it `disabled.rs` has
//! the same functions and says so. Everything else is pure and built always: [`mod@format`] chooses, [`coding`] follows what the driver
//! declares about its colours, [`decode`] unpacks a frame, [`settle`] waits, [`lock`] keeps exposure and white balance, [`steady`]
//! compares the frames and [`average`] joins them.
//!
//! Webcams do not tell their tone curve. What they send is taken as sRGB-encoded, as a photo without a profile is; the fit has
//! unknowns for the rest.

pub mod average;
pub mod coding;
pub mod decode;
mod error;
pub mod format;
pub mod lock;
pub mod look;
pub mod settle;
pub mod steady;

#[cfg(not(all(feature = "camera", target_os = "linux")))]
mod disabled;
#[cfg(all(feature = "camera", target_os = "linux"))]
mod driver;
#[cfg(all(feature = "camera", target_os = "linux"))]
mod enabled;
#[cfg(all(feature = "camera", target_os = "linux"))]
mod grabber;

#[cfg(not(all(feature = "camera", target_os = "linux")))]
use disabled as system;
#[cfg(all(feature = "camera", target_os = "linux"))]
use enabled as system;

pub use error::{CameraError, system_code};

use super::Photo;
use format::{Offer, PixelFormat};

/// A device that takes pictures, or may be one but could not be asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Device {
    /// Its number, as in /dev/video0.
    pub number: u32,
    /// Its name as the driver tells it.
    pub name: String,
    /// What it offers.
    pub offers: Result<Vec<Offer>, CameraError>,
}

/// What is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Wanted {
    /// Number of the device; the first usable camera when absent.
    pub device: Option<u32>,
    /// Width and height in pixels; chosen when absent.
    pub size: Option<(u32, u32)>,
    /// How pixels lie; chosen when absent.
    pub format: Option<PixelFormat>,
}

/// Which camera takes the photo, and in which format.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Number of the device.
    pub number: u32,
    /// Its name.
    pub name: String,
    /// The format.
    pub offer: Offer,
}

/// A photo that was taken.
#[derive(Debug)]
pub struct Shot {
    /// The averaged picture, as from a file.
    pub photo: Photo,
    /// Its levels, interleaved RGB of 16 bits, to be saved.
    pub levels: Vec<u16>,
    /// Frames averaged.
    pub frames: usize,
    /// Frames unlike the rest, which did not count.
    pub odd: usize,
    /// The exposure was kept still.
    pub is_exposure_locked: bool,
    /// The white balance was kept still.
    pub is_white_balance_locked: bool,
}

/// All cameras of the machine, by number. Outputs and metadata nodes are left out; a node that could not be asked is kept with the reason.
///
/// # Errors
/// [`CameraError::NoCamera`], [`CameraError::NotBuilt`].
pub fn list() -> Result<Vec<Device>, CameraError> {
    system::list()
}

/// Chooses camera and format without taking anything yet.
///
/// # Errors
/// [`CameraError`] when there is no such camera, it may not be used, or offers nothing usable.
pub fn plan(wanted: &Wanted) -> Result<Plan, CameraError> {
    system::plan(wanted)
}

/// Takes `frames` frames (1 to [`average::MOST_FRAMES`]) once the picture rests, and averages them.
///
/// # Errors
/// [`CameraError`] when the camera is busy, goes away, sends nothing for some seconds, or the picture does not keep still.
pub fn take(plan: &Plan, frames: usize) -> Result<Shot, CameraError> {
    system::take(plan, frames)
}
