//! A ladder of the worker's own bath and developer in place of buffers.

use super::*;
use tintpoint::calibration::shared::{Assumed, narrow};
use tintpoint::chemistry::developer;
use tintpoint::chemistry::liquid::Liquid;
use tintpoint::indicator::equilibrium::pka_at;
use tintpoint::logbook::event::Developer;
use tintpoint::logbook::ladder::{TURN_SD, Turning, rungs as computed};
use tintpoint::logbook::recipe::{Acid, Recipe};

/// Shares of the turning volume.
const SHARES: [f64; 7] = [0.0, 25.0, 50.0, 75.0, 90.0, 100.0, 125.0];
/// Steps of the shared error, as the command line takes them.
const STEPS: [f64; 13] = [-3.0, -2.5, -2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0];

/// pH where the dye of the book is half-way in the salt of a bath.
const TURN: f64 = 6.07;

/// What the worker has, and what he does not know of it.
struct Worker {
    recipe: Recipe,
    developer: Developer,
    /// True strength of the bath over the one of the recipe.
    strength: f64,
    /// True strength of the developer over the one of the table.
    alkali: f64,
    /// pH at which he calls it turned.
    turn: f64,
}

impl Worker {
    fn drawn(random: &mut Random) -> Self {
        let citric = random.chance(0.5);
        let recipe = if citric {
            Recipe { acid: Acid::CitricAnhydrous, percent: None, per_litre: 15.0 }
        } else {
            Recipe { acid: Acid::Acetic, percent: Some(28.0), per_litre: 50.0 }
        };
        let name = ["carbonate-1+2", "borax-sulfite-1+1", "metaborate"][random.below(3)];
        Worker {
            recipe,
            developer: Developer { name: name.to_owned(), own_meq: None },
            strength: random.normal(0.05).exp(),
            alkali: random.between(-2f64.ln(), 2f64.ln()).exp(),
            turn: TURN + random.normal(TURN_SD),
        }
    }

    /// Bath and developer as they truly are.
    fn true_liquids(&self) -> (Liquid, Liquid) {
        let developer = developer::find(&self.developer.name).unwrap().liquid();
        (self.recipe.liquid().unwrap().concentrated(self.strength), developer.concentrated(self.alkali))
    }

    fn mixed(&self, millilitres: f64) -> (f64, f64) {
        let (bath, developer) = self.true_liquids();
        let balance = bath.mixed(1000.0, &developer, millilitres).equilibrium(medium().temperature).unwrap();
        (balance.ph.value(), balance.ionic_strength.value())
    }

    /// Developer that a litre of bath takes until he calls it turned, ml; he finds it to a few per cent.
    fn turning(&self, random: &mut Random) -> f64 {
        let (mut low, mut high) = (1.0, 3000.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.mixed(middle).0 < self.turn { low = middle } else { high = middle }
        }
        low * random.normal(0.03).exp()
    }
}

/// pH that a cup of the scene's salt needs to have the colour of one with its own.
fn as_in_scene(ph: f64, salt: f64) -> f64 {
    let at = |salt: f64| pka_at(purple(), IonicStrength::new(salt).unwrap(), medium().temperature);
    ph + at(medium().ionic_strength.value()) - at(salt)
}

fn assumed(turning: &Turning) -> Vec<Assumed> {
    let step = |sds: f64| {
        let rungs = computed(&turning.off(sds), &SHARES).ok()?;
        let rung = |r: &tintpoint::logbook::ladder::Rung| Rung {
            ph: r.ph,
            sd: r.own,
            ionic_strength: IonicStrength::new(r.ionic_strength.min(IonicStrength::HIGH)).unwrap(),
        };
        let soda = Rung { ph: Ph::new(8.2).unwrap(), sd: 0.3, ionic_strength: medium().ionic_strength };
        Some(Assumed { sds, rungs: rungs.iter().map(rung).chain([soda]).collect() })
    };
    STEPS.iter().filter_map(|sds| step(*sds)).collect()
}

/// One worker's ladder, and what is made of it.
struct Made {
    session: Session,
    worker: Worker,
    turning: f64,
    photo: Photograph,
}

impl Made {
    fn new(seed: u64) -> Self {
        let mut session = Session::new(seed);
        let mut random = Random::new(seed + 1000);
        let worker = Worker::drawn(&mut random);
        let turning = worker.turning(&mut random);
        // Every cup is poured a few per cent off.
        let truth = SHARES.map(|share| worker.mixed(turning * share / 100.0 * random.normal(0.03).exp()));
        let mut cups: Vec<f64> = truth.iter().map(|(ph, salt)| as_in_scene(*ph, *salt)).collect();
        cups.push(random.between(8.0, 8.3));
        let photo = session.photo(&cups);
        Made { session, worker, turning, photo }
    }

