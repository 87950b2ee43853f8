//! The built-in indicators, from `calibration/indicators.csv`.

use super::{BandFamily, Indicator};
use crate::quantity::Pka;
use std::sync::OnceLock;

const TABLE: &str = include_str!("../../calibration/indicators.csv");

/// All built-in indicators by rising pKa'.
#[must_use]
pub fn all() -> &'static [Indicator] {
    static ALL: OnceLock<Vec<Indicator>> = OnceLock::new();
    ALL.get_or_init(|| TABLE.lines().filter(|line| !line.starts_with('#')).skip(1).filter_map(parse).collect())
}

/// The indicator of that name.
#[must_use]
pub fn find(name: &str) -> Option<&'static Indicator> {
    all().iter().find(|indicator| indicator.name == name)
}

/// The dye of most stop baths (common practice): bromocresol purple.
#[must_use]
pub fn usual() -> &'static Indicator {
    find("bromocresol-purple").unwrap_or_else(|| unreachable!("the table holds it, as a test says"))
}

fn parse(line: &'static str) -> Option<Indicator> {
    let fields: Vec<&'static str> = line.split(',').collect();
    let number = |i: usize| fields.get(i).and_then(|field| field.parse::<f64>().ok());
    let family = |i: usize| match *fields.get(i)? {
        "yellow" => Some(BandFamily::Yellow),
        "deep" => Some(BandFamily::Deep),
        _ => None,
    };
    let name = *fields.first()?;
    Some(Indicator {
        name,
        acid_nm: number(1)?,
        base_nm: number(2)?,
        ratio: number(3)?,
        ratio_sd: number(4)?,
        rest: number(5)?,
        pka: Pka::new(number(6)?).ok()?,
        pka_sd: number(7)?,
        step: number(8)?,
        slope: number(9)?,
        visual: (number(10)?, number(11)?),
        acid_colour: fields.get(12)?,
        base_colour: fields.get(13)?,
        molar_mass: number(14)?,
        acid_family: family(15)?,
        base_family: family(16)?,
        mix: number(17)?,
        source: source_of(name),
    })
}

/// The sentence about `name` in the table's head.
fn source_of(name: &str) -> &'static str {
    TABLE
        .lines()
        .take_while(|line| line.starts_with('#'))
        .find_map(|line| {
            let start = line.find(&format!("{name}: "))? + name.len() + 2;
            let rest = &line[start..];
            Some(rest.split(". ").next().unwrap_or(rest).trim_end_matches('.'))
        })
        .unwrap_or("see calibration/indicators.csv")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_parses_and_has_a_source() {
        let rows = TABLE.lines().filter(|line| !line.starts_with('#')).count() - 1;
        assert_eq!(all().len(), rows);
        assert!(all().iter().all(|i| i.source.len() > 20 && !i.source.starts_with("see ")), "a row without source");
        assert!(all().is_sorted_by(|a, b| a.pka <= b.pka));
    }
}
