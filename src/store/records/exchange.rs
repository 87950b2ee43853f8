//! A logbook as JSON or CSV: whole, so that a later import gives the same entries.

use crate::logbook::event::{Entry, Event, Id};
use crate::logbook::moment::Moment;
use serde::{Deserialize, Serialize};

/// The word that tells an export from any other JSON file.
const KIND: &str = "tintpoint logbook";
/// Version of the export; raised when a field changes its meaning.
const VERSION: u32 = 1;

/// Columns of the CSV. An import reads those of [`COPIED`] and `event`; the rest is for spreadsheets.
const COLUMNS: [&str; 21] = [
    "book",
    "number",
    "id",
    "bath",
    "bath_name",
    "happened",
    "recorded",
    "who",
    "note",
    "kind",
    "volume_ml",
    "pieces",
    "developer",
    "films",
    "ph",
    "ph_low",
    "ph_high",
    "state",
    "light",
    "counts",
    "event",
];
/// Columns that an import needs, besides `event`.
const COPIED: [&str; 8] = ["book", "number", "id", "bath", "happened", "recorded", "who", "note"];

/// A text that is no export of a logbook.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ExchangeError {
    /// Another kind of file.
    #[error("it is no export of a logbook: {0}")]
    Foreign(String),
    /// Written by a newer program.
    #[error("the export has version {0}, this program knows up to {VERSION}")]
    Newer(u32),
    /// A row that cannot be read.
    #[error("row {row} cannot be read: {problem}")]
    Row {
        /// From 1, without the header.
        row: usize,
        /// What is wrong.
        problem: String,
    },
    /// What the writer says.
    #[error("the entries cannot be put into text: {0}")]
    Text(String),
}

impl ExchangeError {
    /// The next thing to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            ExchangeError::Newer(_) => "nothing was taken over; import with the newer program",
            ExchangeError::Row { .. } => {
                "nothing was taken over; a spreadsheet may have rewritten dates or numbers, so import the file as it was exported"
            }
            _ => "nothing was taken over; name a file that `tintpoint bath export` has written",
        }
    }
}

#[derive(Serialize, Deserialize)]
struct File {
    kind: String,
    version: u32,
    entries: Vec<Entry>,
}

/// All entries as one JSON object.
///
/// # Errors
/// [`ExchangeError::Text`].
pub fn to_json(entries: Vec<Entry>) -> Result<String, ExchangeError> {
    let file = File { kind: KIND.to_owned(), version: VERSION, entries };
    serde_json::to_string_pretty(&file).map(|text| text + "\n").map_err(|e| ExchangeError::Text(e.to_string()))
}

/// All entries as CSV, one row each; `counts` tells whether an entry still counts, `name` the name of a bath.
///
/// # Errors
/// [`ExchangeError::Text`].
pub fn to_csv(entries: &[Entry], counts: impl Fn(&Id) -> bool, name: impl Fn(&Id) -> String) -> Result<String, ExchangeError> {
    let failed = |e: csv::Error| ExchangeError::Text(e.to_string());
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record(COLUMNS).map_err(failed)?;
    for entry in entries {
        let event = serde_json::to_string(&entry.event).map_err(|e| ExchangeError::Text(e.to_string()))?;
        out.write_record(row(entry, event, counts(&entry.id), name(&entry.bath))).map_err(failed)?;
    }
    let bytes = out.into_inner().map_err(|e| ExchangeError::Text(e.to_string()))?;
    String::from_utf8(bytes).map_err(|e| ExchangeError::Text(e.to_string()))
}

fn row(entry: &Entry, event: String, counts: bool, name: String) -> [String; 21] {
    let flat = Flat::of(&entry.event);
    let text = |value: &str| value.to_owned();
    [
        text(entry.book.text()),
        entry.number.to_string(),
        text(entry.id.text()),
        text(entry.bath.text()),
        name,
        text(entry.happened.text()),
        text(entry.recorded.text()),
        entry.who.clone(),
        entry.note.clone().unwrap_or_default(),
        kind(&event),
        flat.volume,
        flat.pieces,
        flat.developer,
        flat.films,
        flat.ph[0].clone(),
        flat.ph[1].clone(),
        flat.ph[2].clone(),
        flat.state,
        flat.light,
        text(if counts { "yes" } else { "no" }),
        event,
    ]
}

/// The event's own word for itself.
fn kind(event: &str) -> String {
    #[derive(Deserialize)]
    struct Tagged {
        kind: String,
    }
    serde_json::from_str::<Tagged>(event).map(|tagged| tagged.kind).unwrap_or_default()
}

