//! How well the program tells when a bath is to be replaced.
//!
//! `cargo bench --bench lives` lets 1,000 invented baths be used up, half citric (15 g/l) and half acetic (1.7 %), half with films and half with paper, 0.5 to 4 l. Before
//! each session the worker asks how many pieces may go through, and follows the answer. He does so with counts and readings, with counts alone, with readings alone,
//! and with readings and a count that lacks every fifth load.
//!
//! The truth is in `world.rs`, what the program says of photos in `readings.rs`. A bath fails when its pH has passed the limit by the end of a session that it was used for.
//!
//! Options after `--`: `--lives N` (1000), `--seed S` (1), `--only COLUMN`, counted from 0.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a bench prints its table")]

#[path = "../clock/mod.rs"]
mod clock;
mod readings;
mod world;

use readings::Readings;
use std::process::ExitCode;
use std::time::Instant;
use tintpoint::logbook::belief::Belief;
use tintpoint::logbook::forecast::Kind;
use tintpoint::logbook::life::{Change, Life, Load, Reading, Step};
use tintpoint::quantity::Ph;
use tintpoint::scene::random::Random;
use world::{SPENT, World};

type Failure = Box<dyn std::error::Error + Send + Sync>;

/// The one kind of piece and developer of each life.
const KIND: Kind = Kind { piece: 0, developer: 0 };
/// Days from session to session, seconds.
const APART: i64 = 3 * 86_400;
/// Share of the loads that a forgetful worker does not write down.
const FORGOTTEN: f64 = 0.2;
/// Threads that share the lives.
const THREADS: u64 = 2;

/// What the program is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Told {
    Both,
    Counts,
    Readings,
    Gaps,
}

/// What became of one bath.
#[derive(Debug, Clone, Default)]
struct Outcome {
    is_film: bool,
    is_citric: bool,
    failed: bool,
    /// Share of the reserve that was thrown away; 0 when it failed.
    reserve_wasted: f64,
    /// Share of the pieces that it would have taken.
    pieces_wasted: f64,
    /// Statements of pieces left, and how many held the truth.
    stated: usize,
    held: usize,
    judgements: usize,
    /// Sum of the chances of failing that were told before each session.
    foreseen: f64,
}

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("error: {e}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Result<(), Failure> {
    let (lives, seed) = (option("--lives", 1000)?, option("--seed", 1)?);
    let ways = [
        ("counts and readings", Told::Both),
        ("counts alone", Told::Counts),
        ("readings alone", Told::Readings),
        ("readings, one load in five forgotten", Told::Gaps),
    ];
    let only = option("--only", u64::MAX)?;
    let ways: Vec<_> = ways.iter().zip(0..).filter(|(_, i)| only == u64::MAX || only == *i).map(|(way, _)| *way).collect();
    println!("{lives} lives, seed {seed}\n");
    println!("| | {} |\n|---|{}", ways.iter().map(|way| way.0).collect::<Vec<_>>().join(" | "), "---|".repeat(ways.len()));
    let mut columns = Vec::new();
    for (_, told) in ways {
        let start = Instant::now();
        let outcomes = all(lives, seed, told)?;
        let judgements: usize = outcomes.iter().map(|o| o.judgements).sum();
        eprintln!("{told:?}: {:.2} ms a judgement on {THREADS} threads", 1e3 * start.elapsed().as_secs_f64() / judgements as f64);
        columns.push(outcomes);
    }
    let row = |name: &str, of: &dyn Fn(&[Outcome]) -> String| {
        println!("| {name} | {} |", columns.iter().map(|outcomes| of(outcomes)).collect::<Vec<_>>().join(" | "));
    };
    row("replaced in time", &|o| format!("{:.3}", 1.0 - share(o, |o| o.failed)));
    row("the same by the chances told", &|o| format!("{:.3}", 1.0 - o.iter().map(|o| o.foreseen).sum::<f64>() / o.len() as f64));
    row("reserve thrown away, median", &|o| format!("{:.2}", median(o, |o| o.reserve_wasted)));
    row("the same in pieces", &|o| format!("{:.2}", median(o, |o| o.pieces_wasted)));
    row("at most a fifth of the reserve thrown away, and in time", &|o| {
        format!("{:.2}", share(o, |o| !o.failed && o.reserve_wasted <= 0.2))
    });
    row("90 % interval of the pieces left holds", &|o| {
        format!(
            "{:.3} of {}",
            o.iter().map(|o| o.held).sum::<usize>() as f64 / o.iter().map(|o| o.stated).sum::<usize>() as f64,
            o.iter().map(|o| o.stated).sum::<usize>()
        )
    });
    for (name, film, citric) in
        [("films, acetic", true, false), ("films, citric", true, true), ("paper, acetic", false, false), ("paper, citric", false, true)]
    {
        row(&format!("{name}: in time; thrown away"), &|o| {
            let part: Vec<Outcome> = o.iter().filter(|o| o.is_film == film && o.is_citric == citric).cloned().collect();
            format!("{:.3}; {:.2}", 1.0 - share(&part, |o| o.failed), median(&part, |o| o.reserve_wasted))
        });
    }
    timed()
}

