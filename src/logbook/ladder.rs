//! Cups of known pH without buffers: fresh bath with shares of its own turning volume of developer.

use super::bridge;
use super::event::{Developer, Event};
use super::ledger::Bath;
use super::life::{LifeError, STRENGTH_SPREAD};
use super::recipe::{Recipe, RecipeError};
use crate::chemistry::liquid::Liquid;
use crate::quantity::{Celsius, Ph};

/// Shares of the turning volume that are usual, per cent.
pub const RUNGS: [f64; 7] = [0.0, 25.0, 50.0, 75.0, 90.0, 100.0, 125.0];
/// Share of the turning volume by which a cup may be off: a syringe and the eye (judgement).
const POURED: f64 = 0.03;
/// Highest share of the turning volume, per cent: beyond, a bath is mostly developer.
const MOST: f64 = 300.0;
/// Standard uncertainty of the pH where the eye calls a dye turned, which is half-way: as of drop tests (judgement).
pub const TURN_SD: f64 = 0.3;
/// Constants of the acids and salt effect, pH: what the solver differs from published citrate and acetate buffers (tests of the equilibria).
const MODEL: f64 = 0.05;

/// What was measured on the fresh bath.
#[derive(Debug, Clone, PartialEq)]
pub struct Turning {
    /// The fresh bath.
    pub bath: Liquid,
    /// The developer, its strength as stated: only the proportions of its salts count.
    pub developer: Liquid,
    /// Millilitres of developer that turned a litre of bath, above 0.
    pub millilitres: f64,
    /// pH at which its dye is called turned.
    pub ph: Ph,
    /// Standard uncertainty of that pH.
    pub ph_sd: f64,
    /// Temperature of the cups.
    pub temperature: Celsius,
}

impl Turning {
    /// A fresh bath of this recipe, `sample` millilitres of which `used` millilitres of developer turned.
    ///
    /// # Errors
    /// [`RecipeError`] when the recipe cannot be, or nobody knows the developer.
    pub fn of(
        recipe: &Recipe,
        developer: &Developer,
        (sample, used): (f64, f64),
        ph: Ph,
        temperature: Celsius,
    ) -> Result<Self, RecipeError> {
        if developer.own_meq.is_none() {
            crate::chemistry::developer::find(&developer.name)?;
        }
        let (bath, developer) = (recipe.liquid()?, bridge::developer(developer).liquid);
        Ok(Turning { bath, developer, millilitres: 1000.0 * used / sample, ph, ph_sd: TURN_SD, temperature })
    }

    /// The same when the dye turned so many standard uncertainties above the pH that is taken for its turn.
    #[must_use]
    pub fn off(&self, sds: f64) -> Self {
        let ph = (self.ph.value() + sds * self.ph_sd).clamp(Ph::LOW, Ph::HIGH);
        Turning { ph: Ph::new(ph).unwrap_or(self.ph), ..self.clone() }
    }
}

impl Bath {
    /// Its drop test from before anything went through: sample and developer used, ml, and the developer.
    #[must_use]
    pub fn fresh_drop_test(&self) -> Option<(f64, f64, &Developer)> {
        let fresh = self.counting().take_while(|entry| !matches!(entry.event, Event::Load(_) | Event::TopUp { .. }));
        fresh.into_iter().find_map(|entry| match &entry.event {
            Event::DropTest { bath_ml, used_ml, developer } => Some((*bath_ml, *used_ml, developer)),
            _ => None,
        })
    }
}

/// One cup.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rung {
    /// Share of the turning volume, per cent.
    pub share: f64,
    /// Developer in a litre of bath, ml.
    pub millilitres: f64,
    /// pH.
    pub ph: Ph,
    /// Standard uncertainty of the pH. Cups share most of it: where the dye turns.
    pub sd: f64,
    /// The part of it that is this cup's own: what was poured, the strength of the bath, the chemistry.
    pub own: f64,
    /// Ionic strength, mol/l.
    pub ionic_strength: f64,
}

/// pH of each cup with such a share of the turning volume, per cent.
///
/// The developer is taken to be just as strong as the turning volume says. One part of its uncertainty is common to all cups and moves them alike.
///
/// # Errors
/// [`LifeError::Figure`] for a turning volume that cannot be; [`LifeError::Powerless`] when bath or developer cannot do it; what the chemistry refuses.
pub fn rungs(turning: &Turning, shares: &[f64]) -> Result<Vec<Rung>, LifeError> {
    if !(turning.millilitres.is_finite() && turning.millilitres > 0.0) {
        return Err(LifeError::Figure { what: "turning volume in ml", value: turning.millilitres, wanted: "above 0" });
    }
    if let Some(share) = shares.iter().find(|share| !(0.0..=MOST).contains(*share)) {
        return Err(LifeError::Figure { what: "share of the turning volume in per cent", value: *share, wanted: "from 0 to 300" });
    }
    let stated = turning.ph.value();
    let middle = cups(turning, shares, stated, 1.0)?;
    let turned = cups(turning, shares, (stated + turning.ph_sd).min(Ph::HIGH), 1.0)?;
    let stronger = cups(turning, shares, stated, 1.0 + STRENGTH_SPREAD)?;
    let steeper = poured(turning, shares, stated)?;
    let rung = |i: usize| {
        let (ph, salt) = middle[i];
        let own = (stronger[i].0 - ph).hypot(steeper[i].0 - ph).hypot(MODEL);
        Ok(Rung {
            share: shares[i],
            millilitres: turning.millilitres * shares[i] / 100.0,
            ph: Ph::new(ph).map_err(unbalanced)?,
            sd: own.hypot(turned[i].0 - ph),
            own,
            ionic_strength: salt,
        })
    };
    (0..shares.len()).map(rung).collect()
}

