//! What a run ends with.

use super::output;
use std::process::ExitCode;

/// Exit status of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Status {
    /// Every photo was read and something was judged.
    Judged,
    /// A photo failed, or a file could not be written.
    Failed,
    /// Wrong arguments.
    Usage,
    /// Every photo was read, nothing could be judged.
    Unjudged,
}

impl From<Status> for ExitCode {
    fn from(status: Status) -> ExitCode {
        ExitCode::from(match status {
            Status::Judged => 0,
            Status::Failed => 1,
            Status::Usage => 2,
            Status::Unjudged => 3,
        })
    }
}

/// What keeps a run from its end: what failed, and what to do.
#[derive(Debug)]
pub(crate) struct Stop {
    status: Status,
    message: String,
    hint: Option<String>,
}

impl Stop {
    pub(crate) fn new(status: Status, message: impl ToString, hint: Option<&str>) -> Self {
        Stop { status, message: message.to_string(), hint: hint.map(str::to_owned) }
    }

    /// Tells it, and gives the status.
    pub(crate) fn told(&self) -> Status {
        output::complain(&self.message, self.hint.as_deref());
        self.status
    }
}
