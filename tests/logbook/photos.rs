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
