//! PNG, TIFF and WebP, by `image`: eight or sixteen bits as stored, opaque RGB only.

use super::error::Cause;
use super::format::Container;
use super::metadata::Facts;
use super::png_chunks::Chunks;
use super::unpacked::{Declared, Unpacked};
use super::{PhotoError, limits, tiff_raw};
use crate::measurement::frame::Samples;
use image::codecs::png::PngDecoder;
use image::codecs::tiff::TiffDecoder;
use image::codecs::webp::WebPDecoder;
use image::error::ImageError;
use image::{DynamicImage, ExtendedColorType, ImageDecoder, Limits};
use std::io::Cursor;

/// Unpacks a PNG.
///
/// # Errors
/// As for [`super::decode`].
pub(super) fn png(bytes: &[u8]) -> Result<Unpacked, PhotoError> {
    let chunks = Chunks::read(bytes)?;
    limits::check_size(u64::from(chunks.width), u64::from(chunks.height))?;
    if chunks.animated {
        return Err(PhotoError::Animated { container: Container::Png });
    }
    let mut decoder = PngDecoder::with_limits(Cursor::new(bytes), allowed(limits::ASIDE)).map_err(|e| fault(Container::Png, e))?;
    let profile = decoder.icc_profile().unwrap_or(None);
    let facts = chunks.exif.map(Facts::read).unwrap_or_default();
    unpack(Container::Png, decoder, facts, chunks.colour(profile), 0)
}

/// Unpacks a TIFF.
///
/// # Errors
/// As for [`super::decode`].
pub(super) fn tiff(bytes: &[u8]) -> Result<Unpacked, PhotoError> {
    if let Some(name) = tiff_raw::name(bytes) {
        return Err(PhotoError::Raw { name });
    }
    // The library unpacks JPEG inside a TIFF leniently: where it breaks off, half a picture would come out.
    if tiff_raw::is_jpeg_inside(bytes) {
        return Err(PhotoError::Variant { container: Container::Tiff, cause: "packed as JPEG".into() });
    }
    let mut decoder = TiffDecoder::new(Cursor::new(bytes)).map_err(|e| fault(Container::Tiff, e))?;
    if matches!(decoder.original_color_type(), ExtendedColorType::Cmyk8 | ExtendedColorType::Cmyk16) {
        return Err(PhotoError::Inks);
    }
    // A profile that is announced and cannot be had would leave wrong colours.
    let profile = decoder.icc_profile().map_err(|e| fault(Container::Tiff, e))?;
    let facts = Facts::read(bytes);
    // The library unpacks to memory of its own and copies that.
    let again = u64::from(decoder.color_type().bytes_per_pixel());
    unpack(Container::Tiff, decoder, facts, profile.into(), again)
}

/// Unpacks a WebP.
///
/// # Errors
/// As for [`super::decode`].
pub(super) fn webp(bytes: &[u8]) -> Result<Unpacked, PhotoError> {
    // RFC 9649, section 2.4: the length after `RIFF` counts what follows it.
    let declared = bytes.get(4..8).and_then(|four| four.try_into().ok()).map_or(0, u32::from_le_bytes);
    if u64::from(declared) + 8 > bytes.len() as u64 {
        return Err(PhotoError::Truncated { container: Container::Webp });
    }
    let mut decoder = WebPDecoder::new(Cursor::new(bytes)).map_err(|e| fault(Container::Webp, e))?;
    if decoder.has_animation() {
        return Err(PhotoError::Animated { container: Container::Webp });
    }
    let profile = decoder.icc_profile().map_err(|e| fault(Container::Webp, e))?;
    let facts = decoder.exif_metadata().ok().flatten().map(|block| Facts::read(&block)).unwrap_or_default();
    // Unpacked with alpha, whether there is any or not, and copied without.
    unpack(Container::Webp, decoder, facts, profile.into(), 4)
}

/// Limits of a decoder that may allocate so many bytes.
fn allowed(bytes: u64) -> Limits {
    let side = u32::try_from(limits::SIDE).ok();
    let mut allowed = Limits::no_limits();
    (allowed.max_image_width, allowed.max_image_height, allowed.max_alloc) = (side, side, Some(bytes));
    allowed
}

/// The pixels of a decoder that takes so many bytes a pixel beside those that it hands over.
fn unpack(
    container: Container,
    mut decoder: impl ImageDecoder,
    facts: Facts,
    colour: Declared,
    beside: u64,
) -> Result<Unpacked, PhotoError> {
    let (width, height) = decoder.dimensions();
    limits::check_size(u64::from(width), u64::from(height))?;
    limits::check_memory(u64::from(width), u64::from(height), u64::from(decoder.color_type().bytes_per_pixel()) + beside)?;
    if !decoder.color_type().has_color() {
        return Err(PhotoError::Greyscale);
    }
    decoder.set_limits(allowed(limits::MEMORY)).map_err(|e| fault(container, e))?;
    let samples = match DynamicImage::from_decoder(decoder).map_err(|e| fault(container, e))? {
        DynamicImage::ImageRgb8(pixels) => Samples::Eight(pixels.into_raw().into()),
        DynamicImage::ImageRgb16(pixels) => Samples::Sixteen(pixels.into_raw()),
        DynamicImage::ImageRgba8(pixels) => Samples::Eight(opaque(pixels.into_raw(), u8::MAX)?.into()),
        DynamicImage::ImageRgba16(pixels) => Samples::Sixteen(opaque(pixels.into_raw(), u16::MAX)?),
        _ => return Err(PhotoError::Variant { container, cause: "samples are not 8 or 16 bits".into() }),
    };
    Ok(Unpacked { width: width as usize, height: height as usize, samples, facts, colour })
}

/// RGB out of RGBA, in place. What lies behind a transparent pixel is not known, so there must be none: a cut-out
/// is no longer the photo that was taken.
fn opaque<Sample: Copy + PartialEq>(mut rgba: Vec<Sample>, full: Sample) -> Result<Vec<Sample>, PhotoError> {
    let pixels = rgba.len() / 4;
    let count = rgba.chunks_exact(4).filter(|pixel| pixel[3] != full).count();
    if count > 0 {
        return Err(PhotoError::Transparent { count });
    }
    for pixel in 0..pixels {
        rgba.copy_within(4 * pixel..4 * pixel + 3, 3 * pixel);
    }
    rgba.truncate(3 * pixels);
    Ok(rgba)
}

fn fault(container: Container, error: ImageError) -> PhotoError {
    if ends_early(&error) {
        return PhotoError::Truncated { container };
    }
    // As text, so that the library's types stay here.
    let cause: Cause = error.to_string().into();
    match error {
        ImageError::Unsupported(_) => PhotoError::Variant { container, cause },
        ImageError::Decoding(_) | ImageError::Limits(_) | ImageError::Parameter(_) | ImageError::Encoding(_) | ImageError::IoError(_) => {
            PhotoError::Damaged { container, cause }
        }
    }
}

/// True when an unexpected end lies anywhere in the chain of causes.
fn ends_early(error: &ImageError) -> bool {
    let mut link: Option<&(dyn std::error::Error + 'static)> = Some(error);
    while let Some(current) = link {
        let io = current.downcast_ref::<std::io::Error>();
        if io.is_some_and(|io| io.kind() == std::io::ErrorKind::UnexpectedEof) {
            return true;
        }
        link = current.source();
    }
    false
}
