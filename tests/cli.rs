//! The program as a user meets it: arguments, exit status, what is on which stream.

// A test that cannot do its work must stop.
#![allow(clippy::unwrap_used)]

use image::{Rgb, RgbImage};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

fn tintpoint(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tintpoint")).args(args).stdin(Stdio::null()).output().unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn code(output: &Output) -> i32 {
    output.status.code().unwrap()
}

/// A fresh folder for one test.
fn folder(test: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(test);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

/// Where the drawn photo has its card and its cup.
const CARD: &str = "290,40,60,60";
const CUP: &str = "150,170,45";

/// A flat picture: dark bench, white paper, a grey card of 18 % (sRGB 118), a cup of `liquid`.
fn photo(path: &Path, liquid: [u8; 3]) -> String {
    let mut image = RgbImage::from_pixel(400, 300, Rgb([60, 58, 56]));
    for (x, y, pixel) in image.enumerate_pixels_mut() {
        let (dx, dy) = (f64::from(x) - 150.0, f64::from(y) - 170.0);
        let distance = dx.hypot(dy);
        // A little grain, since no sensor gives a flat field.
        let grain = ((x * 7 + y * 13) % 5) as u8;
        let colour = if distance < 45.0 {
            liquid
        } else if (60..240).contains(&x) && (80..260).contains(&y) {
            [232, 232, 232]
        } else if (280..360).contains(&x) && (30..110).contains(&y) {
            [116, 116, 116]
        } else {
            [58, 56, 54]
        };
        *pixel = Rgb(colour.map(|v| v.saturating_add(grain)));
    }
    image.save(path).unwrap();
    path.to_str().unwrap().to_owned()
}

const YELLOW: [u8; 3] = [226, 210, 96];

#[test]
fn wrong_arguments_name_value_limit_and_next_action() {
    for (args, said) in [
        (vec!["read", "a.jpg", "--indicator", "bromcresol-purple"], "did you mean bromocresol-purple?"),
        (vec!["read", "a.jpg", "--indicator", "litmus"], "known are"),
        (vec!["read", "a.jpg", "--nearing", "6", "--spent", "5"], "--spent 5 is below --nearing 6"),
        (vec!["read", "a.jpg", "--card", "1,2,3"], "3 numbers where 4 are needed"),
        (vec!["read", "a.jpg", "--card", "1,2,-3,4"], "has no area"),
        (vec!["read", "a.jpg", "--cup", "1,2,-3"], "radius -3"),
        (vec!["read", "a.jpg", "--cup", "1,nan,3"], "not a number"),
        (vec!["read", "a.jpg", "--temperature", "-5"], "outside 0 to 60"),
        (vec!["read", "a.jpg", "--card-reflectance", "18"], "outside 0.01 to 1"),
        (vec!["read", "a.jpg", "--light", "moon"], "daylight"),
        (vec!["read", "a.jpg", "--format", "xml"], "json"),
        (vec!["read", "a.jpg", "--picture", "out.gif"], ".png nor in .svg"),
        (vec!["read", "a.png", "--picture", "a.png"], "overwrite"),
        (vec!["read", "a.png", "--report", "a.png"], "must end in .html"),
        (vec!["read", "a.png", "--jobs", "0"], "from 1 to"),
        (vec!["read"], "PHOTO"),
        (vec![], "Usage"),
        (vec!["indicators", "litmus"], "known are"),
        (vec!["snap", "--frames", "0"], "1..=32"),
        (vec!["snap", "--size", "640"], "1280x720"),
        (vec!["snap", "--pixels", "GREY"], "YUYV"),
        (vec!["snap", "--save", "evening.jpg"], "must end in .png"),
        (vec!["snap", "--countdown", "601"], "0..=600"),
        (vec!["snap", "--nearing", "6", "--spent", "5"], "--spent 5 is below --nearing 6"),
        (vec!["snap", "--picture", "out.gif"], ".png nor in .svg"),
        (vec!["snap", "--save", "a.png", "--picture", "a.png"], "overwrite"),
    ] {
        let output = tintpoint(&args);
        assert_eq!(code(&output), 2, "{args:?}: {}", err(&output));
        assert!(err(&output).contains(said), "{args:?}: {}", err(&output));
        assert!(out(&output).is_empty(), "{args:?}");
        // The error comes first; clap puts `hint:` lines of value parsers under it.
        assert!(args.is_empty() || err(&output).starts_with("error: "), "{args:?}: {}", err(&output));
    }
}

#[test]
fn every_help_has_an_example() {
    for args in [
        vec!["--help"],
        vec!["read", "--help"],
        vec!["watch", "--help"],
        vec!["indicators", "--help"],
        vec!["demo", "--help"],
        vec!["snap", "--help"],
        vec!["buffer", "--help"],
        vec!["mix", "--help"],
        vec!["dispose", "--help"],
        vec!["cost", "--help"],
    ] {
        let output = tintpoint(&args);
        assert_eq!(code(&output), 0);
        assert!(out(&output).contains("Example"), "{args:?}");
    }
}

#[test]
fn one_bad_photo_does_not_stop_the_rest() {
    let folder = folder("bad-photo");
    let good = photo(&folder.join("good.png"), YELLOW);
    let bad = folder.join("bad.jpg");
    fs::write(&bad, b"this is no picture").unwrap();
    let missing = folder.join("missing.jpg");
    let output =
        tintpoint(&["read", bad.to_str().unwrap(), missing.to_str().unwrap(), &good, "--format", "json", "--card", CARD, "--cup", CUP]);
    assert_eq!(code(&output), 1);
    let lines: Vec<Value> = out(&output).lines().map(|l| serde_json::from_str(l).unwrap()).collect();
    assert_eq!(lines.len(), 3);
    for line in &lines[..2] {
        assert!(line["error"]["code"].as_str().is_some_and(|c| !c.is_empty()) && line["error"]["message"].is_string());
    }
    assert_eq!(lines[2]["cups"].as_array().unwrap().len(), 1);
    assert_eq!(err(&output).lines().filter(|l| l.starts_with("error: ")).count(), 2);
}

#[test]
fn json_has_the_documented_fields_and_the_exit_status_fits() {
    let folder = folder("json");
    let yellow = photo(&folder.join("yellow.png"), YELLOW);
    let output =
        tintpoint(&["read", &yellow, "--format", "json", "--light", "daylight", "--card", CARD, "--cup", CUP, "--cup", "60,60,20"]);
    let json: Value = serde_json::from_str(out(&output).trim_end()).unwrap();
    assert_eq!(json["schema"], 1);
    assert_eq!((&json["width"], &json["height"]), (&Value::from(400), &Value::from(300)));
    assert_eq!(json["card"]["confidence"], 1.0);
    let cups = json["cups"].as_array().unwrap();
    assert_eq!(cups.len(), 2);
    assert_eq!((cups[0]["number"].as_u64(), cups[0]["radius"].as_f64()), (Some(1), Some(45.0)));
    for key in
        ["ph", "ph_low", "ph_high", "lab", "hue", "chroma", "density", "base_fraction", "dose", "chance", "state", "reasons", "label"]
    {
        assert!(cups[0].get(key).is_some(), "{key}");
    }
    let is_judged = cups.iter().any(|c| c["state"] != "unclear");
    assert_eq!(code(&output), if is_judged { 0 } else { 3 });
    assert!(!out(&output).contains("NaN"));
}

#[test]
fn regions_outside_the_picture_are_wrong_usage() {
    let folder = folder("outside");
    let yellow = photo(&folder.join("yellow.png"), YELLOW);
    for (option, value, kind) in
        [("--card", "350,10,100,20", "card-outside"), ("--cup", "401,10,20", "cup-outside"), ("--cup", "-1,10,20", "cup-outside")]
    {
        let output = tintpoint(&["read", &yellow, "--format", "json", option, value]);
        assert_eq!(code(&output), 2);
        let json: Value = serde_json::from_str(out(&output).trim_end()).unwrap();
        assert_eq!(json["error"]["code"], kind);
        assert!(err(&output).contains("400 x 300") && err(&output).contains("hint: "), "{}", err(&output));
    }
}

#[test]
fn csv_has_one_header_and_a_row_for_everything() {
    let folder = folder("csv");
    let yellow = photo(&folder.join("yellow, first.png"), YELLOW);
    let bad = folder.join("bad.png");
    fs::write(&bad, b"").unwrap();
    let output = tintpoint(&["read", &yellow, bad.to_str().unwrap(), "--format", "csv", "--card", CARD, "--cup", CUP]);
    let text = out(&output);
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    assert!(text.starts_with("photo,taken,width,height,light,cup,"));
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 2);
    assert_eq!(&rows[0][0], yellow);
    let error = reader.headers().unwrap().iter().position(|h| h == "error").unwrap();
    assert!(rows[0][error].is_empty() && !rows[1][error].is_empty());
}

