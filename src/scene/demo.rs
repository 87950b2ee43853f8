//! A handful of photos from an invented community darkroom, to try the reading on.

use super::dye::{Lot, Medium, Sample};
use super::fault::Fault;
use super::lamp::Lamp;
use super::options::{Level, Options};
use super::random::Random;
use super::sheet::{SheetScene, slanted};
use super::surface::Table;
use crate::indicator::catalogue;
use crate::placement::{Paper, Sheet};
use crate::quantity::{Celsius, IonicStrength, Ph};

/// One demo photo.
#[derive(Debug, Clone)]
pub struct Demo {
    /// File name without folder.
    pub name: &'static str,
    /// What it shows.
    pub shows: &'static str,
    /// How it is made.
    pub options: Options,
}

/// Salt and warmth of the demo's citric baths: 0.3 mol/l and 25 degrees Celsius, which the command line takes unless told.
fn medium() -> Option<Medium> {
    Some(Medium { ionic_strength: IonicStrength::new(0.3).ok()?, temperature: Celsius::new(25.0).ok()? })
}

/// Cups of one bottle of bromocresol purple at these pH and doses.
fn cups(contents: &[(f64, f64)]) -> Option<Vec<Sample>> {
    let lot = Lot::drawn(catalogue::find("bromocresol-purple")?, &mut Random::new(1907));
    contents.iter().map(|&(ph, dose)| Some(Sample { lot: lot.clone(), ph: Ph::new(ph).ok()?, dose, stain: 0.0 })).collect()
}

fn photo(name: &'static str, shows: &'static str, level: Level, contents: &[(f64, f64)], seed: u64) -> Option<Demo> {
    let options = Options { width: 1200, height: 900, table: Table::Oak, ..Options::drawn(level, cups(contents)?, medium()?, seed) };
    Some(Demo { name, shows, options })
}

/// A photo by daylight from the window.
fn by_day(name: &'static str, shows: &'static str, contents: &[(f64, f64)], seed: u64) -> Option<Demo> {
    let mut demo = photo(name, shows, Level::Easy, contents, seed)?;
    demo.options.lamp = Lamp::daylight(5800.0);
    Some(demo)
}

/// Three baths on a placement sheet for four, seen aslant, the light falling off across the table.
fn on_sheet() -> Option<Demo> {
    let mut demo = by_day("sheet.jpg", "three baths on a placement sheet, seen aslant", &[(4.6, 0.9), (5.4, 1.0), (6.2, 0.8)], 18)?;
    let mut scene = SheetScene::drawn(Sheet::new(Paper::A4, 4).ok()?, 3, &mut Random::new(4));
    scene.margin = 0.03;
    demo.options.sheet = Some(scene);
    demo.options.pose = slanted(18.0, 24.0, 8.0, 560.0);
    demo.options.lighting.lamp_height = 700.0;
    demo.options.lighting.lamp_aside = 0.5;
    Some(demo)
}

/// All demo photos.
#[must_use]
pub fn photos() -> Vec<Demo> {
    let row = [(4.4, 0.9), (5.1, 0.8), (5.5, 1.0), (5.9, 0.8), (6.5, 0.9)];
    let mut all = vec![
        by_day("fresh.jpg", "a bath mixed this morning: yellow, far from the limit", &[(4.3, 0.9)], 11),
        by_day("nearing.jpg", "the same bath after an evening of prints: it has begun to turn", &[(5.28, 0.9)], 12),
        by_day("spent.jpg", "a bath that should have been changed: between yellow and purple", &[(6.05, 0.9)], 13),
        by_day("row-of-cups.jpg", "five baths in a row, from fresh to long spent", &row, 14),
        photo("warm-lamp.jpg", "two baths by a filament lamp, the camera held aslant", Level::Hard, &[(5.1, 1.4), (5.95, 1.1)], 21),
        by_day("safelight.jpg", "by safelight no colour can be read; the program has to refuse", &[(5.6, 0.9)], 16),
        on_sheet(),
        by_day("no-card.jpg", "without the grey card the light is anybody's guess", &[(5.6, 0.9)], 17),
    ];
    for demo in all.iter_mut().flatten() {
        let random = &mut Random::new(5);
        match demo.name {
            "row-of-cups.jpg" => (demo.options.width, demo.options.height) = (1600, 1200),
            "warm-lamp.jpg" => {
                demo.options.lamp = Lamp::filament(2800.0);
                // Half corrected, as cameras leave evening light.
                demo.options.processing.balance_error = [1.12, 1.0, 0.80];
            }
            "safelight.jpg" => Fault::Safelight.spoil(&mut demo.options, random),
            "no-card.jpg" => Fault::CardMissing.spoil(&mut demo.options, random),
            _ => {}
        }
    }
    all.into_iter().flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_photo_can_be_made() {
        let all = photos();
        assert_eq!(all.len(), 8);
        let mut names: Vec<&str> = all.iter().map(|d| d.name).collect();
        names.dedup();
        assert_eq!(names.len(), 8);
    }
}
