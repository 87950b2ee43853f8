//! Values to text and picture bytes; no files.
//!
//! [`text`], [`json`] and [`table`] are the three reports, [`html`] the page of many photos; [`sheet`], [`chart`] and [`placement`] lay
//! out a [`drawing::Drawing`], which [`svg`], [`raster`] and [`pdf`] turn into bytes. Every sentence is in [`words`], every rounding in
//! [`number`].

pub mod bath;
pub mod buffer;
pub mod calibration;
pub mod chart;
pub mod cost;
pub mod disposal;
pub mod drawing;
pub mod dyes;
pub mod font;
pub mod html;
pub mod json;
pub mod mixing;
pub mod number;
pub mod pdf;
pub mod placement;
pub mod raster;
pub mod sheet;
pub mod svg;
pub mod symbol;
pub mod table;
pub mod tally;
pub mod text;
pub mod words;

use crate::measurement::reading::{Reading, State};

/// What one photo came to.
#[derive(Debug, Clone)]
pub struct Entry {
    /// The photo as named by the user.
    pub photo: String,
    /// When it was taken, ISO 8601 as far as known.
    pub taken: Option<String>,
    /// The camera as its file names it.
    pub camera: Option<String>,
    /// The reading, or why there is none.
    pub outcome: Result<Reading, Failure>,
}

/// A photo that gave no reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    /// Stable code.
    pub code: String,
    /// What failed, lower case, no full stop.
    pub message: String,
    /// The next action.
    pub hint: Option<String>,
}

impl Entry {
    /// Drops what only pictures need, so that the entries of many photos stay small.
    #[must_use]
    pub fn without_curves(mut self) -> Self {
        for cup in self.outcome.iter_mut().flat_map(|reading| &mut reading.cups) {
            cup.posterior = Vec::new();
            cup.rings = Vec::new();
        }
        self
    }

    /// True when at least one cup got a state other than unclear.
    #[must_use]
    pub fn is_judged(&self) -> bool {
        self.outcome.as_ref().is_ok_and(|reading| reading.cups.iter().any(|cup| cup.state != State::Unclear))
    }
}

#[cfg(test)]
pub(crate) mod examples;
