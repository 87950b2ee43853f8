//! One photo: read it, put the result into the form that was asked for.

use super::args::{Format, OutputOptions};
use super::failure::Status;
use super::output;
use super::photos::{Named, PhotosError};
use crate::desk;
use crate::measurement::request::Request;
use crate::photo::{Buffers, Photo, PhotoError, load_into};
use crate::present::html::{self, Pictures, Section};
use crate::present::{Entry, Failure, json, sheet, table, text};
use crate::store::profiles::shelf::Shelf;
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

/// One photo to be read.
#[derive(Debug)]
pub(crate) struct Task {
    /// From 1, in the order of reading.
    pub(crate) number: usize,
    pub(crate) named: Named,
    /// Where its picture goes.
    pub(crate) picture: Option<PathBuf>,
}

/// What every photo of a run is read with.
#[derive(Debug)]
pub(crate) struct Reader<'a> {
    pub(crate) request: &'a Request,
    /// Profiles to choose from where none was named.
    pub(crate) shelf: &'a Shelf,
    pub(crate) format: Format,
    /// Columns of the text report.
    pub(crate) columns: usize,
    /// Whether the photo has a part in a report.
    pub(crate) has_report: bool,
}

/// A message and what to do.
#[derive(Debug)]
pub(crate) struct Complaint {
    pub(crate) message: String,
    pub(crate) hint: Option<String>,
}

/// What is to be told of one photo.
#[derive(Debug)]
pub(crate) struct Done {
    /// Without what only pictures need.
    pub(crate) entry: Entry,
    /// In the form that was asked for.
    pub(crate) text: io::Result<String>,
    pub(crate) section: Option<Section>,
    pub(crate) complaints: Vec<Complaint>,
    /// A failure that decides the status.
    pub(crate) status: Option<Status>,
    /// Whether the same file may give a reading later.
    pub(crate) later: Later,
}

/// What may become of a photo that could not be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Later {
    /// Nothing else: it is what it is.
    Never,
    /// It may still be on its way.
    Whole,
    /// It may come within reach.
    Reachable,
}

impl<'a> Reader<'a> {
    pub(crate) fn new(request: &'a Request, shelf: &'a Shelf, output: &OutputOptions, has_report: bool) -> Self {
        Reader { request, shelf, format: output.format, columns: output::columns(), has_report }
    }

    /// Reads one photo; `buffers` serve the next one again.
    pub(crate) fn read(&self, buffers: &mut Buffers, task: &Task) -> Done {
        let mut done = Done {
            entry: Entry { photo: task.named.name(), taken: None, camera: None, outcome: Err(unread()) },
            text: Ok(String::new()),
            section: None,
            complaints: Vec::new(),
            status: None,
            later: Later::Never,
        };
        let mut pictures = None;
        match &task.named {
            Named::Photo(path) => match guarded(|| self.look(buffers, path, task.picture.as_deref(), &mut done)) {
                Some(drawn) => pictures = drawn,
                None => done.fail(Status::Failed, desk::fault()),
            },
            Named::Nothing(_, error) => done.fail(Status::Failed, nothing_failure(error)),
        }
        if let Err(failure) = &done.entry.outcome {
            let message = format!("{}: {}", done.entry.photo, failure.message);
            done.complaints.push(Complaint { message, hint: failure.hint.clone() });
        }
        done.text = self.text(&done.entry);
        if self.has_report {
            done.section = Some(html::section(task.number, &done.entry, pictures.as_ref()));
        }
        done.entry = done.entry.without_curves();
        done
    }

    fn look(&self, buffers: &mut Buffers, path: &Path, picture: Option<&Path>, done: &mut Done) -> Option<Pictures> {
        match load_into(buffers, path) {
            Ok(photo) => {
                let pictures = self.measure(path, &photo, picture, done);
                buffers.take_back(photo);
                pictures
            }
            Err(error) => {
                done.later = later(&error);
                done.fail(Status::Failed, desk::photo_failure(&error));
                None
            }
        }
    }

    fn measure(&self, path: &Path, photo: &Photo, picture: Option<&Path>, done: &mut Done) -> Option<Pictures> {
        done.entry = desk::entry(done.entry.photo.clone(), photo, self.request, self.shelf);
        let Ok(reading) = &done.entry.outcome else {
            // The photo is sound; what was told of it is not.
            done.status = Some(Status::Usage);
            return None;
        };
        let name = path.file_name().map_or_else(|| done.entry.photo.clone(), |name| name.to_string_lossy().into_owned());
        if let Some(picture) = picture {
            let drawing = sheet::draw(&name, &photo.frame, reading, self.request);
            if let Err(message) = output::picture(picture, &drawing) {
                done.status = Some(Status::Failed);
                done.complaints.push(Complaint { message, hint: Some("give a folder that exists and may be written to".to_owned()) });
            }
        }
        self.has_report.then(|| html::pictures(&name, &photo.frame, reading, self.request))
    }

    fn text(&self, entry: &Entry) -> io::Result<String> {
        Ok(match self.format {
            Format::Text => text::photo(entry, self.columns) + "\n",
            Format::Json => json::line(entry).map_err(io::Error::other)? + "\n",
            Format::Csv => table::rows(entry).map_err(io::Error::other)?,
        })
    }
}

impl Done {
    fn fail(&mut self, status: Status, failure: Failure) {
        self.status = Some(status);
        self.entry.outcome = Err(failure);
    }
}

fn later(error: &PhotoError) -> Later {
    match error {
        PhotoError::NotFound | PhotoError::NoPermission | PhotoError::Unreadable(_) => Later::Reachable,
        // A file whose blocks are filled in out of order begins with nothing but zeros, which is no picture at all.
        PhotoError::Empty | PhotoError::Truncated { .. } | PhotoError::Damaged { .. } | PhotoError::NotAPicture => Later::Whole,
        _ => Later::Never,
    }
}

/// `None` when `work` panics: a fault of ours, or of a decoder, on one photo must not cost the readings of the others, nor make a
/// watch stumble over the same photo at each start.
fn guarded<R>(work: impl FnOnce() -> R) -> Option<R> {
    // Buffers and result are plain bytes and text, whole at any moment.
    catch_unwind(AssertUnwindSafe(work)).ok()
}

fn unread() -> Failure {
    Failure { code: "unread".to_owned(), message: "not read".to_owned(), hint: None }
}

fn nothing_failure(error: &PhotosError) -> Failure {
    Failure { code: error.code().to_owned(), message: error.to_string(), hint: Some(error.hint().to_owned()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_on_one_photo_is_a_failed_photo() {
        assert_eq!(guarded(|| 5), Some(5));
        assert_eq!(guarded(|| -> usize { panic!("a fault") }), None);
        assert!(desk::fault().hint.is_some_and(|hint| hint.contains("report it")));
    }
}
