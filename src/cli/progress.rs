//! How far a run is, on a terminal only.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A bar on standard error; in a pipe or file there is none.
pub(crate) struct Progress(ProgressBar);

impl Progress {
    /// For this many photos; one photo is read before a bar could be seen.
    pub(crate) fn new(photos: usize) -> Self {
        let bar = if photos > 1 {
            // indicatif itself draws nothing where standard error is no terminal.
            ProgressBar::with_draw_target(Some(photos as u64), ProgressDrawTarget::stderr())
        } else {
            ProgressBar::hidden()
        };
        if let Ok(style) = ProgressStyle::with_template("{bar:24} {pos} of {len} photos, {eta} left") {
            bar.set_style(style);
        }
        Progress(bar)
    }

    /// One photo more is done.
    pub(crate) fn step(&self) {
        self.0.inc(1);
    }

    /// Writes something, on either stream, without the bar in its way.
    pub(crate) fn aside<R>(&self, write: impl FnOnce() -> R) -> R {
        self.0.suspend(write)
    }

    /// Takes the bar away.
    pub(crate) fn end(&self) {
        self.0.finish_and_clear();
    }
}
