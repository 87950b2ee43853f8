//! Every kind of file, damaged in thousands of ways.

use crate::bench::{content, damaged, read, readable, timed, wholes};
use crate::pictures::{self, Picture, Random};
use tintpoint::measurement;
use tintpoint::measurement::request::Request;
use tintpoint::photo::decode;

/// Damaged copies of each file.
const COPIES: usize = 400;

// Whatever was done to a file, it is refused, or gives a picture that can be used to its last pixel.
#[test]
fn thousands_of_damaged_files_do_no_harm() {
    let mut random = Random::new(17);
    let (mut refused, mut taken) = (0, 0);
    for whole in wholes() {
        for _ in 0..COPIES {
            let (mut what, mut bytes) = damaged(&whole.bytes, &mut random);
            if random.below(3) == 0 && !bytes.is_empty() {
                let (more, again) = damaged(&bytes, &mut random);
                (what, bytes) = (format!("{what}, {more}"), again);
            }
            match timed(&bytes, &|| format!("{}: {what}", whole.name)) {
                Err(error) => {
                    assert!(!error.code().is_empty() && !error.hint().is_empty());
                    refused += 1;
                }
                Ok(photo) => {
                    let frame = &photo.frame;
                    let corner = frame.pixel(frame.upright_width() - 1, frame.upright_height() - 1);
                    assert!(corner.iter().all(|value| value.is_finite()), "{}: {what}", whole.name);
                    taken += 1;
                }
            }
        }
    }
    assert!(refused > 1000 && taken > 1000, "{refused} refused, {taken} taken: one side is hardly tried");
}

// Cut anywhere before the end of what is needed, it is refused; behind that, it is the same photo.
#[test]
fn a_file_cut_short_is_refused_or_the_same() {
    for whole in wholes() {
        let undamaged = content(decode(&whole.bytes).unwrap_or_else(|e| panic!("{}: {e}", whole.name)));
        for length in 0..whole.bytes.len() {
            let Ok(photo) = timed(&whole.bytes[..length], &|| format!("{} cut at {length}", whole.name)) else { continue };
            assert!(length >= whole.end, "{} cut at {length} of {} was read", whole.name, whole.bytes.len());
            assert_eq!(content(photo), undamaged, "{} cut at {length}", whole.name);
        }
    }
}

// The checksums of ISO/IEC 15948 cover every byte but the signature: no single bit can be off and not be seen.
#[test]
fn any_flipped_bit_of_a_png_is_seen() {
    for whole in wholes().into_iter().filter(|whole| whole.name.contains("png")) {
        for at in 0..whole.bytes.len() {
            for bit in 0..8 {
                let mut bytes = whole.bytes.clone();
                bytes[at] ^= 1 << bit;
                assert!(decode(&bytes).is_err(), "{}: bit {bit} of byte {at} flipped, and read", whole.name);
            }
        }
    }
}

// The photo of a camera, in small: cut at every kilobyte and in between, it never gives a reading.
#[test]
fn a_photo_cut_short_gives_no_number() {
    let made = readable();
    let picture = Picture { width: made.width, height: made.height, rgb: made.rgb };
    for (name, whole) in
        [("jpeg", picture.jpeg(&[], None)), ("png", picture.png(&[])), ("webp", picture.webp(&[])), ("tiff", picture.tiff())]
    {
        let reading = measurement::read(&decode(&whole).unwrap().frame, &Request::default());
        assert!(reading.cups.iter().any(|cup| cup.ph.is_some()), "{name}: {:?}", reading.warnings);
        assert!(whole.len() > 10_000, "{name} has only {} bytes", whole.len());
        for length in (0..whole.len()).step_by(256).chain(whole.len().saturating_sub(40)..whole.len()) {
            // The directory of a TIFF of `image` lies behind its pixels.
            assert!(decode(&whole[..length]).is_err(), "{name} cut at {length} of {}", whole.len());
        }
    }
}

// What cannot be seen in the bytes may change the picture, but must not stop the program.
#[test]
fn photos_with_unseen_damage_are_read_to_the_end() {
    let made = readable();
    let picture = Picture { width: made.width, height: made.height, rgb: made.rgb };
    let mut random = Random::new(23);
    let mut read_through = 0;
    for (name, whole) in [("jpeg", picture.jpeg(&[], None)), ("webp", picture.webp(&[])), ("tiff", picture.tiff())] {
        let mut left = 20;
        for _ in 0..400 {
            let (what, bytes) = damaged(&whole, &mut random);
            let what = || format!("{name}: {what}");
            if let Ok(photo) = timed(&bytes, &what) {
                read(&photo, &what);
                read_through += 1;
                left -= 1;
            }
            if left == 0 {
                break;
            }
        }
    }
    assert!(read_through > 30, "only {read_through} were read");
}
// Codes of a sequential JPEG that do not fit together are seen: 134 of these 600 single flipped bits, and 144 of 300 in `fixtures/nearing.jpg`, which is smoother
// and has more codes for its figures. The rest change figures inside their codes, which nothing in the file can tell from what was meant.
#[test]
fn many_flipped_bits_of_a_jpeg_are_seen() {
    let made = readable();
    let whole = Picture { width: made.width, height: made.height, rgb: made.rgb }.jpeg(&[], None);
    let scan = whole.windows(2).position(|pair| pair == [0xFF, 0xDA]).unwrap() + 14;
    let mut random = Random::new(29);
    let mut refused = 0;
    for _ in 0..600 {
        let mut bytes = whole.clone();
        bytes[scan + random.below(whole.len() - 2 - scan)] ^= 1 << random.below(8);
        refused += usize::from(decode(&bytes).is_err());
    }
    assert!(refused >= 100, "{refused} of 600");
}

// Some cameras leave zeros before the end marker; anything else there are pixels of which nothing was made.
#[test]
fn only_filling_may_follow_the_last_pixel_of_a_jpeg() {
    for name in ["baseline-420.jpg", "restarts-420.jpg", "stored-rgb.jpg"] {
        let whole = pictures::file(name);
        let undamaged = content(decode(&whole).unwrap());
        let (scan, end) = whole.split_at(whole.len() - 2);
        let with = |filling: &[u8]| decode(&[scan, filling, end].concat());
        for filling in [&[0][..], &[0; 7], &[0xFF], &[0xFF; 3], &[0, 0, 0xFF]] {
            assert_eq!(content(with(filling).unwrap()), undamaged, "{name} with {filling:?}");
        }
        for more in [&[0x5A][..], &[0, 0, 0x5A, 0x11], &[0xFF, 0, 0x5A]] {
            assert!(with(more).is_err_and(|error| error.code() == "damaged"), "{name} with {more:?}");
        }
    }
}
