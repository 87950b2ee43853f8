//! `tintpoint read`.

use super::args::{Conflict, Format, ReadOptions, picture_file};
use super::batch;
use super::bath::photo::{KeepingOptions, Picture};
use super::failure::Status;
use super::job::{Done, Reader, Task};
use super::output::{self, Output, READING};
use super::photos::{Named, Photos, identity};
use super::progress::Progress;
use super::report::{self, Report, ReportError};
use crate::photo::Buffers;
use crate::present::tally::Tally;
use crate::present::{Entry, table, text};
use std::collections::HashSet;
use std::io;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

/// Reads every photo; one bad photo never stops the rest.
pub(crate) fn run(options: &ReadOptions) -> Result<Status, Conflict> {
    let request = options.measuring.request()?;
    if let Some(status) = options.keeping.refusal() {
        return Ok(status);
    }
    let photos = Photos::named(&options.photos);
    let tally = Tally { raw: photos.skipped.raw, other: photos.skipped.other, ..Tally::default() };
    let is_many = photos.is_expanded || photos.all.len() > 1;
    let tasks = tasks(photos, options)?;
    let report = match options.report.as_deref().map(Report::begin).transpose() {
        Ok(report) => report,
        Err(error) => return Ok(unwritten(&error)),
    };
    let shelf = options.measuring.shelf();
    let reader = Reader::new(&request, &shelf, &options.output, report.is_some());
    let mut run = Run {
        format: options.output.format,
        out: Output::new(),
        progress: Progress::new(tasks.len()),
        entries: Vec::new(),
        keeps_entries: is_many && options.output.format == Format::Text,
        report,
        tally,
        status: None,
        keeping: options.keeping.is_wanted().then_some((&options.keeping, request.ionic_strength.value())),
        taken: 0,
    };
    let outcome = run.begin().and_then(|()| run.all(&reader, &tasks, options.jobs)).and_then(|()| run.end(is_many));
    run.progress.end();
    if let Err(error) = outcome {
        output::complain(&format!("cannot write the readings: {error}"), None);
        return Ok(Status::Failed);
    }
    run.finish_report();
    Ok(run.status())
}

fn unwritten(error: &ReportError) -> Status {
    output::complain(&error.to_string(), Some(error.hint()));
    Status::Failed
}

/// The photos with the files of their pictures, once the options fit them.
fn tasks(photos: Photos, options: &ReadOptions) -> Result<Vec<Task>, Conflict> {
    let is_single = !photos.is_expanded && photos.all.len() == 1;
    let outputs = options.output.picture.is_some() || options.report.is_some();
    let sources: HashSet<PathBuf> = photos.all.iter().filter(|_| outputs).filter_map(Named::path).map(identity).collect();
    if let Some(page) = options.report.as_deref().filter(|page| sources.contains(&identity(page)) || report::is_over_photo(page)) {
        return Err(Conflict::OverwritesPhoto { option: "--report", path: page.to_owned() });
    }
    let count = photos.all.len();
    let Some(target) = &options.output.picture else {
        return Ok(photos.all.into_iter().enumerate().map(|(i, named)| Task { number: i + 1, named, picture: None }).collect());
    };
    if sources.contains(&identity(target)) {
        return Err(Conflict::OverwritesPhoto { option: "--picture", path: target.clone() });
    }
    if options.photos.iter().any(|name| name.is_dir() && identity(name) == identity(target)) {
        return Err(Conflict::PictureAmongPhotos(target.clone()));
    }
    let is_file = is_single && !target.is_dir();
    if is_file && picture_file(&target.display().to_string()).is_err() {
        return Err(Conflict::PictureKind(target.clone()));
    }
    if !is_file && target.is_file() {
        return Err(Conflict::PictureFile(target.clone(), count));
    }
    if !is_file && let Err(error) = std::fs::create_dir_all(target) {
        // Each picture will fail and say so; the readings are still worth having.
        output::complain(&format!("cannot make the folder `{}`: {error}", target.display()), None);
    }
    output::clear_pictures(target);
    let mut names = sources;
    let with_picture = photos.all.into_iter().enumerate().map(|(i, named)| {
        let picture = named.path().map(|path| if is_file { target.clone() } else { picture_name(target, path, &mut names) });
        Task { number: i + 1, named, picture }
    });
    Ok(with_picture.collect())
}

