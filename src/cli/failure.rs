//! What a run ends with.

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
