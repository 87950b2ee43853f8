//! Encodes the program's own pictures: JPEG for demos, PNG of 16 bits for what a camera took.

/// A picture that could not be encoded.
#[derive(Debug, thiserror::Error)]
#[error("cannot encode a picture of {width} x {height} pixels: {cause}")]
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

/// Interleaved 16-bit RGB, row by row, as a PNG without profile or metadata, which is read as sRGB: exactly these levels come back.
///
/// # Errors
/// [`EncodeError`] when the samples do not fill the size.
pub fn png(width: usize, height: usize, rgb: &[u16]) -> Result<Vec<u8>, EncodeError> {
    let failed = |cause: String| EncodeError { width, height, cause };
    let (Ok(w), Ok(h)) = (u32::try_from(width), u32::try_from(height)) else { return Err(failed("a side is too long".to_owned())) };
    let picture = image::ImageBuffer::<image::Rgb<u16>, _>::from_raw(w, h, rgb.to_vec())
        .filter(|_| rgb.len() == 3 * width * height)
        .ok_or_else(|| failed(format!("{} samples do not fill it", rgb.len())))?;
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut bytes, image::ImageFormat::Png).map_err(|e| failed(e.to_string()))?;
    Ok(bytes.into_inner())
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

    // Sixteen bits are kept to the last one, on machines of either byte order.
    #[test]
    fn png_comes_back_exactly() {
        let rgb: Vec<u16> = (0..3 * 40 * 30).map(|i| (i * 17 + 3) as u16).collect();
        let photo = crate::photo::decode(&png(40, 30, &rgb).unwrap()).unwrap();
        assert_eq!((photo.frame.bits(), photo.frame.upright_width(), photo.frame.upright_height()), (16, 40, 30));
        assert!(photo.notices.is_empty());
        let level = |i: usize, c: usize| (f64::from(photo.frame.pixel(i % 40, i / 40)[c]) * 65_535.0).round() as u16;
        assert!((0..1200).all(|i| (0..3).all(|c| level(i, c) == rgb[3 * i + c])));
    }

    #[test]
    fn refuses_what_does_not_fill_the_picture() {
        assert!(png(32, 16, &[0; 10]).unwrap_err().to_string().contains("10 samples"));
        assert!(jpeg(32, 16, &[0; 10], 90).unwrap_err().to_string().contains("10 samples"));
    }
}
