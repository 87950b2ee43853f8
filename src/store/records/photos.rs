//! Copies of photos that were read, kept beside the logbook under the names of their contents.

use super::RecordError;
use crate::store::{seen, whole};
use std::fs;
use std::path::{Path, PathBuf};

/// The content of a photo: SHA-256 in 64 hexadecimal digits; and a copy of it when `keep` is set.
///
/// # Errors
/// [`RecordError::Open`] when the photo cannot be read, [`RecordError::Write`] when the copy cannot be written.
pub fn take(logbook: &Path, photo: &Path, keep: bool) -> Result<String, RecordError> {
    let bytes = fs::read(photo).map_err(|e| RecordError::Open { path: photo.to_owned(), cause: e.to_string() })?;
    take_bytes(logbook, photo, &bytes, keep)
}

/// The same of a photo that is in no file; `name` gives its copy the ending.
///
/// # Errors
/// [`RecordError::Write`] when the copy cannot be written.
pub fn take_bytes(logbook: &Path, name: &Path, bytes: &[u8], keep: bool) -> Result<String, RecordError> {
    let content = seen::fingerprint(bytes);
    if keep {
        let copy = kept(logbook, name, &content);
        let folder = whole::folder(&copy);
        fs::create_dir_all(&folder).map_err(|cause| RecordError::Folder { path: folder, cause })?;
        if !copy.is_file() {
            whole::write(&copy, |out| out.write_all(bytes)).map_err(|e| RecordError::Write { path: copy, cause: e.to_string() })?;
        }
    }
    Ok(content)
}

/// Where the copy of a photo lies.
fn kept(logbook: &Path, photo: &Path, content: &str) -> PathBuf {
    let ending = photo.extension().map(|e| format!(".{}", e.to_string_lossy().to_lowercase())).unwrap_or_default();
    whole::folder(logbook).join("logbook-photos").join(format!("{content}{ending}"))
}
