//! `tintpoint buffer`.

use super::args::{ph, quantity, temperature};
use super::failure::Status;
use super::output;
use crate::chemistry::buffer::{self, Buffer};
use crate::chemistry::error::ChemistryError;
use crate::chemistry::powder::{self, Powder};
use crate::chemistry::recipe::{self, Recipe};
use crate::chemistry::sheet::{Order, ladder_sheet, mixing_sheet};
pub(super) use crate::desk::typed::volume;
use crate::present::buffer as present;
use crate::quantity::{BalanceStep, Celsius, MassPercent, Millilitres, Ph};
use clap::ValueEnum;

const EXAMPLES: &str = "Examples:
  tintpoint buffer --temperature 20
  tintpoint buffer phosphate --volume 500ml
  tintpoint buffer --ph 5.5 --volume 100ml
  tintpoint buffer --ph 5.0 --volume 1l --recipe citrate --form citric-monohydrate
  tintpoint buffer --series 7 --from 4.4 --to 7.4 --volume 50ml

Recipes: citrate-phosphate, acetate, citrate, citrate-hydroxide, citrate-bicarbonate.";

#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct BufferOptions {
    /// A buffer to show: a standard one, or a home-mixed one such as citrate-phosphate:5.5. Without name, --ph and --series all are listed.
    #[arg(value_name = "NAME", conflicts_with_all = ["ph", "series"], value_parser = named)]
    name: Option<Buffer>,
    /// Mix a buffer of this pH.
    #[arg(long, value_name = "PH", requires = "volume", conflicts_with = "series", value_parser = ph, allow_hyphen_values = true)]
    ph: Option<Ph>,
    /// Mix that many buffers at equal steps of pH from two stocks, for a calibration.
    #[arg(long, value_name = "N", requires_all = ["from", "to", "volume"], value_parser = clap::value_parser!(u8).range(2..=30))]
    series: Option<u8>,
    /// Lowest pH of the series.
    #[arg(long, value_name = "PH", requires = "series", value_parser = ph, allow_hyphen_values = true)]
    from: Option<Ph>,
    /// Highest pH of the series.
    #[arg(long, value_name = "PH", requires = "series", value_parser = ph, allow_hyphen_values = true)]
    to: Option<Ph>,
    /// Volume of each buffer, with its unit: 100ml, 0.5l.
    #[arg(long, value_name = "V", value_parser = volume, allow_hyphen_values = true)]
    volume: Option<Millilitres>,
    /// Recipe to mix by; the first that reaches the pH when absent.
    #[arg(long, value_name = "NAME", value_parser = recipe_named)]
    recipe: Option<&'static Recipe>,
    /// A form you have, such as citric-monohydrate; once for each. The others are listed below it.
    #[arg(long = "form", value_name = "NAME", value_parser = powder_named)]
    forms: Vec<&'static Powder>,
    /// Strength of the acetic acid, per cent by mass; the label tells.
    #[arg(long, value_name = "PERCENT", default_value = "28", value_parser = strength, allow_hyphen_values = true)]
    acid_strength: MassPercent,
    /// Smallest step your balance shows, grams.
    #[arg(long, value_name = "G", default_value = "0.01", value_parser = balance, allow_hyphen_values = true)]
    balance: BalanceStep,
    /// Temperature at which the buffer is used, degrees Celsius; 25 unless told.
    #[arg(long, value_name = "C", value_parser = temperature, allow_hyphen_values = true)]
    temperature: Option<Celsius>,
    /// Form of the report.
    #[arg(long, value_enum, default_value_t = Form::Text)]
    format: Form,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// For people.
    Text,
    /// One JSON object per buffer and line.
    Json,
}

