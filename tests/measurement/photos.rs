//! Laws of the whole reading on a few computed photos, card and cups told.
//!
//! The photos come from the crate's own spectral simulation: it shares no constant with the reading, but it is a model all the same.

use super::purple;
use std::sync::OnceLock;
use tintpoint::colour::space::PhotoSpace;
use tintpoint::indicator::{Indicator, catalogue};
use tintpoint::measurement::frame::{Frame, Orientation, Samples};
use tintpoint::measurement::read;
use tintpoint::measurement::reading::{CupReading, Reading, State};
use tintpoint::measurement::regions::{Circle, Rectangle};
use tintpoint::measurement::request::{Contents, Request};
use tintpoint::quantity::{Celsius, IonicStrength, Ph};
use tintpoint::scene::dye::{Lot, Medium, Sample};
use tintpoint::scene::fault::Fault;
use tintpoint::scene::options::{Level, Options};
use tintpoint::scene::random::Random;
use tintpoint::scene::{CupTruth, Photograph, photograph};

const NEARING: f64 = 5.0;
const SPENT: f64 = 5.5;

fn medium() -> Medium {
    Medium { ionic_strength: IonicStrength::new(0.1).unwrap(), temperature: Celsius::new(22.0).unwrap() }
}

/// Cups of one bottle of dye at these pH.
fn options(level: Level, all: &[f64], seed: u64) -> Options {
    let mut random = Random::new(seed);
    let lot = Lot::drawn(purple(), &mut random);
    let samples = all
        .iter()
        .map(|ph| Sample { lot: lot.clone(), ph: Ph::new(*ph).unwrap(), dose: random.between_log(0.6, 2.0), stain: 0.0 })
        .collect();
    Options { width: 800, height: 600, ..Options::drawn(level, samples, medium(), seed) }
}

fn read_photo(photo: &Photograph) -> Reading {
    let frame =
        Frame::new(photo.width, photo.height, Orientation::Upright, Samples::Eight(photo.rgb.clone().into()), PhotoSpace::srgb()).unwrap();
    let card = photo.truth.card.as_ref().map(|card| {
        let [x, y, w, h] = card.area.map(f64::round);
        Rectangle { x, y, w, h }
    });
    let request = Request {
        contents: Contents::of(purple()),
        card,
        cups: photo.truth.cups.iter().map(|cup| Circle { x: cup.centre.0, y: cup.centre.1, radius: cup.radius }).collect(),
        ionic_strength: medium().ionic_strength,
        temperature: medium().temperature,
        ..Request::default()
    };
    read(&frame, &request)
}

fn is_answered(cup: &CupReading) -> bool {
    cup.ph_low.or(cup.ph_high).is_some()
}

fn covers(cup: &CupReading, ph: f64) -> bool {
    cup.ph_low.is_none_or(|low| low <= ph) && cup.ph_high.is_none_or(|high| ph <= high)
}

/// Twenty-four cups on four photos, read once for all tests: truth and reading of each, photo by photo.
fn cups() -> &'static [Vec<(CupTruth, CupReading)>] {
    static CUPS: OnceLock<Vec<Vec<(CupTruth, CupReading)>>> = OnceLock::new();
    CUPS.get_or_init(|| {
        // Three rows across the transition, in disorder on the table of the last two.
        let rows = [
            (Level::Easy, [4.6, 5.0, 5.4, 5.8, 6.2, 6.8], 301),
            (Level::Easy, [4.8, 5.2, 5.6, 6.0, 6.4, 7.2], 302),
            (Level::Hard, [5.9, 4.7, 6.6, 5.3, 5.1, 5.7], 303),
            (Level::Hard, [6.3, 5.5, 4.4, 6.1, 4.9, 5.6], 304),
        ];
        let read = |(level, all, seed): &(Level, [f64; 6], u64)| {
            let photo = photograph(&options(*level, all, *seed));
            let reading = read_photo(&photo);
            photo.truth.cups.into_iter().zip(reading.cups).collect()
        };
        rows.iter().map(read).collect()
    })
}

