//! Who is let in.

use crate::web::app::{App, locked};
use crate::web::guard;
use crate::web::pages::{self, Theme};
use crate::web::pairing::Answer;
use crate::web::token::NoRandomness;
use axum::Router;
use axum::extract::{Form, Query, State};
use axum::http::StatusCode;
use axum::http::header::{self, HeaderMap};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use serde::Deserialize;
use std::sync::Arc;
use std::time::{Duration, Instant};

pub(super) fn routes() -> Router<Arc<App>> {
    Router::new().route("/pair", get(ask).post(pair))
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
