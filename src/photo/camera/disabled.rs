//! No cameras in this build: every call says so.

use super::{CameraError, Device, Plan, Shot, Wanted};

pub(super) fn list() -> Result<Vec<Device>, CameraError> {
    Err(CameraError::NotBuilt)
}

pub(super) fn plan(_wanted: &Wanted) -> Result<Plan, CameraError> {
    Err(CameraError::NotBuilt)
}

pub(super) fn take(_plan: &Plan, _frames: usize) -> Result<Shot, CameraError> {
    Err(CameraError::NotBuilt)
}
