//! `tintpoint bath`: the logbook.

mod change;
mod exchange;
mod failure;
pub(super) mod ladder;
mod load;
pub(super) mod new;
pub(super) mod photo;
mod reading;
mod show;
mod undo;
mod writing;

use super::failure::Status;
use super::later::Later;
use super::output::Output;
use crate::desk::clock;
use crate::logbook::event::Entry;
use crate::logbook::ledger::{Bath, Ledger};
use crate::store::records::{self, Logbook};
use clap::Subcommand;
pub(super) use failure::BathError;
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "Examples:
  tintpoint bath new tray-1 --acid citric-anhydrous --grams-per-litre 15 --volume 2l --work paper
  tintpoint bath load tray-1 --sheets 8x10rc=24 --by \"class 3b\" --developer carbonate-1+2
  tintpoint bath reading tray-1 --ph 4.6 --low 4.4 --high 4.8 --with meter
  tintpoint bath show tray-1
  tintpoint bath list";

#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct BathOptions {
    /// The logbook, a file; in your data folder unless told.
    #[arg(long, value_name = "FILE", global = true)]
    logbook: Option<PathBuf>,
    #[command(subcommand)]
    task: Task,
}

#[derive(Debug, Subcommand)]
enum Task {
    /// Write down a freshly mixed bath.
    New(Later<new::NewOptions>),
    /// Write down film or paper that went through, also a whole class at once.
    Load(Later<load::LoadOptions>),
    /// Write down a pH that was read by hand; `tintpoint read --bath` does it from a photo.
    Reading(Later<reading::ReadingOptions>),
    /// Write down concentrate, fresh bath or water poured in.
    TopUp(Later<change::TopUpOptions>),
    /// Write down the volume as measured, or what was spilt or taken.
    Volume(Later<change::VolumeOptions>),
    /// Write down a drop-count test with developer.
    DropTest(Later<change::DropTestOptions>),
    /// How to mix a ladder of cups from it and its developer, to calibrate without buffers.
    Ladder(Later<ladder::LadderOptions>),
    /// Write down a note.
    Note(Later<change::NoteOptions>),
    /// Write down that the bath was thrown away.
    Discard(Later<change::DiscardOptions>),
    /// Take an entry back: it stays in the logbook, but does not count.
    Undo(Later<undo::UndoOptions>),
    /// Show a bath: load, age, readings, entries.
    Show(Later<show::ShowOptions>),
    /// The state of all baths at a glance.
    List(Later<show::ListOptions>),
    /// Text for the bottle or tray, to print or write.
    Label(Later<show::LabelOptions>),
    /// Was it the stop? The bath behind a film or a day, and what its record proves.
    Trace(Later<show::TraceOptions>),
    /// Write the whole logbook as JSON or CSV.
    Export(Later<exchange::ExportOptions>),
    /// Take over entries from an export.
    Import(Later<exchange::ImportOptions>),
}

/// Runs one task of the logbook.
pub(crate) fn run(options: &BathOptions) -> Status {
    match text(options).and_then(|text| Output::new().put(&text).map_err(BathError::Report)) {
        Ok(()) => Status::Judged,
        Err(error) => error.told(),
    }
}

/// What is to be told once it is done.
fn text(options: &BathOptions) -> Result<String, BathError> {
    let path = place(options.logbook.as_deref())?;
    let path = path.as_path();
    match &options.task {
        Task::New(new) => new.run(path),
        Task::Load(load) => load.run(path),
        Task::Reading(reading) => reading.run(path),
        Task::TopUp(top_up) => top_up.run(path),
        Task::Volume(volume) => volume.run(path),
        Task::DropTest(test) => test.run(path),
        Task::Ladder(ladder) => ladder.run(path),
        Task::Note(note) => note.run(path),
        Task::Discard(discard) => discard.run(path),
        Task::Undo(undo) => undo.run(path),
        Task::Show(show) => show.run(path),
        Task::List(list) => list.run(path),
        Task::Label(label) => label.run(path),
        Task::Trace(trace) => trace.run(path),
        Task::Export(export) => export.run(path),
        Task::Import(import) => import.run(path),
    }
}

/// The logbook as told, else the one in the data folder.
pub(super) fn place(told: Option<&Path>) -> Result<PathBuf, BathError> {
    Ok(match told {
        Some(path) => path.to_owned(),
        None => records::place()?,
    })
}

/// All entries of a logbook; of one that is not there none.
pub(super) fn entries(path: &Path) -> Result<Vec<Entry>, BathError> {
    Ok(match Logbook::look(path)? {
        Some(logbook) => logbook.entries()?,
        None => Vec::new(),
    })
}

/// The bath of that name.
pub(super) fn bath<'a>(ledger: &'a Ledger, name: &str) -> Result<&'a Bath, BathError> {
    ledger.find(name).ok_or_else(|| {
        let names = ledger.live().map(|bath| bath.start.name.clone()).collect();
        BathError::NoBath { name: name.to_owned(), names }
    })
}
