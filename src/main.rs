//! The command line of tintpoint: parse, run, exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    tintpoint::cli::main()
}
