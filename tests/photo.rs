//! Photos that are whole: orientation, depth, colour space and Exif come through as they were stored.
//!
//! The pictures are built here and checked against the pixels they were built from.

// Helpers unwrap like tests do; and stored values must come through unchanged to the last bit.
#![allow(clippy::unwrap_used, clippy::float_cmp)]

mod pictures;

use image::ExtendedColorType;
use moxcms::ColorProfile;
use pictures::{Exif, Picture, Random};
use std::path::Path;
use tintpoint::colour::space::{self, PhotoSpace};
use tintpoint::colour::tone::ToneCurve;
use tintpoint::measurement::frame::{Frame, Orientation, Samples};
use tintpoint::measurement::share;
use tintpoint::measurement::warning::Notice;
use tintpoint::photo::{Buffers, Photo, decode, load, load_into};

fn read(bytes: &[u8]) -> Photo {
    decode(bytes).unwrap_or_else(|error| panic!("{}: {error}: {:?}", error.code(), std::error::Error::source(&error)))
}

/// A frame of the upright `scene` as a camera held in the way of `number` would store it.
fn stored(scene: &Picture, number: u32) -> Frame {
    let turned = scene.turned(number);
    Frame::new(turned.width, turned.height, Orientation::from_exif(number), Samples::Eight(turned.rgb.into()), PhotoSpace::srgb()).unwrap()
}

// CIPA DC-008, tag Orientation: which side of the scene the stored row 0 and column 0 are.
#[test]
fn orientation_numbers_mean_what_exif_says() {
    // Number; where the stored first pixel lies in the upright picture of 7 x 5; and the stored pixel to its right.
    let corners = [
        (1, (0, 0), (1, 0)),
        (2, (6, 0), (5, 0)),
        (3, (6, 4), (5, 4)),
        (4, (0, 4), (1, 4)),
        (5, (0, 0), (0, 1)),
        (6, (6, 0), (6, 1)),
        (7, (6, 4), (6, 3)),
        (8, (0, 4), (0, 3)),
    ];
    for (number, first, right) in corners {
        let orientation = Orientation::from_exif(number);
        assert_eq!(orientation.exif(), number);
        let (width, height) = if orientation.swaps_sides() { (5, 7) } else { (7, 5) };
        assert_eq!(orientation.stored(first.0, first.1, width, height), (0, 0), "orientation {number}");
        assert_eq!(orientation.stored(right.0, right.1, width, height), (1, 0), "orientation {number}");
    }
}

#[test]
fn all_orientations_show_the_same_scene() {
    let scene = Picture::textured(61, 37);
    for number in 1..=8 {
        let frame = stored(&scene, number);
        assert_eq!((frame.upright_width(), frame.upright_height()), (61, 37));
        for y in 0..37 {
            for x in 0..61 {
                let expected = scene.pixel(x, y).map(|level| f32::from(level) / 255.0);
                assert_eq!(frame.pixel(x, y), expected, "orientation {number} at {x}, {y}");
            }
        }
    }
}

#[test]
fn all_orientations_reduce_to_the_same_small_picture() {
    let scene = Picture::textured(61, 37);
    for longest in [1, 7, 10, 30, 60, 61, 500] {
        let upright = stored(&scene, 1).reduced(longest);
        assert!(upright.width.max(upright.height) <= longest);
        for number in 2..=8 {
            assert_eq!(stored(&scene, number).reduced(longest), upright, "orientation {number} to {longest}");
        }
    }
}

#[test]
fn reducing_takes_the_mean() {
    let scene = Picture::textured(50, 31);
    let small = stored(&scene, 6).reduced(10);
    assert_eq!((small.width, small.height), (10, 6));
    assert!((small.factor - 5.0).abs() < 1e-12);
    for (x, y) in [(0, 0), (9, 5), (4, 2)] {
        let mean = [0, 1, 2].map(|c| {
            let levels = (0..25).map(|i| u32::from(scene.pixel(5 * x + i % 5, 5 * y + i / 5)[c]));
            (f64::from(levels.sum::<u32>()) / 25.0).round() as u8
        });
        assert_eq!(small.pixel(x, y), mean);
    }
}

