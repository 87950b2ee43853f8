//! What is said of a calibration.

use super::words::printable;
use crate::calibration::Finding;
use crate::measurement::profile::{Calibrated, Profile};
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
    let known = [profile.date.clone(), profile.camera.clone(), light, profile.note.clone()];
    let known: String = known.into_iter().flatten().map(|fact| format!(", {}", printable(&fact))).collect();
    format!("{name}: {}, {buffers} at {} C{known}\n", evidence.indicator.name, evidence.temperature.value())
}

/// The report for people, with the line end.
#[must_use]
pub fn text(name: &str, profile: &Profile, calibrated: Option<&Calibrated>, findings: &[Finding]) -> String {
    let mut out = String::new();
    out.push_str(&line(name, profile));
    for point in &profile.points {
        let read = match (point.read, point.interval.low, point.interval.high) {
            (Some(read), Some(low), Some(high)) => format!("{read:.2} ({low:.2} to {high:.2})"),
            (_, Some(low), _) => format!("at or above {low:.2}"),
            (_, _, Some(high)) => format!("at or below {high:.2}"),
            _ => "not readable".to_owned(),
        };
        let left = if point.is_used { "" } else { ", left out" };
        let _ = writeln!(out, "  photo {} cup {}: pH {:.2}, by the other buffers {read}{left}", point.photo, point.cup, point.ph);
    }
    if let Some((shift, sd)) = calibrated.map(Calibrated::pka_shift) {
        let _ = writeln!(out, "  pKa' {shift:+.3} +- {sd:.3} against the table");
    }
    if let Some(rms) = profile.left_out_rms() {
        let _ = writeln!(out, "  leave-one-out error {rms:.3} pH");
    }
    if let Some(promise) = profile.promise() {
        let _ = writeln!(out, "  95 % of readings in this light are expected within {promise:.2} pH");
    }
    for found in findings {
        let _ = writeln!(out, "note: {}", finding(found));
    }
    out
}
