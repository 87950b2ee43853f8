//! Readings of photos straight into the logbook.

use crate::bench::{Bench, done, refused};
use sha2::{Digest, Sha256};
use std::fs;
use std::process::{Command, Stdio};

fn read(bench: &Bench, photo: &str, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tintpoint"));
    command.args(["read", photo]).args(args).arg("--logbook").arg(&bench.file);
    command.env("TINTPOINT_NOW", "2026-03-14T21:00:00+01:00[Europe/Vienna]").env("USER", "ada").stdin(Stdio::null());
    command.current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

#[test]
fn a_photo_becomes_a_reading_with_its_fingerprint() {
    let bench = Bench::with_bath("photo");
    let output = read(&bench, "fixtures/nearing.jpg", &["--bath", "tray-1", "--who", "ben", "--format", "json"]).output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(String::from_utf8_lossy(&output.stderr).contains("written for tray-1"));
    let report: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let kept = &bench.shown("tray-1")["last_reading"];
    for field in ["ph", "ph_low", "ph_high"] {
        let (told, kept) = (report["cups"][0][field].as_f64().unwrap(), kept[field].as_f64().unwrap());
        assert!((told - kept).abs() < 0.01, "{field}: {told} {kept}");
    }
    assert_eq!((kept["state"].as_str(), kept["who"].as_str(), kept["means"].as_str()), (Some("nearing"), Some("ben"), Some("photo")));
    let bytes = fs::read("fixtures/nearing.jpg").unwrap();
    let sha256: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!((kept["photo"]["sha256"].as_str(), kept["photo"]["kept"].as_bool()), (Some(sha256.as_str()), Some(false)));
    assert!(kept["light"].is_string() && !bench.folder.join("logbook-photos").exists());
    // And the photo itself, where it is wanted.
    done(&mut read(&bench, "fixtures/nearing.jpg", &["--bath", "tray-1", "--keep-photo"]));
    assert_eq!(fs::read(bench.folder.join("logbook-photos").join(format!("{sha256}.jpg"))).unwrap(), bytes);
}

#[test]
fn several_cups_must_be_named() {
    let bench = Bench::with_bath("photo-row");
    let said = read(&bench, "fixtures/row-of-cups.jpg", &["--bath", "tray-1"]).output().unwrap();
    assert_eq!(said.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&said.stderr).contains("--bath 2=tray-1"));
    assert!(bench.shown("tray-1")["last_reading"].is_null());
    assert!(refused(2, &mut read(&bench, "fixtures/nearing.jpg", &["--bath", "tray-9"])).contains("no bath `tray-9`"));
    let output = read(&bench, "fixtures/row-of-cups.jpg", &["--bath", "2=tray-1"]).output().unwrap();
    assert!(bench.shown("tray-1")["last_reading"]["means"] == "photo", "{output:?}");
}

/// A watch over a folder that writes into the logbook, until that many readings are there; then it is killed.
fn watched(bench: &Bench, wanted: usize) {
    let state = bench.folder.join("seen.jsonl");
    let mut command = Command::new(env!("CARGO_BIN_EXE_tintpoint"));
    command.arg("watch").arg(bench.folder.join("photos")).arg("--state").arg(&state).args([
        "--existing",
        "--interval",
        "0.02",
        "--settle",
        "0.1",
    ]);
    command.args(["--bath", "1=tray-1", "--who", "ben", "--format", "json"]).arg("--logbook").arg(&bench.file);
    command
        .env("TINTPOINT_NOW", "2026-03-14T21:00:00+01:00[Europe/Vienna]")
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    let mut child = command.spawn().unwrap();
    let begun = std::time::Instant::now();
    while readings(bench) < wanted {
        assert!(begun.elapsed().as_secs() < 30, "{} readings, {wanted} wanted", readings(bench));
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    child.kill().unwrap();
    child.wait().unwrap();
}

fn readings(bench: &Bench) -> usize {
    bench.shown("tray-1")["entries"].as_array().unwrap().iter().filter(|entry| entry["event"]["kind"] == "reading").count()
}

#[test]
fn a_watched_folder_writes_each_photo_once() {
    let bench = Bench::with_bath("photo-watch");
    fs::create_dir_all(bench.folder.join("photos")).unwrap();
    fs::copy("fixtures/nearing.jpg", bench.folder.join("photos/one.jpg")).unwrap();
    watched(&bench, 1);
    let kept = &bench.shown("tray-1")["last_reading"];
    assert_eq!(
        (kept["photo"]["name"].as_str(), kept["who"].as_str(), kept["state"].as_str()),
        (Some("one.jpg"), Some("ben"), Some("nearing"))
    );
    // As if it had been killed before its own record was written: the photo is read again, and not written again; a new one is.
    fs::remove_file(bench.folder.join("seen.jsonl")).unwrap();
    fs::copy("fixtures/warm-lamp.jpg", bench.folder.join("photos/two.jpg")).unwrap();
    watched(&bench, 2);
    assert_eq!(readings(&bench), 2);
    let mut timed = Command::new(env!("CARGO_BIN_EXE_tintpoint"));
    timed.args(["watch", "photos", "--bath", "tray-1", "--at", "19:00", "--logbook"]).arg(&bench.file).current_dir(&bench.folder);
    assert!(refused(2, &mut timed).contains("a watch reads photos as they come"));
}
