//! `tintpoint bath load`.

use super::failure::BathError;
use super::writing::WritingOptions;
use crate::cli::args::number;
use crate::desk::change;
use crate::logbook::event::{Developer, Event, Load, Pieces};
use crate::logbook::ledger::Bath;
use crate::logbook::piece::Piece;
use std::path::Path;

const EXAMPLES: &str = "Examples:
  tintpoint bath load tank --rolls 2 --developer borax-sulfite-1+1 --film A12,A13
  tintpoint bath load tray-1 --sheets 8x10rc=24 --by \"class 3b\" --guessed --developer carbonate-1+2
  tintpoint bath load tank --rolls 120=1 --carry-over 12 --developer ours --alkalinity 380

A kind is 135-36 or 120, or the size of a sheet in inches, or with cm, and rc, fb (fibre, double weight), fbsw (single weight) or film: 8x10rc, 18x24cmfb, 4x5film.";

#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct LoadOptions {
    /// The bath.
    name: String,
    /// Rolls: a number of 135-36, or a kind with its number.
    #[arg(long, value_name = "[KIND=]COUNT", value_delimiter = ',', value_parser = rolls)]
    rolls: Vec<(Piece, f64)>,
    /// Sheets: a kind with its number.
    #[arg(long, value_name = "KIND=COUNT", value_delimiter = ',', value_parser = pieces)]
    sheets: Vec<(Piece, f64)>,
    /// The developer they came from: a name of the table, or your own with --alkalinity; that of the last load unless told.
    #[arg(long, value_name = "NAME")]
    developer: Option<String>,
    /// Your own figure for that developer: acid that a litre binds down to pH 5.2, meq; the one given before unless told.
    #[arg(long, value_name = "MEQ", value_parser = number)]
    alkalinity: Option<f64>,
    /// Developer that one piece brings along, ml, as you measured it; common practice unless told.
    #[arg(long, value_name = "ML", value_parser = number)]
    carry_over: Option<f64>,
    /// Nobody counted: sheets handed out, a box. Takes the generous carry-over.
    #[arg(long)]
    guessed: bool,
    /// Who made them, such as a class.
    #[arg(long, value_name = "TEXT")]
    by: Option<String>,
    /// Names of the films or prints, to trace them by.
    #[arg(long = "film", value_name = "NAME", value_delimiter = ',')]
    films: Vec<String>,
    #[command(flatten)]
    writing: WritingOptions,
}

impl LoadOptions {
    pub(super) fn run(&self, path: &Path) -> Result<String, BathError> {
        self.writing.write(path, &self.name, |bath| self.event(bath))
    }

    fn event(&self, bath: &Bath) -> Result<Event, BathError> {
        let all: Vec<&(Piece, f64)> = self.rolls.iter().chain(&self.sheets).collect();
        if self.carry_over.is_some() && all.len() > 1 {
            let message = format!("--carry-over is of one kind, but {} kinds are named", all.len());
            return Err(BathError::Usage(message, "write down each kind on its own"));
        }
        let pieces = all
            .into_iter()
            .map(|(piece, count)| Pieces {
                carry_over_ml: self.carry_over.unwrap_or_else(|| piece.carry_over(self.guessed)),
                measured: self.carry_over.is_some(),
                piece: piece.clone(),
                count: *count,
            })
            .collect();
        let developer = self.developer(bath)?;
        Ok(Event::Load(Load { pieces, developer, by: self.by.clone(), guessed: self.guessed, films: self.films.clone() }))
    }

    fn developer(&self, bath: &Bath) -> Result<Developer, BathError> {
        let told = match (&self.developer, self.alkalinity) {
            (None, None) => None,
            (name, own_meq) => Some(Developer { name: name.as_deref().unwrap_or("own").trim().to_lowercase(), own_meq }),
        };
        Ok(change::developer(bath, told)?)
    }
}

fn rolls(text: &str) -> Result<(Piece, f64), String> {
    if text.contains('=') { pieces(text) } else { pieces(&format!("135-36={text}")) }
}

fn pieces(text: &str) -> Result<(Piece, f64), String> {
    let (kind, count) = text.split_once('=').ok_or_else(|| format!("`{text}` has no number\nhint: write 8x10rc=24"))?;
    let piece = Piece::try_from(kind.to_owned()).map_err(|e| format!("{e}\nhint: {}", e.hint()))?;
    Ok((piece, number(count)?))
}
