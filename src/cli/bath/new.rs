//! `tintpoint bath new`.

use super::failure::BathError;
use super::writing::{WritingOptions, said};
use crate::cli::args::{indicator, number};
use crate::cli::buffer::volume;
use crate::cli::cost;
use crate::cost::Pack;
use crate::desk::book;
use crate::indicator::Indicator;
use crate::logbook::check::EntryError;
use crate::logbook::event::{Event, Keeping, Mixed, Paid, Work};
use crate::logbook::ledger::Ledger;
use crate::logbook::recipe::{Acid, Recipe};
use crate::quantity::{Millilitres, Money};
use crate::store::records::Logbook;
use clap::ValueEnum;
use std::path::Path;

const EXAMPLES: &str = "Examples:
  tintpoint bath new tray-1 --acid citric-anhydrous --grams-per-litre 15 --volume 2l --work paper --keep open
  tintpoint bath new tank --acid acetic --strength 28 --dilution 1+19 --volume 1l --indicator bromocresol-purple
  tintpoint bath new old --acid citric-monohydrate --grams-per-litre 16.4 --volume 1l --at \"2026-03-01 18:00\" --who ada
  tintpoint bath new tray-2 --acid citric-anhydrous --grams-per-litre 15 --volume 2l --price 6 --pack 1kg --currency EUR";

#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct NewOptions {
    /// What to call it; live baths need names of their own.
    name: String,
    #[command(flatten)]
    recipe: RecipeOptions,
    /// Volume with its unit, such as 1.5l.
    #[arg(long, value_name = "VOLUME", value_parser = volume)]
    volume: Millilitres,
    /// Its indicator, if it has one.
    #[arg(long, value_name = "NAME", value_parser = indicator)]
    indicator: Option<&'static Indicator>,
    /// Where it stands.
    #[arg(long, value_name = "TEXT")]
    place: Option<String>,
    /// How it is kept between sessions.
    #[arg(long, value_enum, default_value_t = Keep::Bottle)]
    keep: Keep,
    /// What it is for.
    #[arg(long, value_enum, default_value_t = For::Both)]
    work: For,
    /// What was paid for the batch; with --pack, what was paid for the pack that it was mixed from.
    #[arg(long, value_name = "MONEY", value_parser = cost::money)]
    price: Option<Money>,
    /// Pack that the price is of, with its unit: 500ml, 1kg.
    #[arg(long, value_name = "PACK", value_parser = cost::pack, requires = "price")]
    pack: Option<Pack>,
    /// Currency of the price.
    #[arg(long, value_name = "NAME", requires = "price", default_value = "", hide_default_value = true)]
    currency: String,
    #[command(flatten)]
    writing: WritingOptions,
}

/// What a litre is made of.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct RecipeOptions {
    /// The acid.
    #[arg(long, value_enum)]
    acid: Option<AcidName>,
    /// Strength of a liquid acid, per cent by mass as on its label.
    #[arg(long, value_name = "PERCENT", value_parser = strength)]
    strength: Option<f64>,
    /// Dilution of a liquid acid: 1+19 is one part and nineteen parts of water.
    #[arg(long, value_name = "1+N", value_parser = dilution, conflicts_with = "grams_per_litre")]
    dilution: Option<f64>,
    /// Grams of powder in a litre of bath.
    #[arg(long, value_name = "G", value_parser = number)]
    grams_per_litre: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum AcidName {
    /// Acetic acid or vinegar.
    Acetic,
    /// Citric acid powder without water.
    CitricAnhydrous,
    /// Citric acid powder with its crystal water.
    CitricMonohydrate,
    /// A citric concentrate.
    CitricConcentrate,
    /// Sodium metabisulfite powder.
    SodiumMetabisulfite,
    /// Potassium metabisulfite powder.
    PotassiumMetabisulfite,
}

