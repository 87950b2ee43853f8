//! Kills, full disks, lost permissions and wrong clocks while profiles, reports and pictures are written: nothing that was there is lost, and
//! nothing half-written is ever seen under its name. Of the logbook, `tests/logbook` does the same.

// Signals, permissions and small disks as Unix has them.
#![cfg(unix)]
// A test that cannot do its work must stop.
#![allow(clippy::unwrap_used)]
#![allow(clippy::print_stdout, reason = "what was skipped, and how often was killed, is shown with --nocapture")]

mod disk;
mod pictures;

use disk::{is_root, small_disk};
use pictures::Picture;
use std::fs::{self, File};
use std::io::Read;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::thread;
use std::time::{Duration, Instant, SystemTime};
use tempfile::TempDir;
use tintpoint::indicator::catalogue;
use tintpoint::quantity::{Celsius, IonicStrength, Ph};
use tintpoint::scene::dye::{Lot, Medium, Sample};
use tintpoint::scene::options::{Level, Options};
use tintpoint::scene::photograph;
use tintpoint::store::profiles;

/// Where cups and card are in the photo is found; two cups, of pH 6.3 and 6.6.
const CALIBRATE: &str = "calibrate buffers.png --ph 6.3,6.6 --light daylight";

/// A folder with a photo of two buffers, and data of its own.
struct Desk {
    folder: TempDir,
}

impl Desk {
    fn new() -> Self {
        let desk = Desk { folder: tempfile::tempdir().unwrap() };
        let medium = Medium { ionic_strength: IonicStrength::new(0.3).unwrap(), temperature: Celsius::new(25.0).unwrap() };
        let lot = Lot::nominal(catalogue::usual());
        let samples = [6.3, 6.6].map(|ph| Sample { lot: lot.clone(), ph: Ph::new(ph).unwrap(), dose: 1.0, stain: 0.0 });
        let made = photograph(&Options { width: 240, height: 180, ..Options::drawn(Level::Easy, samples.to_vec(), medium, 7) });
        let picture = Picture { width: made.width, height: made.height, rgb: made.rgb };
        fs::write(desk.at("buffers.png"), picture.png(&[])).unwrap();
        desk
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn command(&self, words: &str) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_tintpoint"));
        command.args(words.split(' ')).current_dir(self.folder.path()).env("TINTPOINT_DATA", self.at("data"));
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        command
    }

    fn run(&self, words: &str) -> Output {
        self.command(words).output().unwrap()
    }

    fn done(&self, words: &str) {
        let output = self.run(words);
        assert_eq!(output.status.code(), Some(0), "{words}: {}", said(&output));
    }

    /// Fails with status 1, a message and what to do next.
    fn refused(&self, words: &str) -> String {
        let output = self.run(words);
        let err = said(&output);
        assert_eq!(output.status.code(), Some(1), "{words}: {err}");
        assert!(err.contains("error: ") && err.contains("hint: "), "{err}");
        err
    }

    /// Names of the files of a folder that are hidden, so unfinished.
    fn unfinished(&self, folder: &str) -> Vec<String> {
        let names = fs::read_dir(self.at(folder)).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
        names.filter(|name| name.starts_with('.')).collect()
    }

    /// Runs it again and again, killed after delays that spread over its time, and looks at what is there after each.
    fn killed(&self, words: &str, look: impl Fn()) {
        let rounds = rounds();
        let begun = Instant::now();
        self.done(words);
        let mut span = begun.elapsed().mul_f64(1.1);
        let (mut killed, mut lived) = (0, 0);
        for round in 0..10 * rounds {
            if round >= rounds && killed * 4 > rounds {
                break;
            }
            let mut child = self.command(words).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
            thread::sleep(delay(span, round));
            let _ = child.kill();
            let has_ended = child.wait().unwrap().success();
            let (count, change) = if has_ended { (&mut lived, 0.9) } else { (&mut killed, 1.05) };
            *count += 1;
            span = span.mul_f64(change);
            look();
        }
        println!("{words}: {killed} killed, {lived} had ended");
        assert!(killed * 4 > rounds, "only {killed} of {rounds} were killed before they ended");
    }
}

/// Times that a writer is killed.
fn rounds() -> u32 {
    std::env::var("TINTPOINT_KILLS").ok().and_then(|text| text.parse().ok()).unwrap_or(25)
}

