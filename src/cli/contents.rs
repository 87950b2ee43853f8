//! What was said of the cups: their dyes, names, plain water, and whether they share one bath.

use super::args::indicator;
use crate::indicator::{Indicator, catalogue};
use crate::measurement::request::Contents;

/// Most cups that can be named; a photo holds up to twelve.
const MOST_CUPS: usize = 99;

/// A list of which each part belongs to one cup: `NAME` for all, or `NUMBER=NAME`.
#[derive(Debug, Clone)]
pub(crate) struct Dyes {
    all: Option<&'static Indicator>,
    each: Vec<(usize, &'static Indicator)>,
}

/// Names of cups, either all in order or some by number.
#[derive(Debug, Clone, Default)]
pub(crate) struct Labels {
    named: Vec<(usize, String)>,
    count: Option<usize>,
}

/// Options about what is in the cups.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct ContentOptions {
    /// The dye in the cups (`tintpoint indicators` lists them); or one for each cup: 1=NAME,2=NAME.
    #[arg(long, value_name = "NAME", default_value = "bromocresol-purple", value_parser = dyes)]
    indicator: Dyes,
    /// Names of the cups in their order: A,B,C; or of some of them: 2=A,3=B.
    #[arg(long, value_name = "NAMES", value_parser = labels)]
    labels: Option<Labels>,
    /// Number of a cup that holds plain water, in the same kind of vessel: it shows white in the same light.
    #[arg(long = "blank", value_name = "NUMBER", value_delimiter = ',', value_parser = cup_number)]
    blanks: Vec<usize>,
    /// All cups hold the same bath, with one indicator each: give one pH from all of them.
    #[arg(long)]
    panel: bool,
}

impl ContentOptions {
    /// The same for the measurement.
    pub(crate) fn contents(&self) -> Contents {
        let dyes = &self.indicator;
        let labels = self.labels.clone().unwrap_or_default();
        let indicator = dyes.all.or_else(|| dyes.each.first().map(|(_, dye)| *dye));
        Contents {
            others: dyes.each.clone(),
            count: (dyes.all.is_none() && is_whole_row(&dyes.each)).then_some(dyes.each.len()),
            blanks: self.blanks.clone(),
            labels: labels.named,
            labelled: labels.count,
            is_panel: self.panel,
            ..Contents::of(indicator.filter(|_| dyes.all.is_some() || is_whole_row(&dyes.each)).unwrap_or_else(catalogue::usual))
        }
    }
}

