//! `tintpoint snap`: takes the photo itself, then reads it.

mod list;

use super::args::{Conflict, Format, MeasuringOptions, OutputOptions, picture_file};
use super::bath::photo::{KeepingOptions, Picture};
use super::failure::Status;
use super::output::{self, Output};
use crate::desk;
use crate::measurement::reading::Reading;
use crate::measurement::request::Request;
use crate::measurement::warning::Notice;
use crate::photo::Photo;
use crate::photo::camera::format::PixelFormat;
use crate::photo::camera::{self, CameraError, Plan, Shot, Wanted};
use crate::photo::encode;
use crate::present::{Entry, Failure, sheet, table, text, words};
use crate::store::profiles::shelf::Shelf;
use crate::store::whole;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

const EXAMPLES: &str = "Examples:
  tintpoint snap --list
  tintpoint snap --countdown 20 --save evening.png
  tintpoint snap --device 2 --card 290,40,60,60 --cup 150,170,45
  tintpoint snap --countdown 20 --bath tray-1 --keep-photo

Colour needs white light: while the countdown runs, cover the paper, switch the safelight off and white light on.

Exit status: 0 read and judged, 1 no photo, or it could not be saved, 2 wrong usage, 3 read but nothing could be judged.";

#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct SnapOptions {
    /// Number of the camera, as in /dev/video0; the first usable one when absent.
    #[arg(long, value_name = "N")]
    device: Option<u32>,
    /// List the cameras and what they offer; nothing is taken.
    #[arg(long)]
    list: bool,
    /// Frames to average, 1 to 32; more lower the noise, and below 3 it cannot be told whether the picture kept still.
    #[arg(long, value_name = "N", default_value_t = 8, value_parser = clap::value_parser!(u8).range(1..=32))]
    frames: u8,
    /// Size to take, such as 1280x720; the largest usable one when absent.
    #[arg(long, value_name = "WxH", value_parser = size)]
    size: Option<(u32, u32)>,
    /// How pixels are sent: RGB3, BGR3, YUYV, NV12 or MJPG; what keeps colour best when absent.
    #[arg(long, value_name = "CODE", value_parser = pixels)]
    pixels: Option<PixelFormat>,
    /// Save the averaged picture as a PNG of 16 bits; a file that is there is never overwritten.
    #[arg(long, value_name = "OUT.png", value_parser = png_file)]
    save: Option<PathBuf>,
    /// Seconds to wait before the photo is taken, for covering the paper and switching to white light; 0 to 600.
    #[arg(long, value_name = "S", default_value_t = 0, value_parser = clap::value_parser!(u16).range(0..=600))]
    countdown: u16,
    #[command(flatten)]
    measuring: MeasuringOptions,
    #[command(flatten)]
    output: OutputOptions,
    #[command(flatten)]
    keeping: KeepingOptions,
}

fn size(text: &str) -> Result<(u32, u32), String> {
    let sides = text.split_once('x').and_then(|(w, h)| Some((w.trim().parse().ok()?, h.trim().parse().ok()?)));
    sides.ok_or_else(|| format!("`{text}` is no size\nhint: write width and height with an x between, such as 1280x720"))
}

fn pixels(text: &str) -> Result<PixelFormat, String> {
    let code = <[u8; 4]>::try_from(text.trim().to_uppercase().as_bytes()).ok();
    code.and_then(PixelFormat::from_fourcc).ok_or_else(|| format!("`{text}` is not read\nhint: give RGB3, BGR3, YUYV, NV12 or MJPG"))
}

fn png_file(text: &str) -> Result<PathBuf, String> {
    let path = PathBuf::from(text);
    if path.extension().is_some_and(|e| e.eq_ignore_ascii_case("png")) {
        return Ok(path);
    }
    Err("the name must end in .png\nhint: only PNG keeps the 16 bits; give a name such as evening.png".to_owned())
}

