//! Files that appear whole or not at all, also when the disk is full or the program is killed.

use std::fs::{self, File, TryLockError};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use tempfile::{Builder, NamedTempFile};

/// End of the names of files that are not whole yet.
const UNFINISHED: &str = ".part";
/// Letters and digits drawn at random for each of those names.
const DRAWN: usize = 6;
/// How often another name is tried when somebody clears a file away that has just been begun.
const TRIES: usize = 8;

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
    filled(&path, fill)?.persist(&path).map_err(|e| e.error)?;
    sync_folder(&path);
    Ok(())
}

/// The same for a file that must not be there yet; one that appears meanwhile stays.
///
/// # Errors
/// As [`write()`], and [`io::ErrorKind::AlreadyExists`].
pub fn write_new(path: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<()> {
    clear_for(path);
    filled(path, fill)?.persist_noclobber(path).map_err(|e| e.error)?;
    sync_folder(path);
    Ok(())
}

/// A file under a hidden name with every byte on the disk.
fn filled(path: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<NamedTempFile> {
    let file = unnamed(path)?;
    let mut out = BufWriter::new(file.as_file());
    fill(&mut out)?;
    out.flush()?;
    drop(out);
    file.as_file().sync_all()?;
    Ok(file)
}

/// A file under a hidden name in the folder of `path`. It is locked while this lives, which tells it from one whose writer was killed.
fn unnamed(path: &Path) -> io::Result<NamedTempFile> {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let lead = format!(".{name}.");
    let mut builder = Builder::new();
    builder.prefix(&lead).suffix(UNFINISHED).rand_bytes(DRAWN);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any new file; the user's mask takes away from it.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    for _ in 0..TRIES {
        let file = builder.tempfile_in(folder(path)).map_err(as_the_system_says)?;
        // Between being made and being locked it may have been taken for one that was left behind. Not every disk knows locks; nothing is
        // cleared away there.
        let is_held = !matches!(file.as_file().try_lock(), Err(TryLockError::WouldBlock));
        if is_held && file.path().exists() {
            return Ok(file);
        }
    }
    Err(io::Error::other("unfinished files are being cleared away all the time"))
}

/// The error without the hidden name that tempfile puts behind it: the caller names the file that was asked for.
fn as_the_system_says(error: io::Error) -> io::Error {
    match error.to_string().rsplit_once(" at path ") {
        Some((what, _)) => io::Error::new(error.kind(), what),
        None => error,
    }
}

/// Clears away unfinished files that killed programs have left in a folder, of targets whose names `is_ours`. One that is being written is
/// locked and stays; what cannot be cleared away stays too, and does no harm.
pub fn clear(folder: &Path, is_ours: impl Fn(&str) -> bool) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for path in entries.filter_map(|entry| Some(entry.ok()?.path())) {
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        let is_file = || path.symlink_metadata().is_ok_and(|about| about.is_file());
        if target(&name).is_some_and(&is_ours) && is_file() && File::open(&path).is_ok_and(|file| file.try_lock().is_ok()) {
            let _ = fs::remove_file(&path);
        }
    }
}

/// [`clear`] for one target.
pub fn clear_for(path: &Path) {
    let own = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    clear(&folder(path), |name| name == own);
}

/// The name that an unfinished file was to get; none for any other file.
fn target(name: &str) -> Option<&str> {
    let (target, drawn) = name.strip_prefix('.')?.strip_suffix(UNFINISHED)?.rsplit_once('.')?;
    (drawn.len() == DRAWN && drawn.bytes().all(|byte| byte.is_ascii_alphanumeric()) && !target.is_empty()).then_some(target)
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
    fn errors_do_not_name_the_hidden_file() {
        let folder = tempfile::tempdir().unwrap();
        let error = write(&folder.path().join("none/page.html"), |_| Ok(())).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::NotFound);
        assert!(!error.to_string().contains(UNFINISHED), "{error}");
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

    #[test]
    fn what_a_killed_writer_left_is_cleared_away_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let others =
            [".page.html.part", ".page.html.abc12.part", ".page.html.abc-12.part", "page.html.abc123.part", ".other.html.abc123.part"];
        for name in others.into_iter().chain([".page.html.abc123.part"]) {
            fs::write(at(name), b"half").unwrap();
        }
        fs::create_dir(at(".page.html.folder.part")).unwrap();
        write(&at("page.html"), |out| {
            out.write_all(b"whole")?;
            // Another start at this moment leaves what is being written.
            clear_for(&at("page.html"));
            Ok(())
        })
        .unwrap();
        assert!(!at(".page.html.abc123.part").exists() && at(".page.html.folder.part").exists());
        assert!(others.into_iter().all(|name| at(name).exists()));
        assert_eq!(fs::read(at("page.html")).unwrap(), b"whole");
        clear(folder.path(), |name| name.starts_with("other"));
        assert!(!at(".other.html.abc123.part").exists() && names(folder.path()).len() == 6);
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
