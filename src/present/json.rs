//! The report for programs: one photo, one line of JSON. The fields are described in `README.md`.

use super::number::rounded;
use super::{Entry, Failure, words};
use crate::colour::lab::hue_chroma;
use crate::measurement::quality::Quality;
use crate::measurement::reading::{Chance, CupReading, LightReport, PanelReading, Reading};
use crate::measurement::regions::CardRegion;
use crate::measurement::regions::sheet::SeenSheet;
use crate::measurement::warning::Notice;
use crate::placement::Corner;
use serde::Serialize;
use std::collections::BTreeMap;

/// Version of the fields; raised when one changes its meaning or goes away, not when one is added.
pub const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct PhotoRecord<'a> {
    schema: u32,
    photo: &'a str,
    taken: Option<&'a str>,
    camera: Option<&'a str>,
    width: usize,
    height: usize,
    card: Option<CardField>,
    sheet: Option<SheetField>,
    light: LightField<'a>,
    profile: Option<&'a str>,
    limits: LimitsField,
    checks: ChecksField,
    warnings: Vec<NoticeField>,
    cups: Vec<CupField<'a>>,
    panel: Option<PanelField<'a>>,
}

/// One pH from all cups together.
#[derive(Serialize)]
struct PanelField<'a> {
    cups: &'a [usize],
    ph: Option<f64>,
    ph_low: Option<f64>,
    ph_high: Option<f64>,
    chance: Option<ChanceField>,
    state: &'static str,
    reasons: Vec<NoticeField>,
}

#[derive(Serialize)]
struct FailureLine<'a> {
    schema: u32,
    photo: &'a str,
    error: ErrorField<'a>,
}

#[derive(Serialize)]
struct ErrorField<'a> {
    code: &'a str,
    message: &'a str,
    hint: Option<&'a str>,
}

#[derive(Serialize)]
struct CardField {
    x: Option<f64>,
    y: Option<f64>,
    w: Option<f64>,
    h: Option<f64>,
    confidence: Option<f64>,
}

#[derive(Serialize)]
struct SheetField {
    paper: &'static str,
    cups: usize,
    used: bool,
    seen: Vec<&'static str>,
    missing: Vec<&'static str>,
    corners: Option<[[Option<f64>; 2]; 4]>,
}

#[derive(Serialize)]
struct LightField<'a> {
    told: Option<&'a str>,
    likely: Option<&'a str>,
    weights: BTreeMap<&'a str, Option<f64>>,
}

#[derive(Serialize)]
struct LimitsField {
    nearing: Option<f64>,
    spent: Option<f64>,
}

/// Figures behind the warnings about the photo as a whole.
#[derive(Serialize)]
struct ChecksField {
    white: Option<f64>,
    balance: Option<f64>,
    card_clipped: Option<f64>,
    card_ratio: Option<f64>,
    burnt: Option<f64>,
    light_difference: Option<f64>,
    edge: Option<f64>,
}

#[derive(Serialize)]
struct NoticeField {
    code: &'static str,
    message: String,
    hint: Option<&'static str>,
}

#[derive(Serialize)]
struct CupField<'a> {
    number: usize,
    label: Option<&'a str>,
    x: Option<f64>,
    y: Option<f64>,
    radius: Option<f64>,
    confidence: Option<f64>,
    indicator: &'a str,
    lab: Option<[Option<f64>; 3]>,
    hue: Option<f64>,
    chroma: Option<f64>,
    dye_hue: Option<f64>,
    density: Option<[Option<f64>; 3]>,
    base_fraction: Option<f64>,
    dose: Option<f64>,
    stain: Option<f64>,
    misfit: Option<f64>,
    light: Option<f64>,
    ph: Option<f64>,
    ph_low: Option<f64>,
    ph_high: Option<f64>,
    chance: Option<ChanceField>,
    state: &'static str,
    reasons: Vec<NoticeField>,
}

