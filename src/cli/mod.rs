//! The command line: arguments in, report out.

mod args;
mod buffer;
mod contents;
mod demo;
mod failure;
mod indicators;
mod output;
mod read;
mod sheet;
mod snap;

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
        args::Command::Indicators(options) => indicators::run(&options).into(),
        args::Command::Buffer(options) => buffer::run(&options).into(),
        args::Command::Demo(options) => demo::run(&options).into(),
        args::Command::Sheet(options) => sheet::run(&options).into(),
    }
}

/// The status of a command; options that do not fit each other are told first.
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
