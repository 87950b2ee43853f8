//! `tintpoint mix`.

use super::args::{indicator, number, ph, picture_file};
use super::failure::Status;
use super::output;
use super::source::{SourceOptions, volume};
use crate::chemistry::change::Change;
use crate::chemistry::developer::{self, Developer};
use crate::chemistry::error::ChemistryError;
use crate::chemistry::keeping::Vessel;
use crate::chemistry::mixing::{Plan, Quantity, Terms, through};
use crate::desk::calculate::Order;
use crate::desk::source::SourceFailure;
use crate::desk::typed::day;
pub(super) use crate::desk::typed::interval;
use crate::indicator::Indicator;
use crate::measurement::request::Limits;
use crate::present::chart::neutralisation::Place;
use crate::present::mixing::{self as present, COVERAGE, Mixing, words};
use crate::quantity::{Day, Interval, Millilitres, Ph};
use clap::ValueEnum;
use std::path::PathBuf;

const EXAMPLES: &str = "Examples:
  tintpoint mix --dilution 1+19 --make 1l
  tintpoint mix citric --strength 50 --dilution 1:20 --colon in-all --make 600ml
  tintpoint mix acetic --strength 28 --to 1.7% --make 2l --mixed 2026-11-26 --by M.
  tintpoint mix vinegar --strength 5 --to 2.5% --from-volume 500ml
  tintpoint mix citric-monohydrate --to 15g/l --make 1l --for film --developer carbonate-1+2
  tintpoint mix acetic --strength 28 --to 1.7% --make 1l --then used:80meq --then evaporated:100ml --then water:100ml
  tintpoint mix citric-anhydrous --to 15g/l --make 1l --picture curve.png --read 4.2..4.7";

