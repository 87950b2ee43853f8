//! Small photos that are whole, and what is asked of each damaged one.

use crate::pictures::{self, Exif, Picture, Random};
use image::ExtendedColorType;
use std::io::Cursor;
use std::time::{Duration, Instant};
use tiff::encoder::{Compression, DeflateLevel, TiffEncoder, colortype};
use tintpoint::indicator::catalogue;
use tintpoint::measurement;
use tintpoint::measurement::frame::Samples;
use tintpoint::measurement::reading::Reading;
use tintpoint::measurement::request::Request;
use tintpoint::photo::{Photo, PhotoError, decode};
use tintpoint::quantity::{Celsius, IonicStrength, Ph};
use tintpoint::scene::dye::{Lot, Medium, Sample};
use tintpoint::scene::options::{Level, Options};
use tintpoint::scene::{Photograph, photograph};

/// No damaged file may take longer.
const LONGEST: Duration = Duration::from_secs(10);

/// A whole photo file.
pub(crate) struct Whole {
    pub(crate) name: &'static str,
    pub(crate) bytes: Vec<u8>,
    /// Where what is needed of it ends: behind are only metadata, or nothing.
    pub(crate) end: usize,
}

fn whole(name: &'static str, bytes: Vec<u8>) -> Whole {
    Whole { name, end: bytes.len(), bytes }
}

/// Every kind of file that is read, in the ways it is coded.
pub(crate) fn wholes() -> Vec<Whole> {
    let scene = Picture::textured(24, 16);
    let exif = Exif::default().orientation(6).camera("Example", "One").taken("2026:04:03 12:34:56", "+01:00");
    let profile = moxcms::ColorProfile::new_display_p3().encode().unwrap();
    let jpegs = ["baseline-420", "baseline-411", "baseline-422", "baseline-440", "baseline-444", "stored-rgb"];
    let progressive = ["progressive-420", "progressive-444", "restarts-420"];
    let mut all: Vec<Whole> =
        jpegs.into_iter().chain(progressive).map(|name| whole(name, pictures::file(&format!("{name}.jpg")))).collect();
    all.extend([
        whole("jpeg with Exif and profile", Picture::quadrants(24, 16).jpeg(&exif.block(), Some(&profile))),
        whole("png with Exif", scene.png(&exif.block())),
        whole("png with profile", scene.png_with_profile(&profile)),
        whole("png with gamma", scene.png_with_chunk(b"gAMA", &60_000u32.to_be_bytes())),
        whole("16-bit png", pictures::png16(4, 3, &(0..36).map(|i| i * 1800).collect::<Vec<u16>>(), ExtendedColorType::Rgb16)),
        whole("webp with Exif", scene.webp(&exif.block())),
        whole("webp with profile", scene.webp_with_profile(&profile)),
        whole("tiff", scene.tiff()),
        whole("tiff with profile", scene.tiff_with_profile(&profile)),
        whole("16-bit tiff", pictures::tiff16(4, 3, &(0..36).map(|i| i * 1800).collect::<Vec<u16>>())),
        whole("lzw tiff", packed(&scene, Compression::Lzw)),
        whole("deflate tiff", packed(&scene, Compression::Deflate(DeflateLevel::Balanced))),
    ]);
    // Behind pixels and picture directory lie the directories of Exif.
    all.push(Whole { end: 0, ..whole("tiff with Exif", exif.tiff(&scene)) });
    all
}

/// An 8-bit TIFF in several strips, packed.
pub(crate) fn packed(picture: &Picture, compression: Compression) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut out).unwrap().with_compression(compression);
    let mut image = encoder.new_image::<colortype::RGB8>(picture.width as u32, picture.height as u32).unwrap();
    image.rows_per_strip(5).unwrap();
    image.write_data(&picture.rgb).unwrap();
    out.into_inner()
}

/// Decodes within the time that a damaged file may take.
pub(crate) fn timed(bytes: &[u8], what: &dyn Fn() -> String) -> Result<Photo, PhotoError> {
    let begun = Instant::now();
    let decoded = decode(bytes);
    assert!(begun.elapsed() < LONGEST, "{} took {:?}", what(), begun.elapsed());
    decoded
}

/// All that a reading can depend on: pixels, how they lie, their colour space.
pub(crate) fn content(photo: Photo) -> (usize, usize, String, Samples) {
    let frame = photo.frame;
    let lie = format!("{:?} {:?}", frame.orientation(), frame.space());
    (frame.upright_width(), frame.upright_height(), lie, frame.into_samples())
}

/// A reading within the time that a damaged photo may take.
pub(crate) fn read(photo: &Photo, what: &dyn Fn() -> String) -> Reading {
    let begun = Instant::now();
    let reading = measurement::read(&photo.frame, &Request::default());
    assert!(begun.elapsed() < LONGEST, "{} took {:?} to read", what(), begun.elapsed());
    for cup in &reading.cups {
        for ph in [cup.ph, cup.ph_low, cup.ph_high].into_iter().flatten() {
            assert!((0.0..=14.0).contains(&ph), "{}: {ph}", what());
        }
    }
    reading
}

/// A small photo of two cups that gives numbers.
pub(crate) fn readable() -> Photograph {
    let medium = Medium { ionic_strength: IonicStrength::new(0.3).unwrap(), temperature: Celsius::new(25.0).unwrap() };
    let lot = Lot::nominal(catalogue::usual());
    let cups = [6.3, 6.6].map(|ph| Sample { lot: lot.clone(), ph: Ph::new(ph).unwrap(), dose: 1.0, stain: 0.0 });
    photograph(&Options { width: 240, height: 180, ..Options::drawn(Level::Easy, cups.to_vec(), medium, 7) })
}

/// Bits flipped, pieces gone, doubled, zeroed or filled at random.
pub(crate) fn damaged(whole: &[u8], random: &mut Random) -> (String, Vec<u8>) {
    let mut bytes = whole.to_vec();
    let at = random.below(bytes.len());
    let length = 1 + random.below((bytes.len() - at).min(64));
    let what = match random.below(6) {
        0 => {
            let bit = random.below(8);
            bytes[at] ^= 1 << bit;
            format!("bit {bit} of byte {at} flipped")
        }
        1 => {
            bytes.drain(at..at + length);
            format!("bytes {at} to {} gone", at + length)
        }
        2 => {
            let again = bytes[at..at + length].to_vec();
            bytes.splice(at..at, again);
            format!("bytes {at} to {} doubled", at + length)
        }
        3 => {
            bytes[at..at + length].fill(0);
            format!("bytes {at} to {} zeroed", at + length)
        }
        4 => {
            bytes[at..at + length].iter_mut().for_each(|byte| *byte = random.byte());
            format!("bytes {at} to {} at random", at + length)
        }
        _ => {
            bytes.truncate(at);
            format!("cut at {at}")
        }
    };
    (what, bytes)
}
