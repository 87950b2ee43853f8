//! The logbook on pages: baths at a glance, one bath, what goes through it.

use crate::chemistry::dilution::{Meaning, Written};
use crate::desk::book::{self, Book, BookError};
use crate::desk::{change, clock, typed};
use crate::indicator::catalogue;
use crate::logbook::advice::{MOST_PIECES, Planned};
use crate::logbook::event::{Developer, Entry, Event, Keeping, Load, Mixed, Pieces, Work};
use crate::logbook::habit;
use crate::logbook::ledger::{Bath, Ledger};
use crate::logbook::piece::Piece;
use crate::logbook::recipe::{Acid, Recipe};
use crate::present::text::UNBROKEN;
use crate::web::app::App;
use crate::web::fields::{Fields, Writer, part};
use crate::web::pages::Theme;
use crate::web::pages::baths as pages;
use crate::web::problem::Problem;
use crate::web::seen::{Glance, Told, Whole};
use crate::web::token;
use axum::Router;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use std::sync::Arc;

/// What the page offers for keeping a bath, the commonest first.
pub(in crate::web) const KEEPING: [(&str, Keeping); 3] = [("bottle", Keeping::Bottle), ("cold", Keeping::Cold), ("open", Keeping::Open)];
/// What a bath may be for.
pub(in crate::web) const WORK: [(&str, Work); 3] = [("both", Work::Both), ("paper", Work::Paper), ("film", Work::Film)];

pub(super) fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/baths", get(list))
        .route("/baths/{name}", get(one))
        .route("/baths/{name}/label", get(label))
        .route("/begin", get(beginning))
        .route("/log/begin", post(begin))
        .route("/log/load", post(load))
        .route("/log/undo", post(undo))
        .route("/log/discard", post(discard))
}

/// Where the page of a bath is: by its name where that means this bath, else by its id.
pub(in crate::web) fn address(ledger: &Ledger, bath: &Bath) -> String {
    let name = &bath.start.name;
    // A part of dots alone would be taken for a folder by the browser.
    let is_name = name.chars().any(|c| c != '.') && ledger.find(name).is_some_and(|found| found.mixed.id == bath.mixed.id);
    format!("/baths/{}", part(if is_name { name } else { bath.mixed.id.text() }))
}

async fn list(State(app): State<Arc<App>>, theme: Theme, Writer(who): Writer) -> Result<Response, Problem> {
    let seen = app.with_book(|book| Ok(Glance::all(&book.ledger()?, clock::seconds()?))).await?;
    Ok(pages::list(theme, &seen, &who).into_response())
}

async fn one(State(app): State<Arc<App>>, Path(name): Path<String>, theme: Theme, fields: Fields) -> Result<Response, Problem> {
    let told = match (fields.told("written"), fields.told("again")) {
        (Some(id), _) => Told::Written(id.to_owned()),
        (None, Some(_)) => Told::Again,
        (None, None) => Told::Nothing,
    };
    let planned = match number(&fields, "next", "the number of pieces")? {
        None => Planned::Usual,
        Some(count) => Planned::of(count).ok_or_else(|| {
            let message = format!("a session of {count} pieces cannot be asked about");
            Problem::form(&message, format!("give more than 0 and at most {MOST_PIECES}"))
        })?,
    };
    let once = token::token()?;
    let find = move |book: &Book| {
        let ledger = book.ledger()?;
        let bath = ledger.find(&name).ok_or_else(|| BookError::NoBath(name.clone()))?;
        Ok(Whole::of(&ledger, bath, (clock::seconds()?, planned), &told, once))
    };
    Ok(pages::one(theme, &app.with_book(find).await?).into_response())
}

async fn label(State(app): State<Arc<App>>, Path(name): Path<String>, theme: Theme) -> Result<Response, Problem> {
    let find = move |book: &Book| {
        let ledger = book.ledger()?;
        let bath = ledger.find(&name).ok_or_else(|| BookError::NoBath(name.clone()))?;
        Ok((bath.start.name.clone(), address(&ledger, bath), book::label(bath, UNBROKEN)))
    };
    let (name, back, text) = app.with_book(find).await?;
    let lines: Vec<&str> = text.lines().collect();
    Ok(crate::web::pages::label(theme, &name, &back, &lines).into_response())
}

async fn beginning(theme: Theme) -> Result<Response, Problem> {
    Ok(pages::begin(theme, &token::token()?).into_response())
}

/// Leads to the page of a bath once something was written of it; also when it was written before.
pub(super) fn led(book: &Book, entry: &Entry) -> Result<String, BookError> {
    let ledger = book.ledger()?;
    let bath = ledger.baths.iter().find(|bath| bath.mixed.id == entry.bath);
    Ok(bath.map_or_else(|| "/baths".to_owned(), |bath| format!("{}?written={}", address(&ledger, bath), entry.id)))
}

pub(super) fn redirected(written: Option<String>, fields: &Fields) -> Response {
    let again = || {
        let name = fields.told("bath").or(fields.told("name"));
        name.map_or_else(|| "/baths".to_owned(), |name| format!("/baths/{}?again=1", part(name)))
    };
    Redirect::to(&written.unwrap_or_else(again)).into_response()
}

