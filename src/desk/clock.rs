//! The clock on the wall, with its zone, and times as people type them.

use crate::logbook::moment::Moment;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{AmbiguousOffset, Offset, TimeZone};
use jiff::{RoundMode, Unit, ZonedDateTime, ZonedDateTimeRound};

/// Environment variable that stands in for the clock, for tests and for machines whose clock cannot be trusted: date, time, offset and zone.
const VARIABLE: &str = "TINTPOINT_NOW";

/// Seconds by which `--at` may lie ahead: clocks of two machines.
const AHEAD: i64 = 300;

/// What is wrong with a time.
#[derive(Debug, thiserror::Error)]
pub enum ClockError {
    /// Not to be read as a time.
    #[error("`{0}` is no date and time")]
    Unread(String),
    /// It has not happened yet.
    #[error("{at} lies after now, {now}")]
    Future {
        /// As told, to the minute.
        at: String,
        /// Now, to the minute.
        now: String,
    },
    /// The clocks of that zone went past it.
    #[error("`{text}` was no time of the clock: on {date} it went from {from} to {to}")]
    Skipped {
        /// As typed.
        text: String,
        /// The date.
        date: String,
        /// Where the clock stood before the step.
        from: String,
        /// And after it.
        to: String,
    },
    /// The variable that stands in for the clock cannot be read.
    #[error("{VARIABLE} `{0}` is no date and time with an offset and a zone")]
    Variable(String),
}

impl ClockError {
    /// The next thing to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            ClockError::Unread(_) => "write 2026-03-14 19:30, or 19:30 for today; with another zone 2026-03-14T19:30+01:00[Europe/Vienna]",
            ClockError::Future { .. } => "give when it happened; check the clock of this machine",
            ClockError::Skipped { .. } => "give a time before or after that, or one with its offset: 2026-03-29T02:30+01:00",
            ClockError::Variable(_) => "unset it, or write 2026-03-14T19:30:00+01:00[Europe/Vienna]",
        }
    }
}

/// Now, to the second.
///
/// # Errors
/// [`ClockError::Variable`].
pub fn now() -> Result<ZonedDateTime, ClockError> {
    let now = match std::env::var(VARIABLE) {
        Ok(text) if !text.is_empty() => text.parse::<ZonedDateTime>().map_err(|_| ClockError::Variable(text))?,
        _ => ZonedDateTime::now(),
    };
    let whole = ZonedDateTimeRound::new().smallest(Unit::Second).mode(RoundMode::Trunc);
    Ok(now.round(whole).unwrap_or(now))
}

/// Now, in seconds since 1970.
///
/// # Errors
/// As [`now`].
pub fn seconds() -> Result<i64, ClockError> {
    Ok(now()?.timestamp().as_second())
}

/// A time as it is kept.
///
/// # Errors
/// [`ClockError::Unread`] where the logbook has no such time.
pub fn moment(at: &ZonedDateTime) -> Result<Moment, ClockError> {
    Moment::parse(&at.to_string()).map_err(|e| ClockError::Unread(e.0))
}

/// The date of a time in seconds since 1970, in the zone of now; a time out of all calendars has none.
#[must_use]
pub fn date_of(seconds: i64) -> String {
    let zone = now().map_or_else(|_| TimeZone::system(), |now| now.time_zone().clone());
    jiff::Timestamp::from_second(seconds).map_or_else(|_| "-".to_owned(), |at| at.to_zoned_datetime(zone).date().to_string())
}

/// A time as it is typed: date and time, time of today, a date alone (its noon), or with an offset and a zone.
///
/// # Errors
/// [`ClockError::Unread`] and [`ClockError::Future`].
pub fn typed(text: &str, now: &ZonedDateTime) -> Result<ZonedDateTime, ClockError> {
    let text = text.trim();
    let unread = || ClockError::Unread(text.to_owned());
    let zone = now.time_zone();
    let at = if let Ok(zoned) = text.parse::<ZonedDateTime>() {
        // Without an offset a time that the zone skips is moved; that must be seen.
        let typed = text.split('[').next().and_then(|civil| civil.parse::<DateTime>().ok()).unwrap_or(zoned.datetime());
        unskipped(text, typed, zoned.time_zone())?.unwrap_or(zoned)
    } else if text.contains('[') {
        // A zone that is not known, or never had that offset.
        return Err(unread());
    } else if let Ok(stamp) = text.parse::<jiff::Timestamp>() {
        stamp.to_zoned_datetime(zone.clone())
    } else {
        let civil = local(text, now).ok_or_else(unread)?;
        match unskipped(text, civil, zone)? {
            Some(zoned) => zoned,
            None => civil.to_zoned_datetime(zone.clone()).map_err(|_| unread())?,
        }
    };
    if at.timestamp().as_second() > now.timestamp().as_second() + AHEAD {
        return Err(ClockError::Future { at: minute(&at), now: minute(now) });
    }
    Ok(at)
}