/// Answers to 24 single cups of a dye, all read as bromocresol purple, from a tenth to nine tenths turned.
fn alone(dye: &'static Indicator) -> Vec<bool> {
    let one = |i: u32| {
        let mut random = Random::new(u64::from(900 + i));
        let lot = Lot::drawn(dye, &mut random);
        let ph = Ph::new(lot.pka(medium()) + f64::from(i % 12) / 6.0 - 0.9).unwrap();
        let sample = Sample { lot, ph, dose: random.between_log(0.6, 2.0), stain: 0.0 };
        let hard = Options::drawn(Level::Hard, vec![sample], medium(), random.bits());
        is_answered(&read_photo(&photograph(&Options { width: 800, height: 600, ..hard })).cups[0])
    };
    (0..24).map(one).collect()
}

// Held against each other by their best fits alone, 3 of the first 12 cups of the right dye were refused and 3 of the other dye were not: it takes all lights and cameras together. Where either
// is hardly turned they look the same.
#[test]
fn another_dye_is_refused_and_the_right_one_is_not() {
    let answered = |dye: &str| alone(catalogue::find(dye).unwrap()).into_iter().filter(|is| *is).count();
    let (right, wrong) = (answered("bromocresol-purple"), answered("bromothymol-blue"));
    assert!(right >= 22 && wrong <= 4, "{right} {wrong}");
}

/// A cup alone with little dye that is a tenth to nine tenths turned, under so much brown stain.
fn under_stain(i: u32) -> CupReading {
    let mut random = Random::new(u64::from(1300 + i));
    let lot = Lot::drawn(catalogue::find("bromocresol-purple").unwrap(), &mut random);
    let ph = Ph::new(lot.pka(medium()) + f64::from(i % 12) / 6.0 - 0.9).unwrap();
    let sample = Sample { lot, ph, dose: 0.25, stain: random.between(0.9, 1.6) };
    let level = if i.is_multiple_of(2) { Level::Easy } else { Level::Hard };
    let options = Options::drawn(level, vec![sample], medium(), random.bits());
    read_photo(&photograph(&Options { width: 800, height: 600, ..options })).cups.remove(0)
}

#[test]
fn a_cup_coloured_by_stain_is_refused() {
    let refused = (0..36).filter(|i| !is_answered(&under_stain(*i))).count();
    assert!(refused >= 29, "{refused}");
}

// A claim of 95 %: fewer than 85 % of 24 would happen once in thirty times to a claim that is just kept; the seeds are fixed, and the
// program aims above 95 on its own photos.
#[test]
fn interval_covers_the_truth() {
    let all: Vec<&(CupTruth, CupReading)> = cups().iter().flatten().collect();
    let answered: Vec<_> = all.iter().filter(|(_, cup)| is_answered(cup)).collect();
    let covered = answered.iter().filter(|(truth, cup)| covers(cup, truth.ph)).count();
    assert!(all.len() == 24 && answered.len() >= 18, "{} of {} answered", answered.len(), all.len());
    assert!(covered as f64 >= 0.85 * answered.len() as f64, "{covered} of {}", answered.len());
}

#[test]
fn no_spent_cup_is_called_fresh_and_no_fresh_one_spent() {
    let (mut fresh, mut spent) = (0, 0);
    for (truth, cup) in cups().iter().flatten() {
        if truth.ph >= SPENT {
            assert_ne!(cup.state, State::Fresh, "pH {}: {cup:?}", truth.ph);
            spent += usize::from(cup.state == State::Spent);
        } else if truth.ph < NEARING - 0.2 {
            assert_ne!(cup.state, State::Spent, "pH {}: {cup:?}", truth.ph);
            fresh += usize::from(cup.state == State::Fresh);
        }
    }
    // Calling everything unclear would be no reading.
    assert!(fresh >= 1 && spent >= 6, "{fresh} fresh, {spent} spent");
}

