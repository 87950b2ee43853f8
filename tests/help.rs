//! Every example in a help is run as it stands, in a folder where what it names is there.

// A test that cannot do its work must stop; the shell of the examples is that of Unix.
#![allow(clippy::unwrap_used)]
#![cfg(unix)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;
use tintpoint::indicator::catalogue;
use tintpoint::quantity::{Celsius, IonicStrength, Ph};
use tintpoint::scene::dye::{Lot, Medium, Sample};
use tintpoint::scene::options::{Level, Options};
use tintpoint::scene::photograph;

/// Commands that need a camera, or do not end: their examples must be understood, no more.
const ONLY_UNDERSTOOD: [&str; 3] = ["tintpoint-snap", "tintpoint-serve", "tintpoint-watch"];

/// Begins a logbook, so that it must find none.
const BEGINS: [&str; 2] = ["tintpoint-bath", "tintpoint-bath-new"];

/// The id that an example names, in place of the true one.
const SOME_ID: &str = "1f2e3d4c";

/// A line of a shell in this folder, with its own data, on the evening of 14 March 2026.
fn shell(folder: &Path, line: &str) -> Output {
    let program = Path::new(env!("CARGO_BIN_EXE_tintpoint"));
    let path = format!("{}:{}", program.parent().unwrap().display(), std::env::var("PATH").unwrap_or_default());
    let mut command = Command::new("sh");
    command.arg("-c").arg(line).current_dir(folder).stdin(Stdio::null()).env("PATH", path).env("USER", "ada");
    command.env("TINTPOINT_DATA", folder.join("data")).env("TINTPOINT_NOW", "2026-03-14T21:00:00+01:00[Europe/Vienna]");
    command.output().unwrap()
}

fn done(folder: &Path, line: &str) -> String {
    let output = shell(folder, line);
    let err = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{line}\n{err}");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// A fresh folder for one test.
fn folder(test: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("help").join(test);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

/// Examples by page: lines of the manual, which is made of the same words as the help, without what explains them.
fn examples() -> &'static BTreeMap<String, Vec<String>> {
    // Once: tests that run at the same time must not write over each other's pages.
    static ALL: OnceLock<BTreeMap<String, Vec<String>>> = OnceLock::new();
    ALL.get_or_init(read_examples)
}

fn read_examples() -> BTreeMap<String, Vec<String>> {
    let pages = folder("manual");
    done(&pages, "tintpoint manual --out .");
    let mut all = BTreeMap::new();
    for entry in fs::read_dir(&pages).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|ending| ending != "1") {
            continue;
        }
        let page = fs::read_to_string(&path).unwrap().replace("\\-", "-").replace("\\*(Aq", "'").replace("\\&", "");
        let lines = page.split(".SH EXAMPLES").nth(1).unwrap_or_default().lines().take_while(|line| !line.starts_with(".SH"));
        let lines = lines.filter(|line| line.starts_with("tintpoint "));
        let cut = |line: &str| line.split("    ").next().unwrap_or_default().trim().to_owned();
        all.insert(path.file_stem().unwrap().to_string_lossy().into_owned(), lines.map(cut).collect());
    }
    all
}

/// Cups of these dyes and pH on paper, saved under this name.
fn picture(folder: &Path, name: &str, cups: &[(&str, f64)]) {
    let medium = Medium { ionic_strength: IonicStrength::new(0.1).unwrap(), temperature: Celsius::STANDARD };
    let sample = |(dye, ph): &(&str, f64)| {
        let lot = Lot::nominal(catalogue::find(dye).unwrap());
        Sample { lot, ph: Ph::new(*ph).unwrap(), dose: 1.0, stain: 0.0 }
    };
    let options = Options::drawn(Level::Easy, cups.iter().map(sample).collect(), medium, 7);
    let photo = photograph(&options);
    image::RgbImage::from_raw(photo.width as u32, photo.height as u32, photo.rgb).unwrap().save(folder.join(name)).unwrap();
}

