//! Pictures built in code, and the few that only an outside encoder can make.

// Each test binary takes what it needs of it.
#![allow(dead_code)]

use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngEncoder;
use image::codecs::tiff::TiffEncoder;
use image::codecs::webp::WebPEncoder;
use image::{ExtendedColorType, ImageEncoder};
use std::io::Cursor;
use tintpoint::measurement::frame::Orientation;

/// An 8-bit RGB picture.
#[derive(Clone)]
pub(crate) struct Picture {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) rgb: Vec<u8>,
}

impl Picture {
    /// No two pixels alike in a regular way, from a fixed seed.
    pub(crate) fn textured(width: usize, height: usize) -> Self {
        let mut random = Random::new(11);
        Picture { width, height, rgb: (0..3 * width * height).map(|_| random.byte()).collect() }
    }

    /// Four flat colours, for codecs that lose detail.
    pub(crate) fn quadrants(width: usize, height: usize) -> Self {
        let colours = [[200, 60, 50], [60, 180, 70], [50, 70, 190], [180, 180, 60]];
        let at = |x: usize, y: usize| colours[2 * usize::from(2 * y >= height) + usize::from(2 * x >= width)];
        Picture { width, height, rgb: (0..width * height).flat_map(|i| at(i % width, i / width)).collect() }
    }

    pub(crate) fn pixel(&self, x: usize, y: usize) -> [u8; 3] {
        let at = 3 * (y * self.width + x);
        [self.rgb[at], self.rgb[at + 1], self.rgb[at + 2]]
    }

    /// As a camera held in the way of an Exif orientation would store this upright scene.
    pub(crate) fn turned(&self, number: u32) -> Picture {
        let orientation = Orientation::from_exif(number);
        let (width, height) = if orientation.swaps_sides() { (self.height, self.width) } else { (self.width, self.height) };
        let mut rgb = vec![0; self.rgb.len()];
        for y in 0..self.height {
            for x in 0..self.width {
                let (sx, sy) = orientation.stored(x, y, width, height);
                let at = 3 * (sy * width + sx);
                rgb[at..at + 3].copy_from_slice(&self.pixel(x, y));
            }
        }
        Picture { width, height, rgb }
    }

    fn encode(&self, encoder: impl ImageEncoder) {
        encoder.write_image(&self.rgb, self.width as u32, self.height as u32, ExtendedColorType::Rgb8).unwrap();
    }

    pub(crate) fn jpeg(&self, exif: &[u8], icc: Option<&[u8]>) -> Vec<u8> {
        let mut out = Vec::new();
        let mut encoder = JpegEncoder::new_with_quality(&mut out, 95);
        if !exif.is_empty() {
            encoder.set_exif_metadata(exif.to_vec()).unwrap();
        }
        if let Some(icc) = icc {
            encoder.set_icc_profile(icc.to_vec()).unwrap();
        }
        self.encode(encoder);
        out
    }

    pub(crate) fn png(&self, exif: &[u8]) -> Vec<u8> {
        let mut out = Vec::new();
        let mut encoder = PngEncoder::new(&mut out);
        if !exif.is_empty() {
            encoder.set_exif_metadata(exif.to_vec()).unwrap();
        }
        self.encode(encoder);
        out
    }

    pub(crate) fn png_with_profile(&self, icc: &[u8]) -> Vec<u8> {
        let mut out = Vec::new();
        let mut encoder = PngEncoder::new(&mut out);
        encoder.set_icc_profile(icc.to_vec()).unwrap();
        self.encode(encoder);
        out
    }

    /// With one more chunk behind the header.
    pub(crate) fn png_with_chunk(&self, kind: &[u8; 4], content: &[u8]) -> Vec<u8> {
        let plain = self.png(&[]);
        let mut chunk = (content.len() as u32).to_be_bytes().to_vec();
        chunk.extend(kind);
        chunk.extend(content);
        chunk.extend(crc(&chunk[4..]).to_be_bytes());
        // Signature 8, header chunk 25.
        [&plain[..33], &chunk, &plain[33..]].concat()
    }

    pub(crate) fn webp(&self, exif: &[u8]) -> Vec<u8> {
        let mut out = Vec::new();
        let mut encoder = WebPEncoder::new_lossless(&mut out);
        if !exif.is_empty() {
            encoder.set_exif_metadata(exif.to_vec()).unwrap();
        }
        self.encode(encoder);
        out
    }

