//! A coarse look at one frame: mean light in a grid of cells. Settling and steadiness are judged by it.

use crate::colour::tone::srgb_decode;
use crate::measurement::frame::Samples;

/// Cells in a row: a cup of a fifth of the picture covers two or three.
const COLUMNS: usize = 12;
/// Rows of cells.
const ROWS: usize = 8;

/// Mean of each cell, linear, 0 to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// Row by row, RGB.
    pub cells: Vec<[f64; 3]>,
}

impl Look {
    /// Averages the pixels of each cell in linear light. `samples` hold `width` times `height` RGB pixels, sRGB-encoded.
    #[must_use]
    pub fn of(samples: &Samples, width: usize, height: usize) -> Self {
        match samples {
            Samples::Eight(levels) => Self::cells(levels, width, height, &linear_levels(255)),
            Samples::Sixteen(levels) => Self::cells(levels, width, height, &linear_levels(65_535)),
        }
    }

    fn cells<Sample: Copy + Into<usize>>(levels: &[Sample], width: usize, height: usize, linear: &[f64]) -> Self {
        let mut sums = vec![[0.0; 3]; COLUMNS * ROWS];
        let mut counts = vec![0.0; COLUMNS * ROWS];
        for (y, row) in levels.chunks_exact(3 * width.max(1)).enumerate().take(height) {
            for (x, pixel) in row.chunks_exact(3).enumerate() {
                let cell = y * ROWS / height * COLUMNS + x * COLUMNS / width;
                counts[cell] += 1.0;
                for c in 0..3 {
                    sums[cell][c] += linear[pixel[c].into()];
                }
            }
        }
        let filled = sums.iter().zip(&counts).filter(|(_, count)| **count > 0.0);
        Look { cells: filled.map(|(sum, count)| sum.map(|s| s / count)).collect() }
    }

    /// Mean of the whole picture.
    #[must_use]
    pub fn whole(&self) -> [f64; 3] {
        let count = self.cells.len().max(1) as f64;
        [0, 1, 2].map(|c| self.cells.iter().map(|cell| cell[c]).sum::<f64>() / count)
    }
}

/// Encoded level 0 to `last` -> linear 0 to 1.
pub(super) fn linear_levels(last: u32) -> Vec<f64> {
    (0..=last).map(|level| srgb_decode(f64::from(level) / f64::from(last))).collect()
}

/// Middle value; the higher of two. NaN when there is none.
pub(super) fn median(mut all: Vec<f64>) -> f64 {
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    // Half the pixels black, half white: the mean light is one half, not that of the level 127.
    #[test]
    fn light_is_averaged_and_not_levels() {
        let levels: Vec<u8> = (0..24 * 16).flat_map(|i| if i % 2 == 0 { [0; 3] } else { [255; 3] }).collect();
        let look = Look::of(&Samples::Eight(levels.into()), 24, 16);
        assert_eq!(look.cells.len(), 96);
        assert_abs_diff_eq!(look.whole()[1], 0.5, epsilon = 1e-12);
    }

    #[test]
    fn depth_does_not_matter() {
        let eight: Vec<u8> = (0..3 * 50 * 30).map(|i| (i * 7 % 256) as u8).collect();
        let sixteen: Vec<u16> = eight.iter().map(|&v| u16::from(v) * 257).collect();
        let (a, b) = (Look::of(&Samples::Eight(eight.into()), 50, 30), Look::of(&Samples::Sixteen(sixteen), 50, 30));
        for (p, q) in a.cells.iter().zip(&b.cells) {
            assert_abs_diff_eq!(p[0], q[0], epsilon = 1e-12);
        }
    }

    #[test]
    fn tiny_pictures_have_fewer_cells() {
        let look = Look::of(&Samples::Eight(vec![255; 3].into()), 1, 1);
        assert_eq!(look.cells, [[1.0; 3]]);
    }
}
