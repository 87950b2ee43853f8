//! Profiles as files: there and back, and what is wrong with others.

use super::*;
use std::fs;
use tintpoint::store::profiles::{self, ProfileError};

fn profile() -> Profile {
    let mut session = Session::new(481);
    let cups = [5.2, 6.2];
    let (mut profile, _, _) = calibrate(&session.photo(&cups), &rungs(&cups), true).unwrap();
    profile.note = Some("lot 7, \"north\" lamp\nsecond line".to_owned());
    profile.camera = Some("Invented camera".to_owned());
    profile
}

#[test]
fn a_file_gives_the_same_profile_and_the_same_file_again() {
    let folder = tempfile::tempdir().unwrap();
    let (one, two) = (folder.path().join("one.toml"), folder.path().join("two.toml"));
    let before = profile();
    profiles::write(&one, &before).unwrap();
    let after = profiles::read(&one).unwrap();
    profiles::write(&two, &after).unwrap();
    assert_eq!(fs::read_to_string(&one).unwrap(), fs::read_to_string(&two).unwrap());
    assert_eq!((&after.note, &after.camera, after.evidence.photos.len()), (&before.note, &before.camera, 1));
    for (a, b) in before.evidence.photos[0].cups.iter().zip(&after.evidence.photos[0].cups) {
        assert_eq!((a.ph, a.ionic_strength, a.is_used, a.rings.len()), (b.ph, b.ionic_strength, b.is_used, b.rings.len()));
        // Colours are written to a millionth.
        assert!(a.rings.iter().zip(&b.rings).all(|(a, b)| (0..3).all(|c| (a.1.value[c] - b.1.value[c]).abs() < 1e-6)));
    }
}

/// The error of reading the profile with this change made to its text.
fn spoilt(change: impl Fn(&str) -> String) -> ProfileError {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("spoilt.toml");
    profiles::write(&path, &profile()).unwrap();
    let text = change(&fs::read_to_string(&path).unwrap());
    fs::write(&path, text).unwrap();
    profiles::read(&path).unwrap_err()
}

#[test]
fn foreign_newer_and_damaged_files_are_told_apart() {
    assert!(matches!(spoilt(|_| "[package]\nname = \"x\"\n".to_owned()), ProfileError::Foreign { .. }));
    assert!(matches!(spoilt(|_| "\u{0}\u{1} no toml".to_owned()), ProfileError::Foreign { .. }));
    let newer = spoilt(|text| text.replace("version = 1", "version = 7"));
    assert!(matches!(newer, ProfileError::Newer { version: 7, .. }), "{newer}");
    for (from, to) in [
        ("ph = 5.2", "ph = nan"),
        ("ph = 5.2", "ph = 99.0"),
        ("ph_sd = 0.02", "ph_sd = 0.0"),
        ("indicator = \"bromocresol-purple\"", "indicator = \"litmus\""),
        ("version = 1", "version = 0"),
        ("temperature = 22.0", "temperature = \"warm\""),
        ("reflectance = 0.18", "reflectance = 18.0"),
    ] {
        let error = spoilt(|text| text.replace(from, to));
        assert!(matches!(error, ProfileError::Damaged { .. }), "{to}: {error:?}");
        assert!(!error.to_string().ends_with('.') && !error.hint().is_empty(), "{error}");
    }
}

// A copy that broke off: every length is an error, never a panic and never a profile without its buffers.
#[test]
fn cut_files_are_errors() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("cut.toml");
    profiles::write(&path, &profile()).unwrap();
    let whole = fs::read(&path).unwrap();
    for length in (0..whole.len() / 2).step_by(97) {
        fs::write(&path, &whole[..length]).unwrap();
        assert!(profiles::read(&path).is_err(), "{length} bytes");
    }
}

#[test]
fn names_cannot_lead_out_of_the_folder() {
    for name in ["", "../x", "a/b", "a b", ".hidden", "x.toml"] {
        assert!(matches!(profiles::named(name), Err(ProfileError::Name(_))), "{name}");
    }
}
