//! What to measure for a stop bath, and what it then is: the figures of `tintpoint mix`.

use super::change::{Bath, Change, Standing};
use super::dilution::{Agent, Amount, Meaning, Portions, Ratio, for_total, from_concentrate};
use super::error::ChemistryError;
use crate::quantity::{Celsius, GramsPerLitre, Millilitres, Ph};

/// How strong the bath is to be.
#[derive(Debug, Clone, PartialEq)]
pub enum Target {
    /// Grams of the acid or powder in a litre.
    Strength(GramsPerLitre),
    /// A dilution in each way it may be meant.
    Dilution(Vec<(Meaning, Ratio)>),
}

/// How much of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Quantity {
    /// So much bath in all.
    Make(Millilitres),
    /// All that comes of so much of the concentrate.
    From(Millilitres),
}

/// One way to read the order.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// How the dilution is meant, when one was given.
    pub dilution: Option<(Meaning, Ratio)>,
    /// What to measure.
    pub portions: Portions,
    /// The bath; none when what it is made from is not known.
    pub bath: Option<FreshBath>,
}

/// A bath as mixed.
#[derive(Debug, Clone, PartialEq)]
pub struct FreshBath {
    /// Grams of the acid or powder in a litre.
    pub per_litre: GramsPerLitre,
    /// What is in it, and how much.
    pub bath: Bath,
    /// Its figures.
    pub standing: Standing,
}

/// Where the reserve ends, and how warm the bath is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terms {
    /// pH from which a bath counts as spent.
    pub spent: Ph,
    /// Temperature of the bath.
    pub temperature: Celsius,
}

/// What to measure, for each way the order may be meant.
///
/// # Errors
/// [`ChemistryError::Stronger`], [`ChemistryError::Dilution`], [`ChemistryError::Volume`] when the bath cannot be; as [`super::solver::Solution::solve`] else.
pub fn plans(agent: Option<Agent>, target: &Target, quantity: Quantity, terms: Terms) -> Result<Vec<Plan>, ChemistryError> {
    match (target, agent) {
        (Target::Dilution(meanings), _) => meanings.iter().map(|way| by_parts(agent, *way, quantity, terms)).collect(),
        (Target::Strength(per_litre), Some(agent)) => Ok(vec![by_strength(agent, *per_litre, quantity, terms)?]),
        (Target::Strength(_), None) => Err(ChemistryError::NoStrength),
    }
}

fn by_parts(agent: Option<Agent>, way: (Meaning, Ratio), quantity: Quantity, terms: Terms) -> Result<Plan, ChemistryError> {
    let portions = match quantity {
        Quantity::Make(total) => for_total(way.1, total),
        Quantity::From(concentrate) => from_concentrate(way.1, concentrate)?,
    };
    let bath = match agent {
        Some(agent) => Some(fresh(agent, agent.diluted(way.1)?, portions.total, terms)?),
        None => None,
    };
    Ok(Plan { dilution: Some(way), portions, bath })
}

fn by_strength(agent: Agent, per_litre: GramsPerLitre, quantity: Quantity, terms: Terms) -> Result<Plan, ChemistryError> {
    let total = match quantity {
        Quantity::Make(total) => total,
        Quantity::From(concentrate) => {
            let content = agent.content().ok_or_else(|| ChemistryError::Dilution {
                written: format!("{concentrate} ml"),
                problem: "a powder is weighed, not measured in parts",
            })?;
            Millilitres::new(concentrate.value() * content / per_litre.value()).map_err(ChemistryError::Volume)?
        }
    };
    let portions = agent.portions(per_litre, total)?;
    Ok(Plan { dilution: None, portions, bath: Some(fresh(agent, per_litre, total, terms)?) })
}

fn fresh(agent: Agent, per_litre: GramsPerLitre, volume: Millilitres, terms: Terms) -> Result<FreshBath, ChemistryError> {
    let bath = Bath { liquid: agent.bath(per_litre), volume };
    let standing = bath.standing(terms.spent, terms.temperature)?;
    Ok(FreshBath { per_litre, bath, standing })
}

/// The bath after each of the changes, one after another, with its figures.
///
/// # Errors
/// As [`Bath::after`] and [`Bath::standing`].
pub fn through(bath: &Bath, changes: &[Change], terms: Terms) -> Result<Vec<(Change, Bath, Standing)>, ChemistryError> {
    let mut now = bath.clone();
    changes
        .iter()
        .map(|change| {
            now = now.after(change)?;
            Ok((change.clone(), now.clone(), now.standing(terms.spent, terms.temperature)?))
        })
        .collect()
}

impl Amount {
    /// The bare number, ml or g.
    #[must_use]
    pub fn value(self) -> f64 {
        match self {
            Amount::Millilitres(value) | Amount::Grams(value) => value,
        }
    }
}

