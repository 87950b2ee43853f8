//! What happens to a bath besides loads, as it is told, made into what is kept.

use super::book::BookError;
use crate::logbook::event::{Developer, Event, Reading, Word};
use crate::logbook::ledger::Bath;
use crate::measurement::request::Limits;
use crate::quantity::Ph;

/// A pH read by a meter, by paper or by eye, or a bound.
#[derive(Debug, Clone, PartialEq)]
pub struct ByHand {
    /// Likely pH.
    pub ph: Option<Ph>,
    /// Lower end of where it lies for sure; alone it means "above".
    pub low: Option<Ph>,
    /// Upper end of where it lies for sure; alone it means "below".
    pub high: Option<Ph>,
    /// What it was read with.
    pub means: String,
    /// Kind of light.
    pub light: Option<String>,
}

impl ByHand {
    /// The reading as it is kept.
    #[must_use]
    pub fn reading(&self, limits: Limits) -> Reading {
        Reading {
            ph: self.ph.map(Ph::value),
            ph_low: self.low.map(Ph::value),
            ph_high: self.high.map(Ph::value),
            state: self.state(limits),
            reasons: Vec::new(),
            light: self.light.clone(),
            means: self.means.clone(),
            indicator: None,
            ionic_strength: None,
            photo: None,
        }
    }

    /// By the likely pH; by a bound alone only where the whole of it lies in one state.
    fn state(&self, limits: Limits) -> Word {
        let of = |ph: Ph| match ph {
            ph if ph >= limits.spent => Word::Spent,
            ph if ph >= limits.nearing => Word::Nearing,
            _ => Word::Fresh,
        };
        match (self.ph, self.low, self.high) {
            (Some(ph), _, _) => of(ph),
            (None, Some(low), _) if low >= limits.spent => Word::Spent,
            (None, _, Some(high)) if high < limits.nearing => Word::Fresh,
            (None, Some(low), Some(high)) if of(low) == of(high) => of(low),
            _ => Word::Unclear,
        }
    }
}

/// The developer as told, else the one of the last load; without a figure of one's own it keeps the one given before.
///
/// # Errors
/// [`BookError::NoDeveloper`].
pub fn developer(bath: &Bath, told: Option<Developer>) -> Result<Developer, BookError> {
    match told {
        Some(told) => Ok(Developer { own_meq: told.own_meq.or_else(|| bath.own_figure(&told.name)), ..told }),
        None => bath.last_developer().cloned().ok_or_else(|| BookError::NoDeveloper(bath.start.name.clone())),
    }
}

/// A drop test: `bath_ml` of bath took `used_ml` of developer until its dye turned, ml.
///
/// # Errors
/// [`BookError::NoDeveloper`].
pub fn drop_test(bath: &Bath, bath_ml: f64, used_ml: f64, told: Option<Developer>) -> Result<Event, BookError> {
    Ok(Event::DropTest { bath_ml, used_ml, developer: developer(bath, told)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn state(ph: Option<f64>, low: Option<f64>, high: Option<f64>) -> Word {
        let [ph, low, high] = [ph, low, high].map(|ph| ph.map(|ph| Ph::new(ph).unwrap()));
        ByHand { ph, low, high, means: "eye".to_owned(), light: None }.reading(Limits::USUAL).state
    }

    // Limits 5.0 and 5.5: common practice.
    #[test]
    fn a_bound_gives_a_state_only_where_all_of_it_has_one() {
        assert_eq!(state(Some(4.6), None, None), Word::Fresh);
        assert_eq!(state(Some(5.2), Some(4.0), Some(6.0)), Word::Nearing);
        assert_eq!(state(None, Some(5.6), None), Word::Spent);
        assert_eq!(state(None, None, Some(4.9)), Word::Fresh);
        assert_eq!(state(None, None, Some(5.2)), Word::Unclear);
        assert_eq!(state(None, Some(5.1), Some(5.4)), Word::Nearing);
        assert_eq!(state(None, Some(4.9), Some(5.4)), Word::Unclear);
    }
}
