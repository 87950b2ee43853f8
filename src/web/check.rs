//! One uploaded photo: decoded, read, and what the page shows of it.

use super::settings::Settings;
use super::shelf::Weighty;
use crate::desk;
use crate::desk::kept::{self, NoReading};
use crate::logbook::event::{PhotoSeen, Reading};
use crate::measurement::frame::Frame;
use crate::photo::{Buffers, decode_into, encode};
use crate::present::{Entry, json, sheet, svg};
use crate::store::profiles::shelf::Shelf;
use crate::store::seen;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

/// Longer side of the picture that the page shows, pixels: sharp on a phone, some 100 kB.
const SHOWN: usize = 1200;
/// Quality of that picture, of 100.
const QUALITY: u8 = 80;

/// A photo as it came.
#[derive(Debug, Clone)]
pub(super) struct Upload {
    /// Its own name, without folders.
    pub(super) name: String,
    /// The file.
    pub(super) bytes: Arc<Vec<u8>>,
}

/// A photo and its reading.
#[derive(Debug, Clone)]
pub(super) struct Check {
    pub(super) upload: Upload,
    pub(super) settings: Settings,
    pub(super) entry: Arc<Entry>,
    /// The line of JSON that the command line writes.
    pub(super) json: Arc<String>,
    /// The photo reduced, JPEG; none when it could not be decoded.
    pub(super) shown: Option<Shown>,
    /// The curve with a lane for each cup, SVG.
    pub(super) curve: Option<Arc<String>>,
    /// Baths that the reading was written for.
    pub(super) kept: Vec<Kept>,
    /// Why it was not written, the last time that this was wanted.
    pub(super) refused: Option<String>,
}

/// A bath that a reading was written for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Kept {
    pub(super) name: String,
    /// Its page.
    pub(super) address: String,
}

/// The picture that the page shows.
#[derive(Debug, Clone)]
pub(super) struct Shown {
    pub(super) jpeg: Arc<Vec<u8>>,
    pub(super) width: usize,
    pub(super) height: usize,
    /// Pixels of the photo for each pixel shown.
    pub(super) factor: f64,
}

impl Weighty for Check {
    fn bytes(&self) -> usize {
        self.upload.bytes.len() + self.shown.as_ref().map_or(0, |s| s.jpeg.len()) + self.curve.as_ref().map_or(0, |c| c.len()) + 50_000
    }
}

impl Check {
    /// The readings to keep, one for each cup that has a bath by its id.
    pub(super) fn readings(&self, baths: &[(usize, String)]) -> Result<Vec<(String, Reading)>, NoReading> {
        let sha256 = seen::fingerprint(&self.upload.bytes);
        let photo = PhotoSeen { name: self.upload.name.clone(), sha256, taken: self.entry.taken.clone(), kept: false };
        let salt = self.settings.request().ionic_strength.value();
        let one = |(cup, bath): &(usize, String)| {
            let reading = kept::reading(&self.entry, Some(*cup), salt)?;
            Ok((bath.clone(), Reading { photo: Some(photo.clone()), ..reading }))
        };
        baths.iter().map(one).collect()
    }

    /// Reads the photo; `buffers` serve the next one again. `earlier` is the picture shown before, when the same photo is read again.
    pub(super) fn of(buffers: &mut Buffers, profiles: &Shelf, upload: Upload, settings: Settings, earlier: Option<Shown>) -> Self {
        // A fault of ours, or of a decoder, on one photo must not end the server; what is dropped is plain bytes.
        let read = catch_unwind(AssertUnwindSafe(|| read(buffers, profiles, &upload, &settings, earlier)));
        let (entry, shown, curve) = read.unwrap_or_else(|_| (failed(&upload, desk::fault()), None, None));
        let json = json::line(&entry).unwrap_or_default();
        Check {
            upload,
            settings,
            entry: Arc::new(entry.without_curves()),
            json: Arc::new(json),
            shown,
            curve: curve.map(Arc::new),
            kept: Vec::new(),
            refused: None,
        }
    }
}

fn failed(upload: &Upload, failure: crate::present::Failure) -> Entry {
    Entry { photo: upload.name.clone(), taken: None, camera: None, outcome: Err(failure) }
}

fn read(
    buffers: &mut Buffers,
    profiles: &Shelf,
    upload: &Upload,
    settings: &Settings,
    earlier: Option<Shown>,
) -> (Entry, Option<Shown>, Option<String>) {
    let photo = match decode_into(buffers, &upload.bytes) {
        Ok(photo) => photo,
        Err(error) => return (failed(upload, desk::photo_failure(&error)), None, None),
    };
    let request = settings.request();
    let entry = desk::entry(upload.name.clone(), &photo, &request, profiles);
    let curve = entry.outcome.as_ref().ok().filter(|reading| !reading.cups.is_empty());
    let curve = curve.map(|reading| svg::inline(&sheet::curve(&upload.name, reading, &request)));
    let shown = earlier.or_else(|| shown(&photo.frame));
    buffers.take_back(photo);
    (entry, shown, curve)
}

/// The picture that the page shows of a photo.
pub(super) fn shown(frame: &Frame) -> Option<Shown> {
    let pixels = sheet::pixels(frame, SHOWN as f64);
    let (width, height) = (pixels.width as usize, pixels.height as usize);
    let jpeg = encode::jpeg(width, height, &pixels.rgb, QUALITY).ok()?;
    Some(Shown { jpeg: Arc::new(jpeg), width, height, factor: frame.upright_width().max(frame.upright_height()).div_ceil(SHOWN) as f64 })
}
