//! What a bath is mixed from and how strong, as people tell it.

use super::typed::{number, quantity};
use crate::chemistry::dilution::{Agent, Meaning, Ratio, Written};
use crate::chemistry::error::ChemistryError;
use crate::chemistry::mixing::Target;
use crate::chemistry::powder;
use crate::quantity::{Celsius, GramsPerLitre, MassPercent};

/// What it is mixed from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// A concentrate whose acid or strength is not known.
    Concentrate,
    /// Acetic acid: glacial, 80 %, 28 % and so on.
    Acetic,
    /// Vinegar: acetic acid of the strength on its label.
    Vinegar,
    /// A liquid concentrate of citric acid.
    Citric,
    /// Citric acid powder without water.
    CitricAnhydrous,
    /// Citric acid powder with its crystal water.
    CitricMonohydrate,
    /// Sodium metabisulfite powder.
    SodiumMetabisulfite,
    /// Potassium metabisulfite powder.
    PotassiumMetabisulfite,
}

impl Source {
    /// All of them.
    pub const ALL: [Source; 8] = [
        Source::Concentrate,
        Source::Acetic,
        Source::Vinegar,
        Source::Citric,
        Source::CitricAnhydrous,
        Source::CitricMonohydrate,
        Source::SodiumMetabisulfite,
        Source::PotassiumMetabisulfite,
    ];

    /// Its name as typed: lower case with hyphens.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Source::Concentrate => "concentrate",
            Source::Acetic => "acetic",
            Source::Vinegar => "vinegar",
            Source::Citric => "citric",
            Source::CitricAnhydrous => "citric-anhydrous",
            Source::CitricMonohydrate => "citric-monohydrate",
            Source::SodiumMetabisulfite => "sodium-metabisulfite",
            Source::PotassiumMetabisulfite => "potassium-metabisulfite",
        }
    }

    /// What it is, in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Source::Concentrate => "A concentrate whose acid or strength is not known",
            Source::Acetic => "Acetic acid: glacial, 80 %, 28 % and so on",
            Source::Vinegar => "Vinegar: acetic acid of the strength on its label",
            Source::Citric => "A liquid concentrate of citric acid",
            Source::CitricAnhydrous => "Citric acid powder without water",
            Source::CitricMonohydrate => "Citric acid powder with its crystal water",
            Source::SodiumMetabisulfite => "Sodium metabisulfite powder",
            Source::PotassiumMetabisulfite => "Potassium metabisulfite powder",
        }
    }
}

/// Strength of a bath as typed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Working {
    /// Per cent.
    Percent(f64),
    /// Grams in a litre.
    Grams(GramsPerLitre),
}

/// What a colon in a dilution means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colon {
    /// 1:20 is 1 part in all 20 parts, so 1+19.
    InAll,
    /// 1:20 is 1 part to 20 parts of water, so 1+20.
    Parts,
}

impl Colon {
    /// The readings of a dilution that are meant; those of a plus sign stay.
    #[must_use]
    pub fn of(self, written: Written) -> Vec<(Meaning, Ratio)> {
        let wanted = match self {
            Colon::InAll => Meaning::InAll,
            Colon::Parts => Meaning::Parts,
        };
        written.readings().into_iter().filter(|(meaning, _)| *meaning == wanted || *meaning == Meaning::Plus).collect()
    }
}

/// What a bath is mixed from, and how strong it is to be.
#[derive(Debug, Clone, PartialEq)]
pub struct Ingredients {
    /// What it is mixed from.
    pub from: Source,
    /// Strength of that, per cent by mass.
    pub strength: Option<MassPercent>,
    /// Strength of the bath.
    pub to: Option<Working>,
    /// Dilution in each way that it may be meant; empty when none was told.
    pub dilution: Vec<(Meaning, Ratio)>,
    /// Half as strong.
    pub half: bool,
    /// Temperature of the bath.
    pub temperature: Celsius,
}

/// What of the source does not fit together.
#[derive(Debug, thiserror::Error)]
pub enum SourceFailure {
    /// What the chemistry refuses.
    #[error(transparent)]
    Chemistry(#[from] ChemistryError),
    /// How strong it is to be was not told.
    #[error("neither strength nor dilution says how strong the bath is to be")]
    NoTarget,
    /// A strength was told that nothing can be done with.
    #[error("the strength is of no use for a powder or a concentrate of unknown content")]
    StrengthUnused,
}

impl SourceFailure {
    /// The next thing to type.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            SourceFailure::Chemistry(e) => e.hint(),
            SourceFailure::NoTarget => {
                "give the strength of the bath, such as --to 1.7% or --to 15g/l, or the parts, such as --dilution 1+19"
            }
            SourceFailure::StrengthUnused => "name the acid, acetic, vinegar or citric, or leave --strength out",
        }
    }

    /// The same for a page, which has fields and no options.
    #[must_use]
    pub fn hint_for_page(&self) -> &'static str {
        match self {
            SourceFailure::Chemistry(ChemistryError::NoStrength) => "name the acid and give its strength in per cent; the label tells",
            SourceFailure::Chemistry(ChemistryError::Dilution { .. }) => {
                "write parts of concentrate and water, such as 1+19, or 1:20 and say what the colon means"
            }
            SourceFailure::Chemistry(e) => e.hint(),
            SourceFailure::NoTarget => "give the strength of the bath, such as 1.7% or 15g/l, or the parts, such as 1+19",
            SourceFailure::StrengthUnused => "name the acid, or leave its strength empty",
        }
    }
}

