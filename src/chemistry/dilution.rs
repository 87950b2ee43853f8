//! Concentrates and powders brought to working strength: parts, per cent, grams per litre.

use super::bath;
use super::error::ChemistryError;
use super::liquid::Liquid;
use super::powder::{self, Powder};
use crate::quantity::{GramsPerLitre, MassPercent, Millilitres, RangeError};

/// Most parts of water to one of concentrate: beyond that nobody can measure the concentrate, and it is a slip of the pen.
const MOST_PARTS: f64 = 10_000.0;

/// How a dilution is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meaning {
    /// Written with a plus sign: parts of concentrate and parts of water.
    Plus,
    /// Written with a colon, meant as parts of concentrate and parts of water.
    Parts,
    /// Written with a colon, meant as parts of concentrate in all parts.
    InAll,
}

/// A dilution in parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratio {
    concentrate: f64,
    water: f64,
}

impl Ratio {
    /// Parts of concentrate and parts of water: (1, 19) is 1+19.
    ///
    /// # Errors
    /// [`ChemistryError::Dilution`] unless the concentrate is above 0, the water 0 or more, and there are at most 10 000 parts of water to one.
    pub fn parts(concentrate: f64, water: f64) -> Result<Self, ChemistryError> {
        let refused = |problem| Err(ChemistryError::Dilution { written: format!("{concentrate}+{water}"), problem });
        if !(concentrate.is_finite() && concentrate > 0.0) {
            return refused("the parts of concentrate are not above 0");
        }
        if !(water.is_finite() && water >= 0.0) {
            return refused("the parts of water are below 0");
        }
        if water > MOST_PARTS * concentrate {
            return refused("more than 10000 parts of water to one cannot be measured");
        }
        Ok(Ratio { concentrate, water })
    }

    /// Parts of concentrate in all parts: (1, 20) is 1+19.
    ///
    /// # Errors
    /// As [`Self::parts`], and when the parts in all are fewer than those of concentrate.
    pub fn in_all(concentrate: f64, all: f64) -> Result<Self, ChemistryError> {
        if all < concentrate {
            let problem = "fewer parts in all than of concentrate";
            return Err(ChemistryError::Dilution { written: format!("{concentrate} in {all}"), problem });
        }
        Ratio::parts(concentrate, all - concentrate)
    }

    /// Share of concentrate in the whole, above 0, at most 1.
    #[must_use]
    pub fn share(self) -> f64 {
        self.concentrate / (self.concentrate + self.water)
    }

    /// Parts of concentrate and of water.
    #[must_use]
    pub fn as_parts(self) -> (f64, f64) {
        (self.concentrate, self.water)
    }
}

/// A dilution as people write it: `1+19`, or `1:20`, which may be meant in two ways.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Written {
    first: f64,
    second: f64,
    is_colon: bool,
}

impl Written {
    /// Reads `1+19` or `1:20`.
    ///
    /// # Errors
    /// [`ChemistryError::Dilution`] when it is neither, or no meaning of it can be.
    pub fn parse(text: &str) -> Result<Self, ChemistryError> {
        let refused = |problem| ChemistryError::Dilution { written: text.trim().to_owned(), problem };
        let at = text.find(['+', ':']).ok_or_else(|| refused("there is neither a plus sign nor a colon"))?;
        let (first, second) = (&text[..at], &text[at + 1..]);
        let number = |part: &str| part.trim().parse::<f64>().map_err(|_| refused("a part is not a number"));
        let written = Written { first: number(first)?, second: number(second)?, is_colon: text[at..].starts_with(':') };
        written.readings().first().map(|_| written).ok_or_else(|| refused("no such parts can be measured"))
    }

    /// What it may mean, the commoner first; one of a plus sign, up to two of a colon.
    #[must_use]
    pub fn readings(self) -> Vec<(Meaning, Ratio)> {
        let meanings: &[Meaning] = if self.is_colon { &[Meaning::InAll, Meaning::Parts] } else { &[Meaning::Plus] };
        let ratio = |meaning: &Meaning| match meaning {
            Meaning::InAll => Ratio::in_all(self.first, self.second),
            Meaning::Plus | Meaning::Parts => Ratio::parts(self.first, self.second),
        };
        meanings.iter().filter_map(|meaning| Some((*meaning, ratio(meaning).ok()?))).collect()
    }
}

