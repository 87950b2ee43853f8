//! What a file is, by its first bytes and never by its name.

use super::PhotoError;
use std::fmt;

/// A kind of file that is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Container {
    /// ITU-T T.81.
    Jpeg,
    /// ISO/IEC 15948.
    Png,
    /// TIFF 6.0.
    Tiff,
    /// RFC 9649.
    Webp,
}

impl fmt::Display for Container {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Container::Jpeg => "JPEG",
            Container::Png => "PNG",
            Container::Tiff => "TIFF",
            Container::Webp => "WebP",
        })
    }
}

/// Bytes that [`detect`] needs to see.
pub const HEAD: usize = 64;

/// Tells the kind from the first [`HEAD`] bytes, or all when there are fewer.
///
/// # Errors
/// [`PhotoError::Empty`]; an error with the name of the format for raw files, HEIC and other known kinds;
/// [`PhotoError::NotAPicture`] for the rest.
pub fn detect(head: &[u8]) -> Result<Container, PhotoError> {
    if head.is_empty() {
        return Err(PhotoError::Empty);
    }
    if let Some(name) = raw(head) {
        return Err(PhotoError::Raw { name });
    }
    match head {
        [0xFF, 0xD8, 0xFF, ..] => Ok(Container::Jpeg),
        [0x89, b'P', b'N', b'G', 0x0D, 0x0A, 0x1A, 0x0A, ..] => Ok(Container::Png),
        // 42 is TIFF, 43 BigTIFF.
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => Ok(Container::Tiff),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Ok(Container::Webp),
        [_, _, _, _, b'f', b't', b'y', b'p', a, b, c, d, ..] => Err(media([*a, *b, *c, *d], head)),
        _ => Err(other(head)),
    }
}

/// Raw formats that say so in their first bytes. Those that are TIFF to the last tag are told by `tiff_raw`.
fn raw(head: &[u8]) -> Option<&'static str> {
    match head {
        // Tag 42 or 43 first, then a mark of their own at byte 8.
        [b'I', b'I', 42, 0, _, _, _, _, b'C', b'R', 2, ..] => Some("CR2"),
        [b'I', b'I', 0x55, 0, ..] => Some("RW2"),
        [b'I', b'I', b'R', b'O' | b'S', ..] | [b'M', b'M', b'O', b'R', ..] => Some("ORF"),
        [b'I', b'I', 26, 0, 0, 0, b'H', b'E', b'A', b'P', ..] => Some("CRW"),
        [_, _, _, _, b'f', b't', b'y', b'p', b'c', b'r', b'x', b' ', ..] => Some("CR3"),
        [0, b'M', b'R', b'M', ..] => Some("MRW"),
        [b'F', b'O', b'V', b'b', ..] => Some("X3F"),
        _ => (head.get(8..16) == Some(b"CCD-RAW ")).then_some("RAF"),
    }
}

/// Files of the ISO base media family, by major brand, then by the compatible brands behind it.
fn media(brand: [u8; 4], head: &[u8]) -> PhotoError {
    let brands = std::iter::once(&brand[..]).chain(head.get(16..).unwrap_or_default().chunks_exact(4));
    for brand in brands {
        match brand {
            b"avif" | b"avis" => return PhotoError::HighEfficiency { name: "AVIF" },
            b"heic" | b"heix" | b"heim" | b"heis" | b"hevc" | b"hevx" => return PhotoError::HighEfficiency { name: "HEIC" },
            _ => {}
        }
    }
    match &brand {
        b"mif1" | b"msf1" => PhotoError::HighEfficiency { name: "HEIF" },
        _ => PhotoError::OtherFormat { name: "video" },
    }
}

fn other(head: &[u8]) -> PhotoError {
    let name = match head {
        [b'G', b'I', b'F', b'8', ..] => "GIF",
        [b'B', b'M', _, _, _, _, 0, 0, 0, 0, ..] => "BMP",
        [0xFF, 0x0A, ..] | [0, 0, 0, 12, b'J', b'X', b'L', b' ', ..] => "JPEG XL",
        [0, 0, 0, 12, b'j', b'P', b' ', b' ', ..] | [0xFF, 0x4F, 0xFF, 0x51, ..] => "JPEG 2000",
        [b'I', b'I', 0xBC, ..] => "JPEG XR",
        [b'8', b'B', b'P', b'S', ..] => "PSD",
        [b'%', b'P', b'D', b'F', ..] => "PDF",
        [0x76, 0x2F, 0x31, 0x01, ..] => "OpenEXR",
        [b'P', b'1'..=b'6', b' ' | b'\n' | b'\r' | b'\t', ..] => "portable pixmap",
        [b'<', ..] => "markup text",
        _ => return PhotoError::NotAPicture,
    };
    PhotoError::OtherFormat { name }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The code of the refusal, or the kind.
    fn told(head: &[u8]) -> String {
        match detect(head) {
            Ok(container) => container.to_string(),
            Err(error) => format!("{}: {error}", error.code()),
        }
    }

    #[test]
    fn raw_files_are_named() {
        assert_eq!(told(b"II*\0\x10\0\0\0CR\x02\0"), "raw: this is a raw camera file (CR2)");
        assert_eq!(told(b"\0\0\0\x18ftypcrx \0\0\0\x01crx isom"), "raw: this is a raw camera file (CR3)");
        assert_eq!(told(b"IIU\0\x18\0\0\0"), "raw: this is a raw camera file (RW2)");
        assert_eq!(told(b"IIRO\x08\0\0\0"), "raw: this is a raw camera file (ORF)");
        assert_eq!(told(b"xxxxxxxxCCD-RAW 0201"), "raw: this is a raw camera file (RAF)");
    }

    #[test]
    fn heic_and_avif_are_named_by_any_of_their_brands() {
        assert_eq!(told(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic"), "high-efficiency: HEIC pictures are not supported");
        assert_eq!(told(b"\0\0\0\x18ftypmif1\0\0\0\0mif1heic"), "high-efficiency: HEIC pictures are not supported");
        assert_eq!(told(b"\0\0\0\x1cftypavif\0\0\0\0mif1avif"), "high-efficiency: AVIF pictures are not supported");
        assert_eq!(told(b"\0\0\0\x14ftypisom\0\0\0\0isom"), "other-format: video files are not supported");
    }

    #[test]
    fn the_rest_is_told_apart() {
        assert_eq!(told(b""), "empty: file is empty");
        assert_eq!(told(b"GIF89a"), "other-format: GIF files are not supported");
        assert_eq!(told(b"hello"), "not-a-picture: this is no picture of a known kind");
        assert_eq!(told(b"\xFF\xD8\xFF\xE0"), "JPEG");
        assert_eq!(told(b"MM\0*\0\0\0\x08"), "TIFF");
        assert_eq!(told(b"RIFF\0\0\0\0WEBPVP8 "), "WebP");
    }
}
