//! Pouring a bath away, for programs: one JSON object. The fields are described in `README.md`.

use super::super::number::rounded;
use super::{Disposal, words};
use crate::chemistry::disposal::{Drain, Fixer, Holder};
use serde::Serialize;

/// Version of the fields; raised when one changes its meaning or goes away, not when one is added.
pub const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct DisposalRecord {
    schema: u32,
    course: &'static str,
    reason: &'static str,
    drain: &'static str,
    holder: &'static str,
    fixer: &'static str,
    volume_ml: Option<f64>,
    ph_low: Option<f64>,
    ph_high: Option<f64>,
    is_read: bool,
    treatment: Option<TreatmentField>,
    cautions: Vec<&'static str>,
}

#[derive(Serialize)]
struct TreatmentField {
    soda: &'static str,
    grams_low: Option<f64>,
    grams_high: Option<f64>,
    portions: u32,
    gas_litres: Option<f64>,
    ph_foaming_low: Option<f64>,
    ph_foaming_high: Option<f64>,
}

/// The course as one line, without the line feed.
///
/// # Errors
/// When serialising fails, which these fields cannot.
pub fn line(disposal: &Disposal) -> Result<String, serde_json::Error> {
    let answers = disposal.answers;
    let now = disposal.ph();
    let course = answers.course();
    serde_json::to_string(&DisposalRecord {
        schema: SCHEMA,
        course: words::course_code(course),
        reason: words::reason(answers),
        drain: match answers.drain {
            Drain::Sewer => "sewer",
            Drain::Septic => "septic",
            Drain::Collected => "collected",
        },
        holder: match answers.holder {
            Holder::Home => "home",
            Holder::Institution => "institution",
        },
        fixer: match answers.fixer {
            Fixer::No => "no",
            Fixer::Yes => "yes",
            Fixer::Unsure => "unsure",
        },
        volume_ml: rounded(disposal.volume.value(), 3),
        ph_low: now.low.and_then(|ph| rounded(ph, 3)),
        ph_high: now.high.and_then(|ph| rounded(ph, 3)),
        is_read: disposal.read.is_some(),
        treatment: disposal.treatment().map(|needs| TreatmentField {
            soda: disposal.soda.name(),
            grams_low: rounded(needs.grams.0, 2),
            grams_high: rounded(needs.grams.1, 2),
            portions: needs.portions,
            gas_litres: rounded(needs.gas_litres.1, 3),
            ph_foaming_low: rounded(needs.ph_foaming.0, 3),
            ph_foaming_high: rounded(needs.ph_foaming.1, 3),
        }),
        cautions: words::cautions(course, disposal.soda),
    })
}

#[cfg(test)]
mod tests {
    use super::super::tests::disposal;
    use super::*;
    use serde_json::Value;

    #[test]
    fn fields_are_the_documented_ones() {
        let json: Value = serde_json::from_str(&line(&disposal(Drain::Sewer, Holder::Home, Fixer::No)).unwrap()).unwrap();
        let readme = include_str!("../../../README.md");
        for object in [&json, &json["treatment"]] {
            for key in object.as_object().unwrap().keys() {
                assert!(readme.contains(&format!("`{key}`")), "README does not describe `{key}`");
            }
        }
        let silver: Value = serde_json::from_str(&line(&disposal(Drain::Sewer, Holder::Home, Fixer::Unsure)).unwrap()).unwrap();
        assert!(silver["treatment"].is_null() && silver["course"] == "collect");
    }
}
