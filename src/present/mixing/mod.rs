//! What to measure for a bath, for people; [`json`] tells the same to programs, [`picture`] draws its curve, [`words`] holds the sentences.

pub mod json;
pub mod picture;
pub mod words;

use super::number::{one_decimal, percent, ph_with};
use super::text::{columns, put};
use super::words::printable;
use crate::chemistry::change::{Bath, Change, Standing};
use crate::chemistry::dilution::{Agent, Amount};
use crate::chemistry::mixing::{DROP, FreshBath, INDICATOR_PER_LITRE, Plan, Terms, drops};
use crate::quantity::{Day, Millilitres};

/// Two standard uncertainties: the interval that holds the true value in 95 of 100 cases.
pub const COVERAGE: f64 = 2.0;

/// All that is told of an order.
#[derive(Debug, Clone)]
pub struct Mixing {
    /// What the bath is made from; none when its content is not known.
    pub agent: Option<Agent>,
    /// The same as named by the user, such as `vinegar`.
    pub named: &'static str,
    /// Ways the order may be meant: one, or two of an ambiguous dilution.
    pub plans: Vec<Plan>,
    /// Where the reserve ends, and the temperature.
    pub terms: Terms,
    /// The label.
    pub label: Label,
    /// The cup that a sample goes into.
    pub cup: Millilitres,
    /// What happens to the bath afterwards; of the first plan.
    pub changes: Vec<(Change, Bath, Standing)>,
    /// Advice that fits what was told.
    pub notes: Vec<&'static str>,
}

/// What is written on the bottle.
#[derive(Debug, Clone)]
pub struct Label {
    /// Day of mixing.
    pub mixed: Option<Day>,
    /// Who mixed it.
    pub by: Option<String>,
    /// Days that the bath is kept.
    pub days: u32,
    /// True when the user told the days, false when they are common practice.
    pub is_own: bool,
}

/// The report, `width` columns wide; [`super::text::UNBROKEN`] leaves each line whole.
#[must_use]
pub fn report(mixing: &Mixing, width: usize) -> String {
    let width = columns(width);
    let mut out = String::new();
    if mixing.plans.len() > 1 {
        put(&mut out, words::AMBIGUOUS, 0, width);
    }
    for plan in &mixing.plans {
        one_plan(&mut out, mixing, plan, width);
    }
    put(&mut out, words::order_of_work(mixing.agent), 2, width);
    for (i, (change, bath, standing)) in mixing.changes.iter().enumerate() {
        if i == 0 {
            put(&mut out, "afterwards:", 0, width);
        }
        put(&mut out, &format!("  {}: {}", words::change(change), words::standing(standing, bath, mixing.terms)), 4, width);
    }
    let cup = mixing.cup;
    put(&mut out, &words::indicator(cup, drops(cup), DROP, INDICATOR_PER_LITRE), 2, width);
    put(&mut out, "write on the bottle:", 0, width);
    for line in label(mixing) {
        put(&mut out, &format!("  {line}"), 4, width);
    }
    if !mixing.label.is_own {
        put(&mut out, words::COMMON_AGE, 0, width);
    }
    for note in &mixing.notes {
        put(&mut out, &format!("note: {note}"), 2, width);
    }
    for caution in words::cautions(mixing.agent, mixing.named) {
        put(&mut out, &format!("- {caution}"), 2, width);
    }
    out
}

fn one_plan(out: &mut String, mixing: &Mixing, plan: &Plan, width: usize) {
    let total = volume(plan.portions.total.value());
    let head = match plan.dilution {
        Some((meaning, ratio)) => format!("{}, {total}:", words::dilution(meaning, ratio)),
        None => format!("for {total}:"),
    };
    put(out, &head, 2, width);
    let what = words::source(mixing.agent, mixing.named);
    match plan.portions.agent {
        Amount::Millilitres(ml) => {
            let line = format!("  {} {what} + {} water = {total}", volume(ml), volume(plan.portions.water));
            put(out, &line, 4, width);
        }
        Amount::Grams(grams) => put(out, &format!("  {} g {what}, water to make up to {total}", figure(grams)), 4, width),
    }
    match &plan.bath {
        Some(fresh) => {
            put(out, &format!("  strength {}", words::strength(mixing.agent, fresh)), 4, width);
            put(out, &format!("  fresh: {}", words::standing(&fresh.standing, &fresh.bath, mixing.terms)), 4, width);
        }
        None => put(out, &format!("  {}", words::CONTENT_UNKNOWN), 4, width),
    }
}

