//! `tintpoint calibrate`.

mod own;

use super::args::{self, Light};
use super::failure::{Status, Stop};
use super::output;
use crate::calibration::{CalibrationError, Finding, Rung};
use crate::desk::calibrate::{self, Made, Row};
use crate::desk::{check_regions, clock};
use crate::indicator::Indicator;
use crate::measurement::profile::{Calibrated, Profile};
use crate::measurement::regions::{Circle, Rectangle};
use crate::photo::Photo;
use crate::present::calibration as words;
use crate::quantity::{Celsius, IonicStrength, Ph, Reflectance};
use crate::store::{profiles, whole};
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "Examples:
  tintpoint calibrate buffers.jpg --ph 4.01,5.00,5.60,6.10,6.60,7.40 --save bench-lamp
  tintpoint calibrate buffers.jpg --buffer phthalate@20,phosphate@20 --out lamp.toml
  tintpoint calibrate buffers.jpg --labels left,mid,right --ph right=6.6,left=5.2,mid=6.1 --save bench-lamp
  tintpoint calibrate ends.jpg --ends --lot 12 --save bench-lamp --report bench-lamp.html
  tintpoint calibrate ladder.jpg --ladder 0,25,50,75,90,100,125,soda --bath tank --save bench-lamp
  tintpoint calibrate ladder.jpg --ladder 0,50,75,100,soda --acid acetic --strength 28 --dilution 1+19 --sample 10 --used 2.4 --developer carbonate-1+2 --out own.toml
  tintpoint read evening.jpg --profile bench-lamp

`tintpoint bath ladder` says how to mix the cups of --ladder.

Exit status: 0 calibrated, 1 a photo or file failed, 2 wrong usage, 3 looked but cannot calibrate.";

#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
#[command(group(clap::ArgGroup::new("cups_hold").required(true).args(["ph", "buffers", "ends", "ladder"])))]
#[command(group(clap::ArgGroup::new("target").required(true).args(["out", "save"])))]
pub(crate) struct CalibrateOptions {
    /// Photos of cups with buffers, all with the camera and in the light that readings will be made with.
    #[arg(required = true, value_name = "PHOTO")]
    photos: Vec<PathBuf>,
    /// The dye in the cups (`tintpoint indicators` lists them).
    #[arg(long, value_name = "NAME", default_value = "bromocresol-purple", value_parser = args::indicator)]
    indicator: &'static Indicator,
    /// pH of each cup, photo after photo, in the order of --cup, else of the numbers that `tintpoint read` gives.
    /// With --labels also by name: tray=5.00,spare=4.01.
    #[arg(long, value_name = "PH", value_delimiter = ',', value_parser = told_ph, allow_hyphen_values = true)]
    ph: Vec<Told>,
    /// Names of the cups in their order: A,B,C; a pH can then be given by name.
    #[arg(long, value_name = "NAMES", value_delimiter = ',', requires = "ph")]
    labels: Vec<String>,
    /// Standard uncertainty of the pH given with --ph.
    #[arg(long, value_name = "PH", default_value = "0.02", value_parser = ph_sd, allow_hyphen_values = true)]
    ph_sd: f64,
    /// Buffer in each cup instead of a pH, with its temperature: phosphate@20 (`tintpoint buffer` lists them).
    #[arg(long = "buffer", value_name = "NAME@C", value_delimiter = ',')]
    buffers: Vec<String>,
    /// Two cups without any buffer: first fresh bath, then the same bath with an excess of baking soda.
    #[arg(long)]
    ends: bool,
    #[command(flatten)]
    own: own::LadderOptions,
    /// Kind of light.
    #[arg(long, value_enum, default_value_t = Light::Auto)]
    light: Light,
    /// Where the grey card is: left, top, width, height in pixels of the upright picture; one photo only.
    #[arg(long, value_name = "X,Y,W,H", value_parser = args::rectangle, allow_hyphen_values = true)]
    card: Option<Rectangle>,
    /// Reflectance of the card.
    #[arg(long, value_name = "R", default_value = "0.18", value_parser = args::reflectance, allow_hyphen_values = true)]
    card_reflectance: Reflectance,
    /// Where a cup's liquid is: centre and radius of its surface; once for each cup, one photo only.
    #[arg(long = "cup", value_name = "X,Y,R", value_parser = args::circle, allow_hyphen_values = true)]
    cups: Vec<Circle>,
    /// Ionic strength of buffers given by their pH, mol/l.
    #[arg(long, value_name = "M", default_value = "0.1", value_parser = args::ionic_strength, allow_hyphen_values = true)]
    ionic_strength: IonicStrength,
    /// Temperature of the buffers, degrees Celsius; that of --buffer when it says so.
    #[arg(long, value_name = "C", value_parser = args::temperature, allow_hyphen_values = true)]
    temperature: Option<Celsius>,
    /// Lot of the indicator.
    #[arg(long, value_name = "TEXT")]
    lot: Option<String>,
    /// Date of the photos, where they do not tell it themselves; today unless told.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = args::date)]
    date: Option<String>,
    /// A note to keep: lamp, cups.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// Draw the transition curve with the buffers on it and their errors, into a file ending in .png or .svg.
    #[arg(long, value_name = "OUT", value_parser = args::picture_file)]
    picture: Option<PathBuf>,
    /// Write the same with all figures on one page, into an HTML file.
    #[arg(long, value_name = "OUT", value_parser = args::page_file)]
    report: Option<PathBuf>,
    /// Write the profile into this file.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Keep the profile under this name.
    #[arg(long, value_name = "NAME")]
    save: Option<String>,
}

