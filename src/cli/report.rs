//! The page of many photos on the disk: parts are put aside as they come, and the page appears when it is whole.

use crate::photo::kind;
use crate::present::html::{self, Section, Urgency};
use crate::present::tally::Tally;
use crate::store::whole;
use std::fs::File;
use std::io::{self, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// A page in the making.
#[derive(Debug)]
pub(crate) struct Report {
    path: PathBuf,
    /// A file without a name in the folder of the page; it vanishes with the program.
    spool: BufWriter<File>,
    parts: Vec<Part>,
    /// Bytes put aside.
    end: u64,
}

/// Where the part of one photo lies.
#[derive(Debug)]
struct Part {
    urgency: Urgency,
    start: u64,
    row: u64,
    article: u64,
}

/// A page that could not be made.
#[derive(Debug, thiserror::Error)]
#[error("cannot write the report `{}`: {cause}", path.display())]
pub(crate) struct ReportError {
    path: PathBuf,
    cause: io::Error,
}

impl Report {
    /// Tries the folder before the long work begins.
    pub(crate) fn begin(path: &Path) -> Result<Self, ReportError> {
        whole::clear_for(path);
        match tempfile::tempfile_in(whole::folder(path)) {
            Ok(spool) => Ok(Report { path: path.to_owned(), spool: BufWriter::new(spool), parts: Vec::new(), end: 0 }),
            Err(cause) => Err(ReportError { path: path.to_owned(), cause }),
        }
    }

    /// Puts the part of one photo aside.
    pub(crate) fn add(&mut self, section: &Section) -> Result<(), ReportError> {
        let Section { urgency, row, article } = section;
        let written = self.spool.write_all(row.as_bytes()).and_then(|()| self.spool.write_all(article.as_bytes()));
        written.map_err(|cause| self.failed(cause))?;
        let (row, article) = (row.len() as u64, article.len() as u64);
        self.parts.push(Part { urgency: *urgency, start: self.end, row, article });
        self.end += row + article;
        Ok(())
    }

    /// Writes the page under its name.
    pub(crate) fn finish(mut self, tally: &Tally) -> Result<(), ReportError> {
        // Photos of one urgency stay in the order of reading.
        self.parts.sort_by_key(|part| part.urgency);
        let written = self.spool.flush().and_then(|()| {
            let (spool, parts) = (self.spool.get_mut(), &self.parts);
            whole::write(&self.path, |page| {
                page.write_all(html::head(tally).as_bytes())?;
                for part in parts {
                    copy(spool, part.start, part.row, page)?;
                }
                page.write_all(html::middle().as_bytes())?;
                for part in parts {
                    copy(spool, part.start + part.row, part.article, page)?;
                }
                page.write_all(html::foot().as_bytes())
            })
        });
        written.map_err(|cause| self.failed(cause))
    }

    fn failed(&self, cause: io::Error) -> ReportError {
        ReportError { path: self.path.clone(), cause }
    }
}

impl ReportError {
    pub(crate) fn hint(&self) -> &'static str {
        "give a folder that exists, may be written to and has room; a page that was there before is as it was"
    }
}

fn copy(spool: &mut File, start: u64, length: u64, page: &mut dyn Write) -> io::Result<()> {
    spool.seek(SeekFrom::Start(start))?;
    match io::copy(&mut spool.take(length), page)? {
        copied if copied == length => Ok(()),
        _ => Err(io::ErrorKind::UnexpectedEof.into()),
    }
}

/// True when a page under this name would take the place of a photo.
pub(crate) fn is_over_photo(path: &Path) -> bool {
    path.is_file() && kind::is_picture(path)
}
