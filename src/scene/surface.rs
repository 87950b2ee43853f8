//! Reflectances of what lies about: tables, paper, vessels, small things. All invented, between 0 and 1.

use super::random::Random;
use crate::colour::spectrum::Spectrum;

/// A smooth step from 0 to 1 about `middle` nm.
fn step(nm: f64, middle: f64, width: f64) -> f64 {
    1.0 / (1.0 + (-(nm - middle) / width).exp())
}

/// The same at all wavelengths.
pub(super) fn grey(reflectance: f64) -> Spectrum {
    Spectrum::from_fn(|_| reflectance)
}

/// Copy paper: falling in the violet, a brightener's hump in the blue.
pub(super) fn paper() -> Spectrum {
    Spectrum::from_fn(|nm| 0.85 * step(nm, 395.0, 10.0) + 0.05 * (-0.5 * ((nm - 445.0) / 18.0f64).powi(2)).exp())
}

/// Glazed ware: nearly white, a little warm.
pub(super) fn glaze(level: f64, warmth: f64) -> Spectrum {
    Spectrum::from_fn(|nm| level * (1.0 + warmth * (nm - 560.0) / 200.0) * (1.0 - 0.06 * (1.0 - step(nm, 400.0, 14.0))))
}

/// A grey card of this reflectance whose colour leans by `slope` over the visible range.
pub(super) fn card(reflectance: f64, slope: f64) -> Spectrum {
    Spectrum::from_fn(|nm| reflectance * (1.0 + slope * (nm - 560.0) / 160.0))
}

/// What the table is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Table {
    /// Oiled wood with planks.
    Oak,
    /// Dark speckled stone.
    Stone,
    /// A brushed tray, nearly as bright as a card.
    Steel,
    /// Blue oilcloth.
    Cloth,
    /// Pale laminate.
    Laminate,
}

impl Table {
    pub(super) const ALL: [Table; 5] = [Table::Oak, Table::Stone, Table::Steel, Table::Cloth, Table::Laminate];

    pub(super) fn reflectance(self) -> Spectrum {
        Spectrum::from_fn(|nm| match self {
            Table::Oak => 0.07 + 0.30 * step(nm, 575.0, 50.0),
            Table::Stone => 0.085 + 0.015 * step(nm, 520.0, 60.0),
            Table::Steel => 0.33 + 0.05 * step(nm, 550.0, 80.0),
            Table::Cloth => 0.05 + 0.16 * (-0.5 * ((nm - 465.0) / 38.0f64).powi(2)).exp() + 0.05 * step(nm, 690.0, 15.0),
            Table::Laminate => 0.52 + 0.10 * step(nm, 480.0, 40.0),
        })
    }

    /// How much the brightness varies from place to place, relative.
    pub(super) fn contrast(self) -> f64 {
        match self {
            Table::Oak => 0.30,
            Table::Stone => 0.45,
            Table::Steel => 0.10,
            Table::Cloth => 0.14,
            Table::Laminate => 0.06,
        }
    }

    /// Length of the grain across and along, mm.
    pub(super) fn grain(self) -> (f64, f64) {
        match self {
            Table::Oak => (3.0, 60.0),
            Table::Stone => (2.5, 2.5),
            Table::Steel => (1.2, 90.0),
            Table::Cloth => (1.6, 1.6),
            Table::Laminate => (30.0, 30.0),
        }
    }
}

/// The colour of some small thing: black plastic, steel, red or green enamel, yellow or violet plastic that is no indicator, white rubber.
pub(super) fn trifle(random: &mut Random) -> Spectrum {
    match random.below(7) {
        0 => grey(0.035),
        1 => grey(0.50),
        2 => Spectrum::from_fn(|nm| 0.04 + 0.55 * step(nm, 605.0, 9.0)),
        3 => Spectrum::from_fn(|nm| 0.05 + 0.22 * (-0.5 * ((nm - 535.0) / 32.0f64).powi(2)).exp()),
        4 => Spectrum::from_fn(|nm| 0.06 + 0.62 * step(nm, 512.0, 12.0)),
        5 => Spectrum::from_fn(|nm| 0.05 + 0.30 * (1.0 - step(nm, 485.0, 18.0)) + 0.25 * step(nm, 640.0, 15.0)),
        _ => grey(0.78),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_reflects_more_than_it_gets() {
        let mut random = Random::new(1);
        let mut all = vec![paper(), glaze(0.9, 0.03), card(0.18, 0.03)];
        all.extend(Table::ALL.map(Table::reflectance));
        all.extend((0..40).map(|_| trifle(&mut random)));
        assert!(all.iter().all(|s| s.0.iter().all(|v| (0.0..1.0).contains(v))));
    }
}
