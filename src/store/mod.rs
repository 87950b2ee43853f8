//! What outlives a run: the user's data folder, records that survive a kill, files that are never seen half-written.

pub mod folder;
pub mod profiles;
pub mod records;
pub mod seen;
pub mod whole;

use std::io;
use std::path::PathBuf;

/// What could not be kept.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The system names no home folder.
    #[error("the system names no folder for the user's data")]
    NoHome,
    /// A folder could not be made.
    #[error("cannot make the folder `{}`: {cause}", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        cause: io::Error,
    },
    /// A record could not be read.
    #[error("cannot read the record `{}`: {cause}", path.display())]
    Read {
        /// The record.
        path: PathBuf,
        /// What the system said.
        cause: io::Error,
    },
    /// The file is none of ours.
    #[error("`{}` is no record of a watched folder", path.display())]
    NoRecord {
        /// The file.
        path: PathBuf,
    },
    /// A record could not be written.
    #[error("cannot write the record `{}`: {cause}", path.display())]
    Write {
        /// The record.
        path: PathBuf,
        /// What the system said.
        cause: io::Error,
    },
    /// Another process holds the record.
    #[error("another watch holds the record `{}`", path.display())]
    InUse {
        /// The record.
        path: PathBuf,
    },
}

impl StoreError {
    /// The next thing to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            StoreError::NoHome => "set TINTPOINT_DATA to a folder, or name a file with --state",
            StoreError::Folder { .. } | StoreError::Write { .. } => "give a place that may be written to and has room, with --state FILE",
            StoreError::Read { .. } => "change the permissions of the record, or name another file with --state",
            StoreError::NoRecord { .. } => "nothing was changed; name another file with --state, it is made when it is not there",
            StoreError::InUse { .. } => "end the other watch, or watch another folder",
        }
    }
}