    /// As the command line does it: where the dye turned by the colours, in standard uncertainties of what was taken for it, and the profile.
    fn calibrated(&self) -> (f64, f64, Calibrated) {
        let turn = Ph::new(TURN).unwrap();
        let turning = Turning::of(&self.worker.recipe, &self.worker.developer, (1000.0, self.turning), turn, medium().temperature).unwrap();
        let assumed = assumed(&turning);
        let middle = &assumed.iter().find(|step| step.sds == 0.0).unwrap().rungs;
        let frame = frame(&self.photo);
        let survey = survey(&frame, &request(&self.photo, None));
        let (seen, card) = ([(frame.space(), &survey)], Reflectance::new(0.18).unwrap());
        let (mut evidence, _) = calibration::evidence(purple(), None, medium().temperature, card, &seen, middle, true).unwrap();
        let left = narrow(&mut evidence, &assumed).unwrap();
        (left.mean, left.sd, Calibrated::new(&evidence).unwrap())
    }
}

/// How many ladders: a few unless told.
fn ladders() -> u64 {
    std::env::var("TINTPOINT_LADDERS").ok().and_then(|count| count.parse().ok()).unwrap_or(6)
}

// The worker knows neither where his eye calls the dye turned (0.3 pH), nor the strength of his developer (half to twice), nor that of his bath (5 %), nor what he poured (3 %);
// the lot of dye is off in pKa' as well. The chemistry itself is the program's own. So a ladder cannot be as good as buffers (0.05); it must keep what it claims, and give a pH
// where plain reading has but a bound.
#[test]
fn own_ladder() {
    let (mut plain, mut with, mut covered, mut answered, mut closed, mut turns) = (Vec::new(), Vec::new(), 0, 0, 0, Vec::new());
    for seed in 601..601 + ladders() {
        let mut made = Made::new(seed);
        let (mean, sd, calibrated) = made.calibrated();
        turns.push((TURN + TURN_SD * mean - made.worker.turn, TURN_SD * sd));
        let calibrated = Arc::new(calibrated);
        for cups in [[5.0, 5.9], [5.4, 6.4]] {
            let photo = made.session.photo(&cups);
            let (before, after) = (reading(&photo, None), reading(&photo, Some(calibrated.clone())));
            plain.extend(errors(&photo, &before).0);
            closed += after.cups.iter().filter(|cup| cup.ph_low.is_some() && cup.ph_high.is_some()).count();
            let (more, inside, told) = errors(&photo, &after);
            with.extend(more);
            (covered, answered) = (covered + inside, answered + told);
        }
    }
    let (count, off) = (with.len(), rms(&turns.iter().map(|(off, _)| *off).collect::<Vec<_>>()));
    println!("{} ladders: {:.3} of {count} readings, plain {:.3} of {}", ladders(), rms(&with), rms(&plain), plain.len());
    println!(
        "  {covered} of {answered} intervals hold the truth, {closed} have both ends; the turn was found within {off:.2} of pH (taken: {TURN_SD})"
    );
    assert!(rms(&with) < 0.15, "{:.3}", rms(&with));
    assert!(covered as f64 >= 0.9 * answered as f64, "{covered} of {answered}");
    assert!(count > plain.len(), "{count} with, {} without", plain.len());
    assert!(off < TURN_SD, "the colours have taught nothing of the turn: {off:.2}");
    // Nobody is told of less doubt than there is: within two of its own standard uncertainties, but for one in six.
    let beyond = turns.iter().filter(|(off, sd)| off.abs() > 2.5 * sd).count();
    assert!(6 * beyond <= turns.len(), "{turns:?}");
}

/// `tintpoint` with a data folder of its own.
fn tintpoint(folder: &std::path::Path, args: &[&str]) -> (i32, String, String) {
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_tintpoint"));
    command.current_dir(folder).args(args).env("TINTPOINT_DATA", folder).env("USER", "ada").stdin(std::process::Stdio::null());
    command.env("TINTPOINT_NOW", "2026-03-14T21:00:00+01:00[Europe/Vienna]");
    let output = command.output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).split_whitespace().collect::<Vec<_>>().join(" ");
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

