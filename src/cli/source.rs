//! What a bath is mixed from and how strong, as options of several commands.

use super::args::{number, quantity, temperature};
use super::ask;
use crate::chemistry::dilution::{Agent, Meaning, Written};
use crate::chemistry::error::ChemistryError;
use crate::chemistry::mixing::Target;
use crate::chemistry::powder;
use crate::quantity::{Celsius, GramsPerLitre, MassPercent, Millilitres};
use clap::ValueEnum;

/// What a bath is made from.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct SourceOptions {
    /// What it is mixed from; `concentrate` is one of unknown content, of which only the parts are told.
    #[arg(value_name = "FROM", value_enum, default_value_t = Source::Concentrate)]
    pub(crate) from: Source,
    /// Strength of what it is mixed from, per cent by mass (citric acid as anhydrous); the label tells.
    #[arg(long, value_name = "PERCENT", value_parser = strength, allow_hyphen_values = true)]
    strength: Option<MassPercent>,
    /// Strength of the bath: 1.7% or 15g/l.
    #[arg(long, value_name = "STRENGTH", value_parser = working, allow_hyphen_values = true, conflicts_with = "dilution")]
    to: Option<Working>,
    /// Dilution of the bath: 1+19, or 1:20, which is meant in two ways (see --colon).
    #[arg(long, value_name = "PARTS", value_parser = dilution, allow_hyphen_values = true)]
    dilution: Option<Written>,
    /// What a colon in --dilution means; asked on a terminal when absent.
    #[arg(long, value_enum, requires = "dilution")]
    colon: Option<Colon>,
    /// Half as strong, as some do for film.
    #[arg(long)]
    pub(crate) half: bool,
    /// Temperature of the bath, degrees Celsius.
    #[arg(long, value_name = "C", default_value = "20", value_parser = temperature, allow_hyphen_values = true)]
    pub(crate) temperature: Celsius,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Source {
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

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Colon {
    /// 1:20 is 1 part in all 20 parts, so 1+19.
    InAll,
    /// 1:20 is 1 part to 20 parts of water, so 1+20.
    Parts,
}

/// Strength of a bath as typed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Working {
    Percent(f64),
    Grams(GramsPerLitre),
}

/// What of the source does not fit together.
#[derive(Debug, thiserror::Error)]
pub(crate) enum SourceFailure {
    #[error(transparent)]
    Chemistry(#[from] ChemistryError),
    #[error("neither --to nor --dilution says how strong the bath is to be")]
    NoTarget,
    #[error("--strength is of no use for a powder or a concentrate of unknown content")]
    StrengthUnused,
}

impl SourceFailure {
    pub(crate) fn hint(&self) -> &'static str {
        match self {
            SourceFailure::Chemistry(e) => e.hint(),
            SourceFailure::NoTarget => {
                "give the strength of the bath, such as --to 1.7% or --to 15g/l, or the parts, such as --dilution 1+19"
            }
            SourceFailure::StrengthUnused => "name the acid, acetic, vinegar or citric, or leave --strength out",
        }
    }
}

impl SourceOptions {
    /// True when a strength or dilution was given.
    pub(crate) fn has_target(&self) -> bool {
        self.to.is_some() || self.dilution.is_some()
    }

    /// What it is made from; none of unknown content.
    pub(crate) fn agent(&self) -> Result<Option<Agent>, SourceFailure> {
        let liquid =
            |of: fn(MassPercent) -> Agent| self.strength.map(|s| Some(of(s))).ok_or(SourceFailure::Chemistry(ChemistryError::NoStrength));
        let powder = |name: &str| -> Result<Option<Agent>, SourceFailure> { Ok(Some(Agent::Powder(powder::find(name)?))) };
        match (self.from, self.strength) {
            (Source::Acetic | Source::Vinegar, _) => liquid(Agent::Acetic),
            (Source::Citric, _) => liquid(Agent::Citric),
            (_, Some(_)) => Err(SourceFailure::StrengthUnused),
            (Source::Concentrate, None) => Ok(None),
            (Source::CitricAnhydrous, None) => powder("citric-anhydrous"),
            (Source::CitricMonohydrate, None) => powder("citric-monohydrate"),
            (Source::SodiumMetabisulfite, None) => powder("sodium-metabisulfite"),
            (Source::PotassiumMetabisulfite, None) => powder("potassium-metabisulfite"),
        }
    }

