//! Buffers for programs: one JSON object a line. The fields are described in `README.md`.

use super::super::number::rounded;
use super::{COVERAGE, words};
use crate::chemistry::buffer::{BufferState, StandardBuffer};
use crate::chemistry::sheet::{LadderSheet, MixingSheet, Rung, Weighed};
use crate::quantity::Celsius;
use serde::Serialize;
use std::collections::BTreeMap;

/// Version of the fields; raised when one changes its meaning or goes away, not when one is added.
pub const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct BufferRecord<'a> {
    schema: u32,
    name: String,
    temperature: f64,
    ph: Option<f64>,
    ph_low: Option<f64>,
    ph_high: Option<f64>,
    ionic_strength: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    mixture: Option<MixtureField<'a>>,
}

#[derive(Serialize)]
struct MixtureField<'a> {
    recipe: &'a str,
    volume_ml: Option<f64>,
    portions: Vec<PortionField<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    buffer_value: Option<f64>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    causes: BTreeMap<&'static str, Option<f64>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    other_temperatures: Vec<WarmthField>,
    cautions: Vec<&'static str>,
}

#[derive(Serialize)]
struct PortionField<'a> {
    of: &'static str,
    form: &'a str,
    grams: Option<f64>,
    grams_sd: Option<f64>,
    millilitres: Option<f64>,
    is_chosen: bool,
}

#[derive(Serialize)]
struct WarmthField {
    temperature: f64,
    ph: Option<f64>,
}

/// A standard buffer as one line, without the line feed; its pH is null outside its table.
///
/// # Errors
/// When serialising fails, which these fields cannot.
pub fn standard(buffer: &StandardBuffer, state: Option<BufferState>, temperature: Celsius) -> Result<String, serde_json::Error> {
    serde_json::to_string(&record(buffer.name.to_owned(), state, temperature, None))
}

/// A home-mixed buffer as one line, without the line feed.
///
/// # Errors
/// When serialising fails, which these fields cannot.
pub fn mixture(sheet: &MixingSheet) -> Result<String, serde_json::Error> {
    let chosen = [&sheet.acid, &sheet.base].into_iter().filter_map(|forms| forms.first()).map(|w| w.portion.powder.name);
    let field = MixtureField {
        recipe: sheet.mix.recipe.name,
        volume_ml: rounded(sheet.volume.value(), 3),
        portions: portions("acid", &sheet.acid).chain(portions("base", &sheet.base)).collect(),
        buffer_value: rounded(sheet.buffer_value, 5),
        causes: sheet.budget.parts.iter().map(|(cause, part)| (words::cause_code(*cause), rounded(*part, 4))).collect(),
        other_temperatures: sheet.warmth.iter().map(|(t, ph)| WarmthField { temperature: t.value(), ph: rounded(ph.value(), 3) }).collect(),
        cautions: words::cautions(chosen),
    };
    serde_json::to_string(&record(sheet.mix.name(), Some(sheet.state), sheet.mix.temperature, Some(field)))
}

/// A ladder: one line a buffer, each with the volumes of its two stocks in `portions`, and what a stock is made of before them.
///
/// # Errors
/// When serialising fails, which these fields cannot.
pub fn ladder(sheet: &LadderSheet) -> Result<String, serde_json::Error> {
    #[derive(Serialize)]
    struct StockRecord<'a> {
        schema: u32,
        stock: &'static str,
        strength: f64,
        volume_ml: f64,
        portions: Vec<PortionField<'a>>,
    }
    let mut lines = Vec::new();
    for (name, bottle) in [("acid", &sheet.acid), ("base", &sheet.base)] {
        let portions = portions(name, std::slice::from_ref(&bottle.weighed)).collect();
        let record =
            StockRecord { schema: SCHEMA, stock: name, strength: bottle.stock.strength, volume_ml: bottle.volume.value(), portions };
        lines.push(serde_json::to_string(&record)?);
    }
    for rung in &sheet.rungs {
        lines.push(serde_json::to_string(&record(rung.mix.name(), Some(rung.state), rung.mix.temperature, Some(rung_field(sheet, rung))))?);
    }
    Ok(lines.join("\n"))
}