/// Refuses a time that the clocks of a zone skipped, and names the gap. Nothing to put in its place otherwise.
fn unskipped(text: &str, civil: DateTime, zone: &TimeZone) -> Result<Option<ZonedDateTime>, ClockError> {
    let AmbiguousOffset::Gap { before, after } = zone.to_ambiguous_zoned_datetime(civil).offset() else { return Ok(None) };
    // Reckoned with the offset from before, it lies just after the step.
    let step = before.to_timestamp(civil).ok().and_then(|at| zone.preceding(at).next()).map(|step| step.timestamp());
    let shown = |offset: Offset| step.map_or_else(|| "?".to_owned(), |step| offset.to_datetime(step).strftime("%H:%M").to_string());
    let date = civil.date().to_string();
    Err(ClockError::Skipped { text: text.to_owned(), date, from: shown(before), to: shown(after) })
}

fn local(text: &str, now: &ZonedDateTime) -> Option<DateTime> {
    if text.contains(':') && !text.contains('-') {
        return Some(now.date().to_datetime(text.parse::<Time>().ok()?));
    }
    if text.len() <= 10 {
        return Some(text.parse::<Date>().ok()?.at(12, 0, 0, 0));
    }
    text.parse().ok()
}

fn minute(at: &ZonedDateTime) -> String {
    at.strftime("%Y-%m-%d %H:%M").to_string()
}

/// The date of a time on the clock of this machine, such as `2026-03-14`, days later.
#[must_use]
pub fn date_after(at: &Moment, days: i64) -> String {
    let zone = TimeZone::system();
    let zoned =
        at.text().parse::<ZonedDateTime>().ok().or_else(|| Some(at.text().parse::<jiff::Timestamp>().ok()?.to_zoned_datetime(zone)));
    let later = zoned.and_then(|zoned| zoned.date().checked_add(jiff::Span::new().days(days)).ok());
    later.map_or_else(|| at.date().to_owned(), |date| date.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_taken_as_people_type_them() {
        let now: ZonedDateTime = "2026-03-14T21:00:00+01:00[Europe/Vienna]".parse().unwrap();
        for (text, wanted) in [
            ("19:30", "2026-03-14T19:30:00+01:00[Europe/Vienna]"),
            ("2026-03-13 19:30", "2026-03-13T19:30:00+01:00[Europe/Vienna]"),
            ("2026-03-13", "2026-03-13T12:00:00+01:00[Europe/Vienna]"),
            ("2026-03-14T18:30:00Z", "2026-03-14T19:30:00+01:00[Europe/Vienna]"),
            ("2026-03-14T09:30-04:00[America/New_York]", "2026-03-14T09:30:00-04:00[America/New_York]"),
        ] {
            assert_eq!(typed(text, &now).unwrap().to_string(), wanted, "{text}");
        }
        // New York has summer time by then.
        assert!(typed("2026-03-14T09:30-05:00[America/New_York]", &now).is_err());
        assert!(matches!(typed("23:00", &now), Err(ClockError::Future { .. })));
        assert!(typed("tonight", &now).is_err() && typed("2026-02-30", &now).is_err() && typed("", &now).is_err());
    }

    // In Vienna the clocks of 29 March 2026 go from 02:00 to 03:00 (summer time of the European Union, last Sunday of March). Before, 02:30 became 03:30.
    #[test]
    fn an_hour_that_was_skipped_is_refused_with_its_gap() {
        let now: ZonedDateTime = "2026-03-30T21:00:00+02:00[Europe/Vienna]".parse().unwrap();
        for text in ["2026-03-29 02:30", "2026-03-29T02:30[Europe/Vienna]"] {
            let error = typed(text, &now).unwrap_err();
            assert!(matches!(&error, ClockError::Skipped { from, to, .. } if from == "02:00" && to == "03:00"), "{text}: {error}");
        }
        for (text, wanted) in [
            ("2026-03-29 03:00", "2026-03-29T03:00:00+02:00[Europe/Vienna]"),
            ("2026-03-29 01:59", "2026-03-29T01:59:00+01:00[Europe/Vienna]"),
            ("2026-03-29T02:30+01:00", "2026-03-29T03:30:00+02:00[Europe/Vienna]"),
            // The hour that comes twice is taken the first time.
            ("2025-10-26 02:30", "2025-10-26T02:30:00+02:00[Europe/Vienna]"),
        ] {
            assert_eq!(typed(text, &now).unwrap().to_string(), wanted, "{text}");
        }
    }

    #[test]
    fn days_later_is_a_date() {
        let at = Moment::parse("2026-02-27T23:00:00+01:00[Europe/Vienna]").unwrap();
        assert_eq!((date_after(&at, 0), date_after(&at, 14)), ("2026-02-27".to_owned(), "2026-03-13".to_owned()));
    }
}
