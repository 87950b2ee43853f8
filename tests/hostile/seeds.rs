//! What the fuzz targets of `tests/fuzz` start from: one small input or more for each parser, which that parser takes.
//!
//! `TINTPOINT_SEEDS=tests/fuzz/corpus cargo test --test hostile seeds` writes them there, a folder for each target.

use crate::bench::{readable, wholes};
use crate::pictures::{self, Exif, Picture};
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use tempfile::TempDir;
use tintpoint::measurement::profile::Calibrated;
use tintpoint::photo::metadata::Facts;
use tintpoint::photo::{decode, icc};
use tintpoint::store::profiles;
use tintpoint::store::records::exchange;

/// Writes a seed where that is wanted.
fn keep(target: &str, name: &str, bytes: &[u8]) {
    if let Some(folder) = std::env::var_os("TINTPOINT_SEEDS") {
        let folder = Path::new(&folder).join(target);
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join(name.replace(' ', "-")), bytes).unwrap();
    }
}

/// A small photo that gives numbers.
fn photo() -> Picture {
    let made = readable();
    Picture { width: made.width, height: made.height, rgb: made.rgb }
}

/// The program in a folder of its own, which must succeed.
fn run(folder: &TempDir, words: &str) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tintpoint"));
    command.args(words.split(' ')).current_dir(folder.path()).env("TINTPOINT_DATA", folder.path()).stdin(Stdio::null());
    command.env("TINTPOINT_NOW", "2026-03-14T21:00:00+01:00[Europe/Vienna]").env("USER", "ada");
    let output = command.output().unwrap();
    assert!(output.status.success(), "{words}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn seeds_of_photos_are_read() {
    let photo = photo();
    keep("photo", "readable.jpg", &photo.jpeg(&[], None));
    keep("photo", "readable.png", &photo.png(&[]));
    for whole in wholes() {
        assert!(decode(&whole.bytes).is_ok(), "{}", whole.name);
        keep("photo", whole.name, &whole.bytes);
    }
}

#[test]
fn seeds_of_metadata_tell_what_they_hold() {
    let exif = Exif::default().orientation(6).camera("Example", "One").taken("2026:04:03 12:34:56", "+01:00").flash(1);
    let exif = exif.colour_space(0xFFFF).interoperability("R03");
    for (name, bytes) in [("block", exif.block()), ("tiff", exif.tiff(&Picture::textured(2, 2)))] {
        assert_eq!(Facts::read(&bytes).camera.as_deref(), Some("Example One"), "{name}");
        keep("exif", name, &bytes);
    }
    let all = [moxcms::ColorProfile::new_srgb(), moxcms::ColorProfile::new_display_p3(), moxcms::ColorProfile::new_adobe_rgb()];
    for (i, profile) in all.into_iter().enumerate() {
        let bytes = profile.encode().unwrap();
        assert!(icc::space(&bytes).is_ok());
        keep("icc", &i.to_string(), &bytes);
    }
}

#[test]
fn seeds_of_profiles_can_be_read_with() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("buffers.png"), photo().png(&[])).unwrap();
    run(&folder, "calibrate buffers.png --ph 6.3,6.6 --light daylight --lot 12 --note lamp --out made.toml");
    let text = fs::read_to_string(folder.path().join("made.toml")).unwrap();
    let profile = profiles::parse(&text, Path::new("made.toml")).unwrap();
    assert!(Calibrated::new(&profile.evidence).is_some());
    keep("profile", "made.toml", text.as_bytes());
}

#[test]
fn seeds_of_logbooks_are_taken_over() {
    let folder = tempfile::tempdir().unwrap();
    for words in [
        "bath new tray-1 --acid citric-anhydrous --grams-per-litre 15 --volume 2l --price 6 --pack 1kg --currency EUR --at 2026-03-12",
        "bath new tank --acid acetic --strength 28 --dilution 1+19 --volume 1l --at 2026-03-12",
        "bath load tray-1 --sheets 8x10rc=24 --developer carbonate-1+2 --film A12 --at 2026-03-13",
        "bath load tank --rolls 2 --developer borax-sulfite-1+1 --at 2026-03-13",
        "bath note tray-1 dusty",
    ] {
        run(&folder, words);
    }
    for form in ["json", "csv"] {
        let text = run(&folder, &format!("bath export --format {form}"));
        assert_eq!(exchange::parse(&text).unwrap().len(), 5);
        keep("logbook", form, text.as_bytes());
    }
}

#[test]
fn seeds_of_requests_are_in_the_form_of_the_target() {
    let part = |name: &str, value: &[u8]| {
        [format!("--edge\r\nContent-Disposition: form-data; name=\"{name}\"; filename=\"a.jpg\"\r\n\r\n").as_bytes(), value, b"\r\n"]
            .concat()
    };
    let form = [
        part("light", b"daylight"),
        part("cups", b"10,10,5;20,10,5"),
        part("card", b"1,1,9,9"),
        part("photo", &pictures::file("baseline-420.jpg")),
        b"--edge--\r\n".to_vec(),
    ]
    .concat();
    // The first byte is the place in the list of the target.
    for place in [0, 1] {
        keep("upload", &format!("form-{place}"), &[&[place], &form[..]].concat());
    }
    let once = "0123456789abcdef0123456789abcdef";
    let words = [
        (2, "light=daylight&card=1,1,9,9".to_owned()),
        (3, format!("once={once}&name=tray-1&from=citric-anhydrous&to=15g%2Fl&volume=2l")),
        (4, format!("once={once}&bath=tray-1&pieces=8x10rc%3D24&developer=carbonate-1%2B2")),
        (5, "code=123456".to_owned()),
        (6, "who=Zo%C3%AB&back=%2F".to_owned()),
        (7, "theme=red&back=%2F%2Felsewhere".to_owned()),
        (8, "from=acetic&strength=28&to=1.7%25&make=2l&for=film&temperature=20".to_owned()),
        (9, "from=citric&strength=20&dilution=1:9&volume=1l&read=4.2..4.7".to_owned()),
        (10, "paper=a4&cups=4".to_owned()),
        (11, "from=acetic&strength=28&dilution=1:20&colon=parts&make=500ml&mixed=2026-11-26".to_owned()),
    ];
    for (place, text) in words {
        assert!(text.is_ascii());
        keep("upload", &format!("words-{place}"), &[&[place], text.as_bytes()].concat());
    }
}
