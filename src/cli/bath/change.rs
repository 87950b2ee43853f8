//! `tintpoint bath top-up`, `volume`, `drop-test`, `note` and `discard`.

use super::failure::BathError;
use super::new::RecipeOptions;
use super::writing::WritingOptions;
use crate::cli::args::number;
use crate::cli::buffer::volume;
use crate::desk::change;
use crate::logbook::event::{Developer, Event};
use crate::quantity::Millilitres;
use std::path::Path;

const TOP_UP_EXAMPLES: &str = "Examples:
  tintpoint bath top-up tray-1 --volume 200ml                     fresh bath of the same recipe
  tintpoint bath top-up tray-1 --volume 200ml --water
  tintpoint bath top-up tank --volume 10ml --acid acetic --strength 28 --dilution 1+0

A top-up with acid adds reserve, not youth: salts, dyes and gelatin stay. More than once is not advised.";

#[derive(Debug, clap::Args)]
#[command(after_help = TOP_UP_EXAMPLES)]
pub(crate) struct TopUpOptions {
    /// The bath.
    name: String,
    /// Volume poured in, with its unit.
    #[arg(long, value_name = "VOLUME", value_parser = volume)]
    volume: Millilitres,
    /// Plain water.
    #[arg(long, conflicts_with = "acid")]
    water: bool,
    #[command(flatten)]
    recipe: RecipeOptions,
    #[command(flatten)]
    writing: WritingOptions,
}

impl TopUpOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        let told = self.recipe.recipe()?;
        self.writing.write(path, &self.name, |bath| {
            let recipe = if self.water { None } else { Some(told.unwrap_or(bath.start.recipe)) };
            Ok(Event::TopUp { volume_ml: self.volume.value(), recipe })
        })
    }
}

const VOLUME_EXAMPLES: &str = "Examples:
  tintpoint bath volume tray-1 --is 1.7l                          measured: the rest evaporated
  tintpoint bath volume tray-1 --lost 200ml --note \"down the sink\"";

#[derive(Debug, clap::Args)]
#[command(after_help = VOLUME_EXAMPLES)]
pub(crate) struct VolumeOptions {
    /// The bath.
    name: String,
    /// Its volume now; the difference is taken for water.
    #[arg(long, value_name = "VOLUME", value_parser = volume, required_unless_present = "lost", conflicts_with = "lost")]
    is: Option<Millilitres>,
    /// Volume of bath that is gone: spilt, or taken for tests.
    #[arg(long, value_name = "VOLUME", value_parser = volume)]
    lost: Option<Millilitres>,
    #[command(flatten)]
    writing: WritingOptions,
}

impl VolumeOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        let event = match (self.is, self.lost) {
            (Some(is), _) => Event::Volume { volume_ml: is.value() },
            (None, Some(lost)) => Event::Lost { volume_ml: lost.value() },
            (None, None) => return Err(BathError::Usage("no volume was given".to_owned(), "give --is or --lost")),
        };
        self.writing.write(path, &self.name, |_| Ok(event))
    }
}

const DROP_TEST_EXAMPLES: &str = "Examples:
  tintpoint bath drop-test tray-1 --sample 10 --used 2.4
  tintpoint bath drop-test tank --sample 10 --used 3.1 --developer borax-sulfite-1+1

Drip your working developer into a sample of the bath until its dye turns, and discard the sample.";

#[derive(Debug, clap::Args)]
#[command(after_help = DROP_TEST_EXAMPLES)]
pub(crate) struct DropTestOptions {
    /// The bath.
    name: String,
    /// Sample of bath, ml.
    #[arg(long, value_name = "ML", value_parser = number)]
    sample: f64,
    /// Developer until it turned, ml.
    #[arg(long, value_name = "ML", value_parser = number)]
    used: f64,
    /// The developer; that of the last load unless told.
    #[arg(long, value_name = "NAME")]
    developer: Option<String>,
    /// Your own figure for that developer: acid that a litre binds, meq.
    #[arg(long, value_name = "MEQ", value_parser = number, requires = "developer")]
    alkalinity: Option<f64>,
    #[command(flatten)]
    writing: WritingOptions,
}

impl DropTestOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        self.writing.write(path, &self.name, |bath| {
            let told = self.developer.as_ref().map(|name| Developer { name: name.trim().to_lowercase(), own_meq: self.alkalinity });
            Ok(change::drop_test(bath, self.sample, self.used, told)?)
        })
    }
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example: tintpoint bath note tray-1 \"smells of sulfur since the fixer tongs fell in\"")]
pub(crate) struct NoteOptions {
    /// The bath.
    name: String,
    /// The note.
    text: String,
    /// Who writes this down; your user name unless told.
    #[arg(long, value_name = "NAME")]
    who: Option<String>,
    /// When it happened, if not now: 2026-03-14 19:30, or 19:30 for today.
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
}

impl NoteOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        if self.text.trim().is_empty() {
            return Err(BathError::Usage("the note is empty".to_owned(), "write something"));
        }
        let writing = WritingOptions { who: self.who.clone(), at: self.at.clone(), note: Some(self.text.clone()) };
        writing.write(path, &self.name, |_| Ok(Event::Note))
    }
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example: tintpoint bath discard tray-1 --reason spent\n\nAsk locally where it may be poured away.")]
pub(crate) struct DiscardOptions {
    /// The bath.
    name: String,
    /// Why.
    #[arg(long, value_name = "TEXT")]
    reason: String,
    #[command(flatten)]
    writing: WritingOptions,
}

impl DiscardOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        self.writing.write(path, &self.name, |_| Ok(Event::Discard { reason: self.reason.trim().to_owned() }))
    }
}
