//! A row of buffers to a profile.

use super::typed::{number, quantity};
use crate::calibration::{self, CalibrationError, Finding, Rung};
use crate::chemistry::buffer;
use crate::chemistry::error::ChemistryError;
use crate::indicator::Indicator;
use crate::measurement::Survey;
use crate::measurement::profile::{Calibrated, Evidence, Profile};
use crate::measurement::regions::{Circle, Rectangle};
use crate::measurement::request::{Contents, LightChoice, Limits, Request};
use crate::photo::Photo;
use crate::quantity::{Celsius, IonicStrength, Ph, Reflectance};

/// Cups whose temperatures differ by more have not stood together, degrees.
const SAME_TEMPERATURE: f64 = 1.0;
/// A cup of a standard buffer is not as well known as the standard: it was poured, and has a dye in it.
const LEAST_SD: f64 = 0.01;
/// Standard uncertainty of a pH that was told, unless that is told too (common practice: a fresh bottle of buffer).
pub const TOLD_SD: f64 = 0.02;

/// What is known of a row, and of the photo it is on.
#[derive(Debug, Clone)]
pub struct Row {
    /// The dye in all cups.
    pub indicator: &'static Indicator,
    /// Kind of light.
    pub light: LightChoice,
    /// Temperature of all cups.
    pub temperature: Celsius,
    /// Where the card is, if told.
    pub card: Option<Rectangle>,
    /// Reflectance of the card.
    pub card_reflectance: Reflectance,
    /// Where the cups are, if told.
    pub cups: Vec<Circle>,
    /// Ionic strength of buffers given by their pH.
    pub ionic_strength: IonicStrength,
    /// What is in each cup, in their order.
    pub rungs: Vec<Rung>,
}

/// A profile with all that is to be told of it.
#[derive(Debug, Clone)]
pub struct Made {
    /// The profile, without lot and note.
    pub profile: Profile,
    /// The same ready for reading.
    pub calibrated: Calibrated,
    /// What stood out.
    pub findings: Vec<Finding>,
}

/// What keeps names of buffers from being a row.
#[derive(Debug, thiserror::Error)]
pub enum RowError {
    /// No such buffer, or not at that temperature.
    #[error(transparent)]
    Buffer(#[from] ChemistryError),
    /// Cups that have not stood together.
    #[error("the buffers have different temperatures")]
    Temperatures,
    /// A figure that cannot be; message and hint.
    #[error("{0}")]
    Figure(String),
}

impl RowError {
    /// The next thing to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            RowError::Buffer(_) => "`tintpoint buffer` lists the buffers",
            RowError::Temperatures => "let all cups come to one temperature",
            RowError::Figure(_) => "give one pH for each cup, such as 4.01, 5.00, 6.10, or one buffer for each, such as phosphate@20",
        }
    }
}

/// Buffers by name, each with its temperature or all with the one told: pH, uncertainty and salt of each, and the temperature of all.
///
/// # Errors
/// [`RowError`].
pub fn buffers(names: &[String], told: Option<Celsius>) -> Result<(Vec<Rung>, Celsius), RowError> {
    let mut rungs = Vec::new();
    let mut at = told;
    for name in names {
        let text = match told {
            Some(celsius) if !name.contains('@') => format!("{name}@{}", celsius.value()),
            _ => name.clone(),
        };
        let (_, celsius, state) = buffer::find_at(&text)?;
        if at.is_some_and(|at| (at.value() - celsius.value()).abs() > SAME_TEMPERATURE) {
            return Err(RowError::Temperatures);
        }
        at = Some(celsius);
        rungs.push(Rung { ph: state.ph, sd: state.sd.max(LEAST_SD), ionic_strength: state.ionic_strength });
    }
    Ok((rungs, at.unwrap_or(Celsius::STANDARD)))
}

