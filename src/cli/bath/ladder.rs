//! `tintpoint bath ladder`.

use super::failure::BathError;
use super::{bath, entries};
use crate::cli::args::{indicator, number, temperature};
use crate::cli::buffer::volume;
use crate::cli::output;
use crate::indicator::Indicator;
use crate::indicator::equilibrium::pka_at;
use crate::logbook::check::EntryError;
use crate::logbook::event::Developer;
use crate::logbook::ladder::{RUNGS, Turning, rungs};
use crate::logbook::ledger::Ledger;
use crate::present::bath::ladder as words;
use crate::quantity::{Celsius, IonicStrength, Millilitres, Ph, RangeError};
use std::path::Path;

const EXAMPLES: &str = "Examples:
  tintpoint bath drop-test tank --sample 10 --used 2.4 --developer borax-sulfite-1+1
  tintpoint bath ladder tank --cup 20ml
  tintpoint bath ladder tank --sample 10 --used 2.4 --developer carbonate-1+2

Take fresh bath, photograph all cups together with the grey card, then give the photo to `tintpoint calibrate --ladder`.";

/// Salt of a bath where its dye turns, mol/l: as of a used bath everywhere else.
const SALT: f64 = 0.3;

#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct LadderOptions {
    /// The bath.
    name: String,
    /// Bath in each cup, with its unit.
    #[arg(long, value_name = "VOLUME", default_value = "20ml", value_parser = volume)]
    cup: Millilitres,
    /// The dye, where the bath has none of its own and it is dropped into the cups.
    #[arg(long, value_name = "NAME", default_value = "bromocresol-purple", value_parser = indicator)]
    indicator: &'static Indicator,
    /// Sample of the fresh bath in the drop test, ml; that of the logbook unless told.
    #[arg(long, value_name = "ML", value_parser = number, requires = "used")]
    sample: Option<f64>,
    /// Developer that turned the sample, ml.
    #[arg(long, value_name = "ML", value_parser = number, requires_all = ["sample", "developer"])]
    used: Option<f64>,
    /// That developer.
    #[arg(long, value_name = "NAME", requires = "used")]
    developer: Option<String>,
    /// Temperature of the cups, degrees Celsius.
    #[arg(long, value_name = "C", default_value = "25", value_parser = temperature, allow_hyphen_values = true)]
    temperature: Celsius,
}

impl LadderOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        let ledger = Ledger::of(entries(path)?);
        let bath = bath(&ledger, &self.name)?;
        let told = self.sample.zip(self.used).zip(self.developer.as_ref());
        let told = told.map(|((sample, used), name)| (sample, used, Developer { name: name.trim().to_lowercase(), own_meq: None }));
        let kept = || bath.fresh_drop_test().map(|(sample, used, developer)| (sample, used, developer.clone()));
        let (sample, used, developer) = told.or_else(kept).ok_or_else(|| {
            let message = format!("the bath `{}` has no drop test from before its first load", bath.start.name);
            BathError::Usage(message, "drip developer into a sample of fresh bath until it turns, and write it down with `bath drop-test`")
        })?;
        let turn = turn(self.indicator, self.temperature).map_err(EntryError::from)?;
        let turning = Turning::of(&bath.start.recipe, &developer, (sample, used), turn, self.temperature)?;
        let rungs = rungs(&turning, &RUNGS)?;
        Ok(words::text(&bath.start.name, &developer.name, self.cup, &rungs, output::columns()))
    }
}

/// pH where the eye calls a dye turned: half-way, in the salt of a used bath.
pub(crate) fn turn(indicator: &Indicator, temperature: Celsius) -> Result<Ph, RangeError> {
    Ph::new(pka_at(indicator, IonicStrength::new(SALT)?, temperature))
}
