//! Sentences about baths.

use crate::logbook::event::{Entry, Event, Keeping, Load, Mixed, Reading, Word, Work};
use crate::logbook::finding::Finding;
use crate::logbook::ledger::{Bath, Standing};
use crate::logbook::recipe::{Acid, Recipe};
use crate::logbook::trace::Proof;
use crate::measurement::reading::State;
use crate::present::{number, words};

/// The state as one word.
pub(super) fn word(state: Word) -> &'static str {
    words::state(State::from(state))
}

/// A figure without needless zeros: `2`, `1.5`, `0.25`.
pub(super) fn plain(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A volume: `850 ml`, `1.5 l`.
pub(super) fn volume(millilitres: f64) -> String {
    if millilitres < 1000.0 { format!("{millilitres:.0} ml") } else { format!("{} l", plain(millilitres / 1000.0)) }
}

pub(super) fn acid(acid: Acid) -> &'static str {
    match acid {
        Acid::Acetic => "acetic acid",
        Acid::CitricAnhydrous => "citric acid, anhydrous",
        Acid::CitricMonohydrate => "citric acid, monohydrate",
        Acid::CitricConcentrate => "citric concentrate",
        Acid::SodiumMetabisulfite => "sodium metabisulfite",
        Acid::PotassiumMetabisulfite => "potassium metabisulfite",
    }
}

pub(super) fn recipe(recipe: &Recipe) -> String {
    let unit = if recipe.acid.is_liquid() { "ml" } else { "g" };
    let strength = recipe.percent.map(|percent| format!(" {} %", plain(percent))).unwrap_or_default();
    format!("{}{strength}, {} {unit} in a litre", acid(recipe.acid), plain(recipe.per_litre))
}

pub(super) fn keeping(keeping: Keeping) -> &'static str {
    match keeping {
        Keeping::Bottle => "closed bottle",
        Keeping::Cold => "closed bottle, refrigerated",
        Keeping::Open => "open",
    }
}

pub(super) fn work(work: Work) -> &'static str {
    match work {
        Work::Film => "film",
        Work::Paper => "paper",
        Work::Both => "film and paper",
    }
}

/// What went through so far: `4 x 135-36, 24 x 8x10rc`.
pub(super) fn pieces(standing: &Standing) -> String {
    let all: Vec<String> = standing.pieces.iter().map(|(kind, count)| format!("{} x {kind}", plain(*count))).collect();
    if all.is_empty() { "nothing written down".to_owned() } else { all.join(", ") }
}

/// The share of the reserve that the count has used, and how well it is known.
pub(super) fn share(standing: &Standing) -> String {
    format!("{} of the acid reserve by the count alone", number::percent(standing.share()))
}

pub(super) fn load(load: &Load) -> String {
    let all: Vec<String> = load.pieces.iter().map(|p| format!("{} x {}", plain(p.count), p.piece)).collect();
    let by = load.by.as_deref().map(|by| format!(" by {}", words::printable(by))).unwrap_or_default();
    let films = if load.films.is_empty() { String::new() } else { format!(" ({})", words::printable(&load.films.join(", "))) };
    let guessed = if load.guessed { ", guessed" } else { "" };
    format!("{}{films}{by} out of {}{guessed}", all.join(", "), words::printable(&load.developer.name))
}

pub(super) fn reading(reading: &Reading) -> String {
    let ph = match (reading.ph, reading.ph_low, reading.ph_high) {
        (Some(ph), None, None) => Some(plain(ph)),
        (likely, low, high) => number::ph(likely, low, high),
    };
    let ph = ph.map_or_else(|| "no pH".to_owned(), |ph| format!("pH {ph}"));
    format!("{} ({})", ph, word(reading.state))
}

/// An entry in a few words.
pub(super) fn event(event: &Event) -> String {
    match event {
        Event::Mixed(mixed) => format!("mixed: {}, {}", volume(mixed.volume_ml), recipe(&mixed.recipe)),
        Event::Load(all) => format!("load: {}", load(all)),
        Event::Reading(read) => {
            let light = read.light.as_deref().map(|light| format!(", {}", words::printable(light))).unwrap_or_default();
            let why = if read.reasons.is_empty() { String::new() } else { format!(": {}", read.reasons.join(", ")) };
            format!("reading: {}, {}{light}{why}", reading(read), words::printable(&read.means))
        }
        Event::TopUp { volume_ml, recipe: None } => format!("top-up: {} of water", volume(*volume_ml)),
        Event::TopUp { volume_ml, recipe: Some(with) } => format!("top-up: {} of {}", volume(*volume_ml), recipe(with)),
        Event::Volume { volume_ml } => format!("volume measured: {}", volume(*volume_ml)),
        Event::Lost { volume_ml } => format!("lost: {}", volume(*volume_ml)),
        Event::DropTest { bath_ml, used_ml, developer } => {
            format!("drop test: {} ml of bath took {} ml of {}", plain(*bath_ml), plain(*used_ml), words::printable(&developer.name))
        }
        Event::Note => "note".to_owned(),
        Event::Discard { reason } => format!("discarded: {}", words::printable(reason)),
        Event::Undo { entry } => format!("undone: entry {}", entry.short()),
    }
}

