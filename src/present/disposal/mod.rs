//! Pouring a used bath away, for people; [`json`] tells the same to programs, [`words`] holds the sentences.

pub mod json;
pub mod words;

use super::mixing::{figure, volume};
use super::number::{one_decimal, ph};
use super::text::{columns, put};
use crate::chemistry::disposal::{Answers, Course, Needs};
use crate::chemistry::neutral::{ROOM, Soda};
use crate::quantity::{Interval, Millilitres};

/// All that is told.
#[derive(Debug, Clone)]
pub struct Disposal {
    /// The answers to the questions.
    pub answers: Answers,
    /// How much there is.
    pub volume: Millilitres,
    /// pH as read; none when it was not.
    pub read: Option<Interval>,
    /// What it needs to be near pH 7; none when it is not known what it was.
    pub needs: Option<Needs>,
    /// The soda that was asked for.
    pub soda: Soda,
}

impl Disposal {
    /// What it needs, when treating it is not out of the question: not with silver in it, and not of what is collected.
    #[must_use]
    pub fn treatment(&self) -> Option<&Needs> {
        self.needs.as_ref().filter(|_| self.answers.course() != Course::Collect)
    }

    /// pH now: as read, else as computed for the fresh bath.
    #[must_use]
    pub fn ph(&self) -> Interval {
        self.read.unwrap_or_else(|| self.needs.map_or(Interval::OPEN, |needs| Interval { low: Some(needs.ph.0), high: Some(needs.ph.1) }))
    }
}

/// The report, `width` columns wide; [`super::text::UNBROKEN`] leaves each line whole.
#[must_use]
pub fn report(disposal: &Disposal, width: usize) -> String {
    let width = columns(width);
    let course = disposal.answers.course();
    let mut out = String::new();
    put(&mut out, words::course(course), 0, width);
    put(&mut out, words::reason(disposal.answers), 2, width);
    let now = disposal.ph();
    match ph(None, now.low, now.high) {
        Some(text) => put(&mut out, &format!("{}: pH {text}", words::which(disposal.read.is_some())), 2, width),
        None => {
            put(&mut out, words::PH_UNKNOWN, 2, width);
            put(&mut out, words::MEASURE, 2, width);
        }
    }
    if now.low.is_some_and(|low| low < CORROSIVE) {
        put(&mut out, words::CORROSIVE, 2, width);
    }
    if let Some(needs) = disposal.treatment() {
        treatment(&mut out, disposal, needs, width);
    } else if course != Course::Collect {
        put(&mut out, words::CONTENT_UNKNOWN, 2, width);
    }
    for caution in words::cautions(course, disposal.soda) {
        put(&mut out, &format!("- {caution}"), 2, width);
    }
    out
}

/// pH below which the line of 2 that rules draw for corrosive waste is within reach of a colour's doubt (2 and 0.5).
const CORROSIVE: f64 = 2.5;

fn treatment(out: &mut String, disposal: &Disposal, needs: &Needs, width: usize) {
    let whole = volume(disposal.volume.value());
    if needs.grams.1 < LEAST {
        put(out, words::NOTHING_NEEDED, 2, width);
        return;
    }
    put(out, &format!("to bring {whole} to about pH 7, where you may:"), 2, width);
    let each = figure(needs.grams.1 / f64::from(needs.portions));
    put(
        out,
        &format!("  {} g of {}, in {} portions of about {each} g", range(needs.grams), words::soda(disposal.soda), needs.portions),
        4,
        width,
    );
    put(
        out,
        &format!(
            "  up to {} l of carbon dioxide ({ROOM}); a vessel of at least {}",
            figure(needs.gas_litres.1),
            volume(3.0 * disposal.volume.value())
        ),
        4,
        width,
    );
    let (low, high) = needs.ph_foaming;
    let foaming = if high - low < 0.1 { one_decimal(low) } else { format!("{} to {}", one_decimal(low), one_decimal(high)) };
    put(out, &format!("  {}", words::foaming(&foaming)), 4, width);
}

/// Soda that is not worth weighing, g.
const LEAST: f64 = 0.05;

/// `19.3` or `17 to 21`.
fn range((low, high): (f64, f64)) -> String {
    let (low, high) = (figure(low), figure(high));
    if low == high { high } else { format!("{low} to {high}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::disposal::{Drain, Fixer, Holder, UsedBath, needs};
    use crate::chemistry::{bath, powder};
    use crate::quantity::Celsius;

    pub(super) fn disposal(drain: Drain, holder: Holder, fixer: Fixer) -> Disposal {
        let volume = Millilitres::new(1000.0).unwrap();
        let fresh = vec![bath::powdered(powder::find("citric-anhydrous").unwrap(), 15.0)];
        let used = UsedBath { fresh, volume, read: None, developer: None };
        let needs = needs(&used, Soda::Bicarbonate, Celsius::STANDARD).unwrap();
        Disposal { answers: Answers { drain, holder, fixer }, volume, read: None, needs, soda: Soda::Bicarbonate }
    }

    fn every() -> Vec<Disposal> {
        let mut all = Vec::new();
        for drain in [Drain::Sewer, Drain::Septic, Drain::Collected] {
            for holder in [Holder::Home, Holder::Institution] {
                for fixer in [Fixer::No, Fixer::Yes, Fixer::Unsure] {
                    all.push(disposal(drain, holder, fixer));
                    all.push(Disposal { needs: None, ..disposal(drain, holder, fixer) });
                }
            }
        }
        all
    }

    #[test]
    fn everything_fits_forty_columns() {
        for disposal in every() {
            let text = report(&disposal, 40);
            assert!(text.lines().all(|line| line.chars().count() <= 40), "{text}");
        }
    }

    // Nothing may read like a permission, and everything defers to those who give it.
    #[test]
    fn no_report_permits_anything() {
        for disposal in every() {
            let text = report(&disposal, 88).replace('\n', " ").replace("  ", " ").to_lowercase();
            for said in ["local rules", "no permission", "bleach"] {
                assert!(text.contains(said), "no {said} in {text}");
            }
            for forbidden in ["you may pour", "is allowed", "are allowed", "safe to pour", "permitted"] {
                assert!(!text.contains(forbidden), "{forbidden} in {text}");
            }
        }
    }

    #[test]
    fn silver_is_collected_and_not_treated() {
        for fixer in [Fixer::Yes, Fixer::Unsure] {
            let text = report(&disposal(Drain::Sewer, Holder::Home, fixer), 88);
            assert!(text.contains("silver") && text.contains("licensed carrier") && !text.contains("portions of"), "{text}");
        }
        let text = report(&disposal(Drain::Sewer, Holder::Home, Fixer::No), 88);
        assert!(text.contains("portions of") && text.contains("sodium bicarbonate") && text.contains("carbon dioxide"), "{text}");
    }

    #[test]
    fn institutions_hear_that_treating_may_be_regulated() {
        let text = report(&disposal(Drain::Sewer, Holder::Institution, Fixer::No), 88);
        assert!(text.contains("sewer authority") && text.contains("regulated"), "{text}");
    }
}
