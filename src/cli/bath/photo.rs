//! `tintpoint read --bath`: readings of photos straight into the logbook.

use super::failure::BathError;
use super::writing::{WritingOptions, live, said};
use crate::cli::failure::Status;
use crate::cli::output;
use crate::desk::kept::{self, NoReading};
use crate::logbook::event::{Event, PhotoSeen, Reading};
use crate::logbook::ledger::{Bath, Ledger};
use crate::present::Entry;
use crate::store::records::{Logbook, RecordError, photos};
use std::path::{Path, PathBuf};

/// Where readings of photos are kept.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct KeepingOptions {
    /// Write the reading into the logbook for this bath; with several cups, each with its bath: 1=tray-1,2=tank.
    #[arg(long, value_name = "[CUP=]NAME", value_delimiter = ',', value_parser = target)]
    bath: Vec<Target>,
    /// Keep a copy of the photo beside the logbook, not only its fingerprint.
    #[arg(long, requires = "bath")]
    keep_photo: bool,
    /// The logbook, a file; in your data folder unless told.
    #[arg(long, value_name = "FILE", requires = "bath")]
    logbook: Option<PathBuf>,
    /// Who read it; your user name unless told.
    #[arg(long, value_name = "NAME", requires = "bath")]
    who: Option<String>,
    /// When it was read, if not now: 2026-03-14 19:30, or 19:30 for today.
    #[arg(long, value_name = "TIME", requires = "bath")]
    at: Option<String>,
}

/// The photo behind a reading.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Picture<'a> {
    /// A file.
    File(&'a Path),
    /// A file of a folder that is read again after a stop: its reading is written once.
    Watched(&'a Path),
    /// A picture that is in no file: the name of its copy, and the bytes.
    Taken(&'a Path, &'a [u8]),
}

impl Picture<'_> {
    fn name(&self) -> &Path {
        match self {
            Picture::File(path) | Picture::Watched(path) | Picture::Taken(path, _) => path,
        }
    }

    /// Its fingerprint; and a copy beside the logbook when `keep` is set.
    fn take(&self, logbook: &Path, keep: bool) -> Result<String, RecordError> {
        match self {
            Picture::File(path) | Picture::Watched(path) => photos::take(logbook, path, keep),
            Picture::Taken(name, bytes) => photos::take_bytes(logbook, name, bytes, keep),
        }
    }

    /// True when its reading of this bath is in the logbook already, and is to be there once.
    fn is_written(&self, bath: &Bath, sha256: &str) -> bool {
        let is_same = |reading: &Reading| reading.photo.as_ref().is_some_and(|photo| photo.sha256 == sha256);
        matches!(self, Picture::Watched(_)) && bath.readings().any(|(_, reading)| is_same(reading))
    }
}

/// A cup and its bath.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Target {
    /// None for the only cup, or the panel.
    cup: Option<usize>,
    name: String,
}

fn target(text: &str) -> Result<Target, String> {
    match text.split_once('=') {
        Some((cup, name)) => Ok(Target { cup: Some(crate::cli::contents::cup_number(cup)?), name: name.trim().to_owned() }),
        None => Ok(Target { cup: None, name: text.trim().to_owned() }),
    }
}

impl KeepingOptions {
    /// True when readings go into a logbook.
    pub(crate) fn is_wanted(&self) -> bool {
        !self.bath.is_empty()
    }

    /// True when one time was told for all readings.
    pub(crate) fn has_time(&self) -> bool {
        self.at.is_some()
    }

    /// Looks before any photo is read whether there are such baths, so that no reading is made in vain; the status when not.
    pub(crate) fn refusal(&self) -> Option<Status> {
        if self.is_wanted() { self.check().err().map(|error| error.told()) } else { None }
    }

    /// Keeps what one photo told, and says so on standard error; the status when it failed.
    pub(crate) fn told(&self, photo: Picture<'_>, entry: &Entry, ionic_strength: f64) -> Option<Status> {
        match self.keep(photo, entry, ionic_strength) {
            Ok(said) => {
                said.lines().for_each(output::remark);
                None
            }
            Err(error) => Some(error.told()),
        }
    }

    fn check(&self) -> Result<(), BathError> {
        let path = super::place(self.logbook.as_deref())?;
        let ledger = Ledger::of(super::entries(&path)?);
        self.bath.iter().try_for_each(|target| live(&ledger, &target.name).map(drop))
    }

    fn keep(&self, photo: Picture<'_>, entry: &Entry, ionic_strength: f64) -> Result<String, BathError> {
        if entry.outcome.is_err() {
            return Ok(String::new());
        }
        let path = super::place(self.logbook.as_deref())?;
        let readings = self.bath.iter().map(|target| Ok((target, cup_reading(target, entry, ionic_strength)?)));
        let readings = readings.collect::<Result<Vec<_>, BathError>>()?;
        let sha256 = photo.take(&path, self.keep_photo)?;
        let name = photo.name().file_name().map_or_else(|| entry.photo.clone(), |name| name.to_string_lossy().into_owned());
        let seen = PhotoSeen { name, sha256, taken: entry.taken.clone(), kept: self.keep_photo };
        let writing = WritingOptions { who: self.who.clone(), at: self.at.clone(), note: None };
        let written = Logbook::open(&path)?.append(|entries| {
            let ledger = Ledger::of(entries.to_vec());
            let draft = |(target, reading): (&Target, Reading)| {
                let bath = live(&ledger, &target.name)?;
                if photo.is_written(bath, &seen.sha256) {
                    return Ok(None);
                }
                let event = Event::Reading(Reading { photo: Some(seen.clone()), ..reading });
                writing.draft(Some(bath.mixed.id.clone()), event).map(Some)
            };
            readings.into_iter().filter_map(|reading| draft(reading).transpose()).collect::<Result<Vec<_>, BathError>>()
        })?;
        said(&path, &written)
    }
}

/// The reading of the cup that was named, of the panel, or of the only cup.
fn cup_reading(target: &Target, entry: &Entry, ionic_strength: f64) -> Result<Reading, BathError> {
    kept::reading(entry, target.cup, ionic_strength).map_err(|error| match error {
        NoReading::NoCup(number) => {
            BathError::Usage(format!("{} has no cup {number} for the bath `{}`", entry.photo, target.name), "see the numbers in the report")
        }
        NoReading::WhichCup(count) => BathError::Usage(
            format!("{} has {count} cups, and `{}` does not say which", entry.photo, target.name),
            "name the cup: --bath 2=tray-1; nothing was written into the logbook",
        ),
    })
}
