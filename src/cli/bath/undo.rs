//! `tintpoint bath undo`.

use super::failure::BathError;
use super::writing::{WritingOptions, said};
use crate::desk::book::BookError;
use crate::logbook::event::{Entry, Event};
use crate::logbook::order;
use crate::store::records::Logbook;
use std::path::Path;

const EXAMPLES: &str = "Examples:
  tintpoint bath undo                  your own last entry
  tintpoint bath undo 1f2e3d4c         the entry with this id; of an undo, so that its entry counts again";

#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct UndoOptions {
    /// The beginning of the entry's id, as `show` lists it; your own last entry unless told.
    id: Option<String>,
    #[command(flatten)]
    writing: WritingOptions,
}

impl UndoOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        let written = Logbook::open(path)?.append(|entries| {
            let target = self.target(entries)?;
            if order::undone(entries).contains(&target.id) {
                return Err(BathError::Book(BookError::UndoneAlready(target.id.short().to_owned())));
            }
            Ok(vec![self.writing.draft(Some(target.bath.clone()), Event::Undo { entry: target.id.clone() })?])
        })?;
        said(path, &written)
    }

    fn target<'a>(&self, entries: &'a [Entry]) -> Result<&'a Entry, BathError> {
        let Some(start) = &self.id else {
            let who = self.writing.who()?;
            let undone = order::undone(entries);
            let mut own = entries.iter().rev().filter(|entry| entry.who == who && !undone.contains(&entry.id));
            let last = own.find(|entry| !matches!(entry.event, Event::Undo { .. }));
            return last.ok_or(BathError::NothingToUndo(who));
        };
        let start = start.trim().to_lowercase();
        let found: Vec<&Entry> = entries.iter().filter(|entry| entry.id.text().starts_with(&start)).collect();
        match found.as_slice() {
            [] => Err(BathError::NoEntry(start)),
            [one] => Ok(one),
            many => Err(BathError::ManyEntries { start, count: many.len() }),
        }
    }
}
