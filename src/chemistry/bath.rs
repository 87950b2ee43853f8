//! Fresh stop baths: acetic acid of any strength, citric acid as powder or concentrate, metabisulfite.

use super::liquid::Liquid;
use super::powder::{self, Powder};
use crate::quantity::MassPercent;

/// A bath with this volume of acetic acid of this strength in a litre, ml.
#[must_use]
pub fn acetic(strength: MassPercent, millilitres: f64) -> Liquid {
    of_liquid(powder::ACETIC_ACID, strength, millilitres * powder::acetic_density(strength))
}

/// A bath with this volume of a citric concentrate (strength as anhydrous acid) in a litre, ml: 50 for a concentrate diluted 1+19.
#[must_use]
pub fn citric_concentrate(strength: MassPercent, millilitres: f64) -> Liquid {
    of_liquid("citric-anhydrous", strength, millilitres * powder::citric_density(strength))
}

/// A bath with this mass of a powder, such as citric acid or metabisulfite, in a litre, g.
#[must_use]
pub fn powdered(powder: &'static Powder, grams: f64) -> Liquid {
    Liquid::water().with_powder(powder, grams)
}

/// Millilitres of a concentrate in a litre of its dilution `parts` + `water`: 1+19 is 50.
#[must_use]
pub fn millilitres_per_litre(parts: f64, water: f64) -> f64 {
    1000.0 * parts / (parts + water)
}