/// What a bath is mixed from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Agent {
    /// Acetic acid of this strength: glacial, 80 %, 28 %, or vinegar.
    Acetic(MassPercent),
    /// A liquid concentrate of citric acid; strength as anhydrous acid.
    Citric(MassPercent),
    /// A powder: citric acid in a form it is sold in, metabisulfite.
    Powder(&'static Powder),
}

/// How much of the agent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// Of a liquid, ml.
    Millilitres(f64),
    /// Of a powder, g.
    Grams(f64),
}

/// What to measure for one volume of bath.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Portions {
    /// The agent.
    pub agent: Amount,
    /// Water, ml; about, since the last of it is filled up to the volume.
    pub water: f64,
    /// All together, ml.
    pub total: Millilitres,
}

impl Agent {
    /// The acid's name in [`super::acid`]: which age limit and cautions belong to the bath.
    #[must_use]
    pub fn acid(self) -> &'static str {
        match self {
            Agent::Acetic(_) => "acetic",
            Agent::Citric(_) => "citric",
            Agent::Powder(powder) => powder.acid.map_or("none", |(acid, _)| acid.name),
        }
    }

    /// Grams of pure acid (of citric acid anhydrous) in a litre of the liquid; none of a powder.
    #[must_use]
    pub fn content(self) -> Option<f64> {
        match self {
            Agent::Acetic(strength) => Some(10.0 * strength.value() * powder::acetic_density(strength)),
            Agent::Citric(strength) => Some(10.0 * strength.value() * powder::citric_density(strength)),
            Agent::Powder(_) => None,
        }
    }

    /// Grams per litre of a bath of this strength in per cent: by mass for liquids, grams in 100 ml for powders, as recipes give it.
    ///
    /// # Errors
    /// [`ChemistryError::Strength`] when it is not above 0 or above 100.
    pub fn of_percent(self, percent: f64) -> Result<GramsPerLitre, ChemistryError> {
        // The weakest bath that has a strength in grams per litre.
        let low = GramsPerLitre::LOW / 10.0;
        if !(percent >= low && percent <= MassPercent::HIGH) {
            let refused = RangeError { quantity: "strength of the bath in per cent", value: percent, low, high: MassPercent::HIGH };
            return Err(ChemistryError::Strength(refused));
        }
        // Below 1 % the density is that of water within 0.0001.
        let density = MassPercent::new(percent).map_or(1.0, |strength| match self {
            Agent::Acetic(_) => powder::acetic_density(strength),
            Agent::Citric(_) => powder::citric_density(strength),
            Agent::Powder(_) => 1.0,
        });
        GramsPerLitre::new(10.0 * percent * density).map_err(ChemistryError::Strength)
    }

    /// A litre of bath that holds this much of the agent.
    #[must_use]
    pub fn bath(self, per_litre: GramsPerLitre) -> Liquid {
        let grams = per_litre.value();
        match (self, self.content()) {
            (Agent::Acetic(strength), Some(content)) => bath::acetic(strength, 1000.0 * grams / content),
            (Agent::Citric(strength), Some(content)) => bath::citric_concentrate(strength, 1000.0 * grams / content),
            (Agent::Powder(powder), _) => bath::powdered(powder, grams),
            (Agent::Acetic(_) | Agent::Citric(_), None) => Liquid::water(),
        }
    }

    /// Grams per litre of a bath that is this dilution of the liquid.
    ///
    /// # Errors
    /// [`ChemistryError::Dilution`] for a powder, which has no parts; [`ChemistryError::Strength`] when next to nothing is left.
    pub fn diluted(self, ratio: Ratio) -> Result<GramsPerLitre, ChemistryError> {
        let content = self.content().ok_or_else(|| ChemistryError::Dilution {
            written: format!("{}+{}", ratio.concentrate, ratio.water),
            problem: "a powder is weighed, not measured in parts",
        })?;
        GramsPerLitre::new(content * ratio.share()).map_err(ChemistryError::Strength)
    }

    /// What to measure for a bath of this strength.
    ///
    /// # Errors
    /// [`ChemistryError::Stronger`] when the bath would be stronger than the liquid.
    pub fn portions(self, per_litre: GramsPerLitre, total: Millilitres) -> Result<Portions, ChemistryError> {
        let grams = per_litre.value() * total.litres();
        match self.content() {
            None => Ok(Portions { agent: Amount::Grams(grams), water: total.value(), total }),
            // A hundredth of a per cent of slack, so that undiluted is not refused for rounding.
            Some(content) if per_litre.value() > 1.0001 * content => {
                Err(ChemistryError::Stronger { wanted: per_litre.value(), source_strength: content })
            }
            Some(content) => {
                let millilitres = 1000.0 * grams / content;
                Ok(Portions { agent: Amount::Millilitres(millilitres), water: (total.value() - millilitres).max(0.0), total })
            }
        }
    }
}

