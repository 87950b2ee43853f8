//! `tintpoint bath export` and `import`.

use super::entries;
use super::failure::BathError;
use crate::cli::output;
use crate::logbook::ledger::Ledger;
use crate::present::bath as words;
use crate::store::records::exchange::{self, ExchangeError};
use crate::store::records::{Logbook, salvage};
use crate::store::whole;
use clap::ValueEnum;
use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// One JSON object with all entries.
    Json,
    /// One row per entry, for spreadsheets.
    Csv,
}

const EXPORT_EXAMPLES: &str = "Examples:
  tintpoint bath export --out logbook.json
  tintpoint bath export --format csv > logbook.csv
  tintpoint bath export --damaged --out rescued.json     what can still be read of a damaged logbook";

#[derive(Debug, clap::Args)]
#[command(after_help = EXPORT_EXAMPLES)]
pub(crate) struct ExportOptions {
    /// Form; an import takes either.
    #[arg(long, value_enum, default_value_t = Form::Json)]
    format: Form,
    /// The file to write; standard output unless told.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// The logbook is damaged: write what can still be read. The logbook itself is not changed.
    #[arg(long)]
    damaged: bool,
}

impl ExportOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        let all = if self.damaged {
            let found = salvage::salvage(path)?;
            output::remark(&words::salvaged(found.entries.len(), found.missing));
            found.entries
        } else {
            entries(path)?
        };
        let text = match self.format {
            Form::Json => exchange::to_json(all),
            Form::Csv => csv(&all),
        };
        let text = text.map_err(|error| BathError::Exchange { path: path.to_owned(), error })?;
        match &self.out {
            None => Ok(text),
            Some(out) => {
                let failed = |cause| BathError::Unwritable { path: out.clone(), cause };
                if same(out, path) {
                    return Err(BathError::Usage("--out names the logbook itself".to_owned(), "give another name, such as logbook.json"));
                }
                whole::write(out, |file| file.write_all(text.as_bytes())).map_err(failed)?;
                Ok(String::new())
            }
        }
    }
}

fn same(a: &Path, b: &Path) -> bool {
    a == b || a.canonicalize().is_ok_and(|a| b.canonicalize().is_ok_and(|b| a == b))
}

fn csv(all: &[crate::logbook::event::Entry]) -> Result<String, ExchangeError> {
    let ledger = Ledger::of(all.to_vec());
    let undone = crate::logbook::order::undone(all);
    let names: HashMap<_, _> = ledger.baths.iter().map(|bath| (bath.mixed.id.clone(), bath.start.name.clone())).collect();
    exchange::to_csv(all, |id| !undone.contains(id), |bath| names.get(bath).cloned().unwrap_or_default())
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example: tintpoint bath import logbook.json\n\nEntries that are in the logbook already are not doubled.")]
pub(crate) struct ImportOptions {
    /// A file that `export` has written, JSON or CSV.
    file: PathBuf,
}

impl ImportOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        let text = fs::read_to_string(&self.file).map_err(|cause| BathError::Unreadable { path: self.file.clone(), cause })?;
        let all = exchange::parse(&text).map_err(|error| BathError::Exchange { path: self.file.clone(), error })?;
        let taken = Logbook::open(path)?.take_over(all)?;
        Ok(words::imported(taken.added, taken.known))
    }
}
