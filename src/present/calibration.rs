//! What is said of a calibration.

use super::chart::ladder;
use super::html;
use super::svg::{self, escaped};
use super::words::printable;
use crate::calibration::Finding;
use crate::measurement::profile::{Calibrated, Point, Profile};
use crate::present::drawing::Drawing;
use std::fmt::Write as _;

/// A finding as one sentence.
#[must_use]
pub fn finding(finding: &Finding) -> String {
    match finding {
        Finding::Reordered { photo, is_across } => {
            let way = if *is_across { "from left to right" } else { "from top to bottom" };
            format!(
                "photo {photo}: the colours fit the pH only with the cups taken {way}; that order was taken, not the numbers of a reading"
            )
        }
        Finding::LeftOut { photo, cup, ph, read } => {
            let read = read.map_or_else(|| "something else".to_owned(), |read| format!("pH {read:.2}"));
            format!("photo {photo}, cup {cup} was left out: told as pH {ph:.2}, but by the other buffers it has {read}")
        }
        Finding::Unspanned { from, to } => format!(
            "the buffers turn the dye only from {:.0} to {:.0} %; the other side of the transition rests on the built-in model",
            100.0 * from,
            100.0 * to
        ),
        Finding::Turned { taken, taken_sd, seen, seen_sd } => format!(
            "the dye was taken to turn at pH {taken:.2} +- {taken_sd:.2}; by the colours it did at {seen:.2} +- {seen_sd:.2}, an error that all cups share"
        ),
        Finding::Few { used: 1 } => "one buffer moves the built-in model and no more; intervals stay wide".to_owned(),
        Finding::Few { used } => format!("{used} buffers set the scale of the built-in model; five or more would fit the dye freely"),
    }
}

/// One profile in one line, with the line end: name, dye, number of buffers, and what is known of photo and light.
#[must_use]
pub fn line(name: &str, profile: &Profile) -> String {
    let evidence = &profile.evidence;
    let used = evidence.photos.iter().flat_map(|photo| &photo.cups).filter(|cup| cup.is_used).count();
    let buffers = if used == 1 { "1 buffer".to_owned() } else { format!("{used} buffers") };
    let light = evidence.light.map(|kind| format!("{} light", kind.name()));
    let known =
        [profile.date.clone(), profile.camera.clone(), light, profile.lot.as_ref().map(|lot| format!("lot {lot}")), profile.note.clone()];
    let known: String = known.into_iter().flatten().map(|fact| format!(", {}", printable(&fact))).collect();
    format!("{name}: {}, {buffers} at {} C{known}\n", evidence.indicator.name, evidence.temperature.value())
}

/// What the other buffers make of one.
fn read(point: &Point) -> String {
    match (point.read, point.interval.low, point.interval.high) {
        (Some(read), Some(low), Some(high)) => format!("{read:.2} ({low:.2} to {high:.2})"),
        (_, Some(low), _) => format!("at or above {low:.2}"),
        (_, _, Some(high)) => format!("at or below {high:.2}"),
        _ => "not readable".to_owned(),
    }
}

/// The report for people, with the line end.
#[must_use]
pub fn text(name: &str, profile: &Profile, calibrated: Option<&Calibrated>, findings: &[Finding]) -> String {
    let mut out = String::new();
    out.push_str(&line(name, profile));
    for point in &profile.points {
        let read = read(point);
        let left = if point.is_used { "" } else { ", left out" };
        let _ = writeln!(out, "  photo {} cup {}: pH {:.2}, by the other buffers {read}{left}", point.photo, point.cup, point.ph);
    }
    for fact in facts(profile, calibrated) {
        let _ = writeln!(out, "  {fact}");
    }
    for found in findings {
        let _ = writeln!(out, "note: {}", finding(found));
    }
    out
}

/// The curve with the buffers on it and their errors; `calibrated` is the profile made ready, for the pKa' that it found.
#[must_use]
pub fn drawing(name: &str, profile: &Profile, calibrated: Option<&Calibrated>) -> Drawing {
    let shift = calibrated.map_or(0.0, |calibrated| calibrated.pka_shift().0);
    ladder::draw(&printable(name), profile, ladder::pka(profile, shift))
}

/// The same on a page that needs nothing else.
#[must_use]
pub fn page(name: &str, profile: &Profile, calibrated: Option<&Calibrated>, findings: &[Finding]) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "<p class=\"about\">{}</p>", escaped(line(name, profile).trim_end()));
    out.push_str("<table class=\"cups\"><thead><tr>");
    for column in COLUMNS {
        let _ = write!(out, "<th scope=\"col\">{column}</th>");
    }
    out.push_str("</tr></thead><tbody>\n");
    for (k, cells) in rows(profile).into_iter().enumerate() {
        let _ = write!(out, "<tr><th scope=\"row\">{}</th>", k + 1);
        for (column, text) in COLUMNS[1..].iter().zip(cells) {
            let _ = write!(out, "<td data-name=\"{column}\">{}</td>", escaped(&text));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody></table>\n<ul>\n");
    for fact in facts(profile, calibrated).into_iter().chain(findings.iter().map(finding)) {
        let _ = writeln!(out, "<li>{}</li>", escaped(&fact));
    }
    let _ = writeln!(out, "</ul>\n<figure>{}</figure>", svg::inline(&drawing(name, profile, calibrated)));
    html::alone(&format!("Calibration {name}"), &out)
}

/// Columns of the table of buffers, the first for their numbers.
pub const COLUMNS: [&str; 5] = ["buffer", "photo and cup", "pH told", "by the others (95 %)", "error"];

/// Rows of that table without the number: one for each buffer, in order.
#[must_use]
pub fn rows(profile: &Profile) -> Vec<[String; 4]> {
    let row = |point: &Point| {
        let error = point.error().map_or_else(|| "-".to_owned(), |error| format!("{error:+.3}"));
        let left = if point.is_used { "" } else { ", left out" };
        [format!("photo {}, cup {}", point.photo, point.cup), format!("{:.2}", point.ph), read(point) + left, error]
    };
    profile.points.iter().map(row).collect()
}

/// What the calibration as a whole is worth.
#[must_use]
pub fn facts(profile: &Profile, calibrated: Option<&Calibrated>) -> Vec<String> {
    let mut facts = Vec::new();
    if let Some((shift, sd)) = calibrated.map(Calibrated::pka_shift) {
        facts.push(format!("pKa' {shift:+.3} +- {sd:.3} against the table"));
    }
    if let Some(rms) = profile.left_out_rms() {
        facts.push(format!("leave-one-out error {rms:.3} pH"));
    }
    if let Some(promise) = profile.promise() {
        facts.push(format!("95 % of readings in this light are expected within {promise:.2} pH"));
    }
    facts
}
