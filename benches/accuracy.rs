//! How well the program reads its own invented photos.
//!
//! `cargo bench --bench accuracy` renders random photos from spectra, saves them as JPEG in memory, decodes and reads them, once with
//! card and cups told and once with both to be found, and compares with what is truly in the cups. It then spoils photos and looks
//! whether they are refused, and for the right reason.
//!
//! This is a simulation: it tells whether the reading undoes what the model of light, dye and camera does, not what a real table does.
//!
//! The default takes one to three minutes on two processors. Options after `--`: `--photos N` (120), `--faults N` (66), `--seed S` (1),
//! `--sessions N` (calibrations in place of single photos, see `accuracy/sessions.rs`), `--darkrooms N` (rows of single cups, see `accuracy/darkrooms.rs`), `--indicator NAME`, `--only given` or `--only found`, `--save DIR` (keeps every photo with a line of truth).

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a bench prints its table")]

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::atomic::{AtomicU64, Ordering};
use tintpoint::indicator::{Indicator, catalogue};
use tintpoint::measurement::frame::{Frame, Orientation, Samples};
use tintpoint::measurement::reading::{CupReading, Reading, State};
use tintpoint::measurement::regions::{Circle, Rectangle};
use tintpoint::measurement::request::{Contents, Request};
use tintpoint::photo::encode::jpeg;
use tintpoint::quantity::{Celsius, IonicStrength, Ph};
use tintpoint::scene::dye::{Lot, Medium, Sample};
use tintpoint::scene::fault::Fault;
use tintpoint::scene::options::{Level, Options, samples_drawn};
use tintpoint::scene::random::Random;
use tintpoint::scene::{CupTruth, Photograph, photograph};

/// Limits of the states, as the command line has them unless told.
const NEARING: f64 = 5.0;
const SPENT: f64 = 5.5;

type Failure = Box<dyn std::error::Error + Send + Sync>;

#[path = "accuracy/darkrooms.rs"]
mod darkrooms;
#[path = "accuracy/sessions.rs"]
mod sessions;

struct Settings {
    photos: u64,
    faults: u64,
    seed: u64,
    indicator: &'static Indicator,
    given: bool,
    found: bool,
    save: Option<PathBuf>,
    /// Calibrations to try in place of single photos.
    sessions: u64,
    /// Darkrooms to read in place of single photos.
    darkrooms: u64,
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
    let purple = catalogue::find("bromocresol-purple").ok_or("the catalogue has no bromocresol-purple")?;
    let mut settings =
        Settings { photos: 120, faults: 66, seed: 1, indicator: purple, given: true, found: true, save: None, sessions: 0, darkrooms: 0 };
    while let Some(word) = words.next() {
        let mut next = || words.next().ok_or_else(|| format!("`{word}` needs a value"));
        match word.as_str() {
            // Cargo says so to every bench.
            "--bench" => {}
            "--photos" => settings.photos = next()?.parse()?,
            "--faults" => settings.faults = next()?.parse()?,
            "--sessions" => settings.sessions = next()?.parse()?,
            "--darkrooms" => settings.darkrooms = next()?.parse()?,
            "--seed" => settings.seed = next()?.parse()?,
            "--indicator" => settings.indicator = catalogue::find(&next()?).ok_or("no such indicator")?,
            "--save" => settings.save = Some(next()?.into()),
            "--only" => match next()?.as_str() {
                "given" => settings.found = false,
                "found" => settings.given = false,
                other => return Err(format!("`--only {other}` is neither given nor found").into()),
            },
            other => return Err(format!("unknown option `{other}`").into()),
        }
    }
    Ok(settings)
}

fn run(settings: &Settings) -> Result<(), Failure> {
    if settings.sessions > 0 {
        return sessions::run(settings);
    }
    if settings.darkrooms > 0 {
        return darkrooms::run(settings);
    }
    if let Some(folder) = &settings.save {
        std::fs::create_dir_all(folder)?;
    }
    let mut tallies: Vec<(&str, Level, Tally)> = Vec::new();
    for (way, wanted) in [("regions given", settings.given), ("regions found", settings.found)] {
        if wanted {
            tallies.extend([Level::Easy, Level::Hard].map(|level| (way, level, Tally::default())));
        }
    }
    let ways: Vec<&str> = tallies.iter().filter(|(_, level, _)| *level == Level::Easy).map(|(way, ..)| *way).collect();
    let all = in_parallel(settings.photos, &|i| pose_and_read(settings, i, &ways))?;
    for (at, shot, readings) in &all {
        for (way, reading) in ways.iter().zip(readings) {
            for (_, _, tally) in tallies.iter_mut().filter(|(tallied, level, _)| tallied == way && level == at) {
                tally.photos += 1;
                tally.add(&shot.truth.cups, reading);
            }
        }
    }
    println!(
        "A simulation: photos computed from spectra by this program, read by this program. Photos 0 to {} of seed {},",
        settings.photos.saturating_sub(1),
        settings.seed
    );
    println!("a third easy, 1200 x 900 pixels as JPEG; {}; limits pH {NEARING} and {SPENT}.\n", settings.indicator.name);
    print_table(&tallies);
    faults(settings)
}

