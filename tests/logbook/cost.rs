//! What the baths of a logbook have cost.

use crate::bench::{Bench, done, flat, refused};
use serde_json::Value;
use std::process::{Command, Stdio};

fn cost(bench: &Bench, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tintpoint"));
    command.arg("cost").args(args).arg("--logbook").arg(&bench.file);
    command.env("TINTPOINT_NOW", "2026-03-14T21:00:00+01:00[Europe/Vienna]").stdin(Stdio::null());
    command
}

fn told(bench: &Bench, args: &[&str]) -> Value {
    serde_json::from_str(&done(cost(bench, args).args(["--format", "json"]))).unwrap()
}

fn near(value: &Value, wanted: f64) -> bool {
    value.as_f64().is_some_and(|value| (value - wanted).abs() < 1e-5)
}

/// Three baths of an invented darkroom: paper from a pack, film at a price for the batch, one without a price.
fn darkroom(test: &str) -> Bench {
    let bench = Bench::new(test);
    let powder = ["--acid", "citric-anhydrous", "--grams-per-litre", "15"];
    let new = |name: &str, rest: &[&str]| bench.done(&[&["new", name][..], &powder[..], rest].concat());
    new("tray", &["--volume", "2l", "--price", "6", "--pack", "1kg", "--currency", "EUR", "--at", "2026-01-10"]);
    new("tank", &["--volume", "1l", "--price", "0.50", "--currency", "EUR", "--at", "2026-02-10"]);
    new("spare", &["--volume", "2l", "--at", "2026-03-10"]);
    bench.done(&["load", "tray", "--sheets", "8x10rc=30,4x5rc=24", "--developer", "carbonate-1+2", "--at", "2026-01-11"]);
    bench.done(&["load", "tank", "--rolls", "4", "--developer", "borax-sulfite-1+1", "--at", "2026-02-11"]);
    bench.done(&["load", "spare", "--sheets", "8x10rc=5", "--developer", "carbonate-1+2", "--at", "2026-03-11"]);
    bench
}

// By hand: 15 g/l at 6 a kilogram are 0.09 a litre, 0.18 for 2 l; 30 sheets of 8x10 and 24 of 4x5 are 36 of 8x10: 0.005 each. A roll 0.5 / 4.
#[test]
fn recorded_prices_are_shared_by_what_went_through() {
    let bench = darkroom("cost-record");
    let all = told(&bench, &["--bath", "tray,tank"]);
    assert_eq!((all["currency"].as_str(), all["batches"].as_u64(), all["unpriced"].as_u64()), (Some("EUR"), Some(2), Some(0)));
    assert!(near(&all["total"], 0.68) && near(&all["per_batch"], 0.34) && near(&all["litres"], 3.0), "{all}");
    assert!(near(&all["per_sheet"], 0.005) && near(&all["per_roll"], 0.125) && near(&all["per_piece"], 0.017), "{all}");
    let small = all["kinds"].as_array().unwrap().iter().find(|kind| kind["kind"] == "4x5rc").unwrap();
    assert!(near(&small["each"], 0.00125) && near(&small["count"], 24.0), "{small}");
    // 3 l for 40 pieces are 75 ml each; used once at 300 ml each costs four times as much.
    assert!(near(&all["bath_per_piece_ml"], 75.0) && all["one_shot"].is_null());
    let once = &told(&bench, &["--bath", "tray,tank", "--one-shot", "300ml"])["one_shot"];
    assert!(near(&once["per_piece"], 0.068) && near(&once["total"], 2.72), "{once}");
    let said = flat(&done(&mut cost(&bench, &["--bath", "tank", "--one-shot", "100ml"])));
    assert!(said.contains("one 135-36: 0.12 EUR (4 for 0.50 EUR)"), "{said}");
    assert!(said.contains("one-shot costs no more"), "250 ml each when 100 would do: {said}");
}

