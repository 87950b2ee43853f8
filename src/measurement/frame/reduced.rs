//! The small picture by which things are found.

use super::{Frame, Orientation, Samples};
use crate::colour::tone::ToneCurve;
use crate::measurement::share;
use multiversion::multiversion;
use std::ops::{AddAssign, Range};

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

impl Frame {
    /// The upright picture shrunk by a whole factor so that its longer side is at most `longest` pixels (at least
    /// one). Averages encoded values, which is good enough to find things by and not for measuring. What the factor
    /// does not divide is left out at the right and bottom edge, at most `factor - 1` pixels.
    #[must_use]
    pub fn reduced(&self, longest: usize) -> Reduced {
        let (w, h) = (self.upright_width(), self.upright_height());
        let factor = w.max(h).div_ceil(longest.max(1)).max(1);
        let grid = Grid::new(self, factor);
        let cells = match &self.samples {
            Samples::Eight(s) => grid.means::<u8, u16>(s, self),
            Samples::Sixteen(s) => grid.means::<u16, u32>(s, self),
        };
        let (width, height) = ((w / factor).max(1), (h / factor).max(1));
        let rgb = grid.upright(cells, self.orientation, width, height);
        Reduced { width, height, factor: factor as f64, rgb }
    }
}

/// Mean stored level of one channel -> 8-bit sRGB level of the same light.
enum ToByte {
    /// The photo is in sRGB encoding: multiply and round.
    Scale(f32),
    /// Places of a table per level, and the table.
    Table(f32, Vec<u8>),
}

/// Places in the table of a curve: sixteen for each 8-bit level, so that a mean is at most 1/32 level off.
const PLACES: usize = 16 * 255;

impl ToByte {
    /// For sums of `count` samples of a channel.
    fn new(frame: &Frame, channel: usize, count: usize) -> Self {
        let table = &frame.tables[channel];
        let full = (count * (table.len() - 1)) as f32;
        if frame.space.curves[channel] == ToneCurve::Srgb {
            return ToByte::Scale(255.0 / full);
        }
        let place = |i: usize| interpolate(table, (table.len() - 1) as f32 * i as f32 / PLACES as f32);
        ToByte::Table(PLACES as f32 / full, (0..=PLACES).map(|i| (place(i) * 255.0 + 0.5) as u8).collect())
    }

    #[inline]
    fn of(&self, sum: u64) -> u8 {
        // No sum is so great that the sign would matter, and with a sign there is an instruction for it.
        let sum = sum.cast_signed() as f32;
        match self {
            ToByte::Scale(scale) => (sum * scale + 0.5) as u8,
            ToByte::Table(scale, table) => table[((sum * scale + 0.5) as usize).min(PLACES)],
        }
    }
}

/// Value of a table at a level between its entries.
fn interpolate(table: &[f32], level: f32) -> f32 {
    let left = (level as usize).min(table.len() - 1);
    let right = (left + 1).min(table.len() - 1);
    table[left] + (table[right] - table[left]) * (level - left as f32)
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

    /// Mean of each cell and channel as an sRGB level, in stored order. Sums are whole numbers, so the order of
    /// summing, and with it the orientation, cannot show. `Sum` holds [`LINES`] samples.
    fn means<Sample, Sum>(&self, samples: &[Sample], frame: &Frame) -> Vec<u8>
    where
        Sample: Copy + Sync,
        Sum: Copy + Default + AddAssign + From<Sample> + Into<u64>,
    {
        let to_byte = [0, 1, 2].map(|c| ToByte::new(frame, c, self.cell.0 * self.cell.1));
        let mut bands = share::map(&share::runs(self.rows), |rows| self.band::<Sample, Sum>(samples, &to_byte, rows.clone()));
        // One alone is not copied.
        if bands.len() == 1 { bands.remove(0) } else { bands.concat() }
    }

    /// The same for some rows of cells.
    fn band<Sample, Sum>(&self, samples: &[Sample], to_byte: &[ToByte; 3], rows: Range<usize>) -> Vec<u8>
    where
        Sample: Copy,
        Sum: Copy + Default + AddAssign + From<Sample> + Into<u64>,
    {
        let row = 3 * self.columns * self.cell.0;
        let mut cells = Vec::with_capacity(3 * self.columns * rows.len());
        let mut lines: Vec<Sum> = vec![Sum::default(); row];
        let mut sums: Vec<u64> = vec![0; 3 * self.columns];
        for cell_row in rows {
            sums.fill(0);
            let mut y = self.top + cell_row * self.cell.1;
            let end = y + self.cell.1;
            while y < end {
                let stop = end.min(y + LINES);
                lines.fill(Sum::default());
                for line in y..stop {
                    let from = 3 * (line * self.stride + self.left);
                    add_line(&mut lines, &samples[from..from + row]);
                }
                add_cells(&mut sums, &lines, self.cell.0);
                y = stop;
            }
            let [red, green, blue] = to_byte;
            for sum in sums.as_chunks::<3>().0 {
                cells.extend([red.of(sum[0]), green.of(sum[1]), blue.of(sum[2])]);
            }
        }
        cells
    }

    /// The cells turned upright: in a row of the upright picture, stored places are equally far apart.
    fn upright(&self, cells: Vec<u8>, orientation: Orientation, width: usize, height: usize) -> Vec<u8> {
        if orientation == Orientation::Upright {
            return cells;
        }
        let mut rgb = Vec::with_capacity(cells.len());
        let place = |x: usize, y: usize| {
            let (sx, sy) = orientation.stored(x, y, self.columns, self.rows);
            3 * (sy * self.columns + sx)
        };
        for y in 0..height {
            let (first, last) = (place(0, y), place(width - 1, y));
            let apart = first.abs_diff(last) / (width - 1).max(1);
            for x in 0..width {
                let at = if last >= first { first + x * apart } else { first - x * apart };
                rgb.extend_from_slice(&cells[at..at + 3]);
            }
        }
        rgb
    }
}