#[test]
fn a_strip_thinner_than_the_factor_is_still_reduced() {
    let white = Picture { width: 4000, height: 2, rgb: vec![255; 24_000] };
    let small = stored(&white, 1).reduced(40);
    assert_eq!((small.width, small.height), (40, 1));
    assert!(small.rgb.iter().all(|&level| level == 255));
    // More lines in a cell than a 16-bit sum holds.
    let tall = Picture { width: 2, height: 4000, rgb: vec![255; 24_000] };
    assert_eq!(stored(&tall, 1).reduced(4).rgb, vec![255; 12]);
}

#[test]
fn every_container_keeps_pixels_orientation_and_facts() {
    let scene = Picture::textured(24, 16);
    let exif = Exif::default().orientation(6).taken("2026:04:03 12:34:56", "+01:00").camera("Example", "Example One").flash(1);
    let stored = scene.turned(6);
    for (name, bytes) in [("png", stored.png(&exif.block())), ("webp", stored.webp(&exif.block())), ("tiff", exif.tiff(&stored))] {
        let photo = read(&bytes);
        assert_eq!(photo.frame.orientation(), Orientation::TurnClockwise, "{name}");
        assert_eq!((photo.frame.upright_width(), photo.frame.upright_height()), (24, 16), "{name}");
        assert_eq!(photo.frame.pixel(3, 5), scene.pixel(3, 5).map(|level| f32::from(level) / 255.0), "{name}");
        assert_eq!(photo.taken.as_deref(), Some("2026-04-03T12:34:56+01:00"), "{name}");
        assert_eq!(photo.camera.as_deref(), Some("Example One"), "{name}");
        assert_eq!(photo.flash_fired, Some(true), "{name}");
        assert_eq!(photo.notices, [], "{name}");
    }
}

#[test]
fn a_jpeg_is_turned_in_all_eight_ways() {
    let scene = Picture::quadrants(64, 48);
    for number in 1..=8 {
        let photo = read(&scene.turned(number).jpeg(&Exif::default().orientation(number).block(), None));
        assert_eq!((photo.frame.upright_width(), photo.frame.upright_height()), (64, 48));
        for (x, y) in [(8, 8), (56, 8), (8, 40), (56, 40)] {
            for (value, level) in photo.frame.pixel(x, y).into_iter().zip(scene.pixel(x, y)) {
                // Quality 95 moves flat colours by a level or two.
                assert!((value * 255.0 - f32::from(level)).abs() < 4.0, "orientation {number} at {x}, {y}");
            }
        }
    }
}

// Against libjpeg-turbo 2.1.5 (see tests/pictures/jpeg). The standard leaves decoders a level in the transform and how
// chroma is spread; ours rounds halves up where it spreads chroma, the other alternates: three levels at most on a
// pixel, and less than half a level on average.
#[test]
fn every_sampling_unpacks_as_another_decoder_does() {
    let pairs = [
        ("baseline-420", "baseline-420"),
        ("progressive-420", "baseline-420"),
        ("restarts-420", "baseline-420"),
        ("baseline-422", "baseline-422"),
        ("baseline-440", "baseline-440"),
        ("baseline-411", "baseline-411"),
        ("baseline-444", "baseline-444"),
        ("progressive-444", "baseline-444"),
        ("stored-rgb", "stored-rgb"),
    ];
    for (name, truth) in pairs {
        let frame = read(&pictures::file(&format!("{name}.jpg"))).frame;
        let truth = pictures::pixmap(&format!("{truth}.ppm"));
        assert_eq!((frame.upright_width(), frame.upright_height()), (truth.width, truth.height), "{name}");
        let mut sum = [0.0; 3];
        for (x, y) in (0..truth.height).flat_map(|y| (0..truth.width).map(move |x| (x, y))) {
            let value = frame.pixel(x, y);
            for c in 0..3 {
                let difference = f64::from(value[c] * 255.0) - f64::from(truth.pixel(x, y)[c]);
                assert!(difference.abs() < 3.5, "{name} at {x}, {y}: {difference}");
                sum[c] += difference;
            }
        }
        let mean = sum.map(|s| s / (truth.width * truth.height) as f64);
        assert!(mean.iter().all(|m| m.abs() < 0.5), "{name}: {mean:?}");
    }
}

#[test]
fn facts_that_make_no_sense_are_left_out() {
    let scene = Picture::textured(8, 8);
    let exif = Exif::default().orientation(9).taken("2026:02:30 12:34:56", "+01:00").camera("", "");
    let photo = read(&scene.png(&exif.block()));
    assert_eq!(photo.frame.orientation(), Orientation::Upright);
    assert_eq!((photo.taken, photo.camera, photo.flash_fired), (None, None, None));
    let local = read(&scene.png(&Exif::default().taken("2026:02:28 12:34:56", "      ").block()));
    assert_eq!(local.taken.as_deref(), Some("2026-02-28T12:34:56"));
}

