//! Addresses and what answers them.

use super::check::{Check, Shown, Upload};
use super::pages::{self, Theme};
use super::pairing::{Answer, Pairing};
use super::settings::Settings;
use super::shelf::Shelf as Photos;
use super::token::NoRandomness;
use super::upload::{self, UploadError};
use super::{guard, settings};
use crate::indicator::{Indicator, catalogue};
use crate::photo::Buffers;
use crate::placement::{Paper, Sheet};
use crate::present::{pdf, placement};
use crate::store::profiles::shelf::Shelf;
use axum::Router;
use axum::extract::{DefaultBodyLimit, Form, Multipart, Path, Query, Request, State};
use axum::http::header::{self, HeaderMap, HeaderValue};
use axum::http::{StatusCode, Uri};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use serde::Deserialize;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

/// Kibibytes of forms that may be on their way at once: six of the largest, or forty usual photos.
const ON_THEIR_WAY: usize = 256 << 10;
/// How long a form waits for room before it is told to come again.
const PATIENCE: Duration = Duration::from_secs(20);

/// What all requests share.
#[derive(Debug)]
pub struct App {
    /// None when only this machine can ask.
    pairing: Option<Mutex<Pairing>>,
    /// Told of each new code.
    on_code: fn(&str),
    photos: Mutex<Photos<Check>>,
    room: Arc<Semaphore>,
    workers: Arc<Semaphore>,
    /// Memory of photos that have been read, one for each worker at most: fresh pages for each would pile up in the allocator.
    buffers: Arc<Mutex<Vec<Buffers>>>,
    /// Calibrations to choose from.
    profiles: Arc<Shelf>,
    indicator: &'static Indicator,
}

impl App {
    /// For this machine alone: nobody is asked for a code.
    #[must_use]
    pub fn alone(workers: usize, profiles: Shelf) -> Self {
        App::new(workers, profiles, None, |_| ())
    }

    /// For a network: each device is let in by a code, which `on_code` is told of whenever there is a new one.
    ///
    /// # Errors
    /// [`NoRandomness`] when the system has none.
    pub fn paired(workers: usize, profiles: Shelf, on_code: fn(&str)) -> Result<Self, NoRandomness> {
        let mut pairing = Pairing::new(Instant::now())?;
        on_code(pairing.code(Instant::now())?);
        Ok(App::new(workers, profiles, Some(Mutex::new(pairing)), on_code))
    }

    fn new(workers: usize, profiles: Shelf, pairing: Option<Mutex<Pairing>>, on_code: fn(&str)) -> Self {
        App {
            pairing,
            on_code,
            photos: Mutex::new(Photos::new()),
            room: Arc::new(Semaphore::new(ON_THEIR_WAY)),
            workers: Arc::new(Semaphore::new(workers.max(1))),
            buffers: Arc::default(),
            profiles: Arc::new(profiles),
            indicator: catalogue::usual(),
        }
    }

    pub(super) fn asks_for_code(&self) -> bool {
        self.pairing.is_some()
    }

    pub(super) fn knows(&self, session: &str, now: Instant) -> bool {
        self.pairing.as_ref().is_none_or(|pairing| locked(pairing).knows(session, now))
    }

    fn kept(&self, name: &str) -> Option<Check> {
        locked(&self.photos).get(name, Instant::now())
    }

    /// Reads on a thread of its own, as many at once as there are workers.
    async fn read(&self, upload: Upload, settings: Settings, earlier: Option<Shown>) -> Option<Check> {
        let worker = Arc::clone(&self.workers).acquire_owned().await.ok()?;
        let (buffers, profiles) = (Arc::clone(&self.buffers), Arc::clone(&self.profiles));
        let work = tokio::task::spawn_blocking(move || {
            let mut mine = locked(&buffers).pop().unwrap_or_default();
            let check = Check::of(&mut mine, &profiles, upload, settings, earlier);
            locked(&buffers).push(mine);
            drop(worker);
            check
        });
        work.await.ok()
    }
}

/// A lock whose holder has panicked still guards whole values: each change here is one step.
fn locked<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// All addresses.
pub fn router(app: Arc<App>) -> Router {
    Router::new()
        .route("/", get(first))
        .route("/check", post(check).layer(DefaultBodyLimit::max(upload::LARGEST_FORM)))
        .route("/check/{name}", get(shown).post(again))
        .route("/check/{name}/photo.jpg", get(photo))
        .route("/check/{name}/reading.json", get(reading))
        .route("/pair", get(ask).post(pair))
        .route("/print", get(print))
        .route("/print/sheet.pdf", get(sheet))
        .route("/theme", post(theme))
        .route("/asset/page.css", get(|| asset("text/css; charset=utf-8", include_str!("assets/page.css"))))
        .route("/asset/check.js", get(|| asset("text/javascript; charset=utf-8", include_str!("assets/check.js"))))
        .route("/asset/icon.svg", get(|| async { ([(header::CONTENT_TYPE, "image/svg+xml")], pages::icon()) }))
        .fallback(lost)
        .layer(DefaultBodyLimit::max(64 << 10))
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
    let told = request.headers().get(header::CONTENT_LENGTH).and_then(|v| v.to_str().ok()).and_then(|v| v.parse::<usize>().ok());
    let Some(length) = told else {
        return pages::problem_in(StatusCode::LENGTH_REQUIRED, theme, "the browser does not tell how much it sends", "use another browser");
    };
    if length > upload::LARGEST_FORM {
        return problem_of(&UploadError::TooLarge, theme);
    }
    let Some(room) = room(&app, length).await else {
        let mut response =
            pages::problem_in(StatusCode::SERVICE_UNAVAILABLE, theme, "too many photos come at once", "wait a little and send it again");
        response.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from_static("5"));
        return response;
    };
    let response = next.run(request).await;
    drop(room);
    response
}