// From the bath in the logbook to a reading with the profile, by the commands that README names.
#[test]
fn a_bath_of_the_logbook_becomes_a_profile() {
    let folder = tempfile::tempdir().unwrap();
    let mut made = Made::new(603);
    let told = request(&made.photo, None);
    let save = |photo: &Photograph, name: &str| {
        let (width, height) = (photo.width as u32, photo.height as u32);
        image::RgbImage::from_raw(width, height, photo.rgb.clone()).unwrap().save(folder.path().join(name)).unwrap();
    };
    save(&made.photo, "ladder.png");
    let recipe = &made.worker.recipe;
    assert_eq!(recipe.acid, Acid::CitricAnhydrous, "another seed, another recipe on the next line");
    let run = |args: &[&str]| tintpoint(folder.path(), args);
    let new =
        ["bath", "new", "tank", "--acid", "citric-anhydrous", "--grams-per-litre", "15", "--volume", "1l", "--at", "2026-03-14 18:00"];
    assert_eq!(run(&new).0, 0);
    let regions = |request: &Request| -> Vec<String> {
        let card = request.card.unwrap();
        let mut all = vec!["--card".to_owned(), format!("{},{},{},{}", card.x, card.y, card.w, card.h)];
        all.extend(request.cups.iter().flat_map(|cup| ["--cup".to_owned(), format!("{},{},{}", cup.x, cup.y, cup.radius)]));
        all
    };
    let places = regions(&told);
    let mut calibrate = vec!["calibrate", "ladder.png", "--ladder", "0,25,50,75,90,100,125,soda", "--bath", "tank", "--save", "own"];
    calibrate.extend(["--temperature", "22", "--ionic-strength", "0.1"]);
    calibrate.extend(places.iter().map(String::as_str));
    let (status, _, err) = run(&calibrate);
    assert!(status == 2 && err.contains("no drop test from before its first load"), "{err}");
    let used = format!("{:.3}", made.turning / 100.0);
    assert_eq!(run(&["bath", "drop-test", "tank", "--sample", "10", "--used", &used, "--developer", &made.worker.developer.name]).0, 0);
    let (_, guide, _) = run(&["bath", "ladder", "tank", "--cup", "20ml", "--temperature", "22"]);
    // A cup of 20 ml takes twice what 10 ml took; and the fresh bath of 15 g/l of citric acid stands at 2.1 to 2.2.
    let turned = 2.0 * used.parse::<f64>().unwrap();
    assert!(guide.contains(&format!("cup 6: {turned:.1}")) && guide.contains("cup 1: nothing added (0 %), pH 2.1"), "{guide}");
    assert!(guide.contains("--ladder 0,25,50,75,90,100,125,soda --bath tank"), "{guide}");
    let (status, out, err) = run(&calibrate);
    assert!(status == 0 && out.contains("8 buffers") && out.contains("the dye was taken to turn at pH"), "{out}{err}");
    let kept = tintpoint::store::profiles::read(&folder.path().join("profiles").join("own.toml")).unwrap();
    let sds: Vec<f64> = kept.evidence.photos[0].cups.iter().map(|cup| cup.ph_sd).collect();
    assert!(sds[0] < 0.1 && sds[5] > 0.3, "the doubt of the turn is in the cups that show it: {sds:?}");
    let photo = made.session.photo(&[5.6]);
    save(&photo, "evening.png");
    let places = regions(&request(&photo, None));
    let mut read = vec!["read", "evening.png", "--profile", "own", "--format", "json", "--temperature", "22", "--ionic-strength", "0.1"];
    read.extend(places.iter().map(String::as_str));
    let (_, out, _) = run(&read);
    let line: serde_json::Value = serde_json::from_str(&out).unwrap();
    let cup = &line["cups"][0];
    assert!(cup["ph_low"].as_f64().unwrap() <= 5.6 && 5.6 <= cup["ph_high"].as_f64().unwrap(), "{cup}");
}

#[test]
fn what_a_ladder_lacks_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let refused = |args: &[&str], said: &str| {
        let (status, out, err) = tintpoint(folder.path(), args);
        assert!(status == 2 && out.is_empty() && err.contains(said), "{args:?}: {status} {err}");
    };
    let start = ["calibrate", "ladder.png", "--out", "own.toml", "--ladder", "0,100"];
    let with = |rest: &[&'static str]| [&start[..], rest].concat();
    refused(&with(&[]), "the ladder has no bath");
    refused(&with(&["--acid", "citric-anhydrous", "--grams-per-litre", "15"]), "no drop test of the fresh bath");
    let test = ["--acid", "citric-anhydrous", "--grams-per-litre", "15", "--sample", "10", "--used", "0", "--developer", "carbonate-1+2"];
    refused(&with(&test), "turning volume in ml 0 is not a number above 0");
    let ours = ["--acid", "citric-anhydrous", "--grams-per-litre", "15", "--sample", "10", "--used", "3", "--developer", "ours"];
    refused(&with(&ours), "carbonate-1+2");
    refused(&with(&["--bath", "tank"]), "no bath `tank`");
    refused(
        &["calibrate", "a.png", "--out", "a.toml", "--ph", "5", "--acid", "acetic", "--strength", "28", "--dilution", "1+19"],
        "there is none",
    );
}
