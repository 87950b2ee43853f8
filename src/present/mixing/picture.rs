//! The neutralisation curve of a bath of any recipe, as a drawing.

use crate::chemistry::error::ChemistryError;
use crate::chemistry::liquid::Liquid;
use crate::indicator::{Indicator, equilibrium};
use crate::measurement::reading::State;
use crate::measurement::request::Limits;
use crate::present::chart::neutralisation::{Dye, Neutralisation, Place, draw};
use crate::present::drawing::Drawing;
use crate::present::dyes;
use crate::quantity::{Celsius, Interval, MeqPerLitre};

/// What is told of the bath beside what is in it.
#[derive(Debug, Clone, Copy)]
pub struct Terms<'a> {
    /// Limits of the states.
    pub limits: Limits,
    /// Its temperature.
    pub temperature: Celsius,
    /// The indicator in it, or in the sample.
    pub indicator: Option<&'a Indicator>,
}

/// How far the curve goes beyond the reserve.
const BEYOND: f64 = 1.35;
/// Points of the curve: finer than 4 pixels.
const POINTS: usize = 160;

/// The curve of a fresh bath with the place of one that is in use; `recipe` is the heading.
///
/// # Errors
/// As [`crate::chemistry::solver::Solution::solve`].
pub fn drawing(recipe: &str, fresh: &Liquid, terms: Terms<'_>, place: Option<Place>) -> Result<Drawing, ChemistryError> {
    let temperature = terms.temperature;
    let reserve = fresh.reserve(terms.limits.spent, temperature)?;
    let most = MeqPerLitre::new(BEYOND * reserve.value().max(1.0)).unwrap_or(reserve);
    let curve = fresh.titrated(most, POINTS, temperature)?.into_iter().map(|(alkali, ph)| (alkali.value(), ph.value())).collect();
    let salt = fresh.clone().with_alkali(reserve).equilibrium(temperature)?.ionic_strength;
    let chips = terms.indicator.map(dyes::chips).unwrap_or_default();
    let dye = terms.indicator.map(|indicator| Dye { indicator, pka: equilibrium::pka_at(indicator, salt, temperature), chips: &chips });
    Ok(draw(&Neutralisation { recipe: recipe.to_owned(), curve, reserve: reserve.value(), limits: terms.limits, dye, place }))
}

/// The state that an interval of pH speaks for; unclear when it may be fresh and spent.
#[must_use]
pub fn state(ph: Interval, limits: Limits) -> State {
    let (nearing, spent) = (limits.nearing.value(), limits.spent.value());
    let (low, high) = (ph.low.unwrap_or(f64::NEG_INFINITY), ph.high.unwrap_or(f64::INFINITY));
    // A bound that is the limit itself, as in `below 5.0`, is on the near side of it.
    if high <= nearing {
        State::Fresh
    } else if low < nearing && high >= spent {
        State::Unclear
    } else if low >= spent || (low < spent && high >= spent && low + high >= 2.0 * spent) {
        // Of a doubt between nearing and spent the middle decides.
        State::Spent
    } else {
        State::Nearing
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::{bath, powder};
    use crate::indicator::catalogue;
    use crate::present::drawing::Item;
    use crate::quantity::Ph;

    fn limits() -> Limits {
        Limits { nearing: Ph::new(5.0).unwrap(), spent: Ph::new(5.5).unwrap() }
    }

    fn words(drawing: &Drawing) -> String {
        let text = |item: &Item| if let Item::Words(words) = item { Some(words.text.clone()) } else { None };
        drawing.items.iter().filter_map(text).collect::<Vec<_>>().join("|")
    }

    #[test]
    fn every_bath_has_a_curve() {
        let terms = Terms { limits: limits(), temperature: Celsius::STANDARD, indicator: catalogue::find("bromocresol-purple") };
        for (name, grams) in [("citric-anhydrous", 15.0), ("acetic-acid", 17.0), ("sodium-metabisulfite", 30.0)] {
            let fresh = bath::powdered(powder::find(name).unwrap(), grams);
            let said = words(&drawing(name, &fresh, terms, None).unwrap());
            for word in ["25 %", "75 %", "yellow", "purple", "fresh", "spent", "meq/l"] {
                assert!(said.contains(word), "{name}: no {word} in {said}");
            }
        }
    }

    // Texts of the trade: of a citric bath's reserve to pH 5.2 a quarter is used at pH 3.0, half at 3.75, three quarters at 4.5; so 42 % at 3.5 and 72 % at 4.4. That is without
    // the salt effect, which moves them by a few per cent.
    #[test]
    fn place_tells_the_share_that_is_used() {
        let terms = Terms { limits: Limits { spent: Ph::new(5.2).unwrap(), ..limits() }, temperature: Celsius::STANDARD, indicator: None };
        let ph = Interval { low: Some(3.5), high: Some(4.4) };
        let place = Place { name: "read".to_owned(), state: State::Fresh, ph, likely: Some(4.0), counted: Interval::OPEN };
        let fresh = bath::powdered(powder::find("citric-anhydrous").unwrap(), 15.0);
        let said = words(&drawing("citric acid", &fresh, terms, Some(place)).unwrap());
        let numbers: Vec<f64> = said
            .split('|')
            .find(|text| text.contains("reserve used"))
            .map(|text| text.split(['(', ')', ';', ' ']).filter_map(|part| part.parse().ok()).collect())
            .unwrap();
        let [.., low, high] = numbers.as_slice() else { panic!("no shares in {said}") };
        assert!((low - 42.0).abs() < 5.0 && (high - 72.0).abs() < 5.0, "{said}");
    }

    #[test]
    fn states_follow_the_limits() {
        let of = |low, high| state(Interval { low, high }, limits());
        assert_eq!((of(None, Some(4.9)), of(None, Some(5.0))), (State::Fresh, State::Fresh));
        assert_eq!(of(Some(4.8), Some(5.2)), State::Nearing);
        assert_eq!(of(Some(5.1), Some(5.6)), State::Nearing);
        assert_eq!(of(Some(5.3), Some(5.9)), State::Spent);
        assert_eq!(of(Some(6.0), None), State::Spent);
        assert_eq!(of(Some(4.5), Some(6.0)), State::Unclear);
        assert_eq!(of(None, None), State::Unclear);
    }
}
