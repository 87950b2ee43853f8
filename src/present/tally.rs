//! The count of a run: photos, states, failures.

use super::{Entry, words};
use crate::measurement::reading::State;

/// What many photos came to.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tally {
    /// Photos that gave a reading.
    pub read: usize,
    /// Photos that gave none.
    pub failed: usize,
    /// Photos that were read and show no cup.
    pub without_cup: usize,
    /// Cups that are spent, nearing, fresh and unclear.
    pub cups: [usize; 4],
    /// Raw files that were passed over.
    pub raw: usize,
    /// Files that are no photos and were passed over.
    pub other: usize,
}

/// The states in the order of [`Tally::cups`].
const STATES: [State; 4] = [State::Spent, State::Nearing, State::Fresh, State::Unclear];

impl Tally {
    /// Counts one photo.
    pub fn add(&mut self, entry: &Entry) {
        let Ok(reading) = &entry.outcome else {
            self.failed += 1;
            return;
        };
        self.read += 1;
        self.without_cup += usize::from(reading.cups.is_empty());
        for cup in &reading.cups {
            self.cups[STATES.iter().position(|state| *state == cup.state).unwrap_or(3)] += 1;
        }
    }

    /// True when at least one cup got a state other than unclear.
    #[must_use]
    pub fn is_judged(&self) -> bool {
        self.cups[..3].iter().any(|count| *count > 0)
    }

    /// The count in one sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let mut parts = vec![format!("{}: {} read, {} failed", counted(self.read + self.failed, "photo"), self.read, self.failed)];
        let states: Vec<String> = STATES.iter().zip(self.cups).map(|(state, count)| format!("{count} {}", words::state(*state))).collect();
        parts.push(format!("{}: {}", counted(self.cups.iter().sum(), "cup"), states.join(", ")));
        if self.without_cup > 0 {
            parts.push(format!("{} without a cup", counted(self.without_cup, "photo")));
        }
        let mut passed = Vec::new();
        if self.raw > 0 {
            passed.push(counted(self.raw, "raw file"));
        }
        if self.other > 0 {
            passed.push(counted(self.other, "other file"));
        }
        if !passed.is_empty() {
            parts.push(format!("passed over: {}", passed.join(", ")));
        }
        parts.join("; ")
    }
}

fn counted(count: usize, thing: &str) -> String {
    format!("{count} {thing}{}", if count == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::examples;

    #[test]
    fn everything_is_counted() {
        let mut tally = Tally { raw: 1, other: 2, ..Tally::default() };
        assert!(!tally.is_judged());
        for reading in [examples::no_cup(), examples::three_cups(), examples::fresh_cup()] {
            tally.add(&examples::entry("a.jpg", reading));
        }
        tally.add(&examples::failed("b.jpg"));
        assert!(tally.is_judged());
        assert_eq!(
            tally.sentence(),
            "4 photos: 3 read, 1 failed; 4 cups: 1 spent, 1 nearing, 1 fresh, 1 unclear; 1 photo without a cup; \
             passed over: 1 raw file, 2 other files"
        );
    }
}
