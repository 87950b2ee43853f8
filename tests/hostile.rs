//! Files that are not what they should be: each gives an error with a name, or the right picture; never a panic, and
//! never half a picture.

// Helpers unwrap like tests do; and stored values must come through unchanged to the last bit.
#![allow(clippy::unwrap_used, clippy::float_cmp)]
#![allow(clippy::print_stdout, reason = "what each file took is shown with --nocapture")]

#[path = "hostile/bench.rs"]
mod bench;
#[path = "hostile/bombs.rs"]
mod bombs;
#[path = "hostile/metadata.rs"]
mod metadata;
#[path = "hostile/seeds.rs"]
mod seeds;
#[path = "hostile/variants.rs"]
mod variants;

mod pictures;

use image::{ExtendedColorType, ImageEncoder};
use pictures::{Exif, Picture, Random};
use std::path::Path;
use tintpoint::photo::{PhotoError, decode, load};

/// The code of the refusal.
fn refusal(bytes: &[u8]) -> &'static str {
    match decode(bytes) {
        Ok(_) => "read",
        Err(error) => told(&error),
    }
}

/// The code, after checking that the words keep to house style: lower case (but for names of formats), no full stop,
/// and a next action.
fn told(error: &PhotoError) -> &'static str {
    let message = error.to_string();
    assert!(!message.is_empty() && !message.ends_with('.'), "{message}");
    assert!(!error.hint().is_empty() && !error.hint().ends_with('.'), "{message}");
    let code = error.code();
    assert!(code.bytes().all(|b| b.is_ascii_lowercase() || b == b'-'), "{code}");
    code
}

fn jpegs() -> Vec<(&'static str, Vec<u8>)> {
    ["baseline-420", "progressive-420", "restarts-420", "baseline-444"].map(|name| (name, pictures::file(&format!("{name}.jpg")))).to_vec()
}

fn others() -> Vec<(&'static str, Vec<u8>)> {
    let scene = Picture::textured(24, 16);
    let exif = Exif::default().orientation(6).camera("Example", "One").taken("2026:04:03 12:34:56", "+01:00");
    let profile = moxcms::ColorProfile::new_display_p3().encode().unwrap();
    vec![
        ("tiff", scene.tiff_with_profile(&profile)),
        ("png", scene.png(&exif.block())),
        ("webp", scene.webp(&exif.block())),
        ("tiff", exif.tiff(&scene)),
        ("tiff", scene.tiff()),
    ]
}

// A photo that breaks off must not come back with its lower half missing: at every length, down to the last byte.
#[test]
fn a_truncated_jpeg_is_never_read() {
    for (name, whole) in jpegs() {
        assert_eq!(refusal(&whole), "read", "{name}");
        for length in 3..whole.len() {
            assert_eq!(refusal(&whole[..length]), "truncated", "{name} cut to {length} of {}", whole.len());
        }
    }
}

// As left by a transfer that reserved the space first: the right size, but zeros from some place on.
#[test]
fn a_jpeg_that_goes_over_into_zeros_is_never_read() {
    for (name, whole) in jpegs() {
        for length in (20..whole.len() - 1).step_by(7) {
            let mut bytes = whole.clone();
            bytes[length..].fill(0);
            assert_ne!(refusal(&bytes), "read", "{name} zero from {length}");
        }
    }
}

#[test]
fn a_piece_missing_between_restarts_is_noticed() {
    let whole = pictures::file("restarts-420.jpg");
    let places: Vec<usize> = (0..whole.len() - 1).filter(|&i| whole[i] == 0xFF && (0xD0..=0xD7).contains(&whole[i + 1])).collect();
    assert!(places.len() >= 2);
    let missing = [&whole[..places[0]], &whole[places[1]..]].concat();
    assert_eq!(refusal(&missing), "damaged");
}

#[test]
fn what_follows_the_end_of_a_jpeg_does_no_harm() {
    let mut bytes = pictures::file("baseline-420.jpg");
    bytes.extend(pictures::file("progressive-444.jpg"));
    assert_eq!(decode(&bytes).unwrap().frame.upright_width(), 45);
}

#[test]
fn padding_between_the_headers_of_a_jpeg_does_no_harm() {
    let whole = pictures::file("baseline-420.jpg");
    // Behind the start marker and the first segment, whose length lies at byte 4.
    let second = 4 + usize::from(u16::from_be_bytes([whole[4], whole[5]]));
    let padded = [&whole[..second], &[0; 10], &whole[second..]].concat();
    assert_eq!(decode(&padded).unwrap().frame.pixel(20, 20), decode(&whole).unwrap().frame.pixel(20, 20));
}

