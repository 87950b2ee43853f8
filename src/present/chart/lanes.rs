//! One lane per cup under the transition curve: likely pH, interval and posterior on the same axis.

use super::{Axis, SMALL, WORDS, draw_bands, draw_grid, finite};
use crate::colour::lab::linear_srgb_of_lab;
use crate::colour::tone::srgb_encode;
use crate::measurement::reading::{CupReading, PanelReading, State};
use crate::measurement::request::Limits;
use crate::measurement::warning::Notice;
use crate::present::drawing::{Anchor, Area, Colour, Drawing, GREY, INK, Item, PAPER, Point, Stroke};
use crate::present::{font, number, symbol, words};

/// Height of one lane with its words, pixels.
pub const LANE: f64 = 102.0;
/// Height of the words of a lane, pixels.
const WORDS_ROW: f64 = 32.0;

/// Height of the row of the interval's bar, under the hill, pixels.
const BAR_ROW: f64 = 28.0;

/// What one lane shows.
#[derive(Debug, Clone)]
pub struct Lane {
    name: String,
    state: State,
    /// Lower end, likely value and upper end.
    figures: [Option<f64>; 3],
    /// The same in words.
    ph: Option<String>,
    /// Why there is no pH.
    reason: String,
    lab: Option<[f64; 3]>,
    posterior: Vec<(f64, f64)>,
}

impl From<&CupReading> for Lane {
    fn from(cup: &CupReading) -> Self {
        let label = cup.label.as_ref().map(|label| format!(" {}", words::printable(label))).unwrap_or_default();
        Lane {
            name: format!("cup {}{label}", cup.number),
            state: cup.state,
            figures: finite([cup.ph_low, cup.ph, cup.ph_high]),
            ph: number::ph(cup.ph, cup.ph_low, cup.ph_high),
            reason: reason(&cup.reasons),
            lab: cup.lab,
            posterior: cup.posterior.clone(),
        }
    }
}

impl From<&PanelReading> for Lane {
    fn from(panel: &PanelReading) -> Self {
        Lane {
            name: words::panel(panel),
            state: panel.state,
            figures: finite([panel.ph_low, panel.ph, panel.ph_high]),
            ph: number::ph(panel.ph, panel.ph_low, panel.ph_high),
            reason: reason(&panel.reasons),
            lab: None,
            posterior: panel.posterior.clone(),
        }
    }
}

fn reason(reasons: &[Notice]) -> String {
    reasons.first().map_or_else(|| "pH unknown".to_owned(), |notice| notice.code().replace('-', " "))
}

/// Draws a lane for each cup from `top` on; returns the height used, pixels.
pub fn draw(drawing: &mut Drawing, area: Area, axis: &Axis, limits: Limits, lanes: &[Lane]) -> f64 {
    for (i, lane) in lanes.iter().enumerate() {
        let y = area.y + LANE * i as f64;
        title(drawing, area, y, lane);
        let plot = Area { x: axis.left, y: y + WORDS_ROW, w: axis.right - axis.left, h: LANE - WORDS_ROW - 8.0 };
        draw_bands(drawing, axis, limits, plot.y, plot.h);
        draw_grid(drawing, axis, plot.y, plot.h);
        sample(drawing, area, plot, lane);
        posterior(drawing, axis, plot, lane);
        interval(drawing, axis, plot, lane);
    }
    let height = LANE * lanes.len() as f64;
    if !lanes.is_empty() {
        axis.figures(drawing, area.y + height - 6.0);
    }
    let mut end = height + 30.0;
    if lanes.iter().any(|lane| lane.lab.is_some()) {
        end += 26.0;
        let text = "square: the sample's colour in neutral light";
        drawing.words((area.x, area.y + end), text, SMALL, Anchor::Start, GREY);
    }
    end
}