/// A pH with or without the name of its cup.
#[derive(Debug, Clone)]
struct Told {
    label: Option<String>,
    ph: Ph,
}

fn told_ph(text: &str) -> Result<Told, String> {
    match text.rsplit_once('=') {
        Some((label, value)) => Ok(Told { label: Some(label.trim().to_owned()), ph: args::ph(value)? }),
        None => Ok(Told { label: None, ph: args::ph(text)? }),
    }
}

/// The pH of each cup in order, also where they were given by name.
fn in_order(told: &[Told], labels: &[String]) -> Result<Vec<Ph>, Stop> {
    let wrong = |message: String, hint: &str| Stop::new(Status::Usage, message, Some(hint));
    let named = told.iter().filter(|told| told.label.is_some()).count();
    if named == 0 && !labels.is_empty() {
        return Err(wrong(
            "the cups have names, but no pH is given by one".to_owned(),
            "write --ph NAME=PH for each name, or leave out --labels",
        ));
    }
    if named == 0 {
        return Ok(told.iter().map(|told| told.ph).collect());
    }
    if named < told.len() {
        return Err(wrong("some pH have the name of a cup and some have none".to_owned(), "name all of them or none"));
    }
    if labels.is_empty() {
        return Err(wrong(
            "a pH was given by the name of a cup, but the cups have no names".to_owned(),
            "give the names in the order of the cups: --labels A,B,C",
        ));
    }
    if let Some((_, twice)) = labels.iter().enumerate().find(|(k, label)| labels[..*k].contains(label)) {
        return Err(wrong(format!("two cups are called `{twice}`"), "give every cup a name of its own"));
    }
    let one = |label: &String| {
        let mut fitting = told.iter().filter(|told| told.label.as_deref() == Some(label.trim()));
        match (fitting.next(), fitting.next()) {
            (Some(told), None) => Ok(told.ph),
            (None, _) => Err(wrong(format!("the cup `{label}` has no pH"), "give one pH for each name")),
            (Some(_), Some(_)) => Err(wrong(format!("the cup `{label}` has more than one pH"), "give one pH for each name")),
        }
    };
    let all = labels.iter().map(one).collect::<Result<Vec<_>, _>>()?;
    match told.iter().filter_map(|told| told.label.as_ref()).find(|label| !labels.iter().any(|known| known.trim() == label.as_str())) {
        Some(label) => Err(wrong(format!("no cup is called `{label}`"), "give the names in the order of the cups: --labels A,B,C")),
        None => Ok(all),
    }
}