/// What to measure of a concentrate whose content is not known, for this volume in all.
#[must_use]
pub fn for_total(ratio: Ratio, total: Millilitres) -> Portions {
    let concentrate = total.value() * ratio.share();
    Portions { agent: Amount::Millilitres(concentrate), water: total.value() - concentrate, total }
}

/// What this much concentrate makes.
///
/// # Errors
/// [`ChemistryError::Volume`] when more than 100 l come of it.
pub fn from_concentrate(ratio: Ratio, concentrate: Millilitres) -> Result<Portions, ChemistryError> {
    let total = Millilitres::new(concentrate.value() / ratio.share()).map_err(ChemistryError::Volume)?;
    Ok(for_total(ratio, total))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::bath::millilitres_per_litre;
    use approx::assert_abs_diff_eq;

    fn percent(value: f64) -> MassPercent {
        MassPercent::new(value).unwrap()
    }

    fn volume(value: f64) -> Millilitres {
        Millilitres::new(value).unwrap()
    }

    fn measured(portions: Portions) -> (f64, f64) {
        match portions.agent {
            Amount::Millilitres(ml) => (ml, portions.water),
            Amount::Grams(g) => (g, portions.water),
        }
    }

    // By hand: 1+19 of a litre is 50 + 950 ml; 1:20 as one in all twenty is the same, as one to twenty it is 1000/21.
    #[test]
    fn a_colon_has_two_meanings_and_a_plus_one() {
        let plus = Written::parse("1+19").unwrap().readings();
        assert_eq!(plus.len(), 1);
        assert_abs_diff_eq!(measured(for_total(plus[0].1, volume(1000.0))).0, 50.0, epsilon = 1e-9);
        assert_abs_diff_eq!(measured(for_total(plus[0].1, volume(1000.0))).0, millilitres_per_litre(1.0, 19.0), epsilon = 1e-9);
        let colon = Written::parse(" 1 : 20 ").unwrap().readings();
        assert_eq!(colon.iter().map(|(meaning, _)| *meaning).collect::<Vec<_>>(), [Meaning::InAll, Meaning::Parts]);
        assert_abs_diff_eq!(measured(for_total(colon[0].1, volume(1000.0))).1, 950.0, epsilon = 1e-9);
        assert_abs_diff_eq!(measured(for_total(colon[1].1, volume(1000.0))).0, 47.619, epsilon = 1e-3);
        // Two parts in all one cannot be, so only one meaning is left.
        assert_eq!(Written::parse("2:1").unwrap().readings().len(), 1);
    }

    // Densities at 20 C from memory of the CRC Handbook: 1.036 (acetic acid of 28 %), 1.049 (glacial), 1.24 (citric acid of 50 %).
    #[test]
    fn content_is_strength_times_density() {
        for (agent, wanted) in
            [(Agent::Acetic(percent(28.0)), 290.1), (Agent::Acetic(percent(100.0)), 1049.0), (Agent::Citric(percent(50.0)), 620.0)]
        {
            let content = agent.content().unwrap();
            assert!((0.99..1.01).contains(&(content / wanted)), "{agent:?}: {content}");
        }
    }

    #[test]
    fn impossible_dilutions_are_refused_with_the_reason() {
        for water in [-1.0, f64::INFINITY, f64::NAN] {
            assert!(matches!(Ratio::parts(1.0, water), Err(ChemistryError::Dilution { .. })), "{water}");
        }
        assert_eq!(Ratio::parts(1.0, 19.0).unwrap().as_parts(), (1.0, 19.0));
        for (text, said) in [
            ("0+19", "no such parts"),
            ("-1+19", "no such parts"),
            ("1+nan", "no such parts"),
            ("1+20000", "no such parts"),
            ("1-19", "neither"),
            ("19", "neither"),
            ("", "neither"),
            ("1+x", "not a number"),
            ("1+2+3", "not a number"),
        ] {
            let error = Written::parse(text).unwrap_err().to_string();
            assert!(error.contains(said), "{text}: {error}");
        }
        let powder = Agent::Powder(powder::find("citric-anhydrous").unwrap());
        assert!(powder.diluted(Ratio::parts(1.0, 19.0).unwrap()).is_err());
    }

    #[test]
    fn a_bottle_makes_what_it_says() {
        // A 500 ml pack at 1+19 makes 10 l.
        let made = from_concentrate(Ratio::parts(1.0, 19.0).unwrap(), volume(500.0)).unwrap();
        assert_abs_diff_eq!(made.total.value(), 10_000.0, epsilon = 1e-9);
        assert!(from_concentrate(Ratio::parts(1.0, 9999.0).unwrap(), volume(500.0)).is_err());
    }

    // By hand: 1.7 % is 17.0 g of acid and 0.04 % for its density of 1.0006; 28 % acid has 1.0345 g/ml, so 289.7 g/l: 58.7 ml. Glacial acid: 1047.7 g/l, 16.2 ml. Vinegar of 5 %, 50.26 g/l, to 2.5 %, 25.04 g/l: 498.3 ml.
    #[test]
    fn per_cent_to_per_cent() {
        for (strength, to, wanted) in [(28.0, 1.7, 58.72), (100.0, 1.7, 16.24), (5.0, 2.5, 498.3)] {
            let agent = Agent::Acetic(percent(strength));
            let grams = agent.of_percent(to).unwrap();
            assert_abs_diff_eq!(measured(agent.portions(grams, volume(1000.0)).unwrap()).0, wanted, epsilon = 0.2);
        }
        // Published: 47 ml of 28 % acid in a litre are about 1.35 % (texts of the trade).
        let agent = Agent::Acetic(percent(28.0));
        let grams = agent.diluted(Ratio::in_all(47.0, 1000.0).unwrap()).unwrap();
        assert_abs_diff_eq!(grams.value(), 13.6, epsilon = 0.1);
    }

    #[test]
    fn stronger_than_the_bottle_is_refused() {
        let vinegar = Agent::Acetic(percent(5.0));
        let wanted = vinegar.of_percent(10.0).unwrap();
        let error = vinegar.portions(wanted, volume(500.0)).unwrap_err();
        assert!(matches!(error, ChemistryError::Stronger { .. }), "{error}");
        assert!(vinegar.portions(vinegar.of_percent(5.0).unwrap(), volume(500.0)).is_ok());
        for wrong in [0.0, -1.0, 101.0, f64::NAN] {
            assert!(vinegar.of_percent(wrong).is_err(), "{wrong}");
        }
    }

    // 15 g of the anhydrous powder carry as much acid as 16.4 g of the monohydrate (molar masses 192.1 and 210.1): the same bath.
    #[test]
    fn crystal_water_weighs() {
        let of = |name: &str, grams| {
            let agent = Agent::Powder(powder::find(name).unwrap());
            let bath = agent.bath(GramsPerLitre::new(grams).unwrap());
            bath.equilibrium(crate::quantity::Celsius::STANDARD).unwrap().ph.value()
        };
        assert_abs_diff_eq!(of("citric-anhydrous", 15.0), of("citric-monohydrate", 16.41), epsilon = 1e-3);
    }

    #[test]
    fn a_bath_by_parts_is_the_bath_by_strength() {
        let agent = Agent::Citric(percent(50.0));
        let grams = agent.diluted(Ratio::parts(1.0, 19.0).unwrap()).unwrap();
        let ph = |liquid: Liquid| liquid.equilibrium(crate::quantity::Celsius::STANDARD).unwrap().ph.value();
        assert_abs_diff_eq!(ph(agent.bath(grams)), ph(bath::citric_concentrate(percent(50.0), 50.0)), epsilon = 1e-9);
    }
}
