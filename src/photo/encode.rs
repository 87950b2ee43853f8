//! Writes the program's own pictures as JPEG.

/// A picture that could not be encoded.
#[derive(Debug, thiserror::Error)]
#[error("cannot encode a picture of {width} x {height} pixels as JPEG: {cause}")]
pub struct EncodeError {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// What the encoder said.
    pub cause: String,
}

/// Interleaved 8-bit RGB, row by row, as a JPEG of this quality (1 to 100), without profile or metadata.
///
/// # Errors
/// [`EncodeError`] when the samples do not fill the size, or a side is longer than JPEG allows (65 535 pixels).
pub fn jpeg(width: usize, height: usize, rgb: &[u8], quality: u8) -> Result<Vec<u8>, EncodeError> {
    let failed = |cause: String| EncodeError { width, height, cause };
    if Some(rgb.len()) != width.checked_mul(height).and_then(|n| n.checked_mul(3)) {
        return Err(failed(format!("{} samples do not fill it", rgb.len())));
    }
    let side = |n: usize| u32::try_from(n).map_err(|_| failed("a side is too long".to_owned()));
    let mut bytes = Vec::new();
    let mut encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, quality.clamp(1, 100));
    encoder.encode(rgb, side(width)?, side(height)?, image::ExtendedColorType::Rgb8).map_err(|e| failed(e.to_string()))?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comes_back_as_it_went() {
        let rgb = [200u8, 90, 30].repeat(32 * 16);
        let bytes = jpeg(32, 16, &rgb, 95).unwrap();
        let back = image::load_from_memory(&bytes).unwrap().to_rgb8();
        assert_eq!(back.dimensions(), (32, 16));
        // An even colour survives within the rounding of the colour transform.
        assert!(back.as_raw().iter().zip(&rgb).all(|(a, b)| a.abs_diff(*b) <= 2));
    }

    #[test]
    fn refuses_what_does_not_fill_the_picture() {
        assert!(jpeg(32, 16, &[0; 10], 90).unwrap_err().to_string().contains("10 samples"));
    }
}
