//! One bath from mixing on, as the judgement wants it: what went in, what was seen, and how well each figure is known.
//!
//! Spreads are standard deviations of the natural logarithm: 0.4 is about a factor of 1.5 either way.

use crate::chemistry::error::ChemistryError;
use crate::chemistry::liquid::Liquid;
use crate::quantity::{Celsius, IonicStrength, Ph};

/// Carry-over of a default, not measured: half to twice the figure is the range of common practice, evenly in the logarithm, whose
/// standard deviation is ln 4 / sqrt 12.
pub const DEFAULT_SPREAD: f64 = 0.4;
/// Carry-over of one's own weighing, or alkalinity of one's own titration: common practice, a few weighings agree within a tenth.
pub const MEASURED_SPREAD: f64 = 0.1;
/// Strength of a bath mixed from powder on a balance or from a labelled concentrate in a graduate (common practice).
pub const STRENGTH_SPREAD: f64 = 0.05;

/// A bath, its ware and its record.
#[derive(Debug, Clone, PartialEq)]
pub struct Life {
    /// What a litre holds as mixed.
    pub fresh: Liquid,
    /// Spread of its strength; [`STRENGTH_SPREAD`] if nothing better is known.
    pub strength_spread: f64,
    /// Volume as mixed, litres, above 0.
    pub litres: f64,
    /// Temperature of the bath in use.
    pub temperature: Celsius,
    /// When it was first mixed, seconds since any fixed time.
    pub mixed: i64,
    /// What acid, for its age.
    pub acid: AcidKind,
    /// How it is kept, for its age.
    pub keeping: Keeping,
    /// Kinds of pieces that [`Load::piece`] counts from 0.
    pub pieces: Vec<Piece>,
    /// Developers that [`Load::developer`] and [`DropTest::developer`] count from 0.
    pub developers: Vec<Developer>,
    /// False when pieces went through that nobody wrote down, up to the latest reading or drop test: then only that one tells, and what came after it.
    pub counted: bool,
    /// What happened, in the order of time.
    pub steps: Vec<Step>,
}

/// Why a life cannot be judged.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LifeError {
    /// A figure that cannot be.
    #[error("{what} {value} is not a number {wanted}")]
    Figure {
        /// Which figure.
        what: &'static str,
        /// The refused value.
        value: f64,
        /// Range that was wanted.
        wanted: &'static str,
    },
    /// A step that names a piece or developer which is not in the list.
    #[error("step {step} names {what} {index}, of {count}")]
    Missing {
        /// Piece or developer.
        what: &'static str,
        /// Place of the step, from 0.
        step: usize,
        /// What it named, from 0.
        index: usize,
        /// How many there are.
        count: usize,
    },
    /// A piece or developer that was asked for and is not in the list.
    #[error("{what} {index} was asked for, of {count}")]
    Unlisted {
        /// Piece or developer.
        what: &'static str,
        /// What was asked for, from 0.
        index: usize,
        /// How many there are.
        count: usize,
    },
    /// A fresh bath that is past the spent limit already, or a developer that takes up no acid.
    #[error("{what} has no {lacking} at the spent limit")]
    Powerless {
        /// Bath or developer.
        what: String,
        /// Reserve or alkalinity.
        lacking: &'static str,
    },
    /// What the chemistry refuses.
    #[error(transparent)]
    Chemistry(#[from] ChemistryError),
}

impl LifeError {
    /// The next action.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            LifeError::Figure { .. } => "correct the entry",
            LifeError::Missing { .. } | LifeError::Unlisted { .. } => "name one of those that the bath is used with",
            LifeError::Powerless { .. } => "check what was said of bath and developer, and the spent limit",
            LifeError::Chemistry(e) => e.hint(),
        }
    }
}

impl Life {
    /// Looks for figures that cannot be.
    ///
    /// # Errors
    /// [`LifeError::Figure`] and [`LifeError::Missing`].
    pub fn check(&self) -> Result<(), LifeError> {
        positive("volume of the bath in litres", self.litres)?;
        spread("spread of the strength", self.strength_spread)?;
        for piece in &self.pieces {
            positive("carry-over in ml", piece.carry_over)?;
            positive("area in square metres", piece.area)?;
            spread("spread of the carry-over", piece.spread)?;
        }
        for developer in &self.developers {
            spread("spread of the developer", developer.spread)?;
        }
        self.steps.iter().enumerate().try_for_each(|(at, step)| self.check_step(at, &step.change))
    }

    fn check_step(&self, at: usize, change: &Change) -> Result<(), LifeError> {
        let listed = |what, index, count| if index < count { Ok(()) } else { Err(LifeError::Missing { what, step: at, index, count }) };
        match change {
            Change::Load(load) => {
                at_least_nothing("count of pieces", load.count)?;
                spread("spread of the count", load.count_spread)?;
                listed("piece", load.piece, self.pieces.len())?;
                listed("developer", load.developer, self.developers.len())
            }
            Change::TopUp { litres, .. } | Change::Water { litres } | Change::Lost { litres } => {
                at_least_nothing("volume in litres", *litres)
            }
            Change::VolumeIs { litres } => positive("volume in litres", *litres),
            Change::Reading(_) => Ok(()),
            Change::DropTest(test) => {
                positive("volume of the sample in ml", test.bath)?;
                at_least_nothing("volume of developer in ml", test.used)?;
                listed("developer", test.developer, self.developers.len())
            }
        }
    }
}

