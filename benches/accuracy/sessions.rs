//! Calibrations: what a profile of six, two or one buffer, or of the two ends of the dye, is worth in its own light and in another.
//!
//! Each session has a camera, a light, a table and a lot of dye of its own. Every kind of calibration reads the same photos: of the
//! session's light one sound and one spoilt, of another light one. Card and cups are told.

use super::{CupTruth, Failure, NEARING, SPENT, Settings, Tally, developed, figure, in_parallel, median, medium, request, share};
use std::sync::Arc;
use tintpoint::calibration::{self, Rung};
use tintpoint::measurement::profile::Calibrated;
use tintpoint::measurement::reading::{Reading, State};
use tintpoint::measurement::{read, survey};
use tintpoint::quantity::Ph;
use tintpoint::scene::dye::{Lot, Medium, Sample};
use tintpoint::scene::fault::Fault;
use tintpoint::scene::lamp::Lamp;
use tintpoint::scene::options::{Level, Options};
use tintpoint::scene::photograph;
use tintpoint::scene::random::Random;

/// Buffers of each kind of calibration: the pH in the cup from pKa', what is told of it and its standard uncertainty. The ends are those
/// of `--ends`: bath of pH 2.8 +- 0.6, with soda 8.2 +- 0.3; what is truly in the cups is drawn from a normal distribution of that width, as for the buffers.
const KINDS: [(&str, &[f64]); 4] =
    [("six buffers", &[-2.2, -0.9, -0.45, 0.0, 0.45, 1.3]), ("two buffers", &[-0.6, 0.6]), ("one buffer", &[0.0]), ("--ends", &[])];
const ENDS: [(f64, f64); 2] = [(2.8, 0.6), (8.2, 0.3)];
/// Uncertainty of a buffer, as the command line has it.
const BUFFER_SD: f64 = 0.02;
/// Cups of a photo that is read.
const CUPS: usize = 2;
/// Faults that a photo of the session may have; the rest are refused before a profile matters.
const FAULTS: [Fault; 5] = [Fault::Stained, Fault::OtherDye, Fault::MixedLight, Fault::TooPale, Fault::CardShaded];

/// What one kind of calibration reads in one session: in its light, in another, and spoilt.
struct Outcome {
    same: (Vec<CupTruth>, Reading),
    other: (Vec<CupTruth>, Reading),
    /// Whether no cup of it was judged.
    is_spoilt_refused: bool,
}

/// The photos of a session as they are drawn.
struct Session<'a> {
    settings: &'a Settings,
    base: Options,
    lot: Lot,
    medium: Medium,
    dose: f64,
    random: Random,
}

impl Session<'_> {
    /// A photo of cups of these pH, before it is taken; cups of used bath may be a little brown, as those of single photos.
    fn posed(&mut self, all: &[f64], spread: f64, is_used: bool) -> Result<Options, Failure> {
        let mut samples = Vec::new();
        for ph in all {
            let dose = self.dose * self.random.between(1.0 - spread, 1.0 + spread);
            let stain = if is_used && self.random.chance(0.25) { self.random.between(0.0, 0.1) } else { 0.0 };
            samples.push(Sample { lot: self.lot.clone(), ph: Ph::new(*ph)?, dose, stain });
        }
        Ok(Options { samples, seed: self.random.bits(), ..self.base.clone() })
    }

    fn calibrated(&mut self, told: &[(f64, f64)], true_ph: &[f64]) -> Result<Option<Arc<Calibrated>>, Failure> {
        let options = self.posed(true_ph, 0.05, false)?;
        let shot = photograph(&options);
        let frame = developed(&shot, options.quality, self.settings, "buffers")?;
        let asked = request(self.settings.indicator, &options, &shot, true)?;
        let seen = survey(&frame, &asked);
        let mut rungs = Vec::new();
        for (ph, sd) in told {
            rungs.push(Rung { ph: Ph::new(*ph)?, sd: *sd, ionic_strength: self.medium.ionic_strength });
        }
        let photos = [(frame.space(), &seen)];
        let dye = self.settings.indicator;
        let evidence = calibration::evidence(dye, None, self.medium.temperature, asked.card_reflectance, &photos, &rungs, true);
        let calibrated = evidence.and_then(|(mut evidence, _)| calibration::calibrate(&mut evidence));
        Ok(calibrated.ok().map(|(calibrated, ..)| Arc::new(calibrated)))
    }

    fn reading(&self, options: &Options, calibrated: &Arc<Calibrated>) -> Result<(Vec<CupTruth>, Reading), Failure> {
        let shot = photograph(options);
        let frame = developed(&shot, options.quality, self.settings, "read")?;
        let mut asked = request(self.settings.indicator, options, &shot, true)?;
        asked.calibrated = Some(calibrated.clone());
        Ok((shot.truth.cups, read(&frame, &asked)))
    }
}

