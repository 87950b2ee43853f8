//! Many 12-megapixel photos with one worker and with two: wall time, speed-up, memory. Run with `cargo bench --bench batch`.
//!
//! The program itself is run, as a user would, on a folder of photos that differ a little from each other; what it reads is checked and
//! compared between the numbers of workers. Peak memory is what the kernel notes of the process (VmHWM), so it is given on Linux only.
//! `TINTPOINT_PHOTOS` sets the number of photos, 200 when absent.

#![allow(clippy::print_stdout, reason = "a bench prints its table")]

use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};
use tintpoint::indicator::catalogue;
use tintpoint::photo::encode;
use tintpoint::quantity::{Celsius, IonicStrength, Ph};
use tintpoint::scene::dye::{Lot, Medium, Sample};
use tintpoint::scene::lamp::Lamp;
use tintpoint::scene::options::{Level, Options};
use tintpoint::scene::photograph;
use tintpoint::scene::random::Random;

type Failure = Box<dyn std::error::Error>;

/// JPEG quality at which the rendered grain makes a file as large as a camera's, some megabytes.
const QUALITY: u8 = 97;
/// Rendered photos; the rest are these with other pixels brightened by a level, so that no two files are alike.
const RENDERED: usize = 4;
/// Times each arrangement runs; the best counts, since others use the machine too.
const RUNS: usize = 3;

fn main() -> Result<(), Failure> {
    let count = std::env::var("TINTPOINT_PHOTOS").ok().and_then(|text| text.parse().ok()).unwrap_or(200);
    let folder = tempfile::tempdir()?;
    let bytes = fill(folder.path(), count)?;
    println!("{count} photos of 12 megapixels, {:.1} MB each", bytes as f64 / 1e6 / count as f64);

    let first = fs::read_dir(folder.path())?.next().ok_or("the folder is empty")??.path();
    let single = run(&first, "1")?.peak;
    println!("one photo, one worker: peak {:.1} MB", single as f64 / 1e3);
    let mut times = Vec::new();
    let mut texts = Vec::new();
    for jobs in ["1", "2"] {
        let mut runs = (0..RUNS).map(|_| run(folder.path(), jobs)).collect::<Result<Vec<_>, _>>()?;
        let best = runs.iter().map(|run| run.seconds).fold(f64::INFINITY, f64::min);
        let busy = runs.iter().map(|run| run.busy).fold(f64::INFINITY, f64::min);
        let peak = runs.iter().map(|run| run.peak).max().unwrap_or(0);
        println!(
            "{jobs} worker(s): {best:.2} s, {:.1} ms a photo ({:.1} ms of processor time), peak {:.1} MB, {:.2} times that of one photo",
            1e3 * best / count as f64,
            1e3 * busy / count as f64,
            peak as f64 / 1e3,
            peak as f64 / single as f64
        );
        texts.extend(runs.drain(..).map(|run| run.text));
        times.push(best);
    }
    if texts.iter().any(|text| *text != texts[0]) || texts[0].lines().count() != count {
        return Err("readings differ between runs, or some are missing".into());
    }
    println!("two workers are {:.2} times as fast as one", times[0] / times[1]);
    Ok(())
}

/// Writes the photos; returns their bytes together.
fn fill(folder: &Path, count: usize) -> Result<usize, Failure> {
    let mut scenes = Vec::new();
    for n in 0..RENDERED.min(count) {
        scenes.push(photograph(&options(n)?));
    }
    let mut bytes = 0;
    for n in 0..count {
        let scene = &mut scenes[n % RENDERED];
        // One pixel in a thousand, beginning with another one each time.
        for value in scene.rgb.iter_mut().skip(3 * n).step_by(3001) {
            *value = value.saturating_add(1);
        }
        let file = encode::jpeg(scene.width, scene.height, &scene.rgb, QUALITY)?;
        bytes += file.len();
        fs::write(folder.join(format!("IMG_{n}.jpg")), file)?;
    }
    Ok(bytes)
}

/// A tidy table by daylight with one cup.
fn options(n: usize) -> Result<Options, Failure> {
    let dye = catalogue::find("bromocresol-purple").ok_or("the catalogue has no bromocresol-purple")?;
    let medium = Medium { ionic_strength: IonicStrength::new(0.3)?, temperature: Celsius::new(25.0)? };
    // Beyond the middle of the dye's transition, where no stain can imitate it and each cup is judged.
    let ph = Ph::new(6.2 + 0.1 * n as f64)?;
    let sample = Sample { lot: Lot::drawn(dye, &mut Random::new(3)), ph, dose: 1.1, stain: 0.0 };
    let drawn = Options::drawn(Level::Easy, vec![sample], medium, 11);
    Ok(Options { width: 4000, height: 3000, lamp: Lamp::daylight(5800.0), ..drawn })
}

/// One run of the program.
struct Run {
    /// Readings as JSON.
    text: String,
    /// Wall time.
    seconds: f64,
    /// Processor time of all threads, seconds: it does not depend on who else uses the machine.
    busy: f64,
    /// Peak memory, kB.
    peak: u64,
}

fn run(photos: &Path, jobs: &str) -> Result<Run, Failure> {
    let start = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_tintpoint"))
        .arg("read")
        .arg(photos)
        .args(["--format", "json", "--jobs", jobs])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()?;
    let mut stdout = child.stdout.take().ok_or("no output")?;
    let about = format!("/proc/{}", child.id());
    let reading = thread::spawn(move || {
        let mut text = String::new();
        stdout.read_to_string(&mut text).map(|_| text)
    });
    let (mut peak, mut busy) = (0, 0.0f64);
    let (status, seconds) = loop {
        // Both only rise, so that a look now and then is enough.
        peak = peak.max(high_water(&about).unwrap_or(0));
        busy = busy.max(processor_time(&about).unwrap_or(0.0));
        if let Some(status) = child.try_wait()? {
            break (status, start.elapsed().as_secs_f64());
        }
        thread::sleep(Duration::from_millis(2));
    };
    let text = reading.join().map_err(|_| "the reading of the output failed")??;
    if status.code() != Some(0) {
        return Err(format!("the program ended with {status}").into());
    }
    Ok(Run { text, seconds, busy, peak })
}

fn high_water(process: &str) -> Option<u64> {
    let text = fs::read_to_string(format!("{process}/status")).ok()?;
    text.lines().find_map(|line| line.strip_prefix("VmHWM:"))?.trim().trim_end_matches(" kB").parse().ok()
}

/// Fields 14 and 15 of the line, counted in hundredths of a second (proc(5), proc_pid_stat).
fn processor_time(process: &str) -> Option<f64> {
    let text = fs::read_to_string(format!("{process}/stat")).ok()?;
    // The name before the last bracket may hold spaces.
    let mut fields = text.rsplit_once(')')?.1.split_whitespace().skip(11);
    let mut next = || fields.next()?.parse::<f64>().ok();
    Some((next()? + next()?) / 100.0)
}
