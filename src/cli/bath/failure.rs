//! What can go wrong with an entry, and the exit status of it.

use crate::cli::failure::Status;
use crate::cli::output;
use crate::desk::book::BookError;
use crate::desk::clock::ClockError;
use crate::logbook::check::EntryError;
use crate::logbook::life::LifeError;
use crate::logbook::recipe::RecipeError;
use crate::store::records::RecordError;
use crate::store::records::exchange::ExchangeError;
use std::io;
use std::path::PathBuf;

#[derive(Debug, thiserror::Error)]
pub(crate) enum BathError {
    /// What any writer into a logbook is told.
    #[error(transparent)]
    Book(#[from] BookError),
    #[error(transparent)]
    Life(#[from] LifeError),
    #[error(transparent)]
    Recipe(#[from] RecipeError),
    #[error("there is no bath `{name}` in the logbook{}", known(names))]
    NoBath { name: String, names: Vec<String> },
    #[error("no entry begins with `{0}`")]
    NoEntry(String),
    #[error("{count} entries begin with `{start}`")]
    ManyEntries { start: String, count: usize },
    #[error("nothing to undo: `{0}` wrote no entry that counts")]
    NothingToUndo(String),
    #[error("{0}")]
    Usage(String, &'static str),
    #[error("cannot read `{}`: {cause}", path.display())]
    Unreadable { path: PathBuf, cause: io::Error },
    #[error("cannot write `{}`: {cause}", path.display())]
    Unwritable { path: PathBuf, cause: io::Error },
    #[error("`{}`: {error}", path.display())]
    Exchange { path: PathBuf, error: ExchangeError },
    #[error("cannot write the report: {0}")]
    Report(io::Error),
}

fn known(names: &[String]) -> String {
    if names.is_empty() { String::new() } else { format!("; there are {}", names.join(", ")) }
}

impl From<RecordError> for BathError {
    fn from(error: RecordError) -> Self {
        BathError::Book(error.into())
    }
}

impl From<EntryError> for BathError {
    fn from(error: EntryError) -> Self {
        BathError::Book(error.into())
    }
}

impl From<ClockError> for BathError {
    fn from(error: ClockError) -> Self {
        BathError::Book(error.into())
    }
}

/// The next thing to do, as options say it where there is one for it.
fn book_hint(error: &BookError) -> &'static str {
    match error {
        BookError::Discarded { .. } => "begin a new one with `tintpoint bath new`; if it was discarded by mistake, undo that entry",
        BookError::UndoneAlready(_) => "undo the entry that undid it, if it is to count again",
        BookError::NoDeveloper(_) => {
            "give --developer with a name such as carbonate-1+2 or borax-sulfite-1+1, or --alkalinity with your own figure; the next load takes the same"
        }
        _ => error.hint(),
    }
}

impl BathError {
    pub(crate) fn hint(&self) -> &'static str {
        match self {
            BathError::Book(error) => book_hint(error),
            BathError::Life(error) => error.hint(),
            BathError::Recipe(error) => error.hint(),
            BathError::NoBath { .. } => "`tintpoint bath list --all` shows them; `tintpoint bath new` begins one",
            BathError::NoEntry(_) => "`tintpoint bath show NAME` lists entries with their ids",
            BathError::ManyEntries { .. } => "give more digits of the id",
            BathError::NothingToUndo(_) => "give the id of the entry; `tintpoint bath show NAME` lists them",
            BathError::Usage(_, hint) => hint,
            BathError::Unreadable { .. } => "give a file that is there and may be read",
            BathError::Unwritable { .. } => "give a file in a folder that exists and may be written to",
            BathError::Exchange { error, .. } => error.hint(),
            BathError::Report(_) => "look after the file or pipe that it goes to",
        }
    }

    pub(crate) fn status(&self) -> Status {
        match self {
            // What the file or the system says is no fault of what was typed, but for an entry that cannot be.
            BathError::Book(BookError::Record(error)) if !matches!(error, RecordError::Entry { .. }) => Status::Failed,
            BathError::Book(_)
            | BathError::Life(_)
            | BathError::Recipe(_)
            | BathError::NoBath { .. }
            | BathError::NoEntry(_)
            | BathError::ManyEntries { .. }
            | BathError::NothingToUndo(_)
            | BathError::Usage(..) => Status::Usage,
            _ => Status::Failed,
        }
    }

    /// Tells it, and gives the status.
    pub(crate) fn told(&self) -> Status {
        output::complain(&self.to_string(), Some(self.hint()));
        self.status()
    }
}
