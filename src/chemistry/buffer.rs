//! Buffers by name: standard ones from `calibration/standard_buffers.csv`, home-mixed ones by recipe.

use super::acid;
use super::error::ChemistryError;
use super::recipe::{self, Mix};
use super::solver::Solution;
use super::table::{number, rows};
use crate::quantity::{Celsius, IonicStrength, Ph};
use std::sync::OnceLock;

const TABLE: &str = include_str!("../../calibration/standard_buffers.csv");

/// Columns of the table before the temperatures.
const LEAD: usize = 5;

/// A buffer whose pH is printed in a table.
#[derive(Debug, Clone, PartialEq)]
pub struct StandardBuffer {
    /// Lower-case name with hyphens.
    pub name: &'static str,
    /// What it is.
    pub plain: &'static str,
    /// Standard uncertainty of its pH.
    pub sd: f64,
    /// pH by rising temperature, C.
    pub points: Vec<(f64, f64)>,
    /// Grams of each powder in one litre; empty when no recipe is known or it is bought.
    pub grams: Vec<(&'static str, f64)>,
    /// Weak acids and strong ions as the table writes them.
    contents: &'static str,
}

/// A buffer at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BufferState {
    /// pH on the meter scale.
    pub ph: Ph,
    /// Standard uncertainty of `ph`.
    pub sd: f64,
    /// Ionic strength.
    pub ionic_strength: IonicStrength,
}

/// A buffer of known pH.
#[derive(Debug, Clone, PartialEq)]
pub enum Buffer {
    /// From the table.
    Standard(&'static StandardBuffer),
    /// Mixed at home.
    Mixed(Mix),
}

/// All standard buffers by rising pH.
#[must_use]
pub fn all() -> &'static [StandardBuffer] {
    static ALL: OnceLock<Vec<StandardBuffer>> = OnceLock::new();
    ALL.get_or_init(|| {
        let mut all: Vec<StandardBuffer> = rows(TABLE).filter_map(|row| parse(&row)).collect();
        all.sort_by(|a, b| a.middle().total_cmp(&b.middle()));
        all
    })
}

fn parse(row: &[&'static str]) -> Option<StandardBuffer> {
    let heading: Vec<f64> = TABLE.lines().find(|line| !line.starts_with('#'))?.split(',').skip(LEAD).map(number).collect();
    let points = heading.iter().zip(row.get(LEAD..)?).filter(|(_, field)| **field != "-").map(|(t, field)| (*t, number(field))).collect();
    let grams = row[4].split(';').filter_map(|part| part.trim().rsplit_once(' ')).map(|(powder, g)| (powder, number(g))).collect();
    Some(StandardBuffer { name: row[0], plain: row[1], sd: number(row[2]), points, grams, contents: row[3] })
}

impl StandardBuffer {
    /// Lowest and highest temperature of the table, C.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        let end = |point: Option<&(f64, f64)>| point.map_or(f64::NAN, |p| p.0);
        (end(self.points.first()), end(self.points.last()))
    }

    fn middle(&self) -> f64 {
        self.points.get(self.points.len() / 2).map_or(f64::NAN, |p| p.1)
    }

    /// pH between the rows of the table; linear, which is within 0.003 of a curve through them.
    ///
    /// # Errors
    /// [`ChemistryError::Temperature`] outside the table.
    pub fn ph_at(&self, temperature: Celsius) -> Result<Ph, ChemistryError> {
        let t = temperature.value();
        let (low, high) = self.range();
        let outside = || ChemistryError::Temperature { buffer: self.name.to_owned(), temperature, low, high };
        let pair = self.points.windows(2).find(|pair| pair[0].0 <= t && t <= pair[1].0).ok_or_else(outside)?;
        let part = (t - pair[0].0) / (pair[1].0 - pair[0].0);
        Ph::new(pair[0].1 + part * (pair[1].1 - pair[0].1)).map_err(|_| outside())
    }

    /// What is dissolved in it, mol/l.
    #[must_use]
    pub fn solution(&self, temperature: Celsius) -> Solution<'static> {
        self.contents.split(' ').filter_map(|part| part.split_once(':')).fold(Solution::water(temperature), |solution, (what, amount)| {
            match (acid::find(what), what.parse()) {
                (Some(acid), _) => solution.with(acid, number(amount)),
                (None, Ok(charge)) => solution.with_ion(charge, number(amount)),
                // A name in no table is a mistake of ours: it spoils the solution so that solving refuses it.
                (None, Err(_)) => solution.with_ion(1, f64::NAN),
            }
        })
    }

    /// Ionic strength, from what is dissolved.
    ///
    /// # Errors
    /// As [`Solution::solve`].
    pub fn ionic_strength(&self, temperature: Celsius) -> Result<IonicStrength, ChemistryError> {
        self.solution(temperature).solve().map(|e| e.ionic_strength)
    }
}