async fn load(State(app): State<Arc<App>>, Writer(who): Writer, fields: Fields) -> Result<Response, Problem> {
    let piece = Piece::try_from(fields.text("kind").to_owned()).map_err(|error| Problem::form(&error, error.hint()))?;
    let count = typed::number(fields.text("count")).map_err(|text| Problem::typed("the number of pieces", &text))?;
    let carry_over = number(&fields, "carry", "what a piece brings along")?;
    let guessed = fields.told("guessed").is_some();
    let films: Vec<String> = fields.text("films").split(',').map(str::trim).filter(|film| !film.is_empty()).map(str::to_owned).collect();
    let by = fields.told("by").map(str::to_owned);
    let developer = developer(&fields)?;
    let bath = fields.text("bath").to_owned();
    let make = move |bath: &Bath| {
        let developer = change::developer(bath, developer)?;
        // The same kind out of the same developer costs what it cost before.
        let before = if guessed { None } else { habit::like_before(bath, &piece, &developer.name, count) };
        let mut pieces = before
            .map_or_else(|| vec![Pieces { carry_over_ml: piece.carry_over(guessed), piece, count, measured: false }], |load| load.pieces);
        if let Some(carry_over_ml) = carry_over {
            pieces.iter_mut().for_each(|of| (of.carry_over_ml, of.measured) = (carry_over_ml, true));
        }
        Ok(Event::Load(Load { pieces, developer, by, guessed, films }))
    };
    let written = app.write_once(&fields, who, move |book, by| led(book, &book.add(by, &bath, make)?)).await?;
    Ok(redirected(written, &fields))
}

/// A figure that may stay empty.
fn number(fields: &Fields, name: &str, words: &str) -> Result<Option<f64>, Problem> {
    fields.told(name).map(typed::number).transpose().map_err(|text| Problem::typed(words, &text))
}

/// The developer of a form: one of the table, or with a figure of the worker's own and perhaps a name of its own.
pub(super) fn developer(fields: &Fields) -> Result<Option<Developer>, Problem> {
    let own_meq = number(fields, "alkalinity", "what a litre of the developer binds")?;
    let name = fields.told("own").or(fields.told("developer")).map(str::to_lowercase);
    Ok(name.map(|name| Developer { name, own_meq }))
}

async fn undo(State(app): State<Arc<App>>, Writer(who): Writer, fields: Fields) -> Result<Response, Problem> {
    let entry = fields.text("entry").to_owned();
    let written = app.write_once(&fields, who, move |book, by| led(book, &book.undo(by, &entry)?)).await?;
    Ok(redirected(written, &fields))
}

async fn discard(State(app): State<Arc<App>>, Writer(who): Writer, fields: Fields) -> Result<Response, Problem> {
    let (bath, reason) = (fields.text("bath").to_owned(), fields.text("reason").to_owned());
    let make = move |_: &Bath| Ok(Event::Discard { reason });
    let written = app.write_once(&fields, who, move |book, by| led(book, &book.add(by, &bath, make)?)).await?;
    Ok(redirected(written, &fields))
}

async fn begin(State(app): State<Arc<App>>, Writer(who): Writer, fields: Fields) -> Result<Response, Problem> {
    let acids: Vec<(&str, Acid)> = Acid::ALL.into_iter().map(|acid| (acid.name(), acid)).collect();
    let acid = fields.one_of("acid", &acids)?;
    let dye = match fields.text("indicator") {
        "none" => None,
        name => Some(catalogue::find(name).ok_or_else(|| Problem::form("there is no such indicator", "choose one of the list"))?),
    };
    let start = Mixed {
        name: fields.text("name").to_owned(),
        recipe: recipe(acid, &fields)?,
        indicator: dye.map(|dye| dye.name.to_owned()),
        volume_ml: typed::volume(fields.text("volume")).map_err(|text| Problem::typed("the volume", &text))?.value(),
        place: fields.told("place").map(str::to_owned),
        keeping: fields.one_of("keeping", &KEEPING)?,
        work: fields.one_of("work", &WORK)?,
        paid: None,
    };
    let written = app.write_once(&fields, who, move |book, by| led(book, &book.begin(by, start)?)).await?;
    Ok(redirected(written, &fields))
}

/// What a litre is made of: grams of a powder; strength and dilution of a liquid.
pub(super) fn recipe(acid: Acid, fields: &Fields) -> Result<Recipe, Problem> {
    if !acid.is_liquid() {
        let grams = fields
            .told("grams")
            .ok_or_else(|| Problem::form("how much of a powder is in a litre is missing", "give the grams, such as 15"))?;
        let per_litre = typed::number(grams).map_err(|text| Problem::typed("the grams in a litre", &text))?;
        return Ok(Recipe { acid, percent: None, per_litre });
    }
    let number = |name: &str| fields.told(name).map(|text| typed::number(text.trim_end_matches('%')));
    let percent = number("percent").transpose().map_err(|text| Problem::typed("the strength", &text))?;
    let dilution =
        fields.told("dilution").ok_or_else(|| Problem::form("the dilution is missing", "give parts of acid and of water, such as 1+19"))?;
    let written = Written::parse(dilution).map_err(|error| Problem::form(&error, error.hint()))?;
    match written.readings().as_slice() {
        [(Meaning::Plus, ratio)] => {
            let (concentrate, water) = ratio.as_parts();
            Ok(Recipe { acid, percent, per_litre: crate::chemistry::bath::millilitres_per_litre(concentrate, water) })
        }
        _ => Err(Problem::form(
            format!("`{dilution}` can be read in two ways"),
            "write 1+19 for one part and nineteen parts of water; 1:19 and 1:20 mean different things to different people",
        )),
    }
}
