//! Directories, tables and segments that lie: they point outside, in circles, or at themselves, and tell lengths that are not so.

use crate::bench::timed;
use crate::pictures::{self, Exif, Picture};
use tintpoint::measurement::frame::Samples;
use tintpoint::photo::icc;
use tintpoint::photo::metadata::Facts;

/// What a word of four bytes is replaced by: nothing, the first directory, places inside and outside, the most there is.
fn lies(length: usize) -> [u32; 8] {
    [0, 1, 8, length as u32 / 2, length as u32 - 1, length as u32 + 1, 0x7FFF_FFFF, u32::MAX]
}

fn exif() -> Vec<u8> {
    let exif = Exif::default().orientation(6).camera("Example", "One").taken("2026:04:03 12:34:56", "+01:00");
    exif.flash(1).colour_space(0xFFFF).interoperability("R03").block()
}

/// The pixels as stored.
fn pixels(bytes: &[u8], what: &dyn Fn() -> String) -> Option<Samples> {
    timed(bytes, what).ok().map(|photo| photo.frame.into_samples())
}

/// Each block with one word replaced, at every place, by every lie.
fn lying(block: &[u8]) -> impl Iterator<Item = (String, Vec<u8>)> + '_ {
    (0..block.len() - 3).flat_map(move |at| {
        lies(block.len()).into_iter().chain([at as u32]).map(move |lie| {
            let mut bytes = block.to_vec();
            bytes[at..at + 4].copy_from_slice(&lie.to_le_bytes());
            (format!("{lie} at {at}"), bytes)
        })
    })
}

// Directories that lead to themselves, to each other or out of the block; values without end.
#[test]
fn exif_that_lies_costs_facts_only() {
    let scene = Picture::quadrants(24, 16);
    let whole = exif();
    let samples = |bytes: &[u8], what: &str| pixels(bytes, &|| what.to_owned()).unwrap_or_else(|| panic!("{what}: not read"));
    let undamaged = [samples(&scene.jpeg(&whole, None), "jpeg"), samples(&scene.png(&whole), "png"), samples(&scene.webp(&whole), "webp")];
    for (i, (what, block)) in lying(&whole).enumerate() {
        let facts = Facts::read(&block);
        assert!(facts.camera.iter().chain(&facts.taken).all(|text| !text.is_empty() && text.len() <= 320), "{what}: {facts:?}");
        // Packed in a photo, some of them: packing takes longer than reading.
        if i % 23 == 0 {
            let packed = [scene.jpeg(&block, None), scene.png(&block), scene.webp(&block)];
            for (bytes, undamaged) in packed.iter().zip(&undamaged) {
                assert_eq!(samples(bytes, &what), *undamaged, "{what}");
            }
        }
    }
}

// The same for the directories of a TIFF, which the pixels depend on: it is refused, or all of it was read.
#[test]
fn a_tiff_whose_directories_lie_ends() {
    let scene = Picture::textured(6, 5);
    let whole = Exif::default().orientation(6).camera("Example", "One").tiff(&scene);
    let start = u32::from_le_bytes(whole[4..8].try_into().unwrap()) as usize;
    for (what, directories) in lying(&whole[start..]) {
        for shift in [0, start as u32] {
            let mut bytes = [&whole[..start], &directories].concat();
            // Places count from the start of the file.
            if shift > 0 {
                bytes[4..8].copy_from_slice(&(start as u32 + shift / 2).to_le_bytes());
            }
            if let Ok(photo) = timed(&bytes, &|| what.clone()) {
                let frame = &photo.frame;
                assert!(frame.pixel(frame.upright_width() - 1, frame.upright_height() - 1).iter().all(|value| value.is_finite()), "{what}");
            }
        }
    }
}

/// A profile with one word of its head or table replaced, big-endian, as a profile is.
fn lying_profiles(profile: &[u8]) -> impl Iterator<Item = (String, Vec<u8>)> + '_ {
    (0..profile.len() - 3).step_by(2).flat_map(move |at| {
        lies(profile.len()).map(move |lie| {
            let mut bytes = profile.to_vec();
            bytes[at..at + 4].copy_from_slice(&lie.to_be_bytes());
            (format!("{lie} at {at}"), bytes)
        })
    })
}