/// The lines of the label.
#[must_use]
pub fn label(mixing: &Mixing) -> Vec<String> {
    let plan = mixing.plans.first();
    let what = match (plan.and_then(|plan| plan.bath.as_ref()), plan.and_then(|plan| plan.dilution)) {
        (Some(fresh), _) => format!("STOP BATH, {} {}", words::substance(mixing.agent, mixing.named), words::strength(mixing.agent, fresh)),
        // Which dilution it will be is still open.
        (None, Some(_)) if mixing.plans.len() > 1 => format!("STOP BATH, {}, dilution ..........", mixing.named),
        (None, Some((_, ratio))) => format!("STOP BATH, {} {}", mixing.named, words::parts(ratio)),
        (None, None) => format!("STOP BATH, {}", mixing.named),
    };
    let label = &mixing.label;
    let day = label.mixed.map_or_else(|| "..........".to_owned(), |day| day.to_string());
    let by = label.by.as_ref().map_or_else(|| "..........".to_owned(), |name| printable(name));
    let discard = match label.mixed.and_then(|day| day.later(label.days)) {
        Some(day) => format!("discard by {day}"),
        None if label.days == 1 => "discard the day after".to_owned(),
        None => format!("discard {} days after that", label.days),
    };
    vec![what, format!("mixed {day} by {by}"), discard, words::LABEL_WARNING.to_owned()]
}

/// A volume in the unit that people would say, to what a graduate shows.
#[must_use]
pub fn volume(millilitres: f64) -> String {
    if millilitres < 1000.0 { format!("{} ml", figure(millilitres)) } else { format!("{} l", trimmed(millilitres / 1000.0, 3)) }
}

/// Three digits, which is finer than anything that measures a bath.
#[must_use]
pub fn figure(value: f64) -> String {
    match value.abs() {
        v if v >= 100.0 => trimmed(value, 0),
        v if v >= 10.0 => trimmed(value, 1),
        _ => trimmed(value, 2),
    }
}

/// So many decimals, without zeros at the end.
fn trimmed(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// pH with its 95 % interval, and the reserve.
fn state_of(standing: &Standing, bath: &Bath, terms: Terms) -> String {
    let ph = ph_with(standing.ph.value(), COVERAGE * standing.ph_sd);
    format!(
        "pH {ph} at {} C; {} meq/l of reserve to pH {}, {} meq in {}",
        terms.temperature,
        figure(standing.reserve.value()),
        one_decimal(terms.spent.value()),
        figure(standing.reserve_total),
        volume(bath.volume.value())
    )
}

/// Per cent of a bath from its grams per litre, by the same rule as [`Agent::of_percent`] within 0.2 %.
fn percent_of(fresh: &FreshBath) -> String {
    percent(fresh.per_litre.value() / 1000.0)
}

#[cfg(test)]
pub(super) mod examples;
#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_fits_forty_columns() {
        for mixing in examples::all() {
            let text = report(&mixing, 40);
            assert!(text.lines().all(|line| line.chars().count() <= 40), "{text}");
        }
    }

    #[test]
    fn cautions_fit_the_acid() {
        // Where a line breaks does not matter here.
        let unbroken = |mixing: Mixing| report(&mixing, 88).replace("\n  ", " ");
        let [acetic, vinegar, citric, metabisulfite, unknown] = examples::all().map(unbroken);
        assert!(acetic.contains("cid into water") && acetic.contains("burns"));
        assert!(vinegar.contains("clear, colourless") && !vinegar.contains("burns skin"));
        assert!(citric.contains("spoon") && !citric.contains("sulfur dioxide comes off"));
        assert!(metabisulfite.contains("sulfur dioxide comes off"));
        for text in [&acetic, &vinegar, &citric, &metabisulfite, &unknown] {
            assert!(text.contains("local rules") && text.contains("safety data sheet") && text.contains("bleach"), "{text}");
        }
    }

    #[test]
    fn label_says_what_when_by_whom_and_until() {
        let [acetic, .., unknown] = examples::all();
        let told = label(&acetic).join("\n");
        for said in ["acetic acid", "1.7 %", "2026-11-26 by M.", "discard by 2027-01-25", "not food"] {
            assert!(told.contains(said), "no {said} in {told}");
        }
        assert!(report(&acetic, 88).contains(words::COMMON_AGE));
        // Two meanings: the label must not choose one.
        let open = label(&unknown).join("\n");
        assert!(open.contains("dilution .....") && open.contains("mixed ....") && open.contains("days after"), "{open}");
    }

    #[test]
    fn an_ambiguous_dilution_shows_both_sums() {
        let [.., unknown] = examples::all();
        let text = report(&unknown, 88);
        assert!(
            text.contains("50 ml concentrate + 950 ml water = 1 l") && text.contains("47.6 ml concentrate + 952 ml water = 1 l"),
            "{text}"
        );
    }

    #[test]
    fn figures_have_three_digits() {
        assert_eq!([figure(47.619), figure(952.38), figure(1.6667), figure(0.5)], ["47.6", "952", "1.67", "0.5"]);
        assert_eq!((volume(1000.0), volume(58.72), volume(2500.0)), ("1 l".to_owned(), "58.7 ml".to_owned(), "2.5 l".to_owned()));
    }
}
