//! A calibration: what the other buffers make of each, on the transition curve, and by how much that is off.

use super::{Axis, SMALL, Subject, WORDS, transition};
use crate::indicator::equilibrium;
use crate::measurement::profile::{Point, Profile};
use crate::present::drawing::{Anchor, Area, Drawing, GREY, GUIDE, INK, Item, PAPER, Stroke};
use crate::present::{dyes, font};

/// Size of the drawing, pixels.
const WIDE: f64 = 900.0;
/// Height of the curve with its heading, pixels.
const CURVE: f64 = 560.0;
/// Height of the plot of errors, pixels.
const ERRORS: f64 = 190.0;
/// Outer margin, pixels.
const MARGIN: f64 = 24.0;
/// Radius of a buffer's mark, pixels.
const MARK: f64 = 13.0;

/// The drawing of a profile; `pka` is that of the dye with the salt of the buffers, as the calibration found it.
#[must_use]
pub fn draw(name: &str, profile: &Profile, pka: f64) -> Drawing {
    let dye = profile.evidence.indicator;
    let height = MARGIN + CURVE + 96.0 + ERRORS + 118.0;
    let title = format!("calibration {name}: buffers on the transition curve of {}", dye.name.replace('-', " "));
    let mut drawing = Drawing { width: WIDE, height, title, items: Vec::new() };
    drawing.fill_area(Area { x: 0.0, y: 0.0, w: WIDE, h: height }, PAPER);
    let chips = dyes::chips(dye);
    let subject = Subject { indicator: dye, pka, limits: None, chips: &chips };
    let area = Area { x: MARGIN, y: MARGIN, w: WIDE - 2.0 * MARGIN, h: CURVE };
    let axis = transition::draw(&mut drawing, area, &subject, &[]);
    let plot = transition::plot(&axis, area);
    for (k, point) in profile.points.iter().enumerate() {
        on_curve(&mut drawing, &axis, plot, pka, k + 1, point);
    }
    let below = Area { x: axis.left, y: MARGIN + CURVE + 96.0, w: axis.right - axis.left, h: ERRORS };
    errors(&mut drawing, &axis, below, profile);
    drawing
}

/// The buffer at the pH that was told, as high as the share that the others read; the bar is their 95 % interval.
fn on_curve(drawing: &mut Drawing, axis: &Axis, plot: Area, pka: f64, number: usize, point: &Point) {
    let x = axis.x(point.ph);
    let height = |ph: f64| transition::on_curve(axis, plot, pka, ph).1;
    let (low, high) = (point.interval.low.unwrap_or(axis.low - 3.0), point.interval.high.unwrap_or(axis.high + 3.0));
    if point.interval.low.is_some() || point.interval.high.is_some() {
        drawing.line(&[(x, height(low)), (x, height(high))], Stroke::solid(INK, 3.0));
    }
    // A bound has no likely value: its number stands at the end that is known.
    let at = (x, height(point.read.or(point.interval.low).or(point.interval.high).unwrap_or(point.ph)));
    mark(drawing, at, number, point.is_used);
}

/// A numbered disc; one that was left out is a square in dashes.
fn mark(drawing: &mut Drawing, at: (f64, f64), number: usize, is_used: bool) {
    if is_used {
        drawing.items.push(Item::Disc(at, MARK, PAPER));
        drawing.items.push(Item::Ring(at, MARK, Stroke::solid(INK, 2.0)));
    } else {
        let square = Area { x: at.0 - MARK, y: at.1 - MARK, w: 2.0 * MARK, h: 2.0 * MARK };
        drawing.fill_area(square, PAPER);
        drawing.edge(square, Stroke::dashed(INK, 2.0, 5.0, 4.0));
    }
    drawing.bold((at.0, at.1 + 6.0), number.to_string(), SMALL, Anchor::Middle, INK);
}

