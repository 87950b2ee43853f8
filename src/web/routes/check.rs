//! The page of one photo.

use super::baths::address;
use super::{coming, gone, problem_of};
use crate::desk::book::{Book, BookError, Writing};
use crate::logbook::event::Entry;
use crate::web::app::{App, locked};
use crate::web::check::{Check, Kept};
use crate::web::fields::{Fields, Writer};
use crate::web::pages::check::Keeping;
use crate::web::pages::{self, Theme};
use crate::web::problem::Problem;
use crate::web::settings::Settings;
use crate::web::token;
use crate::web::upload::{self, UploadError};
use axum::Router;
use axum::extract::{DefaultBodyLimit, Form, Multipart, Path, State};
use axum::http::StatusCode;
use axum::http::header::{self, HeaderMap};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use std::sync::Arc;
use std::time::Instant;

pub(super) fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/", get(first))
        .route("/check", post(check).layer(DefaultBodyLimit::max(upload::LARGEST_FORM)))
        .route("/check/{name}", get(shown).post(again))
        .route("/check/{name}/save", post(save))
        .route("/check/{name}/photo.jpg", get(photo))
        .route("/check/{name}/reading.json", get(reading))
}

async fn first(State(app): State<Arc<App>>, headers: HeaderMap) -> Response {
    pages::check::first(Theme::of(&headers), app.indicator).into_response()
}

async fn check(
    State(app): State<Arc<App>>,
    headers: HeaderMap,
    form: Result<Multipart, axum::extract::multipart::MultipartRejection>,
) -> Response {
    let theme = Theme::of(&headers);
    let Ok(form) = form else { return problem_of(&UploadError::Broken, theme) };
    let (upload, settings, _) = match upload::take(coming(&app, &headers, form), Settings::of(app.indicator)).await {
        Ok(taken) => taken,
        Err(error) => return problem_of(&error, theme),
    };
    let Some(check) = app.read(upload, settings, None).await else { return gone(theme) };
    let kept = locked(&app.photos).put(check, Instant::now());
    match kept {
        Ok(name) => Redirect::to(&format!("/check/{name}")).into_response(),
        Err(error) => pages::problem_in(StatusCode::INTERNAL_SERVER_ERROR, theme, &error.to_string(), "start the program again"),
    }
}

async fn shown(State(app): State<Arc<App>>, Path(name): Path<String>, theme: Theme, fields: Fields) -> Result<Response, Problem> {
    let Some(check) = app.kept(&name) else { return Ok(gone(theme)) };
    let live = |book: &Book| Ok(book.ledger()?.live().map(|bath| (bath.mixed.id.text().to_owned(), bath.start.name.clone())).collect());
    let keeping = Keeping {
        baths: if has_cups(&check) { app.with_book(live).await.map_err(|problem| problem.message().to_owned()) } else { Ok(Vec::new()) },
        once: token::token()?,
        is_again: fields.told("again").is_some(),
    };
    Ok(pages::check::shown(theme, &name, &check, &keeping).into_response())
}

fn has_cups(check: &Check) -> bool {
    check.entry.outcome.as_ref().is_ok_and(|reading| !reading.cups.is_empty())
}

/// Writes the readings of the cups into the logbook, each for its bath.
async fn save(
    State(app): State<Arc<App>>,
    Path(name): Path<String>,
    Writer(who): Writer,
    theme: Theme,
    fields: Fields,
) -> Result<Response, Problem> {
    let Some(check) = app.kept(&name) else { return Ok(gone(theme)) };
    let cup = |(field, bath): &(String, String)| Some((field.strip_prefix("cup-")?.parse::<usize>().ok()?, bath.clone()));
    let baths: Vec<(usize, String)> = fields.0.iter().filter_map(cup).filter(|(_, bath)| !bath.is_empty()).collect();
    if baths.is_empty() {
        return Err(Problem::form("no bath was chosen", "choose the bath that the cup was filled from"));
    }
    let readings = check.readings(&baths).map_err(|error| Problem::form(error, "see the numbers of the cups on the page"))?;
    let is_sure = fields.told("sure").is_some();
    let task = move |book: &Book, by: &Writing| match book.keep(by, readings, is_sure) {
        Ok(written) => Ok(Ok(for_baths(book, &written)?)),
        Err(error @ BookError::KeptAlready { .. }) => Ok(Err(error.to_string())),
        Err(error) => Err(error),
    };
    let back = format!("/check/{name}");
    let Some(outcome) = app.write_once(&fields, who, task).await? else {
        return Ok(Redirect::to(&format!("{back}?again=1#keep")).into_response());
    };
    let mut check = app.kept(&name).unwrap_or(check);
    match outcome {
        Ok(kept) => {
            check.refused = None;
            check.kept.extend(kept);
        }
        Err(why) => check.refused = Some(why),
    }
    locked(&app.photos).replace(&name, check, Instant::now());
    Ok(Redirect::to(&format!("{back}#keep")).into_response())
}

/// The baths of what was written, with their pages.
fn for_baths(book: &Book, written: &[Entry]) -> Result<Vec<Kept>, BookError> {
    let ledger = book.ledger()?;
    let bath = |entry: &Entry| ledger.baths.iter().find(|bath| bath.mixed.id == entry.bath);
    Ok(written.iter().filter_map(bath).map(|bath| Kept { name: bath.start.name.clone(), address: address(&ledger, bath) }).collect())
}

/// What is put right, or asked otherwise, about a photo that is here already.
async fn again(
    State(app): State<Arc<App>>,
    Path(name): Path<String>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let theme = Theme::of(&headers);
    let Some(known) = app.kept(&name) else { return gone(theme) };
    let mut settings = known.settings.clone();
    for (field, value) in &fields {
        if let Err(error) = settings.tell(field, value) {
            return problem_of(&UploadError::Setting(error), theme);
        }
    }
    pages::place::apply(&mut settings, known.shown.as_ref(), &fields);
    let Some(check) = app.read(known.upload, settings, known.shown).await else { return gone(theme) };
    locked(&app.photos).replace(&name, Check { kept: known.kept, ..check }, Instant::now());
    Redirect::to(&format!("/check/{name}#reading")).into_response()
}

async fn photo(State(app): State<Arc<App>>, Path(name): Path<String>, headers: HeaderMap) -> Response {
    match app.kept(&name).and_then(|check| check.shown) {
        Some(shown) => ([(header::CONTENT_TYPE, "image/jpeg")], shown.jpeg.to_vec()).into_response(),
        None => gone(Theme::of(&headers)),
    }
}

async fn reading(State(app): State<Arc<App>>, Path(name): Path<String>, headers: HeaderMap) -> Response {
    match app.kept(&name) {
        Some(check) => ([(header::CONTENT_TYPE, "application/json")], format!("{}\n", check.json)).into_response(),
        None => gone(Theme::of(&headers)),
    }
}
