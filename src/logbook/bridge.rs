//! From what was written down to what the judgement wants: a bath of the ledger as a life.

use super::event::{self, Entry, Event, Keeping, Pieces};
use super::ledger::Bath;
use super::life::{self, Change, DEFAULT_SPREAD, Life, MEASURED_SPREAD, STRENGTH_SPREAD, Salt, Step};
use super::pace::SAME_SESSION;
use super::recipe::{Acid, RecipeError};
use crate::chemistry::developer;
use crate::chemistry::liquid::Liquid;
use crate::indicator::catalogue;
use crate::indicator::equilibrium::pka_at;
use crate::quantity::{Celsius, IonicStrength, MeqPerLitre, Ph};

/// Spread of a count that nobody made: sheets handed out, a box (judgement).
const GUESSED_SPREAD: f64 = 0.3;
/// pH where the dye of a drop test is taken to have turned: half-way for bromocresol purple in salt.
const TURN: f64 = 6.0;
/// Factor of the salt error where the dye is not known: that of an acid form with one negative charge, as of nearly all sulfonphthaleins.
const SALT_FACTOR: f64 = 3.0;

/// Pieces and developers in the order in which a life counts them.
#[derive(Default)]
struct Kinds {
    pieces: Vec<life::Piece>,
    developers: Vec<(event::Developer, life::Developer)>,
}

impl Bath {
    /// The bath as the judgement wants it; entries that were undone are left out.
    ///
    /// # Errors
    /// [`RecipeError`] when what was poured in cannot be.
    pub fn life(&self) -> Result<Life, RecipeError> {
        let mut kinds = Kinds::default();
        let mut steps = Vec::new();
        let mut at = self.mixed.happened.seconds();
        for entry in self.counting().filter(|entry| self.read_again(entry).is_none()) {
            // A clock that went back must not turn the order round.
            at = at.max(entry.happened.seconds());
            steps.extend(changes(&entry.event, &mut kinds)?.into_iter().map(|change| Step { at, change }));
        }
        Ok(Life {
            fresh: self.start.recipe.liquid()?,
            strength_spread: STRENGTH_SPREAD,
            litres: self.start.volume_ml / 1000.0,
            temperature: Celsius::STANDARD,
            mixed: self.mixed.happened.seconds(),
            acid: acid(self.start.recipe.acid),
            keeping: keeping(self.start.keeping),
            pieces: kinds.pieces,
            developers: kinds.developers.into_iter().map(|(_, developer)| developer).collect(),
            counted: self.is_counted(),
            steps,
        })
    }

    /// True when loads are written down, or none need have been: a bath that was looked at on another day than it was mixed, and of which no load is known, was used by people
    /// who do not count.
    fn is_counted(&self) -> bool {
        let mixed = self.mixed.happened.seconds();
        let is_seen_later = |entry: &Entry| {
            matches!(entry.event, Event::Reading(_) | Event::DropTest { .. }) && entry.happened.seconds() - mixed > SAME_SESSION
        };
        self.counting().any(|entry| matches!(entry.event, Event::Load(_))) || !self.counting().any(is_seen_later)
    }
}

/// The acid, as far as its keeping goes.
pub(super) fn acid(acid: Acid) -> life::AcidKind {
    match acid {
        Acid::Acetic => life::AcidKind::Acetic,
        Acid::CitricAnhydrous | Acid::CitricMonohydrate | Acid::CitricConcentrate => life::AcidKind::Citric,
        Acid::SodiumMetabisulfite | Acid::PotassiumMetabisulfite => life::AcidKind::Metabisulfite,
    }
}

/// How it is kept, in the words of a life.
pub(super) fn keeping(keeping: Keeping) -> life::Keeping {
    match keeping {
        Keeping::Bottle => life::Keeping::Bottle,
        Keeping::Cold => life::Keeping::Cold,
        Keeping::Open => life::Keeping::Tray,
    }
}

fn changes(event: &Event, kinds: &mut Kinds) -> Result<Vec<Change>, RecipeError> {
    Ok(match event {
        Event::Load(load) => {
            let developer = kinds.developer(&load.developer);
            let count_spread = if load.guessed { GUESSED_SPREAD } else { 0.0 };
            let of =
                |pieces: &Pieces| Change::Load(life::Load { count: pieces.count, count_spread, piece: kinds.piece(pieces), developer });
            load.pieces.iter().map(of).collect()
        }
        Event::TopUp { volume_ml, recipe: Some(recipe) } => {
            vec![Change::TopUp { litres: volume_ml / 1000.0, liquid: recipe.liquid()? }]
        }
        Event::TopUp { volume_ml, recipe: None } => vec![Change::Water { litres: volume_ml / 1000.0 }],
        Event::Volume { volume_ml } => vec![Change::VolumeIs { litres: volume_ml / 1000.0 }],
        Event::Lost { volume_ml } => vec![Change::Lost { litres: volume_ml / 1000.0 }],
        Event::Reading(read) => vec![Change::Reading(reading(read))],
        Event::DropTest { bath_ml, used_ml, developer } => {
            let developer = kinds.developer(developer);
            let turn = Ph::new(TURN).unwrap_or(Ph::NEUTRAL);
            // The sample is gone as well.
            let test = life::DropTest { developer, bath: *bath_ml, used: *used_ml, turn };
            vec![Change::DropTest(test), Change::Lost { litres: bath_ml / 1000.0 }]
        }
        Event::Mixed(_) | Event::Note | Event::Discard { .. } | Event::Undo { .. } => Vec::new(),
    })
}