fn unbalanced(_: crate::quantity::RangeError) -> LifeError {
    LifeError::Chemistry(crate::chemistry::error::ChemistryError::Unbalanced { low: Ph::LOW, high: Ph::HIGH })
}

/// pH and ionic strength of every cup, if the dye turned at this pH and the bath is so many times as strong as stated.
fn cups(turning: &Turning, shares: &[f64], ph: f64, strength: f64) -> Result<Vec<(f64, f64)>, LifeError> {
    let bath = turning.bath.concentrated(strength);
    let developer = fitting(turning, &bath, ph)?;
    shares.iter().map(|share| mixed(&bath, &developer, turning.millilitres * share / 100.0, turning.temperature)).collect()
}

/// The same with every cup given a little more than meant.
fn poured(turning: &Turning, shares: &[f64], ph: f64) -> Result<Vec<(f64, f64)>, LifeError> {
    let developer = fitting(turning, &turning.bath, ph)?;
    let more = |share: f64| turning.millilitres * share / 100.0 * (1.0 + POURED);
    shares.iter().map(|share| mixed(&turning.bath, &developer, more(*share), turning.temperature)).collect()
}

fn mixed(bath: &Liquid, developer: &Liquid, millilitres: f64, temperature: Celsius) -> Result<(f64, f64), LifeError> {
    let balance = bath.mixed(1000.0, developer, millilitres).equilibrium(temperature)?;
    Ok((balance.ph.value(), balance.ionic_strength.value()))
}

