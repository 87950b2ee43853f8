//! The logbook for people and programs: one bath, all baths, labels, what a record proves.

pub mod costs;
pub mod glance;
pub mod json;
pub mod judged;
pub mod ladder;
pub mod pictures;
pub mod trace;
mod words;

use super::text::{NARROWEST, WIDEST, columns, put};
use crate::logbook::advice::Planned;
use crate::logbook::event::{Entry, Event};
use crate::logbook::ledger::{Bath, Ledger};
use crate::measurement::warning::Notice;
use std::fmt::Write as _;

/// Columns of the state word and the gap after it.
const STATE_COLUMNS: usize = 9;

/// Codes of notices, as they are kept with a reading.
pub fn codes<'a>(notices: impl IntoIterator<Item = &'a Notice>) -> Vec<String> {
    notices.into_iter().map(|notice| notice.code().to_owned()).collect()
}

/// What was just written: the entry, and what stands out of its bath now. `now` in seconds since 1970.
#[must_use]
pub fn written(ledger: &Ledger, entry: &Entry, now: i64, width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let bath = ledger.baths.iter().find(|bath| bath.mixed.id == entry.bath);
    let name = bath.map_or_else(|| "a bath that does not count".to_owned(), |bath| super::words::printable(&bath.start.name));
    let mut out = String::new();
    put(&mut out, &format!("written for {name}: {}", words::entry(entry)), 2, width);
    put(&mut out, &format!("  entry {}; `tintpoint bath undo {}` takes it back", entry.id.short(), entry.id.short()), 2, width);
    if let Some(bath) = bath.filter(|_| !matches!(entry.event, Event::Mixed(_))) {
        let standing = bath.standing();
        if matches!(entry.event, Event::Load(_)) {
            put(&mut out, &format!("  so far: {}; {}", words::pieces(&standing), words::share(&standing)), 2, width);
        }
        findings(&mut out, bath, now, width);
    }
    if let Some((back, _)) = ledger.clock_steps.iter().find(|(_, id)| *id == entry.id) {
        put(&mut out, &clock_step(*back), 2, width);
    }
    out
}

fn clock_step(back: i64) -> String {
    let amount = if back >= 7200 { format!("{} h", back / 3600) } else { format!("{} min", (back + 59) / 60) };
    format!("  note: the clock went back by {amount} since the entry before; entries keep the order in which they were written")
}

fn findings(out: &mut String, bath: &Bath, now: i64, width: usize) {
    for finding in bath.findings(now) {
        let (message, hint) = words::finding(&finding);
        put(out, &format!("  note: {message}"), 4, width);
        put(out, &format!("  hint: {hint}"), 4, width);
    }
}

/// All baths, one line or two each.
#[must_use]
pub fn list(ledger: &Ledger, baths: &[&Bath], now: i64, width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let mut out = String::new();
    if baths.is_empty() {
        put(&mut out, "no baths in use; `tintpoint bath new` begins one", 0, width);
    }
    for bath in baths {
        let standing = bath.standing();
        let place = bath.start.place.as_deref().map(|place| format!(", {}", super::words::printable(place))).unwrap_or_default();
        let head = match bath.discarded() {
            Some(gone) => format!("GONE     {}{place}: discarded {}", super::words::printable(&bath.start.name), gone.happened.date()),
            None => format!(
                "{:<STATE_COLUMNS$}{}{place}: {}, {}, for {}",
                super::words::state(judged::state(bath, judged::judged(bath, now).ok().as_ref())).to_uppercase(),
                super::words::printable(&bath.start.name),
                words::volume(standing.volume_ml),
                words::age(bath, now),
                words::work(bath.start.work)
            ),
        };
        put(&mut out, &head, STATE_COLUMNS, width);
        let read = bath.readings().next_back().map_or_else(
            || "never read".to_owned(),
            |(entry, reading)| format!("read {} {}", entry.happened.minute(), words::reading(reading)),
        );
        let indent = " ".repeat(STATE_COLUMNS);
        put(&mut out, &format!("{indent}{}; {}; {read}", words::pieces(&standing), words::share(&standing)), STATE_COLUMNS, width);
        let count = bath.findings(now).len();
        if count > 0 {
            put(
                &mut out,
                &format!("{indent}{count} to look at: `tintpoint bath show {}`", super::words::printable(&bath.start.name)),
                STATE_COLUMNS,
                width,
            );
        }
    }
    strays(&mut out, ledger, width);
    out
}

