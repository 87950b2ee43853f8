//! Entries to baths: what each is, what went through it, what was read of it.

use super::event::{Developer, Entry, Event, Id, Load, Mixed, Reading, Word};
use super::finding::{self, Finding};
use super::order;
use crate::chemistry::developer;
use crate::quantity::{Celsius, Ph};
use std::collections::{BTreeMap, HashMap, HashSet};

/// Where acid counts as used up: plain yellow of bromocresol purple proves this pH or lower (common practice: 5.0 to 5.5).
const TURN: f64 = 5.2;
/// Share of the reserve from which a bath nears exhaustion (common practice).
pub const NEARING: f64 = 0.75;

/// Share of the reserve from which a bath that was read spent still is after acid was added: a reading does not tell a twentieth (judgement).
const STILL_SPENT: f64 = 0.95;

/// All baths of a logbook.
#[derive(Debug, Clone, PartialEq)]
pub struct Ledger {
    /// Baths in the order in which they were mixed.
    pub baths: Vec<Bath>,
    /// Where the clock went back: seconds, and the entry written after that.
    pub clock_steps: Vec<(i64, Id)>,
    /// Entries about no bath that is here.
    pub strays: usize,
}

/// One bath.
#[derive(Debug, Clone, PartialEq)]
pub struct Bath {
    /// The entry that mixed it.
    pub mixed: Entry,
    /// How it began.
    pub start: Mixed,
    /// All entries about it, in order, the first the one that mixed it.
    pub entries: Vec<Entry>,
    /// Those that do not count.
    pub undone: HashSet<Id>,
}

/// Where a bath stands after some of its entries.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Standing {
    /// Volume, ml; never below 0.
    pub volume_ml: f64,
    /// Pieces by kind.
    pub pieces: BTreeMap<String, f64>,
    /// Developer carried in, ml.
    pub carried_ml: f64,
    /// Acid that it bound, meq.
    pub bound_meq: f64,
    /// Acid reserve down to pH 5.2 of all that was poured in, meq, less what was lost.
    pub reserve_meq: f64,
    /// Top-ups with concentrate or fresh bath.
    pub top_ups: usize,
    /// Top-ups with water.
    pub waters: usize,
    /// True when a count was guessed.
    pub guessed: bool,
    /// True when more was taken out than was in.
    pub overdrawn: bool,
}

impl Standing {
    /// Share of the acid reserve that the count has used, from 0; above 1 it is more than used up. Only a count: carry-over of a default is known to a
    /// factor of two.
    #[must_use]
    pub fn share(&self) -> f64 {
        if self.reserve_meq > 0.0 { self.bound_meq / self.reserve_meq } else { 1.0 }
    }

    fn take(&mut self, event: &Event, reserve: f64) {
        match event {
            Event::Mixed(mixed) => self.pour(mixed.volume_ml, reserve),
            Event::TopUp { volume_ml, recipe: Some(_) } => {
                self.top_ups += 1;
                self.pour(*volume_ml, reserve);
            }
            Event::TopUp { volume_ml, recipe: None } => {
                self.waters += 1;
                self.volume_ml += volume_ml;
            }
            Event::Volume { volume_ml } => self.volume_ml = *volume_ml,
            Event::Lost { volume_ml } => self.lose(*volume_ml),
            // A sample is gone too.
            Event::DropTest { bath_ml, .. } => self.lose(*bath_ml),
            Event::Load(load) => self.load(load),
            Event::Reading(_) | Event::Note | Event::Discard { .. } | Event::Undo { .. } => {}
        }
    }

    fn pour(&mut self, volume_ml: f64, reserve: f64) {
        self.volume_ml += volume_ml;
        self.reserve_meq += reserve * volume_ml / 1000.0;
    }

    fn lose(&mut self, lost: f64) {
        self.overdrawn |= lost > self.volume_ml;
        let kept = if self.volume_ml > 0.0 { (1.0 - lost / self.volume_ml).max(0.0) } else { 0.0 };
        self.volume_ml *= kept;
        self.reserve_meq *= kept;
        self.bound_meq *= kept;
    }

    fn load(&mut self, load: &Load) {
        self.guessed |= load.guessed;
        let meq = load.developer.meq_per_litre().unwrap_or(0.0);
        for pieces in &load.pieces {
            *self.pieces.entry(pieces.piece.to_string()).or_default() += pieces.count;
            let carried = pieces.count * pieces.carry_over_ml;
            self.carried_ml += carried;
            self.bound_meq += meq * carried / 1000.0;
        }
    }
}

