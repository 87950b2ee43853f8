//! `tintpoint demo`: photos with known pH, what is on them, and what to try.

use super::args::DemoOptions;
use super::failure::Status;
use super::output::{self, Output};
use crate::measurement::share;
use crate::photo::encode::{self, EncodeError};
use crate::scene::demo::{Demo, photos};
use crate::scene::{Photograph, Truth, photograph};
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

const TRUTH: &str = "truth.csv";
const NOTES: &str = "what-to-try.txt";

/// Why the demo could not be written.
#[derive(Debug, thiserror::Error)]
enum DemoError {
    #[error("already there: {}", names(.0))]
    Existing(Vec<PathBuf>),
    #[error("cannot make the folder `{}`: {cause}", folder.display())]
    Folder { folder: PathBuf, cause: io::Error },
    #[error("cannot write `{}`: {cause}", path.display())]
    Write { path: PathBuf, cause: io::Error },
    #[error(transparent)]
    Encode(#[from] EncodeError),
    #[error("cannot put the truth into a table: {0}")]
    Table(#[from] csv::Error),
}

impl DemoError {
    fn hint(&self) -> &'static str {
        match self {
            DemoError::Existing(_) => "nothing was overwritten; give a new folder, or move these files away",
            DemoError::Folder { .. } | DemoError::Write { .. } => "give a folder that may be written to",
            DemoError::Encode(_) | DemoError::Table(_) => "this is a fault of the program; please report it",
        }
    }
}

fn names(paths: &[PathBuf]) -> String {
    paths.iter().map(|path| format!("`{}`", path.display())).collect::<Vec<_>>().join(", ")
}

/// Writes the demo and says what was written.
pub(crate) fn run(options: &DemoOptions) -> Status {
    let told = write_all(&options.folder).map(|written| {
        let list: String = written.iter().map(|path| format!("{}\n", path.display())).collect();
        format!("{list}Next: tintpoint read {}\n", options.folder.join("nearing.jpg").display())
    });
    match told {
        Ok(text) => match Output::new().put(&text) {
            Ok(()) => Status::Judged,
            Err(e) => {
                output::complain(&format!("cannot write the list: {e}"), None);
                Status::Failed
            }
        },
        Err(e) => {
            output::complain(&e.to_string(), Some(e.hint()));
            Status::Failed
        }
    }
}

/// Everything is looked at before anything is written, so a refusal leaves the folder as it was.
fn write_all(folder: &Path) -> Result<Vec<PathBuf>, DemoError> {
    let demos = photos();
    let all: Vec<PathBuf> = demos.iter().map(|demo| demo.name).chain([TRUTH, NOTES]).map(|name| folder.join(name)).collect();
    let existing: Vec<PathBuf> = all.iter().filter(|path| path.symlink_metadata().is_ok()).cloned().collect();
    if !existing.is_empty() {
        return Err(DemoError::Existing(existing));
    }
    fs::create_dir_all(folder).map_err(|cause| DemoError::Folder { folder: folder.to_owned(), cause })?;
    let mut table = csv::Writer::from_writer(Vec::new());
    table.write_record(["photo", "cup", "x", "y", "radius", "indicator", "ph", "base_fraction", "dose", "light", "shows"])?;
    let made = share::map(&demos, |demo| {
        let Photograph { width, height, rgb, truth } = photograph(&demo.options);
        encode::jpeg(width, height, &rgb, 90).map(|bytes| (bytes, truth))
    });
    for ((demo, path), made) in demos.iter().zip(&all).zip(made) {
        let (bytes, truth) = made?;
        put(path, &bytes)?;
        record(&mut table, demo, &truth)?;
    }
    let table = table.into_inner().map_err(|e| csv::Error::from(io::Error::other(e.to_string())))?;
    put(&folder.join(TRUTH), &table)?;
    put(&folder.join(NOTES), notes(&demos).as_bytes())?;
    Ok(all)
}

/// Writes a new file; one that has appeared in the meantime is left alone.
fn put(path: &Path, bytes: &[u8]) -> Result<(), DemoError> {
    let failed = |cause| DemoError::Write { path: path.to_owned(), cause };
    let mut file = fs::File::create_new(path).map_err(failed)?;
    file.write_all(bytes).map_err(failed)
}

fn record(table: &mut csv::Writer<Vec<u8>>, demo: &Demo, truth: &Truth) -> Result<(), csv::Error> {
    for (i, cup) in truth.cups.iter().enumerate() {
        table.write_record([
            demo.name,
            &(i + 1).to_string(),
            &format!("{:.0}", cup.centre.0),
            &format!("{:.0}", cup.centre.1),
            &format!("{:.0}", cup.radius),
            cup.indicator,
            &format!("{:.2}", cup.ph),
            &format!("{:.3}", cup.base_fraction),
            &format!("{:.2}", cup.dose),
            &truth.lamp,
            demo.shows,
        ])?;
    }
    Ok(())
}

fn notes(demos: &[Demo]) -> String {
    let photos: String = demos.iter().map(|demo| format!("  {:<16} {}\n", demo.name, demo.shows)).collect();
    format!(
        "Demo photos of the Thimble Lane community darkroom\n\
         \n\
         The darkroom, its baths and these photos are invented: they are computed from spectra of light, dye and camera.\n\
         The dye in all cups is bromocresol purple. What is truly in them stands in {TRUTH}.\n\
         \n\
         {photos}\
         \n\
         To try, in this folder:\n\
         \n\
         \x20 tintpoint read fresh.jpg\n\
         \x20 tintpoint read nearing.jpg spent.jpg\n\
         \x20 tintpoint read row-of-cups.jpg --format csv\n\
         \x20 tintpoint read warm-lamp.jpg --light tungsten\n\
         \x20 tintpoint read sheet.jpg\n\
         \x20 tintpoint read safelight.jpg\n\
         \x20 tintpoint read no-card.jpg\n\
         \n\
         Then compare with {TRUTH}. The last two must be refused or held back, and the report must say why.\n\
         \n\
         Your own photos: a white cup with two finger-breadths of bath and a drop of indicator on white paper, a grey card\n\
         beside it, one kind of white light and no shadow across the card. Never by safelight.\n\
         \n\
         Handle acids with gloves and eye protection, keep cups for tests apart from cups for drinking, and follow the label\n\
         and your local rules. A reading of a photo is an estimate and no substitute for a meter.\n"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder of this test run alone, removed by the test that made it.
    fn fresh_folder(name: &str) -> PathBuf {
        std::env::temp_dir().join(format!("tintpoint-demo-{name}-{}", std::process::id()))
    }

    #[test]
    fn never_overwrites_and_names_what_is_there() {
        let folder = fresh_folder("existing");
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join("spent.jpg"), "my own photo").unwrap();
        let refusal = write_all(&folder).unwrap_err();
        assert!(refusal.to_string().contains("spent.jpg") && !refusal.to_string().contains("fresh.jpg"), "{refusal}");
        assert_eq!(fs::read_to_string(folder.join("spent.jpg")).unwrap(), "my own photo");
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 1, "something was written all the same");
        fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn says_which_folder_cannot_be_made() {
        let folder = fresh_folder("file");
        fs::write(&folder, "a file").unwrap();
        let refusal = write_all(&folder.join("demo")).unwrap_err();
        assert!(matches!(refusal, DemoError::Folder { .. }), "{refusal:?}");
        fs::remove_file(&folder).unwrap();
    }

    #[test]
    fn notes_name_every_photo() {
        let demos = photos();
        let text = notes(&demos);
        assert!(demos.iter().all(|demo| text.contains(demo.name)));
        assert!(text.contains("no substitute for a meter"));
    }
}
