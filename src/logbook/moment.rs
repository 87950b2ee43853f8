//! A point in time as people wrote it down: date, time, offset and zone.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::fmt;

/// A point in time with its offset and, where known, its zone: `2026-03-14T19:30:00+01:00[Europe/Vienna]` (RFC 9557).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Moment {
    text: String,
    /// Seconds since 1970 UTC.
    seconds: i64,
}

/// A text that is no point in time.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is no date and time with an offset")]
pub struct MomentError(pub String);

impl Moment {
    /// Reads what [`Moment::text`] gives; the offset decides, so that no table of zones is needed.
    ///
    /// # Errors
    /// [`MomentError`] when there is no date, time or offset.
    pub fn parse(text: &str) -> Result<Self, MomentError> {
        let wrong = || MomentError(text.to_owned());
        let seconds = text.parse::<Timestamp>().map_err(|_| wrong())?.as_second();
        Ok(Moment { text: text.to_owned(), seconds })
    }

    /// Seconds since 1970 UTC.
    #[must_use]
    pub fn seconds(&self) -> i64 {
        self.seconds
    }

    /// As it is kept.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Its date where it was written down, such as `2026-03-14`.
    #[must_use]
    pub fn date(&self) -> &str {
        self.text.get(..10).unwrap_or(&self.text)
    }

    /// Date and minute where it was written down, such as `2026-03-14 19:30`.
    #[must_use]
    pub fn minute(&self) -> String {
        self.text.get(..16).unwrap_or(&self.text).replace('T', " ")
    }
}

impl TryFrom<String> for Moment {
    type Error = MomentError;
    fn try_from(text: String) -> Result<Self, MomentError> {
        Moment::parse(&text)
    }
}

impl From<Moment> for String {
    fn from(moment: Moment) -> String {
        moment.text
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.text.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // 2026-03-14 18:30 UTC is 1773513000 by `date -u -d '2026-03-14 18:30' +%s`.
    #[test]
    fn offset_decides_and_text_stays() {
        let moment = Moment::parse("2026-03-14T19:30:00+01:00[Europe/Vienna]").unwrap();
        assert_eq!((moment.seconds(), moment.date(), moment.minute().as_str()), (1_773_513_000, "2026-03-14", "2026-03-14 19:30"));
        assert_eq!(Moment::parse(moment.text()).unwrap(), moment);
        assert_eq!(String::from(moment.clone()), moment.text());
        assert!(Moment::parse("2026-03-14 19:30").is_err() && Moment::parse("tonight").is_err());
    }
}
