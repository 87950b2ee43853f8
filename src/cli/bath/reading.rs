//! `tintpoint bath reading`.

use super::failure::BathError;
use super::writing::WritingOptions;
use crate::cli::args::ph;
use crate::desk::change::ByHand;
use crate::logbook::event::Event;
use crate::measurement::request::Limits;
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
        let by_hand = ByHand { ph: self.ph, low: self.low, high: self.high, means: self.means.clone(), light: self.light.clone() };
        let reading = by_hand.reading(Limits { nearing: self.nearing, spent: self.spent });
        self.writing.write(path, &self.name, |_| Ok(Event::Reading(reading)))
    }
}
