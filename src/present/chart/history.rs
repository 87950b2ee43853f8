//! The life of a bath over time: readings of the pH, share of the reserve used, and the load so far.

use super::neutralisation::step;
use super::{SMALL, WORDS};
use crate::measurement::reading::State;
use crate::measurement::request::Limits;
use crate::present::drawing::{Anchor, Area, Colour, Drawing, GREY, GUIDE, INK, Item, PAPER, Point, Stroke};
use crate::present::{font, symbol, words};
use crate::quantity::Interval;

/// What the picture shows. Times are numbers in any one unit, such as days; the caller writes the words under the axis.
#[derive(Debug, Clone)]
pub struct History {
    /// The bath, for the heading.
    pub name: String,
    /// First and last time of the axis.
    pub span: (f64, f64),
    /// Words under the axis at their times, rising; one that would touch the one before it is left out.
    pub ticks: Vec<(f64, String)>,
    /// Limits of the states.
    pub limits: Limits,
    /// Readings of the pH, by time.
    pub readings: Vec<Dot>,
    /// Share of the reserve used, by time; no panel of it when empty.
    pub reserve: Vec<Share>,
    /// Load so far after each load, by time; no panel of it when empty.
    pub loads: Vec<(f64, f64)>,
    /// Unit of the loads, such as `meq/l` or `rolls`.
    pub load_unit: String,
}

/// One reading.
#[derive(Debug, Clone)]
pub struct Dot {
    /// When.
    pub at: f64,
    /// Its state.
    pub state: State,
    /// 95 % interval of the pH; an end may be open, both when there was no pH.
    pub ph: Interval,
    /// Likely pH.
    pub likely: Option<f64>,
}

/// Share of the reserve used at one time, 0 to above 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// When.
    pub at: f64,
    /// Lower end of the band.
    pub low: f64,
    /// Likely.
    pub likely: f64,
    /// Upper end of the band.
    pub high: f64,
}

/// Width of the picture, pixels.
const WIDTH: f64 = 900.0;
/// Heading above the first panel, pixels.
const HEAD: f64 = 62.0;
/// Words above each panel, pixels.
const TITLE: f64 = 40.0;
/// Heights of the panels of pH, reserve and load, pixels.
const HEIGHTS: [f64; 3] = [300.0, 170.0, 130.0];
/// Axis of time below the last panel, pixels.
const FOOT: f64 = 56.0;
/// Room for figures on the left and for the states on the right, pixels.
const MARGINS: (f64, f64) = (96.0, 138.0);
/// Share of the reserve from which a new bath is due (common practice).
const DUE: f64 = 0.75;

/// A panel: its area, and the two scales.
struct Panel<'a> {
    history: &'a History,
    plot: Area,
    low: f64,
    high: f64,
}

impl Panel<'_> {
    fn x(&self, at: f64) -> f64 {
        let (first, last) = self.history.span;
        let share = if last > first { (at - first) / (last - first) } else { 0.5 };
        // A few pixels of room keep the shapes of the first and last reading whole.
        self.plot.x + 16.0 + share.clamp(0.0, 1.0) * (self.plot.w - 32.0)
    }

    fn y(&self, value: f64) -> f64 {
        self.plot.y + (1.0 - ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0)) * self.plot.h
    }

    fn frame(&self, drawing: &mut Drawing, title: &str) {
        drawing.words((self.plot.x, self.plot.y - 12.0), title, SMALL, Anchor::Start, GREY);
        drawing.edge(self.plot, Stroke::solid(INK, 1.5));
    }

    fn figure(&self, drawing: &mut Drawing, value: f64, text: String) {
        let y = self.y(value);
        drawing.line(&[(self.plot.x, y), (self.plot.x + self.plot.w, y)], Stroke::solid(GUIDE.at(0.6), 1.0));
        drawing.words((self.plot.x - 10.0, y + 7.0), text, WORDS, Anchor::End, INK);
    }
}

