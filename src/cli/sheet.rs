//! `tintpoint sheet`: the page to print.

use super::failure::Status;
use super::output;
use crate::placement::{Paper, Sheet};
use crate::present::{pdf, placement, svg};
use crate::store::whole;
use clap::ValueEnum;
use std::path::PathBuf;

const EXAMPLES: &str = "Examples:
  tintpoint sheet --out sheet.pdf
  tintpoint sheet --cups 6 --paper letter --out sheet.svg";

/// Options of `tintpoint sheet`.
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct SheetOptions {
    /// Number of circles for cups, 1 to 12; the fewer, the wider they are.
    #[arg(long, value_name = "N", default_value = "4", value_parser = cups, allow_hyphen_values = true)]
    cups: usize,
    /// Size of the paper.
    #[arg(long, value_enum, default_value_t = Size::A4)]
    paper: Size,
    /// File to write, ending in .pdf or .svg; an existing file is replaced.
    #[arg(long, value_name = "FILE", value_parser = page_file)]
    out: PathBuf,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Size {
    /// 210 x 297 mm.
    A4,
    /// 8.5 x 11 inches.
    Letter,
}

fn cups(text: &str) -> Result<usize, String> {
    let count = text.trim().parse().map_err(|_| format!("`{}` is not a whole number", text.trim()))?;
    Sheet::new(Paper::A4, count).map(Sheet::cups).map_err(|e| e.to_string())
}

fn page_file(text: &str) -> Result<PathBuf, String> {
    let path = PathBuf::from(text);
    match path.extension().map(|e| e.to_string_lossy().to_lowercase()).as_deref() {
        Some("pdf" | "svg") => Ok(path),
        _ => Err("the name must end in .pdf or .svg\nhint: give a name such as sheet.pdf".to_owned()),
    }
}

/// Writes the sheet.
pub(crate) fn run(options: &SheetOptions) -> Status {
    let paper = match options.paper {
        Size::A4 => Paper::A4,
        Size::Letter => Paper::Letter,
    };
    let sheet = match Sheet::new(paper, options.cups) {
        Ok(sheet) => sheet,
        Err(e) => {
            output::complain(&e.to_string(), None);
            return Status::Usage;
        }
    };
    let drawing = placement::draw(sheet);
    let is_svg = options.out.extension().is_some_and(|e| e.eq_ignore_ascii_case("svg"));
    let bytes = if is_svg { svg::page(&drawing).into_bytes() } else { pdf::render(&drawing) };
    match whole::write(&options.out, |file| file.write_all(&bytes)) {
        Ok(()) => Status::Judged,
        Err(e) => {
            let message = format!("cannot write `{}`: {e}", options.out.display());
            output::complain(&message, Some("give a folder that exists and may be written to"));
            Status::Failed
        }
    }
}
