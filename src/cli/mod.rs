//! The command line: arguments in, report out.

mod args;
mod demo;
mod read;

use clap::Parser;
use std::process::ExitCode;

/// Parses the arguments, runs the command, returns the exit status.
#[must_use]
pub fn main() -> ExitCode {
    let args = args::Args::parse();
    match args.command {
        args::Command::Read(options) => read::run(&options),
        args::Command::Demo(options) => demo::run(&options),
    }
}
