//! The record of a watched folder: which photos were read, and what came out that nobody has been told yet.
//!
//! It is a file of JSON lines, only ever added to while a watch runs. A result is put on the disk together with the mark that its photo is
//! read, before it is told; when it has been told, a second line says so. A kill between the two costs no result: the next start
//! tells it again, without reading the photo again. A line that was cut off is as if it had never been begun.

use super::{StoreError, whole};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::HashMap;
use std::fmt::Write as _;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Version of the lines; raised when one changes its meaning.
const VERSION: u32 = 1;

/// Size and time of change of a file: while both stay, it is taken for the same file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stamp {
    /// Bytes.
    pub size: u64,
    /// Nanoseconds since 1970, as far as the system tells. Compared for equality only, so that a wrong clock does no harm.
    pub modified: Option<i64>,
}

impl Stamp {
    /// Of a file as it is now.
    ///
    /// # Errors
    /// What the system says.
    pub fn of(path: &Path) -> io::Result<Self> {
        let about = path.metadata()?;
        let modified = about.modified().ok().and_then(|time| match time.duration_since(std::time::UNIX_EPOCH) {
            Ok(after) => i64::try_from(after.as_nanos()).ok(),
            Err(before) => i64::try_from(before.duration().as_nanos()).ok().map(|n| -n),
        });
        Ok(Stamp { size: about.len(), modified })
    }
}

/// The content of a file in 64 hexadecimal digits (SHA-256, FIPS 180-4).
#[must_use]
pub fn fingerprint(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().fold(String::with_capacity(64), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// One line of the record.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Line {
    /// The first line.
    Record { version: u32 },
    /// A photo is done with.
    Seen(Photo),
    /// Its result has been told.
    Told { name: String },
}

/// A photo that is done with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Photo {
    /// Name in the folder.
    pub name: String,
    /// What it looked like.
    pub stamp: Stamp,
    /// Its content; `None` for what lay there before the watch began and was never opened.
    pub content: Option<String>,
    /// What is to be told, and in which form.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub result: Option<Told>,
}

/// A result as it is written to the user.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Told {
    /// Name of the form, such as `json`.
    pub form: String,
    /// The text, line feeds and all.
    pub text: String,
}

/// An open record. No other process can open it meanwhile.
#[derive(Debug)]
pub struct Seen {
    path: PathBuf,
    file: File,
    /// Bytes of whole lines in the file.
    length: u64,
    photos: HashMap<String, Photo>,
    /// Lines that could not be written yet.
    unsaved: Vec<String>,
    /// Held as long as this lives; the system lets go of it also when the program is killed.
    _lock: File,
}

impl Seen {
    /// Opens a record. A new one begins with what is `present` in the folder, in one stroke: after a kill all of that is known, or the
    /// record is still new.
    ///
    /// # Errors
    /// [`StoreError`] when another process holds it, or it cannot be read or written.
    pub fn open(path: &Path, present: impl FnOnce() -> Vec<(String, Stamp)>) -> Result<Self, StoreError> {
        let folder = whole::folder(path);
        fs::create_dir_all(&folder).map_err(|cause| StoreError::Folder { path: folder.clone(), cause })?;
        let lock = lock(path)?;
        whole::clear_for(path);
        let bytes = match fs::read(path) {
            Err(e) if e.kind() == io::ErrorKind::NotFound => Vec::new(),
            other => other.map_err(|cause| StoreError::Read { path: path.to_owned(), cause })?,
        };
        let photos = match parsed(&bytes) {
            Parsed::Photos(photos) => photos,
            Parsed::New => {
                let unopened = |(name, stamp)| Photo { name, stamp, content: None, result: None };
                present().into_iter().map(unopened).map(|photo| (photo.name.clone(), photo)).collect()
            }
            Parsed::Other => return Err(StoreError::NoRecord { path: path.to_owned() }),
        };
        let failed = |cause| StoreError::Write { path: path.to_owned(), cause };
        // Told results are dropped and a torn end is cut off in the same stroke.
        let text = written(photos.values()).map_err(failed)?;
        if text.as_bytes() != bytes {
            whole::write(path, |out| out.write_all(text.as_bytes())).map_err(failed)?;
        }
        let file = OpenOptions::new().append(true).open(path).map_err(failed)?;
        Ok(Seen { path: path.to_owned(), file, length: text.len() as u64, photos, unsaved: Vec::new(), _lock: lock })
    }

    /// Forgets what was there before the watch began, so that it is read.
    pub fn forget_unopened(&mut self) {
        self.photos.retain(|_, photo| photo.content.is_some());
    }

    /// Results that were put down and not told. Those of another form are given up, and their photos with them: they are read again.
    pub fn untold(&mut self, form: &str) -> Vec<(String, String)> {
        self.photos.retain(|_, photo| photo.result.as_ref().is_none_or(|told| told.form == form));
        self.photos.values().filter_map(|photo| Some((photo.name.clone(), photo.result.as_ref()?.text.clone()))).collect()
    }

