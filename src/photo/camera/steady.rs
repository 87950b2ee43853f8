//! Did the picture keep still while its frames were taken?
//!
//! Brightness and colour balance of a whole frame may change from frame to frame: averaged in linear light this only scales each
//! channel of the mean, which card and white take out. What does not cancel is a change of one part against the rest: a shadow, a
//! hand, a moved cup, bands of a flickering lamp.

use super::look::{Look, median};

/// Cells darker than this share of full scale are left out: noise moves them.
const DARK: f64 = 0.03;
/// Change of a cell against its frame from which a frame counts as unlike the rest: several times what noise and flicker do.
const ODD: f64 = 0.05;
/// The same in spreads of that cell, so that where all frames differ none is odd.
const ODD_SPREADS: f64 = 6.0;
/// From the median absolute deviation to a standard deviation, for normal values (1 / 0.6745).
const MAD_TO_SPREAD: f64 = 1.4826;
/// Standard uncertainty of a cell's mean, share of its light, that is still read. It moves an encoded level of 0.9 by 0.005 (the slope
/// of sRGB's curve there is 1 / 2.2 of the level), the spread that every fit allows for without a cause; so this part of the error
/// budget is paid up to here, and beyond it no reading is given.
pub const MOST_CHANGE: f64 = 0.012;

/// What the frames differ in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steadiness {
    /// Standard uncertainty of the mean of the cell that changes most, share of its light, robust against single frames; 0 with fewer
    /// than three frames.
    pub change: f64,
    /// Frames unlike the rest, such as half of an old picture.
    pub odd: usize,
    /// Number of frames.
    pub frames: usize,
}

impl Steadiness {
    /// True when the mean may be read: what is odd was left out of it, and the rest agrees.
    #[must_use]
    pub fn is_enough(&self) -> bool {
        // As many as the average leaves out at either end.
        self.change <= MOST_CHANGE && self.odd <= self.frames / 4
    }
}

/// Compares looks at the frames of one picture.
#[must_use]
pub fn steadiness(looks: &[Look]) -> Steadiness {
    let frames = looks.len();
    if frames < 3 {
        return Steadiness { change: 0.0, odd: 0, frames };
    }
    let mut change: f64 = 0.0;
    let mut is_odd = vec![false; frames];
    for c in 0..3 {
        let usual = typical(looks, c);
        let bright: Vec<usize> = (0..usual.len()).filter(|&cell| usual[cell] > DARK).collect();
        let gains: Vec<f64> =
            looks.iter().map(|look| median(bright.iter().map(|&cell| look.cells[cell][c] / usual[cell]).collect())).collect();
        for &cell in &bright {
            let parts: Vec<f64> =
                looks.iter().zip(&gains).map(|(look, gain)| look.cells[cell][c] / (usual[cell] * gain.max(1e-6))).collect();
            let middle = median(parts.clone());
            let spread = MAD_TO_SPREAD * median(parts.iter().map(|part| (part - middle).abs()).collect());
            change = change.max(spread / (frames as f64).sqrt());
            for (odd, part) in is_odd.iter_mut().zip(&parts) {
                *odd |= (part - middle).abs() > ODD.max(ODD_SPREADS * spread);
            }
        }
    }
    Steadiness { change, odd: is_odd.iter().filter(|odd| **odd).count(), frames }
}

/// Median over the frames, of each cell.
fn typical(looks: &[Look], channel: usize) -> Vec<f64> {
    let cells = looks.iter().map(|look| look.cells.len()).min().unwrap_or(0);
    (0..cells).map(|cell| median(looks.iter().map(|look| look.cells[cell][channel]).collect())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eight looks at 96 cells; `light` gives the share that cell `j` of frame `i` has of its usual light.
    fn looks(light: impl Fn(usize, usize) -> f64) -> Vec<Look> {
        (0..8).map(|i| Look { cells: (0..96).map(|j| [0.2, 0.3, 0.4].map(|v| v * light(i, j))).collect() }).collect()
    }

    #[test]
    fn brightness_of_whole_frames_cancels() {
        let found = steadiness(&looks(|i, _| 1.0 + 0.1 * (i as f64 * 2.1).sin()));
        assert!(found.change < 1e-9 && found.odd == 0 && found.is_enough(), "{found:?}");
    }

    #[test]
    fn one_torn_frame_is_left_out() {
        let found = steadiness(&looks(|i, j| if i == 3 && j < 40 { 0.3 } else { 1.0 }));
        assert_eq!((found.odd, found.is_enough()), (1, true), "{found:?}");
        let found = steadiness(&looks(|i, j| if i < 3 && j < 40 { 0.3 } else { 1.0 }));
        assert_eq!((found.odd, found.is_enough()), (3, false), "{found:?}");
    }

    #[test]
    fn a_passing_shadow_is_refused() {
        let found = steadiness(&looks(|i, j| if j < 10 { 1.0 - 0.1 * i as f64 } else { 1.0 }));
        assert!(!found.is_enough(), "{found:?}");
    }

    #[test]
    fn bands_of_a_lamp_are_refused_when_deep() {
        let bands = |depth: f64| looks(move |i, j| 1.0 + depth * ((j / 12) as f64 * 1.3 + i as f64 * 2.0).sin());
        assert!(steadiness(&bands(0.01)).is_enough());
        assert!(!steadiness(&bands(0.10)).is_enough());
    }

    #[test]
    fn too_few_frames_tell_nothing() {
        assert_eq!(steadiness(&looks(|i, _| i as f64)[..2]), Steadiness { change: 0.0, odd: 0, frames: 2 });
        assert!(steadiness(&[]).is_enough());
    }

    #[test]
    fn darkness_is_left_out() {
        assert_eq!(steadiness(&looks(|i, j| 1e-3 * ((i * 31 + j) % 7) as f64)), Steadiness { change: 0.0, odd: 0, frames: 8 });
    }
}
