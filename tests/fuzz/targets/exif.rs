//! Bytes of an Exif block, or of a TIFF file, to facts.

#![no_main]

use libfuzzer_sys::fuzz_target;
use tintpoint::photo::metadata::{Facts, iso_date_time, iso_offset};

fuzz_target!(|bytes: &[u8]| {
    let facts = Facts::read(bytes);
    for text in facts.taken.iter().chain(&facts.camera) {
        assert!(!text.is_empty() && !text.chars().any(char::is_control), "{text:?}");
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        let _ = (iso_date_time(text), iso_offset(text));
    }
});
