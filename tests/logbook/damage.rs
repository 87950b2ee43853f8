//! Disks that are full or may not be written to, and files that are damaged.

use crate::bench::{Bench, refused};
use crate::disk::{is_root, small_disk};
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::process::Command;

const NOTE: [&str; 3] = ["note", "tray-1", "one more"];

#[test]
fn a_full_disk_loses_nothing() {
    let mut bench = Bench::new("full");
    let Some(_disk) = small_disk(&bench.folder.join("disk"), "size=256k") else { return };
    bench.file = bench.folder.join("disk/logbook.db");
    bench.done(&["new", "tray-1", "--acid", "citric-anhydrous", "--grams-per-litre", "15", "--volume", "2l"]);
    let long = "x".repeat(6000);
    let mut written = 1;
    let err = loop {
        let output = bench.run(&["note", "tray-1", &long]);
        if output.status.success() {
            written += 1;
            assert!(written < 200, "the disk never fills");
            continue;
        }
        assert_eq!(output.status.code(), Some(1));
        break String::from_utf8(output.stderr).unwrap();
    };
    assert!(err.contains("no room on the disk") && err.contains("make room"), "{err}");
    assert!(written > 5);
    assert_eq!(bench.shown("tray-1")["entries"].as_array().unwrap().len(), written);
}

// The limit on the size of files fails a write as a full disk does, and needs no rights.
#[test]
fn a_write_that_fails_in_the_middle_loses_nothing() {
    let bench = Bench::with_bath("limit");
    let before = bench.done(&["export"]);
    let size = fs::metadata(&bench.file).unwrap().len();
    let script = format!("trap '' XFSZ; ulimit -f {}; exec \"$@\"", size / 1024 + 1);
    let note = bench.command(&["note", "tray-1", &"x".repeat(20_000)]);
    let mut limited = Command::new("bash");
    limited.args(["-c", &script, "-"]).arg(note.get_program()).args(note.get_args());
    for (name, value) in note.get_envs() {
        limited.env(name, value.unwrap());
    }
    let err = refused(1, &mut limited);
    assert!(err.contains("logbook.db") && err.contains("nothing was written"), "{err}");
    assert_eq!(bench.done(&["export"]), before);
}

#[test]
fn a_file_that_may_only_be_read_is_read_and_not_written() {
    let mut bench = Bench::new("read-only");
    let disk = if is_root() { small_disk(&bench.folder.join("disk"), "size=1m") } else { None };
    if is_root() && disk.is_none() {
        return;
    }
    bench.file = bench.folder.join("disk/logbook.db");
    bench.done(&["new", "tray-1", "--acid", "citric-anhydrous", "--grams-per-litre", "15", "--volume", "2l"]);
    match &disk {
        Some(disk) => assert!(disk.remount("remount,ro")),
        None => {
            fs::set_permissions(&bench.file, fs::Permissions::from_mode(0o444)).unwrap();
            fs::set_permissions(bench.folder.join("disk"), fs::Permissions::from_mode(0o555)).unwrap();
        }
    }
    let err = bench.refused(1, &NOTE);
    assert!(err.contains("may not be written to") && err.contains("--logbook"), "{err}");
    assert!(bench.done(&["show", "tray-1"]).contains("tray-1"));
    if disk.is_none() {
        fs::set_permissions(bench.folder.join("disk"), fs::Permissions::from_mode(0o755)).unwrap();
    }
}

#[test]
fn a_place_where_nothing_can_be_made_is_told() {
    let mut bench = Bench::new("nowhere");
    let new = ["new", "tray-1", "--acid", "citric-anhydrous", "--grams-per-litre", "15", "--volume", "2l"];
    // No system lets files be made there, not even by root.
    bench.file = "/proc/darkroom/logbook.db".into();
    assert!(bench.refused(1, &new).contains("cannot make the folder"));
    bench.file = "/proc/logbook.db".into();
    assert!(bench.refused(1, &new).contains("cannot open the logbook"));
    bench.file.clone_from(&bench.folder);
    assert!(bench.refused(1, &new).contains("logbook"));
}

