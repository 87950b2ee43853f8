//! Which photos are meant: files, folders and patterns, in the order in which they were named.

use super::natural;
use crate::photo::kind::{self, Kind};
use std::collections::HashSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// The photos of a run.
#[derive(Debug, Default)]
pub(crate) struct Photos {
    /// In the order of reading.
    pub(crate) all: Vec<Named>,
    /// True when a folder or a pattern was named: then even one photo is one of many.
    pub(crate) is_expanded: bool,
    /// Files of folders and patterns that are left out.
    pub(crate) skipped: Skipped,
}

/// One thing to read.
#[derive(Debug)]
pub(crate) enum Named {
    /// A photo.
    Photo(PathBuf),
    /// A name that stands for none, and why.
    Nothing(String, PhotosError),
}

impl Named {
    /// As the user named it.
    pub(crate) fn name(&self) -> String {
        match self {
            Named::Photo(path) => path.display().to_string(),
            Named::Nothing(name, _) => name.clone(),
        }
    }

    /// The file, if there is one.
    pub(crate) fn path(&self) -> Option<&Path> {
        match self {
            Named::Photo(path) => Some(path),
            Named::Nothing(..) => None,
        }
    }
}

/// Files that were passed over, by kind.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Skipped {
    pub(crate) raw: usize,
    pub(crate) other: usize,
}

/// A name that stands for no photo.
#[derive(Debug, thiserror::Error)]
pub(crate) enum PhotosError {
    #[error("no file matches this pattern")]
    NoMatch,
    #[error("this is no pattern: {0}")]
    Pattern(glob::PatternError),
    #[error("no photo in this folder")]
    NoPhoto,
    #[error("cannot list the folder: {0}")]
    List(io::Error),
}

impl PhotosError {
    pub(crate) fn code(&self) -> &'static str {
        match self {
            PhotosError::NoMatch => "no-match",
            PhotosError::Pattern(_) => "pattern",
            PhotosError::NoPhoto => "no-photo",
            PhotosError::List(_) => "unreadable",
        }
    }

    pub(crate) fn hint(&self) -> &'static str {
        match self {
            PhotosError::NoMatch => "check folder and spelling; `*` stands for any letters, `?` for one, `**` for any folders between",
            PhotosError::Pattern(_) => "write a literal `[` as `[[]`, a literal `*` as `[*]`",
            PhotosError::NoPhoto => "photos are JPEG, PNG, TIFF or WebP; folders inside are not searched, for those write `DIR/**/*.jpg`",
            PhotosError::List(_) => "check that the folder is there and may be read",
        }
    }
}

impl Photos {
    /// Looks up what was named. A photo that a folder or pattern brings in is read once, also when it is named by itself.
    pub(crate) fn named(names: &[PathBuf]) -> Self {
        let mut photos = Photos::default();
        // What has its place already, and what of it came out of a folder or pattern.
        let (mut known, mut brought) = (HashSet::new(), HashSet::new());
        for name in names {
            let found = if name.is_dir() {
                photos.inside(name)
            } else if let Some(pattern) = pattern(name) {
                photos.matching(&pattern)
            } else {
                if !brought.contains(&identity(name)) {
                    known.insert(identity(name));
                    photos.all.push(Named::Photo(name.clone()));
                }
                continue;
            };
            match found {
                Ok(found) => photos.add_new(found, &mut known, &mut brought),
                Err(error) => photos.all.push(Named::Nothing(name.display().to_string(), error)),
            }
        }
        photos
    }

    fn add_new(&mut self, found: Vec<PathBuf>, known: &mut HashSet<PathBuf>, brought: &mut HashSet<PathBuf>) {
        for path in found {
            let identity = identity(&path);
            brought.insert(identity.clone());
            if known.insert(identity) {
                self.all.push(Named::Photo(path));
            }
        }
    }

    /// Keeps the photos and counts the rest.
    fn sorted(&mut self, mut files: Vec<PathBuf>) -> Vec<PathBuf> {
        files.retain(|path| match kind::of(path) {
            Kind::Photo => true,
            Kind::Raw => {
                self.skipped.raw += 1;
                false
            }
            Kind::Other => {
                self.skipped.other += 1;
                false
            }
        });
        files.sort_by(|a, b| natural::compare(&a.to_string_lossy(), &b.to_string_lossy()));
        files
    }

    /// The photos of a folder.
    fn inside(&mut self, folder: &Path) -> Result<Vec<PathBuf>, PhotosError> {
        self.is_expanded = true;
        let found = self.sorted(files(folder).map_err(PhotosError::List)?);
        if found.is_empty() { Err(PhotosError::NoPhoto) } else { Ok(found) }
    }

