//! How well photos of the placement sheet are read, with and without making use of the sheet.
//!
//! `cargo bench --bench sheet` renders random photos of sheets (yaw and pitch to 35 degrees, any roll, blur to 2 pixels, 2 megapixels
//! and more, uneven light, all kinds of lamps) and prints: marks and cups found, how far off centre and radius are, what is found where
//! nothing is, how well the light fall-off is known, and the error of the pH by kind of light, each with and without the sheet.
//!
//! Options after `--`: `--photos N` (60), `--seed S` (1), `--megapixels M` (2), `--places` (look for marks, card and cups
//! only, and read no pH), `--verbose` (a line for each photo), `--save DIR`.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a bench prints its table")]

use std::path::PathBuf;
use std::process::ExitCode;
use tintpoint::colour::space::PhotoSpace;
use tintpoint::indicator::catalogue;
use tintpoint::measurement::frame::{Frame, Orientation, Samples};
use tintpoint::measurement::reading::{CupReading, Reading};
use tintpoint::measurement::regions::{Circle, LONGEST, Rectangle, find};
use tintpoint::measurement::request::Request;
use tintpoint::photo::encode::jpeg;
use tintpoint::quantity::{Celsius, IonicStrength};
use tintpoint::scene::dye::Medium;
use tintpoint::scene::options::{Level, Options, samples_drawn};
use tintpoint::scene::random::Random;
use tintpoint::scene::sheet::photo_drawn;
use tintpoint::scene::{CupTruth, Photograph, photograph};

type Failure = Box<dyn std::error::Error + Send + Sync>;

struct Settings {
    photos: u64,
    seed: u64,
    megapixels: f64,
    save: Option<PathBuf>,
    pixels_only: bool,
    verbose: bool,
}

fn main() -> ExitCode {
    match settings(std::env::args().skip(1)).and_then(|settings| run(&settings)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("error: {e}");
            ExitCode::FAILURE
        }
    }
}

fn settings(mut words: impl Iterator<Item = String>) -> Result<Settings, Failure> {
    let mut settings = Settings { photos: 60, seed: 1, megapixels: 2.0, save: None, pixels_only: false, verbose: false };
    while let Some(word) = words.next() {
        let mut next = || words.next().ok_or_else(|| format!("`{word}` needs a value"));
        match word.as_str() {
            // Cargo says so to every bench.
            "--bench" => {}
            "--photos" => settings.photos = next()?.parse()?,
            "--seed" => settings.seed = next()?.parse()?,
            "--megapixels" => settings.megapixels = next()?.parse()?,
            "--places" => settings.pixels_only = true,
            "--verbose" => settings.verbose = true,
            "--save" => settings.save = Some(next()?.into()),
            other => return Err(format!("unknown option `{other}`").into()),
        }
    }
    Ok(settings)
}

/// One photo to be made.
fn drawn(settings: &Settings, i: u64) -> Result<Options, Failure> {
    let purple = catalogue::find("bromocresol-purple").ok_or("the catalogue has no bromocresol-purple")?;
    let mut random = Random::new(settings.seed.wrapping_mul(1_000_003).wrapping_add(i));
    let random = &mut random;
    let medium =
        Medium { ionic_strength: IonicStrength::new(random.between(0.05, 0.4))?, temperature: Celsius::new(random.between(16.0, 28.0))? };
    let samples = samples_drawn(Level::Hard, purple, medium, random);
    let circles = (samples.len() + random.below(3)).min(tintpoint::placement::MOST_CUPS);
    let height = (settings.megapixels * 1e6 * 3.0 / 4.0).sqrt().round();
    let size = ((height * 4.0 / 3.0).round() as usize, height as usize);
    Ok(photo_drawn(Level::Hard, samples, circles, medium, size, random)?)
}

