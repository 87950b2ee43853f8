//! What stands out in the record of a bath.

use super::age;
use super::bridge;
use super::event::{Entry, Event, Id, Keeping, Reading, Work};
use super::ledger::Bath;
use super::order::CLOCK_SLACK;
use super::recipe::Acid;

/// Seconds of a day.
const DAY: i64 = 86_400;
/// Half the interval taken for a reading by hand that names none, pH: what indicator paper and a cheap meter hold (common practice).
const HAND: f64 = 0.2;

/// Something to tell about a record.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Finding {
    /// A reading is lower than one before it, and nothing that would explain it was written down.
    Backward {
        /// The earlier reading.
        earlier: Id,
        /// The later one.
        later: Id,
        /// Lowest pH of the earlier one.
        from: f64,
        /// Highest pH of the later one.
        to: f64,
    },
    /// Several people read the same bath with nothing between.
    Spread {
        /// Who.
        readers: Vec<String>,
        /// Lowest likely pH.
        low: f64,
        /// Median: the one to trust.
        median: f64,
        /// Highest likely pH.
        high: f64,
    },
    /// One photo was read more than once: the last reading of it counts.
    SamePhoto {
        /// The first of them.
        earlier: Id,
        /// The one that counts.
        later: Id,
    },
    /// Strengthened more than once.
    ToppedUp {
        /// How often.
        times: usize,
    },
    /// Film and paper went through the same bath.
    MixedWork,
    /// Something else went through than the bath is for.
    WrongWork {
        /// What it is for.
        wanted: Work,
    },
    /// More was taken out than was in.
    Overdrawn,
    /// Older than such a bath is usually kept.
    Old {
        /// Days since it was mixed.
        days: i64,
        /// Usual limit, days.
        limit: i64,
    },
    /// Used after it was thrown away.
    AfterDiscard {
        /// Entries since.
        entries: usize,
    },
    /// An entry is dated before its bath was mixed.
    BeforeMix {
        /// The first of them.
        entry: Id,
        /// How many.
        entries: usize,
    },
    /// An entry is dated after now.
    Future {
        /// Which.
        entry: Id,
    },
}

/// Days that a bath is usually kept, by acid and keeping: whole days of [`age::usual_limit`].
#[must_use]
pub fn usual_days(acid: Acid, keeping: Keeping) -> i64 {
    age::usual_limit(bridge::acid(acid), bridge::keeping(keeping)) as i64
}

/// Lower and upper end of a reading, pH, as far as known.
fn ends(reading: &Reading) -> (Option<f64>, Option<f64>) {
    match (reading.ph_low, reading.ph_high, reading.ph) {
        (None, None, Some(ph)) => (Some(ph - HAND), Some(ph + HAND)),
        (low, high, _) => (low, high),
    }
}

/// All that stands out, `now` in seconds since 1970.
pub(super) fn of(bath: &Bath, now: i64) -> Vec<Finding> {
    let mut found = backward(bath);
    found.extend(spread(bath));
    found.extend(bath.counting().find_map(|entry| {
        let later = bath.read_again(entry)?.id.clone();
        Some(Finding::SamePhoto { earlier: entry.id.clone(), later })
    }));
    let standing = bath.standing();
    if standing.top_ups > 1 {
        found.push(Finding::ToppedUp { times: standing.top_ups });
    }
    found.extend(work(bath));
    if standing.overdrawn {
        found.push(Finding::Overdrawn);
    }
    let limit = usual_days(bath.start.recipe.acid, bath.start.keeping);
    let days = (now - bath.mixed.happened.seconds()).div_euclid(DAY);
    if bath.discarded().is_none() && days > limit {
        found.push(Finding::Old { days, limit });
    }
    let after = bath.counting().skip_while(|entry| !matches!(entry.event, Event::Discard { .. })).skip(1);
    match after.filter(|entry| matches!(entry.event, Event::Load(_) | Event::Reading(_) | Event::TopUp { .. })).count() {
        0 => {}
        entries => found.push(Finding::AfterDiscard { entries }),
    }
    found.extend(before_mix(bath));
    // An hour of grace for clocks of other machines.
    if let Some(entry) = bath.counting().find(|entry| entry.happened.seconds() > now + 3600) {
        found.push(Finding::Future { entry: entry.id.clone() });
    }
    found
}