/// A row as typed on one line, with commas, semicolons or spaces between: a pH for each cup, or a buffer for each.
///
/// # Errors
/// [`RowError`].
pub fn typed(text: &str, told: Option<Celsius>) -> Result<(Vec<Rung>, Celsius), RowError> {
    let words: Vec<String> = text.split([',', ';', ' ']).filter(|word| !word.is_empty()).map(str::to_owned).collect();
    if words.is_empty() {
        return Err(RowError::Figure("what is in the cups is missing".to_owned()));
    }
    if words.iter().any(|word| number(word).is_err()) {
        return buffers(&words, told);
    }
    let figure = |why: String| RowError::Figure(why);
    let rung = |ph| Rung { ph, sd: TOLD_SD, ionic_strength: IonicStrength::BUFFER };
    let rung = |word: &String| quantity(word, Ph::new).map(rung).map_err(figure);
    Ok((words.iter().map(rung).collect::<Result<_, _>>()?, told.unwrap_or(Celsius::STANDARD)))
}

impl Row {
    /// What is asked of the photo: places and colours. Limits judge baths, and no bath is judged here.
    #[must_use]
    pub fn request(&self) -> Request {
        Request {
            contents: Contents::of(self.indicator),
            light: self.light,
            card: self.card,
            card_reflectance: self.card_reflectance,
            cups: self.cups.clone(),
            ionic_strength: self.ionic_strength,
            temperature: self.temperature,
            limits: Limits { nearing: Ph::NEUTRAL, spent: Ph::NEUTRAL },
            ..Request::default()
        }
    }

    /// The profile that photos of the row make, with the date of the first or, if it tells none, of `today`.
    ///
    /// # Errors
    /// [`CalibrationError`].
    pub fn profile(&self, seen: &[(&Photo, &Survey)], today: Option<String>) -> Result<Made, CalibrationError> {
        self.profile_after(seen, today, |_| Ok(None))
    }

    /// The same once `settle` has put right what is known of the cups, and told of it.
    ///
    /// # Errors
    /// [`CalibrationError`], also that of `settle`.
    pub fn profile_after(
        &self,
        seen: &[(&Photo, &Survey)],
        today: Option<String>,
        settle: impl FnOnce(&mut Evidence) -> Result<Option<Finding>, CalibrationError>,
    ) -> Result<Made, CalibrationError> {
        let spaces: Vec<_> = seen.iter().map(|(photo, survey)| (photo.frame.space(), *survey)).collect();
        let is_told = !self.cups.is_empty();
        let kind = self.light.kind();
        let (mut evidence, mut findings) =
            calibration::evidence(self.indicator, kind, self.temperature, self.card_reflectance, &spaces, &self.rungs, is_told)?;
        findings.extend(settle(&mut evidence)?);
        let (calibrated, points, more) = calibration::calibrate(&mut evidence)?;
        findings.extend(more);
        let first = seen.first().map(|(photo, _)| *photo);
        let date = first.and_then(|photo| photo.taken.clone()).or(today);
        let camera = first.and_then(|photo| photo.camera.clone());
        Ok(Made { profile: Profile { date, camera, lot: None, note: None, evidence, points }, calibrated, findings })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_is_of_figures_or_of_buffers() {
        let (rungs, at) = typed("4.01, 5.00;6.1 7", None).unwrap();
        assert_eq!(rungs.iter().map(|rung| format!("{:.2}", rung.ph.value())).collect::<Vec<_>>(), ["4.01", "5.00", "6.10", "7.00"]);
        assert_eq!(at, Celsius::STANDARD);
        let (rungs, at) = typed("phthalate@20, phosphate@20", None).unwrap();
        // Table of the buffers at 20 degrees, as in `chemistry::buffer`.
        assert!((rungs[1].ph.value() - 6.881).abs() < 1e-9 && (at.value() - 20.0).abs() < 1e-9);
        assert!(matches!(typed("", None), Err(RowError::Figure(_))));
        assert!(matches!(typed("4.01, 99", None), Err(RowError::Figure(_))));
        assert!(matches!(typed("4.01, milk", None), Err(RowError::Buffer(_))));
        assert!(matches!(typed("phthalate@20, phosphate@30", None), Err(RowError::Temperatures)));
    }
}
