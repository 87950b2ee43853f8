//! What stops a request, told on a page in the theme of the device.

use super::pages::{self, Theme};
use super::token::NoRandomness;
use crate::desk::book::BookError;
use crate::desk::clock::ClockError;
use crate::store::profiles::ProfileError;
use crate::store::records::RecordError;
use axum::extract::Request;
use axum::http::StatusCode;
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

/// What failed, on what, and what to do.
#[derive(Debug, Clone)]
pub(super) struct Problem {
    status: StatusCode,
    message: String,
    hint: String,
}

impl Problem {
    pub(super) fn new(status: StatusCode, message: impl ToString, hint: impl ToString) -> Self {
        Problem { status, message: message.to_string(), hint: hint.to_string() }
    }

    /// A form that is not understood.
    pub(super) fn form(message: impl ToString, hint: impl ToString) -> Self {
        Problem::new(StatusCode::BAD_REQUEST, message, hint)
    }

    /// Something that is not here, or not any more.
    pub(super) fn gone(message: impl ToString, hint: impl ToString) -> Self {
        Problem::new(StatusCode::NOT_FOUND, message, hint)
    }

    /// The program itself is at fault.
    pub(super) fn fault() -> Self {
        Problem::new(StatusCode::INTERNAL_SERVER_ERROR, "the program stumbled", "try it again; please report it")
    }

    /// A text of two lines, message and hint, as parsers give it.
    pub(super) fn typed(what: &str, text: &str) -> Self {
        let (message, hint) = text.split_once("\nhint: ").unwrap_or((text, "correct it and send it again"));
        Problem::form(format!("{what}: {message}"), hint)
    }

    pub(super) fn message(&self) -> &str {
        &self.message
    }

    pub(super) fn hint(&self) -> &str {
        &self.hint
    }
}

impl From<BookError> for Problem {
    fn from(error: BookError) -> Self {
        let status = match &error {
            BookError::NoBath(_) | BookError::NoEntry => StatusCode::NOT_FOUND,
            BookError::Record(RecordError::Entry { .. }) => StatusCode::BAD_REQUEST,
            BookError::Record(RecordError::Busy { .. }) => StatusCode::SERVICE_UNAVAILABLE,
            BookError::Record(_) | BookError::Clock(ClockError::Variable(_)) => StatusCode::INTERNAL_SERVER_ERROR,
            BookError::Entry(_) | BookError::Clock(_) | BookError::NoDeveloper(_) => StatusCode::BAD_REQUEST,
            _ => StatusCode::CONFLICT,
        };
        Problem::new(status, &error, error.hint())
    }
}

impl From<ProfileError> for Problem {
    fn from(error: ProfileError) -> Self {
        let status = match &error {
            ProfileError::Name(_) => StatusCode::BAD_REQUEST,
            ProfileError::Taken(_) => StatusCode::CONFLICT,
            _ => StatusCode::INTERNAL_SERVER_ERROR,
        };
        Problem::new(status, &error, error.hint())
    }
}

impl From<NoRandomness> for Problem {
    fn from(error: NoRandomness) -> Self {
        Problem::new(StatusCode::INTERNAL_SERVER_ERROR, error, "start the program again")
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let mut response = self.status.into_response();
        response.extensions_mut().insert(self);
        response
    }
}

/// Puts a problem on a page: only here is the theme of the device known.
pub(super) async fn dressed(theme: Theme, request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    match response.extensions_mut().remove::<Problem>() {
        Some(problem) => pages::problem_in(problem.status, theme, &problem.message, &problem.hint),
        None => response,
    }
}
