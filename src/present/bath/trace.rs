//! What the record says about the bath behind a film or a day.

use super::words;
use crate::logbook::event::{Entry, Reading};
use crate::logbook::trace::{Proof, Session};
use crate::present::text::{NARROWEST, WIDEST, put};
use crate::present::words::printable;

/// All loads that were found, with what the record proves of each.
#[must_use]
pub fn text(wanted: &str, sessions: &[Session], width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let mut out = String::new();
    if sessions.is_empty() {
        let message = format!("nothing in the logbook names `{}`: the record neither clears nor blames any bath", printable(wanted));
        put(&mut out, &message, 2, width);
        put(&mut out, "hint: give the name as `bath load --film` was given it, or a date such as 2026-03-14", 2, width);
    }
    for session in sessions {
        put(&mut out, &format!("{}: {}", printable(&session.name), words::entry(&session.entry)), 2, width);
        let age = format!("bath {} days old, {}", session.age_days, words::volume(session.before.volume_ml));
        put(&mut out, &format!("  {age}; before: {}; {}", words::pieces(&session.before), words::share(&session.before)), 4, width);
        put(&mut out, &format!("  last reading before: {}", read(session.last.as_ref(), "none")), 4, width);
        let between = if session.topped_between { ", but acid was added between" } else { "" };
        put(&mut out, &format!("  next reading after: {}{between}", read(session.next.as_ref(), "none")), 4, width);
        put(&mut out, &format!("  {}", words::proof(session.proof)), 4, width);
        for finding in &session.findings {
            let (message, hint) = words::finding(finding);
            put(&mut out, &format!("  note: {message}"), 4, width);
            put(&mut out, &format!("  hint: {hint}"), 4, width);
        }
        if session.proof == Proof::Neither {
            put(&mut out, &format!("  {}", words::NEXT_TIME), 4, width);
        }
    }
    put(&mut out, words::SUSPECTS, 2, width);
    out
}

fn read(reading: Option<&(Entry, Reading)>, none: &str) -> String {
    reading.map_or_else(
        || none.to_owned(),
        |(entry, reading)| format!("{}, {} ({})", entry.happened.minute(), words::reading(reading), printable(&entry.who)),
    )
}
