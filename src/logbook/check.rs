//! Looks for figures that cannot be, before an entry is written or taken over.

use super::event::{Developer, Event, Load, Mixed, Reading};
use super::recipe::RecipeError;
use crate::chemistry::developer;
use crate::quantity::{MeqPerLitre, Millilitres, Money, Ph, RangeError};

/// Longest name, place or reason, characters: more does not fit a line of a list.
pub const LONGEST_NAME: usize = 60;
/// Most pieces of one kind in one entry.
pub const MOST_PIECES: f64 = 10_000.0;
/// Least and most carry-over of one piece, ml: a strip of test paper, a mural.
pub const CARRY_OVER: (f64, f64) = (0.01, 5000.0);

/// An entry that cannot be.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum EntryError {
    /// A figure out of its range.
    #[error(transparent)]
    Range(#[from] RangeError),
    /// Any other figure.
    #[error("{what} {value} is outside {low} to {high}")]
    Figure {
        /// Which figure.
        what: &'static str,
        /// The refused value.
        value: f64,
        /// Lowest value allowed.
        low: f64,
        /// Highest value allowed.
        high: f64,
    },
    /// A name that is empty, too long, or has control characters.
    #[error("{what} `{text}` is empty, longer than {LONGEST_NAME} characters, or has characters that cannot be printed")]
    Name {
        /// What it names.
        what: &'static str,
        /// The refused text.
        text: String,
    },
    /// Nothing went through.
    #[error("the load has no pieces")]
    NoPieces,
    /// A reading that says nothing.
    #[error("the reading has neither pH nor bound nor reason")]
    EmptyReading,
    /// Ends of an interval in the wrong order, or a likely value outside.
    #[error("pH {ph} lies outside its own interval {low} to {high}")]
    Interval {
        /// Likely pH.
        ph: f64,
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// A developer that nobody knows.
    #[error("no such developer `{name}` in the table, and no figure of its own; known are {known}")]
    Developer {
        /// As given.
        name: String,
        /// Names of the table.
        known: String,
    },
    /// What the recipe says cannot be.
    #[error(transparent)]
    Recipe(#[from] RecipeError),
}

impl EntryError {
    /// The next action.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            EntryError::Range(_) | EntryError::Figure { .. } => "correct the figure and its unit",
            EntryError::Name { .. } => "give a short name, such as tray-2",
            EntryError::NoPieces => "say what went through and how many, such as 2 of 135-36 or 12 of 8x10rc",
            EntryError::EmptyReading => "give a pH, or the lower or upper end of where it lies",
            EntryError::Interval { .. } => "give a lower end below the likely pH, and an upper end above it",
            EntryError::Developer { .. } => "take one of those, or give your own figure for its alkalinity in meq/l",
            EntryError::Recipe(error) => error.hint(),
        }
    }
}

/// A name of people: short, printable, not empty.
///
/// # Errors
/// [`EntryError::Name`].
pub fn name(what: &'static str, text: &str) -> Result<(), EntryError> {
    let count = text.chars().count();
    let is_name = (1..=LONGEST_NAME).contains(&count) && !text.trim().is_empty() && !text.chars().any(char::is_control);
    if is_name { Ok(()) } else { Err(EntryError::Name { what, text: text.chars().take(2 * LONGEST_NAME).collect() }) }
}

fn figure(what: &'static str, value: f64, (low, high): (f64, f64)) -> Result<(), EntryError> {
    if (low..=high).contains(&value) { Ok(()) } else { Err(EntryError::Figure { what, value, low, high }) }
}

impl Event {
    /// Looks for figures that cannot be.
    ///
    /// # Errors
    /// [`EntryError`].
    pub fn check(&self) -> Result<(), EntryError> {
        match self {
            Event::Mixed(mixed) => mixed.check(),
            Event::Load(load) => load.check(),
            Event::Reading(reading) => reading.check(),
            Event::TopUp { volume_ml, recipe } => {
                Millilitres::new(*volume_ml)?;
                recipe.map_or(Ok(()), |recipe| Ok(recipe.liquid().map(drop)?))
            }
            Event::Volume { volume_ml } | Event::Lost { volume_ml } => Ok(Millilitres::new(*volume_ml).map(drop)?),
            Event::DropTest { bath_ml, used_ml, developer } => {
                figure("sample of bath in ml", *bath_ml, (0.1, 1000.0))?;
                figure("developer in ml", *used_ml, (0.0, 1000.0))?;
                developer.check()
            }
            Event::Discard { reason } => name("the reason", reason),
            Event::Note | Event::Undo { .. } => Ok(()),
        }
    }
}

