//! The chunks of a PNG (ISO/IEC 15948, PNG third edition): size, colour and Exif before any pixel is unpacked.

use super::PhotoError;
use super::format::Container;
use super::unpacked::Declared;
use crate::colour::space::{D65, DISPLAY_P3, PhotoSpace, Primaries, SRGB};
use crate::colour::tone::ToneCurve;

/// ITU-R BT.2020, table 3.
const BT2020: Primaries = Primaries { red: [0.708, 0.292], green: [0.170, 0.797], blue: [0.131, 0.046], white: D65 };

/// What the chunks tell.
#[derive(Debug, Default)]
pub(super) struct Chunks<'a> {
    pub(super) width: u32,
    pub(super) height: u32,
    pub(super) exif: Option<&'a [u8]>,
    pub(super) has_profile: bool,
    pub(super) animated: bool,
    srgb: bool,
    /// cICP: primaries and transfer by their code points.
    code_points: Option<(u8, u8)>,
    /// gAMA: 100 000 times the encoding exponent.
    gamma: Option<u32>,
    /// cHRM: white, red, green, blue, 100 000 times x and y.
    chromaticities: Option<[f64; 8]>,
}

impl<'a> Chunks<'a> {
    /// Goes over all chunks to the last.
    ///
    /// # Errors
    /// [`PhotoError::Truncated`] when the end chunk is missing, [`PhotoError::Damaged`] when a checksum is wrong: a decoder passes over
    /// chunks beside the pixels whose checksum is wrong, but colours read by half of what a file says of them are wrong colours.
    pub(super) fn read(bytes: &'a [u8]) -> Result<Self, PhotoError> {
        let mut chunks = Chunks::default();
        let mut rest = bytes.get(8..).unwrap_or_default();
        loop {
            let Chunk { kind, content, sum, next } = chunk(rest).ok_or(PhotoError::Truncated { container: Container::Png })?;
            // The checksum of pixels is the decoder's business. A fuzzer would get no further than a checksum.
            if kind != b"IDAT" && !cfg!(fuzzing) && checksum(kind, content) != sum {
                return Err(PhotoError::Damaged { container: Container::Png, cause: "checksum of a chunk is wrong".into() });
            }
            match kind {
                b"IHDR" => (chunks.width, chunks.height) = (word(content, 0).unwrap_or(0), word(content, 4).unwrap_or(0)),
                b"eXIf" => chunks.exif = Some(content),
                b"iCCP" => chunks.has_profile = true,
                b"acTL" => chunks.animated = true,
                b"sRGB" => chunks.srgb = true,
                b"cICP" => chunks.code_points = content.get(..2).map(|c| (c[0], c[1])),
                b"gAMA" => chunks.gamma = word(content, 0),
                b"cHRM" => chunks.chromaticities = chromaticities(content),
                b"IEND" => return Ok(chunks),
                _ => {}
            }
            rest = next;
        }
    }

    /// The colour space in the order of precedence of the standard: cICP, iCCP, sRGB, then gAMA with cHRM.
    pub(super) fn colour(&self, profile: Option<Vec<u8>>) -> Declared {
        if let Some((primaries, transfer)) = self.code_points {
            return by_code_points(primaries, transfer);
        }
        match profile {
            Some(profile) => Declared::Profile(profile),
            None if self.has_profile => Declared::Unusable("damaged".to_owned()),
            None if self.srgb => Declared::Space(Box::new(PhotoSpace::srgb())),
            None => self.by_numbers(),
        }
    }

    fn by_numbers(&self) -> Declared {
        if self.gamma.is_none() && self.chromaticities.is_none() {
            return Declared::Nothing;
        }
        let curve = match self.gamma {
            // 45 455 is what the standard has writers of sRGB put for readers that know no sRGB; a few round it.
            None | Some(45_000..=46_000) => ToneCurve::Srgb,
            Some(gamma) => ToneCurve::Power(100_000.0 / f64::from(gamma)),
        };
        let primaries = self.chromaticities.map_or(SRGB, |[wx, wy, rx, ry, gx, gy, bx, by]| Primaries {
            red: [rx, ry],
            green: [gx, gy],
            blue: [bx, by],
            white: [wx, wy],
        });
        declared("PNG gAMA and cHRM", &primaries, curve)
    }
}

/// Code points of ITU-T H.273, tables 2 and 3.
fn by_code_points(primaries: u8, transfer: u8) -> Declared {
    let name = format!("cICP {primaries}/{transfer}");
    let primaries = match primaries {
        1 => SRGB,
        9 => BT2020,
        12 => DISPLAY_P3,
        _ => return Declared::Unusable(name),
    };
    match transfer {
        8 => declared(&name, &primaries, ToneCurve::Power(1.0)),
        13 => declared(&name, &primaries, ToneCurve::Srgb),
        _ => Declared::Unusable(name),
    }
}

fn declared(name: &str, primaries: &Primaries, curve: ToneCurve) -> Declared {
    curve
        .recognised()
        .and_then(|curve| PhotoSpace::from_primaries(name, primaries, [curve.clone(), curve.clone(), curve]))
        .map_or_else(|| Declared::Unusable(name.to_owned()), |space| Declared::Space(Box::new(space)))
}

/// One chunk and what follows it.
struct Chunk<'a> {
    kind: &'a [u8],
    content: &'a [u8],
    sum: u32,
    next: &'a [u8],
}

fn chunk(bytes: &[u8]) -> Option<Chunk<'_>> {
    let length = word(bytes, 0)? as usize;
    let end = length.checked_add(8)?;
    let content = bytes.get(8..end)?;
    Some(Chunk { kind: bytes.get(4..8)?, content, sum: word(bytes, end)?, next: bytes.get(end.checked_add(4)?..)? })
}

/// CRC-32 of kind and content (ISO/IEC 15948, annex D).
fn checksum(kind: &[u8], content: &[u8]) -> u32 {
    !kind.iter().chain(content).fold(!0, |sum, &byte| TABLE[((sum ^ u32::from(byte)) & 0xFF) as usize] ^ (sum >> 8))
}

/// What each byte adds to the checksum.
const TABLE: [u32; 256] = {
    let mut table = [0; 256];
    let mut byte = 0;
    while byte < 256 {
        let mut sum = byte as u32;
        let mut bit = 0;
        while bit < 8 {
            // The polynomial of the standard, its bits in reverse.
            sum = if sum & 1 == 1 { 0xEDB8_8320 ^ (sum >> 1) } else { sum >> 1 };
            bit += 1;
        }
        table[byte] = sum;
        byte += 1;
    }
    table
};

fn chromaticities(content: &[u8]) -> Option<[f64; 8]> {
    let mut out = [0.0; 8];
    for (i, number) in out.iter_mut().enumerate() {
        *number = f64::from(word(content, 4 * i)?) / 100_000.0;
    }
    Some(out)
}

fn word(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..at.checked_add(4)?)?.try_into().ok().map(u32::from_be_bytes)
}