/// Both names stand in the table, as the tests of strengths below show, so that plain water never comes of it.
fn of_liquid(name: &str, strength: MassPercent, grams: f64) -> Liquid {
    powder::find(name).map_or_else(|_| Liquid::water(), |powder| powdered(powder, grams * strength.value() / 100.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::activity::Model;
    use crate::chemistry::developer;
    use crate::quantity::{Celsius, MeqPerLitre, Ph};
    use approx::assert_abs_diff_eq;

    fn percent(value: f64) -> MassPercent {
        MassPercent::new(value).unwrap()
    }

    fn ph(liquid: &Liquid) -> f64 {
        liquid.equilibrium(Celsius::STANDARD).unwrap().ph.value()
    }

    fn reserve(liquid: &Liquid, to: f64) -> f64 {
        liquid.reserve(Ph::new(to).unwrap(), Celsius::STANDARD).unwrap().value()
    }

    // Reserves to pH 5.2 by the textbook's pK without salt (worked by hand: 0.1665 mol/l acetic acid times 10^0.443 / (1 + 10^0.443) is 122): acetic 1.0, 1.35, 1.7, 2.0 %,
    // citric anhydrous 10, 15, 20 g/l, monohydrate 15 g/l.
    #[test]
    fn reserve_without_salt_effect_is_the_hand_calculation() {
        let acetic = |grams| powdered(powder::find(powder::ACETIC_ACID).unwrap(), grams);
        let citric = |grams| powdered(powder::find("citric-anhydrous").unwrap(), grams);
        let monohydrate = powdered(powder::find("citric-monohydrate").unwrap(), 15.0);
        let cases = [
            (acetic(10.0), 122.0),
            (acetic(13.5), 165.0),
            (acetic(17.0), 208.0),
            (acetic(20.0), 244.0),
            (citric(10.0), 93.0),
            (citric(15.0), 139.0),
            (citric(20.0), 186.0),
            (monohydrate, 127.0),
        ];
        for (bath, wanted) in cases {
            let mut solution = bath.solution(Celsius::STANDARD);
            solution.model = Model::Ideal;
            assert_abs_diff_eq!(1000.0 * solution.alkali_to(Ph::new(5.2).unwrap()).unwrap(), wanted, epsilon = 0.8);
            // Salt strengthens an acid, so the real bath takes up more before it gets there.
            assert!(reserve(&bath, 5.2) > wanted);
        }
    }

    // 50 % citric acid is about 3.2 mol/l (from memory), 10 % 1.0402 g/ml (handbook), and 30 % acetic acid 5.18 mol/l.
    #[test]
    fn concentrates_dilute_to_the_same_bath_as_powder() {
        let concentrate = citric_concentrate(percent(50.0), millilitres_per_litre(1.0, 19.0));
        let powder = powdered(powder::find("citric-anhydrous").unwrap(), 0.05 * 3.2 * 192.124);
        assert_abs_diff_eq!(ph(&concentrate), ph(&powder), epsilon = 0.01);
        assert_abs_diff_eq!(
            ph(&acetic(percent(30.0), 100.0)),
            ph(&powdered(powder::find(powder::ACETIC_ACID).unwrap(), 0.518 * 60.052)),
            epsilon = 0.002
        );
        assert_abs_diff_eq!(
            ph(&citric_concentrate(percent(10.0), 100.0)),
            ph(&powdered(powder::find("citric-anhydrous").unwrap(), 10.402)),
            epsilon = 1e-9
        );
    }

    // Texts of the trade give fresh citric baths pH 2 to 2.5, acetic ones 2.6 to 2.8, metabisulfite 4 to 4.6 (common practice).
    #[test]
    fn fresh_baths_have_the_ph_of_the_trade() {
        let of = |name: &str, grams| ph(&powdered(powder::find(name).unwrap(), grams));
        assert!((2.0..2.5).contains(&of("citric-anhydrous", 15.0)));
        assert!((2.6..2.8).contains(&ph(&acetic(percent(28.0), 47.0))));
        assert!((4.0..4.6).contains(&of("sodium-metabisulfite", 30.0)) && (4.0..4.6).contains(&of("potassium-metabisulfite", 30.0)));
    }

    #[test]
    fn what_is_taken_up_is_gone_from_the_reserve() {
        let bath = acetic(percent(28.0), 50.0);
        let used = bath.clone().with_alkali(MeqPerLitre::new(100.0).unwrap());
        assert_abs_diff_eq!(reserve(&bath, 5.2) - reserve(&used, 5.2), 100.0, epsilon = 1e-6);
        // Evaporation concentrates the reserve, water dilutes it, and what was taken away comes back with fresh bath.
        assert!(reserve(&used.concentrated(1.1), 5.2) > 1.09 * reserve(&used, 5.2));
        assert!(reserve(&used.mixed(0.9, &Liquid::water(), 0.1), 5.2) < 0.91 * reserve(&used, 5.2) + 0.1);
        assert!(reserve(&used.mixed(0.9, &bath, 0.1), 5.2) > reserve(&used, 5.2));
    }

    #[test]
    fn developer_carried_in_lifts_the_ph() {
        let bath = powdered(powder::find("citric-anhydrous").unwrap(), 15.0);
        let developer = developer::find("carbonate-1+2").unwrap().liquid();
        let all: Vec<f64> = (0..12).map(|i| ph(&bath.mixed(1000.0, &developer, 40.0 * f64::from(i)))).collect();
        assert!(all.is_sorted_by(|a, b| a < b), "{all:?}");
        // Its carbon dioxide gone, the bath stands a little higher.
        let used = bath.mixed(1000.0, &developer, 240.0);
        assert!(ph(&used.without_carbon_dioxide()) > ph(&used));
    }

    #[test]
    fn titration_starts_fresh_and_ends_where_the_reserve_says() {
        let bath = powdered(powder::find("citric-anhydrous").unwrap(), 15.0);
        let to = Ph::new(5.5).unwrap();
        let curve = bath.titrated(bath.reserve(to, Celsius::STANDARD).unwrap(), 20, Celsius::STANDARD).unwrap();
        assert_eq!(curve.len(), 21);
        assert_abs_diff_eq!(curve[0].1.value(), ph(&bath), epsilon = 1e-9);
        assert_abs_diff_eq!(curve[20].1.value(), 5.5, epsilon = 1e-6);
        assert!(curve.is_sorted_by(|a, b| a.1 < b.1));
    }
}
