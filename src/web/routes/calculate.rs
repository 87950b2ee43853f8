//! Calculators: what to measure for a bath, what to know of one that is poured away. Their forms are asked for, not sent: nothing is kept.

use crate::chemistry::developer::{self, Developer};
use crate::chemistry::disposal::{Answers, Drain, Fixer, Holder};
use crate::chemistry::keeping::Vessel;
use crate::chemistry::mixing::Quantity;
use crate::chemistry::neutral::Soda;
use crate::desk::calculate::{Order, Waste};
use crate::desk::source::{self, Colon, Ingredients, Source, SourceFailure};
use crate::desk::typed;
use crate::present::text::UNBROKEN;
use crate::present::{disposal, mixing};
use crate::quantity::{Celsius, Millilitres, Ph};
use crate::web::app::App;
use crate::web::fields::{Fields, part};
use crate::web::pages::{self, Theme};
use crate::web::problem::Problem;
use axum::Router;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use std::sync::Arc;

/// How a bath may be kept.
const VESSELS: [(&str, Vessel); 4] =
    [("full-bottle", Vessel::FullBottle), ("part-bottle", Vessel::PartBottle), ("cold", Vessel::Cold), ("tray", Vessel::Tray)];
/// What it may be neutralised with.
const SODAS: [(&str, Soda); 3] =
    [("bicarbonate", Soda::Bicarbonate), ("carbonate", Soda::Carbonate), ("carbonate-monohydrate", Soda::CarbonateMonohydrate)];
/// Where it may go.
const DRAINS: [(&str, Drain); 3] = [("sewer", Drain::Sewer), ("septic", Drain::Septic), ("collected", Drain::Collected)];
/// Whose it may be.
const HOLDERS: [(&str, Holder); 2] = [("home", Holder::Home), ("institution", Holder::Institution)];
/// Whether fixer has got in.
const FIXERS: [(&str, Fixer); 3] = [("no", Fixer::No), ("yes", Fixer::Yes), ("unsure", Fixer::Unsure)];
/// Temperature unless told, as on the command line.
const TEMPERATURE: &str = "20";
/// pH from which a bath is spent unless told, as on the command line.
const SPENT: &str = "5.5";
/// The cup of a sample, as on the command line.
const CUP: &str = "15ml";

pub(super) fn routes() -> Router<Arc<App>> {
    Router::new().route("/mix", get(mix)).route("/mix/label", get(label)).route("/dispose", get(dispose))
}

/// The lines of a report, or why there is none; nothing before anything was asked.
fn answered<T>(
    theme: Theme,
    fields: &Fields,
    made: Option<Result<T, Problem>>,
    page: impl Fn(Theme, &Fields, Option<Result<T, Problem>>) -> Response,
) -> Response {
    let is_refused = matches!(made, Some(Err(_)));
    let response = page(theme, fields, made);
    if is_refused { (StatusCode::BAD_REQUEST, response).into_response() } else { response }
}

async fn mix(theme: Theme, fields: Fields) -> Response {
    let lines = |order: Order| -> Result<(Vec<String>, String), Problem> {
        let report = mixing::report(&order.mixing().map_err(refused)?, UNBROKEN);
        Ok((report.lines().map(str::to_owned).collect(), format!("/mix/label?{}", query(&fields))))
    };
    let made = fields.told("from").map(|_| order(&fields).and_then(lines));
    answered(theme, &fields, made, |theme, fields, made| pages::mix::page(theme, fields, made).into_response())
}

async fn label(theme: Theme, fields: Fields) -> Result<Response, Problem> {
    let mixing = order(&fields)?.mixing().map_err(refused)?;
    let lines = mixing::label(&mixing);
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    Ok(pages::label(theme, mixing.named, &format!("/mix?{}", query(&fields)), &lines).into_response())
}

async fn dispose(theme: Theme, fields: Fields) -> Response {
    let lines = |waste: Waste| -> Result<Vec<String>, Problem> {
        let report = disposal::report(&waste.disposal().map_err(refused)?, UNBROKEN);
        Ok(report.lines().map(str::to_owned).collect())
    };
    let made = fields.told("from").map(|_| waste(&fields).and_then(lines));
    answered(theme, &fields, made, |theme, fields, made| pages::dispose::page(theme, fields, made).into_response())
}

fn refused(failure: SourceFailure) -> Problem {
    Problem::form(&failure, failure.hint_for_page())
}

/// The fields again, as part of an address.
fn query(fields: &Fields) -> String {
    fields.0.iter().map(|(name, value)| format!("{}={}", part(name), part(value))).collect::<Vec<_>>().join("&")
}

