//! What the command line and the page for the phone do alike: one photo to what is told of it, a reading to what is kept of it, the clock.

pub mod book;
pub mod calculate;
pub mod calibrate;
pub mod change;
pub mod clock;
pub mod kept;
mod regions;
pub mod source;
pub mod typed;

pub use regions::{RegionError, check_regions};

use crate::measurement::request::Request;
use crate::measurement::warning::Notice;
use crate::photo::{Photo, PhotoError};
use crate::present::{Entry, Failure};
use crate::store::profiles::shelf::{Chosen, Shelf};
use std::borrow::Cow;

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

/// The request with the profile that fits the photo, when none was named, and what is to be said of that.
#[must_use]
pub fn with_profile<'a>(request: &'a Request, shelf: &Shelf, camera: Option<&str>) -> (Cow<'a, Request>, Option<Notice>) {
    let contents = &request.contents;
    // A profile holds for one dye.
    let is_one = contents.others.iter().all(|(_, dye)| dye.name == contents.indicator.name);
    if request.calibrated.is_some() || !is_one {
        return (Cow::Borrowed(request), None);
    }
    match shelf.choose(camera, contents.indicator, request.light.kind()) {
        None => (Cow::Borrowed(request), None),
        Some(Chosen { calibrated, matches }) => {
            let notice = Notice::ProfileChosen { name: calibrated.name.clone(), matches };
            (Cow::Owned(Request { calibrated: Some(calibrated), ..request.clone() }), Some(notice))
        }
    }
}

/// Reads a photo that has been decoded, with the profile that fits it unless one was named; `name` is what it is called in the report.
#[must_use]
pub fn entry(name: String, photo: &Photo, request: &Request, shelf: &Shelf) -> Entry {
    let (width, height) = (photo.frame.upright_width(), photo.frame.upright_height());
    let outcome = check_regions(request.card, &request.cups, width, height).map_err(|error| error.failure()).map(|()| {
        let (request, chosen) = with_profile(request, shelf, photo.camera.as_deref());
        let mut reading = crate::measurement::read(&photo.frame, &request);
        // A photo that is refused before it is fitted was read with no profile.
        let is_used = reading.warnings.iter().any(|notice| matches!(notice, Notice::Calibrated { .. }));
        reading.warnings.splice(0..0, photo.notices.iter().cloned().chain(chosen.filter(|_| is_used)));
        reading
    });
    Entry { photo: name, taken: photo.taken.clone(), camera: photo.camera.clone(), outcome }
}