#[test]
fn base_fraction_rises_with_ph_along_a_row() {
    let mut rows = 0;
    for photo in cups() {
        let mut row: Vec<(f64, f64)> = photo.iter().filter_map(|(truth, cup)| Some((truth.ph, cup.base_fraction?))).collect();
        row.sort_by(|a, b| a.0.total_cmp(&b.0));
        if row.len() >= 4 {
            // One light and one dye for all cups of a photo: what is wrong is wrong for all alike, so the order stays.
            assert!(row.is_sorted_by(|a, b| a.1 < b.1), "{row:?}");
            assert!(row[row.len() - 1].1 - row[0].1 > 0.4, "{row:?}");
            rows += 1;
        }
    }
    assert!(rows >= 3, "only {rows} photos were read");
}

#[test]
fn figures_go_with_each_other() {
    for (_, cup) in cups().iter().flatten().filter(|(_, cup)| is_answered(cup)) {
        let chance = cup.chance.unwrap();
        assert!((chance.fresh + chance.nearing + chance.spent - 1.0).abs() < 1e-9);
        assert_eq!(cup.ph.is_some(), cup.ph_low.is_some() && cup.ph_high.is_some());
        if let Some(ph) = cup.ph {
            assert!(cup.ph_low.unwrap() < ph && ph < cup.ph_high.unwrap());
        }
        assert!((0.0..=1.0).contains(&cup.base_fraction.unwrap()) && cup.dose.unwrap() > 0.0);
    }
}

// Each kind of light has its chance, and one of them it was.
#[test]
fn chances_of_the_light_make_one() {
    let reading = read_photo(&photograph(&options(Level::Easy, &[5.6], 317)));
    let names: Vec<&str> = reading.light.weights.iter().map(|(name, _)| *name).collect();
    assert_eq!(names, ["daylight", "tungsten", "led", "fluorescent"]);
    let whole: f64 = reading.light.weights.iter().map(|(_, weight)| weight).sum();
    assert!((whole - 1.0).abs() < 1e-9 && reading.light.weights.iter().all(|(_, weight)| *weight >= 0.0), "{:?}", reading.light.weights);
}

// The exposure is one of the unknowns; eight bits, noise and clipping are what is left of it.
#[test]
fn a_fifth_less_exposure_moves_ph_by_less_than_its_interval() {
    let mut compared = 0;
    for seed in 311..314 {
        let mut options = options(Level::Easy, &[5.1, 5.6, 6.1], seed);
        let one = read_photo(&photograph(&options));
        options.exposure *= 0.8;
        let other = read_photo(&photograph(&options));
        for (a, b) in one.cups.iter().zip(&other.cups) {
            if let (Some(ph), Some(other), Some(low), Some(high)) = (a.ph, b.ph, a.ph_low, a.ph_high) {
                assert!((ph - other).abs() < 0.5 * (high - low), "seed {seed}: {ph} and {other}, {low} to {high}");
                compared += 1;
            }
        }
    }
    assert!(compared >= 5, "only {compared} cups had a pH both times");
}

#[test]
fn a_refused_photo_has_no_ph_but_keeps_what_is_plain_to_see() {
    for fault in [Fault::Safelight, Fault::CardClipped, Fault::CardShaded, Fault::MixedLight, Fault::TooDark, Fault::Blurred] {
        let mut options = options(Level::Easy, &[5.0, 6.2], 321);
        fault.spoil(&mut options, &mut Random::new(9));
        let reading = read_photo(&photograph(&options));
        let codes: Vec<_> = reading.warnings.iter().map(|notice| notice.code()).collect();
        assert!(codes.contains(&fault.code()), "{fault:?}: {codes:?}, {:?}", reading.quality);
        assert_eq!(reading.cups.len(), 2);
        assert!(reading.light.weights.is_empty());
        for cup in &reading.cups {
            assert!(cup.ph.is_none() && cup.ph_low.is_none() && cup.ph_high.is_none() && cup.chance.is_none(), "{fault:?}: {cup:?}");
            assert_eq!(cup.state, State::Unclear, "{fault:?}");
            assert!(cup.lab.is_some_and(|lab| lab.iter().all(|v| v.is_finite())), "{fault:?}: {cup:?}");
            assert!(cup.density.is_some_and(|d| d.iter().all(|v| v.is_finite())), "{fault:?}: {cup:?}");
        }
    }
}
