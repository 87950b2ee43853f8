//! What all requests share.

use super::bounds::Bounds;
use super::check::{Check, Shown, Upload};
use super::fields::Fields;
use super::ladder::Ladder;
use super::once::Once;
use super::pairing::Pairing;
use super::problem::Problem;
use super::settings::Settings;
use super::shelf::Shelf as Photos;
use super::token::NoRandomness;
use crate::desk::book::{Book, BookError, Writing};
use crate::indicator::{Indicator, catalogue};
use crate::logbook::event::Id;
use crate::photo::Buffers;
use crate::store::profiles::shelf::Shelf;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

/// Kibibytes of forms that may be on their way at once: six of the largest, or forty usual photos.
const ON_THEIR_WAY: usize = 256 << 10;
/// Bytes of a photo's pixels that are kept for the next: fifty megapixels. Beyond they are given back.
const LARGE: usize = 150 << 20;
/// How long a form waits for room before it is told to come again.
const PATIENCE: Duration = Duration::from_secs(20);

/// What all requests share.
#[derive(Debug)]
pub struct App {
    /// None when only this machine can ask.
    pub(super) pairing: Option<Mutex<Pairing>>,
    /// Told of each new code.
    pub(super) on_code: fn(&str),
    pub(super) photos: Mutex<Photos<Check>>,
    /// Rows of buffers that are being made into profiles.
    pub(super) ladders: Mutex<Photos<Ladder>>,
    room: Arc<Semaphore>,
    pub(super) bounds: Bounds,
    /// Photos that are worked on at once.
    pub(super) hands: usize,
    workers: Arc<Semaphore>,
    /// Memory of photos that have been read, one for each worker at most: fresh pages for each would pile up in the allocator.
    buffers: Arc<Mutex<Vec<Buffers>>>,
    /// Calibrations to choose from.
    profiles: Arc<Mutex<Arc<Shelf>>>,
    /// The logbook; none when there is no place for one.
    book: Option<Book>,
    once: Mutex<Once>,
    pub(super) indicator: &'static Indicator,
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
            ladders: Mutex::new(Photos::new()),
            room: Arc::new(Semaphore::new(ON_THEIR_WAY)),
            bounds: Bounds::default(),
            hands: workers.max(1),
            workers: Arc::new(Semaphore::new(workers.max(1))),
            buffers: Arc::default(),
            profiles: Arc::new(Mutex::new(Arc::new(profiles))),
            book: None,
            once: Mutex::default(),
            indicator: catalogue::usual(),
        }
    }

    pub(super) fn asks_for_code(&self) -> bool {
        self.pairing.is_some()
    }

    pub(super) fn knows(&self, session: &str, now: Instant) -> bool {
        self.pairing.as_ref().is_none_or(|pairing| locked(pairing).knows(session, now))
    }

    /// The same with a logbook to write into.
    #[must_use]
    pub fn keeping(self, book: Book) -> Self {
        App { book: Some(book), ..self }
    }

    /// The same within other bounds.
    #[must_use]
    pub fn within(self, bounds: Bounds) -> Self {
        App { bounds, ..self }
    }

    pub(super) fn kept(&self, name: &str) -> Option<Check> {
        locked(&self.photos).get(name, Instant::now())
    }

    /// Works on a thread of its own, as many at once as there are workers; `None` when it stumbled.
    pub(super) async fn work<T: Send + 'static>(&self, task: impl FnOnce() -> T + Send + 'static) -> Option<T> {
        let worker = Arc::clone(&self.workers).acquire_owned().await.ok()?;
        let work = tokio::task::spawn_blocking(move || {
            let done = task();
            drop(worker);
            done
        });
        work.await.ok()
    }

    /// The same with memory of photos that were read before.
    pub(super) async fn with_buffers<T: Send + 'static>(&self, task: impl FnOnce(&mut Buffers) -> T + Send + 'static) -> Option<T> {
        let buffers = Arc::clone(&self.buffers);
        let task = move || {
            let mut mine = locked(&buffers).pop().unwrap_or_default();
            let done = task(&mut mine);
            mine.keep_at_most(LARGE);
            locked(&buffers).push(mine);
            done
        };
        self.work(task).await
    }

    /// Reads a photo.
    pub(super) async fn read(&self, upload: Upload, settings: Settings, earlier: Option<Shown>) -> Option<Check> {
        let profiles = Arc::clone(&self.profiles);
        self.with_buffers(move |buffers| Check::of(buffers, &current(&profiles), upload, settings, earlier)).await
    }

    /// Works on the profiles as their folder is now.
    pub(super) async fn with_profiles<T: Send + 'static>(&self, task: impl FnOnce(&Shelf) -> T + Send + 'static) -> Option<T> {
        let profiles = Arc::clone(&self.profiles);
        self.work(move || task(&current(&profiles))).await
    }

    /// Works on the logbook.
    pub(super) async fn with_book<T: Send + 'static>(
        &self,
        task: impl FnOnce(&Book) -> Result<T, BookError> + Send + 'static,
    ) -> Result<T, Problem> {
        let no_book = || Problem::gone("this server has no logbook", "start it again with --logbook FILE");
        let book = self.book.clone().ok_or_else(no_book)?;
        Ok(self.work(move || task(&book)).await.ok_or_else(Problem::fault)??)
    }

    /// Writes what a form tells, once: `None` when that form was taken before, also by a server that has been started anew since.
    pub(super) async fn write_once<T: Send + 'static>(
        &self,
        fields: &Fields,
        who: String,
        task: impl FnOnce(&Book, &Writing) -> Result<T, BookError> + Send + 'static,
    ) -> Result<Option<T>, Problem> {
        let told = |name: &str| fields.told(name).map(str::to_owned);
        let by = Writing { who, at: told("at"), note: told("note"), mark: told("once").and_then(|mark| Id::try_from(mark).ok()) };
        let task = move |book: &Book| match task(book, &by) {
            Err(BookError::Again) => Ok(None),
            other => other.map(Some),
        };
        Ok(self.once(fields, self.with_book(task)).await?.flatten())
    }

    /// Does what a form asks for, once; a form of which nothing came may be sent again.
    pub(super) async fn once<T>(&self, fields: &Fields, work: impl Future<Output = Result<T, Problem>>) -> Result<Option<T>, Problem> {
        let word = fields.text("once");
        if Id::try_from(word.to_owned()).is_err() {
            return Err(Problem::form("the form has no mark of its own", "open the page again and send it from there"));
        }
        if !locked(&self.once).take(word) {
            return Ok(None);
        }
        let done = work.await;
        if done.is_err() {
            locked(&self.once).give_back(word);
        }
        done.map(Some)
    }

    /// Waits for room for so many bytes on their way; none when there is none for long.
    pub(super) async fn room(&self, bytes: usize) -> Option<OwnedSemaphorePermit> {
        let wanted = u32::try_from(bytes.div_ceil(1024).max(1)).ok()?;
        tokio::time::timeout(PATIENCE, Arc::clone(&self.room).acquire_many_owned(wanted)).await.ok()?.ok()
    }
}

/// The shelf, read again first when its folder has changed. One that cannot be read leaves the profiles that are known in use.
fn current(profiles: &Mutex<Arc<Shelf>>) -> Arc<Shelf> {
    let mut shelf = locked(profiles);
    if let Ok(Some(renewed)) = shelf.renewed() {
        *shelf = Arc::new(renewed);
    }
    Arc::clone(&shelf)
}

/// A lock whose holder has panicked still guards whole values: each change here is one step.
pub(super) fn locked<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
