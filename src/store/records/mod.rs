//! The logbook as a file: entries are added, never changed or removed.
//!
//! It is one SQLite file. An entry is told to the user as written only when it is on the disk: each is one transaction with a rollback journal
//! (`journal_mode=DELETE`) and `synchronous=EXTRA`, which also syncs the folder. A write-ahead log would be quicker, but it needs memory shared between
//! processes and so does not work on network shares, where a club keeps such a file.

mod error;
pub mod exchange;
pub mod photos;
pub mod salvage;
mod schema;

pub use error::RecordError;

use super::{folder, seen, whole};
use crate::logbook::event::{Entry, Event, Id};
use crate::logbook::moment::Moment;
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long another process may hold the logbook before it is given up: many entries take milliseconds each, a slow share a second.
const WAIT: Duration = Duration::from_secs(15);

/// Where the logbook lies unless told.
///
/// # Errors
/// [`RecordError::NoFolder`].
pub fn place() -> Result<PathBuf, RecordError> {
    Ok(folder::data()?.join("logbook.db"))
}

/// An open logbook.
#[derive(Debug)]
pub struct Logbook {
    path: PathBuf,
    connection: Connection,
    book: Id,
}

/// An entry to be written; the logbook gives it its number, and an id unless it has one.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// Its id, where the caller has a use for knowing it beforehand; a new one otherwise.
    pub id: Option<Id>,
    /// The bath; none for the entry that mixes it.
    pub bath: Option<Id>,
    /// When it happened.
    pub happened: Moment,
    /// Now.
    pub recorded: Moment,
    /// Who writes.
    pub who: String,
    /// Anything else.
    pub note: Option<String>,
    /// What happened.
    pub event: Event,
}

/// What an import came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Taken {
    /// Entries added.
    pub added: usize,
    /// Entries that were there already.
    pub known: usize,
}

/// An entry as text with its sum.
struct Sealed {
    body: String,
    sum: String,
}

impl Sealed {
    fn of(entry: &Entry) -> Result<Self, serde_json::Error> {
        let body = serde_json::to_string(entry)?;
        Ok(Sealed { sum: Sealed::sum(&body), body })
    }

    /// Half of the content's SHA-256: against bits that flip, not against people.
    fn sum(body: &str) -> String {
        seen::fingerprint(body.as_bytes()).chars().take(32).collect()
    }

    fn open(&self) -> Result<Entry, String> {
        if Sealed::sum(&self.body) != self.sum {
            return Err("its sum is wrong".to_owned());
        }
        serde_json::from_str(&self.body).map_err(|e| e.to_string())
    }
}

impl Logbook {
    /// Opens a logbook to write to; makes it when it is not there.
    ///
    /// # Errors
    /// [`RecordError`]; the file is as it was.
    pub fn open(path: &Path) -> Result<Self, RecordError> {
        let folder = whole::folder(path);
        std::fs::create_dir_all(&folder).map_err(|cause| RecordError::Folder { path: folder, cause })?;
        Self::with(path, OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE)
    }

    /// Opens a logbook to read; none when there is no file.
    ///
    /// # Errors
    /// [`RecordError`]; the file is as it was.
    pub fn look(path: &Path) -> Result<Option<Self>, RecordError> {
        // An empty file is one whose first entry never came.
        match path.metadata() {
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Ok(about) if about.is_file() && about.len() == 0 => Ok(None),
            // What a killed process left half done is put right on opening, so reading asks for the right to write; a file that may only be read is read.
            _ => Self::with(path, OpenFlags::SQLITE_OPEN_READ_WRITE).map(Some),
        }
    }

