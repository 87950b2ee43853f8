//! What can be typed, and what is wrong with what was typed.

use super::contents::ContentOptions;
use super::later::Later;
use super::watch::WatchOptions;
pub(crate) use crate::desk::typed::{number, quantity};
use crate::indicator::{Indicator, catalogue};
use crate::measurement::profile::Calibrated;
use crate::measurement::regions::{Circle, Rectangle};
use crate::measurement::request::{LightChoice, Limits, Request};
use crate::quantity::{Celsius, IonicStrength, Ph, Reflectance};
use crate::store::profiles::shelf::Shelf;
use crate::store::profiles::{self, ProfileError};
use clap::{Parser, Subcommand, ValueEnum};
use std::path::PathBuf;
use std::sync::Arc;

/// Reads the pH of a photographic stop bath from a photo of its indicator beside a grey card.
#[derive(Debug, Parser)]
#[command(name = "tintpoint", version, max_term_width = 88, after_help = "Example: tintpoint read evening.jpg")]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Read photos of sample cups.
    Read(Later<ReadOptions>),
    /// Read each new photo of a folder as it lands.
    Watch(Later<WatchOptions>),
    /// List the built-in indicators, or show the transition curve of one.
    Indicators(Later<IndicatorOptions>),
    /// Buffers of known pH: list them, or mix your own.
    Buffer(Later<super::buffer::BufferOptions>),
    /// What to measure for a stop bath, its pH and reserve, its label, and its curve.
    Mix(Later<super::mix::MixOptions>),
    /// Questions and figures before a used bath is poured away; never a permission.
    Dispose(Later<super::dispose::DisposeOptions>),
    /// What a bath costs: per litre, batch, roll, sheet, pupil and period.
    Cost(Later<super::cost::CostOptions>),
    /// Calibrate on buffers of known pH: readings in the same light get several times better.
    Calibrate(Later<super::calibrate::CalibrateOptions>),
    /// The profiles that are kept: list, show, export, remove.
    Profiles(super::profiles::ProfilesOptions),
    /// Keep a bath: what went through it, what was read of it, what is left.
    Bath(super::bath::BathOptions),
    /// Make demo photos with known pH to try the program on.
    Demo(Later<DemoOptions>),
    /// Take a photo with a camera and read it.
    Snap(Later<super::snap::SnapOptions>),
    /// Make the placement sheet to print: circles for the cups, a place for the card, marks by which a photo is put straight.
    Sheet(Later<super::sheet::SheetOptions>),
    /// Completions for a shell, to be put where it looks for them.
    Completions(Later<super::manual::CompletionOptions>),
    /// The manual, as pages for `man`.
    Manual(Later<super::manual::ManualOptions>),
    /// Put the same on a page for the phone, on this machine or on the local network.
    Serve(Later<super::serve::ServeOptions>),
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example: tintpoint demo demo-photos")]
pub(crate) struct DemoOptions {
    /// Folder to write into; made when it is not there. Existing files are never overwritten.
    #[arg(value_name = "DIR")]
    pub(crate) folder: PathBuf,
}

const READ_EXAMPLES: &str = "Examples:
  tintpoint read evening.jpg
  tintpoint read evening-photos --report evening.html
  tintpoint read *.jpg --format csv > readings.csv
  tintpoint read row.jpg --labels tray,tank,spare --blank 3
  tintpoint read panel.jpg --panel --indicator 1=bromophenol-blue,2=bromocresol-green,3=bromocresol-purple
  tintpoint read evening.jpg --bath tray-1 --keep-photo
  tintpoint read evening.jpg --card 357,88,162,162 --cup 370,443,71 --picture out.png

Exit status: 0 read and judged, 1 a photo failed, 2 wrong usage, 3 read but nothing could be judged.";