#[derive(Serialize)]
struct ChanceField {
    fresh: Option<f64>,
    nearing: Option<f64>,
    spent: Option<f64>,
}

/// One photo as one line, without the line feed.
///
/// # Errors
/// When serialising fails, which these fields cannot.
pub fn line(entry: &Entry) -> Result<String, serde_json::Error> {
    match &entry.outcome {
        Ok(reading) => serde_json::to_string(&photo(entry, reading)),
        Err(failure) => serde_json::to_string(&failed(entry, failure)),
    }
}

fn failed<'a>(entry: &'a Entry, failure: &'a Failure) -> FailureLine<'a> {
    let error = ErrorField { code: &failure.code, message: &failure.message, hint: failure.hint.as_deref() };
    FailureLine { schema: SCHEMA, photo: &entry.photo, error }
}

fn photo<'a>(entry: &'a Entry, reading: &'a Reading) -> PhotoRecord<'a> {
    PhotoRecord {
        schema: SCHEMA,
        photo: &entry.photo,
        taken: entry.taken.as_deref(),
        camera: entry.camera.as_deref(),
        width: reading.width,
        height: reading.height,
        card: reading.card.as_ref().map(card),
        sheet: reading.sheet.as_ref().map(sheet),
        light: light(&reading.light),
        profile: words::profile(reading),
        limits: LimitsField { nearing: rounded(reading.limits.nearing.value(), 4), spent: rounded(reading.limits.spent.value(), 4) },
        checks: checks(&reading.quality),
        warnings: reading.warnings.iter().map(notice).collect(),
        cups: reading.cups.iter().map(cup).collect(),
        panel: reading.panel.as_ref().map(panel),
    }
}

fn panel(panel: &PanelReading) -> PanelField<'_> {
    let [ph, ph_low, ph_high] = [panel.ph, panel.ph_low, panel.ph_high].map(|value| value.and_then(|v| rounded(v, 4)));
    PanelField {
        cups: &panel.cups,
        ph,
        ph_low,
        ph_high,
        chance: panel.chance.as_ref().map(chance),
        state: words::state(panel.state),
        reasons: panel.reasons.iter().map(notice).collect(),
    }
}

fn card(card: &CardRegion) -> CardField {
    let area = card.area;
    let [x, y, w, h] = [area.x, area.y, area.w, area.h].map(|v| rounded(v, 2));
    CardField { x, y, w, h, confidence: rounded(card.confidence, 4) }
}

fn sheet(seen: &SeenSheet) -> SheetField {
    let names = |corners: &[Corner]| corners.iter().map(|corner| corner.name()).collect();
    SheetField {
        paper: seen.sheet.paper().name(),
        cups: seen.sheet.cups(),
        used: seen.is_used,
        seen: names(&seen.seen),
        missing: names(&seen.missing()),
        corners: seen.corners.map(|corners| corners.map(|(x, y)| [rounded(x, 2), rounded(y, 2)])),
    }
}

fn light(light: &LightReport) -> LightField<'_> {
    LightField {
        told: light.told,
        likely: words::likely_light(light),
        weights: light.weights.iter().map(|&(name, weight)| (name, rounded(weight, 4))).collect(),
    }
}

fn checks(quality: &Quality) -> ChecksField {
    let [white, balance, card_clipped, card_ratio, burnt, light_difference, edge] = [
        quality.white,
        quality.balance,
        quality.card_clipped,
        quality.card_ratio,
        Some(quality.burnt),
        quality.light_difference,
        quality.edge,
    ]
    .map(|figure| figure.and_then(|v| rounded(v, 4)));
    ChecksField { white, balance, card_clipped, card_ratio, burnt, light_difference, edge }
}

fn notice(notice: &Notice) -> NoticeField {
    NoticeField { code: notice.code(), message: words::message(notice), hint: words::remedy(notice) }
}