/// What the cups of a photo to calibrate on must hold, by what is told of them.
fn cups(line: &str) -> (&'static str, Vec<f64>) {
    let (name, all): (_, &[f64]) = match line {
        _ if line.contains("--ends") => ("ends.jpg", &[2.8, 8.2]),
        // As `tintpoint bath ladder` says of the two baths.
        _ if line.contains("--bath tank") => ("ladder.jpg", &[2.7, 4.3, 4.8, 5.3, 5.8, 6.1, 6.4, 8.2]),
        _ if line.contains("--ladder") => ("ladder.jpg", &[2.7, 4.8, 5.4, 6.1, 8.2]),
        _ if line.contains("--labels") => ("buffers.jpg", &[5.2, 6.1, 6.6]),
        _ if line.contains("--buffer") => ("buffers.jpg", &[4.0, 6.88]),
        _ => ("buffers.jpg", &[4.01, 5.0, 5.6, 6.1, 6.6, 7.4]),
    };
    (name, all.to_vec())
}

fn calibration_photo(folder: &Path, line: &str) {
    let (name, all) = cups(line);
    picture(folder, name, &all.iter().map(|ph| ("bromocresol-purple", *ph)).collect::<Vec<_>>());
}

/// The photos that examples name.
fn photos(folder: &Path) {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
    fs::create_dir_all(folder.join("evening-photos")).unwrap();
    for (from, to) in [("nearing.jpg", "evening.jpg"), ("nearing.jpg", "evening-photos/one.jpg"), ("row-of-cups.jpg", "row.jpg")] {
        fs::copy(fixtures.join(from), folder.join(to)).unwrap();
    }
}

/// Two baths of an invented darkroom with a day's work behind them.
fn baths(folder: &Path) {
    for line in [
        "new tray-1 --acid citric-anhydrous --grams-per-litre 15 --volume 2l --price 6 --pack 1kg --currency EUR --at 2026-03-10",
        "new tank --acid acetic --strength 28 --dilution 1+19 --volume 1l --price 1.2 --currency EUR --at 2026-03-10",
        "drop-test tank --sample 10 --used 2.4 --developer borax-sulfite-1+1 --at '2026-03-10 12:30'",
        "load tray-1 --sheets 8x10rc=4 --developer carbonate-1+2 --at 18:00",
        "load tank --rolls 1 --developer borax-sulfite-1+1 --film A12 --at 18:30",
        "export --out logbook.json",
    ] {
        done(folder, &format!("tintpoint bath {line}"));
    }
}

/// The line with ids of this logbook.
fn with_ids(folder: &Path, line: &str) -> String {
    if !line.contains(SOME_ID) {
        return line.to_owned();
    }
    let shown: serde_json::Value = serde_json::from_str(&done(folder, "tintpoint bath show tray-1 --format json")).unwrap();
    let entries = shown["entries"].as_array().unwrap();
    let counting = entries.iter().find(|entry| entry["counts"] == true && entry["event"]["kind"] == "load");
    let id = counting.or_else(|| entries.iter().find(|entry| entry["event"]["kind"] == "undo")).unwrap()["id"].as_str().unwrap().to_owned();
    line.replace(SOME_ID, &id[..8])
}

#[test]
fn every_page_has_examples_and_every_command_a_page() {
    let all = examples();
    assert!(all.len() > 30, "{:?}", all.keys());
    for (page, lines) in all {
        let words = page.replace('-', " ");
        // A name of a command may itself have a hyphen.
        let is_own = |line: &String| line.replace('-', " ").starts_with(&words);
        assert!(lines.iter().any(is_own), "{page} has no example of its own: {lines:?}");
    }
}

