//! An interval either end of which may be open.

/// Lower and upper bound; `None` is an open end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower bound, or open.
    pub low: Option<f64>,
    /// Upper bound, or open.
    pub high: Option<f64>,
}

impl Interval {
    /// Nothing is known.
    pub const OPEN: Interval = Interval { low: None, high: None };

    /// True when `value` lies inside, bounds included.
    #[must_use]
    pub fn contains(&self, value: f64) -> bool {
        self.low.is_none_or(|low| low <= value) && self.high.is_none_or(|high| value <= high)
    }

    /// Distance between the bounds, when both are closed.
    #[must_use]
    pub fn width(&self) -> Option<f64> {
        Some(self.high? - self.low?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn open_ends_hold_everything() {
        assert!(Interval::OPEN.contains(-3.0));
        let above = Interval { low: Some(5.0), high: None };
        assert!(above.contains(5.0) && !above.contains(4.99));
        assert_eq!(above.width(), None);
    }
}