/// When to kill what takes `span`: the golden ratio spreads any number of delays evenly; the root puts more of them to the end, where the
/// writing is.
fn delay(span: Duration, round: u32) -> Duration {
    span.mul_f64((f64::from(round) * 0.618_034).fract().sqrt())
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn text(path: &Path) -> String {
    fs::read_to_string(path).unwrap()
}

#[test]
fn a_profile_is_whole_whenever_its_writer_is_killed() {
    let desk = Desk::new();
    let file = desk.at("data/profiles/bench.toml");
    desk.done(&format!("{CALIBRATE} --note first --save bench"));
    desk.killed(&format!("{CALIBRATE} --note second --save bench"), || {
        let profile = profiles::read(&file).unwrap();
        assert!(matches!(profile.note.as_deref(), Some("first" | "second")) && profile.points.len() == 2);
    });
    // What a kill left behind goes with the next one that is kept.
    fs::write(desk.at("data/profiles/.bench.toml.abc123.part"), "half").unwrap();
    desk.done(&format!("{CALIBRATE} --save bench"));
    assert_eq!(desk.unfinished("data/profiles"), [""; 0]);
}

#[test]
fn a_report_is_whole_whenever_its_writer_is_killed() {
    let desk = Desk::new();
    let page = desk.at("page.html");
    desk.killed("read buffers.png --report page.html --picture reading.png", || {
        assert!(text(&page).ends_with("</html>\n"));
        assert!(image::open(desk.at("reading.png")).is_ok());
    });
    fs::write(desk.at(".page.html.abc123.part"), "half").unwrap();
    fs::write(desk.at(".reading.png.abc123.part"), "half").unwrap();
    desk.done("read buffers.png --report page.html --picture reading.png");
    assert_eq!(desk.unfinished("."), [""; 0]);
}

/// Waits for something that a running program does.
fn wait_for(what: impl Fn() -> bool) {
    let begun = Instant::now();
    while !what() {
        // Longer than anything takes here on a busy machine.
        assert!(begun.elapsed() < Duration::from_secs(30));
        thread::sleep(Duration::from_millis(5));
    }
}

/// A running watch, which does not outlive its test.
struct Watch(Child);

impl Watch {
    fn begin(desk: &Desk, words: &str, out: impl Into<Stdio>, err: impl Into<Stdio>) -> Self {
        Watch(desk.command(words).stdout(out).stderr(err).spawn().unwrap())
    }

    /// Kills it; what it had told, if that comes here.
    fn kill(&mut self) -> String {
        self.0.kill().unwrap();
        let mut told = String::new();
        if let Some(out) = &mut self.0.stdout {
            out.read_to_string(&mut told).unwrap();
        }
        self.0.wait().unwrap();
        told
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// True when the watch has noted in this record that the photo's reading was told.
fn is_noted(record: &Path, photo: &str) -> bool {
    fs::read_to_string(record).is_ok_and(|record| record.contains(&format!("{{\"told\":{{\"name\":\"{photo}\"")))
}

const WATCH: &str = "watch photos --existing --settle 0.01 --interval 0.01 --state record.jsonl --picture drawn --format json";

/// The JSON lines of a file, each of which must be whole.
fn lines(path: &Path) -> Vec<serde_json::Value> {
    let text = text(path);
    assert!(text.is_empty() || text.ends_with('\n'), "{}: {:?}", path.display(), text.lines().last());
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn a_watch_tells_every_photo_however_often_it_is_killed() {
    let desk = Desk::new();
    fs::create_dir_all(desk.at("photos")).unwrap();
    let (told, record) = (desk.at("told.jsonl"), desk.at("record.jsonl"));
    let begin = || Watch::begin(&desk, WATCH, File::options().create(true).append(true).open(&told).unwrap(), Stdio::null());
    let photo = |round: u32| format!("IMG_{round}.png");
    let is_drawn = |round: u32| image::open(desk.at("drawn").join(format!("{}-reading.png", photo(round)))).is_ok();
    let mut span = Duration::ZERO;
    for round in 0..=rounds() {
        fs::copy(desk.at("buffers.png"), desk.at("photos").join(photo(round))).unwrap();
        let begun = Instant::now();
        let mut watch = begin();
        if round == 0 {
            wait_for(|| is_noted(&record, &photo(0)));
            span = begun.elapsed();
        }
        thread::sleep(delay(span, round));
        watch.kill();
        // About as many are killed before all is told as after it.
        span = span.mul_f64(if is_noted(&record, &photo(round)) { 0.95 } else { 1.05 });
        // Whatever has its name is whole; what is not is hidden.
        lines(&record);
        for entry in fs::read_dir(desk.at("drawn")).unwrap() {
            let entry = entry.unwrap();
            let is_new = entry.metadata().unwrap().modified().unwrap().elapsed().unwrap_or_default() < 2 * begun.elapsed();
            let is_hidden = entry.file_name().to_string_lossy().starts_with('.');
            assert!(is_hidden || !is_new || image::open(entry.path()).is_ok(), "{}", entry.path().display());
        }
    }
    let mut watch = begin();
    wait_for(|| (0..=rounds()).all(|round| fs::read_to_string(&told).unwrap().contains(&photo(round))));
    watch.kill();
    let told = lines(&told);
    let count = |round: u32| told.iter().filter(|line| line["photo"].as_str().is_some_and(|path| path.ends_with(&photo(round)))).count();
    let counts: Vec<usize> = (0..=rounds()).map(count).collect();
    println!("{} killed, {} photos told twice or more", rounds(), counts.iter().filter(|count| **count > 1).count());
    assert!(counts.iter().all(|count| *count > 0) && (0..=rounds()).all(is_drawn), "{counts:?}");
}

#[test]
fn leavings_of_a_killed_watch_are_cleared_away() {
    let desk = Desk::new();
    fs::create_dir_all(desk.at("photos")).unwrap();
    fs::create_dir_all(desk.at("drawn")).unwrap();
    let drawn = |name: &str| desk.at("drawn").join(format!("{name}-reading.png"));
    for number in [1, 2] {
        fs::copy(desk.at("buffers.png"), desk.at("photos").join(format!("IMG_{number}.png"))).unwrap();
    }
    // Left by a killed watch; being written by another program; a file of somebody else.
    fs::write(desk.at("drawn/.IMG_1.png-reading.png.abc123.part"), "half").unwrap();
    let held = File::create(desk.at("drawn/.IMG_2.png-reading.png.def456.part")).unwrap();
    held.try_lock().unwrap();
    fs::write(desk.at("drawn/.notes.part"), "mine").unwrap();
    fs::write(desk.at(".record.jsonl.abc123.part"), "half").unwrap();
    let mut watch = Watch::begin(&desk, WATCH, Stdio::null(), Stdio::null());
    wait_for(|| [1, 2].iter().all(|number| drawn(&format!("IMG_{number}.png")).exists()));
    let is_clear = || !desk.at("drawn/.IMG_1.png-reading.png.abc123.part").exists() && desk.unfinished(".").is_empty();
    wait_for(|| is_clear() && desk.unfinished("drawn").len() <= 2);
    let mut left = desk.unfinished("drawn");
    left.sort();
    watch.kill();
    assert_eq!(left, [".IMG_2.png-reading.png.def456.part", ".notes.part"]);
    assert_eq!(desk.unfinished("."), [""; 0]);
}

#[test]
fn a_full_disk_keeps_what_was_there() {
    let desk = Desk::new();
    let Some(_disk) = small_disk(&desk.at("disk"), "size=256k") else { return };
    desk.done(&format!("{CALIBRATE} --out disk/bench.toml"));
    fs::write(desk.at("disk/page.html"), "the page of yesterday").unwrap();
    let before = text(&desk.at("disk/bench.toml"));
    // All the room there is; what it ends with is the refusal that is wanted.
    let _ = fs::write(desk.at("disk/filler"), vec![0; 300_000]);
    assert!(desk.refused(&format!("{CALIBRATE} --note more --out disk/bench.toml")).contains("cannot write the profile"));
    let output = desk.run("read buffers.png --format json --report disk/page.html --picture disk/reading.png");
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    // The reading itself is told, whatever cannot be written beside it.
    let told: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(told["cups"].as_array().unwrap().len(), 2);
    assert!(said(&output).contains("page.html") && said(&output).contains("reading.png"), "{}", said(&output));
    assert_eq!((text(&desk.at("disk/bench.toml")), text(&desk.at("disk/page.html"))), (before, "the page of yesterday".to_owned()));
    assert!(desk.unfinished("disk").is_empty() && !desk.at("disk/reading.png").exists());
}

#[test]
fn a_watch_makes_up_for_a_full_disk() {
    let desk = Desk::new();
    let Some(_disk) = small_disk(&desk.at("disk"), "size=64k") else { return };
    fs::create_dir_all(desk.at("photos")).unwrap();
    let words = "watch photos --settle 0.01 --interval 0.01 --state disk/record.jsonl --format json";
    let mut watch = Watch::begin(&desk, words, Stdio::piped(), File::create(desk.at("err")).unwrap());
    wait_for(|| desk.at("disk/record.jsonl").exists());
    let _ = fs::write(desk.at("disk/filler"), vec![0; 70_000]);
    // More than fits into the page that the record has already.
    let names = ["IMG_1.png", "IMG_2.png", "IMG_3.png", "IMG_4.png"];
    for name in names {
        fs::copy(desk.at("buffers.png"), desk.at("photos").join(name)).unwrap();
    }
    wait_for(|| text(&desk.at("err")).contains("cannot write the record"));
    // A line of the record that has its end is whole, also then; one that does not fit is being tried again all the time, and may be seen without its end.
    let is_whole = |line: &str| !line.ends_with('\n') || serde_json::from_str::<serde_json::Value>(line).is_ok();
    assert!(text(&desk.at("disk/record.jsonl")).split_inclusive('\n').all(is_whole));
    fs::remove_file(desk.at("disk/filler")).unwrap();
    wait_for(|| names.iter().all(|name| is_noted(&desk.at("disk/record.jsonl"), name)));
    let told = watch.kill();
    // And nothing is left of the trials.
    let record = text(&desk.at("disk/record.jsonl"));
    assert!(record.ends_with('\n') && record.split_inclusive('\n').all(is_whole), "{record}");
    assert!(names.iter().all(|name| told.matches(name).count() == 1), "{told}");
}

#[test]
fn a_folder_that_may_not_be_written_to_is_told() {
    let desk = Desk::new();
    let folder = desk.at("locked");
    let disk = if is_root() { small_disk(&folder, "size=1m") } else { None };
    if is_root() && disk.is_none() {
        return;
    }
    fs::create_dir_all(&folder).unwrap();
    desk.done(&format!("{CALIBRATE} --out locked/bench.toml --report locked/page.html"));
    let before = (text(&folder.join("bench.toml")), text(&folder.join("page.html")));
    match &disk {
        Some(disk) => assert!(disk.remount("remount,ro")),
        None => fs::set_permissions(&folder, fs::Permissions::from_mode(0o555)).unwrap(),
    }
    assert!(desk.refused(&format!("{CALIBRATE} --note more --out locked/bench.toml")).contains("cannot write the profile"));
    assert!(desk.refused("read buffers.png --report locked/page.html").contains("cannot write the report"));
    assert!(desk.refused("watch . --state locked/record.jsonl").contains("cannot write the record"));
    assert_eq!((text(&folder.join("bench.toml")), text(&folder.join("page.html"))), before);
    // And what is there can still be used.
    desk.done("read buffers.png --profile locked/bench.toml");
    if disk.is_none() {
        fs::set_permissions(&folder, fs::Permissions::from_mode(0o755)).unwrap();
    }
}

#[test]
fn whoever_reads_a_file_while_it_is_replaced_reads_the_old_one() {
    let desk = Desk::new();
    desk.done(&format!("{CALIBRATE} --note first --out bench.toml"));
    let before = text(&desk.at("bench.toml"));
    let mut open = File::open(desk.at("bench.toml")).unwrap();
    desk.done(&format!("{CALIBRATE} --note second --out bench.toml"));
    let mut read = String::new();
    open.read_to_string(&mut read).unwrap();
    assert_eq!(read, before);
    assert!(text(&desk.at("bench.toml")).contains("second"));
    // A folder of that name is no file to be replaced.
    fs::create_dir_all(desk.at("folder.toml/inside")).unwrap();
    desk.refused(&format!("{CALIBRATE} --out folder.toml"));
    assert!(desk.at("folder.toml/inside").is_dir());
}

#[test]
fn a_clock_that_was_set_back_loses_nothing() {
    let desk = Desk::new();
    for (name, now) in [("later", "2026-03-14T21:00:00+01:00[Europe/Vienna]"), ("earlier", "1970-01-02T00:00:00+00:00[UTC]")] {
        let output = desk.command(&format!("{CALIBRATE} --save {name}")).env("TINTPOINT_NOW", now).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{}", said(&output));
        let profile = profiles::read(&desk.at(&format!("data/profiles/{name}.toml"))).unwrap();
        assert_eq!(profile.date.as_deref(), Some(&now[..10]));
    }
    let listed = desk.run("profiles");
    let listed = String::from_utf8_lossy(&listed.stdout);
    assert!(listed.contains("later") && listed.contains("earlier"), "{listed}");

    // Photos whose times lie before and behind all others are read once each, also over a restart.
    fs::create_dir_all(desk.at("photos")).unwrap();
    let mut told = String::new();
    for (name, seconds) in [("IMG_1.png", 1), ("IMG_2.png", 4_102_444_800)] {
        let path = desk.at("photos").join(name);
        fs::copy(desk.at("buffers.png"), &path).unwrap();
        File::options().append(true).open(&path).unwrap().set_modified(SystemTime::UNIX_EPOCH + Duration::from_secs(seconds)).unwrap();
        let mut watch = Watch::begin(&desk, WATCH, Stdio::piped(), Stdio::piped());
        // Killed between telling it and noting that, it would tell it once more.
        wait_for(|| is_noted(&desk.at("record.jsonl"), name));
        told += &watch.kill();
    }
    assert_eq!((told.matches("IMG_1.png").count(), told.matches("IMG_2.png").count()), (1, 1), "{told}");
}
