//! What can go wrong with a logbook, and the next thing to do.

use crate::logbook::check::EntryError;
use crate::logbook::event::Id;
use crate::store::StoreError;
use rusqlite::ErrorCode;
use std::io;
use std::path::{Path, PathBuf};

/// Why a logbook cannot be read or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RecordError {
    /// No folder for the user's data.
    #[error(transparent)]
    NoFolder(#[from] StoreError),
    /// A folder could not be made.
    #[error("cannot make the folder `{}` for the logbook: {cause}", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        cause: io::Error,
    },
    /// It cannot be opened.
    #[error("cannot open the logbook `{}`: {cause}", path.display())]
    Open {
        /// The file.
        path: PathBuf,
        /// What the system or the database said.
        cause: String,
    },
    /// It is something else.
    #[error("`{}` is no logbook of tintpoint", path.display())]
    Foreign {
        /// The file.
        path: PathBuf,
    },
    /// It was written by a newer program.
    #[error("the logbook `{}` has version {version}, this program knows up to {known}", path.display())]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        version: i64,
        /// Newest version known here.
        known: i64,
    },
    /// It is damaged.
    #[error("the logbook `{}` is damaged: {problem}", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        problem: String,
    },
    /// Another process writes to it.
    #[error("the logbook `{}` was in use by another process for {seconds} s", path.display())]
    Busy {
        /// The file.
        path: PathBuf,
        /// How long it was waited for.
        seconds: u64,
    },
    /// The disk is full.
    #[error("no room on the disk for the logbook `{}`", path.display())]
    Full {
        /// The file.
        path: PathBuf,
    },
    /// It may not be written to.
    #[error("the logbook `{}` or its folder may not be written to", path.display())]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// It could not be written for another reason.
    #[error("cannot write the logbook `{}`: {cause}", path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// What the system or the database said.
        cause: String,
    },
    /// The copy that is kept before a change of version could not be made.
    #[error("cannot keep a copy of the logbook `{}` as `{}`: {cause}", path.display(), copy.display())]
    Copy {
        /// The file.
        path: PathBuf,
        /// The copy.
        copy: PathBuf,
        /// What the system or the database said.
        cause: String,
    },
    /// Two entries of one id differ.
    #[error("entry {id} is in the logbook already with other content")]
    Conflict {
        /// The id.
        id: Id,
    },
    /// An entry that cannot be.
    #[error("entry {id} cannot be: {problem}")]
    Entry {
        /// The id.
        id: Id,
        /// What is wrong with it.
        problem: EntryError,
    },
    /// The system gave no randomness for an id.
    #[error("the system gives no random numbers for the id of an entry")]
    Randomness,
}

impl RecordError {
    /// The next thing to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            RecordError::NoFolder(_) => "set TINTPOINT_DATA to a folder, or name a file with --logbook",
            RecordError::Folder { .. } | RecordError::ReadOnly { .. } | RecordError::Open { .. } => {
                "nothing was written; give a file that you may write to with --logbook, or change the permissions of this one and of its folder"
            }
            RecordError::Write { .. } => "nothing was written; look after the disk, then enter it again",
            RecordError::Foreign { .. } => {
                "nothing was changed; name another file with --logbook; if this was a logbook once, `tintpoint bath export --damaged --out rescued.json` \
                 gets out of it what can be read"
            }
            RecordError::Newer { .. } => "nothing was changed; use the newer program, or export with it and import here",
            RecordError::Damaged { .. } => {
                "nothing was changed; get out what can be read with `tintpoint bath export --damaged --out rescued.json`, move the file away, then \
                 `tintpoint bath import rescued.json`"
            }
            RecordError::Busy { .. } => "nothing was written; end the other process, or try again",
            RecordError::Full { .. } => "nothing was written; make room on the disk, then enter it again",
            RecordError::Copy { .. } => "the logbook is as it was; make room or give the folder's permissions, then try again",
            RecordError::Conflict { .. } => "nothing was taken over; one of the two files was changed by hand",
            RecordError::Entry { problem, .. } => problem.hint(),
            RecordError::Randomness => "try again",
        }
    }

    /// Sorts what the database says.
    pub(super) fn of(path: &Path, seconds: u64, error: &rusqlite::Error) -> Self {
        let path = path.to_owned();
        let cause = error.to_string();
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked | ErrorCode::FileLockingProtocolFailed) => {
                RecordError::Busy { path, seconds }
            }
            Some(ErrorCode::DiskFull) => RecordError::Full { path },
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => RecordError::ReadOnly { path },
            Some(ErrorCode::NotADatabase) => RecordError::Foreign { path },
            Some(ErrorCode::DatabaseCorrupt) => RecordError::Damaged { path, problem: cause },
            Some(ErrorCode::CannotOpen) => RecordError::Open { path, cause },
            _ => RecordError::Write { path, cause },
        }
    }
}