fn ph_sd(text: &str) -> Result<f64, String> {
    match args::number(text)? {
        sd if sd > 0.0 && sd <= 1.0 => Ok(sd),
        sd => Err(format!("an uncertainty of {sd} is not above 0 and up to 1\nhint: a standard buffer has about 0.02")),
    }
}

/// pH of a fresh stop bath with its spread: acetic and citric baths have 2.2 to 3.4 (chemistry of baths, see `chemistry::bath`).
const FRESH: (f64, f64) = (2.8, 0.6);
/// pH of a bath with an excess of sodium hydrogen carbonate: 8.3 by its own equilibrium, lower while it still fizzes.
const SODA: (f64, f64) = (8.2, 0.3);

impl From<CalibrationError> for Stop {
    fn from(error: CalibrationError) -> Self {
        let status = if matches!(error, CalibrationError::Count { .. }) { Status::Usage } else { Status::Unjudged };
        Stop::new(status, &error, Some(error.hint()))
    }
}

/// Makes a profile from photos of buffers.
pub(crate) fn run(options: &CalibrateOptions) -> Status {
    calibrated(options).map_or_else(|stop| stop.told(), |()| Status::Judged)
}

fn calibrated(options: &CalibrateOptions) -> Result<(), Stop> {
    options.own.check()?;
    let own = options.ladder()?;
    let (rungs, temperature) = match own.as_ref().and_then(|own| own.middle()) {
        Some(rungs) => (rungs, options.temperature.unwrap_or(Celsius::STANDARD)),
        None => rungs(options)?,
    };
    if options.photos.len() > 1 && (options.card.is_some() || !options.cups.is_empty()) {
        return Err(Stop::new(Status::Usage, "--card and --cup hold for one photo", Some("leave them out, or calibrate with one photo")));
    }
    let target = match &options.save {
        Some(name) => profiles::named(name).map_err(|e| Stop::new(Status::Usage, &e, Some(e.hint())))?,
        None => options.out.clone().unwrap_or_default(),
    };
    let row = row(options, rungs, temperature);
    let request = row.request();
    let photos = options.photos.iter().map(|path| loaded(path, options)).collect::<Result<Vec<_>, _>>()?;
    let surveys: Vec<_> = photos.iter().map(|photo| crate::measurement::survey(&photo.frame, &request)).collect();
    let seen: Vec<_> = photos.iter().zip(&surveys).collect();
    let today = match &options.date {
        Some(date) => date.clone(),
        None => clock::now().map_err(|e| Stop::new(Status::Usage, &e, Some(e.hint())))?.date().to_string(),
    };
    let narrow = |evidence: &mut _| own.as_ref().map(|own| own.narrow(evidence)).transpose();
    let Made { profile, calibrated, mut findings } = row.profile_after(&seen, Some(today), narrow)?;
    findings.retain(|finding| !(options.ends && matches!(finding, Finding::Few { .. })));
    let profile = Profile { lot: options.lot.clone(), note: options.note.clone(), ..profile };
    if let Some(folder) = target.parent().filter(|_| options.save.is_some()) {
        std::fs::create_dir_all(folder).map_err(|e| {
            Stop::new(Status::Failed, format!("cannot make the folder `{}`: {e}", folder.display()), Some("set TINTPOINT_DATA"))
        })?;
    }
    profiles::write(&target, &profile).map_err(|e| Stop::new(Status::Failed, &e, Some(e.hint())))?;
    let name = options.save.clone().unwrap_or_else(|| target.display().to_string());
    let shown = Shown { name: &name, profile: &profile, calibrated: Some(&calibrated), findings: &findings };
    shown.write(options.picture.as_deref(), options.report.as_deref())?;
    let mut out = output::Output::new();
    out.put(&words::text(&name, &profile, Some(&calibrated), &findings))
        .map_err(|e| Stop::new(Status::Failed, format!("cannot write the report: {e}"), None))
}

