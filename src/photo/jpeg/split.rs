//! One JPEG unpacked as two, side by side: the pixels of a scan can only be gone through from its beginning, but going through its codes is
//! much quicker than making pixels of them. While one thread unpacks the upper part, another one looks for where the lower part begins, and
//! unpacks that.
//!
//! A part is a JPEG of its own: the headers with another height, and its coded pixels. Where channels have fewer rows than the picture, the
//! rows beside the seam depend on both parts; they come from a third one, narrow and across the seam. The pixels are those of the whole.

use super::scan::{Coding, Place, Scan};
use super::source::Source;
use crate::measurement::share;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Share of the rows in the upper part. The other thread has to look for the seam, and goes through all codes besides; measured on photos of
/// 12 megapixels.
const UPPER: f64 = 0.66;
/// Fewer coded bytes are not worth a second thread.
const WORTH: usize = 1 << 19;
/// Larger files are not copied: beside the pixels of the largest photo there is no room.
const MOST: usize = 64 << 20;
/// The decoder has read no more bytes than this beyond its last bit: it holds eight, each of which may have a zero behind it.
const AHEAD: usize = 64;
/// Rows of MCUs at least.
const ROWS: usize = 16;

/// A JPEG of one scan as its segments tell it.
pub(super) struct Whole<'a> {
    /// All of it.
    pub(super) bytes: &'a [u8],
    /// Where the height stands in it.
    pub(super) height_at: usize,
    /// Content of the header of the scan.
    pub(super) scan: &'a [u8],
    /// Where its coded pixels begin.
    pub(super) start: usize,
    /// The coded pixels.
    pub(super) coded: &'a [u8],
    pub(super) coding: &'a Coding,
    /// Of the picture.
    pub(super) width: usize,
    pub(super) height: usize,
}

/// What came of it.
pub(super) enum Outcome {
    /// All pixels are there, and the codes hold together.
    Done,
    /// The codes do not hold together.
    Fault(&'static str),
    /// It cannot be unpacked in parts; nothing is known of it.
    Whole,
}

impl Whole<'_> {
    /// Unpacks it in parts to RGB, and makes sure that its codes hold together. `unpack` is for a JPEG and the pixels of all of it, and tells whether
    /// it could be done.
    pub(super) fn in_parts(&self, pixels: &mut [u8], unpack: impl Fn(Source<'_>, &mut [u8]) -> bool + Sync) -> Outcome {
        let is_small = self.bytes.len() <= MOST;
        match self.seam(|rows| is_small && self.coded.len() >= WORTH && rows >= ROWS, UPPER) {
            Some((scan, seam)) => self.parted(&scan, &seam, pixels, unpack),
            None => Outcome::Whole,
        }
    }

    /// The same with the seam there.
    fn parted(&self, scan: &Scan<'_>, seam: &Seam, pixels: &mut [u8], unpack: impl Fn(Source<'_>, &mut [u8]) -> bool + Sync) -> Outcome {
        let row = 3 * self.width;
        let Some((upper, lower)) = pixels.split_at_mut_checked(row * seam.at()) else { return Outcome::Whole };
        let end = AtomicUsize::new(usize::MAX);
        let first = || unpack(Source::upper(self.bytes, (seam.at() as u16, self.height_at), &end), upper);
        let second = || self.second(scan, seam, &end, lower, &unpack);
        let (is_first_there, second) = share::beside(first, second);
        match second {
            Err(fault) => Outcome::Fault(fault),
            Ok(Some(between)) if is_first_there => {
                let from = row * (seam.at() - seam.high / 2);
                pixels[from..from + between.len()].copy_from_slice(&between);
                Outcome::Done
            }
            Ok(_) => Outcome::Whole,
        }
    }

    /// The scan and its seam below that share of its rows, with whole rows on either side; none where it cannot have one, or so many rows are
    /// not worth it.
    fn seam(&self, is_worth: impl Fn(usize) -> bool, upper: f64) -> Option<(Scan<'_>, Seam)> {
        let scan = self.coding.scan(self.scan)?;
        let (across, high) = self.coding.grid()?;
        let rows = self.height.div_ceil(high);
        let row = (upper * rows as f64) as usize;
        // With restarts their numbers would have to be counted anew.
        let can_be = scan.restart == 0 && scan.units == across * rows && row > 0 && row + 1 < rows;
        (can_be && is_worth(rows)).then_some((scan, Seam { row, across, high }))
    }

    /// Unpacks the lower part, and returns the rows beside the seam; none where a part cannot be made. All codes are gone through, and the `end` of the upper
    /// part is told as soon as it is found.
    fn second(
        &self,
        scan: &Scan<'_>,
        seam: &Seam,
        end: &AtomicUsize,
        lower: &mut [u8],
        unpack: &impl Fn(Source<'_>, &mut [u8]) -> bool,
    ) -> Result<Option<Vec<u8>>, &'static str> {
        let mut place = Place::first(self.coded);
        let mut at = |row: usize| scan.pass(&mut place, row * seam.across).map(|()| place.clone());
        let [above, below, behind] = [at(seam.row - 1)?, at(seam.row)?, at(seam.row + 1)?];
        end.store(self.start + below.bytes() + AHEAD, Ordering::Relaxed);
        let part = |height: usize, from: &Place<'_>, to: Option<&Place<'_>>, pixels: &mut [u8]| {
            let bytes = self.part(scan, height, from, to);
            bytes.is_some_and(|bytes| unpack(Source::new(&bytes), pixels))
        };
        let row = 3 * self.width;
        let mut both = vec![0; 2 * seam.high * row];
        let is_there = part(self.height - seam.at(), &below, None, lower) && part(2 * seam.high, &above, Some(&behind), &mut both);
        scan.pass(&mut place, scan.units)?;
        place.end()?;
        Ok(is_there.then(|| both[seam.high / 2 * row..][..seam.high * row].to_vec()))
    }

    /// A JPEG of its own of the MCUs from one place to another, or of all that are left, with so many rows of pixels.
    fn part(&self, scan: &Scan<'_>, height: usize, from: &Place<'_>, to: Option<&Place<'_>>) -> Option<Vec<u8>> {
        let mut bytes = scan.part(&self.bytes[..self.start], from, to)?;
        bytes.extend_from_slice(&[0xFF, 0xD9]);
        // No side of a JPEG is longer than what its two bytes hold.
        bytes[self.height_at..self.height_at + 2].copy_from_slice(&(height as u16).to_be_bytes());
        Some(bytes)
    }
}

/// Where the two parts meet.
struct Seam {
    /// Rows of MCUs above it.
    row: usize,
    /// MCUs in a row.
    across: usize,
    /// Rows of pixels in an MCU.
    high: usize,
}

impl Seam {
    /// Rows of pixels above it.
    fn at(&self) -> usize {
        self.row * self.high
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// Unpacks it with the seam below each share of its rows in turn; how many seams there were.
    pub(in crate::photo::jpeg) fn at_every_seam(
        whole: &Whole<'_>,
        pixels: &[u8],
        unpack: impl Fn(Source<'_>, &mut [u8]) -> bool + Sync,
    ) -> usize {
        let rows = whole.height;
        let seams = (1..rows).filter_map(|row| whole.seam(|_| true, row as f64 / rows as f64));
        seams
            .map(|(scan, seam)| {
                let mut parted = vec![77; pixels.len()];
                assert!(matches!(whole.parted(&scan, &seam, &mut parted, &unpack), Outcome::Done), "seam at row {}", seam.at());
                assert!(parted == pixels, "seam at row {}", seam.at());
            })
            .count()
    }
}
