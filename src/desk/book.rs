//! The logbook as it is written into: each task looks, decides and adds in one transaction.

use super::clock::{self, ClockError};
use crate::logbook::check::{self, EntryError};
use crate::logbook::event::{Entry, Event, Id, Mixed, Reading};
use crate::logbook::finding::usual_days;
use crate::logbook::ledger::{Bath, Ledger};
use crate::logbook::order;
use crate::store::records::{Draft, Logbook, RecordError};
use std::path::{Path, PathBuf};

/// Environment variables in which systems keep the name of the user.
const NAMES: [&str; 3] = ["USER", "LOGNAME", "USERNAME"];

/// The name of the user that this process runs for.
#[must_use]
pub fn user() -> String {
    let named = NAMES.iter().find_map(|name| std::env::var(name).ok().filter(|who| !who.is_empty()));
    named.unwrap_or_else(|| "unknown".to_owned())
}

/// Why nothing was written.
#[derive(Debug, thiserror::Error)]
pub enum BookError {
    /// What the file or the system says.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// An entry that cannot be.
    #[error(transparent)]
    Entry(#[from] EntryError),
    /// What is wrong with the clock.
    #[error(transparent)]
    Clock(#[from] ClockError),
    /// There is no such bath.
    #[error("there is no bath `{0}` in the logbook")]
    NoBath(String),
    /// It is not in use any more.
    #[error("the bath `{name}` was discarded on {when}")]
    Discarded {
        /// Its name.
        name: String,
        /// The day.
        when: String,
    },
    /// Another bath in use has that name.
    #[error("there is a bath `{name}` already, mixed on {when}")]
    NameTaken {
        /// The name.
        name: String,
        /// The day.
        when: String,
    },
    /// There is no such entry.
    #[error("there is no such entry in the logbook")]
    NoEntry,
    /// It does not count as it is.
    #[error("entry {0} does not count already")]
    UndoneAlready(String),
    /// The developer of a drop test or load is not told, and none was before.
    #[error("the developer is missing, and nothing went through `{0}` before")]
    NoDeveloper(String),
    /// What a form with this mark tells was written before.
    #[error("that was written already")]
    Again,
    /// A reading of the same photo is there.
    #[error("a reading of this photo is in the logbook for `{name}` already, written down {when}")]
    KeptAlready {
        /// The bath.
        name: String,
        /// When, to the minute.
        when: String,
    },
}

impl BookError {
    /// The next thing to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            BookError::Record(error) => error.hint(),
            BookError::Entry(error) => error.hint(),
            BookError::Clock(error) => error.hint(),
            BookError::NoBath(_) => "the list of baths has those that there are",
            BookError::Discarded { .. } => "begin a new one; if it was discarded by mistake, take that entry back",
            BookError::NameTaken { .. } => "discard that one first, or give another name: counts of two baths must not be mixed",
            BookError::NoEntry => "the page of the bath lists its entries",
            BookError::UndoneAlready(_) => "nothing more is to be done",
            BookError::NoDeveloper(_) => "say which developer it was",
            BookError::Again => "nothing was written a second time",
            BookError::KeptAlready { .. } => "nothing was written; write it again only if two cups of one photo came from this bath",
        }
    }
}

/// Who writes, when and with what note.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Writing {
    /// The name that the entry bears.
    pub who: String,
    /// When it happened, as typed; now unless told.
    pub at: Option<String>,
    /// Anything else to keep with it.
    pub note: Option<String>,
    /// Mark of the form that tells it. The first entry takes it for its id, so that the same form can never be written twice, whichever
    /// process takes it.
    pub mark: Option<Id>,
}

impl Writing {
    /// An entry of this writer at this time.
    ///
    /// # Errors
    /// What cannot be about writer, time or event.
    pub fn draft(&self, bath: Option<Id>, event: Event) -> Result<Draft, BookError> {
        check::name("the name of who writes", &self.who)?;
        event.check()?;
        let now = clock::now()?;
        let recorded = clock::moment(&now)?;
        let happened = match &self.at {
            Some(text) => clock::moment(&clock::typed(text, &now)?)?,
            None => recorded.clone(),
        };
        let note = self.note.as_deref().map(str::trim).filter(|note| !note.is_empty()).map(str::to_owned);
        Ok(Draft { id: None, bath, happened, recorded, who: self.who.clone(), note, event })
    }
}

/// A logbook that a page writes into.
#[derive(Debug, Clone)]
pub struct Book {
    path: PathBuf,
}

impl Book {
    /// The logbook in this file, which need not exist yet.
    #[must_use]
    pub fn at(path: PathBuf) -> Self {
        Book { path }
    }

    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// All baths; none when there is no file.
    ///
    /// # Errors
    /// [`BookError::Record`].
    pub fn ledger(&self) -> Result<Ledger, BookError> {
        let entries = match Logbook::look(&self.path)? {
            Some(logbook) => logbook.entries()?,
            None => Vec::new(),
        };
        Ok(Ledger::of(entries))
    }

    /// Begins a bath.
    ///
    /// # Errors
    /// [`BookError::NameTaken`] and what [`Event::check`] refuses; then nothing was written.
    pub fn begin(&self, by: &Writing, start: Mixed) -> Result<Entry, BookError> {
        let name = start.name.clone();
        let draft = by.draft(None, Event::Mixed(start))?;
        self.one(by, |entries| {
            free(&Ledger::of(entries.to_vec()), &name)?;
            Ok(vec![draft])
        })
    }

