//! What can be typed.

use crate::measurement::regions::{Circle, Rectangle};
use clap::{Parser, Subcommand};
use std::path::PathBuf;

/// Reads the pH of a stop bath from a photo of its indicator beside a grey card.
#[derive(Debug, Parser)]
#[command(version)]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Read photos of sample cups.
    Read(ReadOptions),
    /// Make demo photos with known pH to try the program on.
    Demo(DemoOptions),
}

#[derive(Debug, clap::Args)]
pub(crate) struct DemoOptions {
    /// Folder to write into; made when it is not there. Existing files are never overwritten.
    #[arg(value_name = "DIR")]
    pub(crate) folder: PathBuf,
}

#[derive(Debug, clap::Args)]
pub(crate) struct ReadOptions {
    /// Photos to read.
    #[arg(required = true)]
    pub(crate) photos: Vec<PathBuf>,
    /// The dye in the cups.
    #[arg(long, default_value = "bromocresol-purple")]
    pub(crate) indicator: String,
    /// auto, daylight, tungsten, led or fluorescent.
    #[arg(long, default_value = "auto")]
    pub(crate) light: String,
    /// Where the card is: X,Y,W,H in pixels of the upright picture.
    #[arg(long, value_parser = rectangle)]
    pub(crate) card: Option<Rectangle>,
    /// Reflectance of the card.
    #[arg(long, default_value_t = 0.18)]
    pub(crate) card_reflectance: f64,
    /// Where a cup's liquid is: X,Y,R in pixels of the upright picture; may be repeated.
    #[arg(long = "cup", value_parser = circle)]
    pub(crate) cups: Vec<Circle>,
    /// Ionic strength of the bath, mol/l.
    #[arg(long, default_value_t = 0.3)]
    pub(crate) ionic_strength: f64,
    /// Temperature of the bath, degrees Celsius.
    #[arg(long, default_value_t = 25.0)]
    pub(crate) temperature: f64,
    /// pH from which the bath is nearing exhaustion.
    #[arg(long, default_value_t = 5.0)]
    pub(crate) nearing: f64,
    /// pH from which the bath is spent.
    #[arg(long, default_value_t = 5.5)]
    pub(crate) spent: f64,
    /// text, json or csv.
    #[arg(long, default_value = "text")]
    pub(crate) format: String,
}

fn numbers<const N: usize>(text: &str) -> Result<[f64; N], String> {
    let all: Result<Vec<f64>, _> = text.split(',').map(|part| part.trim().parse::<f64>()).collect();
    let all = all.map_err(|e| format!("{e} in `{text}`"))?;
    all.try_into().map_err(|_| format!("`{text}` must be {N} numbers with commas between them"))
}

fn rectangle(text: &str) -> Result<Rectangle, String> {
    numbers::<4>(text).map(|[x, y, w, h]| Rectangle { x, y, w, h })
}

fn circle(text: &str) -> Result<Circle, String> {
    numbers::<3>(text).map(|[x, y, radius]| Circle { x, y, radius })
}