/// Draws the panels that have something to show, 900 pixels wide.
#[must_use]
pub fn draw(history: &History) -> Drawing {
    let is_shown = [true, !history.reserve.is_empty(), !history.loads.is_empty()];
    let tall: f64 = HEIGHTS.iter().zip(is_shown).filter(|(_, is)| *is).map(|(h, _)| h + TITLE).sum();
    let height = HEAD + tall + FOOT;
    let title = format!("history of {}", history.name);
    let mut drawing = Drawing { width: WIDTH, height, title, items: Vec::new() };
    drawing.fill_area(Area { x: 0.0, y: 0.0, w: WIDTH, h: height }, PAPER);
    let name = font::cut(&words::printable(&history.name), 25.0, true, WIDTH - 48.0);
    drawing.bold((24.0, 42.0), name, 25.0, Anchor::Start, INK);
    let mut y = HEAD + TITLE;
    for (i, part) in [readings as fn(&mut Drawing, &History, Area), reserve, loads].into_iter().enumerate() {
        if is_shown[i] {
            part(&mut drawing, history, Area { x: MARGINS.0, y, w: WIDTH - MARGINS.0 - MARGINS.1, h: HEIGHTS[i] });
            y += HEIGHTS[i] + TITLE;
        }
    }
    ticks(&mut drawing, history, y - TITLE);
    drawing
}

fn readings(drawing: &mut Drawing, history: &History, plot: Area) {
    let limits = history.limits;
    let known = || history.readings.iter().flat_map(|dot| [dot.ph.low, dot.likely, dot.ph.high]).flatten().filter(|v| v.is_finite());
    let low = known().fold(limits.nearing.value() - 1.5, f64::min) - 0.4;
    let high = known().fold(limits.spent.value() + 1.0, f64::max) + 0.4;
    let panel = Panel { history, plot, low: low.floor(), high: high.ceil() };
    let edges = [panel.low, limits.nearing.value(), limits.spent.value(), panel.high].map(|ph| panel.y(ph));
    let states = [State::Fresh, State::Nearing, State::Spent];
    for (state, pair) in states.into_iter().zip(edges.windows(2)) {
        drawing.fill_area(Area { y: pair[1], h: (pair[0] - pair[1]).max(0.0), ..plot }, symbol::ink(state).at(0.13));
    }
    for y in [edges[1], edges[2]] {
        drawing.line(&[(plot.x, y), (plot.x + plot.w, y)], Stroke::dashed(GREY, 1.5, 7.0, 5.0));
    }
    let middle = 0.5 * (edges[1] + edges[2]);
    let rows = [(0.5 * (edges[0] + edges[1])).max(middle + 26.0), middle, (0.5 * (edges[2] + edges[3])).min(middle - 26.0)];
    for (state, y) in states.into_iter().zip(rows) {
        symbol::draw(drawing, state, (plot.x + plot.w + 22.0, y), 10.0);
        drawing.bold((plot.x + plot.w + 38.0, y + 7.0), words::state(state), WORDS, Anchor::Start, symbol::ink(state));
    }
    let gap = if panel.high - panel.low > 8.0 { 2 } else { 1 };
    for ph in (panel.low as i32..=panel.high as i32).step_by(gap) {
        panel.figure(drawing, f64::from(ph), ph.to_string());
    }
    panel.frame(drawing, "pH as read; bar: 95 % interval, arrow: no bound on that side");
    for dot in &history.readings {
        reading(drawing, &panel, dot);
    }
}

/// Bar, ends and shape of one reading; one without a pH stands at the foot.
fn reading(drawing: &mut Drawing, panel: &Panel<'_>, dot: &Dot) {
    let (x, colour) = (panel.x(dot.at), symbol::ink(dot.state));
    let finite = |end: Option<f64>| end.filter(|v| v.is_finite());
    let (low, likely, high) = (finite(dot.ph.low), finite(dot.likely), finite(dot.ph.high));
    // Many readings need smaller shapes to stay apart.
    let radius = if panel.history.readings.len() > 30 { 6.0 } else { 10.0 };
    if low.is_none() && high.is_none() {
        symbol::draw(drawing, dot.state, (x, panel.plot.y + panel.plot.h - radius - 4.0), radius);
        return;
    }
    // An open side gets a stub with an arrow instead of a line to the edge, which would look like a very wide interval.
    let stub = 46.0;
    let foot = low.map_or_else(|| (panel.y(high.unwrap_or(panel.low)) + stub).min(panel.plot.y + panel.plot.h - 4.0), |ph| panel.y(ph));
    let head = high.map_or_else(|| (panel.y(low.unwrap_or(panel.high)) - stub).max(panel.plot.y + 4.0), |ph| panel.y(ph));
    drawing.line(&[(x, foot), (x, head)], Stroke::solid(PAPER, 7.0));
    drawing.line(&[(x, foot), (x, head)], Stroke::solid(colour, 3.5));
    ending(drawing, (x, foot), 1.0, low.is_some(), colour);
    ending(drawing, (x, head), -1.0, high.is_some(), colour);
    // With one bound only, the shape sits on it: that is what is known.
    if let Some(ph) = likely.or(high.filter(|_| low.is_none())).or(low.filter(|_| high.is_none())) {
        drawing.items.push(Item::Disc((x, panel.y(ph)), 1.35 * radius, PAPER.at(0.9)));
        symbol::draw(drawing, dot.state, (x, panel.y(ph)), radius);
    }
}

