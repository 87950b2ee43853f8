//! `tintpoint dispose`.

use super::ask;
use super::failure::Status;
use super::mix::{Form, interval};
use super::output;
use super::source::{SourceOptions, volume};
use crate::chemistry::developer::{self, Developer};
use crate::chemistry::disposal::{Answers, Drain, Fixer, Holder};
use crate::chemistry::neutral::Soda;
use crate::desk::calculate::Waste;
use crate::desk::source::SourceFailure;
use crate::present::disposal as present;
use crate::quantity::{Interval, Millilitres};
use clap::ValueEnum;

const EXAMPLES: &str = "Examples:
  tintpoint dispose citric-anhydrous --to 15g/l --volume 1l --drain sewer --holder home --fixer no
  tintpoint dispose acetic --strength 28 --to 1.7% --volume 2l --read 4.4..4.9 --developer borax-sulfite-1+1 --drain septic --holder home --fixer no
  tintpoint dispose --volume 5l --drain collected --holder institution --fixer yes

What is not told is asked on a terminal. Nothing here is a permission: local rules come first.";

/// Options of `tintpoint dispose`.
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct DisposeOptions {
    #[command(flatten)]
    source: SourceOptions,
    /// How much there is, with its unit: 600ml, 2l.
    #[arg(long, value_name = "V", value_parser = volume, allow_hyphen_values = true)]
    volume: Millilitres,
    /// Where it would go.
    #[arg(long, value_enum)]
    drain: Option<DrainChoice>,
    /// Whose it is.
    #[arg(long, value_enum)]
    holder: Option<HolderChoice>,
    /// Whether fixer has got in.
    #[arg(long, value_enum)]
    fixer: Option<FixerChoice>,
    /// pH of the bath as read: 4.2..4.7, or ..5.0 when only a bound was read; taken as fresh when absent, which is the most soda.
    #[arg(long, value_name = "LOW..HIGH", value_parser = interval)]
    read: Option<Interval>,
    /// Kind of developer that used it up; the range of soda is wider without it.
    #[arg(long, value_name = "NAME", value_parser = developer_named)]
    developer: Option<&'static Developer>,
    /// What to neutralise with.
    #[arg(long, value_enum, default_value_t = SodaChoice::Bicarbonate)]
    with: SodaChoice,
    /// Form of the report.
    #[arg(long, value_enum, default_value_t = Form::Text)]
    format: Form,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum DrainChoice {
    /// A municipal sewer.
    Sewer,
    /// A septic tank, cesspit, garden or storm drain.
    Septic,
    /// It is collected.
    Collected,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum HolderChoice {
    /// A home.
    Home,
    /// A school, club, laboratory or business.
    Institution,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FixerChoice {
    /// No fixer has got in.
    No,
    /// Fixer has got in.
    Yes,
    /// It may have.
    Unsure,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum SodaChoice {
    /// Sodium bicarbonate, baking soda.
    Bicarbonate,
    /// Sodium carbonate, washing soda without water.
    Carbonate,
    /// Sodium carbonate with one water.
    CarbonateMonohydrate,
}

/// What stops the command.
#[derive(Debug, thiserror::Error)]
enum DisposeFailure {
    #[error(transparent)]
    Source(#[from] SourceFailure),
    #[error("{option} is not told: {question}")]
    Unanswered { option: &'static str, question: &'static str },
    #[error("cannot put the report into JSON: {0}")]
    Report(#[from] std::io::Error),
}

impl DisposeFailure {
    fn hint(&self) -> &'static str {
        match self {
            DisposeFailure::Source(e) => e.hint(),
            DisposeFailure::Unanswered { .. } => "give --drain, --holder and --fixer; on a terminal they are asked",
            DisposeFailure::Report(_) => "this is a fault of the program; please report it",
        }
    }
}

/// Asks, and says what is known.
pub(crate) fn run(options: &DisposeOptions) -> Status {
    output::ended(report(options), DisposeFailure::hint, |failure| {
        if matches!(failure, DisposeFailure::Report(_)) { Status::Failed } else { Status::Usage }
    })
}

fn report(options: &DisposeOptions) -> Result<String, DisposeFailure> {
    let answers = options.answers()?;
    let soda = match options.with {
        SodaChoice::Bicarbonate => Soda::Bicarbonate,
        SodaChoice::Carbonate => Soda::Carbonate,
        SodaChoice::CarbonateMonohydrate => Soda::CarbonateMonohydrate,
    };
    let ingredients = options.source.ingredients();
    let waste = Waste { ingredients, volume: options.volume, answers, read: options.read, developer: options.developer, soda };
    let disposal = waste.disposal()?;
    Ok(match options.format {
        Form::Text => present::report(&disposal, output::columns()),
        Form::Json => present::json::line(&disposal).map_err(std::io::Error::other)? + "\n",
    })
}

impl DisposeOptions {
    /// The questions, in the order in which they matter.
    fn answers(&self) -> Result<Answers, DisposeFailure> {
        let fixer = told("--fixer", "has fixer got into the bath?", self.fixer)?;
        let drain = told("--drain", "where would it go?", self.drain)?;
        let holder = told("--holder", "whose is it?", self.holder)?;
        Ok(Answers {
            drain: match drain {
                DrainChoice::Sewer => Drain::Sewer,
                DrainChoice::Septic => Drain::Septic,
                DrainChoice::Collected => Drain::Collected,
            },
            holder: match holder {
                HolderChoice::Home => Holder::Home,
                HolderChoice::Institution => Holder::Institution,
            },
            fixer: match fixer {
                FixerChoice::No => Fixer::No,
                FixerChoice::Yes => Fixer::Yes,
                FixerChoice::Unsure => Fixer::Unsure,
            },
        })
    }
}

/// What the option said, or what is answered on the terminal.
fn told<T: ValueEnum>(option: &'static str, question: &'static str, given: Option<T>) -> Result<T, DisposeFailure> {
    if let Some(given) = given {
        return Ok(given);
    }
    let plain: Vec<(String, String)> = T::value_variants()
        .iter()
        .filter_map(ValueEnum::to_possible_value)
        .map(|value| (value.get_name().to_owned(), value.get_help().map(ToString::to_string).unwrap_or_default()))
        .collect();
    let choices: Vec<(&str, &str)> = plain.iter().map(|(word, help)| (word.as_str(), help.as_str())).collect();
    let chosen = ask::choice(question, &choices).and_then(|i| T::value_variants().get(i));
    chosen.cloned().ok_or(DisposeFailure::Unanswered { option, question })
}

fn developer_named(text: &str) -> Result<&'static Developer, String> {
    developer::find(text).map_err(|e| format!("{e}\nhint: take the nearest of these, or leave it out"))
}