/// Adds a line of samples, column by column: a loop the compiler turns into vector instructions.
#[multiversion(targets("x86_64+avx2"))]
fn add_line<Sample: Copy, Sum: AddAssign + From<Sample>>(lines: &mut [Sum], samples: &[Sample]) {
    for (sum, &sample) in lines.iter_mut().zip(samples) {
        *sum += Sum::from(sample);
    }
}

/// Adds `across` neighbouring pixels of summed lines to the sum of their cell.
#[multiversion(targets("x86_64+avx2"))]
fn add_cells<Sum: Copy + Into<u64>>(sums: &mut [u64], lines: &[Sum], across: usize) {
    for (sum, cell) in sums.chunks_exact_mut(3).zip(lines.chunks_exact(3 * across)) {
        let mut total = [0u64; 3];
        for pixel in cell.chunks_exact(3) {
            for c in 0..3 {
                total[c] += pixel[c].into();
            }
        }
        for c in 0..3 {
            sum[c] += total[c];
        }
    }
}

/// Lines summed before the sums are emptied: 257 times 255 is the largest that fits 16 bits.
const LINES: usize = 257;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::space::PhotoSpace;
    use approx::assert_abs_diff_eq;

    fn frame(width: usize, height: usize, orientation: Orientation, pixels: Vec<u8>) -> Frame {
        Frame::new(width, height, orientation, Samples::Eight(pixels.into()), PhotoSpace::srgb()).unwrap()
    }

    // (10 + 20 + 50 + 60) / 4 = 35 and (30 + 40 + 70 + 80) / 4 = 55; the third column and row of cells are not whole and left out.
    #[test]
    fn cells_are_means() {
        let levels = [[10, 20, 30, 40, 99], [50, 60, 70, 80, 99], [99; 5]];
        let pixels = levels.iter().flatten().flat_map(|&level| [level, level + 1, level + 2]).collect();
        let reduced = frame(5, 3, Orientation::Upright, pixels).reduced(3);
        assert_eq!((reduced.width, reduced.height, reduced.rgb.as_slice()), (2, 1, &[35, 36, 37, 55, 56, 57][..]));
    }

    // However a photo lies in its file, it is the same picture: its pixels turned by hand and reduced are those reduced and turned.
    #[test]
    fn a_photo_is_reduced_as_it_is_seen() {
        let (width, height) = (23, 37);
        let pixels: Vec<u8> = (0..3 * width * height).map(|i| (i * i * 31 + i * 7) as u8).collect();
        for (number, longest) in (1..=8).flat_map(|number| [(number, 40), (number, 10), (number, 7), (number, 1)]) {
            let stored = frame(width, height, Orientation::from_exif(number), pixels.clone());
            let (w, h) = (stored.upright_width(), stored.upright_height());
            let places = (0..h).flat_map(|y| (0..w).map(move |x| (x, y)));
            let turned = places.flat_map(|(x, y)| {
                let (sx, sy) = stored.orientation().stored(x, y, width, height);
                let at = 3 * (sy * width + sx);
                pixels[at..at + 3].to_vec()
            });
            let upright = frame(w, h, Orientation::Upright, turned.collect()).reduced(longest);
            let reduced = stored.reduced(longest);
            assert_eq!((reduced.width, reduced.height), (upright.width, upright.height), "{number} {longest}");
            assert_eq!(reduced.rgb, upright.rgb, "{number} {longest}");
        }
    }

    // More lines than the narrow sums hold at once, all of the highest level; and half of them of it.
    #[test]
    fn tall_cells_do_not_overflow() {
        let mean = |black: usize| {
            let pixels = (0..2 * 600).flat_map(|i| if i < 2 * black { [0; 3] } else { [255; 3] }).collect();
            frame(2, 600, Orientation::Upright, pixels).reduced(1).rgb
        };
        assert_eq!((mean(0), mean(600), mean(300)), (vec![255; 3], vec![0; 3], vec![128; 3]));
    }

    #[test]
    fn tables_are_read_between_their_entries() {
        let table = [0.0, 10.0, 40.0];
        for (level, value) in [(0.0, 0.0), (0.5, 5.0), (1.0, 10.0), (1.5, 25.0), (2.0, 40.0), (9.0, 40.0)] {
            assert_abs_diff_eq!(interpolate(&table, level), value, epsilon = 1e-5);
        }
    }
}
