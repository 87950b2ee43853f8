//! `tintpoint calibrate --ladder`: cups of the worker's own bath with shares of its turning volume of developer, in place of buffers.

use super::{CalibrateOptions, SODA};
use crate::calibration::shared::{self, Assumed};
use crate::calibration::{CalibrationError, Finding, Rung};
use crate::cli::args::number;
use crate::cli::bath::new::RecipeOptions;
use crate::cli::bath::{self, BathError};
use crate::cli::failure::{Status, Stop};
use crate::logbook::event::Developer;
use crate::logbook::ladder::{self, Turning};
use crate::logbook::ledger::Ledger;
use crate::logbook::recipe::Recipe;
use crate::measurement::profile::Evidence;
use crate::quantity::{Celsius, IonicStrength, Ph};
use std::path::PathBuf;

/// Shared errors that are tried, in their standard uncertainty.
const STEPS: std::ops::RangeInclusive<i32> = -6..=6;
/// Of a step.
const STEP: f64 = 0.5;

/// What is known of the bath in the cups.
#[derive(Debug, clap::Args)]
pub(super) struct LadderOptions {
    /// Cups of your own bath, fresh, each with this share of the developer that turns it, per cent; `soda` for one with an excess of baking soda.
    #[arg(long, value_name = "PERCENT", value_delimiter = ',', value_parser = share)]
    pub(super) ladder: Vec<Share>,
    /// The bath in the logbook: its recipe, and the drop test of the fresh bath when there is one.
    #[arg(long, value_name = "NAME", requires = "ladder", conflicts_with = "acid")]
    bath: Option<String>,
    /// The logbook, a file; in your data folder unless told.
    #[arg(long, value_name = "FILE", requires = "bath")]
    logbook: Option<PathBuf>,
    #[command(flatten)]
    recipe: RecipeOptions,
    /// Sample of the fresh bath in the drop test, ml.
    #[arg(long, value_name = "ML", value_parser = number, requires_all = ["ladder", "used"])]
    sample: Option<f64>,
    /// Developer that turned the sample, ml.
    #[arg(long, value_name = "ML", value_parser = number, requires_all = ["ladder", "sample", "developer"])]
    used: Option<f64>,
    /// That developer: a name such as carbonate-1+2; only what its alkali is made of counts, not its strength.
    #[arg(long, value_name = "NAME", requires = "used")]
    developer: Option<String>,
}

/// One cup as told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Share {
    /// Share of the turning volume, per cent.
    Percent(f64),
    /// An excess of baking soda.
    Soda,
}

fn share(text: &str) -> Result<Share, String> {
    if text.trim() == "soda" { Ok(Share::Soda) } else { number(text.trim().trim_end_matches('%')).map(Share::Percent) }
}

/// The ladder under all shared errors that are tried, and the pH where the dye is taken to turn.
pub(super) struct Own {
    pub(super) assumed: Vec<Assumed>,
    pub(super) turn: f64,
}

impl Own {
    /// The cups when nothing is off.
    pub(super) fn middle(&self) -> Option<Vec<Rung>> {
        self.assumed.iter().find(|step| step.sds == 0.0).map(|step| step.rungs.clone())
    }

    /// Gives the cups the pH that their colours bear out, and tells of it.
    pub(super) fn narrow(&self, evidence: &mut Evidence) -> Result<Finding, CalibrationError> {
        let left = shared::narrow(evidence, &self.assumed).ok_or(CalibrationError::Unexplained)?;
        Ok(shared::finding(left, self.turn, ladder::TURN_SD))
    }
}

impl From<BathError> for Stop {
    fn from(error: BathError) -> Self {
        Stop::new(error.status(), &error, Some(error.hint()))
    }
}

fn wrong(message: impl ToString, hint: &str) -> Stop {
    Stop::new(Status::Usage, message, Some(hint))
}

/// What was measured on the fresh bath, by the logbook or as told.
pub(super) struct Fresh {
    pub(super) recipe: Recipe,
    pub(super) developer: Developer,
    /// Sample of bath and developer used, ml.
    pub(super) test: (f64, f64),
}