/// One photo and its reading in each of the `ways`.
fn pose_and_read(settings: &Settings, i: u64, ways: &[&str]) -> Result<(Level, Photograph, Vec<Reading>), Failure> {
    // A third is easy.
    let level = if i.is_multiple_of(3) { Level::Easy } else { Level::Hard };
    let mut random = Random::new(settings.seed.wrapping_mul(1_000_003).wrapping_add(i));
    let medium = medium(&mut random)?;
    let samples = samples_drawn(level, settings.indicator, medium, &mut random);
    let options = Options::drawn(level, samples, medium, random.bits());
    let mut shot = photograph(&options);
    let frame = developed(&shot, options.quality, settings, &format!("{i:03}"))?;
    // Only the truth is needed from here on; the pictures together would be 400 MB.
    shot.rgb = Vec::new();
    let read =
        |way: &&str| Ok(tintpoint::measurement::read(&frame, &request(settings.indicator, &options, &shot, *way == "regions given")?));
    let readings = ways.iter().map(read).collect::<Result<_, Failure>>()?;
    Ok((level, shot, readings))
}

/// Does the work of every number below `count`, spread over the processors; the results keep the order of the numbers.
fn in_parallel<T: Send>(count: u64, work: &(dyn Fn(u64) -> Result<T, Failure> + Sync)) -> Result<Vec<T>, Failure> {
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let next = AtomicU64::new(0);
    let one = || -> Result<Vec<(u64, T)>, Failure> {
        let mut done = Vec::new();
        loop {
            let i = next.fetch_add(1, Ordering::Relaxed);
            if i >= count {
                return Ok(done);
            }
            done.push((i, work(i)?));
        }
    };
    let mut all = Vec::new();
    std::thread::scope(|scope| -> Result<(), Failure> {
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(one)).collect();
        for worker in workers {
            all.extend(worker.join().map_err(|_| "a photo could not be finished")??);
        }
        Ok(())
    })?;
    all.sort_by_key(|(i, _)| *i);
    Ok(all.into_iter().map(|(_, result)| result).collect())
}

/// Salt of a bath: from weak to half neutralised; warmth of a cellar or an attic. The reading is told both.
fn medium(random: &mut Random) -> Result<Medium, Failure> {
    Ok(Medium { ionic_strength: IonicStrength::new(random.between(0.05, 0.4))?, temperature: Celsius::new(random.between(16.0, 28.0))? })
}

/// The picture after JPEG; with `--save` it is kept.
fn developed(shot: &Photograph, quality: u8, settings: &Settings, name: &str) -> Result<Frame, Failure> {
    let bytes = jpeg(shot.width, shot.height, &shot.rgb, quality)?;
    if let Some(folder) = &settings.save {
        std::fs::write(folder.join(format!("{name}.jpg")), &bytes)?;
        std::fs::write(folder.join(format!("{name}.txt")), format!("{:#?}\n", shot.truth))?;
    }
    let back = image::load_from_memory(&bytes)?.to_rgb8();
    let samples = Samples::Eight(back.into_raw().into());
    Ok(Frame::new(shot.width, shot.height, Orientation::Upright, samples, tintpoint::colour::space::PhotoSpace::srgb())?)
}

fn request(indicator: &'static Indicator, options: &Options, shot: &Photograph, tells: bool) -> Result<Request, Failure> {
    let card = shot.truth.card.as_ref().map(|card| {
        let [x, y, w, h] = card.area.map(f64::round);
        Rectangle { x, y, w, h }
    });
    let circle = |cup: &CupTruth| Circle { x: cup.centre.0, y: cup.centre.1, radius: cup.radius };
    Ok(Request {
        contents: Contents::of(indicator),
        card: card.filter(|_| tells),
        cups: if tells { shot.truth.cups.iter().map(circle).collect() } else { Vec::new() },
        ionic_strength: options.medium.ionic_strength,
        temperature: options.medium.temperature,
        ..Request::default()
    })
}