async fn room(app: &App, length: usize) -> Option<OwnedSemaphorePermit> {
    let wanted = u32::try_from(length.div_ceil(1024).max(1)).ok()?;
    tokio::time::timeout(PATIENCE, Arc::clone(&app.room).acquire_many_owned(wanted)).await.ok()?.ok()
}

fn problem_of(error: &UploadError, theme: Theme) -> Response {
    let status = match error {
        UploadError::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
        UploadError::Silent => StatusCode::REQUEST_TIMEOUT,
        _ => StatusCode::BAD_REQUEST,
    };
    pages::problem_in(status, theme, &error.to_string(), error.hint())
}

fn gone(theme: Theme) -> Response {
    pages::problem_in(StatusCode::NOT_FOUND, theme, "this photo is no longer kept here", "photos stay for an hour; send it again")
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
    let (upload, settings) = match upload::take(form, Settings::of(app.indicator)).await {
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

async fn shown(State(app): State<Arc<App>>, Path(name): Path<String>, headers: HeaderMap) -> Response {
    let theme = Theme::of(&headers);
    app.kept(&name).map_or_else(|| gone(theme), |check| pages::check::shown(theme, &name, &check).into_response())
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
    pages::place::apply(&mut settings, &known, &fields);
    let Some(check) = app.read(known.upload, settings, known.shown).await else { return gone(theme) };
    locked(&app.photos).replace(&name, check, Instant::now());
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

#[derive(Deserialize)]
struct Typed {
    #[serde(default)]
    code: String,
}

async fn ask(headers: HeaderMap, Query(typed): Query<Typed>) -> Response {
    pages::pair(Theme::of(&headers), &typed.code, None).into_response()
}

async fn pair(State(app): State<Arc<App>>, headers: HeaderMap, Form(typed): Form<Typed>) -> Response {
    let theme = Theme::of(&headers);
    let Some(pairing) = &app.pairing else { return Redirect::to("/").into_response() };
    let (answer, code) = {
        let mut pairing = locked(pairing);
        let answer = pairing.tried(&typed.code, Instant::now());
        (answer, pairing.code(Instant::now()).map(str::to_owned))
    };
    let Ok(answer) = answer else {
        return pages::problem_in(StatusCode::INTERNAL_SERVER_ERROR, theme, &NoRandomness.to_string(), "start the program again");
    };
    if let (Answer::Paired(_) | Answer::TooMany, Ok(code)) = (&answer, code) {
        (app.on_code)(&code);
    }
    let said = match answer {
        Answer::Paired(session) => {
            // Not `Secure`: this server speaks plain http, and such a cookie would never come back.
            let cookie = format!("{}={session}; Path=/; HttpOnly; SameSite=Strict; Max-Age=129600", guard::SESSION);
            return ([(header::SET_COOKIE, cookie)], Redirect::to("/")).into_response();
        }
        Answer::Wrong => "this is not the code; look at the terminal again",
        Answer::TooMany => "too many wrong codes; the terminal shows a new one",
    };
    // Guessing by hand stays possible, guessing by machine does not.
    tokio::time::sleep(Duration::from_secs(1)).await;
    (StatusCode::UNAUTHORIZED, pages::pair(theme, "", Some(said))).into_response()
}

async fn print(headers: HeaderMap) -> Response {
    pages::print(Theme::of(&headers)).into_response()
}

#[derive(Deserialize)]
struct Wanted {
    #[serde(default)]
    paper: String,
    #[serde(default)]
    cups: String,
}

async fn sheet(headers: HeaderMap, Query(wanted): Query<Wanted>) -> Response {
    let paper = if wanted.paper == "letter" { Paper::Letter } else { Paper::A4 };
    match wanted.cups.parse().map_err(|_| ()).and_then(|cups| Sheet::new(paper, cups).map_err(|_| ())) {
        Ok(sheet) => {
            let kind = [(header::CONTENT_TYPE, "application/pdf"), (header::CONTENT_DISPOSITION, "inline; filename=\"sheet.pdf\"")];
            (kind, pdf::render(&placement::draw(sheet))).into_response()
        }
        Err(()) => {
            pages::problem_in(StatusCode::BAD_REQUEST, Theme::of(&headers), "a sheet has 1 to 12 circles", "choose a number from the list")
        }
    }
}

#[derive(Deserialize)]
struct Wish {
    #[serde(default)]
    theme: String,
    #[serde(default)]
    back: String,
}

/// The theme is a wish of the device, kept in a cookie that says nothing else.
async fn theme(Form(wish): Form<Wish>) -> Response {
    let word = if wish.theme == "red" { "red" } else { "plain" };
    // Only an address on this server: `//elsewhere` and the like lead away.
    let is_here = wish.back.starts_with('/') && !wish.back.starts_with("//") && !wish.back.contains('\\');
    let back = wish.back.parse::<Uri>().ok().filter(|_| is_here).map_or_else(|| "/".to_owned(), |uri| uri.path().to_owned());
    ([(header::SET_COOKIE, format!("{}={word}; Path=/; HttpOnly; SameSite=Strict; Max-Age=31536000", pages::THEME))], Redirect::to(&back))
        .into_response()
}

/// Words of the kinds of light, for the pages.
pub(super) fn lights() -> impl Iterator<Item = (&'static str, &'static str)> {
    settings::LIGHTS.iter().map(|(value, words, _)| (*value, *words))
}
