//! What every command that writes an entry has in common: who, when, a note.

use super::clock;
use super::failure::BathError;
use crate::cli::output;
use crate::desk::book::{self, Writing};
use crate::logbook::check;
use crate::logbook::event::{Entry, Event, Id};
use crate::logbook::ledger::{Bath, Ledger};
use crate::present::bath as words;
use crate::store::records::{Draft, Logbook};
use std::path::Path;

#[derive(Debug, Clone, clap::Args)]
pub(crate) struct WritingOptions {
    /// Who writes this down; your user name unless told.
    #[arg(long, value_name = "NAME")]
    pub(crate) who: Option<String>,
    /// When it happened, if not now: 2026-03-14 19:30, or 19:30 for today.
    #[arg(long, value_name = "TIME")]
    pub(crate) at: Option<String>,
    /// Anything else to keep with it.
    #[arg(long, value_name = "TEXT")]
    pub(crate) note: Option<String>,
}

impl WritingOptions {
    /// Who writes.
    pub(super) fn who(&self) -> Result<String, BathError> {
        let who = self.who.clone().unwrap_or_else(book::user);
        check::name("the name of who writes", &who)?;
        Ok(who)
    }

    /// An entry of this writer at this time.
    pub(super) fn draft(&self, bath: Option<Id>, event: Event) -> Result<Draft, BathError> {
        let writing = Writing { who: self.who()?, at: self.at.clone(), note: self.note.clone(), mark: None };
        Ok(writing.draft(bath, event)?)
    }

    /// Writes one entry about a bath that is in use, and says so once it is on the disk.
    pub(super) fn write(&self, path: &Path, name: &str, make: impl FnOnce(&Bath) -> Result<Event, BathError>) -> Result<String, BathError> {
        let written = Logbook::open(path)?.append(|entries| {
            let ledger = Ledger::of(entries.to_vec());
            let bath = live(&ledger, name)?;
            Ok::<_, BathError>(vec![self.draft(Some(bath.mixed.id.clone()), make(bath)?)?])
        })?;
        said(path, &written)
    }
}

/// A bath that is in use.
pub(super) fn live<'a>(ledger: &'a Ledger, name: &str) -> Result<&'a Bath, BathError> {
    Ok(book::in_use(super::bath(ledger, name)?)?)
}

/// What was written, and what stands out since.
pub(super) fn said(path: &Path, written: &[Entry]) -> Result<String, BathError> {
    let ledger = Ledger::of(super::entries(path)?);
    let now = clock::now()?.timestamp().as_second();
    Ok(written.iter().map(|entry| words::written(&ledger, entry, now, output::columns())).collect())
}