    pub(crate) fn webp_with_profile(&self, icc: &[u8]) -> Vec<u8> {
        let mut out = Vec::new();
        let mut encoder = WebPEncoder::new_lossless(&mut out);
        encoder.set_icc_profile(icc.to_vec()).unwrap();
        self.encode(encoder);
        out
    }

    pub(crate) fn tiff(&self) -> Vec<u8> {
        let mut out = Cursor::new(Vec::new());
        self.encode(TiffEncoder::new(&mut out));
        out.into_inner()
    }

    pub(crate) fn tiff_with_profile(&self, icc: &[u8]) -> Vec<u8> {
        let mut out = Cursor::new(Vec::new());
        let mut encoder = TiffEncoder::new(&mut out);
        encoder.set_icc_profile(icc.to_vec()).unwrap();
        self.encode(encoder);
        out.into_inner()
    }
}

/// A file of `tests/pictures/jpeg`, described there.
pub(crate) fn file(name: &str) -> Vec<u8> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/pictures/jpeg").join(name);
    std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// A binary pixmap of that folder.
pub(crate) fn pixmap(name: &str) -> Picture {
    let bytes = file(name);
    let fields: Vec<&[u8]> = bytes.splitn(4, |&b| b == b'\n').collect();
    let size: Vec<usize> = std::str::from_utf8(fields[1]).unwrap().split(' ').map(|side| side.parse().unwrap()).collect();
    Picture { width: size[0], height: size[1], rgb: fields[3].to_vec() }
}

/// A 16-bit PNG of any colour type.
pub(crate) fn png16(width: u32, height: u32, levels: &[u16], kind: ExtendedColorType) -> Vec<u8> {
    let mut out = Vec::new();
    let bytes: Vec<u8> = levels.iter().flat_map(|level| level.to_ne_bytes()).collect();
    PngEncoder::new(&mut out).write_image(&bytes, width, height, kind).unwrap();
    out
}

/// A 16-bit RGB TIFF.
pub(crate) fn tiff16(width: u32, height: u32, levels: &[u16]) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    let bytes: Vec<u8> = levels.iter().flat_map(|level| level.to_ne_bytes()).collect();
    TiffEncoder::new(&mut out).write_image(&bytes, width, height, ExtendedColorType::Rgb16).unwrap();
    out.into_inner()
}

/// One entry of a directory: tag, type, count, bytes of its value.
type Entry = (u16, u16, u32, Vec<u8>);

/// An Exif block under construction (TIFF 6.0 and CIPA DC-008), little-endian.
#[derive(Clone, Default)]
pub(crate) struct Exif {
    main: Vec<Entry>,
    exif: Vec<Entry>,
    interoperability: Vec<Entry>,
}

impl Exif {
    pub(crate) fn orientation(mut self, number: u32) -> Self {
        self.main.push(short(0x0112, number as u16));
        self
    }

    pub(crate) fn camera(mut self, make: &str, model: &str) -> Self {
        self.main.push(ascii(0x010F, make));
        self.main.push(ascii(0x0110, model));
        self
    }

    pub(crate) fn taken(mut self, moment: &str, offset: &str) -> Self {
        self.exif.push(ascii(0x9003, moment));
        self.exif.push(ascii(0x9011, offset));
        self
    }

    pub(crate) fn flash(mut self, number: u16) -> Self {
        self.exif.push(short(0x9209, number));
        self
    }

    pub(crate) fn colour_space(mut self, number: u16) -> Self {
        self.exif.push(short(0xA001, number));
        self
    }

    pub(crate) fn interoperability(mut self, mark: &str) -> Self {
        self.interoperability.push(ascii(0x0001, mark));
        self
    }

    pub(crate) fn block(&self) -> Vec<u8> {
        let mut out = b"II*\0\x08\0\0\0".to_vec();
        self.directories(&mut out, Vec::new());
        out
    }

    /// A whole TIFF file of the picture with these entries.
    pub(crate) fn tiff(&self, picture: &Picture) -> Vec<u8> {
        let mut out = b"II*\0\0\0\0\0".to_vec();
        out.extend(&picture.rgb);
        out.resize(out.len().next_multiple_of(2), 0);
        let start = out.len() as u32;
        out[4..8].copy_from_slice(&start.to_le_bytes());
        let bits = (0x0102, 3, 3, [8u16, 8, 8].iter().flat_map(|b| b.to_le_bytes()).collect());
        let image = vec![
            long(0x0100, picture.width as u32),
            long(0x0101, picture.height as u32),
            bits,
            short(0x0103, 1),
            short(0x0106, 2),
            long(0x0111, 8),
            short(0x0115, 3),
            long(0x0116, picture.height as u32),
            long(0x0117, picture.rgb.len() as u32),
        ];
        self.directories(&mut out, image);
        out
    }

