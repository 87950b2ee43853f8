//! Kept profiles as a user meets them: which one a photo is read with, and what is said of it.

// A test that cannot do its work must stop.
#![allow(clippy::unwrap_used)]

mod pictures;

use pictures::{Exif, Picture};
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use tempfile::TempDir;
use tintpoint::indicator::catalogue;
use tintpoint::quantity::{Celsius, IonicStrength, Ph};
use tintpoint::scene::dye::{Lot, Medium, Sample};
use tintpoint::scene::options::{Level, Options};
use tintpoint::scene::random::Random;
use tintpoint::scene::{Photograph, photograph};

/// The folder of one user: data and photos of one table, lamp and bottle of dye.
struct Desk {
    folder: TempDir,
}

fn render(dye: &str, all: &[f64], seed: u64) -> Photograph {
    let mut random = Random::new(7);
    let lot = Lot::drawn(catalogue::find(dye).unwrap(), &mut random);
    let medium = Medium { ionic_strength: IonicStrength::new(0.1).unwrap(), temperature: Celsius::new(22.0).unwrap() };
    let base = Options::drawn(Level::Easy, Vec::new(), medium, 7);
    let samples = all.iter().map(|ph| Sample { lot: lot.clone(), ph: Ph::new(*ph).unwrap(), dose: 1.0, stain: 0.0 }).collect();
    photograph(&Options { width: 800, height: 600, samples, seed, ..base })
}

impl Desk {
    fn new() -> Self {
        Desk { folder: tempfile::tempdir().unwrap() }
    }

    /// A photo of cups of these pH by an invented camera, or by one that does not tell its name.
    fn photo(&self, name: &str, all: &[f64], seed: u64, camera: Option<&str>) {
        self.photo_of("bromocresol-purple", name, all, seed, camera);
    }

    fn photo_of(&self, dye: &str, name: &str, all: &[f64], seed: u64, camera: Option<&str>) {
        let photo = render(dye, all, seed);
        let picture = Picture { width: photo.width, height: photo.height, rgb: photo.rgb };
        let exif = camera.map_or_else(Exif::default, |model| Exif::default().camera("Invented", model));
        fs::write(self.folder.path().join(name), picture.png(&exif.taken("2026:04:03 12:34:56", "+01:00").block())).unwrap();
    }

    fn run(&self, words: &str) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_tintpoint"));
        command.args(words.split_whitespace()).current_dir(self.folder.path()).env("TINTPOINT_DATA", self.data()).stdin(Stdio::null());
        command.output().unwrap()
    }

    fn data(&self) -> std::path::PathBuf {
        self.folder.path().join("data")
    }

    fn kept(&self, name: &str) -> std::path::PathBuf {
        self.data().join("profiles").join(format!("{name}.toml"))
    }

    /// Buffers in LED light, kept as `bench`, and a photo of the same camera.
    fn calibrated() -> Self {
        let desk = Desk::new();
        desk.photo("buffers.png", &[5.2, 5.8, 6.4], 1, Some("One"));
        desk.photo("evening.png", &[5.6], 2, Some("One"));
        let made = desk.run("calibrate buffers.png --ph 5.2,5.8,6.4 --ionic-strength 0.1 --light led --lot 12 --save bench");
        assert_eq!(made.status.code(), Some(0), "{}", err(&made));
        desk
    }
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// Codes of the warnings of each photo that was read.
fn codes(output: &Output) -> Vec<Vec<String>> {
    let of = |line: &str| {
        let json: Value = serde_json::from_str(line).unwrap();
        json["warnings"].as_array().unwrap().iter().map(|w| w["code"].as_str().unwrap().to_owned()).collect()
    };
    out(output).lines().map(of).collect()
}

fn is_chosen(output: &Output) -> bool {
    let codes = codes(output);
    codes.iter().all(|codes| codes.iter().any(|c| c == "profile-chosen") && codes.iter().any(|c| c == "calibrated"))
}

fn is_plain(output: &Output) -> bool {
    codes(output).iter().flatten().all(|code| code != "profile-chosen" && code != "calibrated")
}