/// Lists cameras, or takes a photo and reads it.
pub(crate) fn run(options: &SnapOptions) -> Result<Status, Conflict> {
    let request = options.measuring.request()?;
    if let Some(picture) = &options.output.picture {
        if !picture.is_dir() && picture_file(&picture.display().to_string()).is_err() {
            return Err(Conflict::PictureKind(picture.clone()));
        }
        if options.save.as_ref() == Some(picture) {
            return Err(Conflict::OverwritesPhoto { option: "--picture", path: picture.clone() });
        }
    }
    if let Some(status) = options.keeping.refusal() {
        return Ok(status);
    }
    let outcome = if options.list { list::list() } else { Run { options, request, shelf: options.measuring.shelf(), status: None }.all() };
    Ok(outcome.unwrap_or_else(|e| {
        output::complain(&format!("cannot write the report: {e}"), None);
        Status::Failed
    }))
}

struct Run<'a> {
    options: &'a SnapOptions,
    request: Request,
    shelf: Shelf,
    /// A failure that decides the status.
    status: Option<Status>,
}

impl Run<'_> {
    fn all(mut self) -> io::Result<Status> {
        let mut out = Output::new();
        let mut entry = Entry { photo: String::new(), taken: None, camera: None, outcome: Err(failure("unread", "not read", "")) };
        match self.shot() {
            Ok((plan, shot)) => self.read(&plan, &shot, &mut entry),
            Err((name, failure)) => {
                output::complain(&failure.message, failure.hint.as_deref());
                self.status = Some(Status::Failed);
                (entry.photo, entry.outcome) = (name, Err(failure));
            }
        }
        let format = self.options.output.format;
        if format == Format::Csv {
            out.put(&table::header().map_err(io::Error::other)?)?;
        }
        out.put(&output::record(&entry, format)?)?;
        if format == Format::Text {
            out.put(&text::cautions(output::columns()))?;
        }
        if let Ok(reading) = &entry.outcome {
            warn_of_safelight(reading);
        }
        Ok(self.status.unwrap_or(if entry.is_judged() { Status::Judged } else { Status::Unjudged }))
    }

    /// Takes the photo; an error goes with the name under which it is reported.
    fn shot(&self) -> Result<(Plan, Shot), (String, Failure)> {
        let name = self.options.device.map_or_else(|| "camera".to_owned(), name);
        if let Some(path) = self.options.save.as_ref().filter(|path| path.symlink_metadata().is_ok()) {
            return Err((name, failure("save-exists", &already_there(path), "give another name, or move that file away")));
        }
        let wanted = Wanted { device: self.options.device, size: self.options.size, format: self.options.pixels };
        let plan = camera::plan(&wanted).map_err(|e| (name, camera_failure(&e)))?;
        count_down(self.options.countdown);
        tell(&format!("{}: {}: {}", name_of(&plan), words::printable(&plan.name), plan.offer));
        let shot = camera::take(&plan, usize::from(self.options.frames)).map_err(|e| (name_of(&plan), camera_failure(&e)))?;
        let kept = |is_locked: bool| if is_locked { "locked" } else { "left to the camera" };
        let (exposure, balance) = (kept(shot.is_exposure_locked), kept(shot.is_white_balance_locked));
        let (frames, odd) = (shot.frames, shot.odd);
        tell(&format!("{frames} frames averaged, {odd} of them unlike the rest; exposure {exposure}, white balance {balance}"));
        Ok((plan, shot))
    }

    fn read(&mut self, plan: &Plan, shot: &Shot, entry: &mut Entry) {
        entry.photo = name_of(plan);
        entry.camera.clone_from(&shot.photo.camera);
        if let Some(path) = &self.options.save {
            match save(path, &shot.photo, &shot.levels) {
                Ok(()) => entry.photo = path.display().to_string(),
                Err(why) => self.fail(Status::Failed, &why, "give a name in a folder that exists and may be written to"),
            }
        }
        let frame = &shot.photo.frame;
        *entry = desk::entry(entry.photo.clone(), &shot.photo, &self.request, &self.shelf);
        let reading = match &entry.outcome {
            Ok(reading) => reading.clone(),
            Err(failure) => {
                let failure = failure.clone();
                self.fail(Status::Usage, &format!("{}: {}", entry.photo, failure.message), failure.hint.as_deref().unwrap_or_default());
                return;
            }
        };
        self.keep(shot, entry);
        if let Some(target) = &self.options.output.picture {
            let stem = Path::new(&entry.photo).file_stem().unwrap_or_default().to_string_lossy().replace(' ', "-");
            let path = if target.is_dir() { target.join(format!("{stem}-reading.png")) } else { target.clone() };
            let drawing = sheet::draw(&entry.photo, frame, &reading, &self.request);
            if let Err(why) = output::picture(&path, &drawing) {
                self.fail(Status::Failed, &why, "give a folder that exists and may be written to");
            }
        }
    }

    /// Into the logbook: the file that was saved, else the picture as it would have been.
    fn keep(&mut self, shot: &Shot, entry: &Entry) {
        let keeping = &self.options.keeping;
        if !keeping.is_wanted() {
            return;
        }
        let salt = self.request.ionic_strength.value();
        let told = match self.options.save.as_deref().filter(|path| entry.photo == path.display().to_string()) {
            Some(path) => keeping.told(Picture::File(path), entry, salt),
            None => match png(&shot.photo, &shot.levels) {
                Ok(bytes) => keeping.told(Picture::Taken(Path::new(&format!("{}.png", entry.photo)), &bytes), entry, salt),
                Err(why) => {
                    output::complain(&why, None);
                    Some(Status::Failed)
                }
            },
        };
        self.status = told.or(self.status);
    }

    fn fail(&mut self, status: Status, message: &str, hint: &str) {
        output::complain(message, Some(hint));
        self.status = Some(status);
    }
}

