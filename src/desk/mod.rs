//! One photo to what is told of it: what the command line and the page for the phone do alike.

mod regions;

pub use regions::{RegionError, check_regions};

use crate::measurement::request::Request;
use crate::photo::{Photo, PhotoError};
use crate::present::{Entry, Failure};

/// A failure with its code and hint; what the system or the decoder said is part of the message.
#[must_use]
pub fn photo_failure(error: &PhotoError) -> Failure {
    let mut message = error.to_string();
    let mut cause = std::error::Error::source(error);
    while let Some(inner) = cause {
        message.push_str(&format!(": {inner}"));
        cause = inner.source();
    }
    Failure { code: error.code().to_owned(), message, hint: Some(error.hint().to_owned()) }
}

/// What is told when the program itself is at fault.
#[must_use]
pub fn fault() -> Failure {
    let hint = "this is a fault of the program; please report it, with the photo if you may give it away";
    Failure { code: "fault".to_owned(), message: "the program stumbled over this photo".to_owned(), hint: Some(hint.to_owned()) }
}

/// Reads a photo that has been decoded; `name` is what it is called in the report.
#[must_use]
pub fn entry(name: String, photo: &Photo, request: &Request) -> Entry {
    let (width, height) = (photo.frame.upright_width(), photo.frame.upright_height());
    let outcome = check_regions(request.card, &request.cups, width, height).map_err(|error| error.failure()).map(|()| {
        let mut reading = crate::measurement::read(&photo.frame, request);
        reading.warnings.splice(0..0, photo.notices.iter().cloned());
        reading
    });
    Entry { photo: name, taken: photo.taken.clone(), camera: photo.camera.clone(), outcome }
}
