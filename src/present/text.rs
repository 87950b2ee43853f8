//! The report for people: plain words that fit 40 columns and need no colour.

use super::number;
use super::tally::Tally;
use super::{Entry, Failure, words};
use crate::measurement::reading::{Chance, CupReading, PanelReading, Reading};
use crate::measurement::request::Limits;
use crate::measurement::warning::Notice;
use std::fmt::Write as _;

/// Narrowest report, columns.
pub const NARROWEST: usize = 40;
/// Widest report, columns: longer lines are hard to read.
pub const WIDEST: usize = 88;
/// Width when the output is no terminal, columns.
pub const PIPE: usize = 72;

/// Width of a report whose lines are broken elsewhere, as on a page.
pub const UNBROKEN: usize = usize::MAX;

/// Columns of the state word and the gap after it.
const STATE_COLUMNS: usize = 9;

/// One photo; `width` in columns is held between [`NARROWEST`] and [`WIDEST`].
#[must_use]
pub fn photo(entry: &Entry, width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let mut out = String::new();
    put(&mut out, &words::printable(&entry.photo), 0, width);
    match &entry.outcome {
        Ok(reading) => reading_part(&mut out, entry, reading, width),
        Err(failure) => failure_part(&mut out, failure, width),
    }
    out
}

fn failure_part(out: &mut String, failure: &Failure, width: usize) {
    put(out, &format!("FAILED   {}", words::printable(&failure.message)), STATE_COLUMNS, width);
    if let Some(hint) = &failure.hint {
        put(out, &format!("         hint: {hint}"), STATE_COLUMNS + 2, width);
    }
}

fn reading_part(out: &mut String, entry: &Entry, reading: &Reading, width: usize) {
    let mut about = Vec::new();
    if let Some(taken) = &entry.taken {
        about.push(format!("taken {}", words::printable(taken)));
    }
    if let Some(light) = words::light(reading) {
        about.push(format!("light: {light}"));
    }
    if !about.is_empty() {
        put(out, &about.join("; "), 0, width);
    }
    let mut said = Vec::new();
    if reading.cups.is_empty() {
        put(out, &format!("UNCLEAR  {}", words::NOTHING_TO_JUDGE), STATE_COLUMNS, width);
    }
    for cup in &reading.cups {
        cup_part(out, &mut said, cup, reading.limits, width);
    }
    if let Some(panel) = &reading.panel {
        panel_part(out, &mut said, panel, width);
    }
    for notice in words::by_gravity(&reading.warnings) {
        notice_lines(out, &mut said, "photo: ", notice, 2, width);
    }
    for (state, cups) in words::by_state(reading) {
        let lead = if reading.cups.len() > 1 { format!("next for {cups}") } else { "next".to_owned() };
        put(out, &format!("{lead}: {}", words::advice(state)), 2, width);
    }
}

fn cup_part(out: &mut String, said: &mut Vec<&'static str>, cup: &CupReading, limits: Limits, width: usize) {
    let word = words::state(cup.state).to_uppercase();
    let ph = number::ph(cup.ph, cup.ph_low, cup.ph_high).map_or_else(|| words::PH_UNKNOWN.to_owned(), |ph| format!("pH {ph}"));
    put(out, &format!("{word:<STATE_COLUMNS$}{}: {ph}", words::cup(cup)), STATE_COLUMNS, width);
    let indent = " ".repeat(STATE_COLUMNS);
    if let Some(chance) = cup.chance {
        chance_line(out, &chance, width);
    }
    if let Some(why) = words::why(cup, limits) {
        put(out, &format!("{indent}{why}"), STATE_COLUMNS + 2, width);
    }
    for notice in &cup.reasons {
        notice_lines(out, said, &indent, notice, STATE_COLUMNS, width);
    }
}

fn panel_part(out: &mut String, said: &mut Vec<&'static str>, panel: &PanelReading, width: usize) {
    let word = words::state(panel.state).to_uppercase();
    let ph = number::ph(panel.ph, panel.ph_low, panel.ph_high).map_or_else(|| words::PH_UNKNOWN.to_owned(), |ph| format!("pH {ph}"));
    put(out, &format!("{word:<STATE_COLUMNS$}{}: {ph}", words::panel(panel)), STATE_COLUMNS, width);
    let indent = " ".repeat(STATE_COLUMNS);
    if let Some(chance) = panel.chance {
        chance_line(out, &chance, width);
    }
    for notice in &panel.reasons {
        notice_lines(out, said, &indent, notice, STATE_COLUMNS, width);
    }
}

