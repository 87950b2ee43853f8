//! Text of an export, JSON or CSV, to what is told of its baths.

#![no_main]

use libfuzzer_sys::fuzz_target;
use tintpoint::logbook::advice::Planned;
use tintpoint::logbook::ledger::Ledger;
use tintpoint::present::bath;
use tintpoint::store::records::exchange;

/// 14 March 2026, 20:00 UTC, in seconds since 1970.
const NOW: i64 = 1_773_518_400;

fuzz_target!(|text: &str| {
    let Ok(mut entries) = exchange::parse(text) else { return };
    // An import refuses the others.
    entries.retain(|entry| entry.event.check().is_ok());
    let ledger = Ledger::of(entries.clone());
    for one in &ledger.baths {
        let _ = bath::show(&ledger, one, (NOW, Planned::Usual), &|seconds| seconds.to_string(), 80);
        bath::json::show(one, NOW, Planned::Usual).unwrap();
    }
    let all: Vec<_> = ledger.baths.iter().collect();
    let _ = bath::list(&ledger, &all, NOW, 80);
    // What was taken over comes back from either form.
    assert_eq!(exchange::parse(&exchange::to_json(entries.clone()).unwrap()).unwrap(), entries);
    let csv = exchange::to_csv(&entries, |_| true, |_| String::new()).unwrap();
    assert_eq!(exchange::parse(&csv).unwrap(), entries);
});