/// True when the numbers are 1, 2, 3 ... without a gap: every cup was named.
fn is_whole_row(each: &[(usize, &'static Indicator)]) -> bool {
    (1..=each.len()).all(|number| each.iter().any(|(n, _)| *n == number))
}

pub(super) fn cup_number(text: &str) -> Result<usize, String> {
    match text.trim().parse::<usize>() {
        Ok(number) if (1..=MOST_CUPS).contains(&number) => Ok(number),
        _ => Err(format!("`{}` is no number of a cup\nhint: cups count from 1 along the row", text.trim())),
    }
}

/// `NUMBER=REST` in its parts; `None` when there is no number before an equals sign.
fn numbered(part: &str) -> Option<Result<(usize, &str), String>> {
    let (number, rest) = part.split_once('=')?;
    Some(cup_number(number).map(|number| (number, rest.trim())))
}

fn twice(numbers: &[usize]) -> Option<usize> {
    numbers.iter().enumerate().find(|(i, n)| numbers[..*i].contains(n)).map(|(_, n)| *n)
}

fn dyes(text: &str) -> Result<Dyes, String> {
    let mut told = Dyes { all: None, each: Vec::new() };
    for part in text.split(',') {
        match numbered(part) {
            Some(numbered) => {
                let (number, name) = numbered?;
                told.each.push((number, indicator(name)?));
            }
            None if told.all.is_some() => {
                return Err("two dyes for all cups\nhint: give each cup its own: 1=NAME,2=NAME".to_owned());
            }
            None => told.all = Some(indicator(part)?),
        }
    }
    match twice(&told.each.iter().map(|(n, _)| *n).collect::<Vec<_>>()) {
        Some(number) => Err(format!("cup {number} has two dyes\nhint: name each cup once")),
        None => Ok(told),
    }
}

fn labels(text: &str) -> Result<Labels, String> {
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    let is_numbered = |part: &&str| numbered(part).is_some_and(|numbered| numbered.is_ok());
    if !parts.iter().any(is_numbered) {
        let named = parts.iter().enumerate().filter(|(_, name)| !name.is_empty());
        return Ok(Labels { named: named.map(|(i, name)| (i + 1, (*name).to_owned())).collect(), count: Some(parts.len()) });
    }
    let mut named: Vec<(usize, String)> = Vec::new();
    for part in parts {
        let (number, name) =
            numbered(part).unwrap_or_else(|| Err(format!("`{part}` has no number\nhint: number all names or none: 1=A,2=B or A,B")))?;
        named.push((number, name.to_owned()));
    }
    match twice(&named.iter().map(|(n, _)| *n).collect::<Vec<_>>()) {
        Some(number) => Err(format!("cup {number} has two names\nhint: name each cup once")),
        None => Ok(Labels { named, count: None }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    #[derive(Debug, Parser)]
    struct Line {
        #[command(flatten)]
        options: ContentOptions,
    }

    fn told(words: &[&str]) -> Contents {
        Line::try_parse_from(std::iter::once("x").chain(words.iter().copied())).unwrap().options.contents()
    }

    #[test]
    fn one_dye_is_in_every_cup() {
        let contents = told(&["--indicator", "bromocresol-green"]);
        assert_eq!((contents.dye(1).name, contents.dye(7).name), ("bromocresol-green", "bromocresol-green"));
        assert_eq!((contents.miscounted(1), contents.miscounted(12)), (None, None));
        assert_eq!(told(&[]).dye(3).name, "bromocresol-purple");
    }

    #[test]
    fn each_cup_has_its_dye() {
        let contents = told(&["--indicator", "1=bromocresol-green,2=Bromocresol Purple"]);
        assert_eq!((contents.dye(1).name, contents.dye(2).name), ("bromocresol-green", "bromocresol-purple"));
        // Both were named, so that a third cup or a missing one means that numbers went astray.
        assert_eq!((contents.miscounted(2), contents.miscounted(3), contents.miscounted(1)), (None, Some(2), Some(2)));
    }

    #[test]
    fn one_cup_may_differ() {
        for words in ["bromocresol-purple,2=bromocresol-green", "2=bromocresol-green"] {
            let contents = told(&["--indicator", words]);
            assert_eq!((contents.dye(1).name, contents.dye(2).name), ("bromocresol-purple", "bromocresol-green"));
            assert_eq!((contents.miscounted(2), contents.miscounted(5), contents.miscounted(1)), (None, None, Some(2)));
        }
    }

    #[test]
    fn names_are_all_or_numbered() {
        let contents = told(&["--labels", "left, right"]);
        assert_eq!((contents.label(1), contents.label(2), contents.label(3)), (Some("left"), Some("right"), None));
        assert_eq!((contents.mislabelled(2), contents.mislabelled(3)), (None, Some(2)));
        let contents = told(&["--labels", "2=tray = two"]);
        assert_eq!((contents.label(1), contents.label(2)), (None, Some("tray = two")));
        assert_eq!((contents.mislabelled(5), contents.mislabelled(1)), (None, Some(2)));
    }

    #[test]
    fn water_is_counted() {
        let contents = told(&["--blank", "2,4"]);
        assert!(contents.is_blank(2) && contents.is_blank(4) && !contents.is_blank(1));
        assert_eq!((contents.miscounted(3), contents.miscounted(4)), (Some(4), None));
    }

    #[test]
    fn wrong_lists_are_refused_with_a_hint() {
        for (option, value) in [
            ("--indicator", "1=bromocresol-green,1=bromocresol-purple"),
            ("--indicator", "bromocresol-green,bromocresol-purple"),
            ("--indicator", "0=bromocresol-green"),
            ("--indicator", "1=litmus"),
            ("--indicator", "x=bromocresol-green"),
            ("--labels", "1=a,b"),
            ("--labels", "1=a,1=b"),
            ("--blank", "0"),
            ("--blank", "-1"),
            ("--blank", "one"),
        ] {
            let error = Line::try_parse_from(["x", &format!("{option}={value}")]).unwrap_err().to_string();
            assert!(error.contains("hint:") || error.contains("known are"), "{option} {value}: {error}");
        }
    }
}
