//! What is written down, and what follows from it.

use crate::bench::{Bench, done, flat, refused};
use serde_json::Value;

#[test]
fn a_class_is_tallied_at_once() {
    let bench = Bench::with_bath("class");
    let said =
        bench.done(&["load", "tray-1", "--sheets", "8x10rc=24,8x10fb=2", "--by", "class 3b", "--guessed", "--developer", "carbonate-1+2"]);
    assert!(said.contains("24 x 8x10rc") && said.contains("class 3b") && said.contains("guessed"), "{said}");
    let bath = bench.shown("tray-1");
    assert_eq!((bath["pieces"]["8x10rc"].as_f64(), bath["pieces"]["8x10fb"].as_f64()), (Some(24.0), Some(2.0)));
    // The generous carry-over of what nobody watched: 4 ml and 15 ml (common practice).
    assert_eq!(bath["carried_ml"].as_f64(), Some(24.0 * 4.0 + 2.0 * 15.0));
    // The next load takes the same developer.
    bench.done(&["load", "tray-1", "--sheets", "8x10rc=1"]);
    assert_eq!(bench.shown("tray-1")["pieces"]["8x10rc"].as_f64(), Some(25.0));
}

#[test]
fn undo_adds_and_removes_nothing() {
    let bench = Bench::with_bath("undo");
    bench.done(&["load", "tray-1", "--rolls", "2", "--developer", "borax-sulfite-1+1"]);
    bench.done(&["load", "tray-1", "--rolls", "3"]);
    bench.done(&["undo"]);
    let bath = bench.shown("tray-1");
    assert_eq!(bath["pieces"]["135-36"].as_f64(), Some(2.0));
    let entries = bath["entries"].as_array().unwrap();
    assert_eq!(entries.len(), 4);
    assert_eq!(entries.iter().filter(|entry| entry["counts"] == false).count(), 1);
    // The undo undone: three rolls count again.
    let undo = entries[3]["id"].as_str().unwrap().to_owned();
    bench.done(&["undo", &undo[..8]]);
    assert_eq!(bench.shown("tray-1")["pieces"]["135-36"].as_f64(), Some(5.0));
    assert!(bench.refused(2, &["undo", &undo[..8]]).contains("does not count already"));
    assert!(bench.refused(2, &["undo", "ffffffffffff"]).contains("no entry begins"));
    assert!(bench.refused(2, &["undo", "--who", "zoe"]).contains("nothing to undo"));
}

#[test]
fn every_entry_has_time_zone_writer_and_both_dates() {
    let bench = Bench::with_bath("dates");
    bench.done(&["note", "tray-1", "tongs were mixed up", "--who", "ben", "--at", "20:15"]);
    let entry = &bench.shown("tray-1")["entries"][1];
    assert_eq!(entry["happened"], "2026-03-14T20:15:00+01:00[Europe/Vienna]");
    assert_eq!(entry["recorded"], "2026-03-14T21:00:00+01:00[Europe/Vienna]");
    assert_eq!((entry["who"].as_str(), entry["note"].as_str()), (Some("ben"), Some("tongs were mixed up")));
    assert!(bench.refused(2, &["note", "tray-1", "x", "--at", "22:00"]).contains("lies after now"));
    assert!(bench.refused(2, &["note", "tray-1", "x", "--at", "tonight"]).contains("no date and time"));
}

#[test]
fn dates_that_cannot_be_are_told_and_notes_keep_their_breaks_as_spaces() {
    let bench = Bench::with_bath("odd-dates");
    bench.done(&["load", "tray-1", "--rolls", "1", "--film", "A12", "--developer", "one-shot", "--at", "17:00"]);
    for said in [bench.said(&["show", "tray-1"]), bench.said(&["trace", "A12"])] {
        assert!(said.contains("dated before the bath was mixed") && said.contains("undo the entry"), "{said}");
    }
    let traced: Value = serde_json::from_str(bench.done(&["trace", "A12", "--format", "json"]).trim()).unwrap();
    assert_eq!((traced["findings"][0]["code"].as_str(), traced["proof"].as_str()), (Some("before-mix"), Some("neither")));
    bench.done(&["note", "tray-1", "tongs were\nmixed\tup"]);
    assert!(bench.said(&["show", "tray-1"]).contains("tongs were mixed up"));
    assert_eq!(bench.shown("tray-1")["entries"][2]["note"], "tongs were\nmixed\tup", "kept as it was written");
    let summer = "2026-03-29T21:00:00+02:00[Europe/Vienna]";
    let skipped = refused(2, &mut bench.command_at(summer, &["note", "tray-1", "x", "--at", "02:30"]));
    assert!(flat(&skipped).contains("on 2026-03-29 it went from 02:00 to 03:00"), "{skipped}");
}

