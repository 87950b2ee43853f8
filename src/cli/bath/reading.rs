//! `tintpoint bath reading`.

use super::failure::BathError;
use super::writing::WritingOptions;
use crate::cli::args::ph;
use crate::logbook::event::{Event, Reading, Word};
use crate::quantity::Ph;
use std::path::Path;

const EXAMPLES: &str = "Examples:
  tintpoint bath reading tray-1 --ph 4.6 --with meter
  tintpoint bath reading tray-1 --high 5.2 --with eye --light daylight --who ben
  tintpoint bath reading tray-1 --ph 5.3 --low 5.0 --high 5.6 --with \"pH paper\" --at 19:30";

#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct ReadingOptions {
    /// The bath.
    name: String,
    /// Likely pH.
    #[arg(long, value_name = "PH", value_parser = ph, allow_hyphen_values = true)]
    ph: Option<Ph>,
    /// Lower end of where it lies for sure; alone it means "above".
    #[arg(long, value_name = "PH", value_parser = ph, allow_hyphen_values = true)]
    low: Option<Ph>,
    /// Upper end of where it lies for sure; alone it means "below".
    #[arg(long, value_name = "PH", value_parser = ph, allow_hyphen_values = true)]
    high: Option<Ph>,
    /// What it was read with.
    #[arg(long = "with", value_name = "TEXT", default_value = "hand")]
    means: String,
    /// Kind of light.
    #[arg(long, value_name = "TEXT")]
    light: Option<String>,
    /// pH from which a bath is nearing exhaustion (common practice, change it to yours).
    #[arg(long, value_name = "PH", default_value = "5.0", value_parser = ph)]
    nearing: Ph,
    /// pH from which a bath is spent (common practice, change it to yours).
    #[arg(long, value_name = "PH", default_value = "5.5", value_parser = ph)]
    spent: Ph,
    #[command(flatten)]
    writing: WritingOptions,
}

impl ReadingOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        let reading = Reading {
            ph: self.ph.map(Ph::value),
            ph_low: self.low.map(Ph::value),
            ph_high: self.high.map(Ph::value),
            state: self.state(),
            reasons: Vec::new(),
            light: self.light.clone(),
            means: self.means.clone(),
            indicator: None,
            ionic_strength: None,
            photo: None,
        };
        self.writing.write(path, &self.name, |_| Ok(Event::Reading(reading)))
    }

    /// By the likely pH; by a bound alone only where the whole of it lies in one state.
    fn state(&self) -> Word {
        let of = |ph: Ph| match ph {
            ph if ph >= self.spent => Word::Spent,
            ph if ph >= self.nearing => Word::Nearing,
            _ => Word::Fresh,
        };
        match (self.ph, self.low, self.high) {
            (Some(ph), _, _) => of(ph),
            (None, Some(low), _) if low >= self.spent => Word::Spent,
            (None, _, Some(high)) if high < self.nearing => Word::Fresh,
            (None, Some(low), Some(high)) if of(low) == of(high) => of(low),
            _ => Word::Unclear,
        }
    }
}