/// The developer at the strength that turns the bath with its turning volume.
fn fitting(turning: &Turning, bath: &Liquid, ph: f64) -> Result<Liquid, LifeError> {
    let ph = Ph::new(ph).map_err(unbalanced)?;
    let left = |factor: f64| -> Result<f64, LifeError> {
        let mixed = bath.mixed(1000.0, &turning.developer.concentrated(factor), turning.millilitres);
        Ok(mixed.reserve(ph, turning.temperature)?.value())
    };
    if left(0.0)? <= 0.0 {
        return Err(LifeError::Powerless { what: "the bath".to_owned(), lacking: "reserve" });
    }
    let (mut low, mut high) = (0.0, 1.0);
    while left(high)? > 0.0 {
        (low, high) = (high, 2.0 * high);
        // A thousand times stronger than stated is no developer.
        if high > 1000.0 {
            return Err(LifeError::Powerless { what: "the developer".to_owned(), lacking: "alkalinity" });
        }
    }
    // 30 halvings leave a billionth.
    for _ in 0..30 {
        let middle = 0.5 * (low + high);
        if left(middle)? > 0.0 { low = middle } else { high = middle }
    }
    Ok(turning.developer.concentrated(high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::{bath, developer, powder};
    use approx::assert_abs_diff_eq;

    fn turning(bath: Liquid, millilitres: f64) -> Turning {
        Turning {
            bath,
            developer: developer::find("carbonate-1+2").unwrap().liquid(),
            millilitres,
            ph: Ph::new(6.0).unwrap(),
            ph_sd: 0.3,
            temperature: Celsius::STANDARD,
        }
    }

    fn acetic() -> Liquid {
        bath::powdered(powder::find(powder::ACETIC_ACID).unwrap(), 17.0)
    }

    // Henderson and Hasselbalch in acetate with pure alkali: at the turn acetate is 0.19 mol/l, so that pK' is 4.76 less 0.13 (Davies), and pH 6 means 95.9 % neutralised. Half of
    // that in 0.11 mol/l, pK' 4.65, stands at 4.65 + log(0.479 / 0.521) = 4.61.
    #[test]
    fn half_of_the_turn_is_near_pk() {
        let alkali = Liquid::water().with_alkali(crate::quantity::MeqPerLitre::new(600.0).unwrap());
        let rungs = rungs(&Turning { developer: alkali, ..turning(acetic(), 500.0) }, &RUNGS).unwrap();
        assert_abs_diff_eq!(rungs[2].ph.value(), 4.61, epsilon = 0.02);
        assert_abs_diff_eq!(rungs[5].ph.value(), 6.0, epsilon = 0.001);
        assert!(rungs.is_sorted_by(|a, b| a.ph < b.ph));
        assert_abs_diff_eq!(rungs[6].millilitres, 625.0, epsilon = 1e-9);
    }

    // 3.5 ml into 10 ml are 350 ml a litre; of what nobody knows no ladder can be made.
    #[test]
    fn a_drop_test_is_told_a_litre() {
        use crate::logbook::recipe::Acid;
        let recipe = Recipe { acid: Acid::CitricAnhydrous, percent: None, per_litre: 15.0 };
        let of = |name: &str| {
            let developer = Developer { name: name.to_owned(), own_meq: None };
            Turning::of(&recipe, &developer, (10.0, 3.5), Ph::new(6.0).unwrap(), Celsius::STANDARD)
        };
        assert_abs_diff_eq!(of("carbonate-1+2").unwrap().millilitres, 350.0, epsilon = 1e-9);
        assert!(of("ours").is_err());
    }

    // Where the dye turned matters least where an acid buffers: at the foot of any bath, and half-way in acetate. Citrate buffers evenly, so there it matters all along.
    #[test]
    fn rungs_are_as_sure_as_the_turn_lets_them() {
        let citric = bath::powdered(powder::find("citric-anhydrous").unwrap(), 15.0);
        let sds = |bath| rungs(&turning(bath, 400.0), &RUNGS).unwrap().iter().map(|rung| rung.sd).collect::<Vec<_>>();
        let (acetic, citric) = (sds(acetic()), sds(citric));
        assert!(acetic[0] < 0.06 && citric[0] < 0.06 && acetic[1] < 0.12 && acetic[2] < 0.2, "{acetic:?}");
        assert!(acetic[5] >= 0.3 && citric[5] >= 0.3 && citric[2] > acetic[2], "{citric:?}");
        assert!(acetic.iter().chain(&citric).all(|sd| *sd >= MODEL));
    }

    // Twice the volume of a developer half as strong is the same alkali, only with more water.
    #[test]
    fn strength_of_the_developer_is_taken_from_the_turn() {
        let (strong, weak) = (rungs(&turning(acetic(), 300.0), &RUNGS).unwrap(), rungs(&turning(acetic(), 600.0), &RUNGS).unwrap());
        for (a, b) in strong.iter().zip(&weak).take(5) {
            assert_abs_diff_eq!(a.ph.value(), b.ph.value(), epsilon = 0.05);
        }
    }

    #[test]
    fn what_cannot_turn_is_refused() {
        assert!(matches!(rungs(&turning(acetic(), 0.0), &RUNGS), Err(LifeError::Figure { .. })));
        assert!(matches!(rungs(&turning(Liquid::water(), 10.0), &RUNGS), Err(LifeError::Powerless { .. })));
        let water = Turning { developer: Liquid::water(), ..turning(acetic(), 100.0) };
        assert!(matches!(rungs(&water, &RUNGS), Err(LifeError::Powerless { .. })));
    }

    // The same ladder told for a dye that turned at 6.3 is the one for 6.0 moved by one of its uncertainties, and that is what the cups share.
    #[test]
    fn what_cups_share_is_apart_from_their_own() {
        let usual = turning(acetic(), 400.0);
        let (middle, up) = (rungs(&usual, &RUNGS).unwrap(), rungs(&usual.off(1.0), &RUNGS).unwrap());
        for (a, b) in middle.iter().zip(&up) {
            assert_abs_diff_eq!(a.sd, a.own.hypot(b.ph.value() - a.ph.value()), epsilon = 1e-6);
            // Half-way and at the turn the pour counts most; nowhere is it as much as where the dye turned.
            assert!(a.own < 0.16, "{a:?}");
        }
        assert_abs_diff_eq!(up[5].ph.value(), 6.3, epsilon = 0.001);
        assert!(matches!(rungs(&usual, &[0.0, 301.0]), Err(LifeError::Figure { .. })));
    }

    #[test]
    fn a_drop_test_counts_as_fresh_until_something_went_through() {
        use crate::logbook::examples::{entry, load, mixed};
        use crate::logbook::ledger::Ledger;
        let developer = Developer { name: "carbonate-1+2".to_owned(), own_meq: None };
        let test = |number, time| entry(number, time, Event::DropTest { bath_ml: 10.0, used_ml: 3.5, developer: developer.clone() });
        let of = |all: Vec<_>| Ledger::of(all).baths[0].fresh_drop_test().map(|(sample, used, _)| (sample, used));
        assert_eq!(of(vec![entry(1, "08:00", mixed()), test(2, "08:10"), entry(3, "09:00", load("8x10rc", 2.0))]), Some((10.0, 3.5)));
        assert_eq!(of(vec![entry(1, "08:00", mixed()), entry(2, "08:10", load("8x10rc", 2.0)), test(3, "09:00")]), None);
    }
}