#[test]
fn other_truncated_pictures_are_never_read() {
    for (name, whole) in others() {
        assert_eq!(refusal(&whole), "read", "{name}");
        for length in 12..whole.len() {
            match decode(&whole[..length]) {
                Err(error) => assert!(["truncated", "damaged", "variant"].contains(&told(&error)), "{name} at {length}: {error}"),
                // A TIFF keeps Exif behind its pixels: cut there, the picture is whole.
                Ok(photo) => assert!(name == "tiff" && photo.frame.upright_width() * photo.frame.upright_height() == 24 * 16, "{name}"),
            }
        }
    }
}

#[test]
fn flipped_bits_never_panic() {
    let mut random = Random::new(3);
    let mut read = 0;
    for (_, whole) in jpegs().into_iter().chain(others()) {
        for _ in 0..400 {
            let mut bytes = whole.clone();
            for _ in 0..=random.below(4) {
                let at = random.below(bytes.len());
                bytes[at] ^= 1 << random.below(8);
            }
            match decode(&bytes) {
                Ok(photo) => {
                    // Whatever was read must be usable to the last pixel.
                    let frame = &photo.frame;
                    let corner = frame.pixel(frame.upright_width() - 1, frame.upright_height() - 1);
                    assert!(corner.iter().all(|value| value.is_finite()));
                    assert!(frame.reduced(16).width <= 16);
                    read += 1;
                }
                Err(error) => assert!(!told(&error).is_empty()),
            }
        }
    }
    // Most flips only change colours; a test in which none is read would test nothing.
    assert!(read > 100, "{read}");
}

#[test]
fn random_bytes_behind_each_signature_never_panic() {
    let mut random = Random::new(5);
    let signatures: [&[u8]; 5] =
        [b"\xFF\xD8\xFF", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", b"II*\0\x08\0\0\0", b"MM\0*\0\0\0\x08", b"RIFF\x40\0\0\0WEBPVP8X"];
    for signature in signatures {
        for _ in 0..300 {
            let mut bytes = signature.to_vec();
            bytes.extend((0..random.below(300)).map(|_| random.byte()).collect::<Vec<_>>());
            assert_ne!(refusal(&bytes), "read");
        }
    }
}

/// A JPEG that declares a size and has next to nothing behind it.
fn empty_jpeg(width: u16, height: u16, components: u8, bits: u8) -> Vec<u8> {
    let mut bytes = vec![0xFF, 0xD8, 0xFF, 0xC0, 0, 8 + 3 * components, bits];
    bytes.extend(height.to_be_bytes());
    bytes.extend(width.to_be_bytes());
    bytes.push(components);
    (0..components).for_each(|c| bytes.extend([c + 1, 0x11, 0]));
    bytes.extend([0xFF, 0xDA, 0, 6 + 2 * components, components]);
    (0..components).for_each(|c| bytes.extend([c + 1, 0]));
    bytes.extend([0, 63, 0, 0x55, 0x55, 0xFF, 0xD9]);
    bytes
}

#[test]
fn huge_declared_sizes_are_refused_with_the_limit() {
    let error = decode(&empty_jpeg(65_500, 65_500, 3, 8)).unwrap_err();
    assert_eq!(told(&error), "too-many-pixels");
    assert!(error.to_string().contains("65500 x 65500") && error.to_string().contains("200 million"), "{error}");
    // Below the limit, but the file is far too short to hold it.
    assert_eq!(refusal(&empty_jpeg(14_000, 14_000, 3, 8)), "truncated");
    let mut png = Picture::textured(4, 4).png(&[]);
    png[16..20].copy_from_slice(&100_000u32.to_be_bytes());
    let crc = pictures::crc(&png[12..29]).to_be_bytes();
    png[29..33].copy_from_slice(&crc);
    let error = decode(&png).unwrap_err();
    assert_eq!(told(&error), "side-too-long");
    assert!(error.to_string().contains("100000 x 4") && error.to_string().contains("65535"), "{error}");
    let tiff = Exif::default().tiff(&Picture { width: 60_000, height: 60_000, rgb: vec![0; 12] });
    assert_eq!(refusal(&tiff), "too-many-pixels");
    let tiff = Exif::default().tiff(&Picture { width: 10_000, height: 10_000, rgb: vec![0; 12] });
    assert!(["truncated", "damaged"].contains(&refusal(&tiff)));
}

#[test]
fn sides_of_zero_are_refused() {
    assert_eq!(refusal(&empty_jpeg(0, 10, 3, 8)), "damaged");
    assert_eq!(refusal(&empty_jpeg(10, 0, 3, 8)), "damaged");
}

#[test]
fn pictures_without_three_colours_are_refused_by_name() {
    assert_eq!(refusal(&pictures::file("greyscale.jpg")), "greyscale");
    assert_eq!(refusal(&empty_jpeg(8, 8, 4, 8)), "inks");
    assert_eq!(refusal(&pictures::png16(2, 2, &[7; 4], ExtendedColorType::L16)), "greyscale");
    assert_eq!(refusal(&pictures::png16(2, 2, &[65535; 8], ExtendedColorType::La16)), "greyscale");
    assert_eq!(refusal(&empty_jpeg(8, 8, 3, 12)), "variant");
    assert_eq!(refusal(&pictures::file("arithmetic.jpg")), "variant");
}

#[test]
fn alpha_is_dropped_when_opaque_and_refused_when_not() {
    let rgba = |alpha: u8| {
        let pixels: Vec<u8> = (0..16).flat_map(|i| [i * 10, 100, 200, if i == 5 { alpha } else { 255 }]).collect();
        let mut out = Vec::new();
        image::codecs::png::PngEncoder::new(&mut out).write_image(&pixels, 4, 4, ExtendedColorType::Rgba8).unwrap();
        out
    };
    let photo = decode(&rgba(255)).unwrap();
    assert_eq!(photo.frame.pixel(3, 2), [110.0, 100.0, 200.0].map(|level: f32| level / 255.0));
    let error = decode(&rgba(254)).unwrap_err();
    assert_eq!((told(&error), error.to_string().as_str()), ("transparent", "picture has transparent pixels (1)"));
    let deep: Vec<u16> = (0..4).flat_map(|i| [i * 1000, 2, 3, 65535]).collect();
    let photo = decode(&pictures::png16(2, 2, &deep, ExtendedColorType::Rgba16)).unwrap();
    assert_eq!((photo.frame.bits(), photo.frame.pixel(1, 1)[0]), (16, (3000.0 / 65535.0_f64) as f32));
}

#[test]
fn one_pixel_is_a_picture() {
    let dot = Picture { width: 1, height: 1, rgb: vec![200, 100, 50] };
    for bytes in [dot.png(&[]), dot.webp(&[]), dot.tiff(), dot.jpeg(&[], None)] {
        let frame = decode(&bytes).unwrap().frame;
        assert_eq!((frame.upright_width(), frame.upright_height()), (1, 1));
        assert_eq!(frame.reduced(100).rgb.len(), 3);
    }
}

#[test]
fn the_name_of_a_file_does_not_matter() {
    let folder = tempfile::tempdir().unwrap();
    let scene = Picture::textured(24, 16);
    for (name, bytes) in
        [("a.tif", scene.png(&[])), ("b.png", pictures::file("baseline-420.jpg")), ("c", scene.tiff()), ("d.jpg", scene.webp(&[]))]
    {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        assert!(load(&path).is_ok(), "{name}");
    }
    let path = folder.path().join("e.jpg");
    std::fs::write(&path, "just a text").unwrap();
    assert_eq!(told(&load(&path).unwrap_err()), "not-a-picture");
}

#[test]
fn the_way_to_a_file_may_fail() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(told(&load(folder.path()).unwrap_err()), "is-folder");
    assert_eq!(told(&load(&folder.path().join("none.jpg")).unwrap_err()), "not-found");
    let empty = folder.path().join("empty.jpg");
    std::fs::write(&empty, b"").unwrap();
    assert_eq!(told(&load(&empty).unwrap_err()), "empty");
    assert_eq!(told(&load(Path::new("tests/hostile.rs/inside.jpg")).unwrap_err()), "unreadable");
}

