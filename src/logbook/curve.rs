//! pH of a bath by the share of its reserve that is used, for one acid and one developer, from the chemistry.

use super::life::LifeError;
use crate::chemistry::liquid::Liquid;
use crate::quantity::{Celsius, Ph};

/// Highest share in the table: far past the limit, where every dye has turned.
pub(super) const MOST: f64 = 1.6;
/// pH up to which the table is worked out: there every dye for stop baths has turned.
const HIGHEST: f64 = 8.0;
/// Points of the table, 0.02 apart: linear between them errs by less than 0.01 pH up to the limit.
const POINTS: usize = 81;
/// Rounds of the secant rule for a volume at most; each gains two digits, for the reserve is nearly linear in it.
const ROUNDS: usize = 8;
/// Relative error of a volume that ends the rounds: worth less than 1e-3 pH.
const SETTLED: f64 = 1e-5;
/// Distance of the pH values that are solved for; linear between them errs by less than 0.003 in the share used.
const PH_STEP: f64 = 0.15;
/// Points at which the salt is worked out; it runs nearly straight.
const SALTS: usize = 5;

/// A table over the share used: 0 is fresh, 1 stands at the spent limit.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Curve {
    /// pH at even steps from 0 to [`MOST`].
    pub(super) ph: Vec<f64>,
    /// Ionic strength there, mol/l.
    pub(super) salt: Vec<f64>,
    /// Litres of developer that bring a litre of the fresh bath to the limit, carry-out not counted.
    pub(super) appetite: f64,
}

impl Curve {
    /// Mixes and solves.
    pub(super) fn new(bath: &Liquid, developer: &Liquid, spent: Ph, temperature: Celsius) -> Result<Self, LifeError> {
        let mix = Mix { bath, developer, temperature };
        let fresh = bath.equilibrium(temperature)?.ph.value();
        if mix.left(0.0, spent)? <= 0.0 {
            return Err(LifeError::Powerless { what: "the bath".to_owned(), lacking: "reserve" });
        }
        let appetite = mix.litres_to(spent, 0.1)?;
        // Volumes for even steps of pH: the reserve asks the solver once where the pH asks it ten times.
        let mut nodes = vec![(0.0, fresh)];
        let first = ((fresh / PH_STEP).floor() + 1.0) * PH_STEP;
        for i in 0.. {
            let (litres, ph) = (nodes[nodes.len() - 1].0, first + PH_STEP * f64::from(i));
            if litres > MOST * appetite || ph > HIGHEST {
                break;
            }
            nodes.push((mix.litres_to(Ph::new(ph).unwrap_or(Ph::NEUTRAL), 1.2 * litres + 0.01 * appetite)?, ph));
        }
        let salts = (0..SALTS)
            .map(|i| {
                let litres = MOST * appetite * i as f64 / (SALTS - 1) as f64;
                Ok((litres, bath.mixed(1.0, developer, litres).equilibrium(temperature)?.ionic_strength.value()))
            })
            .collect::<Result<Vec<_>, LifeError>>()?;
        let even = |table: &[(f64, f64)]| (0..POINTS).map(|i| at(table, MOST * appetite * i as f64 / (POINTS - 1) as f64)).collect();
        Ok(Curve { ph: even(&nodes), salt: even(&salts), appetite })
    }

    /// pH at a share used; held beyond the table.
    pub(super) fn ph_at(&self, used: f64) -> f64 {
        between(&self.ph, used)
    }

    /// Share used at a pH, from 0 to the end of the table.
    pub(super) fn used_at(&self, ph: f64) -> f64 {
        let after = self.ph.partition_point(|p| *p < ph);
        let step = MOST / (POINTS - 1) as f64;
        match after {
            0 => 0.0,
            POINTS => MOST,
            i => step * ((i - 1) as f64 + (ph - self.ph[i - 1]) / (self.ph[i] - self.ph[i - 1])),
        }
    }
}

/// Linear interpolation in a table over the share used.
pub(super) fn between(table: &[f64], used: f64) -> f64 {
    let place = (used / MOST * (POINTS - 1) as f64).clamp(0.0, (POINTS - 1) as f64 - 1e-9);
    let i = place as usize;
    table[i] + (place - i as f64) * (table[i + 1] - table[i])
}

/// Value of a rising table at `x`; held beyond its ends.
fn at(table: &[(f64, f64)], x: f64) -> f64 {
    let after = table.partition_point(|(known, _)| *known < x).clamp(1, table.len() - 1);
    let ((x0, y0), (x1, y1)) = (table[after - 1], table[after]);
    y0 + ((x - x0) / (x1 - x0)).clamp(0.0, 1.0) * (y1 - y0)
}

