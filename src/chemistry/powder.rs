//! The forms in which the parts of a buffer are sold, from `calibration/powders.csv`.

use super::acid::{self, Acid};
use super::error::ChemistryError;
use super::table::{number, rows};
use crate::quantity::MassPercent;
use std::sync::OnceLock;

const TABLE: &str = include_str!("../../calibration/powders.csv");

/// The liquid among the powders: weighed or measured by its strength.
pub const ACETIC_ACID: &str = "acetic-acid";

/// A substance in one of the forms it is sold in.
#[derive(Debug, Clone, PartialEq)]
pub struct Powder {
    /// Lower-case name with hyphens.
    pub name: &'static str,
    /// The substance, whatever its form.
    pub substance: &'static str,
    /// The form: how much crystal water, or what it looks like.
    pub form: &'static str,
    /// Molar mass of the formula as sold, g/mol.
    pub molar_mass: f64,
    /// The weak acid in it, in whatever form, and its moles per mole.
    pub acid: Option<(&'static Acid, f64)>,
    /// Moles of sodium per mole.
    pub sodium: f64,
    /// Relative standard uncertainty of the content.
    pub purity_sd: f64,
}

impl Powder {
    /// True of the one liquid, which has a strength.
    #[must_use]
    pub fn is_liquid(&self) -> bool {
        self.name == ACETIC_ACID
    }
}

/// All forms of all substances.
#[must_use]
pub fn all() -> &'static [Powder] {
    static ALL: OnceLock<Vec<Powder>> = OnceLock::new();
    ALL.get_or_init(|| {
        let parse = |row: Vec<&'static str>| Powder {
            name: row[0],
            substance: row[1],
            form: row[2],
            molar_mass: number(row[3]),
            acid: acid::find(row[4]).map(|acid| (acid, number(row[5]))),
            sodium: number(row[6]),
            purity_sd: number(row[7]),
        };
        rows(TABLE).filter(|row| row.len() == 8).map(parse).collect()
    })
}

/// The forms of one substance, the commonest first.
pub fn forms(substance: &str) -> impl Iterator<Item = &'static Powder> {
    all().iter().filter(move |powder| powder.substance == substance)
}

/// The form of that name.
///
/// # Errors
/// [`ChemistryError::Unknown`] with the names there are.
pub fn find(name: &str) -> Result<&'static Powder, ChemistryError> {
    let wanted = name.trim().to_lowercase();
    all().iter().find(|powder| powder.name == wanted).ok_or_else(|| {
        let known = all().iter().map(|powder| powder.name).collect::<Vec<_>>().join(", ");
        ChemistryError::Unknown { kind: "form", name: name.trim().to_owned(), known }
    })
}

/// Density of aqueous acetic acid at 20 C by mass per cent, g/ml (engineering web table drawn from handbook data); not monotonic, so no measure of strength.
const ACETIC_DENSITY: [(f64, f64); 9] = [
    (1.0, 0.9996),
    (5.0, 1.0052),
    (10.0, 1.0121),
    (20.0, 1.0250),
    (30.0, 1.0369),
    (40.0, 1.0474),
    (50.0, 1.0562),
    (70.0, 1.0673),
    (100.0, 1.0477),
];

/// The same for anhydrous citric acid; the last row, about 1.24, is from memory. Beyond it citric acid is near its solubility (133 g in 100 g of water).
const CITRIC_DENSITY: [(f64, f64); 6] = [(1.0, 1.0022), (5.0, 1.0189), (10.0, 1.0402), (20.0, 1.0858), (30.0, 1.1346), (50.0, 1.24)];

/// Density of acetic acid of this strength at 20 C, g/ml; linear between the rows of the table, which is within 0.005.
#[must_use]
pub fn acetic_density(strength: MassPercent) -> f64 {
    between(&ACETIC_DENSITY, strength.value())
}

/// Density of a citric acid solution of this strength (anhydrous) at 20 C, g/ml; within 0.01 up to 50 %, and held there beyond.
#[must_use]
pub fn citric_density(strength: MassPercent) -> f64 {
    between(&CITRIC_DENSITY, strength.value())
}

/// Linear between the rows, the ends held.
fn between(rows: &[(f64, f64)], at: f64) -> f64 {
    let pair = rows.windows(2).find(|pair| at <= pair[1].0).unwrap_or(&rows[rows.len() - 2..]);
    let part = ((at - pair[0].0) / (pair[1].0 - pair[0].0)).clamp(0.0, 1.0);
    pair[0].1 + part * (pair[1].1 - pair[0].1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn every_row_is_whole() {
        assert_eq!(all().len(), rows(TABLE).count());
        for powder in all() {
            assert!(
                [powder.molar_mass, powder.sodium].iter().all(|v| v.is_finite()) && (0.001..0.1).contains(&powder.purity_sd),
                "{}",
                powder.name
            );
            assert!(powder.acid.is_some() || powder.sodium > 0.0, "{} supplies nothing", powder.name);
        }
    }

    // Crystal water is 18.015 g/mol (IUPAC atomic masses), and hydrates of one substance differ by whole multiples of it.
    #[test]
    fn hydrates_differ_by_whole_water() {
        for powder in all().iter().filter(|powder| powder.form.ends_with("hydrate")) {
            let Some(dry) = forms(powder.substance).find(|p| p.form == "anhydrous") else { panic!("{}", powder.name) };
            let waters = (powder.molar_mass - dry.molar_mass) / 18.015;
            assert_abs_diff_eq!(waters, waters.round(), epsilon = 1e-3);
        }
    }

    // Strengths worked from the same handbook row: 50 % is 8.79 mol/l, 30 % 5.18, 100 % 17.45; 28 % is about 4.8 and 99.7 % about 17.4 (from memory).
    #[test]
    fn acetic_acid_has_its_molarity() {
        for (strength, wanted, within) in
            [(50.0, 8.79, 0.01), (30.0, 5.18, 0.01), (100.0, 17.45, 0.01), (28.0, 4.8, 0.05), (99.7, 17.4, 0.05)]
        {
            let strength = MassPercent::new(strength).unwrap();
            let molar = 10.0 * strength.value() * acetic_density(strength) / find(ACETIC_ACID).unwrap().molar_mass;
            assert_abs_diff_eq!(molar, wanted, epsilon = within);
        }
    }
}
