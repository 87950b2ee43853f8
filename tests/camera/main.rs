//! Judges what the real program did with real drivers in a booted kernel. `tests/camera/run` boots it and calls these tests, which are
//! ignored otherwise: TINTPOINT_CAMERA_SHARE names the folder that was shared with the guest.

// A test that cannot do its work must stop.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use image::imageops::{FilterType, resize};
use image::{ImageFormat, Rgb, RgbImage};
use serde_json::Value;
use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};
use std::process::Command;

const WIDTH: u32 = 640;
const HEIGHT: u32 = 480;

fn share() -> PathBuf {
    std::env::var_os("TINTPOINT_CAMERA_SHARE").expect("TINTPOINT_CAMERA_SHARE names no folder: run tests/camera/run").into()
}

fn text(name: &str) -> String {
    fs::read_to_string(share().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

fn status(case: &str) -> i32 {
    text(&format!("{case}.status")).trim().parse().unwrap()
}

/// The report of a case; what went to standard error goes with a failure.
fn report(case: &str) -> Value {
    let out = text(&format!("{case}.out"));
    serde_json::from_str(out.trim_end()).unwrap_or_else(|e| panic!("{case}: {e}: {out}{}", text(&format!("{case}.err"))))
}

/// What the program says of a photo outside the guest.
fn read(path: &Path) -> Value {
    let output = Command::new(env!("CARGO_BIN_EXE_tintpoint")).arg("read").arg(path).args(["--format", "json"]).output().unwrap();
    serde_json::from_slice(&output.stdout).unwrap()
}

/// ITU-R BT.601-7, 2.5.1 to 2.5.3: luma 16 to 235 and colour differences about 128, 16 to 240, rounded.
fn luma_and_differences([r, g, b]: [f64; 3]) -> [f64; 3] {
    let luma = 0.299 * r + 0.587 * g + 0.114 * b;
    [16.0 + 219.0 * luma / 255.0, 128.0 + 224.0 * (b - luma) / 1.772 / 255.0, 128.0 + 224.0 * (r - luma) / 1.402 / 255.0]
}

/// Two pixels in four bytes; colour is the mean of both.
fn yuyv(photo: &RgbImage) -> Vec<u8> {
    let mut bytes = Vec::new();
    for pair in photo.as_raw().chunks_exact(6) {
        let [one, two] = [0, 3].map(|at| luma_and_differences([pair[at], pair[at + 1], pair[at + 2]].map(f64::from)));
        bytes.extend([one[0], (one[1] + two[1]) / 2.0, two[0], (one[2] + two[2]) / 2.0].map(|level| level.round() as u8));
    }
    bytes
}

#[test]
#[ignore = "called by tests/camera/run before it boots the guest"]
fn photo_is_written() {
    let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/nearing.jpg");
    let photo = resize(&image::open(fixture).unwrap().to_rgb8(), WIDTH, HEIGHT, FilterType::Triangle);
    let mut jpeg = Cursor::new(Vec::new());
    photo.write_with_encoder(image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, 95)).unwrap();
    let share = share();
    photo.save_with_format(share.join("photo.png"), ImageFormat::Png).unwrap();
    fs::write(share.join("photo.RGB3"), photo.as_raw()).unwrap();
    fs::write(share.join("photo.YUYV"), yuyv(&photo)).unwrap();
    fs::write(share.join("photo.MJPG"), jpeg.into_inner()).unwrap();
}

#[test]
#[ignore = "called by tests/camera/run after the guest"]
fn guest_reads_the_photo_as_from_a_file() {
    let file = read(&share().join("photo.png"));
    let wanted = file["cups"][0]["ph"].as_f64().expect("the photo has a pH");
    for code in ["RGB3", "YUYV", "MJPG", "torn"] {
        let case = format!("photo-{code}");
        let snap = report(&case);
        assert_eq!(status(&case), 0, "{case}: {}", text(&format!("{case}.err")));
        assert_eq!((&snap["photo"], &snap["camera"]), (&Value::from(format!("{case}.png")), &Value::from("loopcam")), "{case}");
        let ph = snap["cups"][0]["ph"].as_f64().unwrap();
        println!("{case}: pH {ph:.3}, from the file {wanted:.3}");
        assert!((ph - wanted).abs() <= 0.02, "{case}: pH {ph} is not {wanted}");
        assert_eq!((&snap["cups"][0]["state"], &snap["warnings"]), (&file["cups"][0]["state"], &file["warnings"]), "{case}");
        // What was saved is what was read.
        let saved = read(&share().join(format!("{case}.png")));
        assert_eq!(saved["cups"], snap["cups"], "{case}");
    }
}

#[test]
#[ignore = "called by tests/camera/run after the guest"]
fn guest_averages_more_than_eight_bits_exactly() {
    let photo = image::open(share().join("photo.png")).unwrap().to_rgb16();
    // Frames all alike come back unchanged, and torn ones among them do not count.
    for case in ["photo-RGB3", "photo-torn"] {
        let saved = image::open(share().join(format!("{case}.png"))).unwrap();
        assert_eq!(saved.color(), image::ColorType::Rgb16);
        assert!(saved.to_rgb16() == photo, "{case} differs");
    }
}

/// The bars of vivid's first pattern from the left: 75 % of full scale is 191.
const BARS: [[u8; 3]; 8] = [[191, 191, 191], [191, 191, 0], [0, 191, 191], [0, 191, 0], [191, 0, 191], [191, 0, 0], [0, 0, 191], [0, 0, 0]];

/// Mean of a square in the middle of a bar, in 8-bit levels.
fn bar(picture: &image::ImageBuffer<Rgb<u16>, Vec<u16>>, index: u32) -> [f64; 3] {
    let left = WIDTH / 8 * index + WIDTH / 16 - 10;
    let mut sum = [0.0; 3];
    for (x, y) in (0..400).map(|i| (left + i % 20, HEIGHT / 2 - 10 + i / 20)) {
        for (sum, &level) in sum.iter_mut().zip(&picture.get_pixel(x, y).0) {
            *sum += f64::from(level) / 257.0 / 400.0;
        }
    }
    sum
}

#[test]
#[ignore = "called by tests/camera/run after the guest"]
fn guest_sees_the_colours_of_the_driver() {
    // RGB is not converted at all. vivid computes luma and colour differences with whole numbers and cuts them off, up to three levels.
    for (case, tolerance) in
        [("bars-RGB3", 0.0), ("bars-BGR3", 0.0), ("bars-YUYV", 3.0), ("bars-full", 3.0), ("bars-709", 3.0), ("bars-NV12", 3.0)]
    {
        let picture =
            image::open(share().join(format!("{case}.png"))).unwrap_or_else(|e| panic!("{case}: {e}: {}", text(&format!("{case}.err"))));
        let picture = picture.to_rgb16();
        let off =
            (0..8).flat_map(|i| (0..3).map(move |c| (i, c))).map(|(i, c)| (bar(&picture, i)[c] - f64::from(BARS[i as usize][c])).abs());
        let worst = off.fold(0.0, f64::max);
        println!("{case}: {worst:.2} levels off at most");
        assert!(worst <= tolerance + 1e-9, "{case}: {worst} levels off, {:?}", (0..8).map(|i| bar(&picture, i)).collect::<Vec<_>>());
        assert_eq!(status(case), 3, "no card and no cup");
        assert_eq!(text(&format!("{case}.err")), "", "nothing is told, nor counted down, where nobody watches");
        let codes: Vec<Value> = report(case)["warnings"].as_array().unwrap().iter().map(|w| w["code"].clone()).collect();
        assert!(!codes.contains(&Value::from("camera-coding-assumed")), "{case}: {codes:?}");
    }
}

#[test]
#[ignore = "called by tests/camera/run after the guest"]
fn guest_says_that_a_safelight_shows_no_colour() {
    let codes: Vec<Value> = report("red")["warnings"].as_array().unwrap().iter().map(|w| w["code"].clone()).collect();
    assert!(codes.contains(&Value::from("safelight")), "{codes:?}");
    assert_eq!(status("red"), 3);
    let picture = image::open(share().join("red.png")).unwrap().to_rgb16();
    assert_eq!((picture.width(), picture.height(), picture.get_pixel(900, 500).0), (1920, 1080, [65_535, 0, 0]));
    assert!(text("red.err").contains("no white light") && text("red.err").contains("--countdown"), "{}", text("red.err"));
}

#[test]
#[ignore = "called by tests/camera/run after the guest"]
fn guest_leaves_the_controls_as_they_were() {
    assert_eq!(text("gain.out").trim(), "gain_automatic: 1");
}

#[test]
#[ignore = "called by tests/camera/run after the guest"]
fn guest_lists_cameras_and_nothing_else() {
    let list = text("list.out");
    assert_eq!(status("list"), 0);
    assert!(list.starts_with("camera 0: vivid-000-vid-cap\n"), "{list}");
    assert_eq!(list.lines().filter(|line| line.starts_with("camera ")).count(), 1, "{list}");
    assert!(
        list.contains("YUYV 640x480 at") && list.contains("NV12 ") && list.contains("taken unless told otherwise: RGB3 1920x1080"),
        "{list}"
    );
}

#[test]
#[ignore = "called by tests/camera/run after the guest"]
fn guest_tells_every_fault_apart() {
    for (case, code, said) in [
        ("none", "camera-none", "no camera was found"),
        ("absent", "camera-absent", "there is no camera 77"),
        ("metadata", "camera-not-one", "device 1 is no camera"),
        ("size", "camera-not-offered", "641 x 480"),
        ("forbidden", "camera-no-permission", "no permission to use camera 0"),
        ("busy", "camera-busy", "in use by another program"),
        ("silent", "camera-no-frames", "no frame for 6 seconds"),
        ("unplugged", "camera-unplugged", "unplugged"),
        ("moving", "camera-unsteady", "did not keep still"),
        ("overwrite", "save-exists", "already there"),
    ] {
        let errors = text(&format!("{case}.err"));
        assert_eq!(report(case)["error"]["code"], code, "{case}: {errors}");
        assert_eq!(status(case), 1, "{case}: {errors}");
        assert!(errors.starts_with("error: ") && errors.contains(said) && errors.contains("\nhint: "), "{case}: {errors}");
        assert!(!errors.contains("panicked"), "{case}: {errors}");
    }
}