/// Entries that cannot be told of any bath must not vanish.
fn strays(out: &mut String, ledger: &Ledger, width: usize) {
    if ledger.strays > 0 {
        put(out, &format!("note: {} entries are about a bath that is not here, or whose mixing was undone", ledger.strays), 2, width);
    }
}

/// One bath with all its entries, and advice on this session.
#[must_use]
pub fn show(ledger: &Ledger, bath: &Bath, (now, planned): (i64, Planned), date: &dyn Fn(i64) -> String, width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let standing = bath.standing();
    let mut out = String::new();
    let name = super::words::printable(&bath.start.name);
    let judged = judged::judged_for(bath, now, planned);
    match bath.discarded() {
        Some(gone) => put(&mut out, &format!("GONE     {name}: discarded {}", gone.happened.minute()), STATE_COLUMNS, width),
        None => {
            let state = super::words::state(judged::state(bath, judged.as_ref().ok())).to_uppercase();
            put(
                &mut out,
                &format!("{state:<STATE_COLUMNS$}{name}: {}, {}", words::volume(standing.volume_ml), words::age(bath, now)),
                STATE_COLUMNS,
                width,
            );
        }
    }
    let indent = " ".repeat(STATE_COLUMNS);
    put(&mut out, &format!("{indent}{}", words::start(&bath.start)), STATE_COLUMNS, width);
    put(&mut out, &format!("{indent}went through: {}; {}", words::pieces(&standing), words::share(&standing)), STATE_COLUMNS, width);
    if standing.guessed {
        put(&mut out, &format!("{indent}some of it was guessed"), STATE_COLUMNS, width);
    }
    if let Some((entry, reading)) = bath.readings().next_back() {
        let text = format!(
            "{indent}last read {} by {}: {}",
            entry.happened.minute(),
            super::words::printable(&entry.who),
            words::reading(reading)
        );
        put(&mut out, &text, STATE_COLUMNS, width);
    }
    match judged.as_ref().map(|judged| judged.sentences(date)) {
        _ if bath.discarded().is_some() => {}
        Ok(said) => said.iter().for_each(|sentence| put(&mut out, &format!("{indent}{sentence}"), STATE_COLUMNS + 2, width)),
        Err((why, hint)) => {
            put(&mut out, &format!("{indent}what is left cannot be told: {why}"), STATE_COLUMNS + 2, width);
            put(&mut out, &format!("{indent}hint: {hint}"), STATE_COLUMNS + 2, width);
        }
    }
    findings(&mut out, bath, now, width);
    put(&mut out, "entries:", 0, width);
    for entry in &bath.entries {
        let gone = if bath.undone.contains(&entry.id) { " [undone]" } else { "" };
        put(&mut out, &format!("  {}{gone} {}", entry.id.short(), words::entry(entry)), 11, width);
        if let Some((back, _)) = ledger.clock_steps.iter().find(|(_, id)| *id == entry.id) {
            put(&mut out, &clock_step(*back), 4, width);
        }
    }
    out
}

/// Text for the bottle or tray; `discard_by` is a date.
#[must_use]
pub fn label(bath: &Bath, discard_by: &str, width: usize) -> String {
    let width = columns(width);
    let mut out = String::new();
    let start = &bath.start;
    let printable = super::words::printable;
    put(&mut out, &format!("STOP BATH  {}", printable(&start.name)), 0, width);
    put(&mut out, &words::recipe(&start.recipe), 2, width);
    put(&mut out, &format!("indicator: {}", start.indicator.as_deref().unwrap_or("none")), 2, width);
    put(&mut out, &format!("volume {}; for {}", words::volume(start.volume_ml), words::work(start.work)), 2, width);
    put(&mut out, &format!("mixed {} by {}", bath.mixed.happened.date(), printable(&bath.mixed.who)), 2, width);
    put(&mut out, &format!("discard by {discard_by} at the latest"), 2, width);
    let _ = writeln!(out, "rolls, sheets: ______________________");
    put(&mut out, words::LABEL_CAUTION, 0, width);
    out
}

/// What an import came to.
#[must_use]
pub fn imported(added: usize, known: usize) -> String {
    format!("{added} entries taken over; {known} were here already\n")
}

/// What was got out of a damaged logbook.
#[must_use]
pub fn salvaged(found: usize, missing: u64) -> String {
    let gaps = if missing == 0 {
        "as far as their numbers tell, none is missing before the last".to_owned()
    } else {
        format!("{missing} are missing")
    };
    format!("{found} entries could be read; {gaps}")
}