impl Developer {
    /// Acid that a litre binds, meq: the user's own figure, else that of the table; none when neither is known.
    #[must_use]
    pub fn meq_per_litre(&self) -> Option<f64> {
        self.own_meq.or_else(|| {
            let developer = developer::find(&self.name).ok()?;
            Some(developer.alkalinity(Ph::new(TURN).ok()?, Celsius::STANDARD).ok()?.value())
        })
    }
}

/// Reserve of what an event pours in, meq/l; a recipe that cannot be has none.
fn reserve(event: &Event) -> f64 {
    let recipe = match event {
        Event::Mixed(mixed) => mixed.recipe,
        Event::TopUp { recipe: Some(recipe), .. } => *recipe,
        _ => return 0.0,
    };
    let Ok(turn) = Ph::new(TURN) else { return 0.0 };
    recipe.liquid().ok().and_then(|liquid| liquid.reserve(turn, Celsius::STANDARD).ok()).map_or(0.0, |meq| meq.value().max(0.0))
}

/// Acid reserve that a top-up brings, meq.
fn reserve_added(event: &Event) -> f64 {
    match event {
        Event::TopUp { volume_ml, .. } => reserve(event) * volume_ml / 1000.0,
        _ => 0.0,
    }
}

impl Ledger {
    /// Puts entries in order and together.
    #[must_use]
    pub fn of(entries: Vec<Entry>) -> Self {
        let clock_steps = order::clock_steps(&entries);
        let undone = order::undone(&entries);
        let entries = order::in_order(entries);
        let starts: Vec<(Entry, Mixed)> = entries
            .iter()
            .filter(|entry| !undone.contains(&entry.id))
            .filter_map(|entry| match &entry.event {
                Event::Mixed(mixed) => Some((entry.clone(), mixed.clone())),
                _ => None,
            })
            .collect();
        let mut of_bath: HashMap<Id, Vec<Entry>> = starts.iter().map(|(entry, _)| (entry.id.clone(), Vec::new())).collect();
        let mut strays = 0;
        for entry in entries {
            match of_bath.get_mut(&entry.bath) {
                Some(all) => all.push(entry),
                None => strays += 1,
            }
        }
        let bath = |(mixed, start): (Entry, Mixed)| {
            let mut entries = of_bath.remove(&mixed.id).unwrap_or_default();
            // Nothing happens to a bath before it is there, whatever clocks say.
            entries.sort_by_key(|entry| entry.id != mixed.id);
            let undone = entries.iter().map(|entry| &entry.id).filter(|id| undone.contains(*id)).cloned().collect();
            Bath { mixed, start, entries, undone }
        };
        Ledger { baths: starts.into_iter().map(bath).collect(), clock_steps, strays }
    }

    /// Baths that are not discarded.
    pub fn live(&self) -> impl Iterator<Item = &Bath> {
        self.baths.iter().filter(|bath| bath.discarded().is_none())
    }

    /// The bath that people mean by a name: a live one before a discarded one, the latest first; or by the beginning of its id.
    #[must_use]
    pub fn find(&self, name: &str) -> Option<&Bath> {
        let wanted = name.trim().to_lowercase();
        let is_named = |bath: &&Bath| bath.start.name.to_lowercase() == wanted;
        let by_id = |bath: &&Bath| wanted.len() >= 6 && bath.mixed.id.text().starts_with(&wanted);
        let latest = self.baths.iter().rev();
        latest.clone().find(|bath| is_named(bath) && bath.discarded().is_none()).or_else(|| latest.clone().find(is_named)).or_else(|| {
            let mut latest = latest;
            latest.find(by_id)
        })
    }
}

impl Bath {
    /// Entries that count, in order.
    pub fn counting(&self) -> impl DoubleEndedIterator<Item = &Entry> {
        self.entries.iter().filter(|entry| !self.undone.contains(&entry.id))
    }

    /// The entry that threw it away.
    #[must_use]
    pub fn discarded(&self) -> Option<&Entry> {
        self.counting().find(|entry| matches!(entry.event, Event::Discard { .. }))
    }

    /// Readings that count, in order.
    pub fn readings(&self) -> impl DoubleEndedIterator<Item = (&Entry, &Reading)> {
        self.counting().filter_map(|entry| match &entry.event {
            Event::Reading(reading) => Some((entry, reading)),
            _ => None,
        })
    }

    /// The reading that stands in the place of this one: the last one of the same photo, when that is another. What one photo shows is known once,
    /// however often it is read.
    #[must_use]
    pub fn read_again(&self, entry: &Entry) -> Option<&Entry> {
        fn fingerprint(entry: &Entry) -> Option<&str> {
            let Event::Reading(reading) = &entry.event else { return None };
            reading.photo.as_ref().map(|photo| photo.sha256.as_str())
        }
        let photo = fingerprint(entry)?;
        let last = self.counting().rev().find(|other| fingerprint(other) == Some(photo))?;
        (last.id != entry.id).then_some(last)
    }

