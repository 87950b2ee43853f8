//! Text of a profile to a calibration that readings can be made with.

#![no_main]

use libfuzzer_sys::fuzz_target;
use std::path::Path;
use tintpoint::measurement::profile::Calibrated;
use tintpoint::store::profiles;

fuzz_target!(|text: &str| {
    if let Ok(profile) = profiles::parse(text, Path::new("fuzz.toml")) {
        let _ = Calibrated::new(&profile.evidence);
    }
});
