//! Bytes of a colour profile to a colour space.

#![no_main]

use libfuzzer_sys::fuzz_target;
use tintpoint::photo::icc;

fuzz_target!(|bytes: &[u8]| {
    let Ok(space) = icc::space(bytes) else { return };
    assert!(space.to_srgb.iter().flatten().all(|number| number.is_finite()), "{space:?}");
    for curve in &space.curves {
        for level in [0.0, 0.25, 0.5, 0.75, 1.0] {
            assert!(curve.decode(level).is_finite(), "{curve:?} at {level}");
        }
    }
});