impl LadderOptions {
    /// The bath of the logbook, or as told here; `dye` is the one in the cups.
    fn fresh(&self, dye: &str) -> Result<Fresh, Stop> {
        let told = self.sample.zip(self.used).zip(self.developer.clone());
        let told = told.map(|(test, name)| (test, Developer { name: name.trim().to_lowercase(), own_meq: None }));
        let missing = "drip developer into a sample of the fresh bath until it turns, and give --sample, --used and --developer";
        let Some(name) = &self.bath else {
            let none = || wrong("the ladder has no bath", "give --bath NAME of the logbook, or --acid with its strength");
            let recipe = self.recipe.recipe()?.ok_or_else(none)?;
            let (test, developer) = told.ok_or_else(|| wrong("the ladder has no drop test of the fresh bath", missing))?;
            return Ok(Fresh { recipe, developer, test });
        };
        let ledger = Ledger::of(bath::entries(&bath::place(self.logbook.as_deref())?)?);
        let bath = bath::bath(&ledger, name)?;
        if let Some(own) = bath.start.indicator.as_deref().filter(|own| *own != dye) {
            return Err(wrong(format!("the bath `{name}` has {own}, not {dye}"), "name the dye of the cups with --indicator"));
        }
        let kept = bath.fresh_drop_test().map(|(sample, used, developer)| ((sample, used), developer.clone()));
        let none = || wrong(format!("the bath `{name}` has no drop test from before its first load"), missing);
        let (test, developer) = told.or(kept).ok_or_else(none)?;
        Ok(Fresh { recipe: bath.start.recipe, developer, test })
    }

    /// The cups, under all shared errors.
    pub(super) fn own(&self, options: &CalibrateOptions, temperature: Celsius) -> Result<Own, Stop> {
        let fresh = self.fresh(options.indicator.name)?;
        let turn = bath::ladder::turn(options.indicator, temperature).map_err(|e| wrong(e, "take the usual temperature of a room"))?;
        let turning = fresh.turning(turn, temperature)?;
        let shares: Vec<f64> = self.ladder.iter().filter_map(|s| if let Share::Percent(share) = s { Some(*share) } else { None }).collect();
        let step = |k: i32| {
            let sds = f64::from(k) * STEP;
            let rungs = ladder::rungs(&turning.off(sds), &shares).map_err(|e| wrong(&e, e.hint()))?;
            Ok(Assumed { sds, rungs: self.rungs(&rungs, options)? })
        };
        // Far off, developer or bath may not reach such a pH: those steps are left out, the middle must be there.
        let middle: Result<Assumed, Stop> = step(0);
        middle?;
        Ok(Own { assumed: STEPS.filter_map(|k| step(k).ok()).collect(), turn: turn.value() })
    }

    fn rungs(&self, computed: &[ladder::Rung], options: &CalibrateOptions) -> Result<Vec<Rung>, Stop> {
        let mut computed = computed.iter();
        let mut all = Vec::new();
        for share in &self.ladder {
            match (share, if *share == Share::Soda { None } else { computed.next() }) {
                (Share::Percent(_), Some(rung)) => {
                    let salt = IonicStrength::new(rung.ionic_strength.min(IonicStrength::HIGH));
                    let ionic_strength = salt.map_err(|e| wrong(&e, "check the recipe of the bath"))?;
                    all.push(Rung { ph: rung.ph, sd: rung.own, ionic_strength });
                }
                _ => {
                    let ph = Ph::new(SODA.0).map_err(|e| wrong(&e, ""))?;
                    all.push(Rung { ph, sd: SODA.1, ionic_strength: options.ionic_strength });
                }
            }
        }
        Ok(all)
    }

    /// A recipe that is told without a ladder would be left aside without a word.
    pub(super) fn check(&self) -> Result<(), Stop> {
        if self.ladder.is_empty() && self.recipe.recipe()?.is_some() {
            return Err(wrong(
                "--acid tells of a ladder of your own bath, but there is none",
                "give --ladder with the shares of developer",
            ));
        }
        Ok(())
    }
}

impl Fresh {
    pub(super) fn turning(&self, turn: Ph, temperature: Celsius) -> Result<Turning, Stop> {
        Turning::of(&self.recipe, &self.developer, self.test, turn, temperature).map_err(|e| wrong(&e, e.hint()))
    }
}
