//! JPEG: the segments are walked here, the pixels unpacked by zune-jpeg.
//!
//! The decoder is used directly and not through `image`, which runs it leniently: a photo that breaks off comes back
//! with a grey lower half and no word about it. Here it is strict, and before it runs the walk has made sure that the
//! picture reaches its end. The walk also finds size, Exif and profile, so that the headers are read only once.
//!
//! Known bias: where neighbouring chroma differs, the decoder rounds halves up when it spreads subsampled chroma. Against
//! libjpeg-turbo, which alternates, a noisy 4:2:0 photo comes out 0.4 of 255 levels higher in red, 0.3 lower in green and
//! 0.5 higher in blue; half of that for 4:2:2, nothing for 4:4:4 and on smooth areas. `tests/photo.rs` bounds it.

mod abreast;
mod bits;
mod codes;
mod scan;
mod source;
mod split;

use super::error::Cause;
use super::format::Container;
use super::limits::{check_memory, check_size};
use super::metadata::Facts;
use super::unpacked::Unpacked;
use super::{PhotoError, limits};
use crate::measurement::frame::{Pages, Samples};
use crate::measurement::share;
use scan::Coding;
use source::Source;
use split::{Outcome, Whole};
use zune_jpeg::JpegDecoder;
use zune_jpeg::errors::DecodeErrors;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

/// What the segments of a whole JPEG tell.
#[derive(Debug, Default)]
struct Segments<'a> {
    /// Bits a sample, width, height and number of components.
    frame: Option<(u8, u16, u16, u8)>,
    /// The way it is coded: lossless, hierarchical and arithmetic coding are not read.
    usual_coding: bool,
    progressive: bool,
    exif: Option<&'a [u8]>,
    /// Number of the part, and its bytes.
    profile: Vec<(u8, &'a [u8])>,
    /// Bytes of entropy-coded pixels.
    coded: usize,
    /// What does not hold together in them. Told last: a file of another kind, or one that is cut off, has its own name.
    fault: Option<&'static str>,
    /// The first large scan, still to be gone through.
    open: Option<Open<'a>>,
    /// Number of scans.
    scans: usize,
    /// Where the height stands in the file.
    height_at: usize,
}

/// A scan with the tables it was coded by.
#[derive(Debug)]
struct Open<'a> {
    coding: Coding,
    header: &'a [u8],
    coded: &'a [u8],
    /// Where it begins in the file.
    start: usize,
}

/// Scans of so many bytes take longer to go through than a thread takes to start. Only one is kept open with its tables: a small file may have thousands.
const LARGE_SCAN: usize = 1 << 16;

impl Segments<'_> {
    /// True when the codes of a scan can be gone through: of eight bits and sequential. In a progressive one they depend on the scans before.
    /// What is not read anyway is told by its own name.
    fn is_checked(&self) -> bool {
        self.usual_coding && !self.progressive && self.frame.is_some_and(|(bits, width, height, _)| bits == 8 && width > 0 && height > 0)
    }

    /// Unpacks it by two threads where there are two and it can be done.
    fn in_parts(&self, bytes: &[u8], (width, height): (usize, usize), pixels: &mut [u8]) -> Outcome {
        match self.whole(bytes, (width, height)).filter(|_| share::threads() > 1) {
            Some(whole) => whole.in_parts(pixels, |part, pixels| part_into(part, width, pixels)),
            None => Outcome::Whole,
        }
    }

    /// The whole of a JPEG with a single scan.
    fn whole<'a>(&'a self, bytes: &'a [u8], (width, height): (usize, usize)) -> Option<Whole<'a>> {
        let open = self.open.as_ref().filter(|_| self.scans == 1)?;
        Some(Whole {
            bytes,
            height_at: self.height_at,
            scan: open.header,
            start: open.start,
            coded: open.coded,
            coding: &open.coding,
            width,
            height,
        })
    }
}

