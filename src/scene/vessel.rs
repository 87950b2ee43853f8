//! Sample cups: how deep the liquid is where, and how light comes back out of it.

use super::random::Random;
use super::surface::{glaze, paper};
use crate::colour::spectrum::Spectrum;

/// How the depth goes from the centre to the liquid's edge; `edge` is the depth there over that of the centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Profile {
    /// Flat floor with a rounded corner that takes up `corner` of the radius.
    Flat {
        /// Share of the radius.
        corner: f64,
        /// Relative depth at the edge.
        edge: f64,
    },
    /// Part of a sphere whose radius is `bulge` times the liquid's.
    Dome {
        /// More than 1.
        bulge: f64,
        /// Relative depth at the edge.
        edge: f64,
    },
    /// Evenly shallower, with a rounded tip.
    Cone {
        /// Relative depth at the edge.
        edge: f64,
    },
}

impl Profile {
    /// Depth at `rho` of the liquid's radius (0 to 1) over that of the centre.
    #[must_use]
    pub fn depth(self, rho: f64) -> f64 {
        let rho = rho.clamp(0.0, 1.0);
        match self {
            Profile::Flat { corner, edge } => {
                let t = ((rho - 1.0 + corner) / corner).max(0.0);
                edge + (1.0 - edge) * (1.0 - t * t).max(0.0).sqrt()
            }
            Profile::Dome { bulge, edge } => {
                let rise = |r: f64| (bulge * bulge - r * r).sqrt();
                edge + (1.0 - edge) * (rise(rho) - rise(1.0)) / (bulge - rise(1.0))
            }
            Profile::Cone { edge } => {
                // A tip rounded over the innermost tenth.
                let slant = |r: f64| (r * r + 0.01).sqrt();
                1.0 - (1.0 - edge) * (slant(rho) - slant(0.0)) / (slant(1.0) - slant(0.0))
            }
        }
    }
}

/// What the cup is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ware {
    /// White and opaque.
    Glazed,
    /// Clear, standing on paper.
    Glass,
}

/// One kind of cup.
#[derive(Debug, Clone, PartialEq)]
pub struct Vessel {
    /// Material.
    pub ware: Ware,
    /// Reflectance of the wall; of the paper below when it is glass.
    pub wall: Spectrum,
    /// Radius of the liquid over that of the rim.
    pub liquid_share: f64,
    /// Depth profile.
    pub profile: Profile,
    /// How much deeper the liquid is on one side than at the centre, relative.
    pub lean: f64,
    /// Share of the light that is thrown back from under the surface and crosses the liquid again. Zero is plain Beer-Lambert.
    pub bounce: f64,
    /// Light on the floor over light on the rim.
    pub floor_light: f64,
    /// Light on the wall just above the liquid over light on the rim.
    pub wall_light: f64,
    /// How much brighter the wall is on the side that faces the lamp, relative.
    pub wall_contrast: f64,
}

impl Vessel {
    /// Some white cup; numbers invented.
    #[must_use]
    pub fn glazed(random: &mut Random) -> Self {
        let edge = random.between(0.35, 0.9);
        let profile = match random.below(3) {
            0 => Profile::Flat { corner: random.between(0.15, 0.6), edge },
            1 => Profile::Dome { bulge: random.between(1.05, 1.8), edge },
            _ => Profile::Cone { edge },
        };
        Vessel {
            ware: Ware::Glazed,
            wall: glaze(random.between(0.78, 0.9), random.between(-0.01, 0.03)),
            liquid_share: random.between(0.62, 0.84),
            profile,
            lean: random.between(0.0, 0.08),
            bounce: random.between(0.0, 0.25),
            floor_light: random.between(0.86, 1.0),
            wall_light: random.between(0.72, 0.95),
            wall_contrast: random.between(0.0, 0.12),
        }
    }

    /// Some clear tumbler on paper; numbers invented.
    #[must_use]
    pub fn glass(random: &mut Random) -> Self {
        Vessel {
            ware: Ware::Glass,
            wall: paper(),
            liquid_share: random.between(0.84, 0.92),
            profile: Profile::Flat { corner: 0.1, edge: random.between(0.85, 0.97) },
            lean: random.between(0.0, 0.05),
            bounce: random.between(0.0, 0.1),
            floor_light: random.between(0.86, 0.98),
            wall_light: 0.85,
            wall_contrast: random.between(0.0, 0.15),
        }
    }

    /// Reflectance of floor under liquid at this depth, given the absorbance at depth 1.
    ///
    /// The light that bounces between floor and surface forms a geometric series: T (1 - b) / (1 - b T), which is 1 without dye.
    #[must_use]
    pub fn under(&self, absorbance: &Spectrum, depth: f64) -> Spectrum {
        Spectrum(std::array::from_fn(|i| {
            let through = 10f64.powf(-absorbance.0[i] * depth);
            self.wall.0[i] * self.floor_light * through * (1.0 - self.bounce) / (1.0 - self.bounce * through)
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn deep_in_the_middle_shallow_at_the_edge() {
        let edge = 0.5;
        for profile in [Profile::Flat { corner: 0.4, edge }, Profile::Dome { bulge: 1.2, edge }, Profile::Cone { edge }] {
            let depths: Vec<f64> = (0..=20).map(|i| profile.depth(f64::from(i) / 20.0)).collect();
            assert_abs_diff_eq!(depths[0], 1.0, epsilon = 1e-9);
            assert_abs_diff_eq!(depths[20], edge, epsilon = 1e-9);
            assert!(depths.is_sorted_by(|a, b| a >= b), "{profile:?}");
        }
    }

    #[test]
    fn without_bounce_densities_add() {
        let mut vessel = Vessel::glazed(&mut Random::new(2));
        vessel.bounce = 0.0;
        let absorbance = Spectrum::from_fn(|_| 0.7);
        let density = |depth: f64| -(vessel.under(&absorbance, depth).at(550.0) / vessel.under(&absorbance, 0.0).at(550.0)).log10();
        assert_abs_diff_eq!(density(1.0), 0.7, epsilon = 1e-12);
        assert_abs_diff_eq!(density(0.5), 0.35, epsilon = 1e-12);
        vessel.bounce = 0.2;
        let density = -(vessel.under(&absorbance, 1.0).at(550.0) / vessel.under(&absorbance, 0.0).at(550.0)).log10();
        assert!(density > 0.7, "bouncing light crosses the dye more often");
    }
}