#[test]
fn sixteen_bits_stay_sixteen_bits() {
    let levels: Vec<u16> = (0..8 * 8 * 3).map(|i| 4112 + i).collect();
    for bytes in [pictures::png16(8, 8, &levels, ExtendedColorType::Rgb16), pictures::tiff16(8, 8, &levels)] {
        let photo = read(&bytes);
        assert_eq!(photo.frame.bits(), 16);
        assert_eq!(photo.frame.pixel(7, 7), [189, 190, 191].map(|i| (f64::from(levels[i]) / 65535.0) as f32));
        // IEC 61966-2-1 by hand at 4112 of 65535 (16 of 255): ((0.062745 + 0.055) / 1.055) ^ 2.4 = 0.0051815; a table
        // built on the Adobe curve would give 0.0023.
        let linear = ToneCurve::Srgb.decode(f64::from(photo.frame.pixel(0, 0)[0]));
        assert!((linear - 0.005_181_5).abs() < 1e-6, "{linear}");
    }
}

#[test]
fn profiles_are_honoured_in_every_container() {
    let scene = Picture::quadrants(32, 32);
    let spaces = [(ColorProfile::new_display_p3(), PhotoSpace::display_p3()), (ColorProfile::new_adobe_rgb(), PhotoSpace::adobe_rgb())];
    for (profile, known) in spaces {
        let icc = profile.encode().unwrap();
        let files =
            [scene.jpeg(&[], Some(&icc)), scene.png_with_profile(&icc), scene.tiff_with_profile(&icc), scene.webp_with_profile(&icc)];
        for bytes in files {
            let photo = read(&bytes);
            assert_eq!(photo.notices, []);
            let green = space::apply(&photo.frame.space().to_srgb, [0.0, 1.0, 0.0]);
            let expected = space::apply(&known.to_srgb, [0.0, 1.0, 0.0]);
            // Profiles hold numbers to 1/65536.
            assert!(green.iter().zip(expected).all(|(a, b)| (a - b).abs() < 5e-4), "{green:?} {expected:?}");
        }
    }
}

// Linear RGB to linear sRGB by colour-science 0.4.7 (BSD-3-Clause), matrix_RGB_to_RGB with Bradford. It takes the rounded
// four- and five-decimal matrices of the sRGB and Adobe RGB standards, hence the tolerance.
#[test]
fn wide_spaces_lead_to_srgb_by_the_published_matrices() {
    let display_p3 = [
        [1.224_802_116, -0.224_911_261, -0.000_047_572],
        [-0.041_928_105, 1.042_029_897, -0.000_002_643],
        [-0.019_608_809, -0.078_632_123, 1.098_315_370],
    ];
    let adobe = [
        [1.398_208_596, -0.398_298_090, -0.000_039_774],
        [0.000_136_554, 0.999_946_439, -0.000_006_455],
        [0.000_033_869, -0.042_926_418, 1.042_971_631],
    ];
    for (space, published) in [(PhotoSpace::display_p3(), display_p3), (PhotoSpace::adobe_rgb(), adobe)] {
        for (row, published_row) in space.to_srgb.iter().zip(&published) {
            for (number, published_number) in row.iter().zip(published_row) {
                assert!((number - published_number).abs() < 3e-4, "{}: {number} against {published_number}", space.name);
            }
        }
    }
}

#[test]
fn a_profile_that_cannot_be_followed_is_reported() {
    let scene = Picture::quadrants(32, 32);
    let mut bare = ColorProfile::new_srgb();
    (bare.red_trc, bare.green_trc, bare.blue_trc) = (None, None, None);
    let photo = read(&scene.jpeg(&[], Some(&bare.encode().unwrap())));
    assert!(matches!(&photo.notices[..], [Notice::ProfileIgnored { .. }]), "{:?}", photo.notices);
    assert_eq!(photo.frame.space(), &PhotoSpace::srgb());
    let photo = read(&scene.jpeg(&[], Some(b"not a profile at all")));
    assert_eq!(photo.notices, [Notice::ProfileIgnored { name: "damaged".to_owned() }]);
}