impl Finding {
    /// True when an entry has a date that cannot be.
    #[must_use]
    pub fn is_of_dates(&self) -> bool {
        matches!(self, Finding::BeforeMix { .. } | Finding::Future { .. })
    }
}

/// Nothing goes through a bath that is not there yet: the date of one of the two is wrong, or it went through the bath before.
fn before_mix(bath: &Bath) -> Option<Finding> {
    // Two clocks may differ, and a bath is written down after it was mixed.
    let is_before = |entry: &&Entry| entry.happened.seconds() + CLOCK_SLACK < bath.mixed.happened.seconds();
    let mut early = bath.counting().filter(is_before).filter(|entry| !matches!(entry.event, Event::Note | Event::Undo { .. }));
    let entry = early.next()?.id.clone();
    Some(Finding::BeforeMix { entry, entries: 1 + early.count() })
}

/// A bath does not become more acid by itself: wrong cup, a top-up not written down, or another light.
fn backward(bath: &Bath) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut highest: Option<(&Entry, f64)> = None;
    for entry in bath.counting() {
        match &entry.event {
            Event::TopUp { recipe: Some(_), .. } => highest = None,
            Event::Reading(reading) => {
                let (low, high) = ends(reading);
                if let (Some((earlier, from)), Some(to)) = (highest, high)
                    && to < from
                {
                    found.push(Finding::Backward { earlier: earlier.id.clone(), later: entry.id.clone(), from, to });
                }
                if let Some(low) = low.filter(|low| highest.is_none_or(|(_, from)| *low > from)) {
                    highest = Some((entry, low));
                }
            }
            _ => {}
        }
    }
    found
}

/// Readings since the bath last changed, when more than one person made them.
fn spread(bath: &Bath) -> Option<Finding> {
    let same = bath.counting().rev().take_while(|entry| matches!(entry.event, Event::Reading(_) | Event::Note | Event::Undo { .. }));
    let mut read: Vec<(f64, &str)> = same
        .filter_map(|entry| match &entry.event {
            Event::Reading(reading) => Some((reading.ph?, entry.who.as_str())),
            _ => None,
        })
        .collect();
    read.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    let mut readers: Vec<String> = read.iter().map(|(_, who)| (*who).to_owned()).collect();
    readers.sort();
    readers.dedup();
    if readers.len() < 2 {
        return None;
    }
    let at = |place: usize| read.get(place).map_or(f64::NAN, |(ph, _)| *ph);
    let middle = read.len() / 2;
    let median = if read.len() % 2 == 1 { at(middle) } else { 0.5 * (at(middle - 1) + at(middle)) };
    Some(Finding::Spread { readers, low: at(0), median, high: at(read.len() - 1) })
}