    /// Where it stands now.
    #[must_use]
    pub fn standing(&self) -> Standing {
        self.standing_before(self.entries.len())
    }

    /// Where it stood before the entry at this place of [`Bath::entries`].
    #[must_use]
    pub fn standing_before(&self, place: usize) -> Standing {
        let mut standing = Standing::default();
        for entry in self.entries.iter().take(place).filter(|entry| !self.undone.contains(&entry.id)) {
            standing.take(&entry.event, reserve(&entry.event));
        }
        standing
    }

    /// State at a glance, by the last reading and by the count: the graver of the two.
    #[must_use]
    pub fn glance(&self) -> Word {
        let standing = self.standing();
        let counted = match standing.share() {
            share if share >= 1.0 => Word::Spent,
            share if share >= NEARING => Word::Nearing,
            _ => Word::Fresh,
        };
        let read = self.entries.iter().enumerate().rev().filter(|(_, entry)| !self.undone.contains(&entry.id));
        let read = read
            .filter_map(|(place, entry)| match &entry.event {
                Event::Reading(reading) if reading.state != Word::Unclear => Some((place, reading.state)),
                _ => None,
            })
            .map(|(place, state)| self.since(place, state))
            .next();
        match (counted, read) {
            (Word::Spent, _) | (_, Some(Word::Spent)) => Word::Spent,
            (Word::Nearing, _) | (_, Some(Word::Nearing)) => Word::Nearing,
            _ => Word::Fresh,
        }
    }

    /// What a reading at this place says by now: acid poured in since thins what was used.
    fn since(&self, place: usize, state: Word) -> Word {
        let seen = match state {
            Word::Spent => 1.0,
            Word::Nearing => 0.5 * (NEARING + 1.0),
            Word::Fresh | Word::Unclear => return state,
        };
        let added: f64 =
            self.entries[place..].iter().filter(|entry| !self.undone.contains(&entry.id)).map(|entry| reserve_added(&entry.event)).sum();
        let share = seen * (1.0 - (added / self.standing().reserve_meq.max(f64::MIN_POSITIVE)).min(1.0));
        if share >= STILL_SPENT {
            Word::Spent
        } else if share >= NEARING {
            Word::Nearing
        } else {
            Word::Unclear
        }
    }

    /// Developer of its last load, which the next one most likely shares.
    #[must_use]
    pub fn last_developer(&self) -> Option<&Developer> {
        self.counting().rev().find_map(|entry| match &entry.event {
            Event::Load(load) => Some(&load.developer),
            _ => None,
        })
    }

    /// The figure of one's own that was last given for a developer of that name, meq/l down to pH 5.2.
    #[must_use]
    pub fn own_figure(&self, developer: &str) -> Option<f64> {
        let loads = self.counting().rev().filter_map(|entry| match &entry.event {
            Event::Load(load) => Some(&load.developer),
            _ => None,
        });
        loads.filter(|known| known.name == developer).find_map(|known| known.own_meq)
    }