fn reading(read: &event::Reading) -> life::Reading {
    let ph = |value: Option<f64>| value.and_then(|value| Ph::new(value).ok());
    let dye = read.indicator.as_deref().and_then(catalogue::find);
    let assumed = read.ionic_strength.and_then(|salt| IonicStrength::new(salt).ok());
    let salt = assumed.filter(|_| read.photo.is_some()).map(|assumed| Salt { assumed, factor: dye.map_or(SALT_FACTOR, |dye| dye.step) });
    let pka = salt.zip(dye).map(|(salt, dye)| pka_at(dye, salt.assumed, Celsius::STANDARD));
    life::Reading { ph: ph(read.ph), low: ph(read.ph_low), high: ph(read.ph_high), salt, pka }
}

impl Kinds {
    fn piece(&mut self, pieces: &Pieces) -> usize {
        let spread = if pieces.measured { MEASURED_SPREAD } else { DEFAULT_SPREAD };
        let (name, area) = (pieces.piece.to_string(), pieces.piece.area());
        let piece = life::Piece { name, carry_over: pieces.carry_over_ml, spread, area };
        place(&mut self.pieces, |known| *known == piece, || piece.clone())
    }

    fn developer(&mut self, told: &event::Developer) -> usize {
        place(&mut self.developers, |(known, _)| known == told, || (told.clone(), developer(told)))
    }
}

fn place<T>(all: &mut Vec<T>, is_same: impl Fn(&T) -> bool, new: impl FnOnce() -> T) -> usize {
    all.iter().position(is_same).unwrap_or_else(|| {
        all.push(new());
        all.len() - 1
    })
}

/// A developer by what it holds: of one's own figure alkali alone.
pub(super) fn developer(told: &event::Developer) -> life::Developer {
    let own = told.own_meq.and_then(|meq| MeqPerLitre::new(meq).ok());
    let (liquid, spread) = match (own, developer::find(&told.name)) {
        (Some(meq), _) => (Liquid::water().with_alkali(meq), MEASURED_SPREAD),
        (None, Ok(known)) => (known.liquid(), DEFAULT_SPREAD),
        (None, Err(_)) => (Liquid::water(), DEFAULT_SPREAD),
    };
    life::Developer { name: told.name.clone(), liquid, spread }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::logbook::event::Word;
    use crate::logbook::examples::{entry, id, load, mixed, reading as read};
    use crate::logbook::judge::{Basis, Missing, Question, judge};
    use crate::logbook::ledger::Ledger;
    use crate::measurement::reading::State;
    use crate::measurement::request::Limits;

    #[test]
    fn a_record_becomes_a_life_without_what_was_undone() {
        let all = vec![
            entry(1, "08:00", mixed()),
            entry(2, "09:00", load("8x10rc", 4.0)),
            entry(3, "09:10", load("8x10fb", 2.0)),
            entry(4, "09:20", load("8x10rc", 3.0)),
            entry(5, "09:30", Event::Undo { entry: id(3) }),
            entry(6, "09:00", read(4.0, 4.4, Word::Fresh)),
            entry(7, "10:00", Event::TopUp { volume_ml: 200.0, recipe: None }),
        ];
        let life = Ledger::of(all).baths[0].life().unwrap();
        assert!(life.check().is_ok());
        assert_eq!((life.pieces.len(), life.developers.len(), life.steps.len()), (1, 1, 4));
        assert!(life.steps.is_sorted_by_key(|step| step.at));
        assert_eq!(life.steps[3].change, Change::Water { litres: 0.2 });
        assert!((life.litres - 1.0).abs() < 1e-9);
    }

    // Charge arithmetic: the first step of thymol blue starts from no charge, that of the other dyes from one.
    #[test]
    fn a_photo_brings_the_salt_error_of_its_dye() {
        let Event::Reading(told) = read(4.0, 4.4, Word::Fresh) else { unreachable!() };
        let seen = event::PhotoSeen { name: "cup.jpg".to_owned(), sha256: "0".repeat(64), taken: None, kept: false };
        let of = |dye: Option<&str>| {
            reading(&event::Reading {
                photo: Some(seen.clone()),
                indicator: dye.map(str::to_owned),
                ionic_strength: Some(0.3),
                ..told.clone()
            })
        };
        for (dye, factor) in [(Some("thymol-blue-acid"), 1.0), (Some("bromocresol-purple"), 3.0), (None, 3.0)] {
            let life = of(dye);
            assert!((life.salt.unwrap().factor - factor).abs() < 1e-9 && life.pka.is_some() == dye.is_some(), "{dye:?}: {life:?}");
        }
    }

    // Read in the evening, 14 hours after it was mixed, and no load known: nobody counts. Read when it was mixed: nothing went through yet.
    #[test]
    fn a_record_without_loads_is_no_count_of_none() {
        let judged = |at: &str, more: Vec<Entry>| {
            let Event::Reading(yellow) = read(3.0, 5.1, Word::Fresh) else { unreachable!() };
            let yellow = Event::Reading(event::Reading { ph: None, ph_low: None, ..yellow });
            let all = [entry(1, "08:00", mixed()), entry(2, at, yellow)].into_iter().chain(more).collect();
            let life = Ledger::of(all).baths[0].life().unwrap();
            judge(&life, &Question { now: life.mixed + 86_400, limits: Limits::USUAL, kinds: vec![], planned: None, age_limit: None })
                .unwrap()
        };
        let seen = judged("22:00", vec![]);
        assert_eq!((seen.basis, seen.missing), (Basis::Seen, Missing::Counts));
        assert!(seen.used.low < 0.1 && seen.used.high > 0.7, "{:?}", seen.used);
        let just_mixed = judged("08:30", vec![]);
        assert!(just_mixed.state == State::Fresh && just_mixed.used.high < 0.01, "{:?}", just_mixed.used);
        assert_eq!(judged("22:00", vec![entry(3, "09:00", load("8x10rc", 1.0))]).basis, Basis::Both);
    }
}
