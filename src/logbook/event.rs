//! What can be written into a logbook. Entries are only ever added; what was wrong is undone by one more entry.

use super::moment::Moment;
use super::piece::Piece;
use super::recipe::Recipe;
use crate::measurement::reading::State;
use serde::{Deserialize, Serialize};
use std::fmt;

/// 128 random bits in 32 hexadecimal digits, so that entries of several machines can be put together.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Id(String);

/// A text that is no id.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is no id of 32 hexadecimal digits")]
pub struct IdError(String);

impl Id {
    /// From random bits, which the caller brings.
    #[must_use]
    pub fn of(bits: u128) -> Self {
        Id(format!("{bits:032x}"))
    }

    /// All 32 digits.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.0
    }

    /// The first eight digits: enough for people to name an entry by.
    #[must_use]
    pub fn short(&self) -> &str {
        self.0.get(..8).unwrap_or(&self.0)
    }
}

impl TryFrom<String> for Id {
    type Error = IdError;
    fn try_from(text: String) -> Result<Self, IdError> {
        let is_id = text.len() == 32 && text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
        if is_id { Ok(Id(text)) } else { Err(IdError(text)) }
    }
}

impl From<Id> for String {
    fn from(id: Id) -> String {
        id.0
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// One line of the logbook.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Its own id.
    pub id: Id,
    /// Logbook into which it was first written.
    pub book: Id,
    /// Its place in that logbook, from 1: there the order is by this and not by clocks.
    pub number: u64,
    /// The bath it is about: the id of the entry that mixed it.
    pub bath: Id,
    /// When it happened.
    pub happened: Moment,
    /// When it was written down.
    pub recorded: Moment,
    /// Who wrote it down.
    pub who: String,
    /// Anything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// What happened.
    pub event: Event,
}

impl Entry {
    /// True when it was written down later than it happened, as with `--at`.
    #[must_use]
    pub fn is_afterthought(&self) -> bool {
        self.happened.seconds() != self.recorded.seconds()
    }
}

/// What happened to a bath, or was learned of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Event {
    /// It was mixed.
    Mixed(Mixed),
    /// Film or paper went through.
    Load(Load),
    /// Its pH was read.
    Reading(Reading),
    /// Something was poured in.
    TopUp {
        /// Volume poured in, ml.
        volume_ml: f64,
        /// What a litre of it was made of; plain water when absent.
        recipe: Option<Recipe>,
    },
    /// Its volume was measured: the difference is water, evaporated or poured in.
    Volume {
        /// Volume now, ml.
        volume_ml: f64,
    },
    /// Some of it is gone, as it was: spilt, or taken for tests.
    Lost {
        /// Volume gone, ml.
        volume_ml: f64,
    },
    /// It took this much developer until its dye turned.
    DropTest {
        /// Sample of bath, ml.
        bath_ml: f64,
        /// Developer until it turned, ml.
        used_ml: f64,
        /// The developer.
        developer: Developer,
    },
    /// A note alone.
    Note,
    /// It was thrown away.
    Discard {
        /// Why.
        reason: String,
    },
    /// An earlier entry does not count.
    Undo {
        /// That entry.
        entry: Id,
    },
}

/// How a bath began.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mixed {
    /// What people call it.
    pub name: String,
    /// What a litre is made of.
    pub recipe: Recipe,
    /// Name of its indicator; none for a plain bath.
    pub indicator: Option<String>,
    /// Volume as mixed, ml.
    pub volume_ml: f64,
    /// Where it stands.
    pub place: Option<String>,
    /// How it is kept between sessions.
    pub keeping: Keeping,
    /// What it is for.
    pub work: Work,
    /// What it cost.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid: Option<Paid>,
}

/// An amount of money.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Paid {
    /// For the whole batch as mixed, without disposal.
    pub amount: f64,
    /// Currency as people write it; may be empty.
    pub currency: String,
}

/// How a bath is kept between sessions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Keeping {
    /// A full, closed bottle at room temperature.
    Bottle,
    /// A full, closed bottle in a refrigerator.
    Cold,
    /// An open tray or bottle.
    Open,
}

/// What a bath is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Work {
    /// Film.
    Film,
    /// Paper.
    Paper,
    /// Both.
    Both,
}

/// Film or paper out of one developer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Load {
    /// What went through.
    pub pieces: Vec<Pieces>,
    /// The developer they came from.
    pub developer: Developer,
    /// Who made them, such as a class.
    pub by: Option<String>,
    /// True when nobody counted: a box, or sheets handed out.
    pub guessed: bool,
    /// Names of the films or prints, to trace them by.
    pub films: Vec<String>,
}

/// Pieces of one kind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pieces {
    /// The kind.
    pub piece: Piece,
    /// How many.
    pub count: f64,
    /// Developer that one brings along, ml.
    pub carry_over_ml: f64,
    /// True when the user measured that.
    pub measured: bool,
}

/// A developer by what it costs the bath.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Developer {
    /// A name of the table of developers, or the user's own.
    pub name: String,
    /// Acid that a litre binds, meq: the user's own figure, else the table's.
    pub own_meq: Option<f64>,
}

/// A pH, or a bound, and where it came from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Likely pH.
    pub ph: Option<f64>,
    /// Lower end of the 95 % interval.
    pub ph_low: Option<f64>,
    /// Upper end of the 95 % interval.
    pub ph_high: Option<f64>,
    /// The word for it.
    pub state: Word,
    /// Codes of reasons and warnings.
    #[serde(default)]
    pub reasons: Vec<String>,
    /// Kind of light.
    pub light: Option<String>,
    /// What it was read with: `photo`, or in the user's words, such as `meter` or `eye`.
    pub means: String,
    /// Name of the indicator.
    pub indicator: Option<String>,
    /// Salt that the reading assumed, mol/l.
    pub ionic_strength: Option<f64>,
    /// The photo.
    pub photo: Option<PhotoSeen>,
}

/// The state of a bath, as a word that can be kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Word {
    /// Fresh.
    Fresh,
    /// Nearing exhaustion.
    Nearing,
    /// Spent.
    Spent,
    /// Cannot tell.
    Unclear,
}

impl From<State> for Word {
    fn from(state: State) -> Self {
        match state {
            State::Fresh => Word::Fresh,
            State::Nearing => Word::Nearing,
            State::Spent => Word::Spent,
            State::Unclear => Word::Unclear,
        }
    }
}

impl From<Word> for State {
    fn from(word: Word) -> Self {
        match word {
            Word::Fresh => State::Fresh,
            Word::Nearing => State::Nearing,
            Word::Spent => State::Spent,
            Word::Unclear => State::Unclear,
        }
    }
}

/// A photo that was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PhotoSeen {
    /// Its name then.
    pub name: String,
    /// Its content: SHA-256 in 64 hexadecimal digits.
    pub sha256: String,
    /// When it was taken, as the camera says.
    pub taken: Option<String>,
    /// True when a copy is kept beside the logbook.
    pub kept: bool,
}