#[test]
fn order_is_by_sequence_when_the_clock_goes_back_and_that_is_said() {
    let bench = Bench::with_bath("clock");
    bench.done(&["reading", "tray-1", "--ph", "4.0", "--with", "meter"]);
    let said = flat(&done(
        &mut bench.command_at("2026-03-14T19:30:00+01:00[Europe/Vienna]", &["reading", "tray-1", "--ph", "4.5", "--with", "meter"]),
    ));
    assert!(said.contains("clock went back by 90 min"), "{said}");
    let bath = bench.shown("tray-1");
    assert_eq!(bath["last_reading"]["ph"].as_f64(), Some(4.5));
    assert!(bath["findings"].as_array().unwrap().is_empty(), "{bath}");
    assert!(bench.said(&["show", "tray-1"]).contains("keep the order"));
}

#[test]
fn volume_and_reserve_follow_top_ups_and_losses() {
    let bench = Bench::with_bath("volume");
    let reserve = |bath: &Value| bath["reserve_meq"].as_f64().unwrap();
    let fresh = reserve(&bench.shown("tray-1"));
    bench.done(&["volume", "tray-1", "--is", "1.5l"]);
    let bath = bench.shown("tray-1");
    assert_eq!((bath["volume_ml"].as_f64(), reserve(&bath)), (Some(1500.0), fresh));
    bench.done(&["volume", "tray-1", "--lost", "300ml", "--note", "down the sink"]);
    bench.done(&["top-up", "tray-1", "--volume", "300ml", "--water"]);
    let bath = bench.shown("tray-1");
    assert_eq!(bath["volume_ml"].as_f64(), Some(1500.0));
    assert!((reserve(&bath) - 0.8 * fresh).abs() < 0.1);
    bench.done(&["top-up", "tray-1", "--volume", "200ml"]);
    let said = bench.said(&["top-up", "tray-1", "--volume", "200ml"]);
    assert!(said.contains("topped up with acid 2 times"), "{said}");
    assert!((reserve(&bench.shown("tray-1")) - fresh).abs() < 0.1);
}

#[test]
fn readings_of_several_people_show_their_spread() {
    let bench = Bench::with_bath("spread");
    bench.done(&["reading", "tray-1", "--ph", "4.2", "--with", "eye", "--light", "daylight"]);
    let said = bench.said(&["reading", "tray-1", "--ph", "4.8", "--with", "eye", "--light", "tungsten", "--who", "ben"]);
    assert!(said.contains("ada and ben read pH 4.2 to 4.8") && said.contains("median is 4.5"), "{said}");
    let said = bench.said(&["reading", "tray-1", "--ph", "3.5", "--low", "3.3", "--high", "3.7"]);
    assert!(said.contains("does not become more acid by itself"), "{said}");
}

#[test]
fn discarded_baths_take_no_more_and_names_come_again() {
    let bench = Bench::with_bath("discard");
    let again = ["new", "Tray-1", "--acid", "acetic", "--strength", "28", "--dilution", "1+19", "--volume", "1l"];
    assert!(bench.refused(2, &again).contains("there is a bath `tray-1` already"));
    bench.done(&["discard", "tray-1", "--reason", "spent"]);
    assert!(bench.refused(2, &["load", "tray-1", "--rolls", "1", "--developer", "metaborate"]).contains("was discarded on 2026-03-14"));
    assert!(bench.said(&["list"]).contains("no baths in use"));
    assert!(bench.done(&["list", "--all"]).contains("GONE"));
    bench.done(&again);
    assert_eq!(bench.shown("tray-1")["start"]["recipe"]["acid"], "acetic");
}