/// A field as its parser takes it; none where it is empty.
fn parsed<T>(fields: &Fields, name: &str, what: &str, parse: impl Fn(&str) -> Result<T, String>) -> Result<Option<T>, Problem> {
    fields.told(name).map(|text| parse(text).map_err(|why| Problem::typed(what, &why))).transpose()
}

fn ingredients(fields: &Fields) -> Result<Ingredients, Problem> {
    let dilution = parsed(fields, "dilution", "the dilution", source::dilution)?;
    let colon = fields.one_of("colon", &[("both", None), ("in-all", Some(Colon::InAll)), ("parts", Some(Colon::Parts))])?;
    let celsius = |text: &str| typed::quantity(text, Celsius::new);
    Ok(Ingredients {
        from: fields.one_of("from", &Source::ALL.map(|source| (source.name(), source)))?,
        strength: parsed(fields, "strength", "the strength of the acid", source::strength)?,
        to: parsed(fields, "to", "the strength of the bath", source::working)?,
        dilution: dilution.map(|written| colon.map_or_else(|| written.readings(), |colon| colon.of(written))).unwrap_or_default(),
        half: fields.told("half").is_some(),
        temperature: celsius(fields.told("temperature").unwrap_or(TEMPERATURE)).map_err(|why| Problem::typed("the temperature", &why))?,
    })
}

fn developer(fields: &Fields) -> Result<Option<&'static Developer>, Problem> {
    parsed(fields, "developer", "the developer", |name| developer::find(name).map_err(|e| e.to_string()))
}

fn volume(fields: &Fields, name: &str, what: &str) -> Result<Option<Millilitres>, Problem> {
    parsed(fields, name, what, typed::volume)
}

fn order(fields: &Fields) -> Result<Order, Problem> {
    let ingredients = ingredients(fields)?;
    if ingredients.to.is_some() && !ingredients.dilution.is_empty() {
        return Err(Problem::form("strength and dilution of the bath are both told", "leave one of them empty"));
    }
    let quantity = match (volume(fields, "make", "how much to make")?, volume(fields, "from-volume", "how much to use up")?) {
        (Some(total), None) => Quantity::Make(total),
        (None, Some(concentrate)) => Quantity::From(concentrate),
        (Some(_), Some(_)) => {
            return Err(Problem::form("how much to make and how much to use up are both told", "leave one of them empty"));
        }
        (None, None) => return Err(Problem::form("how much bath to make is missing", "give a volume with its unit, such as 600ml or 2l")),
    };
    let days = parsed(fields, "age-limit", "the days that you keep a bath", |text| match text.parse::<u32>() {
        Ok(days) if (1..=3650).contains(&days) => Ok(days),
        _ => Err(format!("`{text}` is no number of days from 1 to 3650")),
    })?;
    let ph = |text: &str| typed::quantity(text, Ph::new);
    Ok(Order {
        ingredients,
        quantity,
        is_for_film: fields.text("for") == "film",
        developer: developer(fields)?,
        spent: ph(fields.told("spent").unwrap_or(SPENT)).map_err(|why| Problem::typed("the pH of a spent bath", &why))?,
        kept: fields.one_of("kept", &VESSELS)?,
        age_limit: days,
        mixed: parsed(fields, "mixed", "the day of mixing", typed::day)?,
        by: fields.told("by").map(str::to_owned),
        cup: typed::volume(fields.told("cup").unwrap_or(CUP)).map_err(|why| Problem::typed("the volume of the cup", &why))?,
    })
}

fn waste(fields: &Fields) -> Result<Waste, Problem> {
    let must = |name: &str, question: &str| {
        let missing = || Problem::form(format!("this is not told: {question}"), "answer the three questions; nothing is guessed here");
        fields.told(name).map(drop).ok_or_else(missing)
    };
    must("fixer", "has fixer got into the bath?")?;
    must("drain", "where would it go?")?;
    must("holder", "whose is it?")?;
    let missing = || Problem::form("how much there is is missing", "give a volume with its unit, such as 600ml or 2l");
    Ok(Waste {
        ingredients: ingredients(fields)?,
        volume: volume(fields, "volume", "how much there is")?.ok_or_else(missing)?,
        answers: Answers {
            drain: fields.one_of("drain", &DRAINS)?,
            holder: fields.one_of("holder", &HOLDERS)?,
            fixer: fields.one_of("fixer", &FIXERS)?,
        },
        read: parsed(fields, "read", "the pH as read", typed::interval)?,
        developer: developer(fields)?,
        soda: fields.one_of("with", &SODAS)?,
    })
}
