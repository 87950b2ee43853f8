//! Decodes a photo file.

use super::PhotoError;
use crate::colour::space::PhotoSpace;
use crate::measurement::frame::{Frame, Orientation, Samples};
use std::path::Path;

/// A decoded photo and what its metadata tells.
#[derive(Debug)]
pub struct Photo {
    /// The pixels.
    pub frame: Frame,
    /// When it was taken, ISO 8601 as far as known.
    pub taken: Option<String>,
}

/// Reads and decodes one file.
///
/// # Errors
/// [`PhotoError`] when the file cannot be read or is no usable photo.
pub fn load(path: &Path) -> Result<Photo, PhotoError> {
    let bytes = std::fs::read(path).map_err(PhotoError::Unreadable)?;
    let image = image::load_from_memory(&bytes).map_err(|e| PhotoError::Damaged(e.to_string()))?.to_rgb8();
    let (width, height) = (image.width() as usize, image.height() as usize);
    let frame = Frame::new(width, height, Orientation::Upright, Samples::Eight(image.into_raw()), PhotoSpace::srgb())
        .map_err(|e| PhotoError::Damaged(e.to_string()))?;
    Ok(Photo { frame, taken: None })
}
