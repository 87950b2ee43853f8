//! `tintpoint watch`: each new photo of a folder is read when it has come whole.
//!
//! The folder is looked at again and again rather than listened to: that works on every disk, also on shares and in the folders of
//! programs for synchronising, and nothing is missed.

use super::args::{Conflict, Format, MeasuringOptions, OutputOptions, jobs, number};
use super::batch;
use super::bath::photo::{KeepingOptions, Picture};
use super::failure::Status;
use super::job::{Done, Later, Reader, Task};
use super::natural;
use super::output::{self, Output, READING};
use super::photos::{self, Named, identity};
use crate::photo::Buffers;
use crate::photo::kind::{self, Kind};
use crate::present::{table, text, words};
use crate::store::seen::{Photo, Seen, Stamp, Told, fingerprint};
use crate::store::{StoreError, folder};
use std::collections::{HashMap, HashSet};
use std::io;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

const EXAMPLES: &str = "Examples:
  tintpoint watch camera-folder
  tintpoint watch phone-sync --format json >> readings.jsonl
  tintpoint watch phone-sync --bath tray-1

Ends with Ctrl-C. Started again, it goes on where it was, and reads what came in between.";

/// A broken file that has not changed for this many times the time of settling will not become whole.
const PATIENCE: u32 = 15;

#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct WatchOptions {
    /// Folder to watch; folders inside are not.
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Read also what lay in the folder before the first start; else only what comes after it.
    #[arg(long)]
    existing: bool,
    /// Seconds between two looks at the folder.
    #[arg(long, value_name = "S", default_value = "1", value_parser = seconds, allow_hyphen_values = true)]
    interval: Duration,
    /// Seconds for which a file must not have changed before it is read.
    #[arg(long, value_name = "S", default_value = "2", value_parser = seconds, allow_hyphen_values = true)]
    settle: Duration,
    /// File with the record of what was read; in the user's data folder unless told.
    #[arg(long, value_name = "FILE")]
    state: Option<PathBuf>,
    #[command(flatten)]
    measuring: MeasuringOptions,
    #[command(flatten)]
    output: OutputOptions,
    #[command(flatten)]
    keeping: KeepingOptions,
    /// Photos read at once when several have come; one for each processor unless told.
    #[arg(long, value_name = "N", value_parser = jobs)]
    jobs: Option<usize>,
}

fn seconds(text: &str) -> Result<Duration, String> {
    match number(text)? {
        // Below a hundredth of a second looking would be all that is done; above an hour nobody would wait.
        value if (0.01..=3600.0).contains(&value) => Ok(Duration::from_secs_f64(value)),
        value => Err(format!("{value} s is outside 0.01 to 3600 s\nhint: 1 or 2 do for most folders")),
    }
}

/// Watches until it is stopped from outside or nobody reads the results any more.
pub(crate) fn run(options: &WatchOptions) -> Result<Status, Conflict> {
    let request = options.measuring.request()?;
    if options.keeping.has_time() {
        return Err(Conflict::WatchTime);
    }
    if let Some(status) = options.keeping.refusal() {
        return Ok(status);
    }
    let folder = identity(&options.folder);
    if let Some(target) = &options.output.picture {
        if identity(target) == folder {
            return Err(Conflict::PictureAmongPhotos(target.clone()));
        }
        if target.is_file() {
            return Err(Conflict::PictureNoFolder(target.clone()));
        }
    }
    if let Err(error) = options.folder.read_dir() {
        output::complain(
            &format!("cannot list the folder `{}`: {error}", options.folder.display()),
            Some("name a folder that may be read"),
        );
        return Ok(Status::Failed);
    }
    if let Some(target) = &options.output.picture
        && let Err(error) = std::fs::create_dir_all(target)
    {
        output::complain(&format!("cannot make the folder `{}`: {error}", target.display()), None);
        return Ok(Status::Failed);
    }
    if let Some(target) = &options.output.picture {
        output::clear_pictures(target);
    }
    let shelf = options.measuring.shelf();
    let reader = Reader::new(&request, &shelf, &options.output, false);
    let outcome = record(options, &folder).and_then(|path| Watch::begin(options, &path));
    let mut watch = match outcome {
        Ok(watch) => watch,
        Err(error) => {
            output::complain(&error.to_string(), Some(error.hint()));
            return Ok(Status::Failed);
        }
    };
    match watch.all(&reader) {
        Ok(()) => Ok(Status::Judged),
        Err(error) => {
            output::complain(&format!("cannot write the readings: {error}"), Some("what is not written is told at the next start"));
            Ok(Status::Failed)
        }
    }
}

