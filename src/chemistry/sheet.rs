//! The mixing sheet: all that has to be said about a buffer, or a ladder of them, before somebody weighs it out.

use super::buffer::BufferState;
use super::error::ChemistryError;
use super::powder::{self, Powder};
use super::recipe::{self, Forms, Mix, Portion, Recipe, Stock};
use super::uncertainty::{Budget, Care, relative_weight};
use crate::quantity::{BalanceStep, Celsius, MassPercent, Millilitres, Ph};

/// What somebody has at hand and wants.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// Volume of each buffer.
    pub volume: Millilitres,
    /// Temperature at which the buffer shall have its pH.
    pub temperature: Celsius,
    /// Forms at hand, where not the commonest.
    pub chosen: Vec<&'static Powder>,
    /// Strength of the acetic acid at hand.
    pub strength: MassPercent,
    /// Step of the balance at hand.
    pub balance: BalanceStep,
}

/// A portion and how well it can be weighed.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// Powder and mass.
    pub portion: Portion,
    /// Standard uncertainty of the mass, g.
    pub sd: f64,
}

/// One buffer, ready to be weighed.
#[derive(Debug, Clone, PartialEq)]
pub struct MixingSheet {
    /// The mixture.
    pub mix: Mix,
    /// Volume to make.
    pub volume: Millilitres,
    /// The acid in each form it is sold in, the one at hand first.
    pub acid: Vec<Weighed>,
    /// The base in each form it is sold in, the one at hand first.
    pub base: Vec<Weighed>,
    /// pH, its uncertainty with the forms and the balance at hand, ionic strength.
    pub state: BufferState,
    /// Where the uncertainty comes from.
    pub budget: Budget,
    /// Mol/l of strong base or acid per unit of pH that it withstands.
    pub buffer_value: f64,
    /// pH of the same mixture at other temperatures.
    pub warmth: Vec<(Celsius, Ph)>,
    /// Other recipes that reach the pH, with their standard uncertainty.
    pub others: Vec<(&'static Recipe, f64)>,
}

/// Temperatures at which a room may be, C.
const ROOMS: [f64; 4] = [15.0, 20.0, 25.0, 30.0];

/// The sheet for one buffer.
///
/// # Errors
/// [`ChemistryError::Unreachable`] for a pH outside the recipe's range, [`ChemistryError::WrongPowder`] for a form it has no use for.
pub fn mixing_sheet(recipe: &'static Recipe, wanted: Ph, order: &Order) -> Result<MixingSheet, ChemistryError> {
    let forms = recipe.forms(&order.chosen)?;
    let mix = recipe.mix(wanted, order.temperature)?;
    let each = |first: &'static Powder| -> Vec<Weighed> {
        let rest = powder::forms(first.substance).filter(|powder| powder.name != first.name);
        std::iter::once(first).chain(rest).map(|powder| weighed(mix.portion(powder, order.volume, order.strength), order.balance)).collect()
    };
    let care = Care::weighed(&mix, forms, order.volume, order.balance);
    let budget = Budget::of(&mix, &care, order.temperature)?;
    let solution = mix.solution(order.temperature)?;
    let balance = solution.solve()?;
    let warmth = ROOMS.into_iter().filter(|t| (t - order.temperature.value()).abs() > 0.5).filter_map(|t| Celsius::new(t).ok());
    let warmth = warmth.map(|t| Ok((t, mix.solution(t)?.solve()?.ph))).collect::<Result<_, ChemistryError>>()?;
    Ok(MixingSheet {
        volume: order.volume,
        acid: each(forms.acid),
        base: each(forms.base),
        state: BufferState { ph: balance.ph, sd: budget.sd(), ionic_strength: balance.ionic_strength },
        budget,
        buffer_value: solution.buffer_value()?,
        warmth,
        others: others(recipe, wanted, order)?,
        mix,
    })
}

fn weighed(portion: Portion, balance: BalanceStep) -> Weighed {
    let sd = portion.grams * relative_weight(portion.grams, balance);
    Weighed { portion, sd }
}

