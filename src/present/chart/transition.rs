//! The transition curve: share of the dye in its base form over pH, with the readings on it.

use super::{Axis, Subject, WORDS, bands, draw_bands, draw_grid, finite};
use crate::indicator::equilibrium;
use crate::measurement::reading::{CupReading, State};
use crate::measurement::request::Limits;
use crate::present::drawing::{Anchor, Area, Colour, Drawing, GREY, GUIDE, INK, Item, PAPER, Point, Stroke};
use crate::present::{font, symbol, words};
use crate::quantity::Ph;

/// Height of the strip of dye colours under the curve, pixels.
const STRIP: f64 = 26.0;
/// Room between plot and strip, so that shapes at the foot of the curve stay clear, pixels.
const STRIP_GAP: f64 = 12.0;
/// Heading and the words of the states above the plot, pixels.
const HEAD: f64 = 112.0;
/// Axis figures below the strip, pixels.
const FOOT: f64 = 40.0;

/// Draws the curve with heading and axis into `area`; returns the axis for what follows below.
pub fn draw(drawing: &mut Drawing, area: Area, subject: &Subject<'_>, cups: &[CupReading]) -> Axis {
    let axis = Axis::around(subject.pka, subject.limits, area.x + 70.0, area.x + area.w - 8.0);
    let plot = plot(&axis, area);
    heading(drawing, area, subject);
    match subject.limits {
        Some(limits) => {
            draw_bands(drawing, &axis, limits, plot.y, plot.h);
            state_words(drawing, &axis, limits, plot.y);
        }
        None => handbook_interval(drawing, &axis, subject, plot),
    }
    colour_strip(drawing, &axis, Area { y: plot.y + plot.h + STRIP_GAP, h: STRIP, ..plot }, subject);
    axis.figures(drawing, plot.y + plot.h + STRIP_GAP + STRIP);
    draw_grid(drawing, &axis, plot.y, plot.h);
    share_axis(drawing, plot);
    curve(drawing, &axis, plot, subject.pka);
    let mut by_ph: Vec<&CupReading> = cups.iter().collect();
    by_ph.sort_by(|a, b| a.ph.unwrap_or(0.0).total_cmp(&b.ph.unwrap_or(0.0)));
    for (rank, cup) in by_ph.into_iter().enumerate() {
        reading(drawing, &axis, plot, subject.pka, cup, rank % 2 == 0);
    }
    axis
}

/// Where the curve itself is in `area`.
pub(super) fn plot(axis: &Axis, area: Area) -> Area {
    Area { x: axis.left, y: area.y + HEAD, w: axis.right - axis.left, h: (area.h - HEAD - STRIP_GAP - STRIP - FOOT).max(40.0) }
}

fn heading(drawing: &mut Drawing, area: Area, subject: &Subject<'_>) {
    let name = subject.indicator.name.replace('-', " ");
    drawing.bold((area.x, area.y + 24.0), font::cut(&name, 25.0, true, area.w), 25.0, Anchor::Start, INK);
    let line = format!("share of the dye in its base form; pKa' {:.2} here", subject.pka);
    drawing.words((area.x, area.y + 52.0), font::cut(&line, WORDS, false, area.w), WORDS, Anchor::Start, GREY);
}

/// Shape and word of each state above its band; the middle one stands a row higher, for its band may be narrow.
fn state_words(drawing: &mut Drawing, axis: &Axis, limits: Limits, top: f64) {
    let [fresh, nearing, spent] = bands(axis, limits);
    let label = |drawing: &mut Drawing, state: State, left: f64, y: f64| {
        symbol::draw(drawing, state, (left + 10.0, y - 7.0), 10.0);
        drawing.bold((left + 26.0, y), words::state(state), WORDS, Anchor::Start, symbol::ink(state));
    };
    let width = |state: State| 26.0 + font::width(words::state(state), WORDS, true);
    label(drawing, State::Fresh, (fresh.2 - width(State::Fresh) - 8.0).max(axis.left - 60.0), top - 9.0);
    let middle = 0.5 * (nearing.1 + nearing.2) - 0.5 * width(State::Nearing);
    label(drawing, State::Nearing, middle.clamp(axis.left, axis.right - width(State::Nearing)), top - 35.0);
    label(drawing, State::Spent, (spent.1 + 8.0).min(axis.right - width(State::Spent)), top - 9.0);
}