fn chance_line(out: &mut String, chance: &Chance, width: usize) {
    let indent = " ".repeat(STATE_COLUMNS);
    put(out, &format!("{indent}chance: {}", words::chances(chance)), STATE_COLUMNS + 2, width);
}

/// The message, and the remedy unless it was said before.
fn notice_lines(out: &mut String, said: &mut Vec<&'static str>, lead: &str, notice: &Notice, indent: usize, width: usize) {
    put(out, &format!("{lead}{}", words::message(notice)), indent + 2, width);
    if let Some(remedy) = words::remedy(notice).filter(|remedy| !said.contains(remedy)) {
        said.push(remedy);
        put(out, &format!("{}hint: {remedy}", " ".repeat(indent)), indent + 2, width);
    }
}

/// A compact table of all photos, for the end of a longer report.
#[must_use]
pub fn summary(entries: &[Entry], width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    // Columns: name, 2 gap, cup 3, 1, state 7, 1, pH 16; a narrow terminal shortens the name.
    let longest = entries.iter().map(|e| e.photo.chars().count()).max().unwrap_or(0).max(5);
    let name_columns = longest.min(width - 30).max(10);
    let mut out = String::new();
    let mut row = |name: &str, cup: &str, state: &str, ph: &str| {
        let line = format!("{:<name_columns$}  {cup:>3} {state:<7} {ph}", shortened(name, name_columns));
        let _ = writeln!(out, "{}", line.trim_end());
    };
    row("photo", "cup", "state", "pH");
    for entry in entries {
        let name = words::printable(&entry.photo);
        match &entry.outcome {
            Err(failure) => row(&name, "-", "failed", &failure.code),
            Ok(reading) if reading.cups.is_empty() => {
                row(&name, "-", "unclear", words::by_gravity(&reading.warnings).first().map_or("-", |n| n.code()))
            }
            Ok(reading) => {
                let gravest = words::by_gravity(&reading.warnings).first().copied();
                for cup in &reading.cups {
                    let reason = cup.reasons.first().or(gravest).map_or("-", Notice::code).to_owned();
                    let ph = number::ph(cup.ph, cup.ph_low, cup.ph_high).unwrap_or(reason);
                    row(&name, &cup.number.to_string(), words::state(cup.state), &ph);
                }
            }
        }
    }
    out
}

/// The count of a run, wrapped.
#[must_use]
pub fn count(tally: &Tally, width: usize) -> String {
    let mut out = String::new();
    put(&mut out, &tally.sentence(), 2, width.clamp(NARROWEST, WIDEST));
    out
}

/// The cautions, wrapped.
#[must_use]
pub fn cautions(width: usize) -> String {
    let mut out = String::new();
    put(&mut out, &format!("Cautions: {}", words::CAUTIONS), 2, width.clamp(NARROWEST, WIDEST));
    out
}

/// The end of a long name, where photos differ.
fn shortened(name: &str, columns: usize) -> String {
    let count = name.chars().count();
    if count <= columns {
        return name.to_owned();
    }
    let tail: String = name.chars().skip(count - (columns - 2)).collect();
    format!("..{tail}")
}

/// Stands for a space at which no line may break; text from outside holds no control characters.
const GLUE: char = '\u{1}';

/// The width that a report is written in.
pub(super) fn columns(width: usize) -> usize {
    if width == UNBROKEN { width } else { width.clamp(NARROWEST, WIDEST) }
}