#[derive(Debug, clap::Args)]
#[command(after_help = READ_EXAMPLES)]
pub(crate) struct ReadOptions {
    /// Photos to read: files, folders (their photos, not those of folders inside) or patterns in quotes such as "*.jpg".
    #[arg(required = true, value_name = "PHOTO")]
    pub(crate) photos: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) measuring: MeasuringOptions,
    #[command(flatten)]
    pub(crate) output: OutputOptions,
    /// Write one page with every photo, the worst first, into this HTML file.
    #[arg(long, value_name = "OUT", value_parser = page_file)]
    pub(crate) report: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) keeping: super::bath::photo::KeepingOptions,
    /// Photos read at once; one for each processor unless told.
    #[arg(long, value_name = "N", value_parser = jobs)]
    pub(crate) jobs: Option<usize>,
}

/// What is known about dye, light, card, cups and bath: the same for every command that reads photos.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct MeasuringOptions {
    #[command(flatten)]
    pub(crate) contents: ContentOptions,
    /// Kind of light.
    #[arg(long, value_enum, default_value_t = Light::Auto)]
    pub(crate) light: Light,
    /// Where the grey card is: left, top, width, height in pixels of the upright picture.
    #[arg(long, value_name = "X,Y,W,H", value_parser = rectangle, allow_hyphen_values = true)]
    pub(crate) card: Option<Rectangle>,
    /// Reflectance of the card.
    #[arg(long, value_name = "R", default_value = "0.18", value_parser = reflectance, allow_hyphen_values = true)]
    pub(crate) card_reflectance: Reflectance,
    /// Where a cup's liquid is: centre and radius of its surface in pixels of the upright picture; once for each cup.
    #[arg(long = "cup", value_name = "X,Y,R", value_parser = circle, allow_hyphen_values = true)]
    pub(crate) cups: Vec<Circle>,
    /// Ionic strength of the bath, mol/l.
    #[arg(long, value_name = "M", default_value = "0.3", value_parser = ionic_strength, allow_hyphen_values = true)]
    pub(crate) ionic_strength: IonicStrength,
    /// Temperature of the bath, degrees Celsius.
    #[arg(long, value_name = "C", default_value = "25", value_parser = temperature, allow_hyphen_values = true)]
    pub(crate) temperature: Celsius,
    /// pH from which the bath is nearing exhaustion (common practice, change it to yours).
    #[arg(long, value_name = "PH", default_value = "5.0", value_parser = ph, allow_hyphen_values = true)]
    pub(crate) nearing: Ph,
    /// pH from which the bath is spent (common practice, change it to yours).
    #[arg(long, value_name = "PH", default_value = "5.5", value_parser = ph, allow_hyphen_values = true)]
    pub(crate) spent: Ph,
    /// Read with this profile: a name that `calibrate --save` was given, or a file.
    #[arg(long, value_name = "NAME|FILE")]
    pub(crate) profile: Option<String>,
    /// Read without a profile, also where a kept one was made with the camera of the photo and would be chosen by itself.
    #[arg(long, conflicts_with = "profile")]
    pub(crate) no_profile: bool,
    /// A cup of known pH, which tests the profile: a small drift is corrected in all cups, a large one refuses the photo.
    #[arg(long, value_name = "NUMBER=PH", requires = "profile", value_parser = check)]
    pub(crate) check: Option<(usize, Ph)>,
}

/// Where the readings go, and in which form.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct OutputOptions {
    /// Draw each reading into this PNG or SVG file; a folder when there are several photos.
    #[arg(long, value_name = "OUT")]
    pub(crate) picture: Option<PathBuf>,
    /// Form of the report.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(crate) format: Format,
}

const INDICATOR_EXAMPLES: &str = "Examples:
  tintpoint indicators
  tintpoint indicators bromocresol-purple --picture curve.svg";

