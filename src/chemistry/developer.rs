//! Developers by what in them binds acid, from `calibration/developers.csv`: common practice, to be replaced by one's own figures.

use super::error::ChemistryError;
use super::liquid::Liquid;
use super::powder;
use super::table::{number, rows};
use crate::quantity::{Celsius, MeqPerLitre, Ph};
use std::sync::OnceLock;

const TABLE: &str = include_str!("../../calibration/developers.csv");

/// Powders of the table's columns, in their order.
const COLUMNS: [&str; 5] =
    ["sodium-sulfite", "sodium-carbonate-anhydrous", "borax-decahydrate", "sodium-metaborate-anhydrous", "sodium-hydroxide"];

/// A kind of developer at working strength.
#[derive(Debug, Clone, PartialEq)]
pub struct Developer {
    /// Lower-case name with hyphens.
    pub name: &'static str,
    /// What it is.
    pub plain: &'static str,
    /// Grams per litre of sulfite, carbonate (anhydrous), borax, metaborate (anhydrous) and hydroxide.
    pub grams: [f64; 5],
}

/// All kinds of the table.
#[must_use]
pub fn all() -> &'static [Developer] {
    static ALL: OnceLock<Vec<Developer>> = OnceLock::new();
    ALL.get_or_init(|| {
        let parse = |row: Vec<&'static str>| Developer { name: row[0], plain: row[1], grams: [2, 3, 4, 5, 6].map(|i| number(row[i])) };
        rows(TABLE).filter(|row| row.len() == 7).map(parse).collect()
    })
}

/// The developer of that name.
///
/// # Errors
/// [`ChemistryError::Unknown`] with the names there are.
pub fn find(name: &str) -> Result<&'static Developer, ChemistryError> {
    let wanted = name.trim().to_lowercase();
    all().iter().find(|developer| developer.name == wanted).ok_or_else(|| {
        let known = all().iter().map(|developer| developer.name).collect::<Vec<_>>().join(", ");
        ChemistryError::Unknown { kind: "developer", name: name.trim().to_owned(), known }
    })
}

impl Developer {
    /// What is dissolved in it.
    #[must_use]
    pub fn liquid(&self) -> Liquid {
        let powders = COLUMNS.iter().zip(self.grams).filter_map(|(name, grams)| Some((powder::find(name).ok()?, grams)));
        powders.fold(Liquid::water(), |liquid, (powder, grams)| liquid.with_powder(powder, grams))
    }

    /// Acid that a litre binds before it is down at a pH: what it costs a bath.
    ///
    /// # Errors
    /// As [`super::solver::Solution::solve`].
    pub fn alkalinity(&self, down_to: Ph, temperature: Celsius) -> Result<MeqPerLitre, ChemistryError> {
        let reserve = self.liquid().reserve(down_to, temperature)?;
        // Turned round, a number in range stays in range.
        Ok(MeqPerLitre::new(-reserve.value()).unwrap_or(reserve))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::activity::Model;
    use approx::assert_abs_diff_eq;

    #[test]
    fn every_row_is_whole() {
        assert_eq!(all().len(), rows(TABLE).count());
        for developer in all() {
            assert!(
                developer.grams.iter().all(|g| g.is_finite() && *g >= 0.0) && developer.grams.iter().any(|g| *g > 0.0),
                "{}",
                developer.name
            );
            // Developers are alkaline, pH 8 to 13.5. The undiluted sulfite one has more salt than any model here holds for, and says so.
            match developer.liquid().equilibrium(Celsius::STANDARD) {
                Ok(balance) => assert!((8.0..13.6).contains(&balance.ph.value()), "{}: {}", developer.name, balance.ph),
                Err(e) => {
                    assert!(developer.name == "borax-sulfite" && matches!(e, ChemistryError::TooSalty { .. }), "{}: {e}", developer.name)
                }
            }
        }
        assert!(COLUMNS.iter().all(|name| powder::find(name).is_ok()));
    }

    // Worked by hand from the formulas without salt effect (down to pH 5.2 sulfite binds one proton, carbonate nearly two, borax two): carbonate 1+1, 1+2, 1+3
    // about 800, 535, 400 meq/l; borax and sulfite as stock, 1+1, 1+3 about 800, 400, 200. Salt makes it up to 3 % less.
    #[test]
    fn alkalinity_is_the_hand_calculation() {
        let down_to = Ph::new(5.2).unwrap();
        for (name, wanted) in [
            ("carbonate-1+1", 800.0),
            ("carbonate-1+2", 535.0),
            ("carbonate-1+3", 400.0),
            ("borax-sulfite", 800.0),
            ("borax-sulfite-1+1", 400.0),
            ("borax-sulfite-1+3", 200.0),
        ] {
            let developer = find(name).unwrap();
            let mut solution = developer.liquid().solution(Celsius::STANDARD);
            solution.model = Model::Ideal;
            let ideal = -1000.0 * solution.alkali_to(down_to).unwrap();
            assert_abs_diff_eq!(ideal, wanted, epsilon = 0.02 * wanted);
            let real = developer.alkalinity(down_to, Celsius::STANDARD).unwrap().value();
            assert!((0.97..=1.0).contains(&(real / ideal)), "{name}: {real} of {ideal}");
        }
    }
}