#[test]
fn text_fits_a_pipe_without_colour_and_ends_with_a_table() {
    let folder = folder("text");
    let one = photo(&folder.join("one.png"), YELLOW);
    let two = photo(&folder.join("two.png"), [120, 60, 190]);
    let output = tintpoint(&["read", &one, &two, "--card", CARD, "--cup", CUP]);
    let text = out(&output);
    assert!(!text.contains('\u{1b}'));
    assert!(text.lines().any(|l| ["FRESH", "NEARING", "SPENT", "UNCLEAR"].iter().any(|s| l.starts_with(s))), "{text}");
    assert!(text.lines().any(|l| l.starts_with("photo ") && l.ends_with("state   pH")), "{text}");
    assert!(text.contains("Cautions: "));
}

#[test]
fn a_closed_pipe_ends_quietly() {
    let folder = folder("pipe");
    let yellow = photo(&folder.join("yellow.png"), YELLOW);
    let mut args = vec!["read", "--format", "json", "--card", CARD, "--cup", CUP];
    args.extend(std::iter::repeat_n(yellow.as_str(), 20));
    let mut child =
        Command::new(env!("CARGO_BIN_EXE_tintpoint")).args(&args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert!(err(&output).is_empty(), "{}", err(&output));
    assert_eq!(code(&output), 0);
}

#[test]
fn pictures_are_written_one_or_a_folder_of_them() {
    let folder = folder("picture");
    let one = photo(&folder.join("one.png"), YELLOW);
    let original = fs::read(&one).unwrap();
    let target = folder.join("reading.png");
    tintpoint(&["read", &one, "--card", CARD, "--cup", CUP, "--picture", target.to_str().unwrap()]);
    let picture = image::open(&target).unwrap();
    assert!((1200..=1700).contains(&picture.width().max(picture.height())));

    fs::create_dir(folder.join("other")).unwrap();
    let same_name = photo(&folder.join("other/one.png"), YELLOW);
    let many = folder.join("many");
    let output = tintpoint(&["read", &one, &same_name, "--card", CARD, "--cup", CUP, "--picture", many.to_str().unwrap()]);
    assert!(err(&output).is_empty(), "{}", err(&output));
    assert!(many.join("one-reading.png").is_file() && many.join("one-2-reading.png").is_file());

    let svg = folder.join("reading.svg");
    tintpoint(&["read", &one, "--card", CARD, "--cup", CUP, "--picture", svg.to_str().unwrap()]);
    let text = fs::read_to_string(&svg).unwrap();
    assert!(text.starts_with("<svg") && text.trim_end().ends_with("</svg>") && text.contains("data:image/jpeg;base64,"));
    assert_eq!(fs::read(&one).unwrap(), original, "the photo itself is never touched");
}

#[test]
fn an_unwritable_picture_is_told_and_the_reading_still_given() {
    let folder = folder("unwritable");
    let one = photo(&folder.join("one.png"), YELLOW);
    let target = folder.join("no-such-folder/reading.png");
    let output = tintpoint(&["read", &one, "--format", "json", "--card", CARD, "--cup", CUP, "--picture", target.to_str().unwrap()]);
    assert_eq!(code(&output), 1);
    assert!(err(&output).contains("cannot write") && err(&output).contains("hint: "));
    assert_eq!(out(&output).lines().count(), 1);
}

/// The demo is read with the program's own search and judged as its truth table says, as far as it is decided.
#[test]
fn the_demo_can_be_read() {
    let folder = folder("demo").join("photos");
    assert_eq!(code(&tintpoint(&["demo", folder.to_str().unwrap()])), 0);
    let photo = |name: &str| folder.join(name).to_str().unwrap().to_owned();
    let output = tintpoint(&["read", &photo("fresh.jpg"), &photo("spent.jpg"), "--format", "json"]);
    assert_eq!(code(&output), 0, "{}", err(&output));
    let lines: Vec<Value> = out(&output).lines().map(|l| serde_json::from_str(l).unwrap()).collect();
    assert_ne!(lines[0]["cups"][0]["state"], "spent");
    assert_ne!(lines[1]["cups"][0]["state"], "fresh");
}

/// The first command of the manual does what the manual says.
#[test]
fn the_manuals_photo_is_judged() {
    let readme = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let photo = readme.split("cargo run --release -- read ").nth(1).and_then(|rest| rest.split_whitespace().next()).unwrap();
    let output = tintpoint(&["read", Path::new(env!("CARGO_MANIFEST_DIR")).join(photo).to_str().unwrap()]);
    assert_eq!(code(&output), 0, "{}", err(&output));
    assert!(err(&output).is_empty() && out(&output).contains("pH "), "{}", out(&output));
}

#[test]
fn indicators_are_listed_with_sources_and_drawn() {
    let list = out(&tintpoint(&["indicators"]));
    assert!(list.contains("bromocresol-purple") && list.contains("source: "));
    let folder = folder("indicators");
    let svg = folder.join("curve.svg");
    let output = tintpoint(&["indicators", "bromocresol-green", "--picture", svg.to_str().unwrap()]);
    assert_eq!(code(&output), 0);
    assert!(out(&output).contains("100 %|"));
    assert!(fs::read_to_string(&svg).unwrap().contains("bromocresol green"));
}

#[test]
fn buffer_weighs_out_and_names_the_mixture() {
    let output = tintpoint(&["buffer", "--ph", "5.5", "--volume", "100ml"]);
    assert_eq!(code(&output), 0, "{}", err(&output));
    let text = out(&output);
    for said in [
        "citrate-phosphate: pH 5.50 +/- ",
        "citric acid (anhydrous)",
        "(dodecahydrate)",
        "ionic strength",
        "oggles",
        "citrate-phosphate:5.5",
        "not food",
    ] {
        assert!(text.contains(said), "no {said} in\n{text}");
    }
    let output = tintpoint(&["buffer", "--ph", "5.5", "--volume", "0.1 l", "--format", "json"]);
    let json: Value = serde_json::from_str(out(&output).trim()).unwrap();
    assert_eq!((json["name"].as_str(), json["ph"].as_f64()), (Some("citrate-phosphate:5.5"), Some(5.5)));
    assert_eq!(json["mixture"]["volume_ml"], 100.0);
    let ladder = tintpoint(&["buffer", "--series", "4", "--from", "4.4", "--to", "7.4", "--volume", "50ml", "--format", "json"]);
    assert_eq!(out(&ladder).lines().count(), 2 + 4);
}

#[test]
fn buffer_lists_standards_at_a_temperature() {
    let text = out(&tintpoint(&["buffer", "--temperature", "20"]));
    assert!(text.contains("phosphate        6.88 +/- 0.01") && text.contains("known from 25 to 60 C only"), "{text}");
    // Lange's table 8.15: 3.39 g in a litre.
    assert!(out(&tintpoint(&["buffer", "phosphate", "--volume", "2l"])).contains("6.78 g potassium dihydrogen phosphate"));
}

#[test]
fn buffer_refuses_with_reason_and_remedy() {
    for (args, said) in [
        (vec!["buffer", "--ph", "9", "--volume", "1l"], "no recipe buffers at pH 9; they reach from 2.6 to 7.6"),
        (vec!["buffer", "--ph", "6", "--volume", "1l", "--recipe", "acetate"], "acetate buffers from pH 3.6 to 5.6, not at 6"),
        (vec!["buffer", "--ph", "5", "--volume", "0ml"], "volume in millilitres 0 is outside 1 to 100000"),
        (vec!["buffer", "--ph", "5", "--volume", "100"], "has no unit"),
        (vec!["buffer", "--ph", "5"], "--volume"),
        (vec!["buffer", "--temperature", "61"], "outside 0 to 60"),
        (vec!["buffer", "tartrate", "--temperature", "20"], "tartrate is known from 25 to 60 C, not at 20 C"),
        (vec!["buffer", "vinegar"], "no such buffer `vinegar`"),
        (vec!["buffer", "acetate:4.6:20", "--temperature", "30"], "already says its temperature"),
        (vec!["buffer", "--ph", "5", "--volume", "1l", "--recipe", "citrate", "--form", "acetic-acid"], "citrate takes no acetic-acid"),
        (vec!["buffer", "--series", "3", "--from", "7", "--to", "5", "--volume", "1l"], "--to 5 is not above --from 7"),
        (vec!["buffer", "--series", "30", "--from", "3", "--to", "7", "--volume", "90l"], "outside 1 to 100000"),
    ] {
        let output = tintpoint(&args);
        assert_eq!(code(&output), 2, "{args:?}: {}", err(&output));
        assert!(err(&output).contains(said), "{args:?}: {}", err(&output));
        assert!(output.stdout.is_empty());
    }
}

#[cfg(not(feature = "camera"))]
#[test]
fn without_cameras_snap_says_how_to_get_them() {
    for args in [vec!["snap"], vec!["snap", "--list"], vec!["snap", "--format", "json"]] {
        let output = tintpoint(&args);
        assert_eq!(code(&output), 1, "{args:?}");
        assert!(err(&output).starts_with("error: this program was built without cameras\nhint: "), "{}", err(&output));
        assert!(err(&output).contains("--features camera") && err(&output).contains("tintpoint read"), "{}", err(&output));
    }
    let json: Value = serde_json::from_str(out(&tintpoint(&["snap", "--format", "json"])).trim_end()).unwrap();
    assert_eq!(json["error"]["code"], "camera-not-built");
}

/// With or without cameras: a picture that is there is kept.
#[test]
fn snap_never_overwrites() {
    let folder = folder("snap");
    let path = folder.join("evening.png");
    fs::write(&path, "my photo").unwrap();
    let output = tintpoint(&["snap", "--device", "4000000", "--save", path.to_str().unwrap()]);
    assert_eq!(code(&output), 1);
    assert!(err(&output).contains("is already there"), "{}", err(&output));
    assert_eq!(fs::read_to_string(&path).unwrap(), "my photo");
}

#[test]
fn mix_says_what_to_measure_and_what_to_write() {
    let acetic =
        ["mix", "acetic", "--strength", "28", "--to", "1.7%", "--make", "2l", "--mixed", "2026-11-26", "--by", "M.", "--age-limit", "30"];
    let output = tintpoint(&acetic);
    assert_eq!(code(&output), 0, "{}", err(&output));
    // 1.7 % of 2 l: 117 ml of 28 % acid (see chemistry::dilution).
    for said in ["117 ml acetic acid (28 %)", "pH 2.65 +/- 0.05", "acid into the water", "2026-11-26 by M.", "discard by 2026-12-26"] {
        assert!(out(&output).contains(said), "no {said} in\n{}", out(&output));
    }
    // No terminal is there to ask, so both meanings are shown.
    let both = out(&tintpoint(&["mix", "--dilution", "1:20", "--make", "1l"]));
    assert!(both.contains("50 ml concentrate + 950 ml water") && both.contains("47.6 ml concentrate + 952 ml water"), "{both}");
    let told = out(&tintpoint(&["mix", "--dilution", "1:20", "--colon", "parts", "--make", "1l"]));
    assert!(!told.contains("50 ml concentrate") && told.contains("47.6 ml concentrate"), "{told}");
    let json: Value = serde_json::from_str(
        out(&tintpoint(&["mix", "citric-anhydrous", "--to", "15g/l", "--make", "1l", "--half", "--format", "json"])).trim(),
    )
    .unwrap();
    assert_eq!(json["plans"][0]["grams"], 7.5);
    assert!(json["notes"][0].as_str().unwrap().contains("halves the reserve"));
    assert!(out(&tintpoint(&["mix", "sodium-metabisulfite", "--to", "30g/l", "--make", "1l"])).contains("takes up most alkali near pH 7"));
}

#[test]
fn mix_draws_the_curve_and_follows_the_bath() {
    let folder = folder("mix");
    let target = folder.join("curve.png");
    let bath = ["mix", "citric-anhydrous", "--to", "15g/l", "--make", "1l"];
    let draw = |extra: &[&str]| tintpoint(&[&bath[..], extra].concat());
    assert_eq!(code(&draw(&["--picture", target.to_str().unwrap(), "--read", "..5.0"])), 0);
    assert!(fs::read(&target).unwrap().starts_with(b"\x89PNG"));
    let text = out(&draw(&["--then", "used:80meq", "--then", "water:1l"])).replace("\n    ", " ");
    assert!(text.contains("80 meq of alkali taken up") && text.contains("meq in 2 l"), "{text}");
}

#[test]
fn baths_that_cannot_be_are_refused_with_the_reason() {
    for (args, said) in [
        (vec!["mix", "acetic", "--to", "1.7%", "--make", "1l"], "strength of what the bath is made from is not told"),
        (vec!["mix", "acetic", "--strength", "120", "--to", "1.7%", "--make", "1l"], "120 is outside 1 to 100"),
        (vec!["mix", "acetic", "--strength", "-5", "--to", "1.7%", "--make", "1l"], "-5 is outside 1 to 100"),
        (vec!["mix", "vinegar", "--strength", "5", "--to", "10%", "--make", "1l"], "cannot be made by thinning"),
        (vec!["mix", "vinegar", "--strength", "5", "--to", "-3%", "--make", "1l"], "-3 is outside"),
        (vec!["mix", "--dilution", "1+19", "--make", "0l"], "0 is outside 1 to 100000"),
        (vec!["mix", "--dilution", "0+19", "--make", "1l"], "is no dilution"),
        (vec!["mix", "--make", "1l"], "neither strength nor dilution"),
        (vec!["mix", "citric-anhydrous", "--dilution", "1+19", "--make", "1l"], "weighed, not measured in parts"),
        (vec!["mix", "--dilution", "1+19", "--make", "1l", "--then", "lost:1l"], "needs one bath of known content"),
        (vec!["mix", "citric-anhydrous", "--to", "15g/l", "--make", "1l", "--then", "lost:1l"], "0 is outside 1"),
        (vec!["mix", "--dilution", "1+19", "--make", "1l", "--mixed", "2026-02-30"], "is no day"),
        (vec!["dispose", "--volume", "1l"], "has fixer got into the bath?"),
        (vec!["dispose", "--volume", "1l", "--fixer", "no", "--drain", "sewer"], "whose is it?"),
        (vec!["cost", "--pack", "500ml", "--dilution", "1+19"], "--price"),
        (vec!["cost", "--pack", "500ml", "--price", "12", "--dilution", "1:20"], "meant in two ways"),
        (vec!["cost", "--pack", "1kg", "--price", "12"], "--strength"),
        (vec!["cost", "--pack", "1kg", "--price", "-1", "--strength", "15g/l"], "-1 is outside 0"),
    ] {
        let output = tintpoint(&args);
        assert_eq!(code(&output), 2, "{args:?}: {}", err(&output));
        assert!(err(&output).contains(said) && err(&output).starts_with("error: "), "{args:?}: {}", err(&output));
        assert!(out(&output).is_empty(), "{args:?}");
    }
}

#[test]
fn dispose_asks_first_and_permits_nothing() {
    let bath = ["dispose", "citric-anhydrous", "--to", "15g/l", "--volume", "1l", "--holder", "home"];
    let text = out(&tintpoint(&[&bath[..], &["--drain", "sewer", "--fixer", "no"]].concat()));
    assert!(text.starts_with("ASK FIRST") && text.contains("sodium bicarbonate") && text.contains("no permission"), "{text}");
    let text = out(&tintpoint(&[&bath[..], &["--drain", "sewer", "--fixer", "unsure"]].concat()));
    assert!(text.starts_with("COLLECT IT") && text.contains("silver") && !text.contains("portions of"), "{text}");
}

// A 500 ml pack at 1+19 makes 10 l: 12 / 150 a roll at 15 a litre, 12 / 33 used once.
#[test]
fn cost_tells_reuse_beside_one_shot() {
    let pack =
        ["cost", "--pack", "500ml", "--price", "12", "--dilution", "1+19", "--per-litre", "15", "--one-shot", "300ml", "--currency", "EUR"];
    let text = out(&tintpoint(&pack));
    assert!(text.contains("used up: 0.080 EUR (150 rolls a pack)") && text.contains("used once: 0.36 EUR (33 rolls a pack)"), "{text}");
    let json: Value = serde_json::from_str(out(&tintpoint(&[&pack[..], &["--format", "json"]].concat())).trim()).unwrap();
    assert_eq!((json["per_piece"].as_f64(), json["currency"].as_str()), (Some(0.08), Some("EUR")));
}