fn ending(drawing: &mut Drawing, at: Point, way: f64, is_closed: bool, colour: Colour) {
    if is_closed {
        drawing.line(&[(at.0 - 8.0, at.1), (at.0 + 8.0, at.1)], Stroke::solid(colour, 3.5));
    } else {
        drawing
            .items
            .push(Item::Fill(vec![(at.0, at.1 + way * 2.0), (at.0 - 8.0, at.1 - way * 13.0), (at.0 + 8.0, at.1 - way * 13.0)], colour));
    }
}

/// The band with its likely line, and lines where a new bath is due and where the reserve ends.
fn reserve(drawing: &mut Drawing, history: &History, plot: Area) {
    let most = history.reserve.iter().map(|share| share.high).filter(|v| v.is_finite()).fold(1.15, f64::max);
    let panel = Panel { history, plot, low: 0.0, high: most.min(3.0) };
    // The figure between is left out where a tall band leaves no room of a row for it.
    let has_room = panel.y(DUE) - panel.y(1.0) > 22.0;
    for share in [0.0, DUE, 1.0].into_iter().filter(|share| has_room || (share - DUE).abs() > 0.1) {
        panel.figure(drawing, share, format!("{:.0} %", 100.0 * share));
    }
    let upper = history.reserve.iter().map(|share| (panel.x(share.at), panel.y(share.high)));
    let lower = history.reserve.iter().rev().map(|share| (panel.x(share.at), panel.y(share.low)));
    drawing.items.push(Item::Fill(upper.chain(lower).collect(), GREY.at(0.28)));
    let likely: Vec<Point> = history.reserve.iter().map(|share| (panel.x(share.at), panel.y(share.likely))).collect();
    drawing.line(&likely, Stroke::solid(INK, 2.5));
    for share in [DUE, 1.0] {
        let y = panel.y(share);
        drawing.line(&[(plot.x, y), (plot.x + plot.w, y)], Stroke::dashed(GREY, 1.5, 7.0, 5.0));
    }
    panel.frame(drawing, "reserve used: line likely, band 90 %; 75 % a new bath is due, 100 % none is left");
}

/// Steps: the load stays until the next one comes.
fn loads(drawing: &mut Drawing, history: &History, plot: Area) {
    let most = history.loads.iter().map(|(_, load)| *load).filter(|v| v.is_finite()).fold(1.0, f64::max);
    // A panel of this height has room for three figures.
    let step = 2.0 * step(most);
    let panel = Panel { history, plot, low: 0.0, high: 1.1 * most };
    let mut value = 0.0;
    while value <= panel.high {
        panel.figure(drawing, value, format!("{value:.0}"));
        value += step;
    }
    let mut points: Vec<Point> = vec![(panel.x(history.span.0), panel.y(0.0))];
    for (at, load) in &history.loads {
        let before = points.last().map_or(0.0, |point| point.1);
        points.push((panel.x(*at), before));
        points.push((panel.x(*at), panel.y(*load)));
    }
    let last = points.last().map_or(0.0, |point| point.1);
    points.push((panel.x(history.span.1), last));
    drawing.line(&points, Stroke::solid(INK, 2.5));
    panel.frame(drawing, &format!("load so far, {}", words::printable(&history.load_unit)));
}

/// Words under the axis, each at its time, as many as stay apart.
fn ticks(drawing: &mut Drawing, history: &History, foot: f64) {
    let panel = Panel { history, plot: Area { x: MARGINS.0, y: 0.0, w: WIDTH - MARGINS.0 - MARGINS.1, h: foot }, low: 0.0, high: 1.0 };
    let mut free = 8.0;
    for (at, text) in &history.ticks {
        let x = panel.x(*at);
        drawing.line(&[(x, foot), (x, foot + 7.0)], Stroke::solid(INK, 1.5));
        let half = 0.5 * font::width(text, WORDS, false);
        if x - half >= free && x + half <= WIDTH - 8.0 {
            drawing.words((x, foot + 30.0), text.as_str(), WORDS, Anchor::Middle, INK);
            // The gap of a wide space between neighbours.
            free = x + half + 14.0;
        }
    }
}