/// The other recipes whose range holds the pH, from their commonest forms.
fn others(recipe: &Recipe, wanted: Ph, order: &Order) -> Result<Vec<(&'static Recipe, f64)>, ChemistryError> {
    recipe::all()
        .iter()
        .filter(|other| other.name != recipe.name && (other.low..=other.high).contains(&wanted.value()))
        .map(|other| {
            let mix = other.mix(wanted, order.temperature)?;
            let care = Care::weighed(&mix, other.usual_forms()?, order.volume, order.balance);
            Ok((other, Budget::of(&mix, &care, order.temperature)?.sd()))
        })
        .collect()
}

/// One step of a ladder.
#[derive(Debug, Clone, PartialEq)]
pub struct Rung {
    /// The mixture.
    pub mix: Mix,
    /// Volume of the acid stock, ml.
    pub acid_ml: f64,
    /// Volume of the base stock, ml.
    pub base_ml: f64,
    /// pH, its uncertainty and ionic strength.
    pub state: BufferState,
}

/// A bottle of stock.
#[derive(Debug, Clone, PartialEq)]
pub struct Bottle {
    /// What is in it, mol/l.
    pub stock: Stock,
    /// Volume to make: what the ladder needs and a tenth more, in whole 50 ml.
    pub volume: Millilitres,
    /// What to weigh.
    pub weighed: Weighed,
}

/// Buffers at equal steps of pH, from two bottles.
#[derive(Debug, Clone, PartialEq)]
pub struct LadderSheet {
    /// The recipe.
    pub recipe: &'static Recipe,
    /// Volume of each buffer.
    pub volume: Millilitres,
    /// The acid bottle.
    pub acid: Bottle,
    /// The base bottle.
    pub base: Bottle,
    /// The buffers by rising pH.
    pub rungs: Vec<Rung>,
}

/// Uncertainty of a volume measured with cylinder or syringe, relative (common practice).
const MEASURING: f64 = 0.01;

/// The sheet for a ladder of `count` buffers, both ends included.
///
/// # Errors
/// As [`mixing_sheet`].
pub fn ladder_sheet(recipe: &'static Recipe, count: usize, ends: (Ph, Ph), order: &Order) -> Result<LadderSheet, ChemistryError> {
    let forms = recipe.forms(&order.chosen)?;
    let mixes = recipe::ladder(recipe, count, ends.0, ends.1, order.temperature)?;
    let volume = order.volume.value();
    let needed = |share: &dyn Fn(&Mix) -> f64| mixes.iter().map(|mix| volume * share(mix)).sum::<f64>();
    let acid = bottle(recipe, recipe.acid, forms.acid, needed(&|mix| 1.0 - mix.base_share), order)?;
    let base = bottle(recipe, recipe.base, forms.base, needed(&|mix| mix.base_share), order)?;
    let care = ladder_care(&acid, &base, forms);
    let rungs = mixes
        .into_iter()
        .map(|mix| {
            let balance = mix.solution(order.temperature)?.solve()?;
            let sd = Budget::of(&mix, &care, order.temperature)?.sd();
            let state = BufferState { ph: balance.ph, sd, ionic_strength: balance.ionic_strength };
            Ok(Rung { acid_ml: volume * (1.0 - mix.base_share), base_ml: volume * mix.base_share, state, mix })
        })
        .collect::<Result<_, ChemistryError>>()?;
    Ok(LadderSheet { recipe, volume: order.volume, acid, base, rungs })
}

fn ladder_care(acid: &Bottle, base: &Bottle, forms: Forms) -> Care {
    let relative = |bottle: &Bottle| MEASURING.hypot(bottle.weighed.sd / bottle.weighed.portion.grams);
    Care { acid_weight: relative(acid), base_weight: relative(base), acid_purity: forms.acid.purity_sd, base_purity: forms.base.purity_sd }
}

