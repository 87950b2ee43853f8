//! A row of buffers becomes a profile.

use super::{coming, problem_of};
use crate::store::profiles::ProfileError;
use crate::web::app::{App, locked};
use crate::web::fields::Fields;
use crate::web::ladder::{Ladder, Told};
use crate::web::pages::{Theme, calibrate as pages, place};
use crate::web::problem::Problem;
use crate::web::settings::Settings;
use crate::web::token;
use crate::web::upload::{self, UploadError};
use axum::Router;
use axum::extract::multipart::MultipartRejection;
use axum::extract::{DefaultBodyLimit, Multipart, Path, State};
use axum::http::header::{self, HeaderMap};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use std::sync::Arc;
use std::time::Instant;

pub(super) fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/calibrate", get(first).post(sent).layer(DefaultBodyLimit::max(upload::LARGEST_FORM)))
        .route("/calibrate/{name}", get(shown).post(again))
        .route("/calibrate/{name}/save", post(save))
        .route("/calibrate/{name}/photo.jpg", get(photo))
}

fn gone() -> Problem {
    Problem::gone("this photo is no longer kept here", "photos stay for an hour; send it again")
}

fn kept(app: &App, name: &str) -> Result<Ladder, Problem> {
    locked(&app.ladders).get(name, Instant::now()).ok_or_else(gone)
}

async fn first(State(app): State<Arc<App>>, theme: Theme) -> Result<Response, Problem> {
    let names = app.with_profiles(|shelf| shelf.names().map(str::to_owned).collect::<Vec<_>>()).await.ok_or_else(Problem::fault)?;
    Ok(pages::first(theme, app.indicator, &names).into_response())
}

async fn sent(
    State(app): State<Arc<App>>,
    headers: HeaderMap,
    theme: Theme,
    form: Result<Multipart, MultipartRejection>,
) -> Result<Response, Problem> {
    let Ok(form) = form else { return Ok(problem_of(&UploadError::Broken, theme)) };
    let (upload, settings, fields) = match upload::take(coming(&app, &headers, form), Settings::of(app.indicator)).await {
        Ok(taken) => taken,
        Err(error) => return Ok(problem_of(&error, theme)),
    };
    let told = told(&Told::default(), &fields);
    let ladder = app.with_buffers(move |buffers| Ladder::of(buffers, upload, settings, told, None)).await.ok_or_else(Problem::fault)?;
    let name = locked(&app.ladders).put(ladder, Instant::now())?;
    Ok(Redirect::to(&format!("/calibrate/{name}")).into_response())
}

/// What was told, with what is told now in its place.
fn told(before: &Told, fields: &Fields) -> Told {
    let field = |name: &str, before: &str| {
        let sent = fields.0.iter().any(|(known, _)| known == name);
        if sent { fields.text(name).to_owned() } else { before.to_owned() }
    };
    Told {
        row: field("row", &before.row),
        temperature: field("temperature", &before.temperature),
        name: field("name", &before.name),
        note: field("note", &before.note),
    }
}

async fn shown(State(app): State<Arc<App>>, Path(name): Path<String>, theme: Theme) -> Result<Response, Problem> {
    let ladder = kept(&app, &name)?;
    Ok(pages::shown(theme, &name, &ladder, &token::token()?).into_response())
}

/// What is put right, or told otherwise, about a row that is here already.
async fn again(State(app): State<Arc<App>>, Path(name): Path<String>, theme: Theme, fields: Fields) -> Result<Response, Problem> {
    let known = kept(&app, &name)?;
    let mut settings = known.settings.clone();
    // Cups that stay where they were found are not told: their order is still to be found out.
    let found = known.reading.as_ref().map(|reading| place::found(&known.settings, reading));
    let is_as_found = |field: &str, value: &str| match field {
        "cups" => known.settings.cups.is_empty() && found.as_ref().is_some_and(|found| found.cups_text() == value),
        "card" => known.settings.card.is_none() && found.as_ref().is_some_and(|found| found.card_text() == value),
        _ => false,
    };
    for (field, value) in fields.0.iter().filter(|(field, value)| !is_as_found(field, value)) {
        if let Err(error) = settings.tell(field, value) {
            return Ok(problem_of(&UploadError::Setting(error), theme));
        }
    }
    if let Some(found) = found.filter(|_| fields.told("what").is_some() && settings.cups.is_empty()) {
        settings.cups = found.cups;
    }
    place::apply(&mut settings, known.shown.as_ref(), &fields.0);
    let told = told(&known.told, &fields);
    let (upload, earlier) = (known.upload, known.shown);
    let ladder = app.with_buffers(move |buffers| Ladder::of(buffers, upload, settings, told, earlier)).await.ok_or_else(Problem::fault)?;
    locked(&app.ladders).replace(&name, ladder, Instant::now());
    Ok(Redirect::to(&format!("/calibrate/{name}#profile")).into_response())
}

/// Keeps the profile; readings take it from then on.
async fn save(State(app): State<Arc<App>>, Path(name): Path<String>, fields: Fields) -> Result<Response, Problem> {
    let mut ladder = kept(&app, &name)?;
    let Ok(profiled) = ladder.outcome.clone() else {
        return Err(Problem::form("there is no profile to keep", "put cups and pH right first"));
    };
    let called = fields.text("name").to_owned();
    let is_replaced = fields.told("sure").is_some();
    let keep = async {
        let called = called.clone();
        let kept = app.with_profiles(move |shelf| shelf.keep(&called, &profiled.made.profile, is_replaced)).await;
        match kept.ok_or_else(Problem::fault)? {
            Ok(()) => Ok(None),
            Err(error @ ProfileError::Taken(_)) => Ok(Some(error.to_string())),
            Err(error) => Err(Problem::from(error)),
        }
    };
    if let Some(refused) = app.once(&fields, keep).await? {
        ladder.saved = if refused.is_none() { Some(called.clone()) } else { ladder.saved };
        ladder.refused = refused;
        ladder.told.name = called;
        locked(&app.ladders).replace(&name, ladder, Instant::now());
    }
    Ok(Redirect::to(&format!("/calibrate/{name}#profile")).into_response())
}

async fn photo(State(app): State<Arc<App>>, Path(name): Path<String>) -> Result<Response, Problem> {
    let shown = kept(&app, &name)?.shown.ok_or_else(gone)?;
    Ok(([(header::CONTENT_TYPE, "image/jpeg")], shown.jpeg.to_vec()).into_response())
}
