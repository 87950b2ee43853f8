//! The sentences about buffers.

use super::super::number::by_uncertainty;
use super::COVERAGE;
use crate::chemistry::powder;
use crate::chemistry::sheet::Weighed;
use crate::chemistry::uncertainty::Cause;

/// Where the figures come from.
pub const SOURCES: &str = "All pH are on the meter (activity) scale. Sources: calibration/standard_buffers.csv and recipes.csv. \
    Of a bought buffer the table on its bottle always wins.";

/// Said of a buffer that has no weights.
pub const NOT_MIXED: &str = "no weights are known for this one: buy it";

/// The last step of mixing.
pub const FILL_UP: &str = "dissolve in three quarters of the water (distilled), then fill up to the volume";

/// The last step of mixing a stock, before its volume.
pub const FILL_UP_TO: &str = "dissolved and filled up with distilled water to";

/// Said when the balance is the largest doubt.
pub const LARGER: &str = "most of it is the weighing; make a larger volume, or take a finer balance";

/// What the last column of a ladder is.
pub const SALT_COLUMN: &str =
    "mol/l is the ionic strength. Measure both stocks with cylinder or syringe, and make each buffer whole from them without adding water.";

/// Name of a cause in a budget, for people.
#[must_use]
pub fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::Weighing => "weighing",
        Cause::Purity => "content of the powders",
        Cause::Constants => "constants of the acids",
        Cause::Salt => "model of salt",
        Cause::Temperature => "thermometer",
        Cause::CarbonDioxide => "carbon dioxide left",
    }
}

/// Name of a cause in a report for programs.
#[must_use]
pub fn cause_code(cause: Cause) -> &'static str {
    match cause {
        Cause::Weighing => "weighing",
        Cause::Purity => "purity",
        Cause::Constants => "constants",
        Cause::Salt => "salt_model",
        Cause::Temperature => "temperature",
        Cause::CarbonDioxide => "carbon_dioxide",
    }
}

/// A volume in the unit that people would say: `100 ml`, `1.5 l`.
#[must_use]
pub fn volume(millilitres: f64) -> String {
    if millilitres < 1000.0 { format!("{} ml", rounded(millilitres)) } else { format!("{} l", rounded(millilitres / 1000.0)) }
}

fn rounded(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

/// What to weigh: `0.43 g citric acid (anhydrous)`; of a liquid also the volume.
#[must_use]
pub fn portion(weighed: &Weighed) -> String {
    let portion = &weighed.portion;
    let grams = by_uncertainty(portion.grams, weighed.sd);
    match (portion.millilitres, portion.strength) {
        (Some(ml), Some(strength)) => {
            let ml = by_uncertainty(ml, ml * weighed.sd / portion.grams);
            format!("{grams} g or {ml} ml {} ({strength} %)", portion.powder.substance)
        }
        _ => format!("{grams} g {} ({})", portion.powder.substance, portion.powder.form),
    }
}

/// Half of the 95 % interval, rounded up.
#[must_use]
pub fn half_width(sd: f64) -> String {
    super::super::number::half_width(COVERAGE * sd)
}

/// What belongs on the label.
#[must_use]
pub fn bottle(name: &str, ph: &str) -> String {
    format!("{name}, pH {ph}, today's date, not food")
}

/// Cautions for any buffer.
#[must_use]
pub fn common_cautions() -> Vec<&'static str> {
    vec![
        "Goggles and gloves when weighing and mixing; no food vessels, and nothing of it is food, whatever grade was bought.",
        "The safety data sheets of your chemicals and your local rules come before anything written here.",
        "A computed pH is no measured one: check one buffer with a meter or a bought buffer where it matters. Mould or cloudiness: make it anew.",
    ]
}

/// Cautions for a buffer made from these powders, the gravest first.
#[must_use]
pub fn cautions(powders: impl Iterator<Item = &'static str>) -> Vec<&'static str> {
    let mut all = Vec::new();
    for powder in powders {
        match powder {
            powder::ACETIC_ACID => all.push(
                "Acetic acid above a quarter burns skin and eyes and its vapour catches fire when strong: fresh air, no flame; acid into water, slowly, never water into acid.",
            ),
            "sodium-hydroxide" => all.push(
                "Sodium hydroxide burns skin and eyes and grows hot in water: into cold water little by little, stirring, never water onto it, no aluminium vessel; it draws water and carbon dioxide, so keep it shut.",
            ),
            "sodium-bicarbonate" => all.push(
                "Bicarbonate foams in acid: an open vessel of three times the volume, small portions, never a closed bottle. Boil ten minutes to drive the gas off, cool, make up the water that boiled away.",
            ),
            _ => {}
        }
    }
    all.extend(common_cautions());
    all
}