/// What is counted over the cups of one kind of photo.
#[derive(Default)]
struct Tally {
    photos: usize,
    cups: usize,
    found: usize,
    not_there: usize,
    answered: usize,
    covered: usize,
    /// True base fraction and error of the pH, of cups with a pH inside the transition (0.05 to 0.95).
    errors: Vec<(f64, f64)>,
    inside: usize,
    half_widths: Vec<f64>,
    decided: usize,
    right: usize,
    mild: usize,
    strict: usize,
    spent_called_fresh: usize,
    /// Cups without an answer or a state, by what was said about them.
    held_back: BTreeMap<&'static str, usize>,
}

impl Tally {
    fn add(&mut self, cups: &[CupTruth], reading: &Reading) {
        let mut left: Vec<&CupReading> = reading.cups.iter().collect();
        for truth in cups {
            self.cups += 1;
            let distance = |cup: &CupReading| (cup.region.liquid.x - truth.centre.0).hypot(cup.region.liquid.y - truth.centre.1);
            let nearest = (0..left.len()).min_by(|&a, &b| distance(left[a]).total_cmp(&distance(left[b])));
            let is_inside = (0.05..=0.95).contains(&truth.base_fraction);
            self.inside += usize::from(is_inside);
            // A circle counts when it lies on the liquid: centre within a quarter of the rim, radius 0.6 to 1.15 of the liquid's.
            let hit = nearest.filter(|&i| {
                distance(left[i]) <= 0.25 * truth.rim && (0.6..=1.15).contains(&(left[i].region.liquid.radius / truth.radius))
            });
            if let Some(i) = hit {
                self.found += 1;
                let cup = left.remove(i);
                self.count(truth, cup, is_inside);
                if cup.state == State::Unclear {
                    let said: BTreeSet<&'static str> = reading.warnings.iter().chain(&cup.reasons).map(|notice| notice.code()).collect();
                    said.into_iter().for_each(|code| *self.held_back.entry(code).or_default() += 1);
                }
            }
        }
        self.not_there += left.len();
    }

    fn count(&mut self, truth: &CupTruth, cup: &CupReading, is_inside: bool) {
        if cup.ph.or(cup.ph_low).or(cup.ph_high).is_some() {
            self.answered += 1;
            let (low, high) = (cup.ph_low.unwrap_or(f64::NEG_INFINITY), cup.ph_high.unwrap_or(f64::INFINITY));
            self.covered += usize::from(low <= truth.ph && truth.ph <= high);
            if let Some(ph) = cup.ph.filter(|_| is_inside) {
                self.errors.push((truth.base_fraction, ph - truth.ph));
                self.half_widths.push(0.5 * (high - low));
            }
        }
        let rank = |state: State| match state {
            State::Fresh => Some(0),
            State::Nearing => Some(1),
            State::Spent => Some(2),
            State::Unclear => None,
        };
        let true_rank = if truth.ph < NEARING {
            0
        } else if truth.ph < SPENT {
            1
        } else {
            2
        };
        if let Some(said) = rank(cup.state) {
            self.decided += 1;
            self.right += usize::from(said == true_rank);
            self.mild += usize::from(said < true_rank);
            self.strict += usize::from(said > true_rank);
            self.spent_called_fresh += usize::from((true_rank, said) == (2, 0));
        }
    }

