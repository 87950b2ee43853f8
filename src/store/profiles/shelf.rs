//! All profiles that are kept, and the one that fits a photo when none was named.

use super::{ProfileError, file_of, kept, names_in, read, write};
use crate::colour::generic::LightKind;
use crate::indicator::Indicator;
use crate::measurement::profile::{Calibrated, Profile};
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};
use std::time::SystemTime;

/// The profiles of a folder. Each is made ready for reading once, when a photo asks for it first.
#[derive(Debug, Default)]
pub struct Shelf {
    /// None for a shelf that holds nothing and keeps nothing.
    folder: Option<PathBuf>,
    /// The files as they were when they were read.
    seen: Vec<Stamp>,
    kept: Vec<Arc<Kept>>,
    /// What could not be read, which must not keep the others from use.
    pub damaged: Vec<ProfileError>,
}

#[derive(Debug)]
struct Kept {
    stamp: Stamp,
    profile: Profile,
    ready: OnceLock<Option<Arc<Calibrated>>>,
}

/// What tells one state of a file from another without reading it.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Stamp {
    name: String,
    changed: Option<SystemTime>,
    bytes: Option<u64>,
}

/// A profile that fits a photo.
#[derive(Debug, Clone)]
pub struct Chosen {
    /// It, ready for reading and named.
    pub calibrated: Arc<Calibrated>,
    /// How many fit; this one is the newest.
    pub matches: usize,
}

impl Shelf {
    /// Reads all that are kept in the user's data folder.
    ///
    /// # Errors
    /// [`ProfileError`] when the folder cannot be read. A file in it that cannot be read is put down in `damaged`.
    pub fn open() -> Result<Self, ProfileError> {
        Shelf::at(&kept()?)
    }

    /// Reads all of a folder, which need not exist yet.
    ///
    /// # Errors
    /// As [`Shelf::open`].
    pub fn at(folder: &Path) -> Result<Self, ProfileError> {
        let shelf = Shelf { folder: Some(folder.to_owned()), ..Shelf::default() };
        shelf.with(stamps(folder)?)
    }

    /// The shelf as its folder is now, with what is ready already; none when nothing has changed. Looks at the names and times of the files only, unless
    /// they differ.
    ///
    /// # Errors
    /// As [`Shelf::open`].
    pub fn renewed(&self) -> Result<Option<Self>, ProfileError> {
        let Some(folder) = &self.folder else { return Ok(None) };
        let seen = stamps(folder)?;
        if seen == self.seen { Ok(None) } else { self.with(seen).map(Some) }
    }

    fn with(&self, seen: Vec<Stamp>) -> Result<Self, ProfileError> {
        let mut shelf = Shelf { folder: self.folder.clone(), seen, ..Shelf::default() };
        let Some(folder) = &self.folder else { return Ok(shelf) };
        for stamp in &shelf.seen {
            if let Some(known) = self.kept.iter().find(|kept| kept.stamp == *stamp) {
                shelf.kept.push(Arc::clone(known));
                continue;
            }
            match file_of(folder, &stamp.name).and_then(|path| read(&path)) {
                Ok(profile) => shelf.kept.push(Arc::new(Kept { stamp: stamp.clone(), profile, ready: OnceLock::new() })),
                Err(error) => shelf.damaged.push(error),
            }
        }
        // ISO 8601 sorts by time; names part what is of the same time.
        shelf.kept.sort_by(|a, b| (&b.profile.date, &a.stamp.name).cmp(&(&a.profile.date, &b.stamp.name)));
        Ok(shelf)
    }

    /// Keeps a profile under a name, in place of one of that name only when `is_replaced`.
    ///
    /// # Errors
    /// [`ProfileError::Name`], [`ProfileError::Taken`], [`ProfileError::Write`]; [`ProfileError::Folder`] for a shelf without one.
    pub fn keep(&self, name: &str, profile: &Profile, is_replaced: bool) -> Result<(), ProfileError> {
        let folder = self.folder.as_ref().ok_or(ProfileError::Folder(crate::store::StoreError::NoHome))?;
        let path = file_of(folder, name)?;
        if path.exists() && !is_replaced {
            return Err(ProfileError::Taken(name.to_owned()));
        }
        std::fs::create_dir_all(folder).map_err(|cause| ProfileError::Write { path: folder.clone(), cause })?;
        write(&path, profile)
    }

    /// Names of the profiles, the newest first.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.kept.iter().map(|kept| kept.stamp.name.as_str())
    }

    /// None, because of an error.
    #[must_use]
    pub fn empty(error: ProfileError) -> Self {
        Shelf { damaged: vec![error], ..Shelf::default() }
    }

    /// The newest profile of this camera and dye whose light is not another than the one told. A photo whose camera is not known fits
    /// none: another camera sees another colour, and nothing in the photo would tell.
    #[must_use]
    pub fn choose(&self, camera: Option<&str>, indicator: &Indicator, light: Option<LightKind>) -> Option<Chosen> {
        let camera = camera?;
        let fits = |kept: &&Arc<Kept>| {
            let evidence = &kept.profile.evidence;
            let is_light = light.zip(evidence.light).is_none_or(|(told, own)| told == own);
            kept.profile.camera.as_deref() == Some(camera) && evidence.indicator.name == indicator.name && is_light
        };
        let fitting: Vec<&Arc<Kept>> = self.kept.iter().filter(fits).collect();
        // One that explains nothing any more, with a newer model, is passed over.
        let calibrated = fitting.iter().find_map(|kept| kept.ready())?;
        Some(Chosen { calibrated, matches: fitting.len() })
    }
}

impl Kept {
    fn ready(&self) -> Option<Arc<Calibrated>> {
        let fitted = || Calibrated::new(&self.profile.evidence).map(|calibrated| Arc::new(calibrated.named(&self.stamp.name)));
        self.ready.get_or_init(fitted).clone()
    }
}

/// The profiles of a folder by name, in their order.
fn stamps(folder: &Path) -> Result<Vec<Stamp>, ProfileError> {
    let stamp = |name: String| {
        let about = std::fs::metadata(folder.join(format!("{name}.toml"))).ok();
        Stamp { name, changed: about.as_ref().and_then(|about| about.modified().ok()), bytes: about.map(|about| about.len()) }
    };
    Ok(names_in(folder)?.into_iter().map(stamp).collect())
}