/// What stops the command.
#[derive(Debug, thiserror::Error)]
enum BufferFailure {
    #[error(transparent)]
    Chemistry(#[from] ChemistryError),
    #[error("--to {to} is not above --from {from}")]
    Order { from: Ph, to: Ph },
    #[error("`{0}` already says its temperature")]
    Twice(String),
    #[error("cannot put the report into JSON: {0}")]
    Report(#[from] std::io::Error),
}

impl BufferFailure {
    fn hint(&self) -> &'static str {
        match self {
            BufferFailure::Chemistry(e) => e.hint(),
            BufferFailure::Order { .. } => "give the lower pH with --from and the higher with --to",
            BufferFailure::Twice(_) => "leave --temperature out; the sheet shows the pH at other temperatures too",
            BufferFailure::Report(_) => "this is a fault of the program; please report it",
        }
    }
}

/// Lists buffers, shows one, or says how to mix one or a ladder of them.
pub(crate) fn run(options: &BufferOptions) -> Status {
    output::ended(report(options), BufferFailure::hint, |failure| {
        if matches!(failure, BufferFailure::Report(_)) { Status::Failed } else { Status::Usage }
    })
}

fn report(options: &BufferOptions) -> Result<String, BufferFailure> {
    match (&options.name, options.ph, options.series, options.volume) {
        (Some(Buffer::Standard(buffer)), ..) => standard(buffer, options),
        (Some(Buffer::Mixed(mix)), .., volume) => {
            // A name says what the buffer is; a litre is as good as any volume to show it by.
            let order = Order { temperature: mix.temperature, ..options.order(volume)? };
            if options.temperature.is_some_and(|told| told != mix.temperature) {
                return Err(BufferFailure::Twice(mix.name()));
            }
            mixture(mix.recipe, mix.wanted, &order, options.format)
        }
        (None, Some(ph), _, volume) => {
            let recipe = options.recipe.map_or_else(|| recipe::reaching(&[ph]), Ok)?;
            mixture(recipe, ph, &options.order(volume)?, options.format)
        }
        (None, None, Some(count), volume) => ladder(options, usize::from(count), volume),
        (None, None, None, _) => list(options),
    }
}

impl BufferOptions {
    fn temperature(&self) -> Celsius {
        self.temperature.unwrap_or(recipe::USUAL_TEMPERATURE)
    }

    fn order(&self, volume: Option<Millilitres>) -> Result<Order, ChemistryError> {
        Ok(Order {
            volume: volume.map_or_else(|| Millilitres::new(1000.0), Ok).map_err(ChemistryError::Volume)?,
            temperature: self.temperature(),
            chosen: self.forms.clone(),
            strength: self.acid_strength,
            balance: self.balance,
        })
    }
}

fn list(options: &BufferOptions) -> Result<String, BufferFailure> {
    let temperature = options.temperature();
    let states = buffer::all().iter().map(|standard| (standard, Buffer::Standard(standard).at(temperature).ok()));
    let all: Vec<_> = states.collect();
    if options.format == Form::Json {
        let lines: Vec<String> = all
            .iter()
            .map(|(b, state)| present::json::standard(b, *state, temperature))
            .collect::<Result<_, _>>()
            .map_err(std::io::Error::other)?;
        return Ok(lines.join("\n") + "\n");
    }
    Ok(present::list(&all, recipe::all(), temperature, output::columns()))
}

fn standard(buffer: &'static buffer::StandardBuffer, options: &BufferOptions) -> Result<String, BufferFailure> {
    let temperature = options.temperature();
    let state = Buffer::Standard(buffer).at(temperature)?;
    Ok(match options.format {
        Form::Json => present::json::standard(buffer, Some(state), temperature).map_err(std::io::Error::other)? + "\n",
        Form::Text => present::standard(buffer, state, temperature, options.volume, output::columns()),
    })
}

fn mixture(recipe: &'static Recipe, ph: Ph, order: &Order, format: Form) -> Result<String, BufferFailure> {
    let sheet = mixing_sheet(recipe, ph, order)?;
    Ok(match format {
        Form::Json => present::json::mixture(&sheet).map_err(std::io::Error::other)? + "\n",
        Form::Text => present::mixture(&sheet, output::columns()),
    })
}

fn ladder(options: &BufferOptions, count: usize, volume: Option<Millilitres>) -> Result<String, BufferFailure> {
    let (Some(from), Some(to)) = (options.from, options.to) else { return list(options) };
    if from >= to {
        return Err(BufferFailure::Order { from, to });
    }
    let recipe = options.recipe.map_or_else(|| recipe::reaching(&[from, to]), Ok)?;
    let sheet = ladder_sheet(recipe, count, (from, to), &options.order(volume)?)?;
    Ok(match options.format {
        Form::Json => present::json::ladder(&sheet).map_err(std::io::Error::other)? + "\n",
        Form::Text => present::ladder(&sheet, options.temperature(), output::columns()),
    })
}

fn with_hint(error: &ChemistryError) -> String {
    format!("{error}\nhint: {}", error.hint())
}

fn named(text: &str) -> Result<Buffer, String> {
    buffer::find(text).map_err(|e| with_hint(&e))
}

fn recipe_named(text: &str) -> Result<&'static Recipe, String> {
    recipe::find(text).map_err(|e| with_hint(&e))
}

fn powder_named(text: &str) -> Result<&'static Powder, String> {
    powder::find(text).map_err(|e| with_hint(&e))
}

fn strength(text: &str) -> Result<MassPercent, String> {
    quantity(text.trim().trim_end_matches('%'), MassPercent::new)
}

fn balance(text: &str) -> Result<BalanceStep, String> {
    quantity(text.trim().trim_end_matches('g'), BalanceStep::new)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn help_names_every_recipe() {
        assert!(recipe::all().iter().all(|recipe| EXAMPLES.contains(recipe.name)));
    }
}
