//! What goes on paper.

use crate::placement::{Paper, Sheet};
use crate::present::{pdf, placement};
use crate::web::app::App;
use crate::web::pages::{self, Theme};
use axum::Router;
use axum::extract::Query;
use axum::http::StatusCode;
use axum::http::header::{self, HeaderMap};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use serde::Deserialize;
use std::sync::Arc;

pub(super) fn routes() -> Router<Arc<App>> {
    Router::new().route("/print", get(print)).route("/print/sheet.pdf", get(sheet))
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
