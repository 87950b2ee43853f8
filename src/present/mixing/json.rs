//! What to measure, for programs: one JSON object. The fields are described in `README.md`.

use super::super::number::rounded;
use super::{COVERAGE, Mixing, label, words};
use crate::chemistry::change::{Bath, Standing};
use crate::chemistry::dilution::{Agent, Amount, Meaning};
use crate::chemistry::mixing::{DROP, INDICATOR_PER_LITRE, Plan, drops};
use serde::Serialize;

/// Version of the fields; raised when one changes its meaning or goes away, not when one is added.
pub const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct MixingRecord<'a> {
    schema: u32,
    from: &'a str,
    strength: Option<f64>,
    temperature: f64,
    spent: f64,
    plans: Vec<PlanField>,
    changes: Vec<ChangeField>,
    indicator: IndicatorField,
    label: LabelField,
    notes: &'a [&'static str],
    cautions: Vec<&'static str>,
}

#[derive(Serialize)]
struct PlanField {
    meaning: Option<&'static str>,
    parts: Option<[f64; 2]>,
    millilitres: Option<f64>,
    grams: Option<f64>,
    water_ml: Option<f64>,
    total_ml: Option<f64>,
    grams_per_litre: Option<f64>,
    fresh: Option<StandingField>,
}

#[derive(Serialize)]
struct StandingField {
    volume_ml: Option<f64>,
    ph: Option<f64>,
    ph_low: Option<f64>,
    ph_high: Option<f64>,
    ionic_strength: Option<f64>,
    reserve: Option<f64>,
    reserve_total: Option<f64>,
}

#[derive(Serialize)]
struct ChangeField {
    change: &'static str,
    then: StandingField,
}

#[derive(Serialize)]
struct IndicatorField {
    cup_ml: Option<f64>,
    drops: u32,
    drop_ml: f64,
    bath_ml_per_litre: f64,
}

#[derive(Serialize)]
struct LabelField {
    lines: Vec<String>,
    mixed: Option<String>,
    by: Option<String>,
    days: u32,
    is_common_practice: bool,
    discard_by: Option<String>,
}

/// The order as one line, without the line feed.
///
/// # Errors
/// When serialising fails, which these fields cannot.
pub fn line(mixing: &Mixing) -> Result<String, serde_json::Error> {
    let strength = match mixing.agent {
        Some(Agent::Acetic(strength) | Agent::Citric(strength)) => Some(strength.value()),
        Some(Agent::Powder(_)) | None => None,
    };
    let told = &mixing.label;
    serde_json::to_string(&MixingRecord {
        schema: SCHEMA,
        from: mixing.named,
        strength,
        temperature: mixing.terms.temperature.value(),
        spent: mixing.terms.spent.value(),
        plans: mixing.plans.iter().map(plan).collect(),
        changes: mixing
            .changes
            .iter()
            .map(|(change, bath, then)| ChangeField { change: words::change_code(change), then: standing(then, bath) })
            .collect(),
        indicator: IndicatorField {
            cup_ml: rounded(mixing.cup.value(), 3),
            drops: drops(mixing.cup),
            drop_ml: DROP,
            bath_ml_per_litre: INDICATOR_PER_LITRE,
        },
        label: LabelField {
            lines: label(mixing),
            mixed: told.mixed.map(|day| day.to_string()),
            by: told.by.clone(),
            days: told.days,
            is_common_practice: !told.is_own,
            discard_by: told.mixed.and_then(|day| day.later(told.days)).map(|day| day.to_string()),
        },
        notes: &mixing.notes,
        cautions: words::cautions(mixing.agent, mixing.named),
    })
}

fn plan(plan: &Plan) -> PlanField {
    let (millilitres, grams) = match plan.portions.agent {
        Amount::Millilitres(ml) => (rounded(ml, 2), None),
        Amount::Grams(grams) => (None, rounded(grams, 3)),
    };
    PlanField {
        meaning: plan.dilution.map(|(meaning, _)| match meaning {
            Meaning::Plus => "plus",
            Meaning::Parts => "parts",
            Meaning::InAll => "in-all",
        }),
        parts: plan.dilution.map(|(_, ratio)| ratio.as_parts().into()),
        millilitres,
        grams,
        water_ml: rounded(plan.portions.water, 2),
        total_ml: rounded(plan.portions.total.value(), 2),
        grams_per_litre: plan.bath.as_ref().and_then(|fresh| rounded(fresh.per_litre.value(), 3)),
        fresh: plan.bath.as_ref().map(|fresh| standing(&fresh.standing, &fresh.bath)),
    }
}

fn standing(standing: &Standing, bath: &Bath) -> StandingField {
    let (ph, half) = (standing.ph.value(), COVERAGE * standing.ph_sd);
    StandingField {
        volume_ml: rounded(bath.volume.value(), 2),
        ph: rounded(ph, 3),
        ph_low: rounded(ph - half, 3),
        ph_high: rounded(ph + half, 3),
        ionic_strength: rounded(standing.ionic_strength.value(), 4),
        reserve: rounded(standing.reserve.value(), 2),
        reserve_total: rounded(standing.reserve_total, 2),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::mixing::examples;
    use serde_json::Value;

    #[test]
    fn fields_are_the_documented_ones() {
        let readme = include_str!("../../../README.md");
        for mixing in examples::all() {
            let json: Value = serde_json::from_str(&line(&mixing).unwrap()).unwrap();
            let plan = &json["plans"][0];
            let empty = Value::Object(serde_json::Map::new());
            let fresh = if plan["fresh"].is_null() { &empty } else { &plan["fresh"] };
            let change = json["changes"].get(0).unwrap_or(&empty);
            for object in [&json, plan, fresh, change, &json["indicator"], &json["label"]] {
                for key in object.as_object().unwrap().keys() {
                    assert!(readme.contains(&format!("`{key}`")), "README does not describe `{key}`");
                }
            }
        }
    }

    #[test]
    fn what_is_not_known_is_null() {
        let [acetic, .., unknown] = examples::all().map(|mixing| serde_json::from_str::<Value>(&line(&mixing).unwrap()).unwrap());
        assert!(unknown["plans"][0]["fresh"].is_null() && unknown["strength"].is_null());
        assert_eq!((unknown["plans"][0]["meaning"].as_str(), unknown["plans"][1]["meaning"].as_str()), (Some("in-all"), Some("parts")));
        assert_eq!((acetic["strength"].as_f64(), acetic["label"]["discard_by"].as_str()), (Some(28.0), Some("2027-01-25")));
        assert_eq!(acetic["changes"].as_array().unwrap().len(), 5);
    }
}