fn name(number: u32) -> String {
    format!("camera {number}")
}

fn name_of(plan: &Plan) -> String {
    name(plan.number)
}

fn failure(code: &str, message: &str, hint: &str) -> Failure {
    Failure { code: code.to_owned(), message: message.to_owned(), hint: Some(hint.to_owned()) }
}

fn camera_failure(error: &CameraError) -> Failure {
    failure(error.code(), &error.to_string(), error.hint())
}

fn already_there(path: &Path) -> String {
    format!("`{}` is already there, and nothing was taken", path.display())
}

/// Colour cannot be judged under a safelight: said apart, since here something can be done at once.
fn warn_of_safelight(reading: &Reading) {
    if reading.warnings.contains(&Notice::Safelight) {
        let (message, hint) = words::SAFELIGHT_SNAP;
        output::complain(message, Some(hint));
    }
}

/// A line for those who watch; quiet in a pipe.
fn tell(line: &str) {
    let err = io::stderr();
    if err.is_terminal() {
        let _ = writeln!(err.lock(), "{line}");
    }
}

/// Waits, and counts where somebody sees it.
fn count_down(seconds: u16) {
    let err = io::stderr();
    for left in (1..=seconds).rev() {
        if err.is_terminal() {
            let _ = write!(err.lock(), "\r{left:>3} s: {} ", words::COUNTDOWN);
        }
        std::thread::sleep(Duration::from_secs(1));
    }
    if seconds > 0 && err.is_terminal() {
        let _ = writeln!(err.lock());
    }
}

fn png(photo: &Photo, levels: &[u16]) -> Result<Vec<u8>, String> {
    encode::png(photo.frame.upright_width(), photo.frame.upright_height(), levels).map_err(|e| e.to_string())
}

