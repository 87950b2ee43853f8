//! Charts as geometry: an axis of pH, the transition curve above it and one lane per cup below; buffers of a
//! calibration on the curve.

pub mod history;
pub mod ladder;
pub mod lanes;
pub mod neutralisation;
pub mod transition;

use super::drawing::{Anchor, Area, Drawing, GREY, GUIDE, INK, Stroke};
use crate::indicator::Indicator;
use crate::measurement::reading::State;
use crate::measurement::request::Limits;

/// Size of the words on charts, pixels: readable when the picture fills the width of a phone turned sideways.
pub const WORDS: f64 = 20.0;
/// Size of lesser words such as cautions, pixels.
pub const SMALL: f64 = 17.0;

/// A straight scale of pH along the width.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axis {
    /// pH at the left end.
    pub low: f64,
    /// pH at the right end, above `low`.
    pub high: f64,
    /// Left end, pixels.
    pub left: f64,
    /// Right end, pixels.
    pub right: f64,
}

impl Axis {
    /// The axis for an indicator: two pH units to either side of pKa' hold 98 % of its turn; the limits get half a unit of room.
    #[must_use]
    pub fn around(pka: f64, limits: Option<Limits>, left: f64, right: f64) -> Self {
        let (mut low, mut high) = (pka - 2.0, pka + 2.0);
        if let Some(limits) = limits {
            low = low.min(limits.nearing.value() - 0.8);
            high = high.max(limits.spent.value() + 0.8);
        }
        Axis { low: (low * 2.0).floor() / 2.0, high: (high * 2.0).ceil() / 2.0, left, right }
    }

    /// Place of a pH; what lies beyond an end is put at that end.
    #[must_use]
    pub fn x(&self, ph: f64) -> f64 {
        let ph = ph.clamp(self.low, self.high);
        self.left + (ph - self.low) / (self.high - self.low) * (self.right - self.left)
    }

    /// True when the pH is on the scale.
    #[must_use]
    pub fn holds(&self, ph: f64) -> bool {
        (self.low..=self.high).contains(&ph)
    }

    /// Whole pH values on the scale.
    #[must_use]
    pub fn ticks(&self) -> Vec<i32> {
        (self.low.ceil() as i32..=self.high.floor() as i32).collect()
    }

    /// Figures under the axis at height `y`, with the letters pH at its end.
    pub fn figures(&self, drawing: &mut Drawing, y: f64) {
        for tick in self.ticks() {
            let x = self.x(f64::from(tick));
            drawing.line(&[(x, y), (x, y + 7.0)], Stroke::solid(INK, 1.5));
            drawing.words((x, y + 27.0), tick.to_string(), WORDS, Anchor::Middle, INK);
        }
        drawing.words((self.left - 22.0, y + 27.0), "pH", WORDS, Anchor::End, GREY);
    }
}

/// What a chart is about.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'a> {
    /// The dye.
    pub indicator: &'a Indicator,
    /// Its pKa' in this bath.
    pub pka: f64,
    /// Limits of the states; without them the chart shows the handbook's interval of the turn instead.
    pub limits: Option<Limits>,
    /// sRGB of the dye at equal steps of the share in its base form, from 0 to 1; no strip of colours when empty.
    pub chips: &'a [[u8; 3]],
}

/// The states with the stretch of pH each fills on the axis; stretches may be empty.
#[must_use]
pub fn bands(axis: &Axis, limits: Limits) -> [(State, f64, f64); 3] {
    let (nearing, spent) = (axis.x(limits.nearing.value()), axis.x(limits.spent.value()));
    [(State::Fresh, axis.left, nearing), (State::Nearing, nearing, spent), (State::Spent, spent, axis.right)]
}

/// What is not finite counts as unknown and is not drawn.
fn finite(figures: [Option<f64>; 3]) -> [Option<f64>; 3] {
    figures.map(|ph| ph.filter(|v| v.is_finite()))
}

/// Tints and border lines of the states behind a plot of height `h` at `y`.
fn draw_bands(drawing: &mut Drawing, axis: &Axis, limits: Limits, y: f64, h: f64) {
    for (state, from, to) in bands(axis, limits) {
        if to > from {
            drawing.fill_area(Area { x: from, y, w: to - from, h }, super::symbol::ink(state).at(0.13));
        }
    }
    for limit in [limits.nearing.value(), limits.spent.value()] {
        let x = axis.x(limit);
        drawing.line(&[(x, y), (x, y + h)], Stroke::dashed(GREY, 1.5, 7.0, 5.0));
    }
}

/// Thin upright lines at whole pH.
fn draw_grid(drawing: &mut Drawing, axis: &Axis, y: f64, h: f64) {
    for tick in axis.ticks() {
        let x = axis.x(f64::from(tick));
        drawing.line(&[(x, y), (x, y + h)], Stroke::solid(GUIDE.at(0.6), 1.0));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Ph;

    #[test]
    fn axis_holds_turn_and_limits() {
        let limits = Limits { nearing: Ph::new(3.0).unwrap(), spent: Ph::new(9.0).unwrap() };
        let axis = Axis::around(6.1, Some(limits), 0.0, 100.0);
        assert!(axis.low <= 2.2 && axis.high >= 9.8);
        assert!((axis.x(axis.low), axis.x(axis.high)) == (0.0, 100.0));
        assert!(axis.x(5.0) < axis.x(5.5), "pH rises to the right");
        let (low, high) = (axis.x(-1.0), axis.x(15.0));
        assert!((low, high) == (0.0, 100.0));
    }

    #[test]
    fn bands_follow_each_other() {
        let limits = Limits { nearing: Ph::new(5.0).unwrap(), spent: Ph::new(5.5).unwrap() };
        let [fresh, nearing, spent] = bands(&Axis::around(6.1, Some(limits), 0.0, 100.0), limits);
        assert!((fresh.2 - nearing.1).abs() < 1e-12 && (nearing.2 - spent.1).abs() < 1e-12);
        assert!(fresh.2 > fresh.1 && nearing.2 > nearing.1 && spent.2 > spent.1);
    }
}
