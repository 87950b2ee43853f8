//! Volumes and what is dissolved in them.

use super::RangeError;
use serde::{Deserialize, Serialize};
use std::fmt;

super::quantity!(
    /// Volume to mix, millilitres: from what a pipette fills to a large tank.
    Millilitres, "volume in millilitres", 1.0, 100_000.0
);
super::quantity!(
    /// Mass of a dissolved substance over mass of the liquid, per cent.
    MassPercent, "strength in per cent by mass", 1.0, 100.0
);
super::quantity!(
    /// Smallest step that a balance shows, grams.
    BalanceStep, "step of the balance in grams", 0.0001, 10.0
);

super::quantity!(
    /// Acid or alkali in milliequivalents per litre; above 0 is alkali taken up, or room for it.
    MeqPerLitre, "acid or alkali in meq/l", -20_000.0, 20_000.0
);

super::quantity!(
    /// Grams of a substance in a litre of working bath: from where nothing is left of it to the strongest liquid.
    GramsPerLitre, "strength in grams per litre", 0.01, 1500.0
);

impl Millilitres {
    /// Volume in litres.
    #[must_use]
    pub const fn litres(self) -> f64 {
        self.0 / 1000.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_and_too_much_are_refused() {
        assert!(Millilitres::new(0.0).is_err() && Millilitres::new(-5.0).is_err() && Millilitres::new(2e5).is_err());
        assert!((Millilitres::new(250.0).unwrap().litres() - 0.25).abs() < 1e-12);
    }
}
