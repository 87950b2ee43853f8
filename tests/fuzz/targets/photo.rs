//! Bytes of a file to what is told of it: the way of `tintpoint read`.

#![no_main]

use libfuzzer_sys::fuzz_target;
use tintpoint::desk;
use tintpoint::measurement::request::Request;
use tintpoint::photo;
use tintpoint::present::{json, text};
use tintpoint::store::profiles::shelf::Shelf;

/// Finding and fitting take a hundred times as long as unpacking, and are shielded from the bytes by pixels: one picture in so many is read to
/// the end, chosen by its bytes, so that the same bytes always take the same way.
const SHARE: u64 = 8;

fuzz_target!(|bytes: &[u8]| {
    let Ok(photo) = photo::decode(bytes) else { return };
    let frame = &photo.frame;
    let corner = frame.pixel(frame.upright_width() - 1, frame.upright_height() - 1);
    assert!(corner.iter().all(|value| value.is_finite()));
    if bytes.iter().fold(0u64, |sum, byte| sum.wrapping_mul(31).wrapping_add(u64::from(*byte))) % SHARE != 0 {
        return;
    }
    let entry = desk::entry("photo".to_owned(), &photo, &Request::default(), &Shelf::default());
    let reading = entry.outcome.as_ref().unwrap();
    // What is told of each cup must be in its range, whatever was in the picture.
    for cup in &reading.cups {
        for ph in [cup.ph, cup.ph_low, cup.ph_high].into_iter().flatten() {
            assert!((0.0..=14.0).contains(&ph), "{ph}");
        }
    }
    json::line(&entry).unwrap();
    let _ = text::photo(&entry, 80);
});