/// A bath and what is mixed into it.
struct Mix<'a> {
    bath: &'a Liquid,
    developer: &'a Liquid,
    temperature: Celsius,
}

impl Mix<'_> {
    /// Reserve of a litre of bath to a pH when so many litres of developer are in it, meq.
    ///
    /// The reserve of the mixture is asked, not that of each: salt of one moves the constants of the other, and a strong developer alone is beyond the model of salt.
    fn left(&self, litres: f64, ph: Ph) -> Result<f64, LifeError> {
        Ok(self.bath.mixed(1.0, self.developer, litres).reserve(ph, self.temperature)?.value() * (1.0 + litres))
    }

    /// Litres of developer in a litre of bath that bring it to a pH, looked for near `guess`, above 0.
    fn litres_to(&self, ph: Ph, guess: f64) -> Result<f64, LifeError> {
        let powerless = || LifeError::Powerless { what: "the developer".to_owned(), lacking: "alkalinity" };
        let (mut before, mut now) = (0.5 * guess, guess);
        let mut left_before = self.left(before, ph)?;
        for _ in 0..ROUNDS {
            let left = self.left(now, ph)?;
            let slope = (left - left_before) / (now - before);
            // A slope that is not a number is no neutralising either.
            if slope.is_nan() || slope >= 0.0 {
                return Err(powerless());
            }
            (before, left_before) = (now, left);
            now = (now - left / slope).max(0.1 * before);
            if (now - before).abs() < SETTLED * now {
                return Ok(now);
            }
            // A developer that needs so much of itself takes up nothing.
            if now > 1000.0 {
                return Err(powerless());
            }
        }
        Ok(now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::{bath, developer, powder};
    use crate::quantity::MassPercent;
    use approx::assert_abs_diff_eq;

    fn citric() -> Liquid {
        bath::powdered(powder::find("citric-anhydrous").unwrap(), 15.0)
    }

    fn acetic() -> Liquid {
        bath::powdered(powder::find(powder::ACETIC_ACID).unwrap(), 17.0)
    }

    fn developer(name: &str) -> Liquid {
        developer::find(name).unwrap().liquid()
    }

    fn to(bath: &Liquid, name: &str, ph: f64) -> Curve {
        Curve::new(bath, &developer(name), Ph::new(ph).unwrap(), Celsius::STANDARD).unwrap()
    }

    // Worked by hand from textbook pK without salt effect, ml of developer that a litre takes to pH 5.2, carry-out counted, 1000 ln(1 + reserve / alkalinity):
    // acetic 1.7 % (208 meq/l) in paper developer 1+2 (535), film stock (800), film 1+1 (400): 330, 230, 420; citric 15 g/l (139): 230, 160, 300.
    // Salt strengthens the acids, citric with its three charges most, so the real bath takes up to a sixth more.
    #[test]
    fn millilitres_to_exhaustion_are_the_hand_calculation() {
        let names = ["carbonate-1+2", "borax-sulfite", "borax-sulfite-1+1"];
        for (bath, wanted) in [(acetic(), [330.0, 230.0, 420.0]), (citric(), [230.0, 160.0, 300.0])] {
            for (name, wanted) in names.iter().zip(wanted) {
                let ml = 1000.0 * (1.0 + to(&bath, name, 5.2).appetite).ln();
                assert!((1.0..1.20).contains(&(ml / wanted)), "{name}: {ml} of {wanted}");
            }
        }
    }

    // The same figures from the solver without its model of salt, within rounding to 10 ml and the round alkalinities.
    #[test]
    fn without_salt_effect_they_are_equal() {
        use crate::chemistry::activity::Model;
        let ideal = |liquid: &Liquid| {
            let mut solution = liquid.solution(Celsius::STANDARD);
            solution.model = Model::Ideal;
            1000.0 * solution.alkali_to(Ph::new(5.2).unwrap()).unwrap()
        };
        for (name, wanted) in [("carbonate-1+2", 230.0), ("borax-sulfite", 160.0), ("borax-sulfite-1+1", 300.0)] {
            let ml = 1000.0 * (1.0 - ideal(&citric()) / ideal(&developer(name))).ln();
            assert_abs_diff_eq!(ml, wanted, epsilon = 6.0);
        }
    }

    #[test]
    fn one_stands_at_the_limit_and_the_way_back_is_the_same() {
        for bath in [citric(), acetic()] {
            let curve = to(&bath, "borax-sulfite-1+1", 5.5);
            assert_abs_diff_eq!(curve.ph_at(1.0), 5.5, epsilon = 0.005);
            // Every place has the pH that the mixture itself is solved to, and its salt.
            for used in [0.0, 0.21, 0.55, 0.77, 0.9, 1.03] {
                let mixed = bath.mixed(1.0, &developer("borax-sulfite-1+1"), used * curve.appetite).equilibrium(Celsius::STANDARD).unwrap();
                assert_abs_diff_eq!(curve.ph_at(used), mixed.ph.value(), epsilon = 0.01);
                assert_abs_diff_eq!(between(&curve.salt, used), mixed.ionic_strength.value(), epsilon = 0.01);
            }
            assert!(curve.ph.is_sorted());
            for used in [0.1, 0.5, 0.83, 1.0, 1.3] {
                assert_abs_diff_eq!(curve.used_at(curve.ph_at(used)), used, epsilon = 1e-6);
            }
            assert_abs_diff_eq!(curve.used_at(1.0), 0.0);
            assert_abs_diff_eq!(curve.used_at(13.0), MOST, epsilon = 0.03);
        }
    }

    // Share of the reserve to pH 5.2 by textbook pK, pure alkali: acetic 25 % 4.1, 50 % 4.5, 75 % 4.85, 90 % 5.05; citric 25 % 3.0, 50 % 3.75, 75 % 4.5, 90 % 4.9. Salt lowers them
    // by up to 0.5, but also lengthens the whole, so that a quarter of it stands a little higher.
    #[test]
    fn shares_have_the_ph_of_the_trade() {
        let alkali = Liquid::water().with_alkali(crate::quantity::MeqPerLitre::new(2000.0).unwrap());
        for (bath, wanted) in [(acetic(), [4.1, 4.5, 4.85, 5.05]), (citric(), [3.0, 3.75, 4.5, 4.9])] {
            let curve = Curve::new(&bath, &alkali, Ph::new(5.2).unwrap(), Celsius::STANDARD).unwrap();
            for (used, wanted) in [0.25, 0.5, 0.75, 0.9].iter().zip(wanted) {
                let ph = curve.ph_at(*used);
                assert!((-0.5..0.1).contains(&(ph - wanted)), "{used}: {ph}, {wanted}");
            }
        }
    }

    // In an acid as strong as fresh citric, sulfite goes on to sulfur dioxide, so a sulfite developer lifts the pH earlier than pure alkali does.
    #[test]
    fn sulfite_lifts_a_strong_bath_early() {
        let alkali = Liquid::water().with_alkali(crate::quantity::MeqPerLitre::new(2000.0).unwrap());
        let pure = Curve::new(&citric(), &alkali, Ph::new(5.2).unwrap(), Celsius::STANDARD).unwrap();
        assert!(to(&citric(), "borax-sulfite-1+1", 5.2).ph_at(0.25) > pure.ph_at(0.25) + 0.03);
    }

    // One table serves developers of half and twice the assumed strength: what they dilute matters less than a reading can see.
    #[test]
    fn strength_of_the_developer_hardly_bends_the_curve() {
        for bath in [citric(), acetic()] {
            let middle = to(&bath, "carbonate-1+2", 5.5);
            for factor in [0.5, 2.0] {
                let liquid = developer("carbonate-1+2").concentrated(factor);
                let other = Curve::new(&bath, &liquid, Ph::new(5.5).unwrap(), Celsius::STANDARD).unwrap();
                for used in [0.5, 0.8, 0.9, 1.0] {
                    assert_abs_diff_eq!(other.ph_at(used), middle.ph_at(used), epsilon = 0.03);
                }
                // And its appetite is in proportion but for the salt.
                assert_abs_diff_eq!(other.appetite * factor / middle.appetite, 1.0, epsilon = 0.04);
            }
        }
    }

    #[test]
    fn what_cannot_neutralise_is_refused() {
        let limit = Ph::new(5.5).unwrap();
        let new = |bath: &Liquid, developer: &Liquid| Curve::new(bath, developer, limit, Celsius::STANDARD);
        assert!(matches!(new(&Liquid::water(), &developer("one-shot")), Err(LifeError::Powerless { .. })));
        assert!(matches!(new(&citric(), &citric()), Err(LifeError::Powerless { .. })));
        let strong = bath::acetic(MassPercent::new(28.0).unwrap(), 60.0);
        assert!(new(&strong, &developer("hydroxide")).is_ok());
    }
}