fn positive(what: &'static str, value: f64) -> Result<(), LifeError> {
    if value.is_finite() && value > 0.0 { Ok(()) } else { Err(LifeError::Figure { what, value, wanted: "above 0" }) }
}

fn at_least_nothing(what: &'static str, value: f64) -> Result<(), LifeError> {
    if value.is_finite() && value >= 0.0 { Ok(()) } else { Err(LifeError::Figure { what, value, wanted: "from 0 up" }) }
}

/// A spread of 2 is a factor of 7 either way: nobody knows less of his own darkroom.
fn spread(what: &'static str, value: f64) -> Result<(), LifeError> {
    if (0.0..=2.0).contains(&value) { Ok(()) } else { Err(LifeError::Figure { what, value, wanted: "from 0 to 2" }) }
}

/// Acid of a bath, as far as its keeping goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AcidKind {
    /// Acetic acid, vinegar.
    Acetic,
    /// Citric acid, which moulds.
    Citric,
    /// Metabisulfite, which loses sulfur dioxide.
    Metabisulfite,
    /// Any other.
    Other,
}

/// How a bath is kept between sessions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keeping {
    /// A full, closed bottle at room temperature.
    Bottle,
    /// A full, closed bottle in a refrigerator.
    Cold,
    /// An open tray.
    Tray,
}

/// A kind of film or paper, by what it drags along.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Its name, such as `135-36`.
    pub name: String,
    /// Carry-over of one piece, ml, above 0: as much in as out.
    pub carry_over: f64,
    /// Spread of the mean carry-over; [`DEFAULT_SPREAD`] or [`MEASURED_SPREAD`].
    pub spread: f64,
    /// Area of one piece, square metres, to turn rolls into sheets.
    pub area: f64,
}

/// A developer at working strength.
#[derive(Debug, Clone, PartialEq)]
pub struct Developer {
    /// Its name.
    pub name: String,
    /// What a litre holds.
    pub liquid: Liquid,
    /// Spread of its strength; [`DEFAULT_SPREAD`] for a kind out of the table, [`MEASURED_SPREAD`] when titrated.
    pub spread: f64,
}

/// One entry.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// When, on the clock of [`Life::mixed`], seconds.
    pub at: i64,
    /// What.
    pub change: Change,
}

/// What can happen to a bath, and what can be learned of it.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Pieces went through.
    Load(Load),
    /// Bath was poured in: litres of this liquid.
    TopUp {
        /// Volume poured in.
        litres: f64,
        /// What a litre of it holds.
        liquid: Liquid,
    },
    /// Water was poured in, litres.
    Water {
        /// Volume poured in.
        litres: f64,
    },
    /// Bath was spilt, thrown away or taken for tests, litres.
    Lost {
        /// Volume gone.
        litres: f64,
    },
    /// The volume was measured, litres: the difference is taken for water, evaporated or poured in.
    VolumeIs {
        /// Volume now.
        litres: f64,
    },
    /// The pH was read.
    Reading(Reading),
    /// The bath was titrated with a developer.
    DropTest(DropTest),
}

/// Pieces of one kind out of one developer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Load {
    /// How many, at least 0; a fraction when only guessed.
    pub count: f64,
    /// Spread of the count: 0 when counted, 0.3 for a class whose sheets were guessed.
    pub count_spread: f64,
    /// Place of the kind in [`Life::pieces`].
    pub piece: usize,
    /// Place of the developer in [`Life::developers`].
    pub developer: usize,
}

/// What a reading said: a figure with both ends, or a bound alone. A reading with nothing set says nothing.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reading {
    /// Likely pH.
    pub ph: Option<Ph>,
    /// Lower end of the 95 % interval; none when open, as in "below 5.1".
    pub low: Option<Ph>,
    /// Upper end of the 95 % interval; none when open.
    pub high: Option<Ph>,
    /// The salt that the reading assumed; none for a meter.
    pub salt: Option<Salt>,
    /// pKa' of the dye that was read, in the salt that was assumed; none for a meter, or where the dye is not known.
    pub pka: Option<f64>,
}

/// Salt that a reading by colour assumed: with more of it the dye turns earlier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Salt {
    /// Ionic strength that was assumed.
    pub assumed: IonicStrength,
    /// Factor k of the dye on the meter scale: pKa' falls by k A f(I); 3 for a dye whose acid form has one negative charge.
    pub factor: f64,
}

/// Developer was dripped into a sample of bath until its dye turned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DropTest {
    /// Place of the developer in [`Life::developers`].
    pub developer: usize,
    /// Sample of bath, ml, above 0.
    pub bath: f64,
    /// Developer until it turned, ml, at least 0.
    pub used: f64,
    /// pH where the dye was taken to have turned.
    pub turn: Ph,
}
