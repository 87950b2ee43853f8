//! Many photos: folders and patterns, order, workers, the page of a report, and a watched folder.

// A test that cannot do its work must stop.
#![allow(clippy::unwrap_used)]

use image::{Rgb, RgbImage};
use serde_json::Value;
use std::fs;
use std::io::{Read, Write};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::thread;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Where the drawn photo has its card and its cup: the search is left out to be quick.
const TOLD: [&str; 4] = ["--card", "145,20,30,30", "--cup", "75,85,22"];

fn program(args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tintpoint"));
    command.args(args).stdin(Stdio::null());
    command
}

fn read(args: &[&str]) -> Output {
    program(&[&["read"], args, &TOLD].concat()).output().unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn name(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// A flat picture of a bench, paper, a grey card and a cup; `shade` makes one differ from the next.
fn picture(shade: u8) -> RgbImage {
    RgbImage::from_fn(200, 150, |x, y| {
        let distance = (f64::from(x) - 75.0).hypot(f64::from(y) - 85.0);
        // A little grain, since no sensor gives a flat field.
        let grain = ((x * 7 + y * 13) % 5) as u8;
        let colour = if distance < 22.0 {
            [226 - shade, 210 - shade / 2, 96]
        } else if (30..120).contains(&x) && (40..130).contains(&y) {
            [232, 232, 232]
        } else if (140..180).contains(&x) && (15..55).contains(&y) {
            [116, 116, 116]
        } else {
            [58, 56, 54]
        };
        Rgb(colour.map(|v: u8| v.saturating_add(grain)))
    })
}

fn bytes(shade: u8) -> Vec<u8> {
    let mut png = std::io::Cursor::new(Vec::new());
    picture(shade).write_to(&mut png, image::ImageFormat::Png).unwrap();
    png.into_inner()
}

/// A folder with this many different photos, IMG_1.png and so on.
fn folder(photos: u8) -> TempDir {
    let folder = TempDir::new().unwrap();
    for n in 1..=photos {
        fs::write(folder.path().join(format!("IMG_{n}.png")), bytes(3 * n)).unwrap();
    }
    folder
}

fn photos(text: &str) -> Vec<String> {
    let lines = text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap());
    lines.map(|line| Path::new(line["photo"].as_str().unwrap()).file_name().unwrap().to_str().unwrap().to_owned()).collect()
}

#[test]
fn a_folder_is_read_in_natural_order_with_a_count_at_the_end() {
    let folder = folder(11);
    fs::write(folder.path().join("notes.txt"), "no photo").unwrap();
    fs::write(folder.path().join("IMG_3.png"), "broken").unwrap();
    let output = read(&[name(folder.path()), "--format", "json", "--jobs", "2"]);
    let wanted: Vec<String> = (1..=11).map(|n| format!("IMG_{n}.png")).collect();
    assert_eq!(photos(&out(&output)), wanted);
    assert_eq!(output.status.code(), Some(1));
    let said = err(&output);
    assert!(said.contains("11 photos: 10 read, 1 failed; 10 cups: ") && said.contains("passed over: 1 other file"), "{said}");
    // The error of the third photo, its hint, the count: nothing of a bar.
    assert_eq!(said.lines().count(), 3, "{said}");
}

#[test]
fn the_number_of_workers_cannot_be_seen() {
    let folder = folder(9);
    fs::write(folder.path().join("IMG_4.png"), &bytes(12)[..900]).unwrap();
    for format in ["json", "csv", "text"] {
        let runs: Vec<Output> = ["1", "2", "3"].map(|jobs| read(&[name(folder.path()), "--format", format, "--jobs", jobs])).into();
        assert!(!runs[0].stdout.is_empty());
        assert!(runs.iter().all(|run| run.stdout == runs[0].stdout && run.stderr == runs[0].stderr), "{format}");
    }
    // One by one, where a single photo is shared out among the processors.
    let together = out(&read(&[name(folder.path()), "--format", "json"]));
    let single: String = (1..=9).map(|n| out(&read(&[name(&folder.path().join(format!("IMG_{n}.png"))), "--format", "json"]))).collect();
    assert_eq!(together, single);
}

/// Photos large enough that the search and every shared stage take part, with found cups.
#[test]
fn found_cups_are_the_same_for_any_number_of_workers() {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
    let run = |jobs: &str| program(&["read", name(&fixtures.join("*.jpg")), "--format", "json", "--jobs", jobs]).output().unwrap();
    let (one, three) = (run("1"), run("3"));
    assert!(out(&one).lines().count() >= 4, "{}", err(&one));
    assert_eq!(out(&one), out(&three));
    let single = program(&["read", name(&fixtures.join("row-of-cups.jpg")), "--format", "json"]).output().unwrap();
    assert!(out(&one).contains(out(&single).trim_end()));
}

// The main thread is one of the pool: none may be waited for that has nobody to run it, and none counts twice.
#[test]
fn a_single_photo_is_read_the_same_by_any_number_of_helpers() {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
    for photo in ["row-of-cups.jpg", "sheet.jpg"] {
        let path = fixtures.join(photo);
        let run = |helpers: &str| {
            program(&["read", name(&path), "--format", "json"]).env("RAYON_NUM_THREADS", helpers).output().map(|output| output.stdout)
        };
        let one = run("1").unwrap();
        assert!(!one.is_empty());
        for helpers in ["2", "5"] {
            assert!(run(helpers).unwrap() == one, "{photo}, {helpers}");
        }
    }
}

#[test]
fn patterns_expand_without_a_shell_and_must_match() {
    let folder = folder(3);
    let output = read(&[name(&folder.path().join("IMG_[12].png")), "--format", "json"]);
    assert_eq!(photos(&out(&output)), ["IMG_1.png", "IMG_2.png"]);
    let output = read(&[name(&folder.path().join("*.tif")), name(&folder.path().join("IMG_3.png")), "--format", "json"]);
    assert_eq!(output.status.code(), Some(1));
    let lines: Vec<Value> = out(&output).lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(lines[0]["error"]["code"], "no-match");
    assert_eq!(lines.len(), 2);
    assert!(err(&output).contains("no file matches") && err(&output).contains("hint: "), "{}", err(&output));
}

#[test]
fn the_page_holds_every_photo_and_asks_for_nothing() {
    let folder = folder(4);
    fs::write(folder.path().join("<script>alert(1)</script>.png".replace('/', "_")), bytes(90)).unwrap();
    fs::write(folder.path().join("broken.jpg"), "no picture").unwrap();
    let place = TempDir::new().unwrap();
    let page = place.path().join("evening.html");
    let mut pages = Vec::new();
    for jobs in ["1", "3"] {
        read(&[name(folder.path()), "--report", name(&page), "--format", "csv", "--jobs", jobs]);
        pages.push(fs::read_to_string(&page).unwrap());
    }
    // Not assert_eq, which would print both.
    assert!(pages[0] == pages[1]);
    let page = &pages[0];
    assert_eq!(page.matches("<article").count(), 6);
    assert_eq!(page.matches("data:image/jpeg;base64,").count(), 5);
    for wrong in ["<script", "http://", "https://", "url(", "@import", "src=", "<link"] {
        assert!(!page.contains(wrong), "{wrong}");
    }
    assert!(page.starts_with("<!DOCTYPE html>") && page.trim_end().ends_with("</html>"));
    // Worst first: each photo's urgency is not below that of the one after it.
    let order = ["spent", "unclear", "failed", "nearing", "fresh"];
    let ranks: Vec<usize> = page
        .split("<tr><td><a href")
        .skip(1)
        .map(|row| row.split("</td>").nth(1).unwrap())
        .map(|cell| order.iter().position(|word| cell.ends_with(word)).unwrap())
        .collect();
    assert!(ranks.len() == 6 && ranks.is_sorted(), "{ranks:?}");
}

#[test]
fn a_page_takes_no_photos_place_and_needs_a_folder() {
    let folder = folder(2);
    let at = |file: &str| folder.path().join(file);
    fs::copy(at("IMG_1.png"), at("odd.html")).unwrap();
    let output = read(&[name(&at("IMG_1.png")), "--report", name(&at("odd.html"))]);
    assert_eq!(output.status.code(), Some(2));
    assert!(err(&output).contains("would overwrite a photo"), "{}", err(&output));
    assert_eq!(fs::read(at("odd.html")).unwrap(), fs::read(at("IMG_1.png")).unwrap());
    let output = read(&[name(&at("IMG_1.png")), "--report", name(&at("nowhere/page.html"))]);
    assert_eq!(output.status.code(), Some(1));
    assert!(out(&output).is_empty() && err(&output).contains("hint: "), "told before the work begins: {}", out(&output));
}

/// A run that is killed leaves the page that was there before, and no other name.
#[test]
fn a_killed_run_leaves_the_old_page() {
    let folder = folder(12);
    let page = folder.path().join("evening.html");
    fs::write(&page, "the page of yesterday").unwrap();
    let before = fs::read_dir(folder.path()).unwrap().count();
    let args = [&["read", name(folder.path()), "--report", name(&page), "--format", "json"], &TOLD[..]].concat();
    let mut child = program(&args).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    // The first reading has come: the work is under way.
    child.stdout.as_mut().unwrap().read_exact(&mut [0]).unwrap();
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!(fs::read_to_string(&page).unwrap(), "the page of yesterday");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), before);
}

