//! Gets out of a damaged logbook what can still be read.

use super::Sealed;
use super::error::RecordError;
use crate::logbook::event::Entry;
use memchr::memmem;
use rusqlite::{Connection, OpenFlags};
use std::collections::HashSet;
use std::fs;
use std::path::Path;

/// How the text of every entry begins, since its id is its first field.
const LEAD: &[u8] = b"{\"id\":\"";

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Salvage {
    /// Entries, each once, by logbook and number.
    pub entries: Vec<Entry>,
    /// Numbers that should be there and are not, as far as the others tell.
    pub missing: u64,
}

/// Reads every entry that is whole: through the database from both ends as far as it goes, then by looking for their text in the file itself. The
/// file is not changed.
///
/// # Errors
/// [`RecordError::Open`] when the file cannot be read at all.
pub fn salvage(path: &Path) -> Result<Salvage, RecordError> {
    let bytes = fs::read(path).map_err(|e| RecordError::Open { path: path.to_owned(), cause: e.to_string() })?;
    let mut entries = Vec::new();
    for order in ["ASC", "DESC"] {
        let _ = by_rows(path, order, &mut entries);
    }
    entries.extend(memmem::find_iter(&bytes, LEAD).filter_map(|at| by_text(&bytes[at..])));
    let mut known = HashSet::new();
    entries.retain(|entry: &Entry| known.insert(entry.id.clone()));
    entries.sort_by(|a, b| (&a.book, a.number).cmp(&(&b.book, b.number)));
    let missing = missing(&entries);
    Ok(Salvage { entries, missing })
}

/// Stops at the first row that cannot be had.
fn by_rows(path: &Path, order: &str, found: &mut Vec<Entry>) -> rusqlite::Result<()> {
    let connection = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    let mut rows = connection.prepare(&format!("SELECT body, sum FROM entry ORDER BY place {order}"))?;
    let mut rows = rows.query([])?;
    while let Some(row) = rows.next()? {
        let sealed = Sealed { body: row.get(0)?, sum: row.get(1)? };
        found.extend(sealed.open().ok());
    }
    Ok(())
}

/// An entry's text lies in one piece unless it is longer than a page of the file.
fn by_text(bytes: &[u8]) -> Option<Entry> {
    let entry: Entry = serde_json::Deserializer::from_slice(bytes).into_iter().next()?.ok()?;
    // The sum stands right behind the text in a row; without it the text may be of a row that was cut short.
    let body = serde_json::to_string(&entry).ok()?;
    let after = bytes.get(body.len()..body.len() + 32)?;
    (bytes.starts_with(body.as_bytes()) && after == Sealed::sum(&body).as_bytes()).then_some(entry)
}

/// Gaps in the numbers of each logbook.
fn missing(entries: &[Entry]) -> u64 {
    let mut missing = 0;
    let mut expected = 1;
    for (place, entry) in entries.iter().enumerate() {
        if place > 0 && entries[place - 1].book != entry.book {
            expected = 1;
        }
        missing += entry.number.saturating_sub(expected);
        expected = entry.number.saturating_add(1);
    }
    missing
}
