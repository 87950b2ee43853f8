//! All profiles that are kept, and the one that fits a photo when none was named.

use super::{ProfileError, find, names};
use crate::colour::generic::LightKind;
use crate::indicator::Indicator;
use crate::measurement::profile::{Calibrated, Profile};
use std::sync::{Arc, OnceLock};

/// The profiles of the user's data folder. Each is made ready for reading once, when a photo asks for it first.
#[derive(Debug, Default)]
pub struct Shelf {
    kept: Vec<Kept>,
    /// What could not be read, which must not keep the others from use.
    pub damaged: Vec<ProfileError>,
}

#[derive(Debug)]
struct Kept {
    name: String,
    profile: Profile,
    ready: OnceLock<Option<Arc<Calibrated>>>,
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
    /// Reads all that are kept.
    ///
    /// # Errors
    /// [`ProfileError`] when the folder cannot be read. A file in it that cannot be read is put down in `damaged`.
    pub fn open() -> Result<Self, ProfileError> {
        let mut shelf = Shelf::default();
        for name in names()? {
            match find(&name) {
                Ok(profile) => shelf.kept.push(Kept { name, profile, ready: OnceLock::new() }),
                Err(error) => shelf.damaged.push(error),
            }
        }
        // ISO 8601 sorts by time; names part what is of the same time.
        shelf.kept.sort_by(|a, b| (&b.profile.date, &a.name).cmp(&(&a.profile.date, &b.name)));
        Ok(shelf)
    }

    /// None, because of an error.
    #[must_use]
    pub fn empty(error: ProfileError) -> Self {
        Shelf { kept: Vec::new(), damaged: vec![error] }
    }

    /// The newest profile of this camera and dye whose light is not another than the one told. A photo whose camera is not known fits
    /// none: another camera sees another colour, and nothing in the photo would tell.
    #[must_use]
    pub fn choose(&self, camera: Option<&str>, indicator: &Indicator, light: Option<LightKind>) -> Option<Chosen> {
        let camera = camera?;
        let fits = |kept: &&Kept| {
            let evidence = &kept.profile.evidence;
            let is_light = light.zip(evidence.light).is_none_or(|(told, own)| told == own);
            kept.profile.camera.as_deref() == Some(camera) && evidence.indicator.name == indicator.name && is_light
        };
        let fitting: Vec<&Kept> = self.kept.iter().filter(fits).collect();
        // One that explains nothing any more, with a newer model, is passed over.
        let calibrated = fitting.iter().find_map(|kept| kept.ready())?;
        Some(Chosen { calibrated, matches: fitting.len() })
    }
}

impl Kept {
    fn ready(&self) -> Option<Arc<Calibrated>> {
        let fitted = || Calibrated::new(&self.profile.evidence).map(|calibrated| Arc::new(calibrated.named(&self.name)));
        self.ready.get_or_init(fitted).clone()
    }
}
