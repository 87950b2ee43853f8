//! Profiles as files: where they are kept, and which of them fits a photo. `format` is their text.

mod format;
pub mod shelf;

use super::{folder, whole};
use crate::measurement::profile::Profile;
use format::{VERSION, parsed, text};
use std::io;
use std::path::{Path, PathBuf};

/// Largest file that is read: a profile of a hundred cups has about 100 kB.
const LARGEST: u64 = 4_000_000;

/// Why a profile cannot be read or kept.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ProfileError {
    /// There is none of that name.
    #[error("there is no profile `{0}`")]
    Missing(String),
    /// The file cannot be read.
    #[error("cannot read the profile `{}`: {cause}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        cause: io::Error,
    },
    /// The file is no profile at all.
    #[error("`{}` is no profile of tintpoint", path.display())]
    Foreign {
        /// The file.
        path: PathBuf,
    },
    /// The file was written by a newer program.
    #[error("the profile `{}` has version {version}, this program knows up to {VERSION}", path.display())]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        version: u32,
    },
    /// Something in it is wrong.
    #[error("the profile `{}` is damaged: {problem}", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        problem: String,
    },
    /// The file cannot be written.
    #[error("cannot write the profile `{}`: {cause}", path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// What the system said.
        cause: io::Error,
    },
    /// There is one of that name.
    #[error("there is a profile `{0}` already")]
    Taken(String),
    /// The name cannot be one of a file.
    #[error("`{0}` cannot be the name of a profile")]
    Name(String),
    /// No folder for the user's data.
    #[error(transparent)]
    Folder(#[from] super::StoreError),
}

impl ProfileError {
    /// The next thing to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            ProfileError::Missing(_) => "`tintpoint profiles` lists them; a file is named with its folder or its ending .toml",
            ProfileError::Read { .. } => "change the permissions of the file, or name another one",
            ProfileError::Foreign { .. } => "name a file that `tintpoint calibrate` has written",
            ProfileError::Newer { .. } => "use the newer program, or calibrate again",
            ProfileError::Damaged { .. } => "calibrate again, or take the file from where it was copied",
            ProfileError::Write { .. } => "give a place that may be written to and has room",
            ProfileError::Taken(_) => "give another name, or say that it is to be replaced",
            ProfileError::Name(_) => "use letters, digits, hyphens and underscores",
            ProfileError::Folder(_) => "set TINTPOINT_DATA to a folder",
        }
    }
}

/// Reads a profile from a file.
///
/// # Errors
/// [`ProfileError`] when the file is not there, foreign, newer or damaged.
pub fn read(path: &Path) -> Result<Profile, ProfileError> {
    let cause = |cause| ProfileError::Read { path: path.to_owned(), cause };
    if path.metadata().map_err(cause)?.len() > LARGEST {
        return Err(ProfileError::Foreign { path: path.to_owned() });
    }
    let bytes = std::fs::read(path).map_err(cause)?;
    let text = String::from_utf8(bytes).map_err(|_| ProfileError::Foreign { path: path.to_owned() })?;
    parse(&text, path)
}

/// A profile from its text; `path` is what errors name.
///
/// # Errors
/// [`ProfileError`] when the text is foreign, newer or damaged.
pub fn parse(text: &str, path: &Path) -> Result<Profile, ProfileError> {
    parsed(text, path)
}

/// Writes a profile, whole or not at all.
///
/// # Errors
/// [`ProfileError::Write`].
pub fn write(path: &Path, profile: &Profile) -> Result<(), ProfileError> {
    let cause = |cause| ProfileError::Write { path: path.to_owned(), cause };
    let text = text(profile).map_err(|e| cause(io::Error::other(e)))?;
    whole::clear_for(path);
    whole::write(path, |file| file.write_all(text.as_bytes())).map_err(cause)
}

/// The folder of named profiles, which need not exist yet.
///
/// # Errors
/// [`ProfileError::Folder`] when the system names no home.
pub fn kept() -> Result<PathBuf, ProfileError> {
    Ok(folder::data()?.join("profiles"))
}

/// The file of a named profile, which need not exist.
///
/// # Errors
/// [`ProfileError::Name`] for what cannot be a name, [`ProfileError::Folder`] when the system names no home.
pub fn named(name: &str) -> Result<PathBuf, ProfileError> {
    file_of(&kept()?, name)
}

/// The file of a profile in a folder: its name holds neither dots nor the signs that part folders.
fn file_of(folder: &Path, name: &str) -> Result<PathBuf, ProfileError> {
    let is_name = !name.is_empty() && name.len() <= 64 && name.chars().all(|c| c.is_alphanumeric() || c == '-' || c == '_');
    if !is_name {
        return Err(ProfileError::Name(name.to_owned()));
    }
    Ok(folder.join(format!("{name}.toml")))
}

/// A profile by its name, or by its file when what is told ends in `.toml` or has a folder.
///
/// # Errors
/// As [`read`]; [`ProfileError::Missing`] when there is none of that name.
pub fn find(told: &str) -> Result<Profile, ProfileError> {
    let path = Path::new(told);
    let is_file = path.extension().is_some_and(|e| e == "toml") || path.components().count() > 1;
    if is_file {
        return read(path);
    }
    let path = named(told)?;
    if !path.is_file() {
        return Err(ProfileError::Missing(told.to_owned()));
    }
    read(&path)
}

/// Names of the kept profiles, sorted.
///
/// # Errors
/// [`ProfileError::Folder`] when the system names no home, [`ProfileError::Read`] when the folder cannot be read.
pub fn names() -> Result<Vec<String>, ProfileError> {
    names_in(&kept()?)
}

fn names_in(folder: &Path) -> Result<Vec<String>, ProfileError> {
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(cause) => return Err(ProfileError::Read { path: folder.to_owned(), cause }),
    };
    let name = |entry: io::Result<std::fs::DirEntry>| {
        let path = entry.ok()?.path();
        let is_profile = path.extension().is_some_and(|e| e == "toml");
        path.file_stem().filter(|_| is_profile).map(|stem| stem.to_string_lossy().into_owned())
    };
    let mut names: Vec<String> = entries.filter_map(name).filter(|name| !name.starts_with('.')).collect();
    names.sort();
    Ok(names)
}

/// Removes a kept profile.
///
/// # Errors
/// [`ProfileError::Missing`] when there is none of that name, [`ProfileError::Write`] when the system refuses.
pub fn remove(name: &str) -> Result<(), ProfileError> {
    let path = named(name)?;
    if !path.is_file() {
        return Err(ProfileError::Missing(name.to_owned()));
    }
    std::fs::remove_file(&path).map_err(|cause| ProfileError::Write { path, cause })
}