fn rung_field<'a>(sheet: &LadderSheet, rung: &Rung) -> MixtureField<'a> {
    let stock = |of, ml: f64| PortionField { of, form: "stock", grams: None, grams_sd: None, millilitres: rounded(ml, 2), is_chosen: true };
    let powders = [&sheet.acid, &sheet.base].into_iter().map(|bottle| bottle.weighed.portion.powder.name);
    MixtureField {
        recipe: sheet.recipe.name,
        volume_ml: rounded(sheet.volume.value(), 3),
        portions: vec![stock("acid", rung.acid_ml), stock("base", rung.base_ml)],
        buffer_value: None,
        causes: BTreeMap::new(),
        other_temperatures: Vec::new(),
        cautions: words::cautions(powders),
    }
}

fn portions<'a>(of: &'static str, all: &'a [Weighed]) -> impl Iterator<Item = PortionField<'a>> {
    all.iter().enumerate().map(move |(i, weighed)| PortionField {
        of,
        form: weighed.portion.powder.name,
        grams: rounded(weighed.portion.grams, 4),
        grams_sd: rounded(weighed.sd, 4),
        millilitres: weighed.portion.millilitres.and_then(|ml| rounded(ml, 3)),
        is_chosen: i == 0,
    })
}

fn record<'a>(name: String, state: Option<BufferState>, temperature: Celsius, mixture: Option<MixtureField<'a>>) -> BufferRecord<'a> {
    let of = |value: &dyn Fn(BufferState) -> f64, places| state.and_then(|state| rounded(value(state), places));
    BufferRecord {
        schema: SCHEMA,
        name,
        temperature: temperature.value(),
        ph: of(&|s| s.ph.value(), 4),
        ph_low: of(&|s| s.ph.value() - COVERAGE * s.sd, 4),
        ph_high: of(&|s| s.ph.value() + COVERAGE * s.sd, 4),
        ionic_strength: of(&|s| s.ionic_strength.value(), 4),
        mixture,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::buffer::{Buffer, find};
    use crate::chemistry::recipe;
    use crate::chemistry::sheet::{Order, mixing_sheet};
    use crate::quantity::{BalanceStep, MassPercent, Millilitres, Ph};
    use serde_json::Value;

    fn sheet() -> MixingSheet {
        let order = Order {
            volume: Millilitres::new(100.0).unwrap(),
            temperature: Celsius::new(20.0).unwrap(),
            chosen: Vec::new(),
            strength: MassPercent::new(28.0).unwrap(),
            balance: BalanceStep::new(0.01).unwrap(),
        };
        mixing_sheet(recipe::find("citrate-phosphate").unwrap(), Ph::new(5.5).unwrap(), &order).unwrap()
    }

    #[test]
    fn fields_are_the_documented_ones() {
        let json: Value = serde_json::from_str(&mixture(&sheet()).unwrap()).unwrap();
        let readme = include_str!("../../../README.md");
        for object in [&json, &json["mixture"], &json["mixture"]["portions"][0]] {
            for key in object.as_object().unwrap().keys() {
                assert!(readme.contains(&format!("`{key}`")), "README does not describe `{key}`");
            }
        }
    }

    // The name in the report must be one that leads back to the same buffer.
    #[test]
    fn name_leads_back_to_the_buffer() {
        let json: Value = serde_json::from_str(&mixture(&sheet()).unwrap()).unwrap();
        let Buffer::Mixed(mix) = find(json["name"].as_str().unwrap()).unwrap() else { panic!("not a mixture") };
        assert_eq!(mix, sheet().mix);
    }

    #[test]
    fn outside_its_table_a_standard_has_no_ph() {
        let Buffer::Standard(tartrate) = find("tartrate").unwrap() else { panic!("not a standard") };
        let json: Value = serde_json::from_str(&standard(tartrate, None, Celsius::new(20.0).unwrap()).unwrap()).unwrap();
        assert!(json["ph"].is_null() && json["ionic_strength"].is_null());
    }
}