fn handbook_interval(drawing: &mut Drawing, axis: &Axis, subject: &Subject<'_>, plot: Area) {
    let (low, high) = subject.indicator.visual;
    let (from, to) = (axis.x(low), axis.x(high));
    drawing.fill_area(Area { x: from, w: to - from, ..plot }, GUIDE.at(0.35));
    let text = format!("turns from pH {low:.1} to {high:.1}");
    drawing.words((0.5 * (from + to), plot.y - 10.0), text, WORDS, Anchor::Middle, INK);
    drawing.words((from - 8.0, plot.y - 10.0), subject.indicator.acid_colour, WORDS, Anchor::End, INK);
    drawing.words((to + 8.0, plot.y - 10.0), subject.indicator.base_colour, WORDS, Anchor::Start, INK);
}

fn share_axis(drawing: &mut Drawing, plot: Area) {
    for (share, text) in [(0.0, "0 %"), (0.5, "50 %"), (1.0, "100 %")] {
        let y = plot.y + (1.0 - share) * plot.h;
        drawing.line(&[(plot.x, y), (plot.x + plot.w, y)], Stroke::solid(GUIDE, 1.0));
        drawing.words((plot.x - 8.0, y + 7.0), text, WORDS, Anchor::End, INK);
    }
    drawing.edge(plot, Stroke::solid(INK, 1.5));
}

/// Place of a pH on the curve.
pub(super) fn on_curve(axis: &Axis, plot: Area, pka: f64, ph: f64) -> Point {
    let share = Ph::new(ph).map_or(0.0, |ph| equilibrium::base_fraction(ph, pka).value());
    (axis.x(ph), plot.y + (1.0 - share) * plot.h)
}

fn stretch(axis: &Axis, plot: Area, pka: f64, from: f64, to: f64) -> Vec<Point> {
    // 96 steps over the panel are finer than 8 pixels.
    const STEPS: u32 = 96;
    (0..=STEPS).map(|i| on_curve(axis, plot, pka, from + (to - from) * f64::from(i) / f64::from(STEPS))).collect()
}

fn curve(drawing: &mut Drawing, axis: &Axis, plot: Area, pka: f64) {
    drawing.line(&stretch(axis, plot, pka, axis.low, axis.high), Stroke::solid(INK, 3.0));
}

/// The interval as a broad stretch of the curve, the likely pH as the state's shape on it; neighbours have their numbers on
/// different sides of the curve.
fn reading(drawing: &mut Drawing, axis: &Axis, plot: Area, pka: f64, cup: &CupReading, is_right: bool) {
    let [low, likely, high] = finite([cup.ph_low, cup.ph, cup.ph_high]);
    if low.is_none() && high.is_none() {
        return;
    }
    let from = low.unwrap_or(axis.low).clamp(axis.low, axis.high);
    let to = high.unwrap_or(axis.high).clamp(axis.low, axis.high);
    let colour = symbol::ink(cup.state);
    drawing.line(&stretch(axis, plot, pka, from, to), Stroke::solid(colour.at(0.45), 13.0));
    let Some(ph) = likely.filter(|ph| axis.holds(*ph)) else { return };
    let at = on_curve(axis, plot, pka, ph);
    drawing.items.push(Item::Disc(at, 18.0, PAPER.at(0.9)));
    symbol::draw(drawing, cup.state, at, 12.0);
    // At the foot of the curve there is no room to the lower right, at its head none to the upper left.
    let is_low = at.1 > plot.y + plot.h - 30.0;
    let is_high = at.1 < plot.y + 30.0;
    let (place, anchor) = if is_low || (!is_right && !is_high) {
        ((at.0 - 16.0, at.1 - 18.0), Anchor::End)
    } else {
        ((at.0 + 17.0, at.1 + 22.0), Anchor::Start)
    };
    drawing.bold(place, cup.number.to_string(), WORDS, anchor, INK);
}

/// What the eye sees of the dye along the axis.
fn colour_strip(drawing: &mut Drawing, axis: &Axis, strip: Area, subject: &Subject<'_>) {
    const CELLS: u32 = 60;
    let w = strip.w / f64::from(CELLS);
    for i in 0..CELLS {
        let ph = axis.low + (axis.high - axis.low) * (f64::from(i) + 0.5) / f64::from(CELLS);
        let share = Ph::new(ph).map_or(0.0, |ph| equilibrium::base_fraction(ph, subject.pka).value());
        let nearest = (share * (subject.chips.len().max(1) - 1) as f64).round() as usize;
        let Some(&[r, g, b]) = subject.chips.get(nearest) else { break };
        // Half a pixel of overlap hides the seams; the last cell ends with the strip.
        let x = strip.x + f64::from(i) * w;
        drawing.fill_area(Area { x, w: (w + 0.5).min(strip.x + strip.w - x), ..strip }, Colour::solid(r, g, b));
    }
    drawing.edge(strip, Stroke::solid(INK, 1.5));
}