/// Error of each buffer over its pH, in the band that readings in the same light are promised to stay in.
fn errors(drawing: &mut Drawing, axis: &Axis, plot: Area, profile: &Profile) {
    let promise = profile.promise();
    let widest = profile.points.iter().filter_map(|point| Some(point.error()?.abs())).chain(promise).fold(0.05_f64, f64::max);
    // The next of 0.1, 0.2, 0.5, 1 ... that holds everything.
    let decade = 10f64.powf(widest.log10().floor());
    let half = [1.0, 2.0, 5.0, 10.0].into_iter().map(|step| step * decade).find(|half| *half >= 1.15 * widest).unwrap_or(10.0 * decade);
    let y = |error: f64| plot.y + 0.5 * plot.h * (1.0 - (error / half).clamp(-1.0, 1.0));
    drawing.bold((MARGIN, plot.y - 44.0), "error of each buffer, read by the others", WORDS, Anchor::Start, INK);
    let mut said = Vec::new();
    if let Some(rms) = profile.left_out_rms() {
        said.push(format!("leave-one-out error {rms:.3} pH"));
    }
    if let Some(promise) = promise {
        said.push(format!("band: 95 % of readings in this light, {promise:.2} pH"));
        drawing.fill_area(Area { y: y(promise), h: y(-promise) - y(promise), ..plot }, GUIDE.at(0.45));
        for edge in [promise, -promise] {
            drawing.line(&[(plot.x, y(edge)), (plot.x + plot.w, y(edge))], Stroke::dashed(GREY, 1.5, 7.0, 5.0));
        }
    }
    let said = font::cut(&said.join("; "), WORDS, false, WIDE - 2.0 * MARGIN);
    drawing.words((MARGIN, plot.y - 16.0), said, WORDS, Anchor::Start, GREY);
    drawing.line(&[(plot.x, y(0.0)), (plot.x + plot.w, y(0.0))], Stroke::solid(INK, 1.5));
    for error in [half, 0.0, -half] {
        let text = if error == 0.0 { "0".to_owned() } else { format!("{error:+}") };
        drawing.words((plot.x - 8.0, y(error) + if error < 0.0 { 0.0 } else { 7.0 }), text, WORDS, Anchor::End, INK);
    }
    drawing.edge(plot, Stroke::solid(INK, 1.5));
    axis.figures(drawing, plot.y + plot.h);
    for (k, point) in profile.points.iter().enumerate() {
        let Some(error) = point.error() else { continue };
        let x = axis.x(point.ph);
        let ends = [point.interval.low, point.interval.high].map(|end| end.map(|end| y(end - point.ph)));
        if let [Some(low), Some(high)] = ends {
            drawing.line(&[(x, low), (x, high)], Stroke::solid(INK, 3.0));
        }
        mark(drawing, (x, y(error)), k + 1, point.is_used);
    }
    let foot = plot.y + plot.h + 60.0;
    let bounds: Vec<String> =
        profile.points.iter().enumerate().filter(|(_, point)| point.read.is_none()).map(|(k, _)| (k + 1).to_string()).collect();
    let mut notes = vec!["number: order of the buffers; bar: 95 % interval; dashed square: left out".to_owned()];
    if !bounds.is_empty() {
        notes.push(format!("beyond the turn, only a bound is read: {}", bounds.join(", ")));
    }
    for (k, note) in notes.into_iter().enumerate() {
        drawing.words((MARGIN, foot + 26.0 * k as f64), font::cut(&note, SMALL, false, WIDE - 2.0 * MARGIN), SMALL, Anchor::Start, GREY);
    }
}

/// pKa' of the dye with the salt of the first buffer, moved by what the calibration found.
#[must_use]
pub fn pka(profile: &Profile, shift: f64) -> f64 {
    let evidence = &profile.evidence;
    let salt = evidence.photos.iter().flat_map(|photo| &photo.cups).map(|cup| cup.ionic_strength).next();
    salt.map_or(evidence.indicator.pka.value(), |salt| equilibrium::pka_at(evidence.indicator, salt, evidence.temperature)) + shift
}
