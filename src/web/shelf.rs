//! Photos and their readings, kept in memory for a while, within bounds.

use super::token::{self, NoRandomness};
use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// Bytes of all that is kept. Ten photos of a phone; beyond, the oldest goes.
const BYTES: usize = 64 << 20;
/// A thing is kept for this long after it was last looked at.
const LIFE: Duration = Duration::from_secs(3600);

/// Knows about how much memory it takes.
pub(super) trait Weighty {
    /// Bytes, roughly.
    fn bytes(&self) -> usize;
}

/// Things under names that nobody can guess.
#[derive(Debug)]
pub(super) struct Shelf<T> {
    /// Least recently used first.
    kept: VecDeque<(String, Instant, T)>,
    bytes: usize,
}

impl<T: Weighty + Clone> Shelf<T> {
    pub(super) fn new() -> Self {
        Shelf { kept: VecDeque::new(), bytes: 0 }
    }

    /// Keeps a thing and names it.
    pub(super) fn put(&mut self, thing: T, now: Instant) -> Result<String, NoRandomness> {
        let name = token::token()?;
        self.add(name.clone(), thing, now);
        Ok(name)
    }

    /// Keeps a thing in place of the one of that name, if that is still there.
    pub(super) fn replace(&mut self, name: &str, thing: T, now: Instant) {
        if self.take(name).is_some() {
            self.add(name.to_owned(), thing, now);
        }
    }

    /// The thing of that name, unless it has gone.
    pub(super) fn get(&mut self, name: &str, now: Instant) -> Option<T> {
        while self.kept.front().is_some_and(|(_, used, _)| now.duration_since(*used) >= LIFE) {
            self.drop_oldest();
        }
        let (name, _, thing) = self.take(name)?;
        self.add(name, thing.clone(), now);
        Some(thing)
    }

    fn add(&mut self, name: String, thing: T, now: Instant) {
        self.bytes += thing.bytes();
        self.kept.push_back((name, now, thing));
        // The newest stays, whatever its size: somebody waits for it.
        while self.bytes > BYTES && self.kept.len() > 1 {
            self.drop_oldest();
        }
    }

    fn take(&mut self, name: &str) -> Option<(String, Instant, T)> {
        let at = self.kept.iter().position(|(known, ..)| known == name)?;
        let taken = self.kept.remove(at)?;
        self.bytes -= taken.2.bytes();
        Some(taken)
    }

    fn drop_oldest(&mut self) {
        if let Some((_, _, thing)) = self.kept.pop_front() {
            self.bytes -= thing.bytes();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, Clone, PartialEq)]
    struct Weight(usize);

    impl Weighty for Weight {
        fn bytes(&self) -> usize {
            self.0
        }
    }

    #[test]
    fn keeps_what_is_used_and_stays_within_bounds() {
        let now = Instant::now();
        let mut shelf = Shelf::new();
        let third = BYTES / 3;
        let names: Vec<String> = (0..3).map(|_| shelf.put(Weight(third), now).unwrap()).collect();
        assert_eq!(shelf.get(&names[0], now), Some(Weight(third)));
        let fourth = shelf.put(Weight(third), now).unwrap();
        assert!(shelf.bytes <= BYTES);
        assert!(shelf.get(&names[1], now).is_none(), "least recently used");
        assert!(shelf.get(&names[0], now).is_some() && shelf.get(&fourth, now).is_some());
        let huge = shelf.put(Weight(2 * BYTES), now).unwrap();
        assert!(shelf.get(&huge, now).is_some() && shelf.kept.len() == 1);
    }

    #[test]
    fn forgets_after_a_while() {
        let now = Instant::now();
        let mut shelf = Shelf::new();
        let name = shelf.put(Weight(1), now).unwrap();
        assert!(shelf.get(&name, now + LIFE / 2).is_some());
        assert!(shelf.get(&name, now + LIFE).is_some(), "it was looked at in between");
        assert!(shelf.get(&name, now + 2 * LIFE).is_none());
        assert_eq!(shelf.bytes, 0);
        shelf.replace(&name, Weight(5), now);
        assert_eq!(shelf.bytes, 0, "what has gone is not replaced");
    }
}