fn work(bath: &Bath) -> Option<Finding> {
    let loads = bath.counting().filter_map(|entry| match &entry.event {
        Event::Load(load) => Some(load),
        _ => None,
    });
    let (mut film, mut paper) = (false, false);
    for pieces in loads.flat_map(|load| &load.pieces) {
        film |= pieces.piece.is_film();
        paper |= !pieces.piece.is_film();
    }
    match bath.start.work {
        _ if film && paper => Some(Finding::MixedWork),
        Work::Film if paper => Some(Finding::WrongWork { wanted: Work::Film }),
        Work::Paper if film => Some(Finding::WrongWork { wanted: Work::Paper }),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::logbook::event::{PhotoSeen, Word};
    use crate::logbook::examples::{citric, entry, id, load, mixed, reading};
    use crate::logbook::ledger::Ledger;

    fn found(events: Vec<Entry>) -> Vec<Finding> {
        let mut all = vec![entry(1, "08:00", mixed())];
        all.extend(events);
        let now = all.iter().map(|e| e.happened.seconds()).max().unwrap();
        Ledger::of(all).baths[0].findings(now)
    }

    #[test]
    fn a_reading_that_goes_backwards_is_flagged_unless_a_top_up_explains_it() {
        let (high, low) = (reading(5.0, 5.4, Word::Nearing), reading(4.0, 4.4, Word::Fresh));
        let flagged = found(vec![entry(2, "09:00", high.clone()), entry(3, "10:00", low.clone())]);
        assert_eq!(flagged, [Finding::Backward { earlier: id(2), later: id(3), from: 5.0, to: 4.4 }]);
        let top_up = |recipe| entry(3, "09:30", Event::TopUp { volume_ml: 100.0, recipe });
        assert!(found(vec![entry(2, "09:00", high.clone()), top_up(Some(citric())), entry(4, "10:00", low.clone())]).is_empty());
        // Water makes no bath more acid.
        assert_eq!(found(vec![entry(2, "09:00", high.clone()), top_up(None), entry(4, "10:00", low)]).len(), 1);
        // Intervals that meet are no contradiction.
        assert!(found(vec![entry(2, "09:00", high), entry(3, "10:00", reading(4.6, 5.1, Word::Nearing))]).is_empty());
    }

    /// A reading of the photo with that fingerprint.
    fn of_photo(sha256: &str, low: f64, high: f64) -> Event {
        let Event::Reading(read) = reading(low, high, Word::Fresh) else { unreachable!() };
        let seen = PhotoSeen { name: "cup.jpg".to_owned(), sha256: sha256.to_owned(), taken: None, kept: false };
        Event::Reading(Reading { photo: Some(seen), ..read })
    }

    // Each photo is counted as an independent measurement of the bath, and one that is read again is none.
    #[test]
    fn a_photo_read_twice_counts_once() {
        let life = |events: Vec<Entry>| Ledger::of([vec![entry(1, "08:00", mixed())], events].concat()).baths[0].life().unwrap();
        let (first, again) = (entry(2, "09:00", of_photo("aa", 4.0, 4.6)), entry(3, "09:10", of_photo("aa", 4.1, 4.5)));
        let other = entry(4, "09:20", of_photo("bb", 4.0, 4.6));
        assert_eq!(life(vec![first.clone(), again.clone()]).steps, life(vec![again.clone()]).steps);
        assert_eq!(life(vec![first.clone(), other.clone()]).steps.len(), 2);
        assert_eq!(found(vec![first.clone(), again.clone(), other.clone()]), [Finding::SamePhoto { earlier: id(2), later: id(3) }]);
        assert!(found(vec![first.clone(), other]).is_empty());
        // What was undone neither counts nor stands in for another.
        assert_eq!(life(vec![first, again, entry(4, "09:30", Event::Undo { entry: id(3) })]).steps.len(), 1);
    }

    #[test]
    fn spread_of_several_readers_has_its_median() {
        let mut all = vec![
            entry(2, "09:00", reading(3.0, 3.4, Word::Fresh)),
            entry(3, "10:00", load("8x10rc", 4.0)),
            entry(4, "11:00", reading(4.0, 4.4, Word::Fresh)),
            entry(5, "11:05", reading(4.2, 4.6, Word::Fresh)),
            entry(6, "11:10", reading(4.3, 4.9, Word::Fresh)),
        ];
        assert!(found(all.clone()).is_empty());
        all[3].who = "ben".to_owned();
        let readers = vec!["ada".to_owned(), "ben".to_owned()];
        let spread = found(all);
        let [Finding::Spread { readers: who, low, median, high }] = spread.as_slice() else { panic!("{spread:?}") };
        assert_eq!(*who, readers);
        assert!((low - 4.2).abs() < 1e-9 && (median - 4.4).abs() < 1e-9 && (high - 4.6).abs() < 1e-9);
    }

    // Held against the highest before, not the first; and between two people's figures the median is half-way.
    #[test]
    fn the_highest_reading_counts_and_two_have_their_middle() {
        let rising = [(2, "09:00", 4.0), (3, "10:00", 5.0), (4, "11:00", 4.3)];
        let flagged = found(rising.map(|(number, time, low)| entry(number, time, reading(low, low + 0.4, Word::Fresh))).to_vec());
        assert!(matches!(&flagged[..], [Finding::Backward { earlier, from, .. }] if *earlier == id(3) && (*from - 5.0).abs() < 1e-9));
        let other = Entry { who: "ben".to_owned(), ..entry(3, "09:10", reading(4.3, 4.7, Word::Fresh)) };
        let spread = found(vec![entry(2, "09:00", reading(4.1, 4.5, Word::Fresh)), other]);
        let [Finding::Spread { low, median, high, .. }] = spread.as_slice() else { panic!("{spread:?}") };
        assert!((low - 4.3).abs() < 1e-9 && (median - 4.4).abs() < 1e-9 && (high - 4.5).abs() < 1e-9);
    }

    // Paper and a cheap meter hold 0.2 to either side: 5.0 and 4.7 may be one bath, 5.0 and 4.5 are not.
    #[test]
    fn figures_by_hand_have_the_doubt_of_paper() {
        let by_hand = |ph: f64| {
            let Event::Reading(mut figure) = reading(ph, ph, Word::Fresh) else { unreachable!() };
            (figure.ph_low, figure.ph_high) = (None, None);
            Event::Reading(figure)
        };
        let twice = |second: f64| found(vec![entry(2, "09:00", by_hand(5.0)), entry(3, "10:00", by_hand(second))]);
        assert!(twice(4.7).is_empty());
        assert!(matches!(twice(4.5)[..], [Finding::Backward { .. }]));
    }

    #[test]
    fn film_in_a_paper_bath_and_use_after_discard_are_told() {
        assert_eq!(found(vec![entry(2, "09:00", load("120", 1.0))]), [Finding::WrongWork { wanted: Work::Paper }]);
        assert_eq!(found(vec![entry(2, "09:00", load("120", 1.0)), entry(3, "09:00", load("8x10rc", 1.0))]), [Finding::MixedWork]);
        let mut film = mixed();
        if let Event::Mixed(start) = &mut film {
            start.work = Work::Film;
        }
        let paper = entry(2, "09:00", load("8x10rc", 1.0));
        let now = paper.happened.seconds();
        let ledger = Ledger::of(vec![entry(1, "08:00", film), paper]);
        assert_eq!(ledger.baths[0].findings(now), [Finding::WrongWork { wanted: Work::Film }]);
        let gone = entry(2, "09:00", Event::Discard { reason: "spent".to_owned() });
        assert_eq!(found(vec![gone, entry(3, "10:00", load("8x10rc", 1.0))]), [Finding::AfterDiscard { entries: 1 }]);
    }

    // Before, they were sorted behind the mixing without a word.
    #[test]
    fn what_happened_before_the_bath_was_there_is_told() {
        let early = entry(3, "07:30", load("8x10rc", 1.0));
        let flagged = found(vec![entry(2, "08:00", reading(3.0, 4.0, Word::Fresh)), early.clone(), entry(4, "07:00", Event::Note)]);
        assert_eq!(flagged, [Finding::BeforeMix { entry: id(3), entries: 1 }]);
        let undone = entry(4, "09:00", Event::Undo { entry: id(3) });
        assert!(found(vec![early, undone]).is_empty());
    }

    #[test]
    fn age_is_told_of_live_baths() {
        let bath = &Ledger::of(vec![entry(1, "08:00", mixed())]).baths[0];
        let mixed_at = bath.mixed.happened.seconds();
        assert_eq!(bath.findings(mixed_at + 15 * DAY), [Finding::Old { days: 15, limit: 14 }]);
        assert!(bath.findings(mixed_at + 14 * DAY).is_empty());
    }
}
