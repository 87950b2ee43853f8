//! What a photo may ask of the machine, checked before anything is allocated.

use super::PhotoError;

/// Bytes of a file: 1 GiB. A 16-bit TIFF at the pixel limit is just over it, and no camera writes that.
pub const FILE_BYTES: u64 = 1 << 30;

/// Pixels a side: what JPEG can say in its two bytes (ITU-T T.81, B.2.2).
pub const SIDE: u64 = 65_535;

/// Pixels: 200 million, the largest sensors of phones; 600 MB once decoded. A fuzzer, which tries files by the thousand, gets a quarter of a million.
pub const PIXELS: u64 = if cfg!(fuzzing) { 250_000 } else { 200_000_000 };

/// Bytes that unpacking one picture may take: a few bytes of file can ask for a thousand times as much, and a gigabyte is what a small
/// machine can spare. Baseline JPEG and 8-bit PNG stay below it at the limit of pixels, ways that hold a picture twice do not.
pub(super) const MEMORY: u64 = 900_000_000;

/// Bytes of what is packed beside the pixels, such as a colour profile; those in use stay below 10 MB.
pub(super) const ASIDE: u64 = 64 << 20;

/// Checks a declared size.
///
/// # Errors
/// [`PhotoError::SideTooLong`] over 65 535 pixels a side, [`PhotoError::TooManyPixels`] over 200 million in all.
pub fn check_size(width: u64, height: u64) -> Result<(), PhotoError> {
    if width.max(height) > SIDE {
        return Err(PhotoError::SideTooLong { width, height, limit: SIDE });
    }
    if width * height > PIXELS {
        return Err(PhotoError::TooManyPixels { width, height, limit: PIXELS / 1_000_000 });
    }
    Ok(())
}

/// Checks what unpacking takes, by the bytes that each pixel needs at the peak.
///
/// # Errors
/// [`PhotoError::TooManyPixels`] over 900 MB.
pub(super) fn check_memory(width: u64, height: u64, bytes_a_pixel: u64) -> Result<(), PhotoError> {
    let pixels = MEMORY / bytes_a_pixel.max(1);
    if width * height > pixels { Err(PhotoError::TooManyPixels { width, height, limit: pixels / 1_000_000 }) } else { Ok(()) }
}
