//! The report for programs.

use crate::measurement::reading::{Reading, State};
use serde_json::{Value, json};

/// One photo as one JSON object.
#[must_use]
pub fn photo(name: &str, reading: &Reading) -> Value {
    json!({
        "schema": 1, "photo": name, "width": reading.width, "height": reading.height,
        "card": reading.card.map(|c| json!({"x": c.area.x, "y": c.area.y, "w": c.area.w, "h": c.area.h, "confidence": c.confidence})),
        "warnings": reading.warnings.iter().map(|n| json!({"code": n.code(), "message": n.code()})).collect::<Vec<_>>(),
        "cups": reading.cups.iter().map(|c| json!({
            "number": c.number, "x": c.region.liquid.x, "y": c.region.liquid.y, "radius": c.region.liquid.radius, "confidence": c.region.confidence,
            "indicator": c.indicator, "lab": c.lab, "dye_hue": c.dye_hue, "density": c.density, "base_fraction": c.base_fraction, "dose": c.dose,
            "ph": c.ph, "ph_low": c.ph_low, "ph_high": c.ph_high,
            "chance": c.chance.map(|p| json!({"fresh": p.fresh, "nearing": p.nearing, "spent": p.spent})),
            "state": match c.state { State::Fresh => "fresh", State::Nearing => "nearing", State::Spent => "spent", State::Unclear => "unclear" },
            "reasons": c.reasons.iter().map(|n| json!({"code": n.code(), "message": n.code()})).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    })
}
