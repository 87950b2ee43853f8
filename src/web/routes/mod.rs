//! Addresses and what answers them.

pub(super) mod baths;
mod calculate;
mod calibrate;
mod changes;
mod check;
mod pairing;
mod print;

use super::app::App;
use super::fields::{Fields, WHO, coded};
use super::pages::{self, Theme};
use super::upload::{self, Coming, UploadError};
use super::{guard, problem};
use crate::logbook::check::LONGEST_NAME;
use axum::Router;
use axum::extract::{DefaultBodyLimit, Multipart, Request, State};
use axum::http::header::{self, HeaderMap, HeaderValue};
use axum::http::{StatusCode, Uri};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use std::sync::Arc;

/// Largest form without a photo, bytes.
const LARGEST_WORDS: usize = 64 << 10;

/// All addresses.
pub fn router(app: Arc<App>) -> Router {
    Router::new()
        .merge(check::routes())
        .merge(baths::routes())
        .merge(changes::routes())
        .merge(calculate::routes())
        .merge(calibrate::routes())
        .merge(pairing::routes())
        .merge(print::routes())
        .route("/theme", post(theme))
        .route("/who", post(who))
        .route("/asset/page.css", get(|| asset("text/css; charset=utf-8", include_str!("../assets/page.css"))))
        .route("/asset/check.js", get(|| asset("text/javascript; charset=utf-8", include_str!("../assets/check.js"))))
        .route("/asset/icon.svg", get(|| async { ([(header::CONTENT_TYPE, "image/svg+xml")], pages::icon()) }))
        .fallback(lost)
        .layer(DefaultBodyLimit::max(LARGEST_WORDS))
        .layer(middleware::from_fn(problem::dressed))
        .layer(middleware::from_fn_with_state(Arc::clone(&app), with_room))
        .layer(middleware::from_fn_with_state(Arc::clone(&app), guard::guard))
        .with_state(app)
}

async fn asset(kind: &'static str, text: &'static str) -> Response {
    ([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, "max-age=3600")], text).into_response()
}

async fn lost(headers: HeaderMap) -> Response {
    pages::problem_in(StatusCode::NOT_FOUND, Theme::of(&headers), "there is no such page", "go to the first page")
}

/// A form is let in only when there is room for all of it, so that memory has a bound.
async fn with_room(State(app): State<Arc<App>>, request: Request, next: Next) -> Response {
    let theme = Theme::of(request.headers());
    if request.method() != axum::http::Method::POST {
        return next.run(request).await;
    }
    let Some(length) = length(request.headers()) else {
        return pages::problem_in(StatusCode::LENGTH_REQUIRED, theme, "the browser does not tell how much it sends", "use another browser");
    };
    if length > upload::LARGEST_FORM {
        return problem_of(&UploadError::TooLarge, theme);
    }
    let Some(room) = app.room(length).await else {
        let mut response =
            pages::problem_in(StatusCode::SERVICE_UNAVAILABLE, theme, "too many photos come at once", "wait a little and send it again");
        response.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from_static("5"));
        return response;
    };
    let response = match at_once(&app, request).await {
        Ok(request) => next.run(request).await,
        Err(error) => problem_of(&error, theme),
    };
    drop(room);
    response
}

/// Bytes of a form, as its head tells.
fn length(headers: &HeaderMap) -> Option<usize> {
    headers.get(header::CONTENT_LENGTH)?.to_str().ok()?.parse().ok()
}

/// A form with a photo, within the bounds of this server.
pub(super) fn coming(app: &App, headers: &HeaderMap, form: Multipart) -> Coming {
    Coming { form, about: length(headers).unwrap_or_default(), silence: app.bounds.silence }
}

/// Words come whole or not at all: whoever sends them drop by drop keeps a place that others wait for.
async fn at_once(app: &App, request: Request) -> Result<Request, UploadError> {
    let is_photo = request.headers().get(header::CONTENT_TYPE).is_some_and(|kind| kind.as_bytes().starts_with(b"multipart/"));
    if is_photo {
        return Ok(request);
    }
    let (head, body) = request.into_parts();
    let words = tokio::time::timeout(app.bounds.silence, axum::body::to_bytes(body, LARGEST_WORDS)).await;
    let words = words.map_err(|_| UploadError::Silent)?.map_err(|_| UploadError::Broken)?;
    Ok(Request::from_parts(head, words.into()))
}

pub(super) fn problem_of(error: &UploadError, theme: Theme) -> Response {
    let status = match error {
        UploadError::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
        UploadError::Silent => StatusCode::REQUEST_TIMEOUT,
        _ => StatusCode::BAD_REQUEST,
    };
    pages::problem_in(status, theme, &error.to_string(), error.hint())
}

pub(super) fn gone(theme: Theme) -> Response {
    pages::problem_in(StatusCode::NOT_FOUND, theme, "this photo is no longer kept here", "photos stay for an hour; send it again")
}

/// The theme is a wish of the device, kept in a cookie that says nothing else.
async fn theme(fields: Fields) -> Response {
    let word = if fields.text("theme") == "red" { "red" } else { "plain" };
    wished(pages::THEME, word, fields.text("back"))
}

/// Who writes is a wish of the device too.
async fn who(fields: Fields) -> Response {
    let name: String = fields.text("who").chars().filter(|c| !c.is_control()).take(LONGEST_NAME).collect();
    wished(WHO, &coded(&name), fields.text("back"))
}

fn wished(cookie: &str, value: &str, back: &str) -> Response {
    // Only an address on this server: `//elsewhere` and the like lead away.
    let is_here = back.starts_with('/') && !back.starts_with("//") && !back.contains('\\');
    let back = back.parse::<Uri>().ok().filter(|_| is_here).map_or_else(|| "/".to_owned(), |uri| uri.path().to_owned());
    let cookie = format!("{cookie}={value}; Path=/; HttpOnly; SameSite=Strict; Max-Age=31536000");
    ([(header::SET_COOKIE, cookie)], Redirect::to(&back)).into_response()
}