#[test]
fn trace_says_what_the_record_proves() {
    let bench = Bench::with_bath("trace");
    bench.done(&["load", "tray-1", "--rolls", "1", "--film", "A12", "--developer", "one-shot", "--at", "19:00"]);
    let proof = |wanted: &str| {
        let line = bench.done(&["trace", wanted, "--format", "json"]);
        serde_json::from_str::<Value>(line.lines().next().unwrap()).unwrap()["proof"].as_str().unwrap().to_owned()
    };
    assert_eq!(proof("a12"), "neither");
    let said = bench.said(&["trace", "A12"]);
    assert!(said.contains("neither clears nor blames") && said.contains("agitation") && said.contains("old fixer"), "{said}");
    bench.done(&["reading", "tray-1", "--ph", "3.4", "--with", "meter", "--at", "20:00"]);
    assert_eq!(proof("2026-03-14"), "cleared-after");
    bench.done(&["reading", "tray-1", "--ph", "5.8", "--with", "meter", "--at", "20:10"]);
    bench.done(&["load", "tray-1", "--rolls", "1", "--film", "A13", "--at", "20:30"]);
    assert_eq!(proof("A13"), "blamed-by-reading");
    assert!(bench.said(&["trace", "B7"]).contains("neither clears nor blames any bath"));
}

#[test]
fn wrong_entries_name_value_limit_and_next_action() {
    let bench = Bench::with_bath("wrong");
    for (args, said) in [
        (vec!["load", "tray-2", "--rolls", "1"], "there are tray-1"),
        (vec!["load", "tray-1", "--rolls", "1"], "developer"),
        (vec!["load", "tray-1", "--rolls", "1", "--developer", "ours"], "carbonate-1+2"),
        (vec!["load", "tray-1", "--developer", "metaborate"], "no pieces"),
        (vec!["load", "tray-1", "--rolls=-1", "--developer", "metaborate"], "outside 0.01 to 10000"),
        (vec!["load", "tray-1", "--sheets", "8x10=3", "--developer", "metaborate"], "8x10rc"),
        (vec!["reading", "tray-1"], "neither pH nor bound"),
        (vec!["reading", "tray-1", "--ph", "4", "--low", "5"], "outside its own interval"),
        (vec!["reading", "tray-1", "--ph", "44"], "outside -1 to 15"),
        (vec!["volume", "tray-1"], "--is"),
        (vec!["top-up", "tray-1", "--volume", "100"], "has no unit"),
        (vec!["new", "x", "--acid", "acetic", "--dilution", "1:19", "--volume", "1l"], "two ways"),
        (vec!["new", "x", "--acid", "acetic", "--dilution", "1+19", "--volume", "1l"], "strength of the acid is missing"),
        (vec!["new", "x", "--acid", "acetic", "--dilution", "1+19", "--strength", "120", "--volume", "1l"], "outside 1 to 100"),
        (vec!["new", "", "--acid", "citric-anhydrous", "--grams-per-litre", "15", "--volume", "1l"], "is empty"),
        (vec!["new", "x", "--acid", "citric-anhydrous", "--volume", "1l"], "needs --grams-per-litre"),
    ] {
        let err = bench.refused(2, &args);
        assert!(err.contains(said), "{args:?}: {err}");
    }
    assert_eq!(bench.shown("tray-1")["entries"].as_array().unwrap().len(), 1);
}

#[test]
fn the_label_says_what_a_bottle_must() {
    let bench = Bench::with_bath("label");
    let label = bench.done(&["label", "tray-1"]);
    // A closed bottle of citric bath is usually kept two weeks at most (common practice).
    for wanted in ["tray-1", "citric acid, anhydrous", "15 g in a litre", "2026-03-14 by ada", "2026-03-28", "NOT FOR DRINKING"] {
        assert!(label.contains(wanted), "{wanted}: {label}");
    }
    assert!(label.lines().all(|line| line.chars().count() <= 40));
}

#[test]
fn every_help_has_an_example() {
    for task in [
        "new",
        "load",
        "reading",
        "top-up",
        "volume",
        "drop-test",
        "note",
        "discard",
        "undo",
        "show",
        "list",
        "label",
        "trace",
        "export",
        "import",
    ] {
        let help = Bench::new("help").done(&[task, "--help"]);
        assert!(help.contains(&format!("tintpoint bath {task}")) && help.contains("Example"), "{task}");
    }
}