// Tables of tags that point outside or at each other, counts without end (ICC.1:2022, 7.3).
#[test]
fn profiles_that_lie_give_figures_or_none() {
    for profile in [moxcms::ColorProfile::new_srgb(), moxcms::ColorProfile::new_display_p3(), moxcms::ColorProfile::new_adobe_rgb()] {
        let whole = profile.encode().unwrap();
        assert!(icc::space(&whole).is_ok());
        let cut = (0..whole.len()).map(|length| (format!("cut at {length}"), whole[..length].to_vec()));
        let mut refused = 0;
        for (what, bytes) in lying_profiles(&whole).chain(cut) {
            match icc::space(&bytes) {
                Err(name) => refused += usize::from(!name.is_empty()),
                Ok(space) => {
                    assert!(space.to_srgb.iter().flatten().all(|figure| figure.is_finite()), "{what}: {space:?}");
                    assert!(space.curves.iter().all(|curve| curve.decode(0.5).is_finite()), "{what}: {space:?}");
                }
            }
        }
        assert!(refused > 100, "only {refused} were refused");
    }
}

// Segments that tell a wrong length swallow what follows, or leave a piece of themselves: never another picture.
#[test]
fn segments_of_forged_length_never_give_another_picture() {
    let photo = Picture::quadrants(24, 16).jpeg(&exif(), Some(&moxcms::ColorProfile::new_display_p3().encode().unwrap()));
    for whole in [photo, pictures::file("progressive-420.jpg"), pictures::file("restarts-420.jpg")] {
        let undamaged = pixels(&whole, &String::new).unwrap();
        let mut at = 2;
        let mut forged = 0;
        while let [0xFF, marker, high, low, ..] = whole[at..] {
            let length = u16::from_be_bytes([high, low]);
            for lie in (0..=8).chain([length - 1, length + 1, length + 2, length + 40, length.wrapping_mul(2), 0x7FFF, 0xFFFF]) {
                let mut bytes = whole.clone();
                bytes[at + 2..at + 4].copy_from_slice(&lie.to_be_bytes());
                let what = || format!("segment {marker:X} at {at} of length {length} forged to {lie}");
                if let Some(samples) = pixels(&bytes, &what) {
                    assert!(lie == length || samples == undamaged, "{}", what());
                }
                forged += 1;
            }
            at += 2 + usize::from(length);
            if marker == 0xDA {
                break;
            }
        }
        assert!(forged > 80);
    }
}

/// Chunks of a PNG behind its signature.
fn chunks(png: &[u8]) -> Vec<Vec<u8>> {
    let mut rest = &png[8..];
    let mut all = Vec::new();
    while !rest.is_empty() {
        let length = u32::from_be_bytes(rest[..4].try_into().unwrap()) as usize + 12;
        all.push(rest[..length].to_vec());
        rest = &rest[length..];
    }
    all
}

fn png_of<'a>(chunks: impl IntoIterator<Item = &'a Vec<u8>>) -> Vec<u8> {
    [b"\x89PNG\r\n\x1a\n".to_vec(), chunks.into_iter().flatten().copied().collect()].concat()
}

/// A chunk with another content and the checksum of that.
fn forged(chunk: &[u8], content: &[u8]) -> Vec<u8> {
    let mut out = (content.len() as u32).to_be_bytes().to_vec();
    out.extend(&chunk[4..8]);
    out.extend(content);
    let sum = pictures::crc(&out[4..]);
    out.extend(sum.to_be_bytes());
    out
}

// Chunks that are missing, doubled, out of order, of another length: refused, or the same picture.
#[test]
fn chunks_that_lie_never_give_another_picture() {
    let whole = Picture::textured(24, 16).png(&exif());
    let undamaged = pixels(&whole, &String::new).unwrap();
    let all = chunks(&whole);
    assert!(all.len() >= 4);
    let mut variants: Vec<(String, Vec<u8>)> = Vec::new();
    for i in 0..all.len() {
        variants.push((format!("chunk {i} gone"), png_of(all.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, chunk)| chunk))));
        variants.push((format!("chunk {i} doubled"), png_of(all[..=i].iter().chain(&all[i..]))));
        let mut turned = all.clone();
        turned.rotate_left(i);
        variants.push((format!("chunks from {i} on first"), png_of(&turned)));
        let content = &all[i][8..all[i].len() - 4];
        for lie in lies(all[i].len()) {
            let mut bytes = all.clone();
            bytes[i][..4].copy_from_slice(&lie.to_be_bytes());
            variants.push((format!("chunk {i} of length {lie}"), png_of(&bytes)));
        }
        for length in (0..content.len()).step_by(content.len().div_ceil(20).max(1)) {
            let mut bytes = all.clone();
            bytes[i] = forged(&all[i], &content[..length]);
            variants.push((format!("chunk {i} cut to {length} with its checksum"), png_of(&bytes)));
        }
    }
    let mut same = 0;
    for (what, bytes) in variants {
        if let Some(samples) = pixels(&bytes, &|| what.clone()) {
            assert!(samples == undamaged || what.starts_with("chunks from 0"), "{what}");
            same += 1;
        }
    }
    assert!(same > 3, "the undamaged one and those without Exif are read");
}
