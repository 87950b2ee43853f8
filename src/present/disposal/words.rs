//! The sentences about pouring a bath away.

use crate::chemistry::disposal::{Answers, Course, Drain, Fixer, Holder};
use crate::chemistry::neutral::Soda;

/// Said when nothing is known of the pH.
pub const PH_UNKNOWN: &str = "pH unknown: name what the bath was mixed from, or read it and give --read";

/// Said when a range of soda cannot be given.
pub const CONTENT_UNKNOWN: &str = "no grams without knowing what is in it: name what it was mixed from, or add soda by the half teaspoon until \
    it stops fizzing, where you may treat it at all";

/// Said near pH 2.
pub const CORROSIVE: &str =
    "so acid a liquid may count as corrosive waste where rules draw that line at pH 2: measure it with a meter before you call it mild";

/// Said when no pH is known.
pub const MEASURE: &str = "a concentrate or a strong fresh bath can be near pH 2, where rules draw the line to corrosive waste: measure it";

/// Said when nothing is left to bind.
pub const NOTHING_NEEDED: &str = "it is near pH 7 already: no soda";

/// The course in a sentence.
#[must_use]
pub fn course(course: Course) -> &'static str {
    match course {
        Course::Collect => "COLLECT IT  in a labelled, closed bottle, for a licensed carrier or your collection point",
        Course::HoldBack => "HOLD IT BACK  do not pour it there unless your local authority tells you otherwise; else collect it",
        Course::AskFirst => "ASK FIRST  your local authority says whether the sewer takes it",
        Course::AskAuthority => "ASK FIRST  your sewer authority says what the sewer takes, and whether you need a licensed carrier",
    }
}

/// Name of the course for programs.
#[must_use]
pub fn course_code(course: Course) -> &'static str {
    match course {
        Course::Collect => "collect",
        Course::HoldBack => "hold-back",
        Course::AskFirst => "ask-first",
        Course::AskAuthority => "ask-authority",
    }
}

/// Why.
#[must_use]
pub fn reason(answers: Answers) -> &'static str {
    match (answers.fixer, answers.drain, answers.holder) {
        (Fixer::Yes, ..) => "fixer has got in: treat it as silver-bearing, whatever its pH; do not neutralise it yourself",
        (Fixer::Unsure, ..) => "fixer may have got in: treat it as silver-bearing until you know; do not neutralise it yourself",
        (Fixer::No, Drain::Collected, _) => {
            "leave it as it is unless the carrier asks for something else, and hand over what is in it in writing"
        }
        (Fixer::No, Drain::Septic, _) => "guides say no to septic tanks, cesspits, gardens and storm drains",
        (Fixer::No, Drain::Sewer, Holder::Home) => {
            "a stop bath without fixer is nominally free of silver; many towns take hobby amounts from homes, well diluted and after baking soda, others do not"
        }
        (Fixer::No, Drain::Sewer, Holder::Institution) => {
            "schools, clubs and laboratories have stricter rules than homes: limits of pH, often from 5 or 6 to 9 or 10, records, and treating waste, even with soda, may itself be regulated"
        }
    }
}

/// What the pH belongs to.
#[must_use]
pub fn which(is_read: bool) -> &'static str {
    if is_read { "the bath as read" } else { "the bath as mixed, the most acid it can be" }
}

/// The soda in words.
#[must_use]
pub fn soda(soda: Soda) -> &'static str {
    match soda {
        Soda::Bicarbonate => "sodium bicarbonate (baking soda)",
        Soda::Carbonate => "sodium carbonate (washing soda, anhydrous)",
        Soda::CarbonateMonohydrate => "sodium carbonate (monohydrate)",
    }
}

/// Where the pH stands at first.
#[must_use]
pub fn foaming(ph: &str) -> String {
    format!(
        "with all of it in, the pH is about {ph} while the liquid is full of gas, and rises as it leaves: stir, wait an hour, then check \
         with paper or a meter and stop anywhere from 6.5 to 8"
    )
}

/// Cautions, the gravest first.
#[must_use]
pub fn cautions(course: Course, soda: Soda) -> Vec<&'static str> {
    let mut all = Vec::new();
    if course != Course::Collect {
        all.push("It foams: an open vessel of three times the volume, small portions, stirring, the next only when the foam has gone; never in a closed bottle, for it bursts.");
        all.push("Fresh air: carbon dioxide, and from a bath with sulfite in it a little sulfur dioxide, which people with asthma must keep away from. Goggles and gloves.");
        if soda != Soda::Bicarbonate {
            all.push("Carbonate irritates eyes and skin and overshoots to pH 10 and more: hold back the last quarter until the pH is checked. Bicarbonate cannot overshoot beyond 8.3.");
        }
        all.push("Diluting only to get under a limit is itself forbidden in places.");
    }
    all.push(
        "Never together with hypochlorite bleach, sulfide toner, cyanide or ferricyanide bleach; not with developer or fixer by habit.",
    );
    all.push("This is general caution and no permission: local rules, your authority or a licensed carrier and the safety data sheets of what is in it decide.");
    all
}