/// What is counted over photos.
#[derive(Default)]
struct Tally {
    photos: usize,
    used: usize,
    marks: usize,
    cards: usize,
    wrong_cards: usize,
    cups: usize,
    found: usize,
    placed: usize,
    numbered: usize,
    not_there: usize,
    off: Vec<f64>,
    radius: Vec<f64>,
    fall_off: [Vec<f64>; 2],
    /// Kind of light, error with the sheet and without it, both within the transition.
    errors: [Vec<(&'static str, f64)>; 2],
    covered: [usize; 2],
    answered: [usize; 2],
}

fn request(options: &Options) -> Request {
    Request { ionic_strength: options.medium.ionic_strength, temperature: options.medium.temperature, ..Request::default() }
}

/// The photo after JPEG.
fn developed(shot: &Photograph, quality: u8) -> Result<(Frame, Vec<u8>), Failure> {
    let bytes = jpeg(shot.width, shot.height, &shot.rgb, quality)?;
    let samples = Samples::Eight(image::load_from_memory(&bytes)?.to_rgb8().into_raw().into());
    Ok((Frame::new(shot.width, shot.height, Orientation::Upright, samples, PhotoSpace::srgb())?, bytes))
}

fn run(settings: &Settings) -> Result<(), Failure> {
    if let Some(folder) = &settings.save {
        std::fs::create_dir_all(folder)?;
    }
    let mut tally = Tally::default();
    for i in 0..settings.photos {
        one(settings, i, &mut tally)?;
    }
    print(&tally);
    Ok(())
}

fn one(settings: &Settings, i: u64, tally: &mut Tally) -> Result<(), Failure> {
    let mut options = drawn(settings, i)?;
    let shot = photograph(&options);
    let (frame, bytes) = developed(&shot, options.quality)?;
    if let Some(folder) = &settings.save {
        std::fs::write(folder.join(format!("{i:03}.jpg")), &bytes)?;
        std::fs::write(folder.join(format!("{i:03}.txt")), format!("{:#?}\n{:#?}\n", shot.truth, options.sheet))?;
    }
    let request = request(&options);
    let reading = if settings.pixels_only { seen(&frame, &request) } else { tintpoint::measurement::read(&frame, &request) };
    let before = (tally.placed, tally.not_there, tally.cards);
    count(tally, &options, &shot, &reading);
    if settings.verbose {
        let codes: Vec<&str> = reading.warnings.iter().map(|n| n.code()).collect();
        println!(
            "{i:03}: {} cups, placed {}, wrong {}, card {}, {codes:?}, {}",
            shot.truth.cups.len(),
            tally.placed - before.0,
            tally.not_there - before.1,
            tally.cards - before.2,
            shot.truth.lamp
        );
    }
    if settings.pixels_only {
        return Ok(());
    }
    // The same scene on blank paper, where card and cups are told.
    if let Some(scene) = &mut options.sheet {
        scene.is_blank = true;
    }
    let shot = photograph(&options);
    let (frame, _) = developed(&shot, options.quality)?;
    let card = shot.truth.card.as_ref().map(|card| {
        let [x, y, w, h] = card.area.map(f64::round);
        Rectangle { x, y, w, h }
    });
    let cups = shot.truth.cups.iter().map(|cup| Circle { x: cup.centre.0, y: cup.centre.1, radius: cup.radius }).collect();
    let plain = tintpoint::measurement::read(&frame, &Request { card, cups, ..request });
    let Some(scene) = &options.sheet else { return Ok(()) };
    for ((truth, stand), cup) in shot.truth.cups.iter().zip(&scene.standing).zip(&plain.cups) {
        let Some(on_sheet) = reading.cups.iter().find(|c| c.number == stand.circle + 1) else { continue };
        // Errors are compared on cups that have a pH in both.
        let both = on_sheet.ph.is_some() && cup.ph.is_some();
        judge(tally, 0, truth, shot.truth.lamp_kind.name(), on_sheet, both);
        judge(tally, 1, truth, shot.truth.lamp_kind.name(), cup, both);
    }
    Ok(())
}

/// Only what the pixels show: places, no fit.
fn seen(frame: &Frame, request: &Request) -> Reading {
    let small = frame.reduced(LONGEST);
    let regions = find(frame, &small, request);
    let cups = regions.cups.iter().enumerate().map(|(i, cup)| {
        let number = regions.numbers.get(i).copied().unwrap_or(i + 1);
        let light = regions.lights.get(i).copied().flatten();
        CupReading { light, ..CupReading::unjudged(number, cup, "") }
    });
    Reading {
        width: frame.upright_width(),
        height: frame.upright_height(),
        card: regions.card,
        sheet: regions.sheet.clone(),
        light: Default::default(),
        quality: Default::default(),
        warnings: regions.notices.clone(),
        cups: cups.collect(),
        panel: None,
        limits: request.limits,
    }
}

fn count(tally: &mut Tally, options: &Options, shot: &Photograph, reading: &Reading) {
    tally.photos += 1;
    let sheet = reading.sheet.as_ref();
    tally.used += usize::from(sheet.is_some_and(|s| s.is_used));
    tally.marks += sheet.map_or(0, |s| s.seen.len());
    if let (Some(card), Some(truth)) = (&reading.card, &shot.truth.card) {
        // All of the area must lie on the card.
        let area = card.area;
        let corners = [(0.0, 0.0), (area.w, 0.0), (area.w, area.h), (0.0, area.h)].map(|(u, v)| (area.x + u, area.y + v));
        let is_on = corners.iter().all(|p| inside(&truth.corners, *p));
        tally.cards += usize::from(is_on);
        tally.wrong_cards += usize::from(!is_on);
    }
    let Some(scene) = &options.sheet else { return };
    let mut left: Vec<&CupReading> = reading.cups.iter().collect();
    for (truth, stand) in shot.truth.cups.iter().zip(&scene.standing) {
        tally.cups += 1;
        let distance = |cup: &CupReading| (cup.region.liquid.x - truth.centre.0).hypot(cup.region.liquid.y - truth.centre.1);
        let nearest = (0..left.len()).min_by(|&a, &b| distance(left[a]).total_cmp(&distance(left[b])));
        let Some(at) = nearest.filter(|&i| distance(left[i]) < truth.radius) else { continue };
        let cup = left.remove(at);
        let (off, ratio) = (distance(cup) / truth.radius, cup.region.liquid.radius / truth.radius);
        tally.found += 1;
        tally.placed += usize::from(off <= 0.15 && (ratio - 1.0).abs() <= 0.15);
        if cup.number != stand.circle + 1 {
            println!("      circle {} was taken for {}", stand.circle + 1, cup.number);
        }
        tally.numbered += usize::from(cup.number == stand.circle + 1);
        tally.off.push(off);
        tally.radius.push(ratio - 1.0);
        if let (Some(light), Some(card)) = (cup.light, &shot.truth.card) {
            let true_log = (truth.light / card.light).ln();
            tally.fall_off[0].push(light.log_level - true_log);
            tally.fall_off[1].push(true_log);
        }
    }
    tally.not_there += left.len();
}

fn inside(quad: &[(f64, f64); 4], p: (f64, f64)) -> bool {
    let side = |i: usize| {
        let (a, b) = (quad[i], quad[(i + 1) % 4]);
        (b.0 - a.0) * (p.1 - a.1) - (b.1 - a.1) * (p.0 - a.0)
    };
    (0..4).all(|i| side(i) >= 0.0) || (0..4).all(|i| side(i) <= 0.0)
}

fn judge(tally: &mut Tally, way: usize, truth: &CupTruth, light: &'static str, cup: &CupReading, is_compared: bool) {
    if cup.ph_low.or(cup.ph_high).is_some() {
        tally.answered[way] += 1;
        let (low, high) = (cup.ph_low.unwrap_or(f64::NEG_INFINITY), cup.ph_high.unwrap_or(f64::INFINITY));
        tally.covered[way] += usize::from(low <= truth.ph && truth.ph <= high);
    }
    if let Some(ph) = cup.ph.filter(|_| is_compared && (0.05..=0.95).contains(&truth.base_fraction)) {
        tally.errors[way].push((light, ph - truth.ph));
    }
}

fn rms<'a>(all: impl Iterator<Item = &'a f64>) -> f64 {
    let (sum, count) = all.fold((0.0, 0), |(sum, n), e| (sum + e * e, n + 1));
    (sum / f64::from(count)).sqrt()
}

fn quantile(all: &[f64], share: f64) -> f64 {
    let mut sizes: Vec<f64> = all.iter().map(|v| v.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    sizes.get(((sizes.len() as f64 * share) as usize).min(sizes.len().saturating_sub(1))).copied().unwrap_or(f64::NAN)
}

fn print(t: &Tally) {
    let share = |part: usize, whole: usize| part as f64 / whole as f64;
    println!("A simulation: photos of sheets computed from spectra by this program, read by this program.\n");
    println!("photos {}, sheet used {:.3}, marks read {:.3}", t.photos, share(t.used, t.photos), share(t.marks, 4 * t.photos));
    println!("card found {:.3}, off the card {}", share(t.cards, t.photos), t.wrong_cards);
    println!(
        "cups {}, found {:.3}, within 0.15 radius and 15 % {:.3}, right number {:.3}, found where none is {}",
        t.cups,
        share(t.found, t.cups),
        share(t.placed, t.cups),
        share(t.numbered, t.cups),
        t.not_there
    );
    let (off, radius) = (|s| quantile(&t.off, s), |s| quantile(&t.radius, s));
    println!(
        "centre off by {:.3} of the radius (median), {:.3} (99 of 100); radius by {:.3}, {:.3}",
        off(0.5),
        off(0.99),
        radius(0.5),
        radius(0.99)
    );
    println!(
        "fall-off from card to cup, natural log: RMS {:.4} with the sheet, {:.4} taken as even",
        rms(t.fall_off[0].iter()),
        rms(t.fall_off[1].iter())
    );
    for (way, name) in ["with the sheet", "without, all told"].iter().enumerate() {
        let all = &t.errors[way];
        let line: Vec<String> = ["daylight", "tungsten", "led", "fluorescent"]
            .iter()
            .map(|kind| {
                let of: Vec<f64> = all.iter().filter(|(k, _)| k == kind).map(|(_, e)| *e).collect();
                format!("{kind} {:.3} ({})", rms(of.iter()), of.len())
            })
            .collect();
        println!(
            "{name}: transition RMS {:.3} ({}), answered {}, interval covers {:.3}; {}",
            rms(all.iter().map(|(_, e)| e)),
            all.len(),
            t.answered[way],
            share(t.covered[way], t.answered[way]),
            line.join(", ")
        );
    }
}