    /// True when the file of this name has not changed since it was put down.
    #[must_use]
    pub fn is_known(&self, name: &str, stamp: Stamp) -> bool {
        self.photos.get(name).is_some_and(|photo| photo.stamp == stamp)
    }

    /// True when it is worth looking whether the content is known under this or another name.
    #[must_use]
    pub fn may_know(&self, size: u64) -> bool {
        self.photos.values().any(|photo| photo.stamp.size == size && photo.content.is_some())
    }

    /// True when this very content was read before, under this name or under one that has gone from the folder: the file was touched
    /// or renamed. A copy beside a photo that is still there is a photo of its own.
    pub fn knows_content(&self, name: &str, content: &str, is_there: impl Fn(&str) -> bool) -> bool {
        let is_same = |photo: &&Photo| photo.content.as_deref() == Some(content);
        self.photos.values().filter(is_same).any(|photo| photo.name == name || !is_there(&photo.name))
    }

    /// Puts a photo down as done with. It is known from now on even when the disk refuses; then [`Seen::save`] tries again.
    ///
    /// # Errors
    /// [`StoreError::Write`].
    pub fn put(&mut self, photo: Photo) -> Result<(), StoreError> {
        let line = Line::Seen(photo.clone());
        self.photos.insert(photo.name.clone(), Photo { result: None, ..photo });
        self.append(&line)
    }

    /// Notes that a result was told.
    ///
    /// # Errors
    /// [`StoreError::Write`].
    pub fn told(&mut self, name: &str) -> Result<(), StoreError> {
        if let Some(photo) = self.photos.get_mut(name) {
            photo.result = None;
        }
        self.append(&Line::Told { name: name.to_owned() })
    }

    /// Writes what could not be written before.
    ///
    /// # Errors
    /// [`StoreError::Write`] when it cannot be written now either.
    pub fn save(&mut self) -> Result<(), StoreError> {
        while let Some(line) = self.unsaved.first() {
            if let Err(cause) = self.file.write_all(line.as_bytes()).and_then(|()| self.file.sync_data()) {
                // Half a line must not stand before the next.
                let _ = self.file.set_len(self.length);
                return Err(StoreError::Write { path: self.path.clone(), cause });
            }
            self.length += line.len() as u64;
            self.unsaved.remove(0);
        }
        Ok(())
    }

    fn append(&mut self, line: &Line) -> Result<(), StoreError> {
        let text = serde_json::to_string(line).map_err(|e| StoreError::Write { path: self.path.clone(), cause: e.into() })?;
        self.unsaved.push(text + "\n");
        self.save()
    }
}

/// A lock beside the record: the record itself is replaced now and then.
fn lock(path: &Path) -> Result<File, StoreError> {
    let mut name = path.as_os_str().to_owned();
    name.push(".lock");
    let failed = |cause| StoreError::Write { path: PathBuf::from(&name), cause };
    let file = OpenOptions::new().create(true).append(true).open(&name).map_err(failed)?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(StoreError::InUse { path: path.to_owned() }),
        Err(TryLockError::Error(cause)) => Err(failed(cause)),
    }
}

/// What a file turned out to be.
enum Parsed {
    /// Nothing yet.
    New,
    /// A record of these photos.
    Photos(HashMap<String, Photo>),
    /// Something else.
    Other,
}

fn parsed(bytes: &[u8]) -> Parsed {
    let mut photos: HashMap<String, Photo> = HashMap::new();
    let text = String::from_utf8_lossy(bytes);
    let mut lines = text.lines();
    match lines.next().map(serde_json::from_str) {
        None => return Parsed::New,
        Some(Ok(Line::Record { version: VERSION })) => {}
        Some(_) => return Parsed::Other,
    }
    // A line that was cut off or spoilt costs its own photo only, which is read again.
    for line in lines.filter_map(|line| serde_json::from_str(line).ok()) {
        match line {
            Line::Record { .. } => {}
            Line::Seen(photo) => {
                photos.insert(photo.name.clone(), photo);
            }
            Line::Told { name } => {
                if let Some(photo) = photos.get_mut(&name) {
                    photo.result = None;
                }
            }
        }
    }
    Parsed::Photos(photos)
}