    /// Adds an entry about a bath that is in use; `make` sees the bath as it is then.
    ///
    /// # Errors
    /// [`BookError`]; then nothing was written.
    pub fn add(&self, by: &Writing, bath: &str, make: impl FnOnce(&Bath) -> Result<Event, BookError>) -> Result<Entry, BookError> {
        self.one(by, |entries| {
            let ledger = Ledger::of(entries.to_vec());
            let bath = live(&ledger, bath)?;
            Ok(vec![by.draft(Some(bath.mixed.id.clone()), make(bath)?)?])
        })
    }

    /// Takes an entry back, or, of an undo, lets its entry count again.
    ///
    /// # Errors
    /// [`BookError::NoEntry`] and [`BookError::UndoneAlready`]; then nothing was written.
    pub fn undo(&self, by: &Writing, entry: &str) -> Result<Entry, BookError> {
        self.one(by, |entries| {
            let target = entries.iter().find(|known| known.id.text() == entry).ok_or(BookError::NoEntry)?;
            if order::undone(entries).contains(&target.id) {
                return Err(BookError::UndoneAlready(target.id.short().to_owned()));
            }
            Ok(vec![by.draft(Some(target.bath.clone()), Event::Undo { entry: target.id.clone() })?])
        })
    }

    /// Keeps readings of one photo, each with its bath. One whose bath has a reading of the same photo is written only when `is_sure`.
    ///
    /// # Errors
    /// [`BookError::KeptAlready`] among others; then none was written.
    pub fn keep(&self, by: &Writing, readings: Vec<(String, Reading)>, is_sure: bool) -> Result<Vec<Entry>, BookError> {
        self.write(by, |entries| {
            let ledger = Ledger::of(entries.to_vec());
            let one = |(bath, reading): (String, Reading)| {
                let bath = live(&ledger, &bath)?;
                match same_photo(bath, &reading).filter(|_| !is_sure) {
                    Some(entry) => Err(BookError::KeptAlready { name: bath.start.name.clone(), when: entry.recorded.minute() }),
                    None => by.draft(Some(bath.mixed.id.clone()), Event::Reading(reading)),
                }
            };
            readings.into_iter().map(one).collect()
        })
    }

    fn one(&self, by: &Writing, make: impl FnOnce(&[Entry]) -> Result<Vec<Draft>, BookError>) -> Result<Entry, BookError> {
        self.write(by, make)?.into_iter().next().ok_or(BookError::NoEntry)
    }

    /// Writes what a form tells, unless it is there.
    fn write(&self, by: &Writing, make: impl FnOnce(&[Entry]) -> Result<Vec<Draft>, BookError>) -> Result<Vec<Entry>, BookError> {
        Logbook::open(&self.path)?.append(|entries| {
            if by.mark.as_ref().is_some_and(|mark| entries.iter().any(|known| known.id == *mark)) {
                return Err(BookError::Again);
            }
            let mut drafts = make(entries)?;
            if let Some(first) = drafts.first_mut() {
                first.id.clone_from(&by.mark);
            }
            Ok(drafts)
        })
    }
}

/// The label of a bath, with the day by which it is discarded; `width` in columns.
#[must_use]
pub fn label(bath: &Bath, width: usize) -> String {
    let days = usual_days(bath.start.recipe.acid, bath.start.keeping);
    crate::present::bath::label(bath, &clock::date_after(&bath.mixed.happened, days), width)
}

/// The bath that an id means, which must be in use.
fn live<'a>(ledger: &'a Ledger, id: &str) -> Result<&'a Bath, BookError> {
    let bath = ledger.baths.iter().find(|bath| bath.mixed.id.text() == id);
    let bath = bath.ok_or_else(|| BookError::NoBath(id.chars().filter(|c| !c.is_control()).take(check::LONGEST_NAME).collect()))?;
    in_use(bath)
}

/// A bath, unless it was thrown away.
///
/// # Errors
/// [`BookError::Discarded`].
pub fn in_use(bath: &Bath) -> Result<&Bath, BookError> {
    match bath.discarded() {
        Some(gone) => Err(BookError::Discarded { name: bath.start.name.clone(), when: gone.happened.date().to_owned() }),
        None => Ok(bath),
    }
}

/// Looks whether a name is free for a new bath.
///
/// # Errors
/// [`BookError::NameTaken`].
pub fn free(ledger: &Ledger, name: &str) -> Result<(), BookError> {
    match ledger.live().find(|bath| bath.start.name.to_lowercase() == name.to_lowercase()) {
        Some(bath) => Err(BookError::NameTaken { name: bath.start.name.clone(), when: bath.mixed.happened.date().to_owned() }),
        None => Ok(()),
    }
}

/// A reading of the same photo that counts.
fn same_photo<'a>(bath: &'a Bath, reading: &Reading) -> Option<&'a Entry> {
    let content = &reading.photo.as_ref()?.sha256;
    bath.readings().find(|(_, known)| known.photo.as_ref().is_some_and(|photo| photo.sha256 == *content)).map(|(entry, _)| entry)
}
