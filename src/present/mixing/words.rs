//! The sentences about mixing.

use super::{Standing, figure, percent_of, state_of, volume};
use crate::chemistry::change::{Bath, Change};
use crate::chemistry::dilution::{Agent, Meaning, Ratio};
use crate::chemistry::mixing::{FreshBath, Terms};
use crate::quantity::Millilitres;

/// Said above two readings of one dilution.
pub const AMBIGUOUS: &str =
    "A colon is meant in two ways. Both follow; the label on the bottle says which, and --colon in-all or --colon parts keeps one:";

/// Said when nothing can be computed.
pub const CONTENT_UNKNOWN: &str = "pH and reserve unknown: name the acid and its strength, such as citric --strength 50";

/// Last line of a label.
pub const LABEL_WARNING: &str = "acid; not food; keep from children, bleach and fixer";

/// Said below a label whose day to discard is not the user's own.
pub const COMMON_AGE: &str = "the day to discard is common practice for this acid and bottle; --age-limit sets yours";

/// Said about half strength.
pub const HALF: &str = "half strength halves the reserve while the pH hardly moves: count half as many rolls or sheets before it is spent";

/// Said when carbonate meets strong acid on film.
pub const PINHOLES: &str = "a carbonate developer gives bubbles in strong acid, which can leave pinholes in film: half strength (--half), a rinse \
    of water before the stop, or a developer without carbonate are the usual ways out";

/// Said of metabisulfite, whose second pK is 7.17 (calibration/acids.csv).
pub const LATE_RESERVE: &str = "metabisulfite takes up most alkali near pH 7, where developer works on: its reserve up to the limit is small beside that of an acid bath, \
    and its pH rises early";

/// Said of developers with hydroxide.
pub const HYDROXIDE: &str = "a developer with hydroxide reacts violently with strong acid, and manuals forbid the bath made for paper there: \
    rinse with water first, or follow the developer's own sheet";

/// How a dilution is written out.
#[must_use]
pub fn dilution(meaning: Meaning, ratio: Ratio) -> String {
    let (concentrate, water) = ratio.as_parts();
    let (all, concentrate, water) = (figure(concentrate + water), figure(concentrate), figure(water));
    match meaning {
        Meaning::Plus => format!("{concentrate}+{water}"),
        Meaning::InAll => format!("{concentrate}:{all} as {concentrate} in all {all} parts, which is {concentrate}+{water}"),
        Meaning::Parts => format!("{concentrate}:{water} as {concentrate} to {water} parts, which is {concentrate}+{water}"),
    }
}

/// Parts with a plus sign.
#[must_use]
pub fn parts(ratio: Ratio) -> String {
    let (concentrate, water) = ratio.as_parts();
    format!("{}+{}", figure(concentrate), figure(water))
}

/// What to take, with its strength.
#[must_use]
pub fn source(agent: Option<Agent>, named: &str) -> String {
    match agent {
        Some(Agent::Acetic(strength)) if named == "vinegar" => format!("vinegar ({strength} %)"),
        Some(Agent::Acetic(strength)) => format!("acetic acid ({strength} %)"),
        Some(Agent::Citric(strength)) => format!("citric concentrate ({strength} %)"),
        Some(Agent::Powder(powder)) => format!("{} ({})", powder.substance, powder.form),
        None => named.to_owned(),
    }
}

/// What is in the bath, for its label.
#[must_use]
pub fn substance(agent: Option<Agent>, named: &str) -> String {
    match agent {
        Some(Agent::Acetic(_)) => "acetic acid".to_owned(),
        Some(Agent::Citric(_)) => "citric acid".to_owned(),
        Some(Agent::Powder(powder)) => format!("{} ({})", powder.substance, powder.form),
        None => named.to_owned(),
    }
}

/// Strength of the bath: per cent for liquids, grams per litre for powders.
#[must_use]
pub fn strength(agent: Option<Agent>, fresh: &FreshBath) -> String {
    let grams = format!("{} g/l", figure(fresh.per_litre.value()));
    match agent {
        Some(Agent::Powder(_)) | None => grams,
        Some(_) => {
            let whole = fresh.per_litre.value() / 10.0;
            // Whole per cent say too little of a bath of one or two.
            if whole < 20.0 {
                format!("{} % ({grams})", figure((whole * 100.0).round() / 100.0))
            } else {
                format!("{} ({grams})", percent_of(fresh))
            }
        }
    }
}

