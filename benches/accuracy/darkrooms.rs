//! What the program says of one cup after another in the same darkroom: the readings that `benches/lives` draws from.
//!
//! Each darkroom keeps its camera, lamp, card, cups, table and lot of dye; every photo has its own framing, light from the side, exposure, depth of the cup and grain.
//! Card and cup are found by the program; a photo that it refuses is taken again, as it advises. Printed as a table of values apart by commas, pH counted from the dye's pKa' in the bath.

use super::{Failure, Settings, developed, in_parallel, medium, request};
use tintpoint::indicator::equilibrium::pka_at;
use tintpoint::measurement::read;
use tintpoint::quantity::Ph;
use tintpoint::scene::dye::{Lot, Sample};
use tintpoint::scene::options::{Level, Options};
use tintpoint::scene::photograph;
use tintpoint::scene::random::Random;

/// Where the dye stands in the cups: from nothing that could be seen to more than half turned, in so many even steps with one photo somewhere in each.
const FROM: f64 = -2.6;
/// See [`FROM`].
const TO: f64 = 0.4;
/// See [`FROM`].
const STEPS: usize = 24;
/// Depth of the cup, from photo to photo.
const DEPTH: f64 = 0.15;
/// Photos until one is answered: after the first with a sample half as deep, as the program advises.
const TRIES: usize = 3;

/// The photos of one darkroom, a line each.
fn darkroom(settings: &Settings, i: u64) -> Result<String, Failure> {
    // A third is easy, as of single photos.
    let level = if i.is_multiple_of(3) { Level::Easy } else { Level::Hard };
    let mut random = Random::new(settings.seed.wrapping_mul(3_000_017).wrapping_add(i));
    let medium = medium(&mut random)?;
    let pka = pka_at(settings.indicator, medium.ionic_strength, medium.temperature);
    let lot = Lot::drawn(settings.indicator, &mut random);
    let dose = random.between_log(0.35, 3.5);
    let stain = if random.chance(0.25) { random.between(0.0, 0.1) } else { 0.0 };
    let room = Options::drawn(level, Vec::new(), medium, random.bits());
    let mut lines = String::new();
    for step in 0..STEPS {
        let turned = FROM + (TO - FROM) * (step as f64 + random.between(0.0, 1.0)) / STEPS as f64;
        let mut said = [None; 3];
        let mut tries = 0;
        while said == [None; 3] && tries < TRIES {
            let depth = random.between(1.0 - DEPTH, 1.0 + DEPTH) * if tries == 0 { 1.0 } else { 0.5 };
            let sample = Sample { lot: lot.clone(), ph: Ph::new(pka + turned)?, dose: dose * depth, stain: stain * depth };
            let here = Options::drawn(level, vec![sample], medium, random.bits());
            let options = Options {
                vessel: room.vessel.clone(),
                lamp: room.lamp.clone(),
                card: room.card.clone(),
                paper: room.paper,
                table: room.table,
                camera: room.camera.clone(),
                processing: room.processing.clone(),
                quality: room.quality,
                ..here
            };
            let shot = photograph(&options);
            let frame = developed(&shot, options.quality, settings, &format!("darkroom-{i:03}-{step:02}-{tries}"))?;
            let reading = read(&frame, &request(settings.indicator, &options, &shot, false)?);
            if let [cup] = reading.cups.as_slice() {
                said = [cup.ph, cup.ph_low, cup.ph_high];
            }
            tries += 1;
        }
        let cells = said.map(|ph| ph.map_or(String::new(), |ph| format!("{:.3}", ph - pka)));
        lines += &format!("{i},{turned:.3},{tries},{}\n", cells.join(","));
    }
    Ok(lines)
}

/// Prints the table of all darkrooms.
pub(crate) fn run(settings: &Settings) -> Result<(), Failure> {
    println!("darkroom,turned,photos,ph,low,high");
    in_parallel(settings.darkrooms, &|i| darkroom(settings, i))?.iter().for_each(|lines| print!("{lines}"));
    Ok(())
}