#[test]
fn pictures_of_a_folder_never_take_a_photos_place() {
    let folder = folder(1);
    fs::rename(folder.path().join("IMG_1.png"), folder.path().join("IMG.png")).unwrap();
    let photo = folder.path().join("IMG-reading.png");
    fs::write(&photo, bytes(50)).unwrap();
    let output = read(&[name(folder.path()), "--picture", name(folder.path()), "--format", "json"]);
    assert_eq!(output.status.code(), Some(2), "at the next run the pictures would be read as photos");
    let pattern = folder.path().join("*.png");
    let output = read(&[name(&pattern), "--picture", name(folder.path()), "--format", "json"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    assert_eq!(fs::read(&photo).unwrap(), bytes(50));
    assert!(folder.path().join("IMG-2-reading.png").is_file());
}

#[test]
fn a_reader_who_goes_away_ends_the_work() {
    let folder = folder(40);
    let args = [&["read", name(folder.path()), "--format", "json"], &TOLD[..]].concat();
    let mut child = program(&args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!((output.status.code(), err(&output)), (Some(0), String::new()));
}

/// A running watch; its lines come as they are written.
struct Watch {
    child: Child,
    lines: Receiver<String>,
}

/// Longer than anything takes here on a busy machine.
const LONG: Duration = Duration::from_secs(30);

impl Watch {
    fn start(folder: &Path, state: &Path, more: &[&str]) -> Self {
        let quick = ["--interval", "0.02", "--format", "json", "--jobs", "1"];
        let more = if more.contains(&"--settle") { more.to_vec() } else { [more, &["--settle", "0.1"]].concat() };
        let args = [&["watch", name(folder), "--state", name(state)], &quick[..], &more, &TOLD].concat();
        let mut child = program(&args).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let (sender, lines) = mpsc::channel();
        let mut stdout = child.stdout.take().unwrap();
        thread::spawn(move || {
            let mut text = Vec::new();
            let mut buffer = [0; 4096];
            while let Ok(count @ 1..) = stdout.read(&mut buffer) {
                text.extend_from_slice(&buffer[..count]);
                while let Some(end) = text.iter().position(|b| *b == b'\n') {
                    let line = text.drain(..=end).collect();
                    let _ = sender.send(String::from_utf8(line).unwrap());
                }
            }
        });
        // Only when the record is there does the watch know what lay in the folder before it.
        let watch = Watch { child, lines };
        wait_for(|| state.metadata().is_ok_and(|about| about.len() > 0));
        watch
    }

    /// Name of the photo of the next line.
    fn next(&self) -> String {
        photos(&self.lines.recv_timeout(LONG).unwrap()).remove(0)
    }

    /// Fails when something comes that should not.
    fn nothing(&self) {
        let line = self.lines.recv_timeout(Duration::from_millis(400));
        assert!(line.is_err(), "{line:?}");
    }

    fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn wait_for(what: impl Fn() -> bool) {
    let start = Instant::now();
    while !what() {
        assert!(start.elapsed() < LONG);
        thread::sleep(Duration::from_millis(5));
    }
}

#[test]
fn a_watch_reads_what_lands_and_nothing_twice() {
    let (folder, place) = (folder(1), TempDir::new().unwrap());
    let state = place.path().join("record.jsonl");
    let at = |file: &str| folder.path().join(file);
    let watch = Watch::start(folder.path(), &state, &[]);
    fs::write(at("IMG_2.png"), bytes(10)).unwrap();
    assert_eq!(watch.next(), "IMG_2.png", "what was there before is left alone");

    // Renamed into place after it was hidden or unfinished.
    fs::write(at(".IMG_3.png"), bytes(20)).unwrap();
    fs::write(at("IMG_4.png.part"), bytes(30)).unwrap();
    fs::write(at("notes.txt"), "no photo").unwrap();
    watch.nothing();
    fs::rename(at(".IMG_3.png"), at("IMG_3.png")).unwrap();
    assert_eq!(watch.next(), "IMG_3.png");

    // The same photo touched or renamed; another photo under the name of one that was read; a copy.
    fs::write(at("IMG_2.png"), bytes(10)).unwrap();
    fs::rename(at("IMG_3.png"), at("IMG_5.png")).unwrap();
    watch.nothing();
    fs::write(at(".new"), bytes(40)).unwrap();
    fs::rename(at(".new"), at("IMG_2.png")).unwrap();
    assert_eq!(watch.next(), "IMG_2.png");
    fs::copy(at("IMG_2.png"), at("IMG_6.png")).unwrap();
    assert_eq!(watch.next(), "IMG_6.png");

    // What lands while nobody watches is read at the next start, the rest is not read again. Killed at once, the watch might not have
    // noted yet that it has told the last one.
    watch.nothing();
    watch.kill();
    fs::write(at("IMG_7.png"), bytes(50)).unwrap();
    let watch = Watch::start(folder.path(), &state, &[]);
    assert_eq!(watch.next(), "IMG_7.png");
    watch.nothing();
    watch.kill();
    let watch = Watch::start(folder.path(), &state, &["--existing"]);
    assert_eq!(watch.next(), "IMG_1.png", "asked for, what was there before the first start is read too");
    watch.nothing();
}

#[test]
fn a_photo_that_grows_slowly_is_read_once_and_whole() {
    let (folder, place) = (folder(0), TempDir::new().unwrap());
    let watch = Watch::start(folder.path(), &place.path().join("record.jsonl"), &[]);
    let whole = bytes(10);
    let mut file = fs::File::create(folder.path().join("IMG_1.png")).unwrap();
    // Slower than the file takes to settle, as over a weak network.
    for part in whole.chunks(whole.len().div_ceil(4)) {
        watch.nothing();
        file.write_all(part).unwrap();
    }
    let line: Value = serde_json::from_str(&watch.lines.recv_timeout(LONG).unwrap()).unwrap();
    assert_eq!(line["cups"].as_array().map(Vec::len), Some(1), "{line}");
    watch.nothing();
}

#[test]
fn a_photo_that_stays_broken_is_told_once() {
    let (folder, place) = (folder(0), TempDir::new().unwrap());
    let state = place.path().join("record.jsonl");
    let watch = Watch::start(folder.path(), &state, &["--settle", "0.03"]);
    fs::write(folder.path().join("IMG_1.png"), &bytes(10)[..500]).unwrap();
    let line: Value = serde_json::from_str(&watch.lines.recv_timeout(LONG).unwrap()).unwrap();
    assert!(line["error"]["code"].is_string());
    watch.nothing();
    fs::write(folder.path().join("IMG_1.png"), bytes(10)).unwrap();
    assert_eq!(watch.next(), "IMG_1.png", "once mended it is read");
}

#[test]
fn two_watches_do_not_share_a_record() {
    let (folder, place) = (folder(0), TempDir::new().unwrap());
    let state = place.path().join("record.jsonl");
    let _first = Watch::start(folder.path(), &state, &[]);
    let second = program(&["watch", name(folder.path()), "--state", name(&state)]).output().unwrap();
    assert_eq!(second.status.code(), Some(1));
    assert!(err(&second).contains("another watch") && err(&second).contains("hint: "), "{}", err(&second));
}

/// Without `--state` the record lies in the data folder, and two names of one folder lead to the same one.
#[test]
fn the_record_lies_in_the_data_folder() {
    let (folder, place) = (folder(0), TempDir::new().unwrap());
    let record = || fs::read_dir(place.path().join("watch")).is_ok_and(|all| all.count() >= 2);
    let mut first = program(&["watch", name(folder.path())]).env("TINTPOINT_DATA", place.path()).stdout(Stdio::null()).spawn().unwrap();
    wait_for(record);
    let other_name = folder.path().join(".");
    let second = program(&["watch", name(&other_name)]).env("TINTPOINT_DATA", place.path()).output().unwrap();
    first.kill().unwrap();
    first.wait().unwrap();
    assert!(err(&second).contains("another watch"), "{}", err(&second));
}

/// Killed at any moment, a watch loses no photo, and tells one twice only when it was killed between telling and noting it.
#[test]
fn kills_lose_nothing() {
    let (folder, place) = (folder(0), TempDir::new().unwrap());
    let state = place.path().join("record.jsonl");
    Watch::start(folder.path(), &state, &[]).kill();
    let mut told = Vec::new();
    for round in 1..=8u8 {
        for n in 0..3 {
            fs::write(folder.path().join(format!("IMG_{round}_{n}.png")), bytes(10 * n + round)).unwrap();
        }
        let watch = Watch::start(folder.path(), &state, &["--settle", "0.01"]);
        // Moments spread over the time that three photos take.
        thread::sleep(Duration::from_millis(7 * u64::from(round)));
        told.extend(watch.finish());
    }
    let watch = Watch::start(folder.path(), &state, &["--settle", "0.01"]);
    while let Ok(line) = watch.lines.recv_timeout(Duration::from_millis(1500)) {
        told.push(line);
    }
    let mut names: Vec<String> = told.iter().flat_map(|line| photos(line)).collect();
    let count = names.len();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), 24);
    assert!(count <= 24 + 8, "{count} lines: at most one for each kill is told again");
}

impl Watch {
    /// Kills it and returns the whole lines that had been written.
    fn finish(mut self) -> Vec<String> {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        let mut rest = Vec::new();
        while let Ok(line) = self.lines.recv_timeout(LONG) {
            rest.push(line);
        }
        rest
    }
}