/// Millilitres of a drop of watery solution (20 to the millilitre: droppers of pharmacopoeias, from memory).
pub const DROP: f64 = 0.05;
/// Drops of indicator of 0.04 % for a cup of 15 ml (common practice: two or three in 10 to 20 ml).
const DROPS_PER_15_ML: f64 = 2.5;
/// Indicator of 0.04 % in a whole bath, ml per litre: as deep a colour in a tray as in the cup, at half the dose (common practice).
pub const INDICATOR_PER_LITRE: f64 = 5.0;

/// Drops of indicator of 0.04 % for a sample cup, at least one.
#[must_use]
pub fn drops(cup: Millilitres) -> u32 {
    (DROPS_PER_15_ML * cup.value() / 15.0).round().clamp(1.0, 1e4) as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::dilution::Written;
    use crate::chemistry::powder;
    use crate::quantity::MassPercent;
    use approx::assert_abs_diff_eq;

    fn terms() -> Terms {
        Terms { spent: Ph::new(5.2).unwrap(), temperature: Celsius::STANDARD }
    }

    fn litre() -> Quantity {
        Quantity::Make(Millilitres::new(1000.0).unwrap())
    }

    fn strong(name: &str, grams: f64) -> FreshBath {
        let agent = Agent::Powder(powder::find(name).unwrap());
        let target = Target::Strength(GramsPerLitre::new(grams).unwrap());
        plans(Some(agent), &target, litre(), terms()).unwrap().remove(0).bath.unwrap()
    }

    // Texts of the trade: citric acid, 15 g/l, pH 2.1 to 2.2, metabisulfite, pH 4 to 4.6. Reserve of the citric bath to pH 5.2 by hand: 0.3 mol/l of salt makes its second and
    // third pK 4.36 and 5.72 (Davies), so 2.10 of 3 protons are taken: 78.1 mmol/l times 2.10 is 164 meq/l.
    #[test]
    fn fresh_baths_have_the_figures_of_the_trade() {
        let citric = strong("citric-anhydrous", 15.0).standing;
        assert!((2.1..2.2).contains(&citric.ph.value()), "{citric:?}");
        assert_abs_diff_eq!(citric.reserve.value(), 164.0, epsilon = 2.0);
        assert!((4.0..4.6).contains(&strong("sodium-metabisulfite", 30.0).standing.ph.value()));
        let glacial = Agent::Acetic(MassPercent::new(28.0).unwrap());
        let target = Target::Dilution(vec![(Meaning::Plus, Ratio::in_all(47.0, 1000.0).unwrap())]);
        let acetic = plans(Some(glacial), &target, litre(), terms()).unwrap().remove(0).bath.unwrap().standing;
        assert_abs_diff_eq!(acetic.ph.value(), 2.7, epsilon = 0.05);
    }

    #[test]
    fn an_ambiguous_dilution_gives_two_plans() {
        let target = Target::Dilution(Written::parse("1:20").unwrap().readings());
        let both = plans(None, &target, litre(), terms()).unwrap();
        assert_eq!(both.len(), 2);
        assert!(both.iter().all(|plan| plan.bath.is_none()));
        assert!(both[0].portions.agent.value() > both[1].portions.agent.value());
    }

    #[test]
    fn a_strength_needs_a_source_of_known_strength() {
        let target = Target::Strength(GramsPerLitre::new(17.0).unwrap());
        assert_eq!(plans(None, &target, litre(), terms()), Err(ChemistryError::NoStrength));
    }

    #[test]
    fn a_bottle_is_used_up() {
        let vinegar = Agent::Acetic(MassPercent::new(5.0).unwrap());
        let target = Target::Strength(vinegar.of_percent(2.5).unwrap());
        let half_litre = Quantity::From(Millilitres::new(500.0).unwrap());
        let plan = plans(Some(vinegar), &target, half_litre, terms()).unwrap().remove(0);
        assert_abs_diff_eq!(plan.portions.total.value(), 1003.5, epsilon = 1.0);
        assert_abs_diff_eq!(plan.portions.agent.value(), 500.0, epsilon = 1e-6);
    }

    // 0.1 g in 250 ml of bromocresol purple are 0.740 mmol/l (540.22 g/mol). 3 to 10 micromole per litre in the cup are deep enough to be seen over a
    // finger's breadth of liquid in white, and not too dark for a camera.
    #[test]
    fn drops_hold_dye_enough() {
        let cup = Millilitres::new(15.0).unwrap();
        assert!((2..=3).contains(&drops(cup)) && drops(Millilitres::new(1.0).unwrap()) == 1);
        let stock = 1e6 * 0.1 / 0.25 / 540.22;
        let added = DROP * f64::from(drops(cup));
        assert!((3.0..10.0).contains(&(stock * added / (added + 15.0))));
    }
}