#[test]
fn a_missing_logbook_is_an_empty_one_and_looking_makes_none() {
    let bench = Bench::new("missing");
    assert!(bench.done(&["list"]).contains("no baths in use"));
    assert!(bench.refused(2, &["show", "tray-1"]).contains("no bath `tray-1`"));
    assert!(!bench.file.exists());
}

#[test]
fn foreign_files_are_left_alone() {
    let bench = Bench::new("foreign");
    for (name, bytes) in [
        ("photo.jpg", &b"\xff\xd8\xff\xe0 no database at all, but long enough to be looked at: 0123456789 0123456789 0123456789"[..]),
        ("notes.txt", b"milk"),
    ] {
        let file = bench.folder.join(name);
        fs::write(&file, bytes).unwrap();
        let bench = Bench { file: file.clone(), folder: bench.folder.clone() };
        for args in [&NOTE[..], &["list"], &["import", file.to_str().unwrap()]] {
            bench.refused(1, args);
        }
        assert!(bench.refused(1, &["list"]).contains("no logbook of tintpoint"));
        assert_eq!(fs::read(&file).unwrap(), bytes);
    }
}

/// A logbook of many entries, so that it has many pages.
fn long(test: &str) -> (Bench, usize) {
    let bench = Bench::with_bath(test);
    let text = "a note of some length, so that the logbook gets several pages: ".repeat(8);
    for i in 0..25 {
        bench.done(&["note", "tray-1", &format!("{i} {text}")]);
    }
    (bench, 26)
}

/// Damaged logbooks are told, not written to, and what is whole can be got out and taken over.
fn rescued(bench: &Bench, least: usize) {
    let before = fs::read(&bench.file).unwrap();
    for args in [&NOTE[..], &["list"], &["show", "tray-1"]] {
        let err = bench.refused(1, args);
        assert!(err.contains("export --damaged"), "{err}");
    }
    let file = bench.folder.join("rescued.json");
    bench.done(&["export", "--damaged", "--out", file.to_str().unwrap()]);
    assert_eq!(fs::read(&bench.file).unwrap(), before, "the damaged file was changed");
    let fresh = Bench { file: bench.folder.join("fresh.db"), folder: bench.folder.clone() };
    fresh.done(&["import", file.to_str().unwrap()]);
    let kept = fresh.shown("tray-1")["entries"].as_array().unwrap().len();
    assert!(kept >= least, "{kept} of at least {least}");
}

#[test]
fn a_zeroed_page_costs_its_own_entries_only() {
    let (bench, count) = long("zeroed");
    let mut bytes = fs::read(&bench.file).unwrap();
    // The last page of entries; one page holds about five.
    let at = bytes.len() - 4096;
    bytes[at..].fill(0);
    fs::write(&bench.file, bytes).unwrap();
    rescued(&bench, count - 8);
}

#[test]
fn a_lost_head_costs_nothing_but_the_first_page() {
    let (bench, count) = long("headless");
    let mut bytes = fs::read(&bench.file).unwrap();
    bytes[..100].fill(0);
    fs::write(&bench.file, bytes).unwrap();
    rescued(&bench, count);
}

#[test]
fn a_flipped_bit_in_a_note_is_seen() {
    let (bench, count) = long("flipped");
    let mut bytes = fs::read(&bench.file).unwrap();
    // Copies in pages that were rearranged are no entries any more, but cannot be told apart here.
    let places: Vec<usize> = bytes.windows(9).enumerate().filter(|(_, window)| window == b"\"12 a not").map(|(at, _)| at).collect();
    assert!(!places.is_empty());
    for at in places {
        bytes[at + 4] ^= 1;
    }
    fs::write(&bench.file, bytes).unwrap();
    assert!(bench.refused(1, &["list"]).contains("sum is wrong"));
    rescued(&bench, count - 1);
}

#[test]
fn a_file_cut_short_is_told() {
    let (bench, _) = long("cut");
    let bytes = fs::read(&bench.file).unwrap();
    fs::write(&bench.file, &bytes[..bytes.len() / 2]).unwrap();
    rescued(&bench, 5);
}
