//! Standard output and files: a reader who has gone away is no error.

use super::args::Format;
use super::failure::Status;
use crate::present::{Entry, json, table, text};
use crate::store::whole;
use std::fmt::Display;
use std::io::{self, IsTerminal, Write};
use std::path::Path;

/// End of the names of pictures of readings in a folder.
pub(crate) const READING: &str = "-reading.png";

/// Standard output that turns quiet once nobody reads it.
pub(crate) struct Output {
    out: io::StdoutLock<'static>,
    is_closed: bool,
}

impl Output {
    pub(crate) fn new() -> Self {
        Output { out: io::stdout().lock(), is_closed: false }
    }

    /// True when the reader has closed the pipe: the rest of the work is in vain.
    pub(crate) fn is_closed(&self) -> bool {
        self.is_closed
    }

    /// Writes and flushes, so that a following program sees each photo at once.
    pub(crate) fn put(&mut self, text: &str) -> io::Result<()> {
        if self.is_closed {
            return Ok(());
        }
        match self.out.write_all(text.as_bytes()).and_then(|()| self.out.flush()) {
            Err(e) if e.kind() == io::ErrorKind::BrokenPipe => {
                self.is_closed = true;
                Ok(())
            }
            other => other,
        }
    }
}

/// Ends a command that makes one report: writes it, or says what failed, with its hint and status.
pub(crate) fn ended<E: Display>(report: Result<String, E>, hint: impl Fn(&E) -> &'static str, status: impl Fn(&E) -> Status) -> Status {
    match report {
        Ok(text) => match Output::new().put(&text) {
            Ok(()) => Status::Judged,
            Err(e) => {
                complain(&format!("cannot write the report: {e}"), None);
                Status::Failed
            }
        },
        Err(failure) => {
            complain(&failure.to_string(), Some(hint(&failure)));
            status(&failure)
        }
    }
}

/// `error:` and `hint:` lines on standard error; if that is gone too, there is nobody left to tell.
pub(crate) fn complain(message: &str, hint: Option<&str>) {
    let mut err = io::stderr().lock();
    let _ = writeln!(err, "error: {message}");
    if let Some(hint) = hint {
        let _ = writeln!(err, "hint: {hint}");
    }
}

/// One record of the report in its form, with the line end that belongs to it.
pub(crate) fn record(entry: &Entry, format: Format) -> io::Result<String> {
    Ok(match format {
        Format::Text => text::photo(entry, columns()) + "\n",
        Format::Json => json::line(entry).map_err(io::Error::other)? + "\n",
        Format::Csv => table::rows(entry).map_err(io::Error::other)?,
    })
}

/// Columns of the terminal, or of a report in a pipe.
pub(crate) fn columns() -> usize {
    if !io::stdout().is_terminal() {
        return text::PIPE;
    }
    terminal_size::terminal_size().map_or(text::PIPE, |(width, _)| usize::from(width.0))
}

/// Writes a picture, as SVG or PNG by its ending.
pub(crate) fn picture(path: &Path, drawing: &crate::present::drawing::Drawing) -> Result<(), String> {
    let is_svg = path.extension().is_some_and(|e| e.eq_ignore_ascii_case("svg"));
    let bytes = if is_svg {
        crate::present::svg::render(drawing).into_bytes()
    } else {
        crate::present::raster::render(drawing).map_err(|e| e.to_string())?
    };
    whole::write(path, |file| file.write_all(&bytes)).map_err(|e| format!("cannot write `{}`: {e}", path.display()))
}

/// Clears away pictures that killed programs have left unfinished: of readings in a folder, or of this one file.
pub(crate) fn clear_pictures(target: &Path) {
    if target.is_dir() {
        whole::clear(target, |name| name.ends_with(READING));
    } else {
        whole::clear_for(target);
    }
}

/// A line on standard error that is no error.
pub(crate) fn remark(message: &str) {
    let _ = writeln!(io::stderr().lock(), "{message}");
}
