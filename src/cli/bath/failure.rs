//! What can go wrong with an entry, and the exit status of it.

use super::clock::ClockError;
use crate::cli::failure::Status;
use crate::cli::output;
use crate::logbook::check::EntryError;
use crate::logbook::life::LifeError;
use crate::logbook::recipe::RecipeError;
use crate::store::records::RecordError;
use crate::store::records::exchange::ExchangeError;
use std::io;
use std::path::PathBuf;

#[derive(Debug, thiserror::Error)]
pub(crate) enum BathError {
    #[error(transparent)]
    Record(#[from] RecordError),
    #[error(transparent)]
    Entry(#[from] EntryError),
    #[error(transparent)]
    Clock(#[from] ClockError),
    #[error(transparent)]
    Life(#[from] LifeError),
    #[error(transparent)]
    Recipe(#[from] RecipeError),
    #[error("there is no bath `{name}` in the logbook{}", known(names))]
    NoBath { name: String, names: Vec<String> },
    #[error("the bath `{name}` was discarded on {when}")]
    Discarded { name: String, when: String },
    #[error("there is a bath `{name}` already, mixed on {when}")]
    NameTaken { name: String, when: String },
    #[error("no entry begins with `{0}`")]
    NoEntry(String),
    #[error("{count} entries begin with `{start}`")]
    ManyEntries { start: String, count: usize },
    #[error("entry {0} does not count already")]
    UndoneAlready(String),
    #[error("nothing to undo: `{0}` wrote no entry that counts")]
    NothingToUndo(String),
    #[error("the developer of the load into `{0}` is missing")]
    NoDeveloper(String),
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

impl BathError {
    pub(crate) fn hint(&self) -> &'static str {
        match self {
            BathError::Record(error) => error.hint(),
            BathError::Entry(error) => error.hint(),
            BathError::Clock(error) => error.hint(),
            BathError::Life(error) => error.hint(),
            BathError::Recipe(error) => error.hint(),
            BathError::NoBath { .. } => "`tintpoint bath list --all` shows them; `tintpoint bath new` begins one",
            BathError::Discarded { .. } => "begin a new one with `tintpoint bath new`; if it was discarded by mistake, undo that entry",
            BathError::NameTaken { .. } => "discard that one first, or give another name: counts of two baths must not be mixed",
            BathError::NoEntry(_) => "`tintpoint bath show NAME` lists entries with their ids",
            BathError::ManyEntries { .. } => "give more digits of the id",
            BathError::UndoneAlready(_) => "undo the entry that undid it, if it is to count again",
            BathError::NothingToUndo(_) => "give the id of the entry; `tintpoint bath show NAME` lists them",
            BathError::NoDeveloper(_) => {
                "give --developer with a name such as carbonate-1+2 or borax-sulfite-1+1, or --alkalinity with your own figure; the next load takes the same"
            }
            BathError::Usage(_, hint) => hint,
            BathError::Unreadable { .. } => "give a file that is there and may be read",
            BathError::Unwritable { .. } => "give a file in a folder that exists and may be written to",
            BathError::Exchange { error, .. } => error.hint(),
            BathError::Report(_) => "look after the file or pipe that it goes to",
        }
    }

    pub(crate) fn status(&self) -> Status {
        match self {
            BathError::Record(RecordError::Entry { .. })
            | BathError::Entry(_)
            | BathError::Clock(_)
            | BathError::Life(_)
            | BathError::Recipe(_)
            | BathError::NoBath { .. }
            | BathError::Discarded { .. }
            | BathError::NameTaken { .. }
            | BathError::NoEntry(_)
            | BathError::ManyEntries { .. }
            | BathError::UndoneAlready(_)
            | BathError::NothingToUndo(_)
            | BathError::NoDeveloper(_)
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