#[test]
fn examples_run() {
    let mut failed = Vec::new();
    for (page, lines) in examples() {
        if page == "tintpoint-calibrate" {
            continue;
        }
        let folder = folder(page);
        if !BEGINS.contains(&page.as_str()) {
            baths(&folder);
        }
        photos(&folder);
        if lines.iter().any(|line| line.contains("bench-lamp")) {
            let line = "tintpoint calibrate buffers.jpg --buffer phthalate@20,phosphate@20 --save bench-lamp";
            calibration_photo(&folder, line);
            done(&folder, line);
        }
        for line in lines {
            if ONLY_UNDERSTOOD.contains(&page.as_str()) {
                done(&folder, &format!("{} --help", line.split(" >> ").next().unwrap_or_default()));
                continue;
            }
            if line.contains("panel.jpg") {
                picture(&folder, "panel.jpg", &["bromophenol-blue", "bromocresol-green", "bromocresol-purple"].map(|dye| (dye, 4.4)));
            }
            let line = with_ids(&folder, line);
            let output = shell(&folder, &line);
            if output.status.code() != Some(0) {
                failed.push(format!("{line}\n{}", String::from_utf8_lossy(&output.stderr)));
            }
        }
    }
    assert!(failed.is_empty(), "{}", failed.join("\n"));
}

#[test]
fn examples_of_calibrating_run() {
    let folder = folder("calibrating");
    baths(&folder);
    photos(&folder);
    for line in &examples()["tintpoint-calibrate"] {
        if line.contains("calibrate") {
            calibration_photo(&folder, line);
        }
        done(&folder, line);
    }
}

/// The commands of a page of the guide, in their order.
fn guide(page: &str) -> Vec<String> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/guide").join(page).with_extension("md");
    let text = fs::read_to_string(path).unwrap();
    let commands = text.split("```").skip(1).step_by(2).flat_map(str::lines).filter(|line| line.starts_with("tintpoint "));
    commands.map(str::to_owned).collect()
}

// Each page is one evening: its commands follow on each other in one folder, on the photos that a reader would have.
#[test]
fn the_guide_runs_as_it_is_read() {
    let mut failed = Vec::new();
    for page in ["first_reading", "better_readings", "calibrating", "keeping_a_bath", "teaching"] {
        let folder = folder(&format!("guide-{page}"));
        photos(&folder);
        picture(&folder, "panel.jpg", &["bromophenol-blue", "bromocresol-green", "bromocresol-purple"].map(|dye| (dye, 4.4)));
        picture(&folder, "ladder.jpg", &[4.4, 4.9, 5.4, 5.9, 6.4, 6.9, 7.4].map(|ph| ("bromocresol-purple", ph)));
        let lines = guide(page);
        assert!(lines.len() >= 4, "{page}: {lines:?}");
        for line in lines {
            if line.contains("calibrate") {
                calibration_photo(&folder, &line);
            }
            let output = shell(&folder, &line);
            if output.status.code() != Some(0) {
                failed.push(format!("{page}: {line}\n{}", String::from_utf8_lossy(&output.stderr)));
            }
        }
    }
    assert!(failed.is_empty(), "{}", failed.join("\n"));
}

#[test]
fn completions_name_every_command() {
    let folder = folder("completions");
    let commands: Vec<String> = examples().keys().filter_map(|page| page.strip_prefix("tintpoint-").map(str::to_owned)).collect();
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let script = done(&folder, &format!("tintpoint completions {shell}"));
        for command in commands.iter().filter(|command| !command.starts_with("bath-") && !command.starts_with("profiles-")) {
            assert!(script.contains(command.as_str()), "{shell} does not know {command}");
        }
        assert!(script.contains("grams-per-litre") && script.contains("drop-test"), "{shell} does not know the logbook");
    }
    assert_eq!(shell(&folder, "tintpoint completions ksh").status.code(), Some(2));
}

// Where bash is, it must take the script, and complete a command by it.
#[test]
fn bash_takes_the_completions() {
    let folder = folder("bash");
    if shell(&folder, "command -v bash").status.code() != Some(0) {
        return;
    }
    done(&folder, "tintpoint completions bash > tintpoint.bash");
    let line =
        "source ./tintpoint.bash; COMP_WORDS=(tintpoint dis); COMP_CWORD=1; _tintpoint tintpoint dis tintpoint; echo ${COMPREPLY[@]}";
    assert_eq!(done(&folder, &format!("bash -c '{line}'")).trim(), "dispose");
}
