//! Files that appear whole or not at all, also when the disk is full or the program is killed.

use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use tempfile::{Builder, NamedTempFile};

/// Writes a file under a hidden name beside `path`, and gives it its name when every byte is on the disk. What had that name
/// before stays until then.
///
/// # Errors
/// What the system or `fill` says; the hidden file is gone then.
pub fn write(path: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<()> {
    // A device or a pipe has no content to keep and must not be replaced by a file.
    if path.metadata().is_ok_and(|about| !about.is_file() && !about.is_dir()) {
        return fill(&mut fs::OpenOptions::new().write(true).open(path)?);
    }
    // The file that a link leads to is replaced, not the link.
    let path = path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let file = unnamed(&path)?;
    let mut out = BufWriter::new(file.as_file());
    fill(&mut out)?;
    out.flush()?;
    drop(out);
    file.as_file().sync_all()?;
    file.persist(&path).map_err(|e| e.error)?;
    sync_folder(&path);
    Ok(())
}

/// A file under a hidden name in the folder of `path`.
fn unnamed(path: &Path) -> io::Result<NamedTempFile> {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let lead = format!(".{name}.");
    let mut builder = Builder::new();
    builder.prefix(&lead).suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any new file; the user's mask takes away from it.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder(path))
}

/// The folder that holds `path`.
#[must_use]
pub fn folder(path: &Path) -> PathBuf {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    }
}

/// Puts a new name on the disk. Not every system can, and then it comes there by itself a little later.
fn sync_folder(path: &Path) {
    if let Ok(folder) = fs::File::open(folder(path)) {
        let _ = folder.sync_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect()
    }

    #[test]
    fn a_failed_write_leaves_the_old_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("report.html");
        write(&path, |out| out.write_all(b"old")).unwrap();
        let failed = write(&path, |out| {
            out.write_all(b"half of the new")?;
            Err(io::Error::other("disk full"))
        });
        assert!(failed.is_err());
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(names(folder.path()), ["report.html"]);
        write(&path, |out| out.write_all(b"new")).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"new");
    }

    #[test]
    fn nothing_is_seen_before_it_is_whole() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("report.html");
        write(&path, |out| {
            out.write_all(b"half")?;
            assert!(!path.exists() && names(folder.path()).iter().all(|name| name.starts_with('.')));
            Ok(())
        })
        .unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"half");
    }

    #[cfg(unix)]
    #[test]
    fn links_and_rights_are_those_of_any_file() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("plain"), b"").unwrap();
        write(&at("written"), |_| Ok(())).unwrap();
        let mode = |name: &str| at(name).metadata().unwrap().permissions().mode();
        assert_eq!(mode("plain"), mode("written"));
        std::os::unix::fs::symlink(at("plain"), at("link")).unwrap();
        write(&at("link"), |out| out.write_all(b"through")).unwrap();
        assert!(at("link").is_symlink() && fs::read(at("plain")).unwrap() == b"through");
    }
}
