//! Time to unpack and to reduce a 12-megapixel photo. Run with `cargo bench --bench decode`.
//!
//! Each result is checked before it is timed. Prints the median and the best of the runs in milliseconds.

#![allow(clippy::print_stdout, clippy::unwrap_used)]

mod clock;

use clock::time;
use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder};
use std::hint::black_box;
use tintpoint::colour::space::PhotoSpace;
use tintpoint::measurement::frame::{Frame, Orientation, Samples};
use tintpoint::photo::decode;

const WIDTH: usize = 4000;
const HEIGHT: usize = 3000;

/// Runs a job is timed.
const RUNS: usize = 15;

fn main() {
    let rgb = texture();
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, 90).write_image(&rgb, WIDTH as u32, HEIGHT as u32, ExtendedColorType::Rgb8).unwrap();
    let frame = decode(&jpeg).unwrap().frame;
    assert_eq!((frame.upright_width(), frame.upright_height()), (WIDTH, HEIGHT));
    println!("JPEG of {:.1} MB", jpeg.len() as f64 / 1e6);
    time(RUNS, "decode", || black_box(decode(&jpeg).unwrap()).frame.upright_width());

    for (name, orientation) in [("reduce, upright", Orientation::Upright), ("reduce, turned", Orientation::TurnClockwise)] {
        let frame = Frame::new(WIDTH, HEIGHT, orientation, Samples::Eight(rgb.clone().into()), PhotoSpace::srgb()).unwrap();
        let small = frame.reduced(800);
        assert_eq!(small.width.max(small.height), 800);
        time(RUNS, name, || black_box(frame.reduced(800)).width);
    }
}

/// Slow waves with noise, so that the file has the size of a camera's.
fn texture() -> Vec<u8> {
    let mut noise = 1u32;
    let mut rgb = Vec::with_capacity(3 * WIDTH * HEIGHT);
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let grain = f64::from(noise >> 24) / 16.0 - 8.0;
            let wave = 60.0 * (x as f64 / 130.0).sin() + 40.0 * (y as f64 / 90.0).cos();
            rgb.extend([128.0, 120.0, 110.0].map(|base| (base + wave + grain) as u8));
        }
    }
    rgb
}