fn cup(cup: &CupReading) -> CupField<'_> {
    let liquid = cup.region.liquid;
    let figure = |value: Option<f64>| value.and_then(|v| rounded(v, 4));
    let (hue, chroma) = cup.lab.filter(|lab| lab.iter().all(|v| v.is_finite())).map(hue_chroma).unzip();
    CupField {
        number: cup.number,
        label: cup.label.as_deref(),
        x: rounded(liquid.x, 2),
        y: rounded(liquid.y, 2),
        radius: rounded(liquid.radius, 2),
        confidence: rounded(cup.region.confidence, 4),
        indicator: cup.indicator,
        lab: cup.lab.map(|lab| lab.map(|v| rounded(v, 3))),
        hue: hue.and_then(|v| rounded(v, 2)),
        chroma: chroma.and_then(|v| rounded(v, 3)),
        dye_hue: cup.dye_hue.and_then(|v| rounded(v, 2)),
        density: cup.density.map(|density| density.map(|v| rounded(v, 4))),
        base_fraction: figure(cup.base_fraction),
        dose: figure(cup.dose),
        stain: figure(cup.stain),
        misfit: figure(cup.misfit),
        light: figure(cup.light.map(|light| light.log_level.exp())),
        ph: figure(cup.ph),
        ph_low: figure(cup.ph_low),
        ph_high: figure(cup.ph_high),
        chance: cup.chance.as_ref().map(chance),
        state: words::state(cup.state),
        reasons: cup.reasons.iter().map(notice).collect(),
    }
}

fn chance(chance: &Chance) -> ChanceField {
    let [fresh, nearing, spent] = [chance.fresh, chance.nearing, chance.spent].map(|v| rounded(v, 4));
    ChanceField { fresh, nearing, spent }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::examples;
    use serde_json::Value;

    fn parsed(entry: &Entry) -> Value {
        serde_json::from_str(&line(entry).unwrap()).unwrap()
    }

    #[test]
    fn fields_are_the_documented_ones() {
        let json = parsed(&examples::entry("a.jpg", examples::panel()));
        let keys = |value: &Value| value.as_object().unwrap().keys().cloned().collect::<Vec<_>>();
        for key in
            ["schema", "photo", "taken", "camera", "width", "height", "card", "sheet", "light", "limits", "warnings", "cups", "panel"]
        {
            assert!(keys(&json).iter().any(|k| k == key), "{key}");
        }
        assert_eq!(json["schema"], 1);
        let readme = include_str!("../../README.md");
        for key in keys(&json).iter().chain(&keys(&json["cups"][0])).chain(&keys(&json["checks"])).chain(&keys(&json["panel"])) {
            assert!(readme.contains(&format!("`{key}`")), "README does not describe `{key}`");
        }
    }

    #[test]
    fn a_line_is_a_line() {
        let text = line(&examples::entry("odd\nname.jpg", examples::three_cups())).unwrap();
        assert!(!text.contains('\n'));
    }

    #[test]
    fn nan_becomes_null() {
        let mut reading = examples::three_cups();
        reading.cups[0].ph = Some(f64::NAN);
        reading.cups[0].lab = Some([f64::NAN, 1.0, f64::INFINITY]);
        let json = parsed(&examples::entry("a.jpg", reading));
        assert!(json["cups"][0]["ph"].is_null() && json["cups"][0]["lab"][0].is_null() && json["cups"][0]["hue"].is_null());
        assert_eq!(json["cups"][0]["lab"][1], 1.0);
    }

    #[test]
    fn open_ends_are_null_and_failures_named() {
        let json = parsed(&examples::entry("a.jpg", examples::fresh_cup()));
        assert!(json["cups"][0]["ph"].is_null() && json["cups"][0]["ph_low"].is_null());
        assert!(json["cups"][0]["ph_high"].is_number());
        let json = parsed(&examples::failed("b.jpg"));
        assert_eq!(json["error"]["code"], "damaged");
        assert!(json.get("cups").is_none());
    }
}
