//! Every sentence for the user, in one place: states, reasons, remedies, cautions.
//!
//! Messages are lower case without a full stop; what failed comes first, then the figure and its meaning.

mod notice;

pub use notice::{by_gravity, message, remedy};

use super::number;
use crate::measurement::reading::{Chance, CupReading, LightReport, PanelReading, Reading, State};
use crate::measurement::request::Limits;
use crate::measurement::warning::Notice;
use crate::placement::Sheet;

/// Title of a placement sheet.
#[must_use]
pub fn sheet_title(sheet: Sheet) -> String {
    let cups = sheet.cups();
    format!("tintpoint placement sheet for {cups} cup{}", if cups == 1 { "" } else { "s" })
}

/// The three lines of instruction on a placement sheet.
pub const SHEET_STEPS: [&str; 3] = [
    "Print at 100 %, black on white paper: the scale below must measure 100 mm.",
    "Put a cup on each circle and the grey card on the dashed box, all in the same white light.",
    "Take the photo with all four corner marks in view, nothing on them, no lamp mirrored in card or cups.",
];

/// What is printed on the card's place.
pub const SHEET_CARD: [&str; 2] = ["grey card", "its middle on the cross"];

/// Cautions on a placement sheet.
pub const SHEET_CAUTIONS: &str = "Never drink from a sample cup again. Keep bath off skin and out of eyes. The safety data sheet of your \
     product and your local rules come first.";

/// What is said wherever a page is shown in the dark.
pub const SCREEN_FOGS: &str = "Any screen can fog paper and film, a red one too: cover both before you look at it.";

/// The state as one stable lower-case word, also used in the reports for programs.
#[must_use]
pub fn state(state: State) -> &'static str {
    match state {
        State::Fresh => "fresh",
        State::Nearing => "nearing",
        State::Spent => "spent",
        State::Unclear => "unclear",
    }
}

/// What to do about a bath in this state, one line.
#[must_use]
pub fn advice(state: State) -> &'static str {
    match state {
        State::Fresh => "carry on, and keep counting rolls and sheets",
        State::Nearing => "finish this session at most, and mix the next batch now",
        State::Spent => "discard the bath and mix a new batch before the next roll or sheet",
        State::Unclear => "do not rely on this bath until a second reading or a drop-count test settles it",
    }
}

/// For a photo without a cup.
pub const NOTHING_TO_JUDGE: &str = "nothing to judge";

/// For a cup without a pH.
pub const PH_UNKNOWN: &str = "pH unknown";

/// How the page of many photos is sorted.
pub const ORDER_OF_REPORT: &str = "what needs somebody first: spent, unclear and failed photos before nearing and fresh ones";

/// What a watch says of photos that lay in the folder before it began.
#[must_use]
pub fn left_alone(photos: usize) -> String {
    let (photos, are) = if photos == 1 { ("1 photo".to_owned(), "is") } else { (format!("{photos} photos"), "are") };
    format!("{photos} {are} there already and left alone; --existing reads them too")
}

/// A cup by its number and its name, if it has one.
#[must_use]
pub fn cup(cup: &CupReading) -> String {
    cup.label.as_ref().map_or_else(|| format!("cup {}", cup.number), |label| format!("cup {} {}", cup.number, printable(label)))
}

/// The chance of each state: `fresh 2 %, nearing 95 %, spent 3 %`.
#[must_use]
pub fn chances(chance: &Chance) -> String {
    let [fresh, nearing, spent] = [chance.fresh, chance.nearing, chance.spent].map(number::chance);
    format!("fresh {fresh}, nearing {nearing}, spent {spent}")
}

/// The cups of each state in words, the worst state first: `cups 1, 3`. Cups of water have none, and a panel is one bath.
#[must_use]
pub fn by_state(reading: &Reading) -> Vec<(State, String)> {
    if let Some(panel) = &reading.panel {
        return vec![(panel.state, "the bath in all cups".to_owned())];
    }
    let mut out = Vec::new();
    for state in [State::Spent, State::Nearing, State::Fresh, State::Unclear] {
        let is_bath = |cup: &&CupReading| !cup.reasons.contains(&Notice::Blank);
        let numbers: Vec<String> = reading.cups.iter().filter(|c| c.state == state).filter(is_bath).map(|c| c.number.to_string()).collect();
        match numbers.len() {
            0 => {}
            1 => out.push((state, format!("cup {}", numbers[0]))),
            _ => out.push((state, format!("cups {}", numbers.join(", ")))),
        }
    }
    out
}

/// A panel with the cups it rests on: `panel of cups 1, 2, 3`.
#[must_use]
pub fn panel(panel: &PanelReading) -> String {
    match panel.cups[..] {
        [] => "panel".to_owned(),
        [one] => format!("panel of cup {one} alone"),
        _ => format!("panel of cups {}", panel.cups.iter().map(usize::to_string).collect::<Vec<_>>().join(", ")),
    }
}

/// Why the state is not the one that the likely pH alone would give; `None` when it is, or when there is no likely pH.
#[must_use]
pub fn why(cup: &CupReading, limits: Limits) -> Option<String> {
    let ph = cup.ph?;
    let chance = cup.chance?;
    let alone = if ph >= limits.spent.value() {
        State::Spent
    } else if ph >= limits.nearing.value() {
        State::Nearing
    } else {
        State::Fresh
    };
    let share = match cup.state {
        State::Fresh => chance.fresh,
        State::Nearing => chance.nearing,
        State::Spent => chance.spent,
        State::Unclear => return None,
    };
    (alone != cup.state).then(|| {
        let share = number::chance(share);
        format!(
            "called {} for safety: the likely pH alone is {}, but {} has a chance of {share}",
            state(cup.state),
            state(alone),
            state(cup.state)
        )
    })
}

