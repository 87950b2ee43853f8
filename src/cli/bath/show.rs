//! `tintpoint bath show`, `list`, `label` and `trace`.

use super::clock;
use super::failure::BathError;
use super::{bath, entries};
use crate::cli::args::{number, page_file, picture_file};
use crate::cli::output;
use crate::desk::book;
use crate::logbook::advice::{MOST_PIECES, Planned};
use crate::logbook::ledger::{Bath, Ledger};
use crate::logbook::trace;
use crate::present::bath::{self as words, json, judged, pictures};
use crate::present::text::NARROWEST;
use crate::present::words::printable;
use crate::store::whole;
use clap::ValueEnum;
use std::path::{Path, PathBuf};

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// For people.
    Text,
    /// One JSON object a line.
    Json,
}

const SHOW_EXAMPLES: &str = "Examples:
  tintpoint bath show tray-1
  tintpoint bath show tray-1 --next 24
  tintpoint bath show tray-1 --format json
  tintpoint bath show tray-1 --picture trend.png --curve curve.svg --report tray-1.html";

#[derive(Debug, clap::Args)]
#[command(after_help = SHOW_EXAMPLES)]
pub(crate) struct ShowOptions {
    /// The bath: its name, or the beginning of its id for one whose name has come again.
    name: String,
    /// Pieces of the next session, of the kind that went through last; as many as usual unless told.
    #[arg(long, value_name = "COUNT", value_parser = next_session)]
    next: Option<Planned>,
    /// Form of the report.
    #[arg(long, value_enum, default_value_t = Form::Text)]
    format: Form,
    /// Draw readings, reserve and load over time into a file ending in .png or .svg.
    #[arg(long, value_name = "OUT", value_parser = picture_file)]
    picture: Option<PathBuf>,
    /// Draw the neutralisation curve of its recipe with its place on it into a file ending in .png or .svg.
    #[arg(long, value_name = "OUT", value_parser = picture_file)]
    curve: Option<PathBuf>,
    /// Write both with the sentences on one page, into an HTML file.
    #[arg(long, value_name = "OUT", value_parser = page_file)]
    report: Option<PathBuf>,
}

impl ShowOptions {
    /// The session that advice is wanted on.
    fn planned(&self, bath: &Bath) -> Result<Planned, BathError> {
        let Some(planned) = self.next else { return Ok(Planned::Usual) };
        if bath.last_developer().is_none() {
            let message =
                format!("--next counts in the kind that went through last, but nothing went through {} yet", printable(&bath.start.name));
            return Err(BathError::Usage(message, "write down the first load with `tintpoint bath load`, then ask again"));
        }
        Ok(planned)
    }

    /// Writes the pictures and the page that are wanted.
    fn draw(&self, bath: &Bath, now: i64, planned: Planned) -> Result<(), BathError> {
        if self.picture.is_none() && self.curve.is_none() && self.report.is_none() {
            return Ok(());
        }
        let judged =
            judged::judged_for(bath, now, planned).map_err(|(why, hint)| BathError::Usage(format!("nothing can be drawn: {why}"), hint))?;
        let failed = |path: &PathBuf, why: String| BathError::Unwritable { path: path.clone(), cause: std::io::Error::other(why) };
        if let Some(path) = &self.picture {
            output::picture(path, &pictures::trend(bath, &judged, now, &clock::date_of)).map_err(|why| failed(path, why))?;
        }
        if let Some(path) = &self.curve {
            let drawing = pictures::curve(bath, &judged).map_err(|why| failed(path, why))?;
            output::picture(path, &drawing).map_err(|why| failed(path, why))?;
        }
        if let Some(path) = &self.report {
            let text = pictures::page(bath, &judged, now, &clock::date_of);
            whole::write(path, |file| file.write_all(text.as_bytes()))
                .map_err(|cause| BathError::Unwritable { path: path.clone(), cause })?;
        }
        Ok(())
    }

    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        let ledger = Ledger::of(entries(path)?);
        let bath = bath(&ledger, &self.name)?;
        let now = now()?;
        let planned = self.planned(bath)?;
        self.draw(bath, now, planned)?;
        match self.format {
            Form::Text => Ok(words::show(&ledger, bath, (now, planned), &clock::date_of, output::columns())),
            Form::Json => line(json::show(bath, now, planned)),
        }
    }
}

const LIST_EXAMPLES: &str = "Examples:
  tintpoint bath list
  tintpoint bath list --all --format json";

#[derive(Debug, clap::Args)]
#[command(after_help = LIST_EXAMPLES)]
pub(crate) struct ListOptions {
    /// Discarded baths too.
    #[arg(long)]
    all: bool,
    /// Form of the report.
    #[arg(long, value_enum, default_value_t = Form::Text)]
    format: Form,
}

impl ListOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        let ledger = Ledger::of(entries(path)?);
        let baths: Vec<_> = ledger.baths.iter().filter(|bath| self.all || bath.discarded().is_none()).collect();
        let now = now()?;
        match self.format {
            Form::Text => Ok(words::list(&ledger, &baths, now, output::columns())),
            Form::Json => baths.into_iter().map(|bath| line(json::list(bath, now))).collect(),
        }
    }
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example: tintpoint bath label tray-1")]
pub(crate) struct LabelOptions {
    /// The bath.
    name: String,
}

impl LabelOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        let ledger = Ledger::of(entries(path)?);
        Ok(book::label(bath(&ledger, &self.name)?, NARROWEST))
    }
}

const TRACE_EXAMPLES: &str = "Examples:
  tintpoint bath trace A12
  tintpoint bath trace 2026-03-14 --format json";

#[derive(Debug, clap::Args)]
#[command(after_help = TRACE_EXAMPLES)]
pub(crate) struct TraceOptions {
    /// The name of a film as `load --film` was given it, or a date.
    #[arg(value_name = "FILM|DATE")]
    wanted: String,
    /// Form of the report.
    #[arg(long, value_enum, default_value_t = Form::Text)]
    format: Form,
}

impl TraceOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        let ledger = Ledger::of(entries(path)?);
        let sessions = trace::trace(&ledger, &self.wanted, now()?);
        match self.format {
            Form::Text => Ok(words::trace::text(&self.wanted, &sessions, output::columns())),
            Form::Json => sessions.iter().map(|session| line(json::trace(session))).collect(),
        }
    }
}

fn next_session(text: &str) -> Result<Planned, String> {
    let count = number(text)?;
    Planned::of(count).ok_or_else(|| format!("{count} pieces; more than 0 and at most {MOST_PIECES} can be asked about"))
}

fn now() -> Result<i64, BathError> {
    Ok(clock::now()?.timestamp().as_second())
}

fn line(text: Result<String, String>) -> Result<String, BathError> {
    text.map(|text| text + "\n").map_err(|e| BathError::Report(std::io::Error::other(e)))
}
