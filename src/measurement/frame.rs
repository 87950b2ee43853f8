//! The decoded photo: pixels as stored, and how to see them upright.

use crate::colour::space::PhotoSpace;
use crate::colour::tone::{ToneCurve, srgb_encode};

mod orientation;
mod pages;
mod reduced;

pub use orientation::Orientation;
pub use pages::Pages;
pub use reduced::Reduced;

/// Interleaved RGB samples, row by row as stored.
#[derive(Debug, Clone, PartialEq)]
pub enum Samples {
    /// 8 bits a channel.
    Eight(Pages),
    /// 16 bits a channel.
    Sixteen(Vec<u16>),
}

impl Samples {
    fn count(&self) -> usize {
        match self {
            Samples::Eight(s) => s.len(),
            Samples::Sixteen(s) => s.len(),
        }
    }
}

/// A decoded photo. Coordinates of all methods are pixels of the *upright* picture; nothing is ever turned or
/// converted as a whole: coordinates are turned instead, and only pixels that are asked for are converted.
#[derive(Debug, Clone)]
pub struct Frame {
    width: usize,
    height: usize,
    orientation: Orientation,
    samples: Samples,
    space: PhotoSpace,
    /// Encoded level of the photo -> the same light in sRGB encoding, per channel.
    tables: [Vec<f32>; 3],
}

/// A frame whose samples do not fill its size.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{samples} samples do not fill {width} x {height} RGB pixels")]
pub struct FrameError {
    /// Number of samples given.
    pub samples: usize,
    /// Stored width in pixels.
    pub width: usize,
    /// Stored height in pixels.
    pub height: usize,
}

impl Frame {
    /// Wraps decoded samples; `width` and `height` are those of the stored picture.
    ///
    /// # Errors
    /// [`FrameError`] when the number of samples is not three per pixel, or there is no pixel.
    pub fn new(width: usize, height: usize, orientation: Orientation, samples: Samples, space: PhotoSpace) -> Result<Self, FrameError> {
        let count = samples.count();
        if count == 0 || Some(count) != width.checked_mul(height).and_then(|n| n.checked_mul(3)) {
            return Err(FrameError { samples: count, width, height });
        }
        let last = if matches!(samples, Samples::Eight(_)) { 255 } else { 65535 };
        let tables = [0, 1, 2].map(|c| table(&space.curves[c], last));
        Ok(Frame { width, height, orientation, samples, space, tables })
    }

    /// The samples as stored, for their memory.
    #[must_use]
    pub fn into_samples(self) -> Samples {
        self.samples
    }

    /// Width of the upright picture.
    #[must_use]
    pub fn upright_width(&self) -> usize {
        if self.orientation.swaps_sides() { self.height } else { self.width }
    }

    /// Height of the upright picture.
    #[must_use]
    pub fn upright_height(&self) -> usize {
        if self.orientation.swaps_sides() { self.width } else { self.height }
    }

    /// How the stored pixels lie.
    #[must_use]
    pub fn orientation(&self) -> Orientation {
        self.orientation
    }

    /// Bits per channel as stored: 8 or 16.
    #[must_use]
    pub fn bits(&self) -> u8 {
        if matches!(self.samples, Samples::Eight(_)) { 8 } else { 16 }
    }

    /// The colour space of the photo.
    #[must_use]
    pub fn space(&self) -> &PhotoSpace {
        &self.space
    }

    /// Value of one pixel, 0 to 1, sRGB-encoded but in the photo's own primaries.
    ///
    /// # Panics
    /// When the pixel lies outside the picture.
    #[must_use]
    pub fn pixel(&self, x: usize, y: usize) -> [f32; 3] {
        let (sx, sy) = self.orientation.stored(x, y, self.width, self.height);
        self.sample(3 * (sy * self.width + sx))
    }

    /// The pixel whose red lies at `at` in the samples.
    #[inline]
    fn sample(&self, at: usize) -> [f32; 3] {
        let levels = match &self.samples {
            Samples::Eight(samples) => {
                let pixel = &samples[at..at + 3];
                [pixel[0], pixel[1], pixel[2]].map(usize::from)
            }
            Samples::Sixteen(samples) => {
                let pixel = &samples[at..at + 3];
                [pixel[0], pixel[1], pixel[2]].map(usize::from)
            }
        };
        let [red, green, blue] = &self.tables;
        [red[levels[0]], green[levels[1]], blue[levels[2]]]
    }
}

/// Level 0 to `last` -> the same light in sRGB encoding, 0 to 1.
fn table(curve: &ToneCurve, last: u32) -> Vec<f32> {
    let encoded = (0..=last).map(|level| f64::from(level) / f64::from(last));
    match curve {
        ToneCurve::Srgb => encoded.map(|e| e as f32).collect(),
        other => encoded.map(|e| srgb_encode(other.decode(e)) as f32).collect(),
    }
}