fn title(drawing: &mut Drawing, area: Area, y: f64, lane: &Lane) {
    let base = y + 24.0;
    symbol::draw(drawing, lane.state, (area.x + 13.0, base - 8.0), 12.0);
    let lead = font::cut(&format!("{} ", lane.name), WORDS, true, 0.45 * area.w);
    let mut x = area.x + 34.0;
    for (text, colour) in [(lead.as_str(), INK), (words::state(lane.state), symbol::ink(lane.state))] {
        drawing.bold((x, base), text, WORDS, Anchor::Start, colour);
        x += font::width(text, WORDS, true) + 9.0;
    }
    let ph = lane.ph.as_ref().map_or_else(|| lane.reason.clone(), |ph| format!("pH {ph}"));
    drawing.words((x, base), font::cut(&ph, WORDS, false, area.x + area.w - x), WORDS, Anchor::Start, INK);
}

/// The colour of the sample in neutral light, as a square beside the lane.
fn sample(drawing: &mut Drawing, area: Area, plot: Area, lane: &Lane) {
    let Some(lab) = lane.lab.filter(|lab| lab.iter().all(|v| v.is_finite())) else { return };
    let [r, g, b] = linear_srgb_of_lab(lab).map(|v| (srgb_encode(v.clamp(0.0, 1.0)) * 255.0).round() as u8);
    let square = Area { x: area.x + 1.0, y: plot.y + 8.0, w: 42.0, h: 42.0 };
    drawing.fill_area(square, Colour::solid(r, g, b));
    drawing.edge(square, Stroke::solid(INK, 1.5));
}

/// The posterior as a hill; its height is scaled to the lane, since only its shape matters.
fn posterior(drawing: &mut Drawing, axis: &Axis, plot: Area, lane: &Lane) {
    let inside: Vec<(f64, f64)> = lane.posterior.iter().copied().filter(|(ph, p)| axis.holds(*ph) && p.is_finite() && *p >= 0.0).collect();
    let peak = inside.iter().map(|(_, p)| *p).fold(0.0, f64::max);
    let (Some(first), Some(last)) = (inside.first(), inside.last()) else { return };
    if peak <= 0.0 {
        return;
    }
    let base = plot.y + plot.h - BAR_ROW;
    let mut hill: Vec<Point> = vec![(axis.x(first.0), base)];
    hill.extend(inside.iter().map(|(ph, p)| (axis.x(*ph), base - p / peak * (plot.h - BAR_ROW - 4.0))));
    hill.push((axis.x(last.0), base));
    drawing.items.push(Item::Fill(hill, symbol::ink(lane.state).at(0.35)));
}

/// The 95 % interval as a bar: a stop at a closed end, an arrow at an open one.
fn interval(drawing: &mut Drawing, axis: &Axis, plot: Area, lane: &Lane) {
    let y = plot.y + plot.h - 0.5 * BAR_ROW;
    let [low, likely, high] = lane.figures;
    if low.is_none() && high.is_none() {
        drawing.words((plot.x + 0.5 * plot.w, y + 7.0), "no pH can be given", WORDS, Anchor::Middle, GREY);
        return;
    }
    let colour = symbol::ink(lane.state);
    let (from, to) = (axis.x(low.unwrap_or(axis.low)), axis.x(high.unwrap_or(axis.high)));
    drawing.line(&[(from, y), (to, y)], Stroke::solid(PAPER, 9.0));
    drawing.line(&[(from, y), (to, y)], Stroke::solid(colour, 5.0));
    end(drawing, (from, y), -1.0, low.is_some_and(|ph| axis.holds(ph)), colour);
    end(drawing, (to, y), 1.0, high.is_some_and(|ph| axis.holds(ph)), colour);
    if let Some(ph) = likely.filter(|ph| axis.holds(*ph)) {
        drawing.items.push(Item::Disc((axis.x(ph), y), 17.0, PAPER.at(0.9)));
        symbol::draw(drawing, lane.state, (axis.x(ph), y), 12.0);
    }
}

fn end(drawing: &mut Drawing, at: Point, way: f64, is_closed: bool, colour: Colour) {
    if is_closed {
        drawing.line(&[(at.0, at.1 - 11.0), (at.0, at.1 + 11.0)], Stroke::solid(colour, 5.0));
    } else {
        let head = vec![(at.0, at.1), (at.0 - way * 18.0, at.1 - 12.0), (at.0 - way * 18.0, at.1 + 12.0)];
        drawing.items.push(Item::Fill(head, colour));
    }
}