#[test]
fn camera_indicator_and_light_choose() {
    let desk = Desk::calibrated();
    desk.photo("other.png", &[5.6], 2, Some("Two"));
    desk.photo("nameless.png", &[5.6], 2, None);
    for words in ["evening.png", "evening.png --light led"] {
        let read = desk.run(&format!("read --format json {words}"));
        assert!(is_chosen(&read), "{words}: {} {}", out(&read), err(&read));
    }
    for words in [
        "evening.png --no-profile",
        "evening.png --light daylight",
        "evening.png --indicator bromocresol-green",
        "other.png",
        "nameless.png",
    ] {
        let read = desk.run(&format!("read --format json {words}"));
        assert!(is_plain(&read) && !out(&read).is_empty(), "{words}: {} {}", out(&read), err(&read));
    }
    // Told by name it holds for any camera, and needs no word about a choice.
    let told = desk.run("read --format json other.png --profile bench");
    assert_eq!(codes(&told)[0].iter().filter(|c| c.starts_with("profile-chosen") || *c == "calibrated").count(), 1, "{}", out(&told));
    let both = desk.run("read evening.png --profile bench --no-profile");
    assert_eq!(both.status.code(), Some(2));
}

// Before, the freedom that a profile leaves for another light took any blue for a purple.
#[test]
fn another_dye_is_refused_with_a_profile_too() {
    let desk = Desk::new();
    desk.photo("buffers.png", &[4.0, 5.2, 5.7, 6.1, 6.6, 7.4], 1, None);
    let made = desk.run("calibrate buffers.png --ph 4.0,5.2,5.7,6.1,6.6,7.4 --ionic-strength 0.1 --out bench.toml");
    assert_eq!(made.status.code(), Some(0), "{}", err(&made));
    let codes = |name: &str| {
        let read = out(&desk.run(&format!("read --format json {name} --profile bench.toml")));
        let json: Value = serde_json::from_str(&read).unwrap();
        json["cups"][0]["reasons"].as_array().unwrap().iter().map(|r| r["code"].as_str().unwrap().to_owned()).collect::<Vec<_>>()
    };
    for (ph, seed) in [(7.5, 3), (7.8, 4), (8.1, 5)] {
        desk.photo_of("bromothymol-blue", "blue.png", &[ph], seed, None);
        assert_eq!(codes("blue.png"), ["other-dye"], "bromothymol blue at pH {ph}");
        desk.photo("purple.png", &[ph - 1.6], seed, None);
        assert!(!codes("purple.png").contains(&"other-dye".to_owned()), "bromocresol purple at pH {}", ph - 1.6);
    }
}

#[test]
fn the_choice_is_named_in_every_form() {
    let desk = Desk::calibrated();
    let text = out(&desk.run("read evening.png --report page.html"));
    let page = fs::read_to_string(desk.folder.path().join("page.html")).unwrap();
    for (form, said) in [("text", &text), ("page", &page)] {
        assert!(said.contains("bench") && said.contains("chosen by itself"), "{form}: {said}");
    }
    let table = out(&desk.run("read evening.png --format csv"));
    assert!(table.contains("profile-chosen"), "{table}");
}

#[test]
fn the_newest_of_several_is_taken_and_said() {
    let desk = Desk::calibrated();
    let text = fs::read_to_string(desk.kept("bench")).unwrap();
    assert!(text.contains("date = \"2026-04-03T12:34:56+01:00\"") && text.contains("lot = \"12\""), "{text}");
    for (name, date) in [("a-later", "2026-04-04"), ("z-earlier", "2026-04-02T23:00:00")] {
        fs::write(desk.kept(name), text.replace("2026-04-03T12:34:56+01:00", date)).unwrap();
    }
    let read = out(&desk.run("read evening.png --format json"));
    assert!(read.contains("a-later") && read.contains("of 3 made with this camera and dye it is the newest"), "{read}");
}

#[test]
fn a_damaged_profile_is_named_and_does_no_harm() {
    let desk = Desk::calibrated();
    fs::write(desk.kept("torn"), "kind = \"tintpoint profile\"\nversion = 1\n").unwrap();
    fs::write(desk.kept("foreign"), [0xff, 0xfe, 0x00]).unwrap();
    let read = desk.run("read --format json evening.png");
    assert!(is_chosen(&read), "{}", out(&read));
    assert!(matches!(read.status.code(), Some(0 | 3)), "{}", err(&read));
    assert!(err(&read).contains("torn.toml` is damaged") && err(&read).contains("foreign.toml` is no profile"), "{}", err(&read));
    assert!(!err(&desk.run("read --format json evening.png --no-profile")).contains("passed over"));
}

