//! What is taken from pixels: robust against glare, blind to what carries no information.

use super::table::{self, HEIGHT, Table, WIDTH};
use tintpoint::colour::space::PhotoSpace;
use tintpoint::colour::tone::srgb_encode;
use tintpoint::measurement::appearance;
use tintpoint::measurement::frame::{Frame, Orientation, Samples};
use tintpoint::measurement::reading::CupReading;
use tintpoint::measurement::samples::{CardSamples, CupSamples, card, cup};
use tintpoint::scene::random::Random;

/// One level of an 8-bit picture.
const LEVEL: f64 = 1.0 / 255.0;

/// A good table with pixel noise of about two levels.
fn noisy(seed: u64) -> Vec<[f64; 3]> {
    let mut random = Random::new(seed);
    let mut levels = Table::good().levels();
    levels.iter_mut().flatten().for_each(|v| *v = (*v + random.normal(2.0 * LEVEL)).clamp(0.0, 1.0));
    levels
}

fn taken(frame: &Frame) -> (CardSamples, Vec<CupSamples>) {
    (card(frame, &table::card()).unwrap(), table::cups().iter().map(|region| cup(frame, region).unwrap()).collect())
}

fn assert_near(one: &CupSamples, other: &CupSamples, epsilon: f64) {
    assert_eq!(one.rings.len(), other.rings.len());
    for (k, (a, b)) in one.rings.iter().zip(&other.rings).enumerate() {
        for c in 0..3 {
            assert!((a.sample.value[c] - b.sample.value[c]).abs() < epsilon, "ring {k}: {:?} {:?}", a.sample, b.sample);
        }
    }
    let (a, b) = (one.white.unwrap(), other.white.unwrap());
    assert!((0..3).all(|c| (a.value[c] - b.value[c]).abs() < epsilon), "white: {a:?} {b:?}");
}

#[test]
fn an_even_area_gives_its_own_value() {
    let (card, cups) = taken(&table::sixteen(&Table::good().levels()));
    for c in 0..3 {
        assert!((card.whole.value[c] - srgb_encode(0.7 * table::GREY)).abs() < 1e-4);
        for cup in &cups {
            assert_eq!(cup.rings.len(), 4);
            let liquid = srgb_encode(0.7 * table::WHITE * table::LIQUID[c]);
            assert!(cup.rings.iter().all(|ring| (ring.sample.value[c] - liquid).abs() < 1e-4));
            assert!((cup.white.unwrap().value[c] - srgb_encode(0.7 * table::WHITE)).abs() < 1e-4);
        }
    }
    assert_eq!(card.parts.len(), 9);
    assert!(cups[0].rings.is_sorted_by(|a, b| a.radii.1 <= b.radii.0 && a.square < b.square));
}

#[test]
fn a_glare_spot_does_not_move_a_ring() {
    let clean = noisy(1);
    let before = taken(&table::eight(&clean)).1;
    let region = table::cups()[0];
    for (dx, dy) in [(9.0, 8.0), (16.0, 5.0), (-20.0, 18.0), (0.0, -30.0), (0.0, 0.0)] {
        let mut spoilt = clean.clone();
        for (i, level) in spoilt.iter_mut().enumerate() {
            let (x, y) = ((i % WIDTH) as f64 - region.liquid.x - dx, (i / WIDTH) as f64 - region.liquid.y - dy);
            if x.hypot(y) < 5.0 {
                *level = [1.0; 3];
            }
        }
        let (mut before, mut after) = (before[0].clone(), taken(&table::eight(&spoilt)).1.swap_remove(0));
        if (dx, dy) == (0.0, 0.0) {
            // A spot right in the middle lies in every sector of the innermost ring; the others must not feel it.
            before.rings.remove(0);
            after.rings.remove(0);
        }
        assert_near(&before, &after, LEVEL);
    }
}

// Twenty-four sectors a ring, counted from the left.
#[test]
fn where_a_pixel_lies_within_its_sector_does_not_matter() {
    let levels = noisy(2);
    let before = taken(&table::eight(&levels)).1;
    let region = table::cups()[0].liquid;
    let mut shuffled = levels.clone();
    let mut random = Random::new(3);
    let (mut moved, sectors) = (0, 24usize);
    for ring in &before[0].rings {
        for sector in 0..sectors {
            // Pixels on a border may be counted on either side of it, so only the inner ones change places.
            let mut inside: Vec<usize> = (0..WIDTH * HEIGHT)
                .filter(|i| {
                    let (dx, dy) = ((i % WIDTH) as f64 - region.x, (i / WIDTH) as f64 - region.y);
                    let (distance, turn) = (dx.hypot(dy), (dy.atan2(dx) / std::f64::consts::TAU + 0.5) * sectors as f64);
                    // Length of arc to the nearer border of the sector.
                    let aside = (turn.fract().min(1.0 - turn.fract())) * std::f64::consts::TAU / sectors as f64 * distance;
                    turn as usize % sectors == sector && distance > ring.radii.0 + 1.5 && distance < ring.radii.1 - 1.5 && aside > 1.5
                })
                .collect();
            for last in (1..inside.len()).rev() {
                inside.swap(last, random.below(last + 1));
            }
            for pair in inside.chunks_exact(2) {
                shuffled.swap(pair[0], pair[1]);
                moved += 1;
            }
        }
    }
    assert!(moved > 50, "only {moved} pairs");
    let after = taken(&table::eight(&shuffled)).1;
    for (a, b) in before[0].rings.iter().zip(&after[0].rings) {
        // Sums in another order.
        assert!((0..3).all(|c| (a.sample.value[c] - b.sample.value[c]).abs() < 1e-9), "{a:?} {b:?}");
    }
    assert_ne!(levels, shuffled, "nothing was shuffled");
}

