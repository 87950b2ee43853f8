//! Was it the stop? From a film or a day back to the bath, its load and its last reading at that moment.

use super::event::{Entry, Event, Id, Load, Reading, Word};
use super::finding::Finding;
use super::ledger::{Bath, Ledger, NEARING, Standing};
use super::order::CLOCK_SLACK;

/// Most of the reserve that may have gone between a fresh reading and the film, for the reading still to speak for the bath then.
const STILL_CLOSE: f64 = 0.10;

/// What the record proves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Proof {
    /// The bath still worked: a later reading without a top-up between says fresh.
    ClearedAfter,
    /// The bath still worked: a reading shortly before says fresh, and little went through since.
    ClearedBefore,
    /// The bath was spent already: the last reading before says so.
    BlamedByReading,
    /// By the count its reserve was used up before.
    BlamedByCount,
    /// Neither cleared nor blamed.
    Neither,
}

/// One load of one bath, and what was known of the bath then.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// The bath.
    pub bath: Id,
    /// Its name.
    pub name: String,
    /// Days since it was mixed.
    pub age_days: i64,
    /// The entry of the load; none when the bath was only there that day.
    pub entry: Entry,
    /// The load.
    pub load: Load,
    /// Where the bath stood just before.
    pub before: Standing,
    /// Where it stood just after.
    pub after: Standing,
    /// Last reading before the load.
    pub last: Option<(Entry, Reading)>,
    /// Next reading after it.
    pub next: Option<(Entry, Reading)>,
    /// True when the bath was strengthened between the load and that next reading.
    pub topped_between: bool,
    /// What that proves.
    pub proof: Proof,
    /// What is wrong with dates in the record of the bath.
    pub findings: Vec<Finding>,
}

/// Loads that name this film, or happened on this date (`2026-03-14`); in order, bath by bath. `now` in seconds since 1970.
#[must_use]
pub fn trace(ledger: &Ledger, wanted: &str, now: i64) -> Vec<Session> {
    let wanted = wanted.trim();
    let is_wanted = |entry: &Entry, load: &Load| {
        entry.happened.date() == wanted || load.films.iter().any(|film| film.trim().to_lowercase() == wanted.to_lowercase())
    };
    let of_bath = |bath: &Bath| {
        let places = bath.entries.iter().enumerate().filter(|(_, entry)| !bath.undone.contains(&entry.id));
        places
            .filter_map(|(place, entry)| match &entry.event {
                Event::Load(load) if is_wanted(entry, load) => Some(session(bath, place, entry, load, now)),
                _ => None,
            })
            .collect::<Vec<_>>()
    };
    ledger.baths.iter().flat_map(of_bath).collect()
}

fn session(bath: &Bath, place: usize, entry: &Entry, load: &Load, now: i64) -> Session {
    let counts = |entry: &&Entry| !bath.undone.contains(&entry.id);
    let read = |entry: &Entry| match &entry.event {
        Event::Reading(reading) => Some((entry.clone(), reading.clone())),
        _ => None,
    };
    let strengthens = |entry: &Entry| matches!(entry.event, Event::TopUp { recipe: Some(_), .. });
    // What was read before the bath was strengthened says nothing about it afterwards.
    let earlier = bath.entries.iter().take(place).rev().filter(counts);
    let last = earlier.take_while(|entry| !strengthens(entry)).find_map(read);
    let next = bath.entries.iter().skip(place + 1).filter(counts).find_map(read);
    let until_next = bath.entries.iter().skip(place + 1).filter(counts).take_while(|entry| read(entry).is_none());
    let topped_between = next.is_some() && until_next.into_iter().any(strengthens);
    let (before, after) = (bath.standing_before(place), bath.standing_before(place + 1));
    let since = last.as_ref().and_then(|(entry, _)| bath.entries.iter().position(|e| e.id == entry.id)).map(|at| {
        // Of the reserve as it is now, what went since that reading.
        (after.bound_meq - bath.standing_before(at).bound_meq) / after.reserve_meq.max(f64::MIN_POSITIVE)
    });
    // A load from before the bath, or from tomorrow, has no place in its record that could prove anything.
    let is_before = entry.happened.seconds() + CLOCK_SLACK < bath.mixed.happened.seconds();
    let is_dated = !is_before && entry.happened.seconds() <= now + CLOCK_SLACK;
    let proof = proof(&before, &after, since, last.as_ref().map(|(_, r)| r), next.as_ref().filter(|_| !topped_between).map(|(_, r)| r));
    let proof = if is_dated { proof } else { Proof::Neither };
    let findings = bath.findings(now).into_iter().filter(Finding::is_of_dates).collect();
    let age_days = (entry.happened.seconds() - bath.mixed.happened.seconds()).div_euclid(86_400);
    let (entry, load, name) = (entry.clone(), load.clone(), bath.start.name.clone());
    Session { bath: bath.mixed.id.clone(), name, age_days, entry, load, before, after, last, next, topped_between, proof, findings }
}

