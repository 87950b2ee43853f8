//! The command line: arguments in, report out.

mod args;
mod ask;
mod batch;
mod bath;
mod buffer;
mod calibrate;
mod contents;
mod cost;
mod demo;
mod dispose;
mod failure;
mod indicators;
mod job;
mod later;
mod manual;
mod mix;
mod natural;
mod output;
mod photos;
mod profiles;
mod progress;
mod read;
mod report;
mod serve;
mod sheet;
mod snap;
mod source;
mod watch;

use clap::Parser;
use failure::Status;
use std::process::ExitCode;

/// Parses the arguments, runs the command, returns the exit status.
#[must_use]
pub fn main() -> ExitCode {
    let args = match args::Args::try_parse() {
        Ok(args) => args,
        Err(e) => return told(&e),
    };
    match args.command {
        args::Command::Read(options) => ended(read::run(&options)),
        args::Command::Snap(options) => ended(snap::run(&options)),
        args::Command::Watch(options) => ended(watch::run(&options)),
        args::Command::Indicators(options) => indicators::run(&options).into(),
        args::Command::Buffer(options) => buffer::run(&options).into(),
        args::Command::Mix(options) => mix::run(&options).into(),
        args::Command::Dispose(options) => dispose::run(&options).into(),
        args::Command::Cost(options) => cost::run(&options).into(),
        args::Command::Bath(options) => bath::run(&options).into(),
        args::Command::Calibrate(options) => calibrate::run(&options).into(),
        args::Command::Profiles(options) => profiles::run(&options).into(),
        args::Command::Demo(options) => demo::run(&options).into(),
        args::Command::Sheet(options) => sheet::run(&options).into(),
        args::Command::Completions(options) => manual::completions(&options).into(),
        args::Command::Manual(options) => manual::run(&options).into(),
        args::Command::Serve(options) => serve::run(&options).into(),
    }
}

/// The status of a run, or of options that do not fit each other.
fn ended(outcome: Result<Status, args::Conflict>) -> ExitCode {
    let status = outcome.unwrap_or_else(|conflict| {
        output::complain(&conflict.to_string(), Some(&conflict.hint()));
        Status::Usage
    });
    status.into()
}

/// Prints help, version or a usage error where it belongs; a reader who has gone away is no error.
fn told(error: &clap::Error) -> ExitCode {
    let _ = error.print();
    if error.use_stderr() { Status::Usage.into() } else { ExitCode::SUCCESS }
}