/// Options of `tintpoint mix`.
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct MixOptions {
    #[command(flatten)]
    source: SourceOptions,
    /// Bath to make in all, with its unit: 600ml, 2l.
    #[arg(long, value_name = "V", value_parser = volume, allow_hyphen_values = true, required_unless_present = "from_volume")]
    make: Option<Millilitres>,
    /// Concentrate, acid or vinegar to use up instead.
    #[arg(long, value_name = "V", value_parser = volume, allow_hyphen_values = true, conflicts_with = "make")]
    from_volume: Option<Millilitres>,
    /// What the bath is for.
    #[arg(long = "for", value_enum)]
    purpose: Option<Purpose>,
    /// Kind of developer that goes before it, for advice about film: carbonate-1+2, borax-sulfite, hydroxide and so on.
    #[arg(long, value_name = "NAME", value_parser = developer_named)]
    developer: Option<&'static Developer>,
    /// pH from which the bath is nearing exhaustion, for the picture (common practice, change it to yours).
    #[arg(long, value_name = "PH", default_value = "5.0", value_parser = ph, allow_hyphen_values = true)]
    nearing: Ph,
    /// pH from which the bath is spent: the reserve counts up to there (common practice, change it to yours).
    #[arg(long, value_name = "PH", default_value = "5.5", value_parser = ph, allow_hyphen_values = true)]
    spent: Ph,
    /// Day of mixing for the label, year-month-day; a line to write on when absent.
    #[arg(long, value_name = "DAY", value_parser = day)]
    mixed: Option<Day>,
    /// Who mixes it, for the label.
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    /// How the bath is kept: sets the day by which it is discarded (common practice).
    #[arg(long, value_enum, default_value_t = Kept::FullBottle)]
    kept: Kept,
    /// Days that you keep a bath, instead of the common ones.
    #[arg(long, value_name = "DAYS", value_parser = clap::value_parser!(u32).range(1..=3650))]
    age_limit: Option<u32>,
    /// Volume of a sample in a cup, for the drops of indicator.
    #[arg(long, value_name = "V", default_value = "15ml", value_parser = volume, allow_hyphen_values = true)]
    cup: Millilitres,
    /// What happens to the bath then, once for each and in order: water:100ml, evaporated:100ml, lost:50ml, fresh:200ml or used:80meq.
    #[arg(long, value_name = "CHANGE", value_parser = event)]
    then: Vec<Event>,
    /// Draw the neutralisation curve into this file, ending in .png or .svg.
    #[arg(long, value_name = "OUT", value_parser = picture_file)]
    picture: Option<PathBuf>,
    /// Indicator whose colours the curve shows.
    #[arg(long, value_name = "NAME", default_value = "bromocresol-purple", value_parser = indicator)]
    indicator: &'static Indicator,
    /// pH of the bath as read, to mark on the curve: 4.2..4.7, or ..5.0 when only a bound was read.
    #[arg(long, value_name = "LOW..HIGH", value_parser = interval, requires = "picture")]
    read: Option<Interval>,
    /// Form of the report.
    #[arg(long, value_enum, default_value_t = Form::Text)]
    format: Form,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Form {
    /// For people.
    Text,
    /// One JSON object.
    Json,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Purpose {
    /// Film.
    Film,
    /// Paper.
    Paper,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Kept {
    /// A full, closed bottle.
    FullBottle,
    /// A closed bottle with air in it.
    PartBottle,
    /// A full, closed bottle in a refrigerator without food.
    Cold,
    /// An open tray.
    Tray,
}

/// A change as typed; fresh bath is known only when the recipe is.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Event {
    Water(f64),
    Evaporated(f64),
    Lost(f64),
    Fresh(f64),
    Used(f64),
}

/// What stops the command.
#[derive(Debug, thiserror::Error)]
enum MixFailure {
    #[error(transparent)]
    Source(#[from] SourceFailure),
    #[error(transparent)]
    Chemistry(#[from] ChemistryError),
    #[error("--spent {spent} is below --nearing {nearing}")]
    Limits { nearing: Ph, spent: Ph },
    #[error("{option} needs one bath of known content")]
    NoBath { option: &'static str },
    #[error("cannot put the report into JSON: {0}")]
    Report(#[from] std::io::Error),
    #[error("{0}")]
    Picture(String),
}

impl MixFailure {
    fn hint(&self) -> &'static str {
        match self {
            MixFailure::Source(e) => e.hint(),
            MixFailure::Chemistry(e) => e.hint(),
            MixFailure::Limits { .. } => "a bath nears exhaustion before it is spent",
            MixFailure::NoBath { .. } => "name the acid and its strength, and say with --colon what a colon means",
            MixFailure::Report(_) => "this is a fault of the program; please report it",
            MixFailure::Picture(_) => "give a folder that exists and may be written to",
        }
    }

    fn status(&self) -> Status {
        if matches!(self, MixFailure::Report(_) | MixFailure::Picture(_)) { Status::Failed } else { Status::Usage }
    }
}

/// Says what to measure, and draws the curve.
pub(crate) fn run(options: &MixOptions) -> Status {
    output::ended(report(options), MixFailure::hint, MixFailure::status)
}

fn report(options: &MixOptions) -> Result<String, MixFailure> {
    if options.spent < options.nearing {
        return Err(MixFailure::Limits { nearing: options.nearing, spent: options.spent });
    }
    let mixing = options.mixing()?;
    if let Some(path) = &options.picture {
        let drawing = options.drawing(&mixing)?;
        output::picture(path, &drawing).map_err(MixFailure::Picture)?;
    }
    Ok(match options.format {
        Form::Text => present::report(&mixing, output::columns()),
        Form::Json => present::json::line(&mixing).map_err(std::io::Error::other)? + "\n",
    })
}

impl MixOptions {
    fn order(&self) -> Result<Order, MixFailure> {
        let quantity = match (self.make, self.from_volume) {
            (Some(total), _) => Quantity::Make(total),
            (None, Some(concentrate)) => Quantity::From(concentrate),
            // Clap asks for one of them.
            (None, None) => return Err(MixFailure::Source(SourceFailure::NoTarget)),
        };
        Ok(Order {
            ingredients: self.source.ingredients(),
            quantity,
            is_for_film: self.purpose == Some(Purpose::Film),
            developer: self.developer,
            spent: self.spent,
            kept: match self.kept {
                Kept::FullBottle => Vessel::FullBottle,
                Kept::PartBottle => Vessel::PartBottle,
                Kept::Cold => Vessel::Cold,
                Kept::Tray => Vessel::Tray,
            },
            age_limit: self.age_limit,
            mixed: self.mixed,
            by: self.by.clone(),
            cup: self.cup,
        })
    }

    fn mixing(&self) -> Result<Mixing, MixFailure> {
        let mixing = self.order()?.mixing()?;
        let changes = if self.then.is_empty() { Vec::new() } else { self.changes(&mixing.plans, mixing.terms)? };
        Ok(Mixing { changes, ..mixing })
    }

    fn changes(
        &self,
        plans: &[Plan],
        terms: Terms,
    ) -> Result<Vec<(Change, crate::chemistry::change::Bath, crate::chemistry::change::Standing)>, MixFailure> {
        let [Plan { bath: Some(fresh), .. }] = plans else { return Err(MixFailure::NoBath { option: "--then" }) };
        let change = |event: &Event| match event {
            Event::Water(ml) => Change::Water(*ml),
            Event::Evaporated(ml) => Change::Evaporated(*ml),
            Event::Lost(ml) => Change::Lost(*ml),
            Event::Fresh(ml) => Change::ToppedUp(fresh.bath.liquid.clone(), *ml),
            Event::Used(meq) => Change::TakenUp(*meq),
        };
        let all: Vec<Change> = self.then.iter().map(change).collect();
        Ok(through(&fresh.bath, &all, terms)?)
    }

    fn drawing(&self, mixing: &Mixing) -> Result<crate::present::drawing::Drawing, MixFailure> {
        let [Plan { bath: Some(fresh), .. }] = mixing.plans.as_slice() else { return Err(MixFailure::NoBath { option: "--picture" }) };
        let limits = Limits { nearing: self.nearing, spent: self.spent };
        let terms = present::picture::Terms { limits, temperature: mixing.terms.temperature, indicator: Some(self.indicator) };
        let (ph, sd) = (fresh.standing.ph.value(), COVERAGE * fresh.standing.ph_sd);
        let (name, ph, likely) = match self.read {
            Some(read) => ("the bath as read", read, None),
            None => ("the bath as mixed", Interval { low: Some(ph - sd), high: Some(ph + sd) }, Some(ph)),
        };
        let likely = likely.or_else(|| Some(0.5 * (ph.low? + ph.high?)));
        let state = present::picture::state(ph, limits);
        let place = Place { name: name.to_owned(), state, ph, likely, counted: Interval::OPEN };
        let strength = words::strength(mixing.agent, fresh);
        let recipe = format!("{}, {strength}", words::substance(mixing.agent, mixing.named));
        Ok(present::picture::drawing(&recipe, &fresh.bath.liquid, terms, Some(place))?)
    }
}

fn developer_named(text: &str) -> Result<&'static Developer, String> {
    developer::find(text).map_err(|e| format!("{e}\nhint: take the nearest of these"))
}

fn event(text: &str) -> Result<Event, String> {
    let wrong = || {
        format!("`{}` is no change of a bath\nhint: write water:100ml, evaporated:100ml, lost:50ml, fresh:200ml or used:80meq", text.trim())
    };
    let (what, amount) = text.trim().split_once(':').ok_or_else(wrong)?;
    let millilitres = || volume(amount).map(Millilitres::value);
    match what {
        "water" => millilitres().map(Event::Water),
        "evaporated" => millilitres().map(Event::Evaporated),
        "lost" => millilitres().map(Event::Lost),
        "fresh" => millilitres().map(Event::Fresh),
        "used" => number(amount.trim().strip_suffix("meq").ok_or_else(wrong)?).map(Event::Used),
        _ => Err(wrong()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_are_read() {
        assert_eq!(event("water:100ml"), Ok(Event::Water(100.0)));
        assert_eq!(event("used:80meq"), Ok(Event::Used(80.0)));
        for wrong in ["water", "water:100", "used:80", "boiled:1l", "lost:-5ml", ":"] {
            assert!(event(wrong).is_err(), "{wrong}");
        }
    }
}