/// A calibration to be drawn.
pub(super) struct Shown<'a> {
    pub(super) name: &'a str,
    pub(super) profile: &'a Profile,
    pub(super) calibrated: Option<&'a Calibrated>,
    pub(super) findings: &'a [Finding],
}

impl Shown<'_> {
    /// Writes picture and page where they are wanted.
    pub(super) fn write(&self, picture: Option<&Path>, page: Option<&Path>) -> Result<(), Stop> {
        let failed = |message| Stop::new(Status::Failed, message, Some("give a folder that exists and may be written to"));
        if let Some(path) = picture {
            output::picture(path, &words::drawing(self.name, self.profile, self.calibrated)).map_err(failed)?;
        }
        if let Some(path) = page {
            let text = words::page(self.name, self.profile, self.calibrated, self.findings);
            whole::write(path, |file| file.write_all(text.as_bytes()))
                .map_err(|e| failed(format!("cannot write `{}`: {e}", path.display())))?;
        }
        Ok(())
    }
}

impl CalibrateOptions {
    /// The ladder of the worker's own bath, when it is one.
    fn ladder(&self) -> Result<Option<own::Own>, Stop> {
        if self.own.ladder.is_empty() {
            return Ok(None);
        }
        if self.photos.len() > 1 {
            return Err(Stop::new(Status::Usage, "a ladder is one photo", Some("put all cups of the ladder into one photo")));
        }
        self.own.own(self, self.temperature.unwrap_or(Celsius::STANDARD)).map(Some)
    }
}

/// What is known of each cup, and the temperature of all.
fn rungs(options: &CalibrateOptions) -> Result<(Vec<Rung>, Celsius), Stop> {
    let temperature = options.temperature.unwrap_or(Celsius::STANDARD);
    let told = |(ph, sd): (f64, f64)| -> Result<Rung, Stop> {
        let ph = Ph::new(ph).map_err(|e| Stop::new(Status::Usage, e, None))?;
        Ok(Rung { ph, sd, ionic_strength: options.ionic_strength })
    };
    if options.ends {
        return Ok((vec![told(FRESH)?, told(SODA)?], temperature));
    }
    if !options.ph.is_empty() {
        let rung = |ph: Ph| Rung { ph, sd: options.ph_sd, ionic_strength: options.ionic_strength };
        return Ok((in_order(&options.ph, &options.labels)?.into_iter().map(rung).collect(), temperature));
    }
    calibrate::buffers(&options.buffers, options.temperature).map_err(|e| Stop::new(Status::Usage, &e, Some(e.hint())))
}

fn row(options: &CalibrateOptions, rungs: Vec<Rung>, temperature: Celsius) -> Row {
    Row {
        indicator: options.indicator,
        light: options.light.into(),
        temperature,
        card: options.card,
        card_reflectance: options.card_reflectance,
        cups: options.cups.clone(),
        ionic_strength: options.ionic_strength,
        rungs,
    }
}

fn loaded(path: &std::path::Path, options: &CalibrateOptions) -> Result<Photo, Stop> {
    let photo = crate::photo::load(path).map_err(|e| Stop::new(Status::Failed, format!("{}: {e}", path.display()), Some(e.hint())))?;
    check_regions(options.card, &options.cups, photo.frame.upright_width(), photo.frame.upright_height())
        .map_err(|e| Stop::new(Status::Usage, format!("{}: {e}", path.display()), e.failure().hint.as_deref()))?;
    Ok(photo)
}