impl Buffer {
    /// The name that [`find`] takes.
    #[must_use]
    pub fn name(&self) -> String {
        match self {
            Buffer::Standard(buffer) => buffer.name.to_owned(),
            Buffer::Mixed(mix) => mix.name(),
        }
    }

    /// pH, its uncertainty and ionic strength at a temperature.
    ///
    /// # Errors
    /// [`ChemistryError::Temperature`] outside the table of a standard buffer; else as [`Solution::solve`].
    pub fn at(&self, temperature: Celsius) -> Result<BufferState, ChemistryError> {
        match self {
            Buffer::Standard(buffer) => {
                let ph = buffer.ph_at(temperature)?;
                Ok(BufferState { ph, sd: buffer.sd, ionic_strength: buffer.ionic_strength(temperature)? })
            }
            Buffer::Mixed(mix) => mix.at(temperature),
        }
    }

    /// pH at a temperature.
    ///
    /// # Errors
    /// As [`Self::at`].
    pub fn ph_at(&self, temperature: Celsius) -> Result<Ph, ChemistryError> {
        self.at(temperature).map(|state| state.ph)
    }
}

/// The buffer of that name: a standard one, or a recipe with the pH it was mixed for and, when not 25 C, the temperature:
/// `phosphate`, `citrate-phosphate:5.5`, `acetate:4.6:20`.
///
/// ```
/// use tintpoint::chemistry::buffer::find;
/// use tintpoint::quantity::Celsius;
///
/// let state = find("phosphate").unwrap().at(Celsius::new(25.0).unwrap()).unwrap();
/// assert!((state.ph.value() - 6.865).abs() < 1e-9);
/// assert!(find("citrate-phosphate:9").is_err());
/// ```
///
/// # Errors
/// [`ChemistryError::Unknown`] for a name in no table, [`ChemistryError::Malformed`] for a recipe without a pH,
/// [`ChemistryError::Unreachable`] for a pH outside the recipe's range.
pub fn find(name: &str) -> Result<Buffer, ChemistryError> {
    let wanted = name.trim().to_lowercase();
    if let Some(buffer) = all().iter().find(|buffer| buffer.name == wanted) {
        return Ok(Buffer::Standard(buffer));
    }
    let mut parts = wanted.split(':');
    let lead = parts.next().unwrap_or_default();
    let Ok(recipe) = recipe::find(lead) else {
        let known = all().iter().map(|b| b.name.to_owned()).chain(recipe::all().iter().map(|r| format!("{}:PH", r.name)));
        let known = known.collect::<Vec<_>>().join(", ");
        return Err(ChemistryError::Unknown { kind: "buffer", name: name.trim().to_owned(), known });
    };
    let malformed = |problem: String| ChemistryError::Malformed { name: name.trim().to_owned(), problem };
    let ph = parts.next().ok_or_else(|| malformed("it does not say its pH".to_owned()))?;
    let number = |text: &str| text.parse::<f64>().map_err(|_| malformed(format!("`{text}` is not a number")));
    let ph = Ph::new(number(ph)?).map_err(|e| malformed(e.to_string()))?;
    let temperature = match parts.next() {
        Some(text) => Celsius::new(number(text)?).map_err(|e| malformed(e.to_string()))?,
        None => recipe::USUAL_TEMPERATURE,
    };
    match parts.next() {
        Some(_) => Err(malformed("it has more than recipe, pH and temperature".to_owned())),
        None => recipe.mix(ph, temperature).map(Buffer::Mixed),
    }
}