#[derive(Debug, clap::Args)]
#[command(after_help = INDICATOR_EXAMPLES)]
pub(crate) struct IndicatorOptions {
    /// The dye to show; all of them are listed when absent.
    #[arg(value_name = "NAME", value_parser = indicator)]
    pub(crate) name: Option<&'static Indicator>,
    /// Ionic strength of the bath, mol/l.
    #[arg(long, value_name = "M", default_value = "0.3", value_parser = ionic_strength, allow_hyphen_values = true)]
    pub(crate) ionic_strength: IonicStrength,
    /// Temperature of the bath, degrees Celsius.
    #[arg(long, value_name = "C", default_value = "25", value_parser = temperature, allow_hyphen_values = true)]
    pub(crate) temperature: Celsius,
    /// Draw the curve into this SVG or PNG file.
    #[arg(long, value_name = "OUT", requires = "name", value_parser = picture_file)]
    pub(crate) picture: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Light {
    /// Inferred from the photo.
    Auto,
    /// Sun or sky.
    Daylight,
    /// Filament lamp.
    Tungsten,
    /// White LED.
    Led,
    /// Fluorescent tube or compact lamp.
    Fluorescent,
}

impl From<Light> for LightChoice {
    fn from(light: Light) -> Self {
        match light {
            Light::Auto => LightChoice::Auto,
            Light::Daylight => LightChoice::Daylight,
            Light::Tungsten => LightChoice::Tungsten,
            Light::Led => LightChoice::Led,
            Light::Fluorescent => LightChoice::Fluorescent,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// For people.
    Text,
    /// One JSON object per photo and line.
    Json,
    /// One row per cup.
    Csv,
}

impl Format {
    /// Its name on the command line.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Format::Text => "text",
            Format::Json => "json",
            Format::Csv => "csv",
        }
    }
}

/// What is wrong between options that are each right alone.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Conflict {
    #[error("--spent {spent} is below --nearing {nearing}")]
    SpentBelowNearing { nearing: Ph, spent: Ph },
    #[error("{option} `{}` would overwrite a photo", path.display())]
    OverwritesPhoto { option: &'static str, path: PathBuf },
    #[error("--picture `{0}` ends neither in .png nor in .svg")]
    PictureKind(PathBuf),
    #[error("--picture `{0}` is a folder of photos to read")]
    PictureAmongPhotos(PathBuf),
    #[error("--picture `{0}` is a file, but a watch needs a folder")]
    PictureNoFolder(PathBuf),
    #[error("--picture `{0}` is a file, but {1} photos need a folder")]
    PictureFile(PathBuf, usize),
    #[error("--at names one time, but a watch reads photos as they come")]
    WatchTime,
    #[error("{0}")]
    Profile(ProfileError),
    #[error("nothing explains the buffers of the profile `{0}`")]
    ProfileUseless(String),
}

impl Conflict {
    /// The next thing to do.
    pub(crate) fn hint(&self) -> String {
        match self {
            Conflict::SpentBelowNearing { nearing, .. } => {
                format!("a bath nears exhaustion before it is spent; give --spent {nearing} or more")
            }
            Conflict::OverwritesPhoto { option: "--report", .. } => "give another name, such as evening.html".to_owned(),
            Conflict::OverwritesPhoto { .. } | Conflict::PictureKind(_) => "give another name, such as reading.png".to_owned(),
            Conflict::PictureAmongPhotos(_) => "give another folder, or the pictures would be read as photos".to_owned(),
            Conflict::PictureFile(..) | Conflict::PictureNoFolder(_) => {
                "give the name of a folder; it is made when it is not there".to_owned()
            }
            Conflict::WatchTime => "leave it out, or write a reading down with `tintpoint read --bath --at`".to_owned(),
            Conflict::Profile(error) => error.hint().to_owned(),
            Conflict::ProfileUseless(_) => "calibrate again".to_owned(),
        }
    }
}

impl MeasuringOptions {
    /// Profiles to choose from: none when one was named, or none is wanted.
    pub(crate) fn shelf(&self) -> Shelf {
        if self.no_profile || self.profile.is_some() {
            return Shelf::default();
        }
        // Readings go on without profiles; that one could not be used must be said all the same.
        let shelf = Shelf::open().unwrap_or_else(Shelf::empty);
        for error in &shelf.damaged {
            super::output::remark(&format!("{error}; it was passed over"));
        }
        shelf
    }

