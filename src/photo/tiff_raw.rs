//! What the directories of a TIFF tell before it is unpacked: raw files that are TIFF to the last tag, told by what only a sensor writes, and
//! JPEG inside.

/// Directories looked at: the main ones and their children. Raws have up to a dozen.
const DIRECTORIES: usize = 32;

/// Entries of one directory that are looked at; real ones have up to about a hundred.
const ENTRIES: usize = 512;

/// The name of the raw format when a TIFF file holds sensor values.
///
/// Signs are the version tag of DNG, the colour filter array or linear raw as photometric interpretation
/// (TIFF/EP, ISO 12234-2; DNG 1.7), or a compression only raws use (registered in the tag lists of libtiff).
pub(super) fn name(bytes: &[u8]) -> Option<&'static str> {
    let big_endian = bytes.starts_with(b"MM\0*");
    if !big_endian && !bytes.starts_with(b"II*\0") {
        return None;
    }
    let file = Tiff { bytes, big_endian };
    let mut pending = vec![file.long(4)? as usize];
    let mut found = None;
    let mut private = false;
    let mut seen = 0;
    while let Some(offset) = pending.pop() {
        seen += 1;
        if seen > DIRECTORIES {
            break;
        }
        let Some(count) = file.short(offset) else { continue };
        let count = usize::from(count);
        for entry in (0..count.min(ENTRIES)).map(|i| offset + 2 + 12 * i) {
            let (Some(tag), Some(value)) = (file.short(entry), file.value(entry)) else { break };
            match (tag, value) {
                // DNGVersion.
                (50706, _) => return Some("DNG"),
                (259, 34713) => found = Some("NEF"),
                (259, 32767) => found = Some("ARW"),
                (259, 65535) => found = Some("PEF"),
                // Photometric interpretation: colour filter array, linear raw.
                (262, 32803 | 34892) => found = found.or(Some("TIFF inside")),
                // DNGPrivateData without DNGVersion.
                (50740, _) => private = true,
                (330, _) => pending.extend(file.offsets(entry)),
                _ => {}
            }
        }
        pending.extend(file.long(offset + 2 + 12 * count).filter(|&next| next != 0).map(|next| next as usize));
    }
    found.map(|name| if name == "TIFF inside" && private { "ARW" } else { name })
}

/// True when the first picture of a TIFF, or of one with eight-byte offsets (BigTIFF), is packed as JPEG: compression 6 (TIFF 6.0, section 22) or 7
/// (its technical note 2).
pub(super) fn is_jpeg_inside(bytes: &[u8]) -> bool {
    let file = Tiff { bytes, big_endian: bytes.starts_with(b"MM") };
    file.compression().is_some_and(|packed| matches!(packed, 6 | 7))
}

struct Tiff<'a> {
    bytes: &'a [u8],
    big_endian: bool,
}