#[test]
fn workers_share_the_choice() {
    let desk = Desk::calibrated();
    fs::create_dir(desk.folder.path().join("many")).unwrap();
    for (i, camera) in [Some("One"), None, Some("One"), Some("Two")].into_iter().enumerate() {
        desk.photo(&format!("many/{i}.png"), &[5.4 + 0.2 * i as f64], 10 + i as u64, camera);
    }
    let alone = out(&desk.run("read many --format json --jobs 1"));
    assert_eq!(alone, out(&desk.run("read many --format json --jobs 4")));
    assert_eq!(alone.matches("\"profile-chosen\"").count(), 2, "{alone}");
}

// Cups go by the numbers of a reading, whatever their names say first.
#[test]
fn names_bring_the_ph_to_the_cups() {
    let desk = Desk::new();
    desk.photo("buffers.png", &[5.2, 5.8, 6.4], 1, None);
    let by_name = desk.run("calibrate buffers.png --labels a,b,c --ph c=6.4,a=5.2,b=5.8 --date 2026-01-31 --out named.toml");
    let in_order = desk.run("calibrate buffers.png --ph 5.2,5.8,6.4 --date 2026-01-31 --out row.toml");
    assert_eq!((by_name.status.code(), in_order.status.code()), (Some(0), Some(0)), "{}{}", err(&by_name), err(&in_order));
    let file = |name: &str| fs::read_to_string(desk.folder.path().join(name)).unwrap();
    assert_eq!(file("named.toml"), file("row.toml"));
    for words in
        ["--labels a,b,c --ph 5.2,5.8,6.4", "--ph a=5.2,b=5.8,c=6.4", "--labels a,b,c --ph a=5.2,5.8,c=6.4", "--ph 5,6,7 --date 2026-02-30"]
    {
        let wrong = desk.run(&format!("calibrate buffers.png {words} --out wrong.toml"));
        assert_eq!(wrong.status.code(), Some(2), "{words}");
        assert!(err(&wrong).contains("hint:"), "{words}: {}", err(&wrong));
    }
    assert!(!Path::new(&desk.folder.path().join("wrong.toml")).exists());
    // Drawn and written on request, also later from the kept file.
    let drawn = desk.run("profiles show row.toml --picture row.png --report row.html");
    assert_eq!(drawn.status.code(), Some(0), "{}", err(&drawn));
    let page = file("row.html");
    assert!(page.contains("leave-one-out error") && page.contains("<svg") && page.contains("photo 1, cup 3"), "{page}");
    assert!(fs::read(desk.folder.path().join("row.png")).unwrap().starts_with(b"\x89PNG"));
    // The photo tells its own date, which comes before the one that was told.
    assert!(out(&drawn).contains("2026-04-03"), "{}", out(&drawn));
}

// A file is read by every later program. This one was written by version 1 of the format, when it was the newest; it is never written anew.
#[test]
fn a_profile_of_version_1_still_reads() {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
    let desk = Desk::new();
    for name in ["profile-1.toml", "row-of-cups.jpg"] {
        fs::copy(fixtures.join(name), desk.folder.path().join(name)).unwrap();
    }
    let shown = desk.run("profiles show profile-1.toml");
    assert_eq!(shown.status.code(), Some(0), "{}", err(&shown));
    for told in ["bromocresol-purple, 5 buffers at 25 C", "2026-11-26", "lot 7", "cups of the club's bench"] {
        assert!(out(&shown).contains(told), "{told}: {}", out(&shown));
    }
    let read = desk.run("read --format json row-of-cups.jpg --profile profile-1.toml --ionic-strength 0.3 --temperature 25");
    let json: Value = serde_json::from_str(&out(&read)).unwrap();
    let truth: Value = serde_json::from_str(&fs::read_to_string(fixtures.join("row-of-cups.json")).unwrap()).unwrap();
    let (cups, truths) = (json["cups"].as_array().unwrap(), truth["cups"].as_array().unwrap());
    assert_eq!(cups.len(), truths.len());
    // One of the five is too like a stain to be judged.
    let judged: Vec<(f64, f64)> =
        cups.iter().zip(truths).filter_map(|(cup, truth)| Some((cup["ph"].as_f64()?, truth["ph"].as_f64()?))).collect();
    assert!(judged.len() >= 4, "{json}");
    for (ph, true_ph) in judged {
        assert!((ph - true_ph).abs() < 0.1, "{ph} for {true_ph}");
    }
}
