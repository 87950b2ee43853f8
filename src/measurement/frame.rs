//! The decoded photo: pixels as stored, and how to see them upright.

use crate::colour::space::PhotoSpace;
use crate::colour::tone::srgb_encode;

/// Exif orientation, 1 to 8: how stored pixels turn into the upright picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Orientation {
    /// 1: as stored.
    #[default]
    Upright,
    /// 2: mirrored left to right.
    MirroredHorizontally,
    /// 3: turned by 180 degrees.
    Turned180,
    /// 4: mirrored top to bottom.
    MirroredVertically,
    /// 5: mirrored along the main diagonal.
    Transposed,
    /// 6: to be turned clockwise by 90 degrees.
    TurnClockwise,
    /// 7: mirrored along the other diagonal.
    Transversed,
    /// 8: to be turned anticlockwise by 90 degrees.
    TurnAnticlockwise,
}

impl Orientation {
    /// From the Exif number; anything but 2 to 8 is upright.
    #[must_use]
    pub fn from_exif(number: u32) -> Self {
        match number {
            2 => Self::MirroredHorizontally,
            3 => Self::Turned180,
            4 => Self::MirroredVertically,
            5 => Self::Transposed,
            6 => Self::TurnClockwise,
            7 => Self::Transversed,
            8 => Self::TurnAnticlockwise,
            _ => Self::Upright,
        }
    }

    /// True when width and height change places.
    #[must_use]
    pub fn swaps_sides(self) -> bool {
        matches!(self, Self::Transposed | Self::TurnClockwise | Self::Transversed | Self::TurnAnticlockwise)
    }

    /// Stored pixel of the upright pixel (`x`, `y`); `width` and `height` are those of the stored picture.
    #[must_use]
    pub fn stored(self, x: usize, y: usize, width: usize, height: usize) -> (usize, usize) {
        match self {
            Self::Upright => (x, y),
            Self::MirroredHorizontally => (width - 1 - x, y),
            Self::Turned180 => (width - 1 - x, height - 1 - y),
            Self::MirroredVertically => (x, height - 1 - y),
            Self::Transposed => (y, x),
            Self::TurnClockwise => (y, height - 1 - x),
            Self::Transversed => (width - 1 - y, height - 1 - x),
            Self::TurnAnticlockwise => (width - 1 - y, x),
        }
    }
}

/// Interleaved RGB samples, row by row as stored.
#[derive(Debug, Clone, PartialEq)]
pub enum Samples {
    /// 8 bits a channel.
    Eight(Vec<u8>),
    /// 16 bits a channel.
    Sixteen(Vec<u16>),
}

/// A decoded photo. Coordinates of all methods are pixels of the *upright* picture.
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
        let count = match &samples {
            Samples::Eight(s) => s.len(),
            Samples::Sixteen(s) => s.len(),
        };
        if count == 0 || Some(count) != width.checked_mul(height).and_then(|n| n.checked_mul(3)) {
            return Err(FrameError { samples: count, width, height });
        }
        let levels = if matches!(samples, Samples::Eight(_)) { 256 } else { 65536 };
        let tables = [0, 1, 2].map(|c| {
            (0..levels).map(|level| srgb_encode(space.curves[c].decode(f64::from(level) / f64::from(levels - 1))) as f32).collect()
        });
        Ok(Frame { width, height, orientation, samples, space, tables })
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
        let i = 3 * (sy * self.width + sx);
        match &self.samples {
            Samples::Eight(s) => [0, 1, 2].map(|c| self.tables[c][usize::from(s[i + c])]),
            Samples::Sixteen(s) => [0, 1, 2].map(|c| self.tables[c][usize::from(s[i + c])]),
        }
    }

    /// The upright picture shrunk by a whole factor so that its longer side is at most `longest` pixels.
    #[must_use]
    pub fn reduced(&self, longest: usize) -> Reduced {
        let (w, h) = (self.upright_width(), self.upright_height());
        let factor = w.max(h).div_ceil(longest).max(1);
        let (rw, rh) = ((w / factor).max(1), (h / factor).max(1));
        let mut rgb = Vec::with_capacity(3 * rw * rh);
        let count = (factor * factor) as f32;
        for y in 0..rh {
            for x in 0..rw {
                let mut sum = [0.0f32; 3];
                for dy in 0..factor {
                    for dx in 0..factor {
                        let p = self.pixel((x * factor + dx).min(w - 1), (y * factor + dy).min(h - 1));
                        for c in 0..3 {
                            sum[c] += p[c];
                        }
                    }
                }
                rgb.extend(sum.map(|s| (s / count * 255.0 + 0.5) as u8));
            }
        }
        Reduced { width: rw, height: rh, factor: factor as f64, rgb }
    }
}

/// A small upright 8-bit picture for finding things.
#[derive(Debug, Clone, PartialEq)]
pub struct Reduced {
    /// Width in reduced pixels.
    pub width: usize,
    /// Height in reduced pixels.
    pub height: usize,
    /// Upright pixels of the photo per reduced pixel. Reduced coordinate u is photo coordinate (u + 0.5) * factor - 0.5.
    pub factor: f64,
    /// Interleaved RGB, sRGB-encoded in the photo's primaries.
    pub rgb: Vec<u8>,
}

impl Reduced {
    /// RGB of one reduced pixel.
    ///
    /// # Panics
    /// When it lies outside.
    #[must_use]
    pub fn pixel(&self, x: usize, y: usize) -> [u8; 3] {
        let i = 3 * (y * self.width + x);
        [self.rgb[i], self.rgb[i + 1], self.rgb[i + 2]]
    }
}
