//! What a bath is mixed from and how strong, as options of several commands.

use super::args::temperature;
use super::ask;
use crate::chemistry::dilution::{Meaning, Ratio, Written};
use crate::desk::source::{Colon, Ingredients, Source, Working, dilution, strength, working};
use crate::quantity::{Celsius, MassPercent, Millilitres};
use clap::ValueEnum;
use clap::builder::PossibleValue;

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

impl ValueEnum for Source {
    fn value_variants<'a>() -> &'a [Self] {
        &Source::ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(self.name()).help(self.words()))
    }
}

impl ValueEnum for Colon {
    fn value_variants<'a>() -> &'a [Self] {
        &[Colon::InAll, Colon::Parts]
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(match self {
            Colon::InAll => PossibleValue::new("in-all").help("1:20 is 1 part in all 20 parts, so 1+19"),
            Colon::Parts => PossibleValue::new("parts").help("1:20 is 1 part to 20 parts of water, so 1+20"),
        })
    }
}

impl SourceOptions {
    /// The same without the words of options; asks on a terminal what a colon means.
    pub(crate) fn ingredients(&self) -> Ingredients {
        Ingredients {
            from: self.from,
            strength: self.strength,
            to: self.to,
            dilution: self.dilution.map(|written| self.meant(written)).unwrap_or_default(),
            half: self.half,
            temperature: self.temperature,
        }
    }

    fn meant(&self, written: Written) -> Vec<(Meaning, Ratio)> {
        let all = written.readings();
        match self.colon {
            Some(colon) => colon.of(written),
            None if all.len() < 2 => all,
            None => {
                let plain = all.iter().map(|(meaning, ratio)| crate::present::mixing::words::dilution(*meaning, *ratio));
                let plain: Vec<String> = plain.collect();
                let choices: Vec<(&str, &str)> = ["in-all", "parts"].into_iter().zip(plain.iter().map(String::as_str)).collect();
                match ask::choice("the colon is meant in two ways; which one does the label mean?", &choices) {
                    Some(i) => vec![all[i]],
                    None => all,
                }
            }
        }
    }
}

/// A volume with its unit: ml, cl, dl, l, or litre in words.
pub(crate) fn volume(text: &str) -> Result<Millilitres, String> {
    super::buffer::volume(text)
}
