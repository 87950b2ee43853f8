//! The decoded photo: pixels as stored, and how to see them upright.

use crate::colour::space::PhotoSpace;
use crate::colour::tone::{ToneCurve, srgb_encode};
use std::ops::{AddAssign, Range};

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

    /// The number Exif writes for it, 1 to 8.
    #[must_use]
    pub fn exif(self) -> u32 {
        match self {
            Self::Upright => 1,
            Self::MirroredHorizontally => 2,
            Self::Turned180 => 3,
            Self::MirroredVertically => 4,
            Self::Transposed => 5,
            Self::TurnClockwise => 6,
            Self::Transversed => 7,
            Self::TurnAnticlockwise => 8,
        }
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

    /// Hands the pixels of an upright rectangle to `visit`, row by row with their coordinates and the value of
    /// [`Frame::pixel`]. The part outside the picture is left out. Several times faster than single pixels.
    pub fn visit(&self, columns: Range<usize>, rows: Range<usize>, mut visit: impl FnMut(usize, usize, [f32; 3])) {
        let (right, bottom) = (columns.end.min(self.upright_width()), rows.end.min(self.upright_height()));
        for y in rows.start..bottom {
            self.visit_row(columns.start..right, y, &mut visit);
        }
    }

    /// Like [`Frame::visit`], for the pixels whose centres lie at most `radius` from (`x`, `y`), all in upright
    /// pixels; the centre of the first pixel is (0, 0).
    pub fn visit_disc(&self, x: f64, y: f64, radius: f64, mut visit: impl FnMut(usize, usize, [f32; 3])) {
        if !(x.is_finite() && y.is_finite() && radius.is_finite() && radius >= 0.0) {
            return;
        }
        for row in within(y, radius, self.upright_height()) {
            let half = (radius * radius - (row as f64 - y).powi(2)).max(0.0).sqrt();
            self.visit_row(within(x, half, self.upright_width()), row, &mut visit);
        }
    }

    /// One row inside the picture: the stored places of its pixels are equally far apart.
    fn visit_row(&self, columns: Range<usize>, y: usize, visit: &mut impl FnMut(usize, usize, [f32; 3])) {
        if columns.is_empty() {
            return;
        }
        let place = |x: usize| {
            let (sx, sy) = self.orientation.stored(x, y, self.width, self.height);
            3 * (sy * self.width + sx)
        };
        let (first, last) = (place(columns.start), place(columns.end - 1));
        let apart = first.abs_diff(last) / (columns.len() - 1).max(1);
        for (count, x) in columns.enumerate() {
            let at = if last >= first { first + count * apart } else { first - count * apart };
            visit(x, y, self.sample(at));
        }
    }

    /// The pixel whose red lies at `at` in the samples.
    fn sample(&self, at: usize) -> [f32; 3] {
        match &self.samples {
            Samples::Eight(s) => [0, 1, 2].map(|c| self.tables[c][usize::from(s[at + c])]),
            Samples::Sixteen(s) => [0, 1, 2].map(|c| self.tables[c][usize::from(s[at + c])]),
        }
    }

    /// The upright picture shrunk by a whole factor so that its longer side is at most `longest` pixels (at least
    /// one). Averages encoded values, which is good enough to find things by and not for measuring. What the factor
    /// does not divide is left out at the right and bottom edge, at most `factor - 1` pixels.
    #[must_use]
    pub fn reduced(&self, longest: usize) -> Reduced {
        let (w, h) = (self.upright_width(), self.upright_height());
        let factor = w.max(h).div_ceil(longest.max(1)).max(1);
        let grid = Grid::new(self, factor);
        let means = match &self.samples {
            Samples::Eight(s) => grid.means::<u8, u16>(s),
            Samples::Sixteen(s) => grid.means::<u16, u32>(s),
        };
        let (width, height) = ((w / factor).max(1), (h / factor).max(1));
        let mut rgb = Vec::with_capacity(3 * width * height);
        for y in 0..height {
            for x in 0..width {
                let (sx, sy) = self.orientation.stored(x, y, grid.columns, grid.rows);
                let at = 3 * (sy * grid.columns + sx);
                rgb.extend([0, 1, 2].map(|c| (interpolate(&self.tables[c], means[at + c]) * 255.0 + 0.5) as u8));
            }
        }
        Reduced { width, height, factor: factor as f64, rgb }
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

/// Value of a table at a level between its entries.
fn interpolate(table: &[f32], level: f64) -> f64 {
    let left = (level as usize).min(table.len() - 1);
    let right = (left + 1).min(table.len() - 1);
    let (left_value, right_value) = (f64::from(table[left]), f64::from(table[right]));
    left_value + (right_value - left_value) * (level - left as f64)
}

/// Whole numbers within `radius` of `centre`, of 0 to `count` - 1.
fn within(centre: f64, radius: f64, count: usize) -> Range<usize> {
    // Casting saturates, so that places left of the picture become 0.
    let first = (centre - radius).ceil().max(0.0) as usize;
    let end = ((centre + radius).floor() + 1.0).max(0.0) as usize;
    first..end.min(count)
}

/// Cells of `factor` by `factor` pixels laid over the stored picture so that the upright picture's top left corner
/// is the corner of a cell.
struct Grid {
    /// Pixels in a stored row.
    stride: usize,
    /// Left and top of the first cell.
    left: usize,
    top: usize,
    /// Cells in a row and rows of cells.
    columns: usize,
    rows: usize,
    /// Width and height of a cell: the factor, or the whole side when that is shorter.
    cell: (usize, usize),
}

impl Grid {
    fn new(frame: &Frame, factor: usize) -> Self {
        let (w, h) = (frame.width, frame.height);
        let cell = (factor.min(w), factor.min(h));
        let (columns, rows) = (w / cell.0, h / cell.1);
        // The upright corner is the stored corner, or its opposite: then what is left out lies on the other side.
        let (corner_x, corner_y) = frame.orientation.stored(0, 0, w, h);
        let left = if corner_x == 0 { 0 } else { w - columns * cell.0 };
        let top = if corner_y == 0 { 0 } else { h - rows * cell.1 };
        Grid { stride: w, left, top, columns, rows, cell }
    }

    /// Mean level of each cell and channel, in stored order. Sums are whole numbers, so the order of summing, and
    /// with it the orientation, cannot show. `Sum` holds [`LINES`] samples.
    fn means<Sample, Sum>(&self, samples: &[Sample]) -> Vec<f64>
    where
        Sample: Copy,
        Sum: Copy + Default + AddAssign + From<Sample> + Into<u64>,
    {
        let row = 3 * self.columns * self.cell.0;
        let count = (self.cell.0 * self.cell.1) as f64;
        let mut means = Vec::with_capacity(3 * self.columns * self.rows);
        let mut lines: Vec<Sum> = vec![Sum::default(); row];
        let mut sums: Vec<u64> = vec![0; 3 * self.columns];
        for cell_row in 0..self.rows {
            sums.fill(0);
            let mut y = self.top + cell_row * self.cell.1;
            let end = y + self.cell.1;
            while y < end {
                let stop = end.min(y + LINES);
                lines.fill(Sum::default());
                for line in y..stop {
                    let from = 3 * (line * self.stride + self.left);
                    for (sum, &sample) in lines.iter_mut().zip(&samples[from..from + row]) {
                        *sum += Sum::from(sample);
                    }
                }
                for (sum, cell) in sums.chunks_exact_mut(3).zip(lines.chunks_exact(3 * self.cell.0)) {
                    for pixel in cell.chunks_exact(3) {
                        for c in 0..3 {
                            sum[c] += pixel[c].into();
                        }
                    }
                }
                y = stop;
            }
            means.extend(sums.iter().map(|&sum| sum as f64 / count));
        }
        means
    }
}

/// Lines summed before the sums are emptied: 257 times 255 is the largest that fits 16 bits.
const LINES: usize = 257;

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