/// Appends `text` wrapped to `width`; lines after the first start with `indent` spaces. Leading spaces of `text` stay.
pub(super) fn put(out: &mut String, text: &str, indent: usize, width: usize) {
    // A figure and its per cent sign stay together.
    let text = text.replace(" %", &format!("{GLUE}%"));
    let lead: String = text.chars().take_while(|c| *c == ' ').collect();
    let mut line = lead;
    let mut is_blank = true;
    let mut gap = String::new();
    for part in text.trim_start().split_inclusive(' ') {
        let word = part.trim_end();
        let fits = line.chars().count() + gap.len() + word.chars().count() <= width;
        if fits || is_blank {
            line.push_str(&gap);
        } else {
            let _ = writeln!(out, "{}", line.trim_end().replace(GLUE, " "));
            line = " ".repeat(indent);
        }
        line.push_str(word);
        is_blank = false;
        gap = " ".repeat(part.len() - word.len());
        // Runs of spaces, as after a state word, arrive as empty words.
        if word.is_empty() {
            line.push_str(&gap);
            gap.clear();
        }
    }
    let _ = writeln!(out, "{}", line.trim_end().replace(GLUE, " "));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::examples;

    #[test]
    fn every_line_fits() {
        for width in [NARROWEST, 60, WIDEST] {
            for reading in [examples::three_cups(), examples::fresh_cup(), examples::no_cup(), examples::panel(), examples::contradiction()]
            {
                let text = photo(&examples::entry("evening.jpg", reading), width) + &cautions(width);
                for line in text.lines() {
                    assert!(line.chars().count() <= width, "{width}: {line}");
                }
            }
        }
    }

    #[test]
    fn figure_keeps_its_per_cent_sign() {
        let mut out = String::new();
        put(&mut out, "chance: nearing 63 %, spent 1 %", 2, 18);
        assert_eq!(out, "chance: nearing\n  63 %, spent 1 %\n");
    }

    #[test]
    fn reads_as_written() {
        let text = photo(&examples::entry("evening.jpg", examples::three_cups()), NARROWEST);
        assert!(text.contains("SPENT    cup 1: pH 5.9 (5.7 to 6.2)\n"), "{text}");
        assert!(text.contains("NEARING  cup 2: pH 5.3 (5.1 to 5.5)\n"), "{text}");
        assert!(text.contains("UNCLEAR  cup 3: pH unknown\n"), "{text}");
        assert!(text.contains("pour it shallower"), "{text}");
        assert!(!text.contains('\u{1b}'), "no colour codes");
    }

    #[test]
    fn verdict_comes_before_the_reasons_of_the_photo() {
        let text = photo(&examples::entry("evening.jpg", examples::three_cups()), 80);
        let at = |part: &str| text.find(part).unwrap();
        assert!(at("SPENT") < at("unevenly lit") && at("unevenly lit") < at("next for cup"), "{text}");
    }

    #[test]
    fn a_panel_has_a_line_of_its_own() {
        let text = photo(&examples::entry("evening.jpg", examples::panel()), 80);
        assert!(text.contains("NEARING  panel of cups 1, 2: pH 5.4 (5.2 to 5.6)\n"), "{text}");
        let text = photo(&examples::entry("evening.jpg", examples::contradiction()), 80);
        assert!(text.contains("UNCLEAR  panel of cups 1, 2: pH unknown\n") && text.contains("cup 2 disagrees"), "{text}");
    }

    #[test]
    fn a_bound_is_told_as_a_bound() {
        let text = photo(&examples::entry("evening.jpg", examples::fresh_cup()), 80);
        assert!(text.contains("FRESH    cup 1: pH below 4.9\n"), "{text}");
        assert!(text.contains("colour alone cannot see how much reserve is left"), "{text}");
    }

    #[test]
    fn summary_fits_and_counts() {
        let entries = [
            examples::entry("a-very-long-folder-name/with/evening.jpg", examples::three_cups()),
            examples::entry("b.jpg", examples::no_cup()),
            examples::failed("c.jpg"),
        ];
        let text = summary(&entries, NARROWEST);
        assert_eq!(text.lines().count(), 1 + 3 + 1 + 1);
        assert!(text.lines().all(|l| l.chars().count() <= NARROWEST), "{text}");
        assert!(text.contains("evening.jpg") || text.contains("ing.jpg"), "{text}");
        assert!(text.contains("damaged") && text.contains("cup-missing") && text.contains("too-deep"), "{text}");
    }

    #[test]
    fn wraps_with_a_hanging_indent() {
        let mut out = String::new();
        put(&mut out, "  one two three", 4, 9);
        assert_eq!(out, "  one two\n    three\n");
    }
}