/// pH and reserve in a sentence.
#[must_use]
pub fn standing(standing: &Standing, bath: &Bath, terms: Terms) -> String {
    state_of(standing, bath, terms)
}

/// What happened to the bath.
#[must_use]
pub fn change(change: &Change) -> String {
    match change {
        Change::Water(ml) => format!("{} of water added", volume(*ml)),
        Change::Evaporated(ml) => format!("{} of water evaporated", volume(*ml)),
        Change::Lost(ml) => format!("{} lost", volume(*ml)),
        Change::ToppedUp(_, ml) => format!("topped up with {} of fresh bath (reserve, not youth: the age stays)", volume(*ml)),
        Change::TakenUp(meq) => format!("{} meq of alkali taken up", figure(*meq)),
    }
}

/// Name of a change for programs.
#[must_use]
pub fn change_code(change: &Change) -> &'static str {
    match change {
        Change::Water(_) => "water",
        Change::Evaporated(_) => "evaporated",
        Change::Lost(_) => "lost",
        Change::ToppedUp(..) => "fresh",
        Change::TakenUp(_) => "used",
    }
}

/// In which order to work.
#[must_use]
pub fn order_of_work(agent: Option<Agent>) -> &'static str {
    match agent {
        Some(Agent::Powder(_)) => "three quarters of the water first, stir the powder in until it is clear, then fill up to the volume",
        _ => "most of the water first, then the acid into the water, slowly, stirring, then fill up to the volume; never water into acid",
    }
}

/// How much indicator.
#[must_use]
pub fn indicator(cup: Millilitres, drops: u32, drop: f64, per_litre: f64) -> String {
    let of = if drops == 1 { "drop" } else { "drops" };
    format!(
        "indicator of 0.04 %: {drops} {of} ({:.2} ml) for a cup of {}, never poured back; in the whole bath about {per_litre} ml a litre (common practice)",
        drop * f64::from(drops),
        volume(cup.value())
    )
}

/// Strength from which acetic acid burns skin (25 %: limit of the European classification, from memory), and from which its vapour catches fire easily.
const BURNS: f64 = 25.0;

/// Cautions for what is mixed, the gravest first.
#[must_use]
pub fn cautions(agent: Option<Agent>, named: &str) -> Vec<&'static str> {
    let mut all = Vec::new();
    match agent {
        Some(Agent::Acetic(strength)) if strength.value() >= BURNS => all.extend([
            "Acetic acid of this strength burns skin and eyes, and strong acid's vapour hurts and catches fire: goggles, gloves, apron, fresh air, no flame.",
            "Acid into water, slowly, never water into acid. Glacial acid sets solid near 16 C: let it melt in a warm room, not over heat.",
        ]),
        Some(Agent::Acetic(_)) if named == "vinegar" => {
            all.push("Only clear, colourless vinegar; what is coloured stains, and its strength must be on the label. From then on it is no food.");
        }
        Some(Agent::Acetic(_)) => all.push("Goggles and gloves; acid into water, slowly, never water into acid; fresh air."),
        Some(Agent::Citric(_)) | None => {
            all.push("Goggles and gloves: concentrates can harm the eyes for good. Acid into water, slowly, never water into acid.");
        }
        Some(Agent::Powder(powder)) if powder.acid.is_some_and(|(acid, _)| acid.name == "sulfurous") => all.extend([
            "In this bath sulfur dioxide comes off: fresh air, not for people with asthma, and never acid onto the powder. One text warns against the potassium salt.",
            "Goggles and gloves when weighing; do not raise dust.",
        ]),
        Some(Agent::Powder(_)) => all.push(
            "Weigh it: a spoon holds half as much or twice as much, by grain and heap. Powder and solution irritate the eyes: goggles, gloves, no dust.",
        ),
    }
    all.extend([
        "Never together with hypochlorite bleach (poisonous gas), sulfide toner, fixer or dry sulfite. In the eye: rinse with running water for many minutes, then a doctor.",
        "No food bottles; label it, keep it low and out of children's reach. The safety data sheet of your product and your local rules come before anything here.",
    ]);
    all
}
