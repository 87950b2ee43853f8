//! A day of the calendar, for labels.

use std::fmt;

/// A day of the Gregorian calendar, written year-month-day as in ISO 8601.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Day {
    year: u32,
    month: u32,
    day: u32,
}

impl Day {
    /// A day from 1900 to 9999.
    #[must_use]
    pub fn new(year: u32, month: u32, day: u32) -> Option<Self> {
        let is_one = (1900..=9999).contains(&year) && (1..=12).contains(&month) && day >= 1 && day <= length(year, month);
        is_one.then_some(Day { year, month, day })
    }

    /// Reads `2026-11-26`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let parts: Vec<&str> = text.trim().split('-').collect();
        let [year, month, day] = parts.try_into().ok()?;
        let number = |part: &str, digits: usize| (part.len() == digits).then(|| part.parse::<u32>().ok()).flatten();
        Day::new(number(year, 4)?, number(month, 2)?, number(day, 2)?)
    }

    /// So many days later; none past the year 9999.
    #[must_use]
    pub fn later(self, days: u32) -> Option<Self> {
        let mut left = days;
        let mut at = self;
        loop {
            let rest = length(at.year, at.month) - at.day;
            if left <= rest {
                return Day::new(at.year, at.month, at.day + left);
            }
            left -= rest + 1;
            let (year, month) = if at.month == 12 { (at.year + 1, 1) } else { (at.year, at.month + 1) };
            at = Day::new(year, month, 1)?;
        }
    }
}

fn length(year: u32, month: u32) -> u32 {
    match month {
        2 if year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400)) => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn months_years_and_leap_days_are_crossed() {
        for (from, days, to) in [
            ("2026-11-26", 14, "2026-12-10"),
            ("2026-12-31", 1, "2027-01-01"),
            ("2028-02-15", 14, "2028-02-29"),
            ("2027-02-15", 14, "2027-03-01"),
            ("1999-12-31", 366, "2000-12-31"),
            ("2026-01-01", 0, "2026-01-01"),
        ] {
            assert_eq!(Day::parse(from).unwrap().later(days).unwrap().to_string(), to, "{from}");
        }
        assert_eq!(Day::parse("9999-12-31").unwrap().later(1), None);
    }

    #[test]
    fn what_is_no_day_is_refused() {
        for wrong in ["2026-02-29", "2026-13-01", "2026-00-10", "26-11-26", "2026-11-31", "2026/11/26", "today", "2026-1-1", "+026-11-26"] {
            assert_eq!(Day::parse(wrong), None, "{wrong}");
        }
    }
}