    /// The request, once the options fit each other.
    pub(crate) fn request(&self) -> Result<Request, Conflict> {
        if self.spent < self.nearing {
            return Err(Conflict::SpentBelowNearing { nearing: self.nearing, spent: self.spent });
        }
        Ok(Request {
            contents: self.contents.contents(),
            light: self.light.into(),
            card: self.card,
            card_reflectance: self.card_reflectance,
            cups: self.cups.clone(),
            ionic_strength: self.ionic_strength,
            temperature: self.temperature,
            limits: Limits { nearing: self.nearing, spent: self.spent },
            calibrated: self.profile.as_deref().map(calibrated).transpose()?,
            check: self.check,
        })
    }
}

/// A profile made ready for reading.
fn calibrated(told: &str) -> Result<Arc<Calibrated>, Conflict> {
    let profile = profiles::find(told).map_err(Conflict::Profile)?;
    Calibrated::new(&profile.evidence)
        .map(|calibrated| Arc::new(calibrated.named(told)))
        .ok_or_else(|| Conflict::ProfileUseless(told.to_owned()))
}

pub(crate) fn jobs(text: &str) -> Result<usize, String> {
    match text.trim().parse() {
        Ok(count) if (1..=MOST_JOBS).contains(&count) => Ok(count),
        _ => Err(format!("`{}` is no number from 1 to {MOST_JOBS}\nhint: leave it out to use every processor", text.trim())),
    }
}

/// More photos at once than any machine has processors would only fill its memory.
const MOST_JOBS: usize = 256;

fn check(text: &str) -> Result<(usize, Ph), String> {
    let (number, value) = text.split_once('=').ok_or("no equals sign\nhint: write the cup's number and its pH: 2=6.86")?;
    Ok((super::contents::cup_number(number)?, ph(value)?))
}

pub(crate) fn page_file(text: &str) -> Result<PathBuf, String> {
    let path = PathBuf::from(text);
    let kind = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    match kind.as_deref() {
        Some("html" | "htm") => Ok(path),
        _ => Err("the name must end in .html\nhint: give a name such as evening.html".to_owned()),
    }
}

pub(crate) fn picture_file(text: &str) -> Result<PathBuf, String> {
    let path = PathBuf::from(text);
    let kind = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    match kind.as_deref() {
        Some("png" | "svg") => Ok(path),
        _ => Err("the name must end in .png or .svg\nhint: give a name such as reading.png".to_owned()),
    }
}

pub(super) fn indicator(text: &str) -> Result<&'static Indicator, String> {
    let wanted = text.trim().to_lowercase().replace([' ', '_'], "-");
    catalogue::find(&wanted).ok_or_else(|| {
        let names: Vec<&str> = catalogue::all().iter().map(|dye| dye.name).collect();
        let near = names.iter().min_by_key(|name| edits(name, &wanted)).filter(|name| edits(name, &wanted) <= name.len() / 2);
        let hint = near.map(|name| format!("\nhint: did you mean {name}?")).unwrap_or_default();
        format!("no such indicator; known are {}{hint}", names.join(", "))
    })
}

/// Fewest single letters put in, taken out or changed that turn one word into the other (Levenshtein 1966).
fn edits(one: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (i, a) in one.chars().enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for (j, b) in other.iter().enumerate() {
            let change = corner + usize::from(a != *b);
            corner = row[j + 1];
            row[j + 1] = change.min(corner + 1).min(row[j] + 1);
        }
    }
    row[other.len()]
}