#[test]
fn a_bath_is_judged_by_load_and_colour_together_and_drawn() {
    let bench = Bench::with_bath("judged");
    bench.done(&["load", "tray-1", "--sheets", "8x10rc=40", "--developer", "carbonate-1+2", "--at", "2026-03-14 19:00"]);
    let counted = &bench.shown("tray-1")["judgement"];
    let likely = |judgement: &Value| judgement["used"][1].as_f64().unwrap();
    assert_eq!(counted["basis"], "record");
    // 40 sheets of 3 ml of 535 meq/l into 2 l of a reserve of some 180 meq/l: a fifth (worked by hand: 64 of 362 meq).
    assert!((0.10..0.35).contains(&likely(counted)), "{counted}");
    let said = bench.said(&["show", "tray-1"]);
    assert!(said.contains("still yellow, and settle nothing yet") && !said.contains("100 %"), "{said}");
    bench.done(&["reading", "tray-1", "--ph", "5.3", "--low", "5.1", "--high", "5.5", "--at", "2026-03-14 20:00"]);
    let seen = &bench.shown("tray-1")["judgement"];
    assert_eq!((seen["basis"].as_str(), seen["state"].as_str()), (Some("both"), Some("nearing")));
    assert!(likely(seen) > 2.0 * likely(counted), "a reading in the turn outweighs the count: {seen}");
    let left = &seen["left"][0]["pieces"];
    assert!(left[0].as_f64() <= left[1].as_f64() && left[1].as_f64() <= left[2].as_f64(), "{left}");
    let said = bench.said(&["show", "tray-1"]);
    assert!(said.contains("reserve used") && said.contains("left of 8x10rc") && said.contains("the dye has been seen turning"), "{said}");
    // Half turned, nothing more goes through it; before that, a usual session of 40 did not either, and the count alone was trusted with few.
    assert_eq!((seen["advice"]["session"].as_f64(), seen["advice"]["run"].as_f64()), (Some(40.0), Some(0.0)));
    assert!(said.contains("next session (40 x 8x10rc): replace the bath before it"), "{said}");
    let few = &counted["advice"];
    assert!(few["replace"] == true && few["run"].as_f64() == counted["left"][0]["safe"].as_f64(), "{counted}");
    // The list and its figures for programs say the same word.
    assert!(bench.said(&["list"]).starts_with("NEARING"));
    let listed: Value = serde_json::from_str(bench.done(&["list", "--format", "json"]).trim()).unwrap();
    assert_eq!(listed["state"], "nearing");
    let at = |name: &str| bench.folder.join(name).display().to_string();
    bench.done(&["show", "tray-1", "--picture", &at("trend.png"), "--curve", &at("curve.svg"), "--report", &at("page.html")]);
    assert!(std::fs::read(at("trend.png")).unwrap().starts_with(b"\x89PNG"));
    assert!(std::fs::read_to_string(at("curve.svg")).unwrap().contains("alkali taken up"));
    let page = std::fs::read_to_string(at("page.html")).unwrap();
    assert_eq!(page.matches("<svg").count(), 2, "trend and curve");
}

#[test]
fn the_next_session_is_advised_on_once_one_is_known() {
    let bench = Bench::with_bath("next");
    let refused = bench.refused(2, &["show", "tray-1", "--next", "4"]);
    assert!(refused.contains("nothing went through tray-1 yet") && refused.contains("bath load"), "{refused}");
    assert!(bench.shown("tray-1")["judgement"]["advice"].is_null());
    bench.done(&["load", "tray-1", "--sheets", "8x10rc=4", "--developer", "carbonate-1+2", "--at", "2026-03-14 19:00"]);
    assert!(bench.said(&["show", "tray-1"]).contains("next session (4 x 8x10rc): the bath is good for it"));
    // So many are never good for it, and before anything else it is to be looked at.
    let said = bench.said(&["show", "tray-1", "--next", "500"]);
    assert!(said.contains("next session (500 x 8x10rc): read the bath first; unread it is good for"), "{said}");
    for count in ["0", "-1", "1001", "many"] {
        bench.refused(2, &["show", "tray-1", "--next", count]);
    }
}