    /// What stands out in the record.
    #[must_use]
    pub fn findings(&self, now: i64) -> Vec<Finding> {
        finding::of(self, now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::logbook::examples::{citric, entry, id, load, mixed, reading};
    use approx::assert_abs_diff_eq;

    // Citric acid 15 g/l takes up 139 meq/l to pH 5.2 without salt and a little more with it (worked by hand); 12 fibre sheets bring 132 ml of
    // carbonate developer 1+2 at 535 meq/l, 71 meq.
    #[test]
    fn load_uses_the_reserve() {
        let ledger = Ledger::of(vec![entry(1, "10:00", mixed()), entry(2, "11:00", load("8x10fb", 12.0))]);
        let standing = ledger.baths[0].standing();
        assert_abs_diff_eq!(standing.carried_ml, 132.0, epsilon = 1e-9);
        assert_abs_diff_eq!(standing.bound_meq, 70.6, epsilon = 2.0);
        assert!((139.0..165.0).contains(&standing.reserve_meq), "{}", standing.reserve_meq);
        assert_eq!(ledger.baths[0].glance(), Word::Fresh);
        let much = Ledger::of(vec![entry(1, "10:00", mixed()), entry(2, "11:00", load("8x10fb", 30.0))]);
        assert_eq!(much.baths[0].glance(), Word::Spent);
    }

    #[test]
    fn the_last_developer_and_its_own_figure_are_remembered() {
        let Event::Load(mut own) = load("120", 1.0) else { unreachable!() };
        own.developer = Developer { name: "ours".to_owned(), own_meq: Some(480.0) };
        let all = vec![entry(1, "10:00", mixed()), entry(2, "11:00", load("120", 1.0)), entry(3, "12:00", Event::Load(own))];
        let fresh = Ledger::of(all[..1].to_vec());
        assert!(fresh.baths[0].last_developer().is_none() && fresh.baths[0].own_figure("ours").is_none());
        let bath = &Ledger::of(all).baths[0];
        assert_eq!(bath.last_developer().map(|developer| developer.name.as_str()), Some("ours"));
        assert_eq!((bath.own_figure("ours"), bath.own_figure("carbonate-1+2")), (Some(480.0), None));
    }

    #[test]
    fn volume_follows_what_was_poured_and_lost() {
        let all = vec![
            entry(1, "10:00", mixed()),
            entry(2, "11:00", Event::Lost { volume_ml: 250.0 }),
            entry(3, "12:00", Event::TopUp { volume_ml: 150.0, recipe: None }),
        ];
        let standing = Ledger::of(all.clone()).baths[0].standing();
        let fresh = Ledger::of(all[..1].to_vec()).baths[0].standing();
        assert_abs_diff_eq!(standing.volume_ml, 900.0, epsilon = 1e-9);
        // Water brings volume, no acid.
        assert_abs_diff_eq!(standing.reserve_meq, 0.75 * fresh.reserve_meq, epsilon = 1e-9);
        let with_acid = entry(3, "12:00", Event::TopUp { volume_ml: 250.0, recipe: Some(citric()) });
        let topped = Ledger::of(vec![all[0].clone(), all[1].clone(), with_acid]).baths[0].standing();
        assert_abs_diff_eq!(topped.reserve_meq, fresh.reserve_meq, epsilon = 1e-9);
        let emptied = Ledger::of(vec![all[0].clone(), entry(2, "11:00", Event::Lost { volume_ml: 5000.0 })]).baths[0].standing();
        assert!(emptied.overdrawn && emptied.volume_ml == 0.0);
    }

    #[test]
    fn undone_entries_do_not_count_but_stay() {
        let all = vec![entry(1, "10:00", mixed()), entry(2, "11:00", load("8x10rc", 9.0)), entry(3, "12:00", Event::Undo { entry: id(2) })];
        let bath = &Ledger::of(all).baths[0];
        assert!(bath.standing().pieces.is_empty() && bath.entries.len() == 3 && bath.undone.contains(&id(2)));
    }

    #[test]
    fn the_graver_of_count_and_reading_is_said() {
        let of =
            |low, high, word| Ledger::of(vec![entry(1, "10:00", mixed()), entry(2, "11:00", reading(low, high, word))]).baths[0].glance();
        assert_eq!(of(4.0, 4.4, Word::Fresh), Word::Fresh);
        assert_eq!(of(5.6, 6.0, Word::Spent), Word::Spent);
        assert_eq!(of(3.0, 6.0, Word::Unclear), Word::Fresh);
    }

    // A spent bath of a litre: water and 20 ml of fresh bath leave it spent, 200 ml make it nearing, half a litre more says nothing of it. Before, any top-up
    // made it fresh.
    #[test]
    fn a_small_top_up_resets_nothing() {
        let of = |volume_ml, recipe, word| {
            let (low, high) = if word == Word::Spent { (5.6, 6.0) } else { (5.0, 5.3) };
            let all = vec![
                entry(1, "10:00", mixed()),
                entry(2, "11:00", reading(low, high, word)),
                entry(3, "12:00", Event::TopUp { volume_ml, recipe }),
            ];
            Ledger::of(all).baths[0].glance()
        };
        assert_eq!(of(500.0, None, Word::Spent), Word::Spent);
        assert_eq!(of(20.0, Some(citric()), Word::Spent), Word::Spent);
        assert_eq!(of(200.0, Some(citric()), Word::Spent), Word::Nearing);
        assert_eq!(of(500.0, Some(citric()), Word::Spent), Word::Fresh);
        assert_eq!(of(20.0, Some(citric()), Word::Nearing), Word::Nearing);
    }

    #[test]
    fn names_may_come_again() {
        let mut second = entry(3, "13:00", mixed());
        second.bath = id(3);
        let all = vec![entry(1, "10:00", mixed()), entry(2, "12:00", Event::Discard { reason: "spent".to_owned() }), second];
        let ledger = Ledger::of(all);
        assert_eq!(ledger.find("TRAY-1").unwrap().mixed.id, id(3));
        assert_eq!((ledger.live().count(), ledger.baths.len()), (1, 2));
    }
}
