//! Time to read a 12-megapixel photo, as a whole and by stages. Run with `cargo bench --bench read`.
//!
//! The photos are rendered from spectra and encoded in memory; what is read of each is checked against what was put in
//! before anything is timed. Prints the median and the best of the runs in milliseconds.
//!
//! `cargo bench --bench read -- FOLDER` times the whole fit of each photo in a folder instead, on one core: all lights and cameras, other
//! dyes and stain. A line for each photo that can be judged, then a line for each number of cups.

#![allow(clippy::print_stdout, reason = "a bench prints its table")]

mod clock;

use clock::time;
use std::collections::BTreeMap;
use std::fs;
use std::hint::black_box;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Instant;
use tintpoint::measurement::estimate::Content;
use tintpoint::measurement::model::hypothesis;
use tintpoint::measurement::reading::Reading;
use tintpoint::measurement::regions::{LONGEST, find, locate};
use tintpoint::measurement::request::Request;
use tintpoint::measurement::samples::{CupSamples, card, cup};
use tintpoint::measurement::share::alone;
use tintpoint::measurement::warning::Notice;
use tintpoint::measurement::{estimate, read, survey};
use tintpoint::photo::{decode, encode};
use tintpoint::quantity::Ph;
use tintpoint::scene::dye::{Lot, Medium, Sample};
use tintpoint::scene::lamp::Lamp;
use tintpoint::scene::options::{Level, Options};
use tintpoint::scene::random::Random;
use tintpoint::scene::{Photograph, photograph};

type Failure = Box<dyn std::error::Error>;

/// JPEG quality at which the rendered grain makes a file as large as a camera's, some megabytes.
const QUALITY: u8 = 97;
/// Runs a job is timed.
const RUNS: usize = 15;
/// pH of the cups, all beyond the middle of the dye's transition, where no stain can imitate them and each gets a figure.
const PH: [f64; 6] = [6.5, 6.3, 6.2, 6.4, 6.6, 6.3];
/// A reading further off than this is no reading: the dye alone is known to 0.1, a camera nobody knows adds as much again.
const FARTHEST: f64 = 0.6;

/// Runs the fit of a photo of a folder is timed; the best counts, since others use the machine too. In rounds through the whole folder, for they do so for seconds on end.
const FIT_RUNS: usize = 5;
const ROUNDS: usize = 5;

fn main() -> Result<(), Failure> {
    // Cargo adds a word of its own.
    if let Some(folder) = std::env::args().skip(1).find(|word| !word.starts_with('-')) {
        return fits(Path::new(&folder));
    }
    for cups in [1, PH.len()] {
        println!("{cups} of {} cups:", PH.len());
        stages(cups)?;
    }
    Ok(())
}

fn stages(cups: usize) -> Result<(), Failure> {
    let request = Request::default();
    let scene = scene(cups)?;
    let file = encode::jpeg(scene.width, scene.height, &scene.rgb, QUALITY)?;
    println!("  JPEG of {:.1} MB", file.len() as f64 / 1e6);
    let frame = decode(&file)?.frame;
    check(&read(&frame, &request), cups)?;

    let small = frame.reduced(LONGEST);
    let regions = locate(&small, &request);
    let found_card = regions.card.as_ref().and_then(|region| card(&frame, region)).ok_or("no card")?;
    let found_cups: Vec<CupSamples> = regions.cups.iter().filter_map(|region| cup(&frame, region)).collect();
    let measured = estimate::measured(
        Some((&found_card, request.card_reflectance.value())),
        &found_cups.iter().map(|cup| (cup, Content::Dyed(0))).collect::<Vec<_>>(),
    );
    let hypotheses = hypothesis::all(frame.space(), None);

    time(RUNS, "decode", || decode(&file).is_ok());
    time(RUNS, "reduce", || frame.reduced(LONGEST));
    time(RUNS, "find", || locate(&small, &request));
    time(RUNS, "look for a sheet's marks, then find", || find(&frame, &small, &request));
    time(RUNS, "take samples", || {
        let card = regions.card.as_ref().and_then(|region| card(&frame, region));
        (card, regions.cups.iter().map(|region| cup(&frame, region)).collect::<Vec<_>>())
    });
    time(RUNS, "make hypotheses", || hypothesis::all(frame.space(), None));
    time(RUNS, "fit", || estimate::estimate(&hypotheses, &[request.contents.indicator], &measured));
    time(RUNS, "whole", || decode(&file).map(|photo| read(&photo.frame, &request)).ok());
    Ok(())
}