/// The usual cautions, one short paragraph.
pub const CAUTIONS: &str = "Keep the bath off skin and out of eyes (rinse long with water). Acid into water, never the reverse. Never near \
    bleach, fixer or sulfide toner. Discard the sample; never drink from its cup. The product's safety data sheet and your local rules come first.";

/// What a camera under a safelight is told, and what to do.
pub const SAFELIGHT_SNAP: (&str, &str) = (
    "colour cannot be judged here: there is no white light",
    "cover the paper, switch the safelight off and white light on; --countdown 20 leaves time for it",
);

/// What is to be done while a countdown runs.
pub const COUNTDOWN: &str = "cover the paper, safelight off, white light on";

/// Name of the profile that the photo was read with.
#[must_use]
pub fn profile(reading: &Reading) -> Option<&str> {
    reading.warnings.iter().find_map(|notice| match notice {
        Notice::Calibrated { name, .. } => Some(name.as_str()),
        _ => None,
    })
}

/// What kind of light the reading assumes, such as `tungsten (as told)`; `None` when nothing was told or inferred.
#[must_use]
pub fn light(reading: &Reading) -> Option<String> {
    if let Some(told) = reading.light.told {
        return Some(format!("{told} (as told)"));
    }
    let (name, weight) = heaviest(&reading.light)?;
    Some(format!("{name} ({} sure, from the photo)", number::chance(weight)))
}

/// Name of the kind of light that the reading rests on most: as told, or the heaviest.
#[must_use]
pub fn likely_light(light: &LightReport) -> Option<&'static str> {
    light.told.or_else(|| heaviest(light).map(|(name, _)| name))
}

fn heaviest(light: &LightReport) -> Option<(&'static str, f64)> {
    light.weights.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Names of the hue angle of encoded RGB (red 0, green 120, blue 240 degrees) by their upper limit: everyday English. This
/// angle is taken because CIELAB's own puts pure blue and purple at one hue.
const HUES: [(f64, &str); 9] = [
    (15.0, "red"),
    (40.0, "orange"),
    (70.0, "yellow"),
    (150.0, "green"),
    (195.0, "blue-green"),
    (250.0, "blue"),
    (295.0, "purple"),
    (345.0, "magenta"),
    (360.0, "red"),
];

/// An sRGB colour, 0 to 255, in words, such as `dull yellow`.
#[must_use]
pub fn colour(rgb: [u8; 3]) -> String {
    let [r, g, b] = rgb.map(f64::from);
    let (most, least) = (r.max(g).max(b), r.min(g).min(b));
    let spread = most - least;
    // Below a spread of 25 levels few people would name a hue; below 80 the hue is seen, but weak.
    if spread < 25.0 {
        return if least > 215.0 { "white" } else { "grey" }.to_owned();
    }
    let sixths = if most <= r {
        (g - b) / spread
    } else if most <= g {
        2.0 + (b - r) / spread
    } else {
        4.0 + (r - g) / spread
    };
    let hue = (60.0 * sixths).rem_euclid(360.0);
    let name = HUES.iter().find(|(limit, _)| hue < *limit).map_or("red", |(_, name)| name);
    if spread < 80.0 { format!("dull {name}") } else { name.to_owned() }
}

/// Text from outside made safe for a terminal: breaks of lines and tabs become spaces, other control characters `?`.
#[must_use]
pub fn printable(text: &str) -> String {
    let one = |c: char| match c {
        '\n' | '\r' | '\t' => ' ',
        c if c.is_control() => '?',
        c => c,
    };
    text.replace("\r\n", "\n").chars().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cups_are_named_by_state_worst_first() {
        let mut reading = crate::present::examples::three_cups();
        reading.cups[2].state = State::Spent;
        assert_eq!(by_state(&reading), [(State::Spent, "cups 1, 3".to_owned()), (State::Nearing, "cup 2".to_owned())]);
        reading.cups[0].reasons.push(Notice::Blank);
        assert_eq!(by_state(&reading)[0], (State::Spent, "cup 3".to_owned()));
        assert_eq!(by_state(&crate::present::examples::panel()), [(State::Nearing, "the bath in all cups".to_owned())]);
    }

    #[test]
    fn primaries_and_their_mixtures_have_their_names() {
        for (rgb, name) in [
            ([255, 0, 0], "red"),
            ([255, 255, 0], "yellow"),
            ([0, 255, 0], "green"),
            ([0, 255, 255], "blue-green"),
            ([0, 0, 255], "blue"),
            ([255, 0, 255], "magenta"),
            ([128, 0, 255], "purple"),
            ([250, 250, 250], "white"),
            ([90, 92, 95], "grey"),
            ([170, 165, 110], "dull yellow"),
        ] {
            assert_eq!(colour(rgb), name);
        }
    }

    #[test]
    fn a_verdict_beside_the_likely_ph_is_explained() {
        let reading = crate::present::examples::three_cups();
        let mut cup = reading.cups[1].clone();
        assert_eq!(why(&cup, reading.limits), None);
        cup.state = State::Spent;
        let text = why(&cup, reading.limits).unwrap();
        assert!(text.contains("called spent") && text.contains("alone is nearing") && text.contains("3 %"), "{text}");
    }
}
