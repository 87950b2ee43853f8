//! Exif: how the picture lies, when and with what it was taken, and what it says about its colours.

use crate::measurement::frame::Orientation;
use exif::{Exif, In, Reader, Tag, Value};

/// The colour space Exif declares (CIPA DC-008, tags ColorSpace and InteroperabilityIndex).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ExifColour {
    /// No word about it.
    #[default]
    Unsaid,
    /// ColorSpace 1.
    Srgb,
    /// Uncalibrated with the option file mark `R03` of DCF 2.0 (CIPA DC-009): Adobe RGB.
    AdobeRgb,
    /// ColorSpace 65535: something else, which only a profile can tell.
    Uncalibrated,
}

/// What Exif tells. Everything that is missing or makes no sense is left out.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Facts {
    /// How the stored pixels lie.
    pub orientation: Orientation,
    /// When it was taken, ISO 8601, with the offset from UTC when known.
    pub taken: Option<String>,
    /// Make and model.
    pub camera: Option<String>,
    /// Whether the flash fired.
    pub flash_fired: Option<bool>,
    /// The declared colour space.
    pub colour: ExifColour,
}

impl Facts {
    /// From an Exif block, with or without the `Exif` mark before it, or from a whole TIFF file. Damaged entries
    /// are left out.
    #[must_use]
    pub fn read(block: &[u8]) -> Self {
        let block = block.strip_prefix(b"Exif\0\0").unwrap_or(block).to_vec();
        let read = Reader::new().continue_on_error(true).read_raw(block);
        match read.or_else(|error| error.distill_partial_result(|_| ())) {
            Ok(exif) => Self::from_exif(&exif),
            Err(_) => Self::default(),
        }
    }

    fn from_exif(exif: &Exif) -> Self {
        Facts {
            orientation: number(exif, Tag::Orientation).map(Orientation::from_exif).unwrap_or_default(),
            taken: taken(exif),
            camera: camera(exif),
            // Bit 0 of the Flash tag: fired.
            flash_fired: number(exif, Tag::Flash).map(|flash| flash & 1 == 1),
            colour: colour(exif),
        }
    }
}

fn number(exif: &Exif, tag: Tag) -> Option<u32> {
    exif.get_field(tag, In::PRIMARY)?.value.get_uint(0)
}

/// A text without padding and control characters; `None` when nothing is left.
fn text(exif: &Exif, tag: Tag) -> Option<String> {
    let Value::Ascii(parts) = &exif.get_field(tag, In::PRIMARY)?.value else { return None };
    let text = String::from_utf8_lossy(parts.first()?);
    printable(&text)
}

/// Longest text that is taken over; the standard's own examples stay under 32 characters.
const TEXT_LENGTH: usize = 80;

/// Without control characters, surrounding space and over-length; `None` when nothing is left.
pub(super) fn printable(text: &str) -> Option<String> {
    let clean: String = text.chars().filter(|c| !c.is_control() && *c != char::REPLACEMENT_CHARACTER).take(TEXT_LENGTH).collect();
    let clean = clean.trim();
    (!clean.is_empty()).then(|| clean.to_owned())
}

fn camera(exif: &Exif) -> Option<String> {
    match (text(exif, Tag::Make), text(exif, Tag::Model)) {
        // Many models repeat the first word of their make.
        (Some(make), Some(model)) => {
            let first = make.split(' ').next().unwrap_or_default().to_lowercase();
            Some(if model.to_lowercase().starts_with(&first) { model } else { format!("{make} {model}") })
        }
        (make, model) => model.or(make),
    }
}

fn colour(exif: &Exif) -> ExifColour {
    let adobe = text(exif, Tag::InteroperabilityIndex).is_some_and(|mark| mark == "R03");
    match number(exif, Tag::ColorSpace) {
        Some(1) => ExifColour::Srgb,
        // 2 is written by cameras that predate the mark (outside the standard; from memory).
        Some(2) => ExifColour::AdobeRgb,
        Some(0xFFFF) | None if adobe => ExifColour::AdobeRgb,
        Some(0xFFFF) => ExifColour::Uncalibrated,
        _ => ExifColour::Unsaid,
    }
}

fn taken(exif: &Exif) -> Option<String> {
    let moment = iso_date_time(&text(exif, Tag::DateTimeOriginal)?)?;
    let offset = text(exif, Tag::OffsetTimeOriginal).or_else(|| text(exif, Tag::OffsetTime));
    Some(moment + &offset.and_then(|o| iso_offset(&o)).unwrap_or_default())
}

/// `2026:04:03 12:34:56` -> `2026-04-03T12:34:56`; `None` when it is no date that exists or no time of day.
#[must_use]
pub fn iso_date_time(exif: &str) -> Option<String> {
    let (date, time) = exif.split_once(' ')?;
    let [year, month, day] = numbers(date, [4, 2, 2])?;
    let [hour, minute, second] = numbers(time, [2, 2, 2])?;
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        _ => return None,
    };
    let lawful = year > 0 && (1..=days).contains(&day) && hour < 24 && minute < 60 && second < 60;
    lawful.then(|| format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}"))
}

/// `+01:00` as it is, `Z` for no offset; `None` for anything else or more than 14 hours (the largest in use).
#[must_use]
pub fn iso_offset(exif: &str) -> Option<String> {
    if exif == "Z" {
        return Some("Z".to_owned());
    }
    let [hours, minutes] = numbers(exif.strip_prefix(['+', '-'])?, [2, 2])?;
    (hours * 60 + minutes <= 14 * 60 && minutes < 60).then(|| exif.to_owned())
}

/// Numbers of exactly so many digits, with colons between them.
fn numbers<const N: usize>(text: &str, digits: [usize; N]) -> Option<[u32; N]> {
    let mut parts = text.split(':');
    let mut out = [0; N];
    for (number, length) in out.iter_mut().zip(digits) {
        let part = parts.next()?;
        if part.len() != length || !part.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        *number = part.parse().ok()?;
    }
    parts.next().is_none().then_some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_checked_against_the_calendar() {
        assert_eq!(iso_date_time("2026:04:03 12:34:56").as_deref(), Some("2026-04-03T12:34:56"));
        assert_eq!(iso_date_time("2024:02:29 00:00:00").as_deref(), Some("2024-02-29T00:00:00"));
        for wrong in ["2023:02:29 00:00:00", "1900:02:29 00:00:00", "2026:13:01 00:00:00", "2026:04:31 00:00:00", "2026:04:03 24:00:00"] {
            assert_eq!(iso_date_time(wrong), None, "{wrong}");
        }
        for blank in ["", "    :  :     :  :  ", "0000:00:00 00:00:00", "2026-04-03T12:34:56", "2026:4:3 12:34:56"] {
            assert_eq!(iso_date_time(blank), None, "{blank}");
        }
    }

    #[test]
    fn offsets_are_checked() {
        assert_eq!(iso_offset("+01:00").as_deref(), Some("+01:00"));
        assert_eq!(iso_offset("-03:30").as_deref(), Some("-03:30"));
        assert_eq!(iso_offset("Z").as_deref(), Some("Z"));
        for wrong in ["+15:00", "01:00", "+01:60", "+1:00", "   :  "] {
            assert_eq!(iso_offset(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn rubbish_is_no_exif() {
        assert_eq!(Facts::read(b""), Facts::default());
        assert_eq!(Facts::read(b"Exif\0\0MM\0*\0\0\0\x08\xFF\xFF"), Facts::default());
    }
}
