//! What chemistry refuses, and the next thing to do.

use crate::quantity::{Celsius, Ph, RangeError};

/// Why no answer was given.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ChemistryError {
    /// A concentration that cannot be.
    #[error("concentration of {substance} {value} mol/l is not a number from 0 up")]
    Concentration {
        /// What is dissolved.
        substance: &'static str,
        /// The refused value.
        value: f64,
    },
    /// No pH balances the charges.
    #[error("no pH from {low} to {high} balances the charges")]
    Unbalanced {
        /// Lowest pH tried.
        low: f64,
        /// Highest pH tried.
        high: f64,
    },
    /// Too much salt for any model here.
    #[error("ionic strength is above {limit} mol/l")]
    TooSalty {
        /// Highest ionic strength allowed, mol/l.
        limit: f64,
    },
    /// A buffer outside the temperatures of its table.
    #[error("{buffer} is known from {low} to {high} C, not at {temperature} C")]
    Temperature {
        /// Name of the buffer.
        buffer: String,
        /// The refused temperature.
        temperature: Celsius,
        /// Lowest temperature of the table, C.
        low: f64,
        /// Highest temperature of the table, C.
        high: f64,
    },
    /// A pH that the recipe does not hold.
    #[error("{recipe} buffers from pH {low} to {high}, not at {wanted}")]
    Unreachable {
        /// Name of the recipe.
        recipe: &'static str,
        /// The refused pH.
        wanted: Ph,
        /// Lower end of the recipe's range.
        low: f64,
        /// Upper end of the recipe's range.
        high: f64,
    },
    /// A pH between the ranges of all recipes.
    #[error("no recipe buffers at pH {wanted}; they reach from {low} to {high}")]
    NoRecipe {
        /// The refused pH.
        wanted: Ph,
        /// Lowest pH of any recipe.
        low: f64,
        /// Highest pH of any recipe.
        high: f64,
    },
    /// A name that is in no table.
    #[error("no such {kind} `{name}`; known are {known}")]
    Unknown {
        /// Kind of thing that was looked for.
        kind: &'static str,
        /// The name as given.
        name: String,
        /// The names there are.
        known: String,
    },
    /// The name of a home-mixed buffer that does not say what it must.
    #[error("`{name}` names no buffer: {problem}")]
    Malformed {
        /// The name as given.
        name: String,
        /// What is wrong with it.
        problem: String,
    },
    /// A powder that the recipe has no use for.
    #[error("{recipe} takes no {powder}")]
    WrongPowder {
        /// Name of the recipe.
        recipe: &'static str,
        /// Name of the powder.
        powder: &'static str,
    },
    /// A dilution that cannot be.
    #[error("`{written}` is no dilution: {problem}")]
    Dilution {
        /// The dilution as given.
        written: String,
        /// What is wrong with it.
        problem: &'static str,
    },
    /// A bath stronger than what it is to be made from.
    #[error("a bath of {wanted:.1} g/l cannot be made by thinning {source_strength:.1} g/l")]
    Stronger {
        /// Strength of the bath, g/l.
        wanted: f64,
        /// Strength of what it is made from, g/l.
        source_strength: f64,
    },
    /// Something of a strength that is not told.
    #[error("the strength of what the bath is made from is not told")]
    NoStrength,
    /// A strength that no bath has.
    #[error(transparent)]
    Strength(RangeError),
    /// A change of a bath that is no amount.
    #[error("an amount of {amount} is not a number from 0 up")]
    Change {
        /// The refused amount.
        amount: f64,
    },
    /// A pH that developer does not bring a bath to.
    #[error("the developer does not bring the bath to pH {wanted}")]
    Carried {
        /// The pH as read.
        wanted: Ph,
    },
    /// A volume that nobody mixes.
    #[error(transparent)]
    Volume(RangeError),
}

impl ChemistryError {
    /// The next action.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            ChemistryError::Concentration { .. } => "give a concentration of 0 mol/l or more",
            ChemistryError::Unbalanced { .. } | ChemistryError::TooSalty { .. } => "dilute: no model of salt holds in so strong a solution",
            ChemistryError::Temperature { .. } => "bring the buffer to a temperature inside its table, or take another buffer",
            ChemistryError::Unreachable { .. } => "take another recipe, or leave --recipe out to have one chosen",
            ChemistryError::NoRecipe { .. } => "take a standard buffer; `tintpoint buffer` lists them",
            ChemistryError::Unknown { .. } => "`tintpoint buffer` lists the buffers, `tintpoint buffer --help` the recipes",
            ChemistryError::Malformed { .. } => {
                "write recipe and pH, such as citrate-phosphate:5.5, or with the temperature it was mixed for, such as acetate:4.6:20"
            }
            ChemistryError::WrongPowder { .. } => "leave --form out to see every form the recipe takes",
            ChemistryError::Dilution { .. } => {
                "write parts of concentrate and water, such as 1+19, or 1:20 with --colon to say which is meant"
            }
            ChemistryError::Stronger { .. } => "thinning only weakens: take a stronger acid, or a weaker bath",
            ChemistryError::NoStrength => "name the acid and give its strength in per cent with --strength; the label tells",
            ChemistryError::Strength(_) => "give the strength of the bath as 1.7% or 15g/l, above 0",
            ChemistryError::Change { .. } => "give an amount of 0 or more",
            ChemistryError::Carried { .. } => "leave the developer out, or check the reading",
            ChemistryError::Volume(_) => "mix less, or fewer buffers",
        }
    }
}