/// Unpacks a whole JPEG to RGB as stored. The pixels go into the memory of `spare`, whose content does not matter; a photo that
/// is refused leaves it there.
///
/// # Errors
/// Truncation, damage, limits, greyscale, inks, and variants such as arithmetic coding.
pub(super) fn decode(bytes: &[u8], spare: &mut Pages) -> Result<Unpacked, PhotoError> {
    let segments = walk(bytes, LARGE_SCAN)?;
    let (bits, width, height, components) = segments.frame.ok_or_else(|| damaged("no frame header"))?;
    check_size(u64::from(width), u64::from(height))?;
    // Three bytes a pixel; a progressive one is held as coefficients too, two bytes for each of three channels at most.
    check_memory(u64::from(width), u64::from(height), if segments.progressive { 9 } else { 3 })?;
    if bits != 8 {
        return Err(PhotoError::Variant { container: Container::Jpeg, cause: format!("{bits} bits a sample").into() });
    }
    if !segments.usual_coding {
        return Err(PhotoError::Variant { container: Container::Jpeg, cause: "lossless, hierarchical or arithmetic coding".into() });
    }
    match components {
        1 => return Err(PhotoError::Greyscale),
        3 => {}
        4 => return Err(PhotoError::Inks),
        _ => return Err(damaged("number of components is not 1, 3 or 4")),
    }
    // Each 8 x 8 block of the finest channel takes at least one bit (its mean), so a picture with fewer bits
    // than blocks cannot be whole; a few bytes must not make us unpack gigabytes.
    let blocks = usize::from(width).div_ceil(8) * usize::from(height).div_ceil(8);
    if segments.coded.saturating_mul(8) < blocks {
        return Err(PhotoError::Truncated { container: Container::Jpeg });
    }
    if let Some(fault) = segments.fault {
        return Err(damaged(fault));
    }
    let (width, height) = (usize::from(width), usize::from(height));
    spare.size(3 * width * height);
    match segments.in_parts(bytes, (width, height), spare) {
        Outcome::Done => {}
        Outcome::Fault(fault) => return Err(damaged(fault)),
        Outcome::Whole => {
            // Each goes over all coded pixels, and neither needs the other.
            let check = || segments.open.as_ref().map_or(Ok(()), |open| open.coding.check(open.header, open.coded));
            let (decoded, checked) = share::beside(|| unpack(Source::new(bytes), (width, height), spare), check);
            checked.map_err(damaged)?;
            decoded?;
        }
    }
    let facts = segments.exif.map(Facts::read).unwrap_or_default();
    Ok(Unpacked { width, height, samples: Samples::Eight(std::mem::take(spare)), facts, colour: joined(segments.profile).into() })
}

/// Unpacks a part of a picture of that width; false where that cannot be done.
fn part_into(part: Source<'_>, width: usize, pixels: &mut [u8]) -> bool {
    unpack(part, (width, pixels.len() / (3 * width)), pixels).is_ok()
}

/// Unpacks a whole JPEG of that size.
fn unpack(source: Source<'_>, (width, height): (usize, usize), pixels: &mut [u8]) -> Result<(), PhotoError> {
    let side = limits::SIDE as usize;
    let lenient =
        DecoderOptions::default().set_strict_mode(false).set_max_width(side).set_max_height(side).jpeg_set_out_colorspace(ColorSpace::RGB);
    let mut decoder = JpegDecoder::new_with_options(source, lenient);
    // Some programs leave padding between headers, which harms nothing; with the pixels there is no leniency.
    decoder.decode_headers().map_err(fault)?;
    decoder.set_options(lenient.set_strict_mode(true));
    if decoder.dimensions() != Some((width, height)) {
        return Err(damaged("two frame headers of different size"));
    }
    decoder.decode_into(pixels).map_err(fault)
}

/// Goes from marker to marker up to the end of the picture (ITU-T T.81, B.1). The first scan of so many bytes is left to be gone through later.
fn walk(bytes: &[u8], large: usize) -> Result<Segments<'_>, PhotoError> {
    let mut segments = Segments::default();
    let mut coding = Coding::default();
    let mut at = 2;
    loop {
        let marker = next_marker(bytes, &mut at)?;
        match marker {
            0xD9 => return Ok(segments),
            // Markers without content: TEM, and restarts outside a scan.
            0x01 | 0xD0..=0xD7 => continue,
            // Reserved, or a second picture inside the first.
            0x00 | 0x02..=0xBF | 0xD8 => return Err(damaged("marker that cannot stand here")),
            _ => {}
        }
        let content = segment(bytes, &mut at)?;
        match marker {
            // Frame headers; 0xC4, 0xC8 and 0xCC are tables.
            0xC0..=0xC3 | 0xC5..=0xC7 | 0xC9..=0xCB | 0xCD..=0xCF => {
                coding.frame(content);
                if let [bits, h1, h0, w1, w0, components, ..] = *content {
                    // Baseline, extended and progressive, all with Huffman codes (T.81, table B.1).
                    segments.usual_coding = matches!(marker, 0xC0..=0xC2);
                    segments.progressive |= marker == 0xC2;
                    segments.height_at = at - content.len() + 1;
                    segments.frame = Some((bits, u16::from_be_bytes([w1, w0]), u16::from_be_bytes([h1, h0]), components));
                }
            }
            0xE1 if segments.exif.is_none() => segments.exif = content.strip_prefix(b"Exif\0\0"),
            0xE2 => {
                if let Some([part, _of, data @ ..]) = content.strip_prefix(b"ICC_PROFILE\0") {
                    segments.profile.push((*part, data));
                }
            }
            0xC4 => {
                coding.tables(content);
                if coding.has_too_many_tables() {
                    return Err(damaged("thousands of code tables"));
                }
            }
            0xDB => coding.quantisation(content),
            0xDD => coding.restarts(content),
            0xDA => {
                let start = at;
                segments.scans += 1;
                segments.coded += pass_scan(bytes, &mut at)?;
                let coded = &bytes[start..at];
                match segments.is_checked() && segments.fault.is_none() {
                    true if coded.len() >= large && segments.open.is_none() => {
                        segments.open = Some(Open { coding: coding.clone(), header: content, coded, start });
                    }
                    true => segments.fault = coding.check(content, coded).err(),
                    false => {}
                }
            }
            _ => {}
        }
    }
}