    /// How strong the bath is to be; asks on a terminal what a colon means.
    pub(crate) fn target(&self, agent: Option<Agent>) -> Result<Target, SourceFailure> {
        let halved = if self.half { 0.5 } else { 1.0 };
        match (self.to, self.dilution) {
            (Some(working), _) => {
                let agent = agent.ok_or(ChemistryError::NoStrength)?;
                let grams = match working {
                    Working::Percent(percent) => agent.of_percent(percent)?,
                    Working::Grams(grams) => grams,
                };
                Ok(Target::Strength(GramsPerLitre::new(halved * grams.value()).map_err(ChemistryError::Strength)?))
            }
            (None, Some(written)) => {
                let kept = self.meant(written);
                let thinned = |(meaning, ratio): (Meaning, crate::chemistry::dilution::Ratio)| {
                    let (concentrate, water) = ratio.as_parts();
                    let all = (concentrate + water) / halved;
                    // Half as strong is another dilution, which is written with a plus sign.
                    let meaning = if self.half && kept.len() == 1 { Meaning::Plus } else { meaning };
                    crate::chemistry::dilution::Ratio::in_all(concentrate, all).map(|ratio| (meaning, ratio))
                };
                Ok(Target::Dilution(kept.iter().copied().map(thinned).collect::<Result<_, _>>()?))
            }
            (None, None) => Err(SourceFailure::NoTarget),
        }
    }

    fn meant(&self, written: Written) -> Vec<(Meaning, crate::chemistry::dilution::Ratio)> {
        let all = written.readings();
        let keep = |wanted: Meaning| all.iter().copied().filter(|(meaning, _)| *meaning == wanted || *meaning == Meaning::Plus).collect();
        match (self.colon, all.len()) {
            (Some(Colon::InAll), _) => keep(Meaning::InAll),
            (Some(Colon::Parts), _) => keep(Meaning::Parts),
            (None, 0 | 1) => all.clone(),
            (None, _) => {
                let plain =
                    all.iter().map(|(meaning, ratio)| crate::present::mixing::words::dilution(*meaning, *ratio)).collect::<Vec<_>>();
                let choices: Vec<(&str, &str)> = ["in-all", "parts"].into_iter().zip(plain.iter().map(String::as_str)).collect();
                match ask::choice("the colon is meant in two ways; which one does the label mean?", &choices) {
                    Some(i) => vec![all[i]],
                    None => all.clone(),
                }
            }
        }
    }
}

impl Source {
    /// Its name as typed.
    pub(crate) fn name(self) -> &'static str {
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
}

fn strength(text: &str) -> Result<MassPercent, String> {
    quantity(text.trim().trim_end_matches('%'), MassPercent::new)
}

fn dilution(text: &str) -> Result<Written, String> {
    Written::parse(text).map_err(|e| format!("{e}\nhint: {}", e.hint()))
}

fn working(text: &str) -> Result<Working, String> {
    let text = text.trim();
    if let Some(percent) = text.strip_suffix('%') {
        return number(percent).map(Working::Percent);
    }
    let Some(grams) = ["g/l", "g/L"].iter().find_map(|unit| text.strip_suffix(unit)) else {
        return Err(format!("`{text}` has no unit\nhint: write 1.7% or 15g/l"));
    };
    quantity(grams, GramsPerLitre::new).map(Working::Grams)
}

/// A volume with its unit: ml, cl, dl, l, or litre in words.
pub(crate) fn volume(text: &str) -> Result<Millilitres, String> {
    super::buffer::volume(text)
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
    fn every_source_has_its_name() {
        for source in Source::value_variants() {
            assert_eq!(source.to_possible_value().unwrap().get_name(), source.name());
        }
    }
}
