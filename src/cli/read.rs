//! `tintpoint read`.

use super::args::{Conflict, Format, ReadOptions};
use super::failure::{Status, check_regions};
use super::output::{self, Output};
use crate::measurement::request::Request;
use crate::photo::{Photo, PhotoError};
use crate::present::{Entry, Failure, sheet, table, text};
use std::collections::HashSet;
use std::path::{Path, PathBuf};

/// Reads every photo; one bad photo never stops the rest.
pub(crate) fn run(options: &ReadOptions) -> Result<Status, Conflict> {
    let request = options.request()?;
    let mut run = Run { options, request, out: Output::new(), entries: Vec::new(), names: HashSet::new(), status: None };
    if let Err(e) = run.all() {
        output::complain(&format!("cannot write the report: {e}"), None);
        return Ok(Status::Failed);
    }
    Ok(run.status())
}

struct Run<'a> {
    options: &'a ReadOptions,
    request: Request,
    out: Output,
    entries: Vec<Entry>,
    /// Names of pictures written so far.
    names: HashSet<PathBuf>,
    /// A failure that decides the status.
    status: Option<Status>,
}

impl Run<'_> {
    fn all(&mut self) -> std::io::Result<()> {
        if self.options.output.format == Format::Csv {
            self.out.put(&table::header().map_err(std::io::Error::other)?)?;
        }
        for path in &self.options.photos {
            let entry = self.one(path);
            if let Err(failure) = &entry.outcome {
                output::complain(&format!("{}: {}", entry.photo, failure.message), failure.hint.as_deref());
            }
            self.put(&entry)?;
            if self.out.is_closed() {
                return Ok(());
            }
            self.entries.push(entry);
        }
        if self.options.output.format == Format::Text {
            let columns = output::columns();
            if self.entries.len() > 1 {
                self.out.put(&text::summary(&self.entries, columns))?;
                self.out.put("\n")?;
            }
            self.out.put(&text::cautions(columns))?;
        }
        Ok(())
    }

    fn one(&mut self, path: &Path) -> Entry {
        let mut entry = Entry { photo: path.display().to_string(), taken: None, camera: None, outcome: Err(unread()) };
        match crate::photo::load(path) {
            Ok(photo) => {
                entry.taken.clone_from(&photo.taken);
                entry.camera.clone_from(&photo.camera);
                self.read(path, &photo, &mut entry);
            }
            Err(error) => {
                self.fail(Status::Failed);
                entry.outcome = Err(photo_failure(&error));
            }
        }
        entry
    }

    fn read(&mut self, path: &Path, photo: &Photo, entry: &mut Entry) {
        let (width, height) = (photo.frame.upright_width(), photo.frame.upright_height());
        if let Err(error) = check_regions(self.request.card, &self.request.cups, width, height) {
            self.fail(Status::Usage);
            entry.outcome = Err(error.failure());
            return;
        }
        let mut reading = crate::measurement::read(&photo.frame, &self.request);
        reading.warnings.splice(0..0, photo.notices.iter().cloned());
        if let Some(target) = self.options.output.picture.clone() {
            let name = path.file_name().map_or_else(|| entry.photo.clone(), |name| name.to_string_lossy().into_owned());
            let drawing = sheet::draw(&name, &photo.frame, &reading, &self.request);
            if let Err(why) = self.picture_path(&target, path).and_then(|path| output::picture(&path, &drawing)) {
                self.fail(Status::Failed);
                output::complain(&why, Some("give a folder that exists and may be written to"));
            }
        }
        entry.outcome = Ok(reading);
    }

    fn put(&mut self, entry: &Entry) -> std::io::Result<()> {
        let text = output::record(entry, self.options.output.format)?;
        self.out.put(&text)
    }

    /// The file for one photo's picture: the target itself, or a name of its own in the target folder.
    fn picture_path(&mut self, target: &Path, photo: &Path) -> Result<PathBuf, String> {
        if self.options.photos.len() == 1 && !target.is_dir() {
            return Ok(target.to_owned());
        }
        std::fs::create_dir_all(target).map_err(|e| format!("cannot make the folder `{}`: {e}", target.display()))?;
        let stem = photo.file_stem().map_or_else(|| "photo".to_owned(), |s| s.to_string_lossy().into_owned());
        let mut path = target.join(format!("{stem}-reading.png"));
        let mut count = 1;
        while !self.names.insert(path.clone()) {
            count += 1;
            path = target.join(format!("{stem}-{count}-reading.png"));
        }
        Ok(path)
    }

    /// Wrong usage weighs more than a failed photo, since it concerns the whole command.
    fn fail(&mut self, status: Status) {
        if self.status != Some(Status::Usage) {
            self.status = Some(status);
        }
    }

    fn status(&self) -> Status {
        let is_judged = self.out.is_closed() || self.entries.iter().any(Entry::is_judged);
        self.status.unwrap_or(if is_judged { Status::Judged } else { Status::Unjudged })
    }
}

fn unread() -> Failure {
    Failure { code: "unread".to_owned(), message: "not read".to_owned(), hint: None }
}

fn photo_failure(error: &PhotoError) -> Failure {
    // The cause is part of the message: what the system or the decoder said.
    let mut message = error.to_string();
    let mut cause = std::error::Error::source(error);
    while let Some(inner) = cause {
        message.push_str(&format!(": {inner}"));
        cause = inner.source();
    }
    Failure { code: error.code().to_owned(), message, hint: Some(error.hint().to_owned()) }
}