/// The byte after the next run of 0xFF; what lies before it is skipped, as decoders do.
fn next_marker(bytes: &[u8], at: &mut usize) -> Result<u8, PhotoError> {
    let rest = bytes.get(*at..).unwrap_or_default();
    let start = memchr::memchr(0xFF, rest).ok_or_else(truncated)?;
    let filled = rest[start..].iter().position(|&b| b != 0xFF).ok_or_else(truncated)?;
    *at += start + filled + 1;
    Ok(rest[start + filled])
}

/// Content of the segment whose length field lies at `at`.
fn segment<'a>(bytes: &'a [u8], at: &mut usize) -> Result<&'a [u8], PhotoError> {
    let field = bytes.get(*at..*at + 2).ok_or_else(truncated)?;
    let length = usize::from(u16::from_be_bytes([field[0], field[1]]));
    if length < 2 {
        return Err(damaged("segment shorter than its own length field"));
    }
    let content = bytes.get(*at + 2..*at + length).ok_or_else(truncated)?;
    *at += length;
    Ok(content)
}

/// Goes over entropy-coded bytes up to the marker that ends them; returns how many there are. Restart markers
/// must count 0 to 7 over and over, or a piece is missing.
fn pass_scan(bytes: &[u8], at: &mut usize) -> Result<usize, PhotoError> {
    let start = *at;
    let mut restarts = 0u8;
    loop {
        let rest = bytes.get(*at..).unwrap_or_default();
        let here = memchr::memchr(0xFF, rest).ok_or_else(truncated)?;
        match *rest.get(here + 1).ok_or_else(truncated)? {
            0x00 => *at += here + 2,
            0xFF => *at += here + 1,
            marker @ 0xD0..=0xD7 => {
                if marker & 7 != restarts & 7 {
                    return Err(damaged("restart markers out of order"));
                }
                restarts = restarts.wrapping_add(1);
                *at += here + 2;
            }
            _ => {
                *at += here;
                return Ok(*at - start);
            }
        }
    }
}

/// The profile from its parts in the order of their numbers (ICC.1:2022, annex B.4).
fn joined(mut parts: Vec<(u8, &[u8])>) -> Option<Vec<u8>> {
    parts.sort_by_key(|(part, _)| *part);
    (!parts.is_empty()).then(|| parts.into_iter().flat_map(|(_, data)| data).copied().collect())
}

fn truncated() -> PhotoError {
    PhotoError::Truncated { container: Container::Jpeg }
}

fn damaged(cause: &'static str) -> PhotoError {
    PhotoError::Damaged { container: Container::Jpeg, cause: cause.into() }
}

fn fault(error: DecodeErrors) -> PhotoError {
    match error {
        DecodeErrors::ExhaustedData | DecodeErrors::FormatStatic("Premature end of buffer") => truncated(),
        DecodeErrors::Unsupported(_) => PhotoError::Variant { container: Container::Jpeg, cause: cause(&error) },
        other => PhotoError::Damaged { container: Container::Jpeg, cause: cause(&other) },
    }
}

/// The decoder's words; its type stays here.
fn cause(error: &DecodeErrors) -> Cause {
    format!("{error:?}").into()
}

#[cfg(test)]
mod tests {
    use super::super::encode;
    use super::*;
    use std::path::Path;

    /// How many ways there are to part a JPEG; its pixels must be those of the whole in all of them.
    fn parted(bytes: &[u8]) -> usize {
        let segments = walk(bytes, 0).unwrap();
        let (_, width, height, _) = segments.frame.unwrap();
        let size = (usize::from(width), usize::from(height));
        let mut pixels = vec![0; 3 * size.0 * size.1];
        unpack(Source::new(bytes), size, &mut pixels).unwrap();
        let Some(whole) = segments.whole(bytes, size) else { return 0 };
        split::tests::at_every_seam(&whole, &pixels, |part, pixels| part_into(part, size.0, pixels))
    }

    #[test]
    fn parts_have_the_pixels_of_the_whole() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/pictures/jpeg");
        let given = |name: &str| parted(&std::fs::read(folder.join(name)).unwrap());
        // 27 rows of pixels in MCUs of eight rows; 117 in MCUs of sixteen.
        for (name, seams) in
            [("baseline-444", 2), ("baseline-422", 2), ("baseline-411", 2), ("stored-rgb", 2), ("tall-420", 6), ("tall-440", 6)]
        {
            let found = given(&format!("{name}.jpg"));
            assert!(found >= seams, "{name}: {found}");
        }
        assert_eq!((given("restarts-420.jpg"), given("progressive-420.jpg")), (0, 0));
        // Noise has long codes, and bytes of ones.
        let mut seed = 7u32;
        for (width, height, quality) in [(33, 250, 97), (200, 64, 60), (17, 129, 30)] {
            let noise: Vec<u8> = (0..3 * width * height)
                .map(|_| {
                    seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    (seed >> 24) as u8
                })
                .collect();
            assert!(parted(&encode::jpeg(width, height, &noise, quality).unwrap()) > 2);
        }
    }
}