/// A whole record, in the order of the names so that equal records are equal files.
fn written<'a>(photos: impl Iterator<Item = &'a Photo>) -> io::Result<String> {
    let mut photos: Vec<&Photo> = photos.collect();
    photos.sort_by(|a, b| a.name.cmp(&b.name));
    let mut text = serde_json::to_string(&Line::Record { version: VERSION })? + "\n";
    for photo in photos {
        text += &serde_json::to_string(&Line::Seen(photo.clone()))?;
        text.push('\n');
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn photo(name: &str, content: &str, text: Option<&str>) -> Photo {
        Photo {
            name: name.to_owned(),
            stamp: Stamp { size: 5, modified: Some(7) },
            content: Some(fingerprint(content.as_bytes())),
            result: text.map(|text| Told { form: "json".to_owned(), text: text.to_owned() }),
        }
    }

    // FIPS 180-4's example: the digest of "abc".
    #[test]
    fn fingerprint_is_the_published_one() {
        assert_eq!(fingerprint(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn what_was_put_down_is_known_after_a_restart() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.jsonl");
        let mut seen = Seen::open(&path, Vec::new).unwrap();
        seen.put(photo("a.jpg", "a", Some("line a\n"))).unwrap();
        seen.told("a.jpg").unwrap();
        seen.put(photo("b.jpg", "b", Some("line b\n"))).unwrap();
        assert!(matches!(Seen::open(&path, Vec::new), Err(StoreError::InUse { .. })));
        drop(seen);
        let mut seen = Seen::open(&path, || panic!("this record is not new")).unwrap();
        assert!(seen.is_known("a.jpg", Stamp { size: 5, modified: Some(7) }));
        assert!(!seen.is_known("a.jpg", Stamp { size: 5, modified: Some(8) }));
        assert_eq!(seen.untold("json"), [("b.jpg".to_owned(), "line b\n".to_owned())]);
        assert!(seen.untold("csv").is_empty() && !seen.is_known("b.jpg", Stamp { size: 5, modified: Some(7) }), "to be read again");
    }

    // A kill may cut the file at any byte: every whole line counts, and the record can be added to again.
    #[test]
    fn a_record_cut_anywhere_keeps_its_whole_lines() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.jsonl");
        let mut seen = Seen::open(&path, Vec::new).unwrap();
        for name in ["a.jpg", "b.jpg", "ä.jpg"] {
            seen.put(photo(name, name, Some("one\ntwo\n"))).unwrap();
        }
        drop(seen);
        let bytes = fs::read(&path).unwrap();
        // The first line is never cut: a record appears whole.
        let first = bytes.iter().position(|b| *b == b'\n').unwrap();
        for cut in first..=bytes.len() {
            fs::write(&path, &bytes[..cut]).unwrap();
            let whole_lines = bytes[..cut].iter().filter(|b| **b == b'\n').count().saturating_sub(1);
            let mut seen = Seen::open(&path, Vec::new).unwrap();
            // A line that lacks nothing but its line feed may count.
            assert!((whole_lines..=whole_lines + 1).contains(&seen.photos.len()), "{cut}");
            seen.put(photo("later.jpg", "later", None)).unwrap();
            let before = seen.photos.len();
            drop(seen);
            assert_eq!(Seen::open(&path, Vec::new).unwrap().photos.len(), before, "{cut}");
        }
    }

    #[test]
    fn another_file_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notes.txt");
        fs::write(&path, "my notes\n").unwrap();
        assert!(matches!(Seen::open(&path, Vec::new), Err(StoreError::NoRecord { .. })));
        assert_eq!(fs::read_to_string(&path).unwrap(), "my notes\n");
    }

    #[test]
    fn a_renamed_photo_is_known_and_a_copy_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let mut seen = Seen::open(&folder.path().join("record.jsonl"), Vec::new).unwrap();
        seen.put(photo("a.jpg", "a", None)).unwrap();
        let content = fingerprint(b"a");
        assert!(seen.knows_content("a.jpg", &content, |_| true), "touched");
        assert!(seen.knows_content("b.jpg", &content, |_| false), "renamed");
        assert!(!seen.knows_content("b.jpg", &content, |_| true), "copied");
        assert!(!seen.knows_content("a.jpg", &fingerprint(b"b"), |_| true), "replaced");
    }

    // A device that is always full stands for a full disk.
    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_is_told_and_made_up_for() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.jsonl");
        let mut seen = Seen::open(&path, Vec::new).unwrap();
        let file = std::mem::replace(&mut seen.file, OpenOptions::new().append(true).open("/dev/full").unwrap());
        assert!(seen.put(photo("a.jpg", "a", None)).is_err());
        assert!(seen.is_known("a.jpg", Stamp { size: 5, modified: Some(7) }));
        seen.file = file;
        seen.save().unwrap();
        drop(seen);
        assert!(Seen::open(&path, Vec::new).unwrap().is_known("a.jpg", Stamp { size: 5, modified: Some(7) }));
    }

    #[test]
    fn what_was_there_before_is_known_until_it_is_asked_for() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.jsonl");
        let stamp = Stamp { size: 1, modified: None };
        let mut seen = Seen::open(&path, || vec![("old.jpg".to_owned(), stamp)]).unwrap();
        seen.put(photo("new.jpg", "new", None)).unwrap();
        drop(seen);
        let mut seen = Seen::open(&path, Vec::new).unwrap();
        assert!(seen.is_known("old.jpg", stamp) && seen.photos.len() == 2);
        seen.forget_unopened();
        assert!(!seen.is_known("old.jpg", stamp) && seen.photos.len() == 1);
    }
}
