//! `tintpoint profiles`.

use super::calibrate::Shown;
use super::failure::{Status, Stop};
use super::output::Output;
use crate::measurement::profile::Calibrated;
use crate::present::calibration as words;
use crate::store::profiles::{self, ProfileError};
use clap::Subcommand;
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "Examples:
  tintpoint profiles
  tintpoint profiles show bench-lamp --picture curve.png
  tintpoint profiles export bench-lamp lamp.toml
  tintpoint profiles remove bench-lamp";

#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct ProfilesOptions {
    /// What to do; the profiles are listed when absent.
    #[command(subcommand)]
    task: Option<Task>,
}

#[derive(Debug, Subcommand)]
enum Task {
    /// List the profiles that are kept.
    #[command(after_help = "Example: tintpoint profiles list")]
    List,
    /// Show one: its buffers, what the others make of each, and what it promises.
    #[command(after_help = "Example: tintpoint profiles show bench-lamp --picture curve.png --report bench-lamp.html")]
    Show {
        /// Its name, or a file.
        #[arg(value_name = "NAME|FILE")]
        name: String,
        /// Draw the transition curve with the buffers on it, into a file ending in .png or .svg.
        #[arg(long, value_name = "OUT", value_parser = super::args::picture_file)]
        picture: Option<PathBuf>,
        /// Write the same with all figures on one page, into an HTML file.
        #[arg(long, value_name = "OUT", value_parser = super::args::page_file)]
        report: Option<PathBuf>,
    },
    /// Write a copy of one into a file.
    #[command(after_help = "Example: tintpoint profiles export bench-lamp lamp.toml")]
    Export {
        /// Its name.
        name: String,
        /// The file to write.
        file: PathBuf,
    },
    /// Remove one for good.
    #[command(after_help = "Example: tintpoint profiles remove bench-lamp")]
    Remove {
        /// Its name.
        name: String,
    },
}

/// Lists, shows, exports or removes profiles.
pub(crate) fn run(options: &ProfilesOptions) -> Status {
    done(options.task.as_ref().unwrap_or(&Task::List)).map_or_else(|stop| stop.told(), |()| Status::Judged)
}

impl From<ProfileError> for Stop {
    fn from(error: ProfileError) -> Self {
        let status = if matches!(error, ProfileError::Missing(_) | ProfileError::Name(_)) { Status::Usage } else { Status::Failed };
        Stop::new(status, &error, Some(error.hint()))
    }
}

fn done(task: &Task) -> Result<(), Stop> {
    let text = match task {
        Task::List => list()?,
        Task::Show { name, picture, report } => show(name, picture.as_deref(), report.as_deref())?,
        Task::Export { name, file } => return Ok(profiles::write(file, &profiles::find(name)?)?),
        Task::Remove { name } => return Ok(profiles::remove(name)?),
    };
    Output::new().put(&text).map_err(|error| Stop::new(Status::Failed, format!("cannot write the profiles: {error}"), None))
}

/// One line a profile; a damaged one is named and does not hide the others.
fn list() -> Result<String, ProfileError> {
    let names = profiles::names()?;
    if names.is_empty() {
        return Ok("no profiles are kept; `tintpoint calibrate` makes them\n".to_owned());
    }
    Ok(names.iter().map(|name| profiles::find(name).map_or_else(|e| format!("{name}: {e}\n"), |p| words::line(name, &p))).collect())
}

fn show(name: &str, picture: Option<&Path>, report: Option<&Path>) -> Result<String, Stop> {
    let profile = profiles::find(name)?;
    let calibrated = Calibrated::new(&profile.evidence);
    let shown = Shown { name, profile: &profile, calibrated: calibrated.as_ref(), findings: &[] };
    shown.write(picture, report)?;
    Ok(words::text(name, &profile, calibrated.as_ref(), &[]))
}
