//! Logbooks of older and newer programs.

use crate::bench::Bench;
use rusqlite::Connection;
use std::fs;

const FIRST: &str = include_str!("version-1.sql");

fn old(test: &str) -> Bench {
    let bench = Bench::new(test);
    Connection::open(&bench.file).unwrap().execute_batch(FIRST).unwrap();
    bench
}

#[test]
fn an_older_logbook_is_brought_up_to_date_and_a_copy_kept() {
    let bench = old("older");
    let before = fs::read(&bench.file).unwrap();
    assert_eq!(bench.shown("tray-1")["pieces"]["8x10rc"].as_f64(), Some(6.0));
    let copy = bench.folder.join("logbook.db.version-1");
    let version = |file| Connection::open(file).unwrap().pragma_query_value(None, "user_version", |row| row.get::<_, i64>(0)).unwrap();
    assert_eq!((version(&bench.file), version(&copy)), (2, 1));
    assert_ne!(fs::read(&bench.file).unwrap(), before);
    bench.done(&["note", "tray-1", "still takes entries"]);
    // Entries are only ever added, also by other programs.
    let connection = Connection::open(&bench.file).unwrap();
    for wrong in ["DELETE FROM entry", "UPDATE entry SET body = ''"] {
        assert!(connection.execute(wrong, []).unwrap_err().to_string().contains("never"));
    }
}

#[test]
fn a_copy_is_never_overwritten() {
    let bench = old("older-twice");
    let first = bench.folder.join("logbook.db.version-1");
    fs::write(&first, "an earlier copy").unwrap();
    bench.done(&["list"]);
    assert_eq!(fs::read(&first).unwrap(), b"an earlier copy");
    assert!(bench.folder.join("logbook.db.version-1-2").exists());
}

#[test]
fn a_newer_logbook_is_refused_and_left_alone() {
    let bench = Bench::with_bath("newer");
    Connection::open(&bench.file).unwrap().pragma_update(None, "user_version", 3).unwrap();
    let before = fs::read(&bench.file).unwrap();
    for args in [&["list"][..], &["note", "tray-1", "x"]] {
        let err = bench.refused(1, args);
        assert!(err.contains("version 3, this program knows up to 2") && err.contains("newer program"), "{err}");
    }
    assert_eq!(fs::read(&bench.file).unwrap(), before);
}

#[test]
fn another_database_is_refused_and_left_alone() {
    let bench = Bench::new("other-database");
    Connection::open(&bench.file).unwrap().execute_batch("CREATE TABLE film (name TEXT); PRAGMA user_version = 1;").unwrap();
    let before = fs::read(&bench.file).unwrap();
    assert!(bench.refused(1, &["list"]).contains("no logbook of tintpoint"));
    assert_eq!(fs::read(&bench.file).unwrap(), before);
}