fn proof(before: &Standing, after: &Standing, since: Option<f64>, last: Option<&Reading>, next: Option<&Reading>) -> Proof {
    let says = |reading: Option<&Reading>, word| reading.is_some_and(|reading| reading.state == word);
    // A bath only gets worse by use, so a later fresh reading speaks for the time before.
    if says(next, Word::Fresh) {
        return Proof::ClearedAfter;
    }
    if says(last, Word::Spent) {
        return Proof::BlamedByReading;
    }
    if before.share() >= 1.0 {
        return Proof::BlamedByCount;
    }
    let is_close = since.is_some_and(|share| share <= STILL_CLOSE);
    if says(last, Word::Fresh) && is_close && after.share() < NEARING && !says(next, Word::Spent) && !after.guessed {
        return Proof::ClearedBefore;
    }
    Proof::Neither
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::logbook::examples::{citric, entry, load, mixed, reading};
    use crate::logbook::moment::Moment;

    /// The end of the day of the examples, 2026-03-14 23:00 UTC by `date -u -d '2026-03-14 23:00' +%s`.
    const NOW: i64 = 1_773_529_200;

    fn proof_of(mut events: Vec<Entry>) -> Proof {
        events.insert(0, entry(1, "08:00", mixed()));
        let sessions = trace(&Ledger::of(events), "a12", NOW);
        sessions.last().unwrap().proof
    }

    #[test]
    fn a_later_fresh_reading_clears_and_a_top_up_between_takes_that_away() {
        let film = entry(2, "09:00", load("8x10rc", 1.0));
        let fresh = |number| entry(number, "11:00", reading(3.0, 4.0, Word::Fresh));
        assert_eq!(proof_of(vec![film.clone(), fresh(3)]), Proof::ClearedAfter);
        let top_up = entry(3, "10:00", Event::TopUp { volume_ml: 200.0, recipe: Some(citric()) });
        assert_eq!(proof_of(vec![film.clone(), top_up, fresh(4)]), Proof::Neither);
        assert_eq!(proof_of(vec![film]), Proof::Neither);
    }

    #[test]
    fn a_spent_reading_before_blames_and_one_after_does_not() {
        let spent = |number, time| entry(number, time, reading(5.6, 6.0, Word::Spent));
        assert_eq!(proof_of(vec![spent(2, "08:30"), entry(3, "09:00", load("8x10rc", 1.0))]), Proof::BlamedByReading);
        assert_eq!(proof_of(vec![entry(2, "09:00", load("8x10rc", 1.0)), spent(3, "10:00")]), Proof::Neither);
        let top_up = entry(3, "08:40", Event::TopUp { volume_ml: 200.0, recipe: Some(citric()) });
        assert_eq!(proof_of(vec![spent(2, "08:30"), top_up, entry(4, "09:00", load("8x10rc", 1.0))]), Proof::Neither);
    }

    // The second load finds a bath whose reserve the first has used up by the count.
    #[test]
    fn an_overloaded_bath_is_blamed_by_the_count() {
        assert_eq!(proof_of(vec![entry(2, "09:00", load("8x10fb", 40.0)), entry(3, "10:00", load("8x10fb", 1.0))]), Proof::BlamedByCount);
    }

    #[test]
    fn a_fresh_reading_before_clears_only_what_came_shortly_after() {
        let fresh = entry(2, "08:30", reading(3.0, 4.0, Word::Fresh));
        assert_eq!(proof_of(vec![fresh.clone(), entry(3, "09:00", load("8x10rc", 2.0))]), Proof::ClearedBefore);
        assert_eq!(proof_of(vec![fresh, entry(3, "09:00", load("8x10fb", 10.0))]), Proof::Neither);
    }

    #[test]
    fn a_date_finds_its_loads() {
        let ledger = Ledger::of(vec![entry(1, "08:00", mixed()), entry(2, "09:00", load("8x10rc", 1.0))]);
        let count = |wanted| trace(&ledger, wanted, NOW).len();
        assert_eq!((count("2026-03-14"), count("2026-03-15"), count("B1")), (1, 0, 0));
    }

    // Whole days since the mixing, downwards: at 07:00 three days later the third is not over.
    #[test]
    fn age_is_in_whole_days() {
        let aged = |at: &str| {
            let film = Entry { happened: Moment::parse(at).unwrap(), ..entry(2, "09:00", load("8x10rc", 1.0)) };
            trace(&Ledger::of(vec![entry(1, "08:00", mixed()), film]), "a12", NOW)[0].age_days
        };
        assert_eq!(aged("2026-03-14T09:00:00+01:00"), 0);
        assert_eq!(aged("2026-03-17T07:00:00+01:00"), 2);
        assert_eq!(aged("2026-03-17T08:00:00+01:00"), 3);
        assert_eq!(aged("2026-03-14T07:00:00+01:00"), -1);
    }

    // A later fresh reading of this bath says nothing of a film from before it was mixed.
    #[test]
    fn a_load_from_before_the_bath_proves_nothing() {
        let early = entry(2, "07:00", load("8x10rc", 1.0));
        let all = vec![entry(1, "08:00", mixed()), early, entry(3, "09:00", reading(3.0, 4.0, Word::Fresh))];
        let sessions = trace(&Ledger::of(all.clone()), "a12", NOW);
        assert_eq!(sessions[0].proof, Proof::Neither);
        assert!(matches!(sessions[0].findings[..], [Finding::BeforeMix { .. }]), "{:?}", sessions[0].findings);
        let future = trace(&Ledger::of(all), "a12", NOW - 20 * 3600);
        assert!(future[0].findings.iter().any(|finding| matches!(finding, Finding::Future { .. })));
    }
}