    /// Photos that match, and those in folders that match.
    fn matching(&mut self, pattern: &str) -> Result<Vec<PathBuf>, PhotosError> {
        let rules = glob::MatchOptions { case_sensitive: true, require_literal_separator: true, require_literal_leading_dot: true };
        self.is_expanded = true;
        let all = glob::glob_with(pattern, rules).map_err(PhotosError::Pattern)?;
        // What may not be looked into cannot match.
        let (folders, single): (Vec<PathBuf>, Vec<PathBuf>) = all.filter_map(Result::ok).partition(|path| path.is_dir());
        let is_deep = pattern.contains("**");
        let mut found = self.sorted(single);
        // `**` reaches the files of inner folders by itself.
        for folder in folders.iter().filter(|_| !is_deep) {
            found.extend(self.sorted(files(folder).map_err(PhotosError::List)?));
        }
        if found.is_empty() { Err(PhotosError::NoMatch) } else { Ok(found) }
    }
}

/// The files of a folder, without the folders in it.
pub(crate) fn files(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        // Through links: a folder of links to photos is a folder of photos.
        if path.is_file() {
            files.push(path);
        }
    }
    Ok(files)
}

/// The name as a pattern, when it has wildcards and no file of that very name exists.
fn pattern(name: &Path) -> Option<String> {
    let text = name.to_str()?;
    (text.contains(['*', '?', '[']) && name.symlink_metadata().is_err()).then(|| text.to_owned())
}

/// What tells one file from another under two names.
pub(crate) fn identity(path: &Path) -> PathBuf {
    path.canonicalize().unwrap_or_else(|_| path.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(names: &[&str]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for name in names {
            fs::write(folder.path().join(name), b"").unwrap();
        }
        folder
    }

    fn names(photos: &Photos) -> Vec<String> {
        photos.all.iter().map(|n| n.path().unwrap().file_name().unwrap().to_string_lossy().into_owned()).collect()
    }

    #[test]
    fn a_folder_gives_its_photos_in_natural_order() {
        let folder = folder(&["IMG_10.jpg", "IMG_2.JPG", "notes.txt", ".hidden.jpg", "IMG_2.nef"]);
        fs::create_dir(folder.path().join("inner")).unwrap();
        fs::write(folder.path().join("inner/IMG_1.jpg"), b"").unwrap();
        let photos = Photos::named(&[folder.path().to_owned()]);
        assert_eq!(names(&photos), ["IMG_2.JPG", "IMG_10.jpg"]);
        assert_eq!((photos.skipped, photos.is_expanded), (Skipped { raw: 1, other: 2 }, true));
        let deep = Photos::named(&[folder.path().join("**/*.jpg")]);
        assert_eq!(names(&deep), ["IMG_10.jpg", "IMG_1.jpg"]);
    }

    #[test]
    fn patterns_are_looked_up_and_must_match() {
        let folder = folder(&["a1.jpg", "a2.jpg", "b[1].jpg"]);
        let at = |name: &str| folder.path().join(name);
        assert_eq!(names(&Photos::named(&[at("a?.jpg")])), ["a1.jpg", "a2.jpg"]);
        assert_eq!(names(&Photos::named(&[at("b[1].jpg")])), ["b[1].jpg"], "a file of that very name");
        assert!(matches!(Photos::named(&[at("c*.jpg")]).all[..], [Named::Nothing(_, PhotosError::NoMatch)]));
        assert!(matches!(Photos::named(&[at("a***")]).all[..], [Named::Nothing(_, PhotosError::Pattern(_))]));
    }

    #[test]
    fn what_a_folder_brings_in_is_read_once() {
        let folder = folder(&["a.jpg", "b.jpg"]);
        let b = folder.path().join("b.jpg");
        let photos = Photos::named(&[b.clone(), folder.path().to_owned(), folder.path().to_owned()]);
        assert_eq!(names(&photos), ["b.jpg", "a.jpg"]);
        assert_eq!(names(&Photos::named(&[folder.path().to_owned(), b.clone()])), ["a.jpg", "b.jpg"]);
        // Whoever names a file twice wants two lines.
        assert_eq!(Photos::named(&[b.clone(), b]).all.len(), 2);
    }

    #[test]
    fn a_folder_without_photos_is_told() {
        let folder = folder(&["notes.txt"]);
        assert!(matches!(Photos::named(&[folder.path().to_owned()]).all[..], [Named::Nothing(_, PhotosError::NoPhoto)]));
    }
}