/// Writes the picture; a file that is there stays.
fn save(path: &Path, photo: &Photo, levels: &[u16]) -> Result<(), String> {
    let bytes = png(photo, levels)?;
    whole::write_new(path, |file| file.write_all(&bytes)).map_err(|e| format!("cannot write `{}`: {e}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::camera::format::Offer;
    use std::fs;

    #[test]
    fn sizes_are_two_numbers() {
        assert_eq!(size("1280x720"), Ok((1280, 720)));
        for wrong in ["1280", "1280x", "x720", "1280*720", "-1x5", ""] {
            assert!(size(wrong).unwrap_err().contains("hint"), "{wrong}");
        }
    }

    #[test]
    fn codes_are_taken_in_either_case() {
        assert_eq!(pixels("yuyv"), Ok(PixelFormat::Yuyv));
        assert!(pixels("GREY").unwrap_err().contains("hint") && pixels("").is_err());
    }

    #[test]
    fn only_png_keeps_the_depth() {
        assert!(png_file("a.png").is_ok() && png_file("b.PNG").is_ok());
        assert!(png_file("a.jpg").is_err() && png_file("png").is_err());
    }

    #[test]
    fn saving_is_whole_or_not_at_all() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("evening.png");
        let levels = vec![1000u16; 3 * 20 * 10];
        let bytes = encode::png(20, 10, &levels).unwrap();
        let photo = crate::photo::decode(&bytes).unwrap();
        save(&path, &photo, &levels).unwrap();
        assert_eq!(fs::read(&path).unwrap(), bytes);
        fs::write(&path, "another photo").unwrap();
        assert!(save(&path, &photo, &levels).is_err());
        assert_eq!(fs::read_to_string(&path).unwrap(), "another photo");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "no draft stays behind");
    }

    // No camera is at hand: the photo is a file's, what is tried is where its reading goes.
    #[test]
    fn a_reading_goes_into_the_logbook_with_the_picture_that_was_taken() {
        use crate::cli::args::{Args, Command};
        use clap::Parser;
        let folder = tempfile::tempdir().unwrap();
        let book = folder.path().join("logbook.db");
        let parsed = |args: &[&str]| {
            let logbook = ["--logbook", book.to_str().unwrap()];
            Args::try_parse_from(["tintpoint"].iter().chain(args).chain(&logbook)).unwrap().command
        };
        let new = ["bath", "new", "tray-1", "--acid", "citric-anhydrous", "--grams-per-litre", "15", "--volume", "2l", "--who", "ada"];
        let Command::Bath(options) = parsed(&new) else { panic!() };
        assert_eq!(crate::cli::bath::run(&options), Status::Judged);
        let Command::Snap(options) = parsed(&["snap", "--bath", "tray-1", "--keep-photo", "--who", "ada"]) else { panic!() };
        let photo = crate::photo::load(&Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/nearing.jpg")).unwrap();
        let levels = vec![20_000u16; 3 * photo.frame.upright_width() * photo.frame.upright_height()];
        let bytes = png(&photo, &levels).unwrap();
        let shot = Shot { photo, levels, frames: 8, odd: 0, is_exposure_locked: true, is_white_balance_locked: true };
        let offer = Offer { format: PixelFormat::Yuyv, width: 640, height: 480, rate: 30 };
        let plan = Plan { number: 7, name: "desk".to_owned(), offer };
        let mut entry = Entry { photo: String::new(), taken: None, camera: None, outcome: Err(failure("unread", "not read", "")) };
        let request = options.measuring.request().unwrap();
        let mut run = Run { options: &options, request, shelf: Shelf::default(), status: None };
        run.read(&plan, &shot, &mut entry);
        assert_eq!(run.status, None);
        let entries = crate::store::records::Logbook::look(&book).unwrap().unwrap().entries().unwrap();
        let crate::logbook::event::Event::Reading(reading) = &entries[1].event else { panic!("{entries:?}") };
        let seen = reading.photo.as_ref().unwrap();
        assert!(reading.ph.is_some() && seen.name == "camera 7.png" && seen.kept, "{reading:?}");
        assert_eq!(fs::read(folder.path().join("logbook-photos").join(format!("{}.png", seen.sha256))).unwrap(), bytes);
        // A bath that is not there is told before any camera is asked.
        let Command::Snap(options) = parsed(&["snap", "--bath", "nobody"]) else { panic!() };
        assert_eq!(super::run(&options).unwrap(), Status::Usage);
    }
}