#[test]
fn a_period_takes_the_batches_mixed_in_it() {
    let bench = darkroom("cost-period");
    let spring = told(&bench, &["--since", "2026-02-01", "--until", "2026-02-28", "--fee", "0.5", "--pupils", "5"]);
    assert!(near(&spring["total"], 1.0) && near(&spring["fee"], 0.5) && near(&spring["per_pupil"], 0.2), "{spring}");
    assert_eq!(
        (spring["since"].as_str(), spring["batches"].as_u64(), spring["earlier_loads"].as_u64()),
        (Some("2026-02-01"), Some(1), Some(0))
    );
    // A load in March into the tray of January counts with the tray, and that is said.
    bench.done(&["load", "tray", "--sheets", "8x10rc=6", "--at", "2026-03-12"]);
    let march = told(&bench, &["--since", "2026-03-01", "--pack", "1kg", "--price", "6"]);
    assert_eq!((march["batches"].as_u64(), march["earlier_loads"].as_u64()), (Some(1), Some(1)));
    assert!(near(&march["total"], 0.18) && near(&march["per_sheet"], 0.036), "{march}");
    assert!(flat(&done(&mut cost(&bench, &["--since", "2026-01-01"]))).contains("1 batch without a price: in none of the figures"));
}

#[test]
fn top_ups_of_the_same_cost_the_same_and_others_are_left_out() {
    let bench = darkroom("cost-top-up");
    bench.done(&["top-up", "tray", "--volume", "500ml"]);
    bench.done(&["top-up", "tray", "--volume", "500ml", "--water"]);
    bench.done(&["top-up", "tray", "--volume", "100ml", "--acid", "acetic", "--strength", "28", "--dilution", "1+19"]);
    let tray = told(&bench, &["--bath", "tray"]);
    assert!(near(&tray["total"], 0.09 * 2.5) && near(&tray["litres"], 2.6), "{tray}");
    assert_eq!(tray["unpriced_top_ups"].as_u64(), Some(1));
}

#[test]
fn no_price_is_guessed_and_no_currencies_are_mixed() {
    let bench = darkroom("cost-refused");
    assert!(refused(2, &mut cost(&bench, &["--bath", "spare"])).contains("none of these baths has a price"));
    assert!(refused(2, &mut cost(&bench, &["--bath", "nobody"])).contains("no bath `nobody`"));
    assert!(refused(2, &mut cost(&bench, &["--since", "2027-01-01"])).contains("no bath of the logbook was mixed then"));
    assert!(refused(2, &mut cost(&bench, &["--since", "last week"])).contains("no date"));
    assert!(refused(2, &mut cost(&bench, &["--bath", "tray", "--currency", "GBP"])).contains("EUR and GBP cannot be added"));
    assert!(refused(2, &mut cost(&bench, &["--bath", "tray", "--batches", "3"])).contains("cannot be used with"));
    let acetic = ["new", "vinegar", "--acid", "acetic", "--strength", "5", "--dilution", "1+1", "--volume", "1l"];
    assert!(bench.refused(2, &[&acetic[..], &["--price", "6", "--pack", "1kg"]].concat()).contains("has not the unit of acetic"));
    bench.done(&acetic);
    let pack = ["--since", "2026-03-01", "--pack", "1kg", "--price", "6"];
    assert!(refused(2, &mut cost(&bench, &pack)).contains("acetic and citric-anhydrous"));
    // Without the logbook pack and price are needed as before.
    let mut plain = Command::new(env!("CARGO_BIN_EXE_tintpoint"));
    assert!(refused(2, plain.args(["cost", "--dilution", "1+19"])).contains("--price"));
}

#[test]
fn the_page_has_the_cost() {
    let bench = darkroom("cost-page");
    let page = |name: &str| {
        let file = bench.folder.join(format!("{name}.html"));
        bench.done(&["show", name, "--report", &file.display().to_string()]);
        std::fs::read_to_string(file).unwrap()
    };
    let tray = page("tray");
    assert!(tray.contains("What it cost") && tray.contains("<td>4x5rc</td><td>24</td><td>0.0013 EUR</td>"), "{tray}");
    assert!(page("spare").contains("No price was written down"));
}

#[test]
fn every_field_is_described() {
    let bench = darkroom("cost-fields");
    let all = told(&bench, &["--bath", "tray", "--one-shot", "300ml"]);
    let readme = include_str!("../../README.md");
    for object in [&all, &all["baths"][0], &all["kinds"][0], &all["one_shot"]] {
        for key in object.as_object().unwrap().keys() {
            assert!(readme.contains(&format!("`{key}`")), "README does not describe `{key}`");
        }
    }
    assert_eq!(bench.shown("tray")["start"]["paid"]["currency"], "EUR");
}