/// Times the fit of every photo in a folder that is good enough to be judged.
fn fits(folder: &Path) -> Result<(), Failure> {
    let request = Request::default();
    let mut files: Vec<PathBuf> = fs::read_dir(folder)?.map(|entry| Ok(entry?.path())).collect::<Result<_, io::Error>>()?;
    files.retain(|file| file.extension().is_some_and(|extension| extension == "jpg"));
    files.sort();
    let mut photos = Vec::new();
    for file in files {
        let frame = decode(&fs::read(&file)?)?.frame;
        let survey = survey(&frame, &request);
        let cups: Vec<_> = survey.cups().iter().flatten().map(|cup| (cup, Content::Dyed(0))).collect();
        if cups.is_empty() || survey.reading.warnings.iter().any(Notice::refuses) {
            continue;
        }
        let card = survey.card().map(|card| (card, request.card_reflectance.value()));
        photos.push((file, hypothesis::all(frame.space(), None), estimate::measured(card, &cups)));
    }
    let mut best = vec![f64::INFINITY; photos.len()];
    for _ in 0..ROUNDS {
        for ((_, hypotheses, measured), best) in photos.iter().zip(&mut best) {
            for _ in 0..FIT_RUNS {
                let start = Instant::now();
                black_box(alone(|| estimate::estimate(hypotheses, &[request.contents.indicator], measured)));
                *best = best.min(start.elapsed().as_secs_f64() * 1e3);
            }
        }
    }
    let mut by_count: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for ((file, _, measured), best) in photos.iter().zip(best) {
        println!("{:40} {} cup(s) {best:7.1} ms", file.file_name().unwrap_or_default().display(), measured.cups.len());
        by_count.entry(measured.cups.len()).or_default().push(best);
    }
    for (count, mut times) in by_count {
        times.sort_by(f64::total_cmp);
        let within = |limit: f64| times.iter().filter(|time| **time <= limit).count();
        let (photos, median, most) = (times.len(), times[times.len() / 2], times[times.len() - 1]);
        println!(
            "{count} cup(s), {photos} photos: median {median:.1} ms, most {most:.1}; {} within 15 ms, {} within 60",
            within(15.0),
            within(60.0)
        );
    }
    Ok(())
}

/// A tidy table by daylight, 12 megapixels.
fn scene(cups: usize) -> Result<Photograph, Failure> {
    let request = Request::default();
    let medium = Medium { ionic_strength: request.ionic_strength, temperature: request.temperature };
    let lot = Lot::drawn(request.contents.indicator, &mut Random::new(3));
    let samples = PH[..cups].iter().map(|&ph| Ok(Sample { lot: lot.clone(), ph: Ph::new(ph)?, dose: 1.1, stain: 0.0 }));
    let samples = samples.collect::<Result<Vec<_>, Failure>>()?;
    let drawn = Options::drawn(Level::Easy, samples, medium, 11);
    Ok(photograph(&Options { width: 4000, height: 3000, lamp: Lamp::daylight(5800.0), ..drawn }))
}

/// Fails when a cup was missed or its pH is nowhere near the truth.
fn check(reading: &Reading, cups: usize) -> Result<(), Failure> {
    if reading.card.is_none() || reading.cups.len() != cups {
        return Err(format!("found {} of {cups} cups, card {:?}", reading.cups.len(), reading.card).into());
    }
    for (cup, truth) in reading.cups.iter().zip(PH) {
        let ph = cup.ph.ok_or_else(|| format!("cup {} has no pH: {:?}", cup.number, cup.reasons))?;
        if (ph - truth).abs() > FARTHEST {
            return Err(format!("cup {} reads pH {ph:.2} and holds {truth:.2}", cup.number).into());
        }
    }
    Ok(())
}
