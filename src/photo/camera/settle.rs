//! Have exposure and white balance come to rest? Time is an argument, so that it can be tested.

use std::collections::VecDeque;

/// Seconds that are looked back on: cameras correct exposure several times a second and white balance about once.
const WINDOW: f64 = 1.2;
/// Looks needed at least, so that both halves hold three.
const FEWEST: usize = 6;
/// Change between the halves that still counts as rest, share of the light. The card takes out what is left.
const REST: f64 = 0.01;
/// Light below this share of full scale is noise.
const DARK: f64 = 0.002;

/// The mean light of the latest frames.
#[derive(Debug, Default)]
pub struct Settling {
    looks: VecDeque<(f64, [f64; 3])>,
}

impl Settling {
    /// Adds the mean light of a frame (linear, 0 to 1) seen at `seconds`; true once the picture rests. A lamp that flickers does not keep
    /// it from resting: the halves of the window are compared, not single frames.
    pub fn add(&mut self, seconds: f64, rgb: [f64; 3]) -> bool {
        self.looks.push_back((seconds, rgb));
        while self.looks.len() > FEWEST && self.looks.get(1).is_some_and(|(second, _)| seconds - second >= WINDOW) {
            self.looks.pop_front();
        }
        self.has_enough() && self.change() < REST
    }

    /// True when enough has been seen to judge.
    #[must_use]
    pub fn has_enough(&self) -> bool {
        let span = self.looks.front().zip(self.looks.back()).map_or(0.0, |(first, last)| last.0 - first.0);
        self.looks.len() >= FEWEST && span >= WINDOW
    }

    /// Change of the light from the first half of the window to the second, share, of the channel that changes most.
    #[must_use]
    pub fn change(&self) -> f64 {
        let half = self.looks.len() / 2;
        let light = |from: usize, to: usize| [0, 1, 2].map(|c| middle(self.looks.range(from..to).map(|(_, rgb)| rgb[c]).collect()));
        let (early, late) = (light(0, half), light(half, self.looks.len()));
        difference(early, late)
    }
}

/// Mean of the middle half, at least of one: a faulty frame does not count, flicker is still averaged. NaN when there is none.
fn middle(mut all: Vec<f64>) -> f64 {
    all.sort_by(f64::total_cmp);
    let left_out = if all.len() < 3 { 0 } else { (all.len() / 4).max(1) };
    let kept = &all[left_out..all.len() - left_out];
    kept.iter().sum::<f64>() / kept.len() as f64
}

/// Difference of two means, share of the first, of the channel that differs most.
#[must_use]
pub fn difference(one: [f64; 3], other: [f64; 3]) -> f64 {
    (0..3).map(|c| (other[c].max(DARK) / one[c].max(DARK) - 1.0).abs()).fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seconds until rest at `rate` frames a second, of a light that follows `light`; at most 20.
    fn rest(rate: f64, light: impl Fn(f64) -> [f64; 3]) -> Option<f64> {
        let mut settling = Settling::default();
        (0..(20.0 * rate) as u32).map(|i| f64::from(i) / rate).find(|&t| settling.add(t, light(t)))
    }

    #[test]
    fn a_steady_picture_rests_after_one_window() {
        for rate in [5.0, 30.0, 60.0] {
            let t = rest(rate, |_| [0.4, 0.3, 0.2]).unwrap();
            assert!((WINDOW..WINDOW + 0.25).contains(&t), "{rate}: {t}");
        }
        assert!(rest(1.0, |_| [0.4; 3]).is_some_and(|t| t >= 5.0), "six looks are needed however slow");
    }

    #[test]
    fn exposure_that_creeps_is_waited_for() {
        // From half the light to all of it with a time constant of one second.
        let t = rest(30.0, |t| [0.4 * (1.0 - 0.5 * (-t).exp()); 3]).unwrap();
        // At rest the light must be within two per cent of its end.
        assert!(0.5 * (-t).exp() < 0.02, "{t}");
    }

    #[test]
    fn one_channel_is_enough_to_wait() {
        assert_eq!(rest(30.0, |t| [0.4, 0.3, 0.2 * (1.0 + 0.05 * t)]), None);
    }

    #[test]
    fn flicker_is_no_unrest() {
        let t = rest(30.0, |t| [0.4 * (1.0 + 0.06 * (t * 9.7 * std::f64::consts::TAU).sin()); 3]);
        assert!(t.is_some_and(|t| t < 4.0), "{t:?}");
    }

    // Every seventh frame torn: its mean is far off, the camera is at rest all the same.
    #[test]
    fn faulty_frames_are_no_unrest() {
        let torn = |t: f64| if ((t * 30.0).round() as u32).is_multiple_of(7) { 0.6 } else { 1.0 };
        assert!(rest(30.0, |t| [0.4 * torn(t); 3]).is_some_and(|t| t < 1.5));
    }

    #[test]
    fn darkness_rests() {
        assert!(rest(30.0, |t| [1e-4 * (1.0 + (t * 40.0).sin()); 3]).is_some());
    }
}