// A sparse file: the size is checked before a byte of it is read.
#[test]
fn a_huge_file_is_refused_with_the_limit() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("huge.jpg");
    std::fs::File::create(&path).unwrap().set_len((1 << 30) + 1).unwrap();
    let error = load(&path).unwrap_err();
    assert_eq!((told(&error), error.to_string().as_str()), ("file-too-large", "file is larger than the limit of 1024 MiB"));
}

#[cfg(unix)]
#[test]
fn a_file_without_permission_is_named() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("locked.jpg");
    std::fs::write(&path, pictures::file("baseline-420.jpg")).unwrap();
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o000)).unwrap();
    match load(&path) {
        Err(error) => assert_eq!(told(&error), "no-permission"),
        // The administrator may read everything.
        Ok(_) => assert!(std::fs::File::open(&path).is_ok()),
    }
}

#[test]
fn raw_and_heic_are_named_with_the_way_out() {
    let error = decode(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic").unwrap_err();
    assert_eq!(told(&error), "high-efficiency");
    assert!(error.hint().contains("JPEG"));
    // A TIFF with the version tag of DNG.
    let mut dng = b"II*\0\x08\0\0\0\x01\0".to_vec();
    dng.extend([0x12, 0xC6, 1, 0, 4, 0, 0, 0, 1, 4, 0, 0, 0, 0, 0, 0]);
    let error = decode(&dng).unwrap_err();
    assert_eq!((told(&error), error.to_string().as_str()), ("raw", "this is a raw camera file (DNG)"));
    assert!(error.hint().contains("TIFF"));
}