fn bottle(recipe: &Recipe, stock: Stock, powder: &'static Powder, needed: f64, order: &Order) -> Result<Bottle, ChemistryError> {
    let rounded = ((1.1 * needed / 50.0).ceil() * 50.0).max(50.0);
    let volume = Millilitres::new(rounded).map_err(ChemistryError::Volume)?;
    let portion = recipe.stock(powder, volume, order.strength);
    Ok(Bottle { stock, volume, weighed: weighed(portion, order.balance) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn order(volume: f64) -> Order {
        Order {
            volume: Millilitres::new(volume).unwrap(),
            temperature: Celsius::new(25.0).unwrap(),
            chosen: Vec::new(),
            strength: MassPercent::new(28.0).unwrap(),
            balance: BalanceStep::new(0.01).unwrap(),
        }
    }

    fn ph(value: f64) -> Ph {
        Ph::new(value).unwrap()
    }

    // A hydrate weighs more by its water and nothing else changes: 210.139 / 192.124 for citric acid (IUPAC atomic masses).
    #[test]
    fn forms_differ_by_molar_mass_alone() {
        let sheet = mixing_sheet(recipe::find("citrate").unwrap(), ph(5.0), &order(1000.0)).unwrap();
        let grams = |name: &str| sheet.acid.iter().find(|w| w.portion.powder.name == name).unwrap().portion.grams;
        assert_abs_diff_eq!(grams("citric-monohydrate") / grams("citric-anhydrous"), 210.139 / 192.124, epsilon = 1e-9);
        let twice = mixing_sheet(recipe::find("citrate").unwrap(), ph(5.0), &order(2000.0)).unwrap();
        assert_abs_diff_eq!(twice.acid[0].portion.grams, 2.0 * sheet.acid[0].portion.grams, epsilon = 1e-9);
    }

    // McIlvaine 1921, J. Biol. Chem. 49:183, mixes 9.70 ml of 0.1 mol/l citric acid with 10.30 ml of 0.2 mol/l phosphate for pH 5.0; the recipe is half as strong, so that a
    // litre takes 0.02425 mol of acid at 192.12 and 0.0515 mol of phosphate at 141.96 g/mol. Less salt, and the scale of pH of that time, move the
    // shares by up to 5 %.
    #[test]
    fn grams_are_those_of_the_published_mixture() {
        let sheet = mixing_sheet(recipe::find("citrate-phosphate").unwrap(), ph(5.0), &order(1000.0)).unwrap();
        let grams =
            |all: &[Weighed], mass: f64| all.iter().map(|w| &w.portion).find(|p| (p.powder.molar_mass - mass).abs() < 0.01).unwrap().grams;
        assert_abs_diff_eq!(grams(&sheet.acid, 192.12), 4.66, epsilon = 0.25);
        assert_abs_diff_eq!(grams(&sheet.base, 141.96), 7.31, epsilon = 0.4);
        // The rest of calibration/recipes.csv has this pH in its range.
        let others: Vec<&str> = sheet.others.iter().map(|(recipe, _)| recipe.name).collect();
        assert_eq!(others, ["acetate", "citrate", "citrate-hydroxide", "citrate-bicarbonate"]);
        // Acetic acid of 28 % holds 0.28 g a gram, and a millilitre weighs 1.036 g (CRC Handbook, from memory).
        let acetate = mixing_sheet(recipe::find("acetate").unwrap(), ph(4.6), &order(1000.0)).unwrap();
        let liquid = acetate.acid.iter().map(|w| &w.portion).find(|p| p.powder.is_liquid()).unwrap();
        let pure = acetate.mix.amounts().0 * 60.052;
        assert_abs_diff_eq!(liquid.grams, pure / 0.28, epsilon = 1e-2);
        assert_abs_diff_eq!(liquid.millilitres.unwrap(), pure / 0.28 / 1.036, epsilon = 0.05);
    }

    #[test]
    fn chosen_form_comes_first_and_wrong_ones_are_refused() {
        let citrate = recipe::find("citrate").unwrap();
        let chosen = |name: &str| Order { chosen: vec![powder::find(name).unwrap()], ..order(100.0) };
        let sheet = mixing_sheet(citrate, ph(5.0), &chosen("citric-monohydrate")).unwrap();
        assert_eq!(sheet.acid[0].portion.powder.name, "citric-monohydrate");
        assert!(matches!(mixing_sheet(citrate, ph(5.0), &chosen("acetic-acid")), Err(ChemistryError::WrongPowder { .. })));
    }

    // A coarse balance must show in the uncertainty, and a larger volume make up for it.
    #[test]
    fn coarse_balance_costs_certainty() {
        let recipe = recipe::find("citrate-phosphate").unwrap();
        let sd = |volume: f64, step: f64| {
            mixing_sheet(recipe, ph(5.5), &Order { balance: BalanceStep::new(step).unwrap(), ..order(volume) }).unwrap().state.sd
        };
        assert!(sd(100.0, 0.1) > 1.2 * sd(100.0, 0.01));
        assert!(sd(1000.0, 0.1) < 1.2 * sd(100.0, 0.01));
    }

    // A display is rounded at zero and at the mass, each by step / sqrt(12) (GUM, JCGM 100:2008, F.2.2.1), beside 1 % of handling.
    #[test]
    fn a_mass_is_as_sure_as_balance_and_hand() {
        let recipe = recipe::find("citrate-phosphate").unwrap();
        for (volume, step) in [(100.0, 0.1), (250.0, 0.01)] {
            let order = Order { balance: BalanceStep::new(step).unwrap(), ..order(volume) };
            let sheet = mixing_sheet(recipe, ph(5.5), &order).unwrap();
            for weighed in sheet.acid.iter().chain(&sheet.base) {
                let twice = 2.0 * step * step / 12.0;
                assert_abs_diff_eq!(weighed.sd, ((0.01 * weighed.portion.grams).powi(2) + twice).sqrt(), epsilon = 1e-9);
            }
            let care = Care::weighed(&sheet.mix, recipe.forms(&[]).unwrap(), order.volume, order.balance);
            assert_abs_diff_eq!(care.acid_weight, sheet.acid[0].sd / sheet.acid[0].portion.grams, epsilon = 1e-9);
            assert_abs_diff_eq!(care.base_weight, sheet.base[0].sd / sheet.base[0].portion.grams, epsilon = 1e-9);
        }
    }

    #[test]
    fn ladder_fills_each_cup_and_has_stock_to_spare() {
        let sheet = ladder_sheet(recipe::find("citrate-phosphate").unwrap(), 7, (ph(4.4), ph(7.4)), &order(50.0)).unwrap();
        assert_eq!(sheet.rungs.len(), 7);
        for rung in &sheet.rungs {
            assert_abs_diff_eq!(rung.acid_ml + rung.base_ml, 50.0, epsilon = 1e-9);
        }
        assert!(sheet.rungs.is_sorted_by(|a, b| a.state.ph < b.state.ph && a.base_ml < b.base_ml));
        // Of the stocks 1 % by weighing and the balance, of their volumes another: as squares.
        let care = ladder_care(&sheet.acid, &sheet.base, recipe::find("citrate-phosphate").unwrap().forms(&[]).unwrap());
        for (relative, bottle) in [(care.acid_weight, &sheet.acid), (care.base_weight, &sheet.base)] {
            let by_balance = 0.01 / 6f64.sqrt() / bottle.weighed.portion.grams;
            assert_abs_diff_eq!(relative, (2.0 * 0.01f64.powi(2) + by_balance.powi(2)).sqrt(), epsilon = 1e-9);
        }
        let used: f64 = sheet.rungs.iter().map(|rung| rung.acid_ml).sum();
        assert!((used..used + 101.0).contains(&sheet.acid.volume.value()));
        assert_abs_diff_eq!(sheet.rungs[6].state.ph.value(), 7.4, epsilon = 1e-6);
    }
}