/// Times the judgement of a bath with a hundred steps, half of them photos.
fn timed() -> Result<(), Failure> {
    let readings = Readings::load()?;
    let world = World::new(0, &readings, &mut Random::new(1))?;
    let (mut life, spent) = (world.life()?, Ph::new(SPENT)?);
    // As photos of an unturned dye are read.
    let [ph, low, high] = [4.28, 2.49, 4.87].map(|ph| Ph::new(ph).ok());
    let seen = Reading { ph, low, high, salt: None, pka: Some(6.1) };
    for i in 0..50 {
        life.steps.push(Step { at: APART * i, change: Change::Load(Load { count: 0.5, count_spread: 0.0, piece: 0, developer: 0 }) });
        life.steps.push(Step { at: APART * i, change: Change::Reading(seen) });
    }
    println!();
    clock::time(20, "a bath with 100 steps", || Belief::new(&life, spent).map(|belief| belief.advise(KIND, 3.0, 3.0)));
    Ok(())
}

fn option(name: &str, default: u64) -> Result<u64, Failure> {
    let given: Vec<String> = std::env::args().collect();
    match given.iter().position(|a| a == name) {
        Some(i) => Ok(given.get(i + 1).ok_or("an option lacks its number")?.parse()?),
        None => Ok(default),
    }
}

fn share(outcomes: &[Outcome], is: impl Fn(&Outcome) -> bool) -> f64 {
    outcomes.iter().filter(|o| is(o)).count() as f64 / outcomes.len().max(1) as f64
}

fn median(outcomes: &[Outcome], of: impl Fn(&Outcome) -> f64) -> f64 {
    let mut all: Vec<f64> = outcomes.iter().map(of).collect();
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(f64::NAN)
}

fn all(lives: u64, seed: u64, told: Told) -> Result<Vec<Outcome>, Failure> {
    let readings = &Readings::load()?;
    std::thread::scope(|scope| {
        let part = |thread: u64| {
            (0..lives).filter(|n| n % THREADS == thread).map(|n| one(readings, seed, n, told)).collect::<Result<Vec<_>, Failure>>()
        };
        let handles: Vec<_> = (0..THREADS).map(|thread| scope.spawn(move || part(thread))).collect();
        let mut outcomes = Vec::new();
        for handle in handles {
            outcomes.extend(handle.join().map_err(|_| "a thread failed")??);
        }
        Ok(outcomes)
    })
}

/// Uses one bath up.
fn one(readings: &Readings, seed: u64, number: u64, told: Told) -> Result<Outcome, Failure> {
    let mut random = Random::new(seed.wrapping_mul(1_000_003).wrapping_add(number));
    let world = World::new(number, readings, &mut random)?;
    let mut outcome = Outcome { is_film: world.is_film, is_citric: world.is_citric, ..Outcome::default() };
    let mut life = world.life()?;
    let (mut through, mut sessions) = (0.0, 0.0);
    loop {
        let at = APART * sessions as i64;
        let session = world.session(&mut random);
        let reading = world.reading(through, &mut random)?;
        let is_read = told != Told::Counts && sessions > 0.0 && reading.is_some();
        if let (Some(reading), true) = (reading, is_read) {
            life.steps.push(Step { at, change: Change::Reading(reading) });
        }
        sessions += 1.0;
        // Without counts and without a reading there is nothing to ask by: the worker goes on. He knows of his first session that the bath is fresh.
        let run = if told == Told::Readings && !is_read && sessions > 1.0 {
            session
        } else {
            let usual = (through + session) / sessions;
            asked(&world, &life, &mut outcome, (session, usual, through))?
        };
        through += run;
        if world.ph(through)? >= SPENT {
            outcome.failed = true;
            return Ok(outcome);
        }
        if run < session {
            outcome.reserve_wasted = world.reserve(through)?;
            outcome.pieces_wasted = 1.0 - through / world.capacity;
            return Ok(outcome);
        }
        if told == Told::Readings {
            life.counted = false;
        } else if told != Told::Gaps || !random.chance(FORGOTTEN) {
            life.steps.push(Step { at, change: Change::Load(Load { count: run, count_spread: 0.0, piece: 0, developer: 0 }) });
        }
    }
}

/// Asks the program, and looks whether what it states is true.
fn asked(world: &World, life: &Life, outcome: &mut Outcome, (session, usual, through): (f64, f64, f64)) -> Result<f64, Failure> {
    let belief = Belief::new(life, Ph::new(SPENT)?)?;
    outcome.judgements += 1;
    let left = belief.left(KIND).pieces;
    outcome.stated += 1;
    outcome.held += usize::from((left.low..=left.high).contains(&(world.capacity - through)));
    let advice = belief.advise(KIND, session, usual);
    outcome.foreseen += advice.risk;
    Ok(advice.run)
}
