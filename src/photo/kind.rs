//! Which files of a folder are photos, before one is opened in earnest.

use super::PhotoError;
use super::format::{self, HEAD};
use std::ffi::OsStr;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Endings of photos that are read, or that their owner takes for a photo and wants to hear about (HEIC, AVIF).
const PHOTO: [&str; 10] = ["jpg", "jpeg", "jpe", "png", "tif", "tiff", "webp", "heic", "heif", "avif"];

/// Endings of raw files of cameras. They lie beside the JPEG of the same photo more often than not.
const RAW: [&str; 18] =
    ["3fr", "arw", "cr2", "cr3", "crw", "dcr", "dng", "erf", "iiq", "kdc", "mrw", "nef", "nrw", "orf", "pef", "raf", "rw2", "srw"];

/// Endings that browsers, phones and programs for synchronising give to a file until it is whole.
const UNFINISHED: [&str; 9] = ["part", "partial", "tmp", "temp", "crdownload", "download", "filepart", "opdownload", "!sync"];

/// What a file in a folder is taken for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A photo, to be read.
    Photo,
    /// A raw file of a camera.
    Raw,
    /// Hidden, unfinished, or something else.
    Other,
}

/// Tells by the ending where that settles it, else by the first bytes: most names need no look into the file.
#[must_use]
pub fn of(path: &Path) -> Kind {
    let name = path.file_name().map(OsStr::to_string_lossy).unwrap_or_default();
    if name.starts_with('.') || name.ends_with('~') {
        return Kind::Other;
    }
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
    match ending.as_str() {
        e if PHOTO.contains(&e) => Kind::Photo,
        e if RAW.contains(&e) => Kind::Raw,
        e if UNFINISHED.contains(&e) => Kind::Other,
        _ => by_content(path),
    }
}

fn by_content(path: &Path) -> Kind {
    let mut head = Vec::with_capacity(HEAD);
    let read = File::open(path).and_then(|file| file.take(HEAD as u64).read_to_end(&mut head));
    match read.map(|_| format::detect(&head)) {
        Ok(Ok(_) | Err(PhotoError::HighEfficiency { .. })) => Kind::Photo,
        Ok(Err(PhotoError::Raw { .. })) => Kind::Raw,
        Ok(Err(_)) | Err(_) => Kind::Other,
    }
}

/// True when the file at `path` is a picture by its first bytes, whatever its name: such a file is never written over.
#[must_use]
pub fn is_picture(path: &Path) -> bool {
    by_content(path) != Kind::Other
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn endings_settle_most_files() {
        for (name, kind) in [
            ("IMG_2.JPG", Kind::Photo),
            ("scan.tiff", Kind::Photo),
            ("phone.HEIC", Kind::Photo),
            ("IMG_2.NEF", Kind::Raw),
            (".IMG_2.jpg", Kind::Other),
            ("IMG_2.jpg.part", Kind::Other),
            ("IMG_2.jpg~", Kind::Other),
            ("nowhere.txt", Kind::Other),
        ] {
            assert_eq!(of(Path::new(name)), kind, "{name}");
        }
    }
}