    /// Root mean square error of cups whose true base fraction is at most `highest`.
    fn rms(&self, highest: f64) -> f64 {
        let squares: Vec<f64> = self.errors.iter().filter(|(a, _)| *a <= highest).map(|(_, e)| e * e).collect();
        (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
    }

    fn median_error(&self) -> f64 {
        median(self.errors.iter().map(|(_, e)| e.abs()).collect())
    }
}

/// Middle value; not a number when there is none.
fn median(mut all: Vec<f64>) -> f64 {
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(f64::NAN)
}

/// A figure, or a dash where there was nothing to count.
fn figure(number: f64) -> String {
    if number.is_finite() { format!("{number:.2}") } else { "-".to_owned() }
}

fn share(part: usize, whole: usize) -> String {
    figure(part as f64 / whole as f64)
}

fn print_table(tallies: &[(&str, Level, Tally)]) {
    let heads: Vec<String> =
        tallies.iter().map(|(way, level, _)| format!("{}, {way}", if *level == Level::Easy { "easy" } else { "hard" })).collect();
    println!("| | {} |", heads.join(" | "));
    println!("|---|{}", "---|".repeat(heads.len()));
    let line = |name: &str, of: &dyn Fn(&Tally) -> String| {
        let cells: Vec<String> = tallies.iter().map(|(_, _, tally)| of(tally)).collect();
        println!("| {name} | {} |", cells.join(" | "));
    };
    line("photos / cups", &|t| format!("{} / {}", t.photos, t.cups));
    line("cups found", &|t| share(t.found, t.cups));
    line("found where there is none, per cup", &|t| share(t.not_there, t.cups));
    line("answered (pH or a bound)", &|t| share(t.answered, t.cups));
    line("95 % interval covers", &|t| share(t.covered, t.answered));
    line("pH given, base fraction 0.05 to 0.95", &|t| share(t.errors.len(), t.inside));
    line("RMS error, base fraction 0.05 to 0.75", &|t| figure(t.rms(0.75)));
    line("RMS error, base fraction 0.05 to 0.95", &|t| figure(t.rms(0.95)));
    line("median error", &|t| figure(t.median_error()));
    line("median half-width of the interval", &|t| figure(median(t.half_widths.clone())));
    line("state decided", &|t| share(t.decided, t.cups));
    line("of these right", &|t| share(t.right, t.decided));
    line("of these too mild / too strict", &|t| format!("{} / {}", share(t.mild, t.decided), share(t.strict, t.decided)));
    line("spent called fresh, cups", &|t| t.spent_called_fresh.to_string());
    line("said of cups without a state", &|t| t.held_back.iter().map(|(code, n)| format!("{n} {code}")).collect::<Vec<_>>().join(", "));
    println!();
}

/// Spoils photos, finds everything itself, and looks for the refusal and its reason.
fn faults(settings: &Settings) -> Result<(), Failure> {
    if settings.faults == 0 {
        return Ok(());
    }
    let mut counts = [(0usize, 0usize, 0usize); Fault::ALL.len()];
    for (which, is_refused, is_named) in in_parallel(settings.faults, &|i| spoil_and_read(settings, i))? {
        counts[which].0 += 1;
        counts[which].1 += usize::from(is_refused);
        counts[which].2 += usize::from(is_named);
    }
    println!("Spoiled photos of one cup, everything to be found: photos 0 to {} of seed {}.\n", settings.faults - 1, settings.seed);
    println!("| fault | photos | refused | right reason named |\n|---|---|---|---|");
    for (fault, (all, refused, named)) in Fault::ALL.iter().zip(counts) {
        println!("| {} | {all} | {refused} | {named} |", fault.code());
    }
    let sum = counts.iter().fold((0, 0, 0), |s, c| (s.0 + c.0, s.1 + c.1, s.2 + c.2));
    println!("| all | {} | {} | {} |", sum.0, sum.1, sum.2);
    Ok(())
}

/// One spoiled photo: number of its fault, whether it was refused, whether for that reason.
fn spoil_and_read(settings: &Settings, i: u64) -> Result<(usize, bool, bool), Failure> {
    let which = i as usize % Fault::ALL.len();
    let fault = Fault::ALL[which];
    let mut random = Random::new(settings.seed.wrapping_mul(7_000_003).wrapping_add(i));
    let medium = medium(&mut random)?;
    let ph = Ph::new(settings.indicator.pka.value() + random.between(-1.4, 1.2))?;
    let sample = Sample { lot: Lot::drawn(settings.indicator, &mut random), ph, dose: random.between_log(0.6, 2.0), stain: 0.0 };
    let level = if i.is_multiple_of(2) { Level::Easy } else { Level::Hard };
    let mut options = Options::drawn(level, vec![sample], medium, random.bits());
    fault.spoil(&mut options, &mut random);
    let shot = photograph(&options);
    let frame = developed(&shot, options.quality, settings, &format!("fault-{i:03}-{}", fault.code()))?;
    let reading = tintpoint::measurement::read(&frame, &request(settings.indicator, &options, &shot, false)?);
    let is_refused = reading.cups.iter().all(|cup| cup.state == State::Unclear);
    let mut said = reading.warnings.iter().chain(reading.cups.iter().flat_map(|cup| &cup.reasons));
    Ok((which, is_refused, said.any(|notice| notice.code() == fault.code())))
}