impl Mixed {
    fn check(&self) -> Result<(), EntryError> {
        name("the name", &self.name)?;
        self.place.as_deref().map_or(Ok(()), |place| name("the place", place))?;
        Millilitres::new(self.volume_ml)?;
        if let Some(paid) = &self.paid {
            Money::new(paid.amount)?;
            let is_named = !paid.currency.is_empty();
            is_named.then(|| name("the currency", &paid.currency)).transpose()?;
        }
        self.recipe.liquid()?;
        Ok(())
    }
}

impl Load {
    fn check(&self) -> Result<(), EntryError> {
        if self.pieces.is_empty() {
            return Err(EntryError::NoPieces);
        }
        for pieces in &self.pieces {
            figure("count of pieces", pieces.count, (0.01, MOST_PIECES))?;
            figure("carry-over in ml", pieces.carry_over_ml, CARRY_OVER)?;
        }
        self.films.iter().try_for_each(|film| name("the film", film))?;
        self.developer.check()
    }
}

impl Developer {
    fn check(&self) -> Result<(), EntryError> {
        name("the developer", &self.name)?;
        match self.own_meq {
            // A developer takes up acid, or it would not be one.
            Some(meq) => figure("alkalinity in meq/l", meq, (1.0, MeqPerLitre::HIGH)),
            None if developer::find(&self.name).is_ok() => Ok(()),
            None => {
                let known = developer::all().iter().map(|known| known.name).collect::<Vec<_>>().join(", ");
                Err(EntryError::Developer { name: self.name.clone(), known })
            }
        }
    }
}

impl Reading {
    fn check(&self) -> Result<(), EntryError> {
        let ends = [self.ph, self.ph_low, self.ph_high];
        for value in ends.into_iter().flatten() {
            Ph::new(value)?;
        }
        if ends.iter().all(Option::is_none) && self.reasons.is_empty() {
            return Err(EntryError::EmptyReading);
        }
        let (low, high) = (self.ph_low.unwrap_or(f64::NEG_INFINITY), self.ph_high.unwrap_or(f64::INFINITY));
        let ph = self.ph.unwrap_or(if low <= high { low } else { high });
        if low <= ph && ph <= high { Ok(()) } else { Err(EntryError::Interval { ph, low, high }) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::logbook::event::Word;

    fn reading(ph: Option<f64>, ph_low: Option<f64>, ph_high: Option<f64>) -> Event {
        let means = "meter".to_owned();
        let (reasons, light, indicator, ionic_strength, photo) = (Vec::new(), None, None, None, None);
        Event::Reading(Reading { ph, ph_low, ph_high, state: Word::Fresh, reasons, light, means, indicator, ionic_strength, photo })
    }

    #[test]
    fn readings_must_say_something_that_can_be() {
        assert!(reading(Some(4.2), Some(4.0), Some(4.5)).check().is_ok() && reading(None, None, Some(5.0)).check().is_ok());
        assert_eq!(reading(None, None, None).check(), Err(EntryError::EmptyReading));
        assert!(reading(Some(4.6), Some(4.0), Some(4.5)).check().is_err() && reading(None, Some(5.0), Some(4.5)).check().is_err());
        assert!(reading(Some(f64::NAN), None, None).check().is_err());
    }

    #[test]
    fn names_are_short_and_printable() {
        assert!(name("the name", "tray 2").is_ok());
        for text in ["", "  ", "a\nb", &"x".repeat(LONGEST_NAME + 1)] {
            assert!(name("the name", text).is_err());
        }
    }

    #[test]
    fn volumes_and_developers_are_checked() {
        assert!(Event::Lost { volume_ml: 0.0 }.check().is_err() && Event::Volume { volume_ml: f64::INFINITY }.check().is_err());
        let test = |developer| Event::DropTest { bath_ml: 10.0, used_ml: 3.0, developer }.check();
        assert!(test(Developer { name: "carbonate-1+2".to_owned(), own_meq: None }).is_ok());
        assert!(test(Developer { name: "ours".to_owned(), own_meq: None }).unwrap_err().to_string().contains("borax-sulfite"));
        assert!(test(Developer { name: "ours".to_owned(), own_meq: Some(420.0) }).is_ok());
    }
}