/// One session: what came of each kind of calibration; `None` where there was no profile.
fn session(settings: &Settings, i: u64) -> Result<(Level, Vec<Option<Outcome>>), Failure> {
    let level = if i.is_multiple_of(2) { Level::Easy } else { Level::Hard };
    let mut random = Random::new(settings.seed.wrapping_mul(9_000_011).wrapping_add(i));
    let medium = medium(&mut random)?;
    let lot = Lot::drawn(settings.indicator, &mut random);
    let base = Options { clutter: 0, ..Options::drawn(level, Vec::new(), medium, random.bits()) };
    let dose = random.between_log(0.6, 2.0);
    let mut session = Session { settings, base, lot, medium, dose, random };
    let pka = settings.indicator.pka.value();
    let baths: Vec<f64> = (0..CUPS).map(|_| pka + session.random.between(-1.3, 1.1)).collect();
    let same = session.posed(&baths, 0.15, true)?;
    let other = Options { lamp: Lamp::drawn(&mut session.random), seed: session.random.bits(), ..same.clone() };
    let mut spoilt = session.posed(&baths[..1], 0.15, true)?;
    FAULTS[i as usize % FAULTS.len()].spoil(&mut spoilt, &mut session.random);
    let mut outcomes = Vec::new();
    for (_, offsets) in KINDS {
        let told: Vec<(f64, f64)> =
            if offsets.is_empty() { ENDS.to_vec() } else { offsets.iter().map(|off| (pka + off, BUFFER_SD)).collect() };
        let true_ph: Vec<f64> = told.iter().map(|(ph, sd)| ph + session.random.normal(*sd)).collect();
        let Some(calibrated) = session.calibrated(&told, &true_ph)? else {
            outcomes.push(None);
            continue;
        };
        let is_spoilt_refused = session.reading(&spoilt, &calibrated)?.1.cups.iter().all(|cup| cup.state == State::Unclear);
        let (same, other) = (session.reading(&same, &calibrated)?, session.reading(&other, &calibrated)?);
        outcomes.push(Some(Outcome { same, other, is_spoilt_refused }));
    }
    Ok((level, outcomes))
}

/// Prints a table of all kinds of calibration, and what came of the spoilt photos.
pub(crate) fn run(settings: &Settings) -> Result<(), Failure> {
    let all = in_parallel(settings.sessions, &|i| session(settings, i))?;
    println!(
        "A simulation: sessions 0 to {} of seed {}, half easy; limits pH {NEARING} and {SPENT}.\n",
        settings.sessions - 1,
        settings.seed
    );
    println!(
        "| calibrated on | light | no profile | cups | answered | RMS error easy / hard | median error | 95 % interval covers | its median width |"
    );
    println!("|---|---|---|---|---|---|---|---|---|");
    for (k, (name, _)) in KINDS.iter().enumerate() {
        let without = all.iter().filter(|(_, outcomes)| outcomes[k].is_none()).count();
        for (light, is_same) in [("same", true), ("other", false)] {
            let tally = |wanted: Option<Level>| {
                let mut tally = Tally::default();
                for outcome in all.iter().filter(|(level, _)| wanted.is_none_or(|w| w == *level)).filter_map(|(_, all)| all[k].as_ref()) {
                    let (truth, reading) = if is_same { &outcome.same } else { &outcome.other };
                    tally.add(truth, reading);
                }
                tally
            };
            let (both, easy, hard) = (tally(None), tally(Some(Level::Easy)), tally(Some(Level::Hard)));
            println!(
                "| {name} | {light} | {without} | {} | {} | {:.3} / {:.3} | {:.3} | {} | {} |",
                both.cups,
                share(both.answered, both.cups),
                easy.rms(0.95),
                hard.rms(0.95),
                both.median_error(),
                share(both.covered, both.answered),
                figure(2.0 * median(both.half_widths.clone())),
            );
        }
    }
    println!("\nSpoilt photos of one cup read with the profile of six buffers, refused of all:\n");
    println!("| fault | photos | refused |\n|---|---|---|");
    for (f, fault) in FAULTS.iter().enumerate() {
        let of_fault = || all.iter().skip(f).step_by(FAULTS.len()).filter_map(|(_, outcomes)| outcomes[0].as_ref());
        println!("| {} | {} | {} |", fault.code(), of_fault().count(), of_fault().filter(|outcome| outcome.is_spoilt_refused).count());
    }
    Ok(())
}
