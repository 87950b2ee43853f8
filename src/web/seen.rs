//! What the pages show of a bath: plain values, taken from the logbook at one moment.

use super::routes::baths::address;
use crate::desk::clock;
use crate::logbook::advice::Planned;
use crate::logbook::belief::Range;
use crate::logbook::event::{Entry, Event, Load};
use crate::logbook::habit;
use crate::logbook::ledger::{Bath, Ledger};
use crate::measurement::reading::State;
use crate::present::bath::judged::{self, Judged};
use crate::present::bath::{glance, pictures};
use crate::present::svg;

/// A bath at a glance.
#[derive(Debug, Clone)]
pub(super) struct Glance {
    pub(super) name: String,
    pub(super) id: String,
    pub(super) place: Option<String>,
    pub(super) address: String,
    pub(super) state: State,
    /// The day on which it was thrown away.
    pub(super) gone: Option<String>,
    /// Share of the reserve used, where it can be told.
    pub(super) used: Option<Range>,
    /// What to do with the next session, where that can be told.
    pub(super) next: Option<String>,
    pub(super) facts: Vec<(&'static str, String)>,
    /// The last reading in words.
    pub(super) read: Option<String>,
    /// How many things stand out.
    pub(super) notes: usize,
}

/// What was just done, by the address that led here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Told {
    Nothing,
    /// The entry of this id was written.
    Written(String),
    /// The form had been taken before.
    Again,
}

/// An entry that a button acts on.
#[derive(Debug, Clone)]
pub(super) struct Acted {
    pub(super) id: String,
    pub(super) text: String,
}

/// All that the page of one bath shows.
#[derive(Debug, Clone)]
pub(super) struct Whole {
    pub(super) glance: Glance,
    pub(super) start: String,
    /// Mark of its forms, each of which is taken once.
    pub(super) once: String,
    /// What was just done.
    pub(super) said: Option<String>,
    pub(super) offers: Vec<Load>,
    pub(super) developer: Option<String>,
    pub(super) sentences: Vec<String>,
    pub(super) notes: Vec<(String, &'static str)>,
    /// The trend, SVG.
    pub(super) trend: Option<String>,
    /// The latest first; whether each counts.
    pub(super) entries: Vec<(String, bool)>,
    /// The last entry that counts.
    pub(super) last: Option<Acted>,
    /// The entry that was undone last, by the undo that it would take back.
    pub(super) undone: Option<Acted>,
}

impl Glance {
    /// All baths, those in use first.
    pub(super) fn all(ledger: &Ledger, now: i64) -> Vec<Self> {
        let mut all: Vec<Self> = ledger.baths.iter().map(|bath| Glance::of(ledger, bath, (now, Planned::Usual)).0).collect();
        all.sort_by_key(|glance| glance.gone.is_some());
        all
    }

    fn of(ledger: &Ledger, bath: &Bath, (now, planned): (i64, Planned)) -> (Self, Result<Judged, (String, &'static str)>) {
        let judged = judged::judged_for(bath, now, planned);
        let read = bath.readings().next_back();
        let glance = Glance {
            name: crate::present::words::printable(&bath.start.name),
            id: bath.mixed.id.text().to_owned(),
            place: bath.start.place.as_deref().map(crate::present::words::printable),
            address: address(ledger, bath),
            state: judged::state(bath, judged.as_ref().ok()),
            gone: bath.discarded().map(|entry| entry.happened.date().to_owned()),
            used: judged.as_ref().ok().map(|judged| judged.judgement.used),
            next: judged.as_ref().ok().and_then(Judged::next),
            facts: glance::facts(bath, judged.as_ref().map_err(|(why, _)| why.as_str()), now),
            read: read.map(|(entry, reading)| format!("{}, {}", glance::reading(reading), entry.happened.minute())),
            notes: bath.findings(now).len(),
        };
        (glance, judged)
    }
}

impl Whole {
    pub(super) fn of(ledger: &Ledger, bath: &Bath, (now, planned): (i64, Planned), told: &Told, once: String) -> Self {
        let (glance, judged) = Glance::of(ledger, bath, (now, planned));
        let date = clock::date_of;
        let sentences = match &judged {
            Ok(judged) => judged.known(&date),
            Err((why, hint)) => vec![format!("what is left cannot be told: {why}"), (*hint).to_owned()],
        };
        let is_undo = |entry: &&Entry| matches!(entry.event, Event::Undo { .. });
        let latest = bath.counting().next_back();
        Whole {
            start: glance::start(&bath.start),
            once,
            said: said(bath, told),
            offers: if glance.gone.is_some() { Vec::new() } else { habit::usual(bath) },
            developer: bath.last_developer().map(|developer| developer.name.clone()),
            sentences: if glance.gone.is_some() { Vec::new() } else { sentences },
            notes: bath.findings(now).iter().map(glance::finding).collect(),
            trend: judged.as_ref().ok().map(|judged| svg::inline(&pictures::trend(bath, judged, now, &date))),
            entries: bath.entries.iter().rev().map(|entry| (glance::entry(entry), !bath.undone.contains(&entry.id))).collect(),
            last: bath.counting().rev().find(|entry| !is_undo(entry)).map(acted),
            undone: latest.filter(is_undo).map(|entry| Acted { text: undone(bath, entry), ..acted(entry) }),
            glance,
        }
    }
}

fn acted(entry: &Entry) -> Acted {
    Acted { id: entry.id.text().to_owned(), text: glance::entry(entry) }
}

/// What an undo took back.
fn undone(bath: &Bath, undo: &Entry) -> String {
    let Event::Undo { entry: target } = &undo.event else { return String::new() };
    bath.entries.iter().find(|entry| entry.id == *target).map(glance::entry).unwrap_or_default()
}

fn said(bath: &Bath, told: &Told) -> Option<String> {
    match told {
        Told::Nothing => None,
        Told::Again => Some("that was written already; nothing was written a second time".to_owned()),
        Told::Written(id) => {
            let entry = bath.entries.iter().find(|entry| entry.id.text() == id)?;
            Some(match &entry.event {
                Event::Undo { .. } => format!("taken back: {}", undone(bath, entry)),
                _ => format!("written: {}", glance::entry(entry)),
            })
        }
    }
}
