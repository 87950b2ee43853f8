//! The tables of a logbook and the way from each older version to the newest.

use super::error::RecordError;
use super::{Sealed, WAIT};
use crate::logbook::event::Id;
use rusqlite::{Connection, OpenFlags, TransactionBehavior};
use std::path::{Path, PathBuf};

/// Newest version, kept in the file's `user_version`.
pub(super) const VERSION: i64 = 2;
/// Mark of the file, kept in its `application_id`: `tint` in ASCII.
const APPLICATION: i64 = 0x7469_6e74;

/// Version 1: entries as text, the logbook's own id.
const FIRST: &str = "
CREATE TABLE book (id TEXT NOT NULL);
CREATE TABLE entry (
    place INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    body TEXT NOT NULL
);
";

/// Version 2: a sum over each entry, by which a changed one is known, and no way to change or remove one.
const SUMS: &str = "ALTER TABLE entry ADD COLUMN sum TEXT NOT NULL DEFAULT '';";
const SEALS: &str = "
CREATE TRIGGER entry_stays BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never removed'); END;
CREATE TRIGGER entry_is_final BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END;
";

/// What an opened file is.
#[derive(Debug, PartialEq, Eq)]
enum Kind {
    New,
    Version(i64),
    Foreign,
}

/// Makes the tables of a new file, or brings those of an older one up to date; several processes may do so at once.
pub(super) fn prepare(path: &Path, connection: &mut Connection, new_book: &Id) -> Result<(), RecordError> {
    let said = |e: rusqlite::Error| RecordError::of(path, WAIT.as_secs(), &e);
    // Its marks are read under one lock: between two of them another process may have made the tables, and the file would look foreign.
    let seen = {
        let look = connection.transaction_with_behavior(TransactionBehavior::Deferred).map_err(said)?;
        kind(&look).map_err(said)?
    };
    match seen {
        Kind::Foreign => return Err(RecordError::Foreign { path: path.to_owned() }),
        Kind::Version(version) if version > VERSION => {
            return Err(RecordError::Newer { path: path.to_owned(), version, known: VERSION });
        }
        Kind::Version(VERSION) => return Ok(()),
        Kind::New | Kind::Version(_) => {}
    }
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(said)?;
    // Another process may have done it in the meantime.
    match kind(&transaction).map_err(said)? {
        Kind::New => {
            transaction.execute_batch(FIRST).map_err(said)?;
            transaction.execute("INSERT INTO book (id) VALUES (?1)", [new_book.text()]).map_err(said)?;
            transaction.pragma_update(None, "application_id", APPLICATION).map_err(said)?;
            seal(&transaction).map_err(said)?;
        }
        Kind::Version(1) => {
            keep_copy(path, 1)?;
            seal(&transaction).map_err(said)?;
        }
        Kind::Version(_) => return Ok(()),
        Kind::Foreign => return Err(RecordError::Foreign { path: path.to_owned() }),
    }
    transaction.pragma_update(None, "user_version", VERSION).map_err(said)?;
    transaction.commit().map_err(said)
}

/// From version 1 to 2.
fn seal(connection: &Connection) -> rusqlite::Result<()> {
    connection.execute_batch(SUMS)?;
    let mut bodies = connection.prepare("SELECT place, body FROM entry")?;
    let all: Vec<(i64, String)> = bodies.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect::<Result<_, _>>()?;
    for (place, body) in all {
        connection.execute("UPDATE entry SET sum = ?1 WHERE place = ?2", (Sealed::sum(&body), place))?;
    }
    connection.execute_batch(SEALS)
}

fn kind(connection: &Connection) -> rusqlite::Result<Kind> {
    let number = |name: &str| connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let version = number("user_version")?;
    Ok(match number("application_id")? {
        APPLICATION => Kind::Version(version),
        0 if version == 0 => {
            let tables: i64 = connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
            if tables == 0 { Kind::New } else { Kind::Foreign }
        }
        _ => Kind::Foreign,
    })
}

/// Keeps the file as it is beside itself, under a name that is not taken. The caller holds the lock, so nobody writes meanwhile; the copy
/// goes through the database, since opening and closing the file by any other way would drop that lock.
fn keep_copy(path: &Path, version: i64) -> Result<PathBuf, RecordError> {
    let named = |count: u32| {
        let mut name = path.as_os_str().to_owned();
        name.push(if count == 1 { format!(".version-{version}") } else { format!(".version-{version}-{count}") });
        PathBuf::from(name)
    };
    let copy = (1..=u32::MAX).map(named).find(|name| !name.exists()).unwrap_or_else(|| named(1));
    let mut part = copy.as_os_str().to_owned();
    part.push(".part");
    let part = PathBuf::from(part);
    let failed = |cause: String| RecordError::Copy { path: path.to_owned(), copy: copy.clone(), cause };
    let _ = std::fs::remove_file(&part);
    let source = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY).map_err(|e| failed(e.to_string()))?;
    source.backup("main", &part, None::<fn(rusqlite::backup::Progress)>).map_err(|e| failed(e.to_string()))?;
    // Windows puts a file on the disk only for those who may write to it.
    std::fs::File::options().write(true).open(&part).and_then(|file| file.sync_all()).map_err(|e| failed(e.to_string()))?;
    std::fs::rename(&part, &copy).map_err(|e| failed(e.to_string()))?;
    Ok(copy)
}