    /// Directories are laid one behind the other, each followed by its values; children first get their places.
    fn directories(&self, out: &mut Vec<u8>, mut main: Vec<Entry>) {
        main.extend(self.main.clone());
        let mut exif = self.exif.clone();
        // The pointers have a fixed size, so the places follow from the sizes alone.
        main.push(long(0x8769, 0));
        if !self.interoperability.is_empty() {
            exif.push(long(0xA005, 0));
        }
        let exif_at = out.len() + size(&main);
        let interoperability_at = exif_at + size(&exif);
        set(&mut main, 0x8769, exif_at);
        set(&mut exif, 0xA005, interoperability_at);
        write(out, main);
        write(out, exif);
        write(out, self.interoperability.clone());
    }
}

/// A little-endian RGB TIFF of one strip, whatever that holds; compression by its number in TIFF 6.0.
pub(crate) fn tiff_of(width: u32, height: u32, bits: &[u16], compression: u16, strip: &[u8]) -> Vec<u8> {
    let mut out = b"II*\0\0\0\0\0".to_vec();
    out.extend(strip);
    out.resize(out.len().next_multiple_of(2), 0);
    let start = out.len() as u32;
    out[4..8].copy_from_slice(&start.to_le_bytes());
    let mut entries = vec![
        long(0x0100, width),
        long(0x0101, height),
        (0x0102, 3, bits.len() as u32, bits.iter().flat_map(|b| b.to_le_bytes()).collect()),
        short(0x0103, compression),
        short(0x0106, 2),
        long(0x0111, 8),
        short(0x0115, bits.len() as u16),
        long(0x0116, height),
        long(0x0117, strip.len() as u32),
    ];
    if bits.len() == 4 {
        // The fourth sample is alpha that the colours were not multiplied with.
        entries.push(short(0x0152, 2));
    }
    write(&mut out, entries);
    out
}

fn size(entries: &[Entry]) -> usize {
    6 + 12 * entries.len() + entries.iter().map(|e| if e.3.len() > 4 { e.3.len().next_multiple_of(2) } else { 0 }).sum::<usize>()
}

fn set(entries: &mut [Entry], tag: u16, place: usize) {
    for entry in entries.iter_mut().filter(|entry| entry.0 == tag) {
        entry.3 = (place as u32).to_le_bytes().to_vec();
    }
}

fn write(out: &mut Vec<u8>, mut entries: Vec<Entry>) {
    entries.sort_by_key(|entry| entry.0);
    let mut values_at = out.len() + 6 + 12 * entries.len();
    let mut values = Vec::new();
    out.extend((entries.len() as u16).to_le_bytes());
    for (tag, kind, count, mut value) in entries {
        out.extend(tag.to_le_bytes());
        out.extend(kind.to_le_bytes());
        out.extend(count.to_le_bytes());
        if value.len() <= 4 {
            value.resize(4, 0);
            out.extend(value);
        } else {
            value.resize(value.len().next_multiple_of(2), 0);
            out.extend((values_at as u32).to_le_bytes());
            values_at += value.len();
            values.extend(value);
        }
    }
    out.extend([0; 4]);
    out.extend(values);
}

fn short(tag: u16, value: u16) -> Entry {
    (tag, 3, 1, value.to_le_bytes().to_vec())
}

fn long(tag: u16, value: u32) -> Entry {
    (tag, 4, 1, value.to_le_bytes().to_vec())
}

fn ascii(tag: u16, text: &str) -> Entry {
    let mut bytes = text.as_bytes().to_vec();
    bytes.push(0);
    (tag, 2, bytes.len() as u32, bytes)
}

/// Pseudo-random numbers from a fixed seed (xorshift, Marsaglia 2003).
pub(crate) struct Random(u64);

impl Random {
    pub(crate) fn new(seed: u64) -> Self {
        Random(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    pub(crate) fn byte(&mut self) -> u8 {
        (self.next() >> 32) as u8
    }

    pub(crate) fn below(&mut self, limit: usize) -> usize {
        (self.next() >> 16) as usize % limit
    }
}

/// CRC-32 of ISO/IEC 15948, annex D.
pub(crate) fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0u32, |mut crc, &byte| {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { 0xEDB8_8320 ^ (crc >> 1) } else { crc >> 1 };
        }
        crc
    })
}