#[test]
fn exif_colour_space_is_respected_without_a_profile() {
    let scene = Picture::textured(8, 8);
    let told = |exif: Exif| {
        let photo = read(&scene.png(&exif.block()));
        (photo.frame.space().name.clone(), photo.notices)
    };
    assert_eq!(told(Exif::default().colour_space(1)), ("sRGB".to_owned(), vec![]));
    assert_eq!(told(Exif::default().colour_space(0xFFFF)), ("sRGB".to_owned(), vec![Notice::ColourSpaceAssumed]));
    assert_eq!(told(Exif::default().colour_space(0xFFFF).interoperability("R03")), ("Adobe RGB (1998)".to_owned(), vec![]));
    assert_eq!(told(Exif::default().colour_space(1).interoperability("R98")), ("sRGB".to_owned(), vec![]));
}

#[test]
fn png_numbers_declare_a_space_too() {
    let scene = Picture::textured(8, 8);
    // ITU-T H.273: primaries 12 (P3 with D65), transfer 13 (sRGB), full range.
    let photo = read(&scene.png_with_chunk(b"cICP", &[12, 13, 0, 1]));
    assert_eq!(photo.frame.space().to_srgb, PhotoSpace::display_p3().to_srgb);
    // Primaries 9, transfer 16: a curve for screens of absolute brightness, which is not followed.
    let photo = read(&scene.png_with_chunk(b"cICP", &[9, 16, 0, 1]));
    assert_eq!(photo.notices, [Notice::ProfileIgnored { name: "cICP 9/16".to_owned() }]);
    let photo = read(&scene.png_with_chunk(b"gAMA", &45_455u32.to_be_bytes()));
    assert_eq!(photo.frame.space().curves[0], ToneCurve::Srgb);
    let photo = read(&scene.png_with_chunk(b"gAMA", &100_000u32.to_be_bytes()));
    assert_eq!(photo.frame.space().curves[0], ToneCurve::Power(1.0));
}

/// The memory of the photo before must not show: not where it was brighter, not where it was larger or smaller.
#[test]
fn memory_used_again_gives_the_same_pixels() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let large = Picture { width: 700, height: 500, rgb: vec![250; 3 * 700 * 500] };
    std::fs::write(at("large.jpg"), large.jpeg(&[], None)).unwrap();
    std::fs::write(at("noise.jpg"), Picture::textured(301, 203).jpeg(&[], None)).unwrap();
    let given = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/pictures/jpeg");
    let mut files: Vec<_> = std::fs::read_dir(given).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|path| path.extension().is_some_and(|e| e == "jpg"));
    files.push(at("noise.jpg"));
    assert!(files.len() > 8);
    let samples = |photo: Photo| photo.frame.into_samples();
    let mut read = 0;
    for file in files {
        let mut buffers = Buffers::default();
        let photo = load_into(&mut buffers, &at("large.jpg")).unwrap();
        buffers.take_back(photo);
        match (load(&file), load_into(&mut buffers, &file)) {
            (Ok(fresh), Ok(again)) => {
                assert!(samples(fresh) == samples(again), "{}", file.display());
                read += 1;
            }
            (Err(fresh), Err(again)) => assert_eq!(fresh.code(), again.code()),
            _ => panic!("{}: read only once", file.display()),
        }
    }
    assert!(read > 6);
}

/// A large JPEG is unpacked by two threads; whole or damaged, it must come out as by one.
#[test]
fn two_threads_see_what_one_sees() {
    let whole = Picture::textured(900, 700).jpeg(&[], None);
    assert!(whole.len() > 1 << 20, "large enough to be parted");
    let outcome = |bytes: &[u8]| decode(bytes).map(|photo| photo.frame.into_samples()).map_err(|error| error.code());
    let same = |bytes: &[u8], what: &str| {
        let (two, one) = (outcome(bytes), share::alone(|| outcome(bytes)));
        assert!(two == one, "{what}: {:?} and {:?}", two.as_ref().err(), one.as_ref().err());
        one.is_ok()
    };
    assert!(same(&whole, "whole"));
    let mut random = Random::new(5);
    let mut seen = 0;
    for _ in 0..40 {
        let (at, bit) = (1000 + random.below(whole.len() - 1000), random.below(8));
        let mut spoilt = whole.clone();
        spoilt[at] ^= 1 << bit;
        seen += usize::from(!same(&spoilt, &format!("bit {bit} of byte {at}")));
    }
    assert!(seen > 10, "{seen}");
}
