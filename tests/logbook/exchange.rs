//! Export and import.

use crate::bench::Bench;
use serde_json::Value;

/// A logbook with an entry of every kind, and text that quoting must survive.
fn full(test: &str) -> Bench {
    let bench = Bench::with_bath(test);
    bench.done(&[
        "load",
        "tray-1",
        "--sheets",
        "8x10rc=24",
        "--by",
        "class 3b",
        "--film",
        "A12,A 13",
        "--developer",
        "ours",
        "--alkalinity",
        "412.3",
    ]);
    bench.done(&[
        "reading",
        "tray-1",
        "--ph",
        "4.1",
        "--low",
        "3.97",
        "--high",
        "4.23",
        "--light",
        "daylight",
        "--note",
        "line one, \"quoted\"; ä",
    ]);
    bench.done(&["top-up", "tray-1", "--volume", "0.1l"]);
    bench.done(&["top-up", "tray-1", "--volume", "333ml", "--water"]);
    bench.done(&["volume", "tray-1", "--is", "1.9l"]);
    bench.done(&["volume", "tray-1", "--lost", "33.3ml"]);
    bench.done(&["drop-test", "tray-1", "--sample", "10", "--used", "2.1"]);
    bench.done(&["note", "tray-1", "=1+1", "--at", "20:00"]);
    bench.done(&["undo"]);
    bench.done(&["discard", "tray-1", "--reason", "spent"]);
    bench
}

#[test]
fn round_trips_lose_nothing_and_double_nothing() {
    let from = full("round-trip");
    let whole = from.done(&["export"]);
    for form in ["json", "csv"] {
        let to = Bench::new(&format!("round-trip-{form}"));
        let file = to.folder.join("export");
        from.done(&["export", "--format", form, "--out", file.to_str().unwrap()]);
        let file = file.to_str().unwrap();
        assert_eq!(to.done(&["import", file]), "11 entries taken over; 0 were here already\n");
        assert_eq!(to.done(&["export"]), whole, "{form}");
        assert_eq!(to.done(&["import", file]), "0 entries taken over; 11 were here already\n");
        assert_eq!(to.done(&["show", "tray-1"]), from.done(&["show", "tray-1"]));
    }
}

#[test]
fn two_logbooks_come_together_by_time() {
    let (here, there) = (Bench::with_bath("merge-here"), Bench::new("merge-there"));
    let file = there.folder.join("export.json");
    let file = file.to_str().unwrap();
    here.done(&["export", "--out", file]);
    there.done(&["import", file]);
    there.done(&["reading", "tray-1", "--ph", "4.4", "--at", "20:00", "--who", "ben"]);
    here.done(&["reading", "tray-1", "--ph", "4.6", "--at", "20:30"]);
    there.done(&["export", "--out", file]);
    assert_eq!(here.done(&["import", file]), "1 entries taken over; 1 were here already\n");
    let bath = here.shown("tray-1");
    let read: Vec<f64> = bath["entries"].as_array().unwrap().iter().filter_map(|entry| entry["event"]["ph"].as_f64()).collect();
    assert_eq!(read, [4.4, 4.6]);
}

#[test]
fn foreign_and_forged_files_are_refused_whole() {
    let bench = full("forged");
    let before = bench.done(&["export"]);
    let file = bench.folder.join("other");
    let import = |text: &str, said: &str| {
        std::fs::write(&file, text).unwrap();
        let err = bench.refused(if said == "outside" { 2 } else { 1 }, &["import", file.to_str().unwrap()]);
        assert!(err.contains(said), "{err}");
    };
    import("{\"kind\":\"shopping\",\"version\":1}", "no export of a logbook");
    import("{\"kind\":\"tintpoint logbook\",\"version\":99,\"entries\":[]}", "version 99");
    import("a,b\n1,2\n", "no column `book`");
    import("", "no export");
    // A known id with other content; and a new entry that cannot be, behind one that could.
    import(&before.replace("412.3", "1.5"), "other content");
    let mut parsed: Value = serde_json::from_str(&before).unwrap();
    let entries = parsed["entries"].as_array_mut().unwrap();
    entries.truncate(2);
    for (place, entry) in entries.iter_mut().enumerate() {
        entry["id"] = format!("{place:032x}").into();
    }
    entries[1]["event"]["pieces"][0]["count"] = (-3.0).into();
    import(&parsed.to_string(), "outside");
    assert_eq!(bench.done(&["export"]), before);
}
