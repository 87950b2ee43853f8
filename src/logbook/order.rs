//! The order of entries, and which of them count.
//!
//! Inside one logbook entries without `--at` keep the order in which they were written, whatever the clock did; an afterthought goes to the time at
//! which it happened. Entries of several logbooks are put together by time.

use super::event::{Entry, Event, Id};
use std::collections::{HashMap, HashSet};

/// A clock that went back by less than this is one that was put right, or another machine's: seconds.
pub const CLOCK_SLACK: i64 = 60;

/// Puts entries into the order in which they happened.
#[must_use]
pub fn in_order(mut entries: Vec<Entry>) -> Vec<Entry> {
    entries.sort_by(|a, b| (&a.book, a.number, &a.id).cmp(&(&b.book, b.number, &b.id)));
    let mut latest: HashMap<Id, i64> = HashMap::new();
    let mut keyed: Vec<(i64, Entry)> = Vec::with_capacity(entries.len());
    for entry in entries {
        let at = entry.happened.seconds();
        // The same place in time as what was written before, when the clock was behind.
        let key = if entry.is_afterthought() {
            at
        } else {
            let latest = latest.entry(entry.book.clone()).or_insert(at);
            *latest = at.max(*latest);
            *latest
        };
        keyed.push((key, entry));
    }
    keyed.sort_by(|(a, x), (b, y)| (a, &x.book, x.number).cmp(&(b, &y.book, y.number)));
    keyed.into_iter().map(|(_, entry)| entry).collect()
}

/// Pairs of entries, each written after the other, between which the clock went back: seconds, and the later entry.
#[must_use]
pub fn clock_steps(entries: &[Entry]) -> Vec<(i64, Id)> {
    let mut all: Vec<&Entry> = entries.iter().collect();
    all.sort_by(|a, b| (&a.book, a.number).cmp(&(&b.book, b.number)));
    all.windows(2)
        .filter(|pair| pair[0].book == pair[1].book)
        .map(|pair| (pair[0].recorded.seconds() - pair[1].recorded.seconds(), pair[1].id.clone()))
        .filter(|(back, _)| *back > CLOCK_SLACK)
        .collect()
}

/// Ids of entries that do not count, because an entry that counts undoes them.
#[must_use]
pub fn undone(entries: &[Entry]) -> HashSet<Id> {
    let mut by: HashMap<&Id, Vec<&Id>> = HashMap::new();
    for entry in entries {
        if let Event::Undo { entry: target } = &entry.event {
            by.entry(target).or_default().push(&entry.id);
        }
    }
    let mut known = HashMap::new();
    for entry in entries {
        is_undone(&entry.id, &by, &mut known);
    }
    known.into_iter().filter(|(_, is_undone)| *is_undone).map(|(id, _)| id.clone()).collect()
}

/// An undo may itself be undone. Without recursion, since a file from elsewhere may hold a long chain, or a ring.
fn is_undone<'a>(id: &'a Id, by: &HashMap<&'a Id, Vec<&'a Id>>, known: &mut HashMap<&'a Id, bool>) {
    let mut open = vec![id];
    let mut begun = HashSet::new();
    while let Some(&at) = open.last() {
        let undos = by.get(at).map_or(&[][..], Vec::as_slice);
        let next = if begun.insert(at) { undos.iter().find(|undo| !known.contains_key(*undo) && !begun.contains(*undo)) } else { None };
        match next {
            Some(_) => open.extend(undos.iter().filter(|undo| !known.contains_key(*undo) && !begun.contains(*undo)).copied()),
            None => {
                // Of a ring, which no program writes, the undo looked at first counts.
                let is_undone = undos.iter().any(|undo| !known.get(undo).copied().unwrap_or(false));
                known.entry(at).or_insert(is_undone);
                open.pop();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::logbook::examples::{entry, id};

    fn numbers(entries: &[Entry]) -> Vec<u64> {
        entries.iter().map(|e| e.number).collect()
    }

    #[test]
    fn a_clock_set_back_does_not_change_the_order() {
        let mut all = vec![entry(1, "10:00", Event::Note), entry(2, "09:00", Event::Note), entry(3, "09:05", Event::Note)];
        assert_eq!(clock_steps(&all), [(3600, id(2))]);
        all.reverse();
        assert_eq!(numbers(&in_order(all)), [1, 2, 3]);
    }

    #[test]
    fn an_afterthought_goes_to_its_time() {
        let mut late = entry(3, "10:30", Event::Note);
        late.recorded = entry(3, "12:00", Event::Note).recorded;
        let all = vec![entry(1, "10:00", Event::Note), entry(2, "11:00", Event::Note), late];
        assert!(clock_steps(&all).is_empty());
        assert_eq!(numbers(&in_order(all)), [1, 3, 2]);
    }

    #[test]
    fn an_undo_can_be_undone_and_a_ring_ends() {
        let undo = |number, target| entry(number, "10:00", Event::Undo { entry: id(target) });
        let gone = |entries: &[Entry]| {
            let mut all: Vec<Id> = undone(entries).into_iter().collect();
            all.sort();
            all
        };
        let note = entry(1, "10:00", Event::Note);
        assert_eq!(gone(&[note.clone(), undo(2, 1)]), [id(1)]);
        assert_eq!(gone(&[note.clone(), undo(2, 1), undo(3, 2)]), [id(2)]);
        assert_eq!(gone(&[note.clone(), undo(2, 1), undo(3, 2), undo(4, 3)]), [id(1), id(3)]);
        assert_eq!(gone(&[note, undo(2, 3), undo(3, 2)]).len(), 1);
        let chain: Vec<Entry> = (2..100_000).map(|n| undo(n, n - 1)).collect();
        assert_eq!(undone(&chain).len(), chain.len() / 2);
    }
}