/// The record of this folder: as told, or one of its own in the user's data folder.
fn record(options: &WatchOptions, folder: &Path) -> Result<PathBuf, StoreError> {
    if let Some(state) = &options.state {
        return Ok(state.clone());
    }
    let name = folder.file_name().map_or_else(|| "folder".to_owned(), |name| name.to_string_lossy().into_owned());
    // Half of the fingerprint tells folders of one name apart.
    let address = fingerprint(folder.as_os_str().as_encoded_bytes());
    Ok(folder::data()?.join("watch").join(format!("{name}-{}.jsonl", &address[..32])))
}

/// A file that is not read yet.
#[derive(Debug)]
struct Waiting {
    path: PathBuf,
    stamp: Stamp,
    /// Since when it has looked like this. A clock of its own: setting the system's does no harm.
    since: Instant,
    /// When it was last tried in vain.
    tried: Option<Instant>,
    /// True when its owner was told that it is out of reach.
    is_told: bool,
}

/// A file whose time has come.
#[derive(Debug)]
struct Ready {
    name: String,
    stamp: Stamp,
    task: Task,
}

struct Watch<'a> {
    options: &'a WatchOptions,
    /// Salt that readings assume, mol/l.
    salt: f64,
    seen: Seen,
    out: Output,
    waiting: HashMap<String, Waiting>,
    /// Files that are no photos, as they looked.
    others: HashMap<String, Stamp>,
    /// True while the folder is out of reach.
    is_lost: bool,
}

impl<'a> Watch<'a> {
    fn begin(options: &'a WatchOptions, record: &Path) -> Result<Self, StoreError> {
        let mut seen = Seen::open(record, || if options.existing { Vec::new() } else { present(&options.folder) })?;
        if options.existing {
            seen.forget_unopened();
        }
        Ok(Watch {
            options,
            salt: options.measuring.ionic_strength.value(),
            seen,
            out: Output::new(),
            waiting: HashMap::new(),
            others: HashMap::new(),
            is_lost: false,
        })
    }

    fn all(&mut self, reader: &Reader<'_>) -> io::Result<()> {
        match self.options.output.format {
            Format::Csv => self.out.put(&table::header().map_err(io::Error::other)?)?,
            Format::Text => self.out.put(&(text::cautions(reader.columns) + "\n"))?,
            Format::Json => {}
        }
        for (name, text) in self.seen.untold(self.options.output.format.name()) {
            self.tell(&name, &text)?;
        }
        while !self.out.is_closed() {
            self.look();
            let ready = self.ready();
            if !ready.is_empty() {
                self.read(reader, &ready)?;
            }
            // What the disk refused is tried again; the complaint was made when it was refused.
            let _ = self.seen.save();
            std::thread::sleep(self.options.interval);
        }
        Ok(())
    }

    /// Looks at the folder once.
    fn look(&mut self) {
        let files = match photos::files(&self.options.folder) {
            Ok(files) => files,
            Err(error) => {
                if !self.is_lost {
                    let message = format!("cannot list the folder `{}`: {error}", self.options.folder.display());
                    output::complain(&message, Some("the watch goes on and looks again"));
                }
                self.is_lost = true;
                return;
            }
        };
        self.is_lost = false;
        let mut present = HashSet::new();
        for path in files {
            let name = file_name(&path);
            let Ok(stamp) = Stamp::of(&path) else { continue };
            present.insert(name.clone());
            if self.seen.is_known(&name, stamp) || self.others.get(&name) == Some(&stamp) {
                self.waiting.remove(&name);
            } else if kind::of(&path) != Kind::Photo {
                self.others.insert(name, stamp);
            } else if self.waiting.get(&name).is_none_or(|waiting| waiting.stamp != stamp) {
                self.waiting.insert(name, Waiting { path, stamp, since: Instant::now(), tried: None, is_told: false });
            }
        }
        self.waiting.retain(|name, _| present.contains(name));
        self.others.retain(|name, _| present.contains(name));
    }

    /// The files whose time has come, in natural order; those that are only touched or renamed are put down at once.
    fn ready(&mut self) -> Vec<Ready> {
        let settle = self.options.settle;
        let is_due = |waiting: &&Waiting| waiting.since.elapsed() >= settle && waiting.tried.is_none_or(|tried| tried.elapsed() >= settle);
        let due: Vec<(String, PathBuf, Stamp)> =
            self.waiting.iter().filter(|(_, w)| is_due(w)).map(|(name, w)| (name.clone(), w.path.clone(), w.stamp)).collect();
        let mut ready = Vec::new();
        for (name, path, stamp) in due {
            if self.is_old(&name, &path, stamp) {
                self.waiting.remove(&name);
                continue;
            }
            // By the whole name, which no other photo of the folder has, so that a restart gives the same.
            let picture = self.options.output.picture.as_deref().map(|target| target.join(format!("{name}{READING}")));
            ready.push(Ready { name, stamp, task: Task { number: 1, named: Named::Photo(path), picture } });
        }
        ready.sort_by(|a, b| natural::compare(&a.name, &b.name));
        ready
    }