/// A date alone, as it is typed: `2026-03-14`.
pub(crate) fn date(text: &str) -> Result<String, String> {
    // A date with a time would be taken too, and lose it.
    let date = text.trim().parse::<jiff::civil::Date>().ok().filter(|date| date.to_string() == text.trim());
    date.map(|date| date.to_string()).ok_or_else(|| format!("`{}` is no date\nhint: write year, month and day: 2026-03-21", text.trim()))
}

pub(super) fn ph(text: &str) -> Result<Ph, String> {
    quantity(text, Ph::new)
}

pub(super) fn reflectance(text: &str) -> Result<Reflectance, String> {
    quantity(text, Reflectance::new).map_err(|why| format!("{why}\nhint: an 18 % grey card has 0.18"))
}

pub(super) fn ionic_strength(text: &str) -> Result<IonicStrength, String> {
    quantity(text, IonicStrength::new)
}

pub(super) fn temperature(text: &str) -> Result<Celsius, String> {
    quantity(text, Celsius::new)
}

fn numbers<const N: usize>(text: &str, form: &str) -> Result<[f64; N], String> {
    let all: Vec<f64> = text.split(',').map(number).collect::<Result<_, _>>()?;
    let count = all.len();
    all.try_into().map_err(|_| format!("{count} numbers where {N} are needed\nhint: write {form}, in pixels of the upright picture"))
}

pub(super) fn rectangle(text: &str) -> Result<Rectangle, String> {
    let [x, y, w, h] = numbers::<4>(text, "X,Y,W,H: left, top, width, height")?;
    if w <= 0.0 || h <= 0.0 {
        return Err(format!("a card of {w} x {h} pixels has no area\nhint: width and height come third and fourth and are above 0"));
    }
    Ok(Rectangle { x, y, w, h })
}

pub(super) fn circle(text: &str) -> Result<Circle, String> {
    let [x, y, radius] = numbers::<3>(text, "X,Y,R: centre and radius of the liquid's surface")?;
    if radius <= 0.0 {
        return Err(format!("a cup of radius {radius} has no area\nhint: the radius comes third and is above 0"));
    }
    Ok(Circle { x, y, radius })
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn definition_is_sound() {
        Args::command().debug_assert();
    }

    #[test]
    fn defaults_are_common_practice() {
        let args = Args::try_parse_from(["tintpoint", "read", "a.jpg"]).unwrap();
        let Command::Read(options) = args.command else { panic!("not read") };
        let request = options.measuring.request().unwrap();
        assert_eq!(request.contents.dye(1).name, "bromocresol-purple");
        assert_eq!(request.limits, Limits { nearing: Ph::new(5.0).unwrap(), spent: Ph::new(5.5).unwrap() });
        // Pages and logbook take the same without asking.
        assert_eq!((request.limits, request.contents.dye(1).name), (Limits::USUAL, crate::indicator::catalogue::usual().name));
        assert_eq!((request.temperature, request.ionic_strength), (Celsius::new(25.0).unwrap(), IonicStrength::new(0.3).unwrap()));
    }

    #[test]
    fn near_names_are_suggested() {
        assert!(indicator("bromcresol-purple").unwrap_err().contains("did you mean bromocresol-purple?"));
        assert!(!indicator("litmus").unwrap_err().contains("did you mean"));
        assert_eq!(indicator("Bromocresol Green").unwrap().name, "bromocresol-green");
    }

    // The worked example of textbooks: kitten to sitting takes three edits.
    #[test]
    fn edits_are_counted() {
        assert_eq!(edits("kitten", "sitting"), 3);
        assert_eq!(edits("", "abc"), 3);
    }

    #[test]
    fn regions_refuse_what_has_no_area() {
        assert!(rectangle("1,2,3,4").is_ok() && circle(" 1, 2 ,3").is_ok());
        for wrong in ["1,2,3", "1,2,3,0", "1,2,-3,4", "1,2,nan,4", "a,b,c,d", ""] {
            assert!(rectangle(wrong).is_err(), "{wrong}");
        }
        assert!(circle("1,2,inf").is_err() && circle("1,2,-1").is_err());
    }
}