/// What a spreadsheet wants of an event.
#[derive(Default)]
struct Flat {
    volume: String,
    pieces: String,
    developer: String,
    films: String,
    ph: [String; 3],
    state: String,
    light: String,
}

impl Flat {
    fn of(event: &Event) -> Self {
        let number = |value: Option<f64>| value.map(|v| v.to_string()).unwrap_or_default();
        match event {
            Event::Mixed(mixed) => Flat { volume: mixed.volume_ml.to_string(), ..Flat::default() },
            Event::TopUp { volume_ml, .. } | Event::Volume { volume_ml } | Event::Lost { volume_ml } => {
                Flat { volume: volume_ml.to_string(), ..Flat::default() }
            }
            Event::Load(load) => Flat {
                pieces: load.pieces.iter().map(|p| format!("{}={}", p.piece, p.count)).collect::<Vec<_>>().join(" "),
                developer: load.developer.name.clone(),
                films: load.films.join(" "),
                ..Flat::default()
            },
            Event::Reading(reading) => Flat {
                ph: [number(reading.ph), number(reading.ph_low), number(reading.ph_high)],
                state: serde_json::to_value(reading.state).ok().and_then(|v| v.as_str().map(str::to_owned)).unwrap_or_default(),
                light: reading.light.clone().unwrap_or_default(),
                ..Flat::default()
            },
            Event::DropTest { developer, .. } => Flat { developer: developer.name.clone(), ..Flat::default() },
            Event::Note | Event::Discard { .. } | Event::Undo { .. } => Flat::default(),
        }
    }
}

/// Entries of an export, told by its content to be JSON or CSV.
///
/// # Errors
/// [`ExchangeError`].
pub fn parse(text: &str) -> Result<Vec<Entry>, ExchangeError> {
    let text = text.trim_start_matches('\u{feff}');
    if text.trim_start().starts_with('{') { from_json(text) } else { from_csv(text) }
}

fn from_json(text: &str) -> Result<Vec<Entry>, ExchangeError> {
    #[derive(Deserialize)]
    struct Head {
        kind: String,
        version: u32,
    }
    let head: Head = serde_json::from_str(text).map_err(|e| ExchangeError::Foreign(e.to_string()))?;
    if head.kind != KIND {
        return Err(ExchangeError::Foreign(format!("its kind is `{}`", head.kind.chars().take(40).collect::<String>())));
    }
    if head.version > VERSION {
        return Err(ExchangeError::Newer(head.version));
    }
    let file: File = serde_json::from_str(text).map_err(|e| ExchangeError::Foreign(e.to_string()))?;
    Ok(file.entries)
}

fn from_csv(text: &str) -> Result<Vec<Entry>, ExchangeError> {
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    let header = rows.headers().map_err(|e| ExchangeError::Foreign(e.to_string()))?.clone();
    let place = |name: &str| {
        header.iter().position(|column| column == name).ok_or_else(|| ExchangeError::Foreign(format!("it has no column `{name}`")))
    };
    let places = COPIED.map(place).into_iter().collect::<Result<Vec<_>, _>>()?;
    let event = place("event")?;
    rows.records()
        .enumerate()
        .map(|(i, record)| {
            let wrong = |problem: String| ExchangeError::Row { row: i + 1, problem };
            let record = record.map_err(|e| wrong(e.to_string()))?;
            let cells: Vec<&str> = places.iter().map(|&at| record.get(at).unwrap_or_default()).collect();
            entry(&cells, record.get(event).unwrap_or_default()).map_err(wrong)
        })
        .collect()
}

/// An entry from its cells in the order of [`COPIED`].
fn entry(cells: &[&str], event: &str) -> Result<Entry, String> {
    let &[book, number, id, bath, happened, recorded, who, note] = cells else { return Err("cells are missing".to_owned()) };
    let id_of = |text: &str| Id::try_from(text.to_owned()).map_err(|e| e.to_string());
    let moment = |text: &str| Moment::parse(text).map_err(|e| e.to_string());
    Ok(Entry {
        id: id_of(id)?,
        book: id_of(book)?,
        number: number.parse().map_err(|_| format!("`{number}` is no number"))?,
        bath: id_of(bath)?,
        happened: moment(happened)?,
        recorded: moment(recorded)?,
        who: who.to_owned(),
        note: (!note.is_empty()).then(|| note.to_owned()),
        event: serde_json::from_str(event).map_err(|e| e.to_string())?,
    })
}