#[test]
fn eight_and_sixteen_bits_agree_within_quantisation() {
    let levels = noisy(4);
    let (one, other) = (taken(&table::eight(&levels)), taken(&table::sixteen(&levels)));
    for (a, b) in one.1.iter().zip(&other.1) {
        assert_near(a, b, 0.5 * LEVEL);
    }
    assert!((0..3).all(|c| (one.0.whole.value[c] - other.0.whole.value[c]).abs() < 0.5 * LEVEL));
}

/// The same picture stored the way `orientation` says.
fn stored(levels: &[[f64; 3]], orientation: Orientation) -> Frame {
    let (w, h) = if orientation.swaps_sides() { (HEIGHT, WIDTH) } else { (WIDTH, HEIGHT) };
    let mut samples = vec![0u8; 3 * w * h];
    for (i, level) in levels.iter().enumerate() {
        let (x, y) = orientation.stored(i % WIDTH, i / WIDTH, w, h);
        for c in 0..3 {
            samples[3 * (y * w + x) + c] = (level[c] * 255.0).round() as u8;
        }
    }
    Frame::new(w, h, orientation, Samples::Eight(samples.into()), PhotoSpace::srgb()).unwrap()
}

#[test]
fn the_way_a_photo_is_stored_does_not_show() {
    let levels = noisy(5);
    let upright = taken(&table::eight(&levels));
    for exif in 1..=8 {
        assert_eq!(taken(&stored(&levels, Orientation::from_exif(exif))), upright, "orientation {exif}");
    }
}

#[test]
fn a_cup_outside_the_picture_is_not_measured() {
    let frame = table::eight(&Table::good().levels());
    let mut region = table::cups()[0];
    region.liquid.x = 2.0 * WIDTH as f64;
    assert!(cup(&frame, &region).is_none());
    region.liquid.x = f64::NAN;
    assert!(cup(&frame, &region).is_none());
}

/// A table whose cups are filled with something of these transmittances, described beside the card.
fn described(levels: &[[f64; 3]], space: &PhotoSpace) -> CupReading {
    let samples = levels.iter().flatten().map(|v| (v * 65535.0).round() as u16).collect();
    let frame = Frame::new(WIDTH, HEIGHT, Orientation::Upright, Samples::Sixteen(samples), space.clone()).unwrap();
    let (card, cups) = taken(&frame);
    let mut reading = CupReading::unjudged(1, &table::cups()[0], "bromocresol-purple");
    appearance::describe(frame.space(), Some((&card.whole, table::GREY)), &cups[0], &mut reading);
    reading
}

// CIE 15: L* = 116 (Y / Yn)^(1/3) - 16, which is 49.5 at a reflectance of 18 %, a* = b* = 0 for a neutral.
#[test]
fn a_neutral_of_eighteen_per_cent_has_the_published_lightness() {
    for space in [PhotoSpace::srgb(), PhotoSpace::display_p3()] {
        for light in [[1.0, 1.0, 1.0], [1.2, 1.0, 0.6]] {
            // The liquid's place shows the card itself.
            let levels = vec![light.map(|v| srgb_encode(0.5 * v * table::GREY)); WIDTH * HEIGHT];
            let [lightness, a, b] = described(&levels, &space).lab.unwrap();
            assert!((lightness - 49.5).abs() < 0.05 && a.abs() < 0.05 && b.abs() < 0.05, "{lightness} {a} {b}");
        }
    }
}

#[test]
fn density_and_hue_have_their_signs() {
    let reading = described(&Table::good().levels(), &PhotoSpace::srgb());
    let density = reading.density.unwrap();
    for c in 0..3 {
        // D = -log10 of the transmittance.
        assert!((density[c] + table::LIQUID[c].log10()).abs() < 0.005, "{density:?}");
    }
    // Yellow lies on the positive side of b*, and absorbs blue: dye hue is near 0 degrees.
    assert!(reading.lab.unwrap()[2] > 30.0, "{reading:?}");
    let hue = reading.dye_hue.unwrap();
    assert!((hue - (-table::LIQUID[0].log10()).atan2(-table::LIQUID[2].log10()).to_degrees()).abs() < 0.5, "{hue}");
}