/// An entry on one line, with its note.
pub(super) fn entry(entry: &Entry) -> String {
    let late = if entry.is_afterthought() { format!(", written down {}", entry.recorded.minute()) } else { String::new() };
    let note = entry.note.as_deref().map(|note| format!(" - {}", words::printable(note))).unwrap_or_default();
    format!("{} {} ({}{late}){note}", entry.happened.minute(), event(&entry.event), words::printable(&entry.who))
}

/// How a bath began, on one line.
pub(super) fn start(start: &Mixed) -> String {
    let dye = start.indicator.as_deref().unwrap_or("no indicator");
    let place = start.place.as_deref().map(|place| format!("; {}", words::printable(place))).unwrap_or_default();
    format!("{}; {dye}; for {}; {}{place}", recipe(&start.recipe), work(start.work), keeping(start.keeping))
}

/// Age in days: `mixed today`, `3 days old`.
pub(super) fn age(bath: &Bath, now: i64) -> String {
    match days(bath, now) {
        ..=0 => "mixed today".to_owned(),
        1 => "1 day old".to_owned(),
        days => format!("{days} days old"),
    }
}

/// Whole days since it was mixed.
pub(super) fn days(bath: &Bath, now: i64) -> i64 {
    (now - bath.mixed.happened.seconds()).div_euclid(86_400)
}

/// What stands out, and what to do about it.
pub(super) fn finding(finding: &Finding) -> (String, &'static str) {
    match finding {
        Finding::Backward { earlier, later, from, to } => (
            format!(
                "reading {} says at most pH {to:.1}, but reading {} said at least {from:.1} before; a bath does not become more acid by itself",
                later.short(),
                earlier.short()
            ),
            "look for a wrong cup, a top-up that was not written down, or another light; read again",
        ),
        Finding::Spread { readers, low, median, high } => (
            format!(
                "{} read pH {low:.1} to {high:.1} with nothing between; the median is {median:.1}",
                words::printable(&readers.join(" and "))
            ),
            "trust the median; same cup, same fill line, same light",
        ),
        Finding::SamePhoto { earlier, later } => (
            format!("readings {} and {} are of one photo; the later one counts", earlier.short(), later.short()),
            "take another photo: reading one twice tells no more",
        ),
        Finding::ToppedUp { times } => (
            format!("topped up with acid {times} times; that adds reserve, but salts, dyes and gelatin stay"),
            "mix a new bath; its age counts from the first mix",
        ),
        Finding::MixedWork => ("film and paper went through the same bath".to_owned(), "keep baths for film and paper apart"),
        Finding::WrongWork { wanted } => {
            (format!("the bath is for {}, but something else went through", work(*wanted)), "keep baths for film and paper apart")
        }
        Finding::Overdrawn => ("more was taken out than was in".to_owned(), "measure its volume and write that down"),
        Finding::Old { days, limit } => (
            format!("{days} days old; such a bath is usually kept {limit} at most"),
            "mix a new one; slime, cloud or a smell of sulfur means discard, whatever the colour",
        ),
        Finding::AfterDiscard { entries } => {
            (format!("{entries} entries since it was discarded"), "undo the discarding if it was a mistake, else look which bath was meant")
        }
        Finding::BeforeMix { entry, entries } => {
            let more = if *entries > 1 { format!(" and {} more are", entries - 1) } else { " is".to_owned() };
            (
                format!("entry {}{more} dated before the bath was mixed", entry.short()),
                "one of the dates is wrong, or it was another bath: undo the entry and write it down with the right time or name",
            )
        }
        Finding::Future { entry } => {
            (format!("entry {} is dated after now", entry.short()), "check the clocks of the machines that write into this logbook")
        }
    }
}

/// What a record proves about a bath, in one sentence.
pub(super) fn proof(proof: Proof) -> &'static str {
    match proof {
        Proof::ClearedAfter => {
            "the record clears the bath: it was read fresh afterwards, with no acid added between, and a bath only gets worse by use"
        }
        Proof::ClearedBefore => "the record clears the bath: it was read fresh before, and little went through since",
        Proof::BlamedByReading => "the record speaks against the bath: the last reading before says spent",
        Proof::BlamedByCount => "the record speaks against the bath: by the count its acid was used up before",
        Proof::Neither => "the record neither clears nor blames the bath",
    }
}

/// What else spoils negatives and prints in these ways.
pub(super) const SUSPECTS: &str = "other suspects: too little agitation or too slow a pour, developer running out or unevenly mixed, no pre-soak, old fixer or too short \
     a fix, fixer splashed back by tongs, temperature steps between baths, too short a wash";

/// What would settle it the next time.
pub(super) const NEXT_TIME: &str = "a reading before and after the session would settle it the next time";

/// On every label.
pub(super) const LABEL_CAUTION: &str =
    "NOT FOR DRINKING. Acid: keep out of eyes, away from children, food, bleach, fixer and sulfide toner.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_no_needless_zeros() {
        assert_eq!((plain(2.0), plain(1.5), plain(0.25), plain(50.0)), ("2".into(), "1.5".into(), "0.25".into(), "50".into()));
        assert_eq!((volume(850.4), volume(1000.0), volume(1250.0)), ("850 ml".into(), "1 l".into(), "1.25 l".into()));
    }
}