    fn with(path: &Path, flags: OpenFlags) -> Result<Self, RecordError> {
        let said = |e: rusqlite::Error| RecordError::of(path, WAIT.as_secs(), &e);
        let mut connection = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX).map_err(said)?;
        connection.busy_timeout(WAIT).map_err(said)?;
        connection.pragma_update(None, "synchronous", "EXTRA").map_err(said)?;
        schema::prepare(path, &mut connection, &random_id()?)?;
        let sound: String = connection.query_row("PRAGMA quick_check(1)", [], |row| row.get(0)).map_err(said)?;
        if sound != "ok" {
            return Err(RecordError::Damaged { path: path.to_owned(), problem: sound });
        }
        let damaged = |problem: String| RecordError::Damaged { path: path.to_owned(), problem };
        let book: String = connection.query_row("SELECT id FROM book", [], |row| row.get(0)).map_err(said)?;
        let book = Id::try_from(book).map_err(|e| damaged(e.to_string()))?;
        Ok(Logbook { path: path.to_owned(), connection, book })
    }

    /// Where it lies.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// All entries, in the order in which they came here.
    ///
    /// # Errors
    /// [`RecordError::Damaged`] when one cannot be read, or what the system says.
    pub fn entries(&self) -> Result<Vec<Entry>, RecordError> {
        entries(&self.path, &self.connection)
    }

    /// Adds entries that depend on what is there already; no other process can write between looking and writing.
    ///
    /// # Errors
    /// What `make` says, or [`RecordError`]; then nothing was written.
    pub fn append<E: From<RecordError>>(&mut self, make: impl FnOnce(&[Entry]) -> Result<Vec<Draft>, E>) -> Result<Vec<Entry>, E> {
        let path = self.path.clone();
        let transaction = begin(&path, &mut self.connection)?;
        let present = entries(&path, &transaction)?;
        let drafts = make(&present)?;
        let last = present.iter().filter(|entry| entry.book == self.book).map(|entry| entry.number).max().unwrap_or(0);
        let mut written = Vec::with_capacity(drafts.len());
        for (draft, number) in drafts.into_iter().zip(last + 1..) {
            let id = draft.id.map_or_else(random_id, Ok)?;
            let entry = Entry {
                bath: draft.bath.unwrap_or_else(|| id.clone()),
                id,
                book: self.book.clone(),
                number,
                happened: draft.happened,
                recorded: draft.recorded,
                who: draft.who,
                note: draft.note,
                event: draft.event,
            };
            entry.event.check().map_err(|problem| RecordError::Entry { id: entry.id.clone(), problem })?;
            insert(&path, &transaction, &entry)?;
            written.push(entry);
        }
        commit(&path, transaction)?;
        Ok(written)
    }

    /// Takes over entries of another logbook, or of a copy of this one: those that are here already are not doubled.
    ///
    /// # Errors
    /// [`RecordError::Conflict`] when one is here with other content, [`RecordError::Entry`] when one cannot be; then none was taken.
    pub fn take_over(&mut self, entries_to_take: Vec<Entry>) -> Result<Taken, RecordError> {
        let path = self.path.clone();
        let transaction = begin(&path, &mut self.connection)?;
        let mut present: HashMap<Id, Entry> = entries(&path, &transaction)?.into_iter().map(|entry| (entry.id.clone(), entry)).collect();
        let mut taken = Taken { added: 0, known: 0 };
        for entry in entries_to_take {
            match present.get(&entry.id) {
                Some(here) if *here == entry => taken.known += 1,
                Some(_) => return Err(RecordError::Conflict { id: entry.id }),
                None => {
                    entry.event.check().map_err(|problem| RecordError::Entry { id: entry.id.clone(), problem })?;
                    insert(&path, &transaction, &entry)?;
                    taken.added += 1;
                    present.insert(entry.id.clone(), entry);
                }
            }
        }
        commit(&path, transaction)?;
        Ok(taken)
    }
}

fn begin<'a>(path: &Path, connection: &'a mut Connection) -> Result<Transaction<'a>, RecordError> {
    connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(|e| RecordError::of(path, WAIT.as_secs(), &e))
}

fn commit(path: &Path, transaction: Transaction<'_>) -> Result<(), RecordError> {
    transaction.commit().map_err(|e| RecordError::of(path, WAIT.as_secs(), &e))
}

fn insert(path: &Path, connection: &Connection, entry: &Entry) -> Result<(), RecordError> {
    let sealed = Sealed::of(entry).map_err(|e| RecordError::Write { path: path.to_owned(), cause: e.to_string() })?;
    connection
        .execute("INSERT INTO entry (id, body, sum) VALUES (?1, ?2, ?3)", (entry.id.text(), &sealed.body, &sealed.sum))
        .map(drop)
        .map_err(|e| RecordError::of(path, WAIT.as_secs(), &e))
}

fn entries(path: &Path, connection: &Connection) -> Result<Vec<Entry>, RecordError> {
    let said = |e: rusqlite::Error| RecordError::of(path, WAIT.as_secs(), &e);
    let mut rows = connection.prepare("SELECT place, body, sum FROM entry ORDER BY place").map_err(said)?;
    let mut rows = rows.query([]).map_err(said)?;
    let mut all = Vec::new();
    while let Some(row) = rows.next().map_err(said)? {
        let place: i64 = row.get(0).map_err(said)?;
        let sealed = Sealed { body: row.get(1).map_err(said)?, sum: row.get(2).map_err(said)? };
        let damaged = |problem| RecordError::Damaged { path: path.to_owned(), problem: format!("entry {place} cannot be read: {problem}") };
        all.push(sealed.open().map_err(damaged)?);
    }
    Ok(all)
}

fn random_id() -> Result<Id, RecordError> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes).map_err(|_| RecordError::Randomness)?;
    Ok(Id::of(u128::from_be_bytes(bytes)))
}