impl Ingredients {
    /// True when a strength or dilution of the bath was told.
    #[must_use]
    pub fn has_target(&self) -> bool {
        self.to.is_some() || !self.dilution.is_empty()
    }

    /// What it is made from; none of unknown content.
    ///
    /// # Errors
    /// [`SourceFailure`] when the strength is missing, or of no use.
    pub fn agent(&self) -> Result<Option<Agent>, SourceFailure> {
        let liquid =
            |of: fn(MassPercent) -> Agent| self.strength.map(|s| Some(of(s))).ok_or(SourceFailure::Chemistry(ChemistryError::NoStrength));
        match (self.from, self.strength) {
            (Source::Acetic | Source::Vinegar, _) => liquid(Agent::Acetic),
            (Source::Citric, _) => liquid(Agent::Citric),
            (_, Some(_)) => Err(SourceFailure::StrengthUnused),
            (Source::Concentrate, None) => Ok(None),
            (powder, None) => Ok(Some(Agent::Powder(powder::find(powder.name())?))),
        }
    }

    /// How strong the bath is to be.
    ///
    /// # Errors
    /// [`SourceFailure`] when it was not told, or cannot be.
    pub fn target(&self, agent: Option<Agent>) -> Result<Target, SourceFailure> {
        let halved = if self.half { 0.5 } else { 1.0 };
        if let Some(working) = self.to {
            let agent = agent.ok_or(ChemistryError::NoStrength)?;
            let grams = match working {
                Working::Percent(percent) => agent.of_percent(percent)?,
                Working::Grams(grams) => grams,
            };
            return Ok(Target::Strength(GramsPerLitre::new(halved * grams.value()).map_err(ChemistryError::Strength)?));
        }
        if self.dilution.is_empty() {
            return Err(SourceFailure::NoTarget);
        }
        let thinned = |(meaning, ratio): (Meaning, Ratio)| {
            let (concentrate, water) = ratio.as_parts();
            // Half as strong is another dilution, which is written with a plus sign.
            let meaning = if self.half && self.dilution.len() == 1 { Meaning::Plus } else { meaning };
            Ratio::in_all(concentrate, (concentrate + water) / halved).map(|ratio| (meaning, ratio))
        };
        Ok(Target::Dilution(self.dilution.iter().copied().map(thinned).collect::<Result<_, _>>()?))
    }
}

/// Strength of what a bath is mixed from: `28` or `28%`.
///
/// # Errors
/// Message and hint.
pub fn strength(text: &str) -> Result<MassPercent, String> {
    quantity(text.trim().trim_end_matches('%'), MassPercent::new)
}

/// A dilution: `1+19` or `1:20`.
///
/// # Errors
/// Message and hint.
pub fn dilution(text: &str) -> Result<Written, String> {
    Written::parse(text).map_err(|e| format!("{e}\nhint: {}", e.hint()))
}

/// Strength of a bath with its unit: `1.7%` or `15g/l`.
///
/// # Errors
/// Message and hint.
pub fn working(text: &str) -> Result<Working, String> {
    let text = text.trim();
    if let Some(percent) = text.strip_suffix('%') {
        return number(percent).map(Working::Percent);
    }
    let Some(grams) = ["g/l", "g/L"].iter().find_map(|unit| text.strip_suffix(unit)) else {
        return Err(format!("`{text}` has no unit\nhint: write 1.7% or 15g/l"));
    };
    quantity(grams, GramsPerLitre::new).map(Working::Grams)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strengths_need_a_unit() {
        assert_eq!(working("1.7%"), Ok(Working::Percent(1.7)));
        assert_eq!(working(" 15 g/l"), Ok(Working::Grams(GramsPerLitre::new(15.0).unwrap())));
        for wrong in ["15", "15g", "g/l", "-3g/l", "nan%", ""] {
            assert!(working(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_colon_is_meant_in_one_way_once_that_is_told() {
        let written = dilution("1:20").unwrap();
        let parts = |colon: Colon| colon.of(written).iter().map(|(_, ratio)| ratio.as_parts()).collect::<Vec<_>>();
        assert_eq!((parts(Colon::InAll), parts(Colon::Parts)), (vec![(1.0, 19.0)], vec![(1.0, 20.0)]));
        assert_eq!(Colon::Parts.of(dilution("1+19").unwrap()).len(), 1);
    }
}
