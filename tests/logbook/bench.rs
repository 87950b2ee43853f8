//! A community darkroom that was made up, with a logbook of its own for each test.

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// A logbook in a fresh folder.
pub(crate) struct Bench {
    pub(crate) folder: PathBuf,
    pub(crate) file: PathBuf,
}

impl Bench {
    pub(crate) fn new(test: &str) -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("logbook").join(test);
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).unwrap();
        Bench { file: folder.join("logbook.db"), folder }
    }

    /// With one bath, tray-1, mixed on the evening of 14 March 2026.
    pub(crate) fn with_bath(test: &str) -> Self {
        let bench = Bench::new(test);
        bench.done(&[
            "new",
            "tray-1",
            "--acid",
            "citric-anhydrous",
            "--grams-per-litre",
            "15",
            "--volume",
            "2l",
            "--at",
            "2026-03-14 18:00",
        ]);
        bench
    }

    /// `tintpoint bath` at nine in the evening.
    pub(crate) fn command(&self, args: &[&str]) -> Command {
        self.command_at("2026-03-14T21:00:00+01:00[Europe/Vienna]", args)
    }

    pub(crate) fn command_at(&self, now: &str, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_tintpoint"));
        command.arg("bath").args(args).arg("--logbook").arg(&self.file);
        command.env("TINTPOINT_NOW", now).env("USER", "ada").stdin(Stdio::null());
        command
    }

    pub(crate) fn run(&self, args: &[&str]) -> Output {
        self.command(args).output().unwrap()
    }

    /// The same as one line of words, since a report is wrapped.
    pub(crate) fn said(&self, args: &[&str]) -> String {
        flat(&self.done(args))
    }

    /// Runs what must succeed; gives standard output.
    pub(crate) fn done(&self, args: &[&str]) -> String {
        done(&mut self.command(args))
    }

    /// Runs what must fail with this status; gives standard error.
    pub(crate) fn refused(&self, status: i32, args: &[&str]) -> String {
        refused(status, &mut self.command(args))
    }

    /// `show` as JSON.
    pub(crate) fn shown(&self, name: &str) -> Value {
        serde_json::from_str(&self.done(&["show", name, "--format", "json"])).unwrap()
    }
}

pub(crate) fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

pub(crate) fn done(command: &mut Command) -> String {
    let output = command.output().unwrap();
    let err = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{command:?}\n{err}");
    String::from_utf8(output.stdout).unwrap()
}

/// Every refusal has a message, a hint, and nothing on standard output.
pub(crate) fn refused(status: i32, command: &mut Command) -> String {
    let output = command.output().unwrap();
    let err = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(status), "{command:?}\n{err}");
    assert!(output.stdout.is_empty(), "{command:?}");
    assert!(err.contains("error: ") && (err.contains("hint: ") || err.contains("--help")), "{err}");
    err
}