    /// True for a photo that was read before and now looks different from outside only.
    fn is_old(&mut self, name: &str, path: &Path, stamp: Stamp) -> bool {
        if !self.seen.may_know(stamp.size) {
            return false;
        }
        let Ok(content) = std::fs::read(path).map(|bytes| fingerprint(&bytes)) else { return false };
        let folder = &self.options.folder;
        let is_old = self.seen.knows_content(name, &content, |name| folder.join(name).exists());
        if is_old {
            self.put(Photo { name: name.to_owned(), stamp, content: Some(content), result: None });
        }
        is_old
    }

    fn read(&mut self, reader: &Reader<'_>, ready: &[Ready]) -> io::Result<()> {
        let workers = self.options.jobs.unwrap_or_else(batch::processors);
        let mut outcome = Ok(());
        let job = |buffers: &mut Buffers, ready: &Ready| {
            let done = reader.read(buffers, &ready.task);
            // A file that has changed under our eyes was not whole, whatever came out.
            let is_same = ready.task.named.path().is_some_and(|path| Stamp::of(path).is_ok_and(|stamp| stamp == ready.stamp));
            (ready.name.clone(), ready.stamp, is_same.then(|| fingerprint(buffers.file())), done)
        };
        batch::in_order(ready, workers, Buffers::default, job, |(name, stamp, content, done)| {
            if let Some(content) = content {
                outcome = self.take(&name, stamp, content, &done);
            }
            if outcome.is_err() || self.out.is_closed() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        });
        outcome
    }

    /// Keeps and tells what came out, unless the photo may still become whole.
    fn take(&mut self, name: &str, stamp: Stamp, content: String, done: &Done) -> io::Result<()> {
        let patience = self.options.settle * PATIENCE;
        if let Some(waiting) = self.waiting.get_mut(name) {
            let is_late = waiting.since.elapsed() >= patience;
            waiting.tried = Some(Instant::now());
            match done.later {
                Later::Whole if !is_late => return Ok(()),
                Later::Reachable => {
                    // It is not put down: its size and time will be the same when it can be read.
                    if is_late && !waiting.is_told {
                        waiting.is_told = true;
                        complain(done);
                    }
                    return Ok(());
                }
                Later::Whole | Later::Never => {}
            }
        }
        self.waiting.remove(name);
        let text = match &done.text {
            Ok(text) => text.clone(),
            Err(error) => return Err(io::Error::other(error.to_string())),
        };
        if self.options.keeping.is_wanted() {
            // Before the record of the watch: killed in between, the photo is read again, but not written again.
            let _ = self.options.keeping.told(Picture::Watched(&self.options.folder.join(name)), &done.entry, self.salt);
        }
        let told = Told { form: self.options.output.format.name().to_owned(), text: text.clone() };
        self.put(Photo { name: name.to_owned(), stamp, content: Some(content), result: Some(told) });
        complain(done);
        self.tell(name, &text)
    }

    fn put(&mut self, photo: Photo) {
        if let Err(error) = self.seen.put(photo) {
            output::complain(&error.to_string(), Some("the watch goes on; free the disk, or a photo may be read again after a restart"));
        }
    }

    /// Writes a result, and notes that it was written if it was.
    fn tell(&mut self, name: &str, text: &str) -> io::Result<()> {
        self.out.put(text)?;
        if !self.out.is_closed() {
            // A note that is lost costs no more than telling it twice.
            let _ = self.seen.told(name);
        }
        Ok(())
    }
}

/// What lies in a folder before its first watch begins.
fn present(folder: &Path) -> Vec<(String, Stamp)> {
    let files = photos::files(folder).unwrap_or_default();
    let photos = files.iter().filter(|path| kind::of(path) == Kind::Photo).count();
    if photos > 0 {
        output::remark(&words::left_alone(photos));
    }
    files.iter().filter_map(|path| Some((file_name(path), Stamp::of(path).ok()?))).collect()
}

fn complain(done: &Done) {
    for complaint in &done.complaints {
        output::complain(&complaint.message, complaint.hint.as_deref());
    }
}

fn file_name(path: &Path) -> String {
    path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
}