impl Tiff<'_> {
    fn short(&self, at: usize) -> Option<u16> {
        let pair = self.bytes.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(if self.big_endian { u16::from_be_bytes(pair) } else { u16::from_le_bytes(pair) })
    }

    fn long(&self, at: usize) -> Option<u32> {
        let four = self.bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
        Some(if self.big_endian { u32::from_be_bytes(four) } else { u32::from_le_bytes(four) })
    }

    fn long_long(&self, at: usize) -> Option<usize> {
        let (first, second) = (u64::from(self.long(at)?), u64::from(self.long(at.checked_add(4)?)?));
        let value = if self.big_endian { first << 32 | second } else { second << 32 | first };
        usize::try_from(value).ok()
    }

    /// The compression of the first picture.
    fn compression(&self) -> Option<u32> {
        let is_long = self.short(2)? == 43;
        let (directory, count, entries, size) = if is_long {
            let at = self.long_long(8)?;
            (at, self.long_long(at)?, 8, 20)
        } else {
            let at = self.long(4)? as usize;
            (at, usize::from(self.short(at)?), 2, 12)
        };
        let start = directory.checked_add(entries)?;
        let mut places = (0..count.min(ENTRIES)).map_while(|i| start.checked_add(size * i));
        let entry = places.find(|&entry| self.short(entry) == Some(259))?;
        // The value lies behind tag, kind and count, which is of eight bytes in a BigTIFF.
        let value = entry.checked_add(size - if is_long { 8 } else { 4 })?;
        if self.short(entry + 2)? == 3 { self.short(value).map(u32::from) } else { self.long(value) }
    }

    /// First value of an entry when it lies in the entry itself: 3 is SHORT, all else is taken as LONG.
    fn value(&self, entry: usize) -> Option<u32> {
        if self.short(entry + 2)? == 3 { self.short(entry + 8).map(u32::from) } else { self.long(entry + 8) }
    }

    /// Offsets of child directories: one in the entry itself, or several elsewhere.
    fn offsets(&self, entry: usize) -> Vec<usize> {
        let count = self.long(entry + 4).unwrap_or(0) as usize;
        let at = self.long(entry + 8).unwrap_or(0) as usize;
        match count {
            1 => vec![at],
            _ => (0..count.min(DIRECTORIES)).filter_map(|i| self.long(at.checked_add(4 * i)?)).map(|o| o as usize).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A little-endian TIFF with one directory of (tag, type, value).
    fn tiff(entries: &[(u16, u16, u32)]) -> Vec<u8> {
        let mut bytes = b"II*\0\x08\0\0\0".to_vec();
        bytes.extend((entries.len() as u16).to_le_bytes());
        for &(tag, kind, value) in entries {
            bytes.extend(tag.to_le_bytes());
            bytes.extend(kind.to_le_bytes());
            bytes.extend(1u32.to_le_bytes());
            bytes.extend(value.to_le_bytes());
        }
        bytes.extend([0; 4]);
        bytes
    }

    #[test]
    fn signs_of_a_sensor() {
        assert_eq!(name(&tiff(&[(256, 3, 10), (50706, 1, 0x0401)])), Some("DNG"));
        assert_eq!(name(&tiff(&[(259, 3, 34713)])), Some("NEF"));
        assert_eq!(name(&tiff(&[(262, 3, 32803), (50740, 4, 7)])), Some("ARW"));
        assert_eq!(name(&tiff(&[(262, 3, 32803)])), Some("TIFF inside"));
        assert_eq!(name(&tiff(&[(256, 3, 10), (259, 3, 1), (262, 3, 2)])), None);
    }

    #[test]
    fn the_sensor_may_lie_in_a_child() {
        let mut parent = tiff(&[(254, 4, 1), (330, 4, 0)]);
        let child_at = parent.len() as u32;
        parent[8 + 2 + 12 + 8..8 + 2 + 12 + 12].copy_from_slice(&child_at.to_le_bytes());
        parent.extend(&tiff(&[(262, 3, 32803)])[8..]);
        assert_eq!(name(&parent), Some("TIFF inside"));
    }

    #[test]
    fn jpeg_inside_is_told() {
        assert!(is_jpeg_inside(&tiff(&[(256, 3, 10), (259, 3, 7)])) && is_jpeg_inside(&tiff(&[(259, 4, 6)])));
        assert!(!is_jpeg_inside(&tiff(&[(259, 3, 5)])) && !is_jpeg_inside(&tiff(&[(256, 3, 7)])) && !is_jpeg_inside(b"II*\0"));
        // A BigTIFF: sixteen bytes of head, a count of eight, then entries of twenty.
        let mut long = b"MM\0+\0\x08\0\0\0\0\0\0\0\0\0\x10\0\0\0\0\0\0\0\x01".to_vec();
        long.extend([1, 3, 0, 3, 0, 0, 0, 0, 0, 0, 0, 1, 0, 7, 0, 0, 0, 0, 0, 0]);
        assert!(is_jpeg_inside(&long));
    }

    #[test]
    fn circles_and_rubbish_end() {
        let mut circle = tiff(&[(330, 4, 8)]);
        let end = circle.len();
        circle[end - 4..].copy_from_slice(&8u32.to_le_bytes());
        assert_eq!(name(&circle), None);
        assert_eq!(name(b"II*\0\xFF\xFF\xFF\xFF"), None);
        assert_eq!(name(b"II*\0"), None);
    }
}
