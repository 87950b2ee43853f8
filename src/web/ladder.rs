//! One photo with a row of buffers: found, measured, made into a profile.

use super::check::{self, Shown, Upload};
use super::settings::Settings;
use super::shelf::Weighty;
use crate::calibration::CalibrationError;
use crate::desk::calibrate::{Made, Row, typed as row_of};
use crate::desk::{self, check_regions, clock, typed};
use crate::measurement::reading::Reading;
use crate::measurement::survey;
use crate::photo::{Buffers, Photo, decode_into};
use crate::present::Failure;
use crate::present::calibration as words;
use crate::present::svg;
use crate::quantity::{Celsius, IonicStrength, Reflectance};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

/// What was told of the row.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Told {
    /// pH or buffer of each cup, as typed.
    pub(super) row: String,
    /// Temperature of all, degrees Celsius, as typed; may be empty.
    pub(super) temperature: String,
    /// The name to keep it under.
    pub(super) name: String,
    /// Lamp, cups.
    pub(super) note: String,
}

/// A row and what came of it.
#[derive(Debug, Clone)]
pub(super) struct Ladder {
    pub(super) upload: Upload,
    pub(super) settings: Settings,
    pub(super) told: Told,
    /// The picture that the page shows; none when the photo could not be decoded.
    pub(super) shown: Option<Shown>,
    /// What was found on the photo.
    pub(super) reading: Option<Arc<Reading>>,
    /// The profile, or why there is none.
    pub(super) outcome: Result<Arc<Profiled>, Failure>,
    /// The name under which it was kept.
    pub(super) saved: Option<String>,
    /// Why it was not kept, the last time that this was wanted.
    pub(super) refused: Option<String>,
}

/// A profile as the page shows it.
#[derive(Debug)]
pub(super) struct Profiled {
    pub(super) made: Made,
    pub(super) rows: Vec<[String; 4]>,
    /// What it is worth, and what stood out.
    pub(super) facts: Vec<String>,
    /// The curve with the buffers on it, SVG.
    pub(super) curve: String,
}

impl Weighty for Ladder {
    fn bytes(&self) -> usize {
        let curve = self.outcome.as_ref().map_or(0, |profiled| profiled.curve.len());
        self.upload.bytes.len() + self.shown.as_ref().map_or(0, |shown| shown.jpeg.len()) + curve + 200_000
    }
}

impl Ladder {
    /// Finds and measures the cups, and fits them; `buffers` serve the next photo again, `earlier` is the picture shown before.
    pub(super) fn of(buffers: &mut Buffers, upload: Upload, settings: Settings, told: Told, earlier: Option<Shown>) -> Self {
        let mut ladder =
            Ladder { upload, settings, told, shown: earlier, reading: None, outcome: Err(desk::fault()), saved: None, refused: None };
        // As for a reading: a fault on one photo must not end the server.
        if let Ok(outcome) = catch_unwind(AssertUnwindSafe(|| ladder.fitted(buffers))) {
            ladder.outcome = outcome;
        }
        ladder
    }

    fn fitted(&mut self, buffers: &mut Buffers) -> Result<Arc<Profiled>, Failure> {
        let photo = decode_into(buffers, &self.upload.bytes).map_err(|error| desk::photo_failure(&error))?;
        if self.shown.is_none() {
            self.shown = check::shown(&photo.frame);
        }
        let outcome = self.of_photo(&photo);
        buffers.take_back(photo);
        outcome
    }

    fn of_photo(&mut self, photo: &Photo) -> Result<Arc<Profiled>, Failure> {
        let (width, height) = (photo.frame.upright_width(), photo.frame.upright_height());
        check_regions(self.settings.card, &self.settings.cups, width, height).map_err(|error| error.failure())?;
        // Places are shown also where what was told of the cups cannot be.
        let row = self.row();
        let asked = row.as_ref().map_or_else(|_| self.settings.request(), Row::request);
        let survey = survey(&photo.frame, &asked);
        self.reading = Some(Arc::new(survey.reading.clone()));
        let today = clock::now().ok().map(|now| now.date().to_string());
        let mut made = row?.profile(&[(photo, &survey)], today).map_err(|error| failure("calibration", &error, hint(&error)))?;
        made.profile.note = Some(self.told.note.clone()).filter(|note| !note.is_empty());
        let name = if self.told.name.is_empty() { "new" } else { &self.told.name };
        let curve = svg::inline(&words::drawing(name, &made.profile, Some(&made.calibrated)));
        let facts =
            words::facts(&made.profile, Some(&made.calibrated)).into_iter().chain(made.findings.iter().map(words::finding)).collect();
        Ok(Arc::new(Profiled { rows: words::rows(&made.profile), facts, curve, made }))
    }

    /// What is known of the cups.
    fn row(&self) -> Result<Row, Failure> {
        let celsius = Some(self.told.temperature.as_str()).filter(|text| !text.is_empty());
        let celsius = celsius.map(|text| typed::quantity(text, Celsius::new)).transpose();
        let celsius = celsius.map_err(|why| failure("temperature", &why.replace("\nhint: ", "; "), "give degrees Celsius, such as 20"))?;
        let (rungs, temperature) = row_of(&self.told.row, celsius).map_err(|error| {
            let message = error.to_string();
            failure("row", &message.split('\n').next().unwrap_or_default(), error.hint())
        })?;
        let Settings { indicator, light, card, cups } = self.settings.clone();
        let (card_reflectance, ionic_strength) = (Reflectance::GREY_CARD, IonicStrength::BUFFER);
        Ok(Row { indicator, light, temperature, card, card_reflectance, cups, ionic_strength, rungs })
    }
}

/// What to do, in the words of a page: its fields have no names of options.
fn hint(error: &CalibrationError) -> &'static str {
    match error {
        CalibrationError::Count { .. } => "give one pH for each cup, or put the cups right on the photo below",
        CalibrationError::Unordered { .. } => "values follow the numbers of the cups on the photo below; check order and buffers",
        _ => error.hint(),
    }
}

fn failure(code: &str, message: &impl ToString, hint: &str) -> Failure {
    Failure { code: code.to_owned(), message: message.to_string(), hint: Some(hint.to_owned()) }
}