/// A name of its own in the target folder, which is not that of a photo either.
fn picture_name(target: &Path, photo: &Path, names: &mut HashSet<PathBuf>) -> PathBuf {
    let stem = photo.file_stem().map_or_else(|| "photo".to_owned(), |s| s.to_string_lossy().into_owned());
    let folder = identity(target);
    let mut name = format!("{stem}{READING}");
    let mut count = 1;
    while !names.insert(folder.join(&name)) {
        count += 1;
        name = format!("{stem}-{count}{READING}");
    }
    target.join(name)
}

struct Run<'a> {
    format: Format,
    out: Output,
    progress: Progress,
    /// For the table at the end of the text report.
    entries: Vec<Entry>,
    keeps_entries: bool,
    report: Option<Report>,
    tally: Tally,
    /// A failure that decides the status.
    status: Option<Status>,
    /// The logbook that readings go into, and the salt that they assume, mol/l.
    keeping: Option<(&'a KeepingOptions, f64)>,
    /// Photos that were looked at for the logbook; they come in the order of the tasks.
    taken: usize,
}

impl Run<'_> {
    fn begin(&mut self) -> io::Result<()> {
        if self.format == Format::Csv {
            self.out.put(&table::header().map_err(io::Error::other)?)?;
        }
        Ok(())
    }

    fn all(&mut self, reader: &Reader<'_>, tasks: &[Task], jobs: Option<usize>) -> io::Result<()> {
        let workers = jobs.unwrap_or_else(batch::processors);
        let mut outcome = Ok(());
        batch::in_order(
            tasks,
            workers,
            Buffers::default,
            |buffers, task| reader.read(buffers, task),
            |done| {
                outcome = self.take(done, tasks);
                // A report is worth the rest of the work even if nobody reads the stream any more.
                let is_in_vain = self.out.is_closed() && self.report.is_none();
                if outcome.is_err() || is_in_vain { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
            },
        );
        outcome
    }

    fn take(&mut self, done: Done, tasks: &[Task]) -> io::Result<()> {
        let text = done.text?;
        self.progress.aside(|| {
            for complaint in &done.complaints {
                output::complain(&complaint.message, complaint.hint.as_deref());
            }
            self.out.put(&text)
        })?;
        self.tally.add(&done.entry);
        self.keep(&done.entry, tasks);
        if let Some(status) = done.status {
            self.fail(status);
        }
        if let (Some(report), Some(section)) = (&mut self.report, &done.section)
            && let Err(error) = report.add(section)
        {
            // The readings go on without the page.
            self.report = None;
            let status = self.progress.aside(|| unwritten(&error));
            self.fail(status);
        }
        if self.keeps_entries {
            self.entries.push(done.entry);
        }
        self.progress.step();
        Ok(())
    }

    /// Into the logbook; what was written goes to standard error, for the report is on the other stream.
    fn keep(&mut self, entry: &Entry, tasks: &[Task]) {
        let Some((keeping, salt)) = self.keeping else { return };
        let photo = tasks.get(self.taken).and_then(|task| task.named.path());
        self.taken += 1;
        if let Some(status) = photo.and_then(|photo| self.progress.aside(|| keeping.told(Picture::File(photo), entry, salt))) {
            self.fail(status);
        }
    }

    /// What closes a report: for people a table and the cautions, for programs a line on the other stream.
    fn end(&mut self, is_many: bool) -> io::Result<()> {
        self.progress.end();
        if self.format == Format::Text {
            let columns = output::columns();
            if is_many {
                self.out.put(&text::summary(&self.entries, columns))?;
                self.out.put("\n")?;
                self.out.put(&text::count(&self.tally, columns))?;
                self.out.put("\n")?;
            }
            self.out.put(&text::cautions(columns))?;
        } else if is_many && !self.out.is_closed() {
            output::remark(&self.tally.sentence());
        }
        Ok(())
    }

    fn finish_report(&mut self) {
        if let Some(report) = self.report.take()
            && let Err(error) = report.finish(&self.tally)
        {
            let status = unwritten(&error);
            self.fail(status);
        }
    }

    /// Wrong usage weighs more than a failed photo, since it concerns the whole command.
    fn fail(&mut self, status: Status) {
        if self.status != Some(Status::Usage) {
            self.status = Some(status);
        }
    }

    fn status(&self) -> Status {
        let is_judged = self.out.is_closed() || self.tally.is_judged();
        self.status.unwrap_or(if is_judged { Status::Judged } else { Status::Unjudged })
    }
}