impl From<AcidName> for Acid {
    fn from(name: AcidName) -> Acid {
        match name {
            AcidName::Acetic => Acid::Acetic,
            AcidName::CitricAnhydrous => Acid::CitricAnhydrous,
            AcidName::CitricMonohydrate => Acid::CitricMonohydrate,
            AcidName::CitricConcentrate => Acid::CitricConcentrate,
            AcidName::SodiumMetabisulfite => Acid::SodiumMetabisulfite,
            AcidName::PotassiumMetabisulfite => Acid::PotassiumMetabisulfite,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Keep {
    /// A full, closed bottle at room temperature.
    Bottle,
    /// A full, closed bottle in a refrigerator.
    Cold,
    /// An open tray or bottle.
    Open,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum For {
    /// Film.
    Film,
    /// Paper.
    Paper,
    /// Both.
    Both,
}

impl RecipeOptions {
    /// The recipe as told; none when nothing was.
    pub(crate) fn recipe(&self) -> Result<Option<Recipe>, BathError> {
        let Some(acid) = self.acid.map(Acid::from) else {
            let is_told = self.strength.is_some() || self.dilution.is_some() || self.grams_per_litre.is_some();
            let message = "--strength, --dilution or --grams-per-litre without --acid".to_owned();
            return if is_told { Err(BathError::Usage(message, "give --acid with one of the names in --help")) } else { Ok(None) };
        };
        let amount = if acid.is_liquid() { self.dilution } else { self.grams_per_litre };
        let per_litre = amount.ok_or_else(|| {
            let (what, hint) = if acid.is_liquid() {
                ("--dilution", "give --dilution such as 1+19, and --strength with the per cent on the label")
            } else {
                ("--grams-per-litre", "give --grams-per-litre such as 15")
            };
            BathError::Usage(format!("--acid {} needs {what}", acid.name()), hint)
        })?;
        let percent = if acid.is_liquid() { self.strength } else { None };
        Ok(Some(Recipe { acid, percent, per_litre }))
    }
}

impl NewOptions {
    /// What the batch cost: as told, or its part of the pack.
    fn paid(&self, recipe: &Recipe) -> Result<Option<Paid>, BathError> {
        let Some(price) = self.price else { return Ok(None) };
        let amount = match self.pack {
            None => price.value(),
            Some(pack) if matches!(pack, Pack::Liquid(_)) == recipe.acid.is_liquid() => {
                pack.supply(price, recipe.per_litre).map_err(EntryError::from)?.per_litre() * self.volume.litres()
            }
            Some(_) => {
                let message = format!("--pack has not the unit of {}", recipe.acid.name());
                return Err(BathError::Usage(message, "give millilitres of what is poured and grams of what is weighed"));
            }
        };
        Ok(Some(Paid { amount, currency: self.currency.trim().to_owned() }))
    }

    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        let recipe = self
            .recipe
            .recipe()?
            .ok_or_else(|| BathError::Usage("the bath has no acid".to_owned(), "give --acid with one of the names in --help"))?;
        let start = Mixed {
            name: self.name.trim().to_owned(),
            recipe,
            indicator: self.indicator.map(|dye| dye.name.to_owned()),
            volume_ml: self.volume.value(),
            place: self.place.clone(),
            keeping: match self.keep {
                Keep::Bottle => Keeping::Bottle,
                Keep::Cold => Keeping::Cold,
                Keep::Open => Keeping::Open,
            },
            work: match self.work {
                For::Film => Work::Film,
                For::Paper => Work::Paper,
                For::Both => Work::Both,
            },
            paid: self.paid(&recipe)?,
        };
        let draft = self.writing.draft(None, Event::Mixed(start))?;
        let written = Logbook::open(path)?.append(|entries| {
            let ledger = Ledger::of(entries.to_vec());
            book::free(&ledger, self.name.trim())?;
            Ok::<_, BathError>(vec![draft])
        })?;
        said(path, &written)
    }
}

fn strength(text: &str) -> Result<f64, String> {
    number(text.trim().trim_end_matches('%'))
}

/// Millilitres of the acid in a litre of bath.
fn dilution(text: &str) -> Result<f64, String> {
    let hint = "write 1+19 for one part and nineteen parts of water";
    let Some((acid, water)) = text.split_once('+') else {
        return Err(format!("`{text}` can be read in two ways\nhint: {hint}; 1:19 and 1:20 mean different things to different people"));
    };
    let (acid, water) = (number(acid)?, number(water)?);
    if acid > 0.0 && water >= 0.0 {
        Ok(crate::chemistry::bath::millilitres_per_litre(acid, water))
    } else {
        Err(format!("`{text}` has no acid, or less than no water\nhint: {hint}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dilutions_have_one_meaning() {
        assert!((dilution("1+19").unwrap() - 50.0).abs() < 1e-9 && (dilution("1 + 63").unwrap() - 15.625).abs() < 1e-9);
        for text in ["1:19", "20", "0+1", "1+-1", "a+b", "1+nan"] {
            assert!(dilution(text).unwrap_err().contains("hint") || dilution(text).is_err(), "{text}");
        }
        assert!(dilution("1:20").unwrap_err().contains("two ways"));
    }
}