/// A buffer and the temperature it is used at, written `NAME@C`: `phosphate@22`, `citrate-phosphate:5.5@20`; without `@` at 25 C, or at
/// the temperature a home-mixed one was mixed for.
///
/// # Errors
/// As [`find`]; [`ChemistryError::Malformed`] when what follows the `@` is no temperature from 0 to 60 C; [`ChemistryError::Temperature`] outside the table.
pub fn find_at(text: &str) -> Result<(Buffer, Celsius, BufferState), ChemistryError> {
    let (name, told) = text.split_once('@').map_or((text, None), |(name, told)| (name, Some(told)));
    let buffer = find(name)?;
    let malformed = |problem: String| ChemistryError::Malformed { name: text.trim().to_owned(), problem };
    let temperature = match (told, &buffer) {
        (Some(told), _) => {
            let told = told.trim().trim_end_matches(['C', 'c']).trim_end();
            let value = told.parse::<f64>().map_err(|_| malformed(format!("`{told}` is not a temperature")))?;
            Celsius::new(value).map_err(|e| malformed(e.to_string()))?
        }
        (None, Buffer::Mixed(mix)) => mix.temperature,
        (None, Buffer::Standard(_)) => Celsius::STANDARD,
    };
    let state = buffer.at(temperature)?;
    Ok((buffer, temperature, state))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn celsius(t: f64) -> Celsius {
        Celsius::new(t).unwrap()
    }

    #[test]
    fn every_row_is_whole() {
        assert_eq!(all().len(), rows(TABLE).count());
        for buffer in all() {
            assert!(buffer.sd > 0.0 && buffer.points.len() > 3 && buffer.points.iter().all(|p| p.1.is_finite()), "{}", buffer.name);
            assert!(buffer.points.is_sorted_by(|a, b| a.0 < b.0), "{}", buffer.name);
            assert!(buffer.grams.iter().all(|g| g.1 > 0.0), "{}", buffer.name);
            assert!(buffer.ionic_strength(celsius(25.0)).is_ok(), "{}", buffer.name);
        }
        let ph: Vec<f64> = all().iter().map(|buffer| buffer.ph_at(celsius(25.0)).unwrap().value()).collect();
        assert!(ph.is_sorted(), "{ph:?}");
    }

    #[test]
    fn between_rows_it_interpolates_and_outside_it_refuses() {
        let Buffer::Standard(buffer) = find("phosphate").unwrap() else { panic!("not a standard") };
        assert_abs_diff_eq!(buffer.ph_at(celsius(22.5)).unwrap().value(), 0.5 * (6.881 + 6.865), epsilon = 1e-9);
        assert_abs_diff_eq!(buffer.ph_at(celsius(60.0)).unwrap().value(), 6.836, epsilon = 1e-9);
        // Saturated tartrate is no standard below 25 C.
        let error = find("tartrate").unwrap().at(celsius(20.0)).unwrap_err();
        assert_eq!(error.to_string(), "tartrate is known from 25 to 60 C, not at 20 C");
    }

    #[test]
    fn names_of_mixtures_come_back() {
        for name in ["citrate-phosphate:5.5", "acetate:4.6:20"] {
            assert_eq!(find(name).unwrap().name(), name);
        }
    }

    #[test]
    fn temperature_follows_the_name() {
        let (_, temperature, state) = find_at("phosphate@20").unwrap();
        assert_abs_diff_eq!(temperature.value(), 20.0);
        assert_abs_diff_eq!(state.ph.value(), 6.881, epsilon = 1e-9);
        assert_abs_diff_eq!(find_at("phosphate").unwrap().2.ph.value(), 6.865, epsilon = 1e-9);
        assert_abs_diff_eq!(find_at("acetate:4.6:20").unwrap().2.ph.value(), 4.6, epsilon = 1e-9);
        assert!(find_at("acetate:4.6@30 C").is_ok());
        assert!(matches!(find_at("phosphate@hot"), Err(ChemistryError::Malformed { .. })));
        assert!(matches!(find_at("tartrate@20"), Err(ChemistryError::Temperature { .. })));
    }

    #[test]
    fn names_that_say_too_little_are_refused() {
        assert!(matches!(find("vinegar"), Err(ChemistryError::Unknown { .. })));
        for wrong in ["acetate", "acetate:", "acetate:x", "acetate:4.6:20:1", "acetate:99", "acetate:4.6:99"] {
            assert!(matches!(find(wrong), Err(ChemistryError::Malformed { .. })), "{wrong}");
        }
        assert!(matches!(find("acetate:7"), Err(ChemistryError::Unreachable { .. })));
    }
}
