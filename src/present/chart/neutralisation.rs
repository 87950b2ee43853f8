//! The neutralisation curve of a bath: pH against alkali taken up, with the reserve, the limits, the indicator's colours and the bath's place.

use super::{SMALL, WORDS};
use crate::indicator::{Indicator, equilibrium};
use crate::measurement::reading::State;
use crate::measurement::request::Limits;
use crate::present::drawing::{Anchor, Area, Colour, Drawing, GREY, GUIDE, INK, Item, PAPER, Point, Stroke};
use crate::present::{font, number, symbol, words};
use crate::quantity::{Interval, Ph};

/// What the picture is about.
#[derive(Debug, Clone)]
pub struct Neutralisation<'a> {
    /// The bath in words, for the heading.
    pub recipe: String,
    /// Alkali taken up, meq/l, and the pH there; both rise.
    pub curve: Vec<(f64, f64)>,
    /// Alkali that brings the fresh bath to the limit of spent, meq/l.
    pub reserve: f64,
    /// Limits of the states.
    pub limits: Limits,
    /// The indicator; none when there is none in the bath.
    pub dye: Option<Dye<'a>>,
    /// Where the bath is on the curve.
    pub place: Option<Place>,
}

/// An indicator with its colours.
#[derive(Debug, Clone, Copy)]
pub struct Dye<'a> {
    /// The indicator.
    pub indicator: &'a Indicator,
    /// Its pKa' in the bath where it turns.
    pub pka: f64,
    /// sRGB at equal steps of the share in its base form, from 0 to 1.
    pub chips: &'a [[u8; 3]],
}

/// Where a bath is on its curve.
#[derive(Debug, Clone)]
pub struct Place {
    /// Which bath, and how it is known, such as `just mixed` or `last reading`.
    pub name: String,
    /// Its state.
    pub state: State,
    /// 95 % interval of the pH; an end may be open.
    pub ph: Interval,
    /// Likely pH.
    pub likely: Option<f64>,
    /// Interval of the alkali that was counted, meq/l; open at both ends when nothing was counted.
    pub counted: Interval,
}

/// Size of the picture, pixels.
const SIZE: (f64, f64) = (900.0, 740.0);
/// pH at the upper end of the axis: above it no stop bath is left.
const TOP_PH: f64 = 8.0;
/// Room on the left for words of colour, strip and figures, and on the right for the states, pixels.
const MARGINS: (f64, f64) = (208.0, 138.0);

/// Draws the curve, 900 by 740 pixels.
#[must_use]
pub fn draw(subject: &Neutralisation<'_>) -> Drawing {
    let title = format!("neutralisation curve of {}", subject.recipe);
    let mut drawing = Drawing { width: SIZE.0, height: SIZE.1, title, items: Vec::new() };
    drawing.fill_area(Area { x: 0.0, y: 0.0, w: SIZE.0, h: SIZE.1 }, PAPER);
    let plot = Area { x: MARGINS.0, y: 192.0, w: SIZE.0 - MARGINS.0 - MARGINS.1, h: 440.0 };
    let scale = Scale::of(subject, plot);
    heading(&mut drawing, subject);
    bands(&mut drawing, &scale, subject.limits);
    axes(&mut drawing, &scale);
    reserve_marks(&mut drawing, &scale, subject);
    if let Some(dye) = &subject.dye {
        strip(&mut drawing, &scale, dye);
    }
    let points: Vec<Point> = subject.curve.iter().filter(|(_, ph)| *ph <= scale.high).map(|at| scale.at(*at)).collect();
    drawing.line(&points, Stroke::solid(INK, 3.0));
    if let Some(place) = &subject.place {
        draw_place(&mut drawing, &scale, subject, place);
    }
    drawing
}

/// Places on the plot.
struct Scale {
    plot: Area,
    /// pH at the lower end.
    low: f64,
    /// pH at the upper end.
    high: f64,
    /// Alkali at the right end, meq/l.
    most: f64,
}

impl Scale {
    fn of(subject: &Neutralisation<'_>, plot: Area) -> Self {
        let first = subject.curve.first().map_or(2.0, |(_, ph)| *ph);
        let most = subject.curve.iter().filter(|(_, ph)| *ph <= TOP_PH).map(|(alkali, _)| *alkali).fold(0.0, f64::max).max(1.0);
        // Room below the curve for the bar of what was counted.
        Scale { plot, low: (2.0 * first - 0.6).floor() / 2.0, high: TOP_PH.max(subject.limits.spent.value() + 1.0).min(14.0), most }
    }

    fn x(&self, alkali: f64) -> f64 {
        self.plot.x + (alkali / self.most).clamp(0.0, 1.0) * self.plot.w
    }

    fn y(&self, ph: f64) -> f64 {
        self.plot.y + (1.0 - ((ph - self.low) / (self.high - self.low)).clamp(0.0, 1.0)) * self.plot.h
    }

    fn at(&self, (alkali, ph): (f64, f64)) -> Point {
        (self.x(alkali), self.y(ph))
    }
}

fn heading(drawing: &mut Drawing, subject: &Neutralisation<'_>) {
    let wide = SIZE.0 - 48.0;
    drawing.bold((24.0, 42.0), font::cut(&words::printable(&subject.recipe), 25.0, true, wide), 25.0, Anchor::Start, INK);
    let Some(place) = &subject.place else {
        drawing.words((24.0, 76.0), "pH of the bath as it takes up alkali from developer", WORDS, Anchor::Start, GREY);
        return;
    };
    symbol::draw(drawing, place.state, (37.0, 69.0), 12.0);
    let lead = format!("{} ", words::state(place.state));
    drawing.bold((58.0, 76.0), &lead, WORDS, Anchor::Start, symbol::ink(place.state));
    let x = 58.0 + font::width(&lead, WORDS, true) + 6.0;
    drawing.words((x, 76.0), font::cut(&words::printable(&place.name), WORDS, false, SIZE.0 - 24.0 - x), WORDS, Anchor::Start, INK);
    drawing.words((58.0, 106.0), font::cut(&caption(subject, place), WORDS, false, SIZE.0 - 82.0), WORDS, Anchor::Start, INK);
}

/// The place in words: pH, share of the reserve that is used.
fn caption(subject: &Neutralisation<'_>, place: &Place) -> String {
    let mut parts = Vec::new();
    match number::ph(place.likely, place.ph.low, place.ph.high) {
        Some(ph) => parts.push(format!("pH {ph}")),
        None => parts.push(words::PH_UNKNOWN.to_owned()),
    }
    let share = |ph: f64| alkali_at(&subject.curve, ph) / subject.reserve.max(1e-9);
    match (place.ph.low, place.ph.high) {
        (Some(low), Some(high)) => parts.push(used(share(low), share(high))),
        (None, Some(high)) => parts.push(format!("at most {} of the reserve used", number::percent(share(high)))),
        (Some(low), None) => parts.push(format!("{} of the reserve used or more", number::percent(share(low)))),
        (None, None) => {}
    }
    parts.join("; ")
}

fn used(low: f64, high: f64) -> String {
    let (low, high) = (number::percent(low), number::percent(high));
    if low == high { format!("{high} of the reserve used") } else { format!("{low} to {high} of the reserve used") }
}

/// Alkali at which the curve passes a pH, meq/l; the ends stand for what lies beyond.
#[must_use]
pub fn alkali_at(curve: &[(f64, f64)], ph: f64) -> f64 {
    let after = curve.partition_point(|(_, at)| *at < ph);
    match (after.checked_sub(1).and_then(|i| curve.get(i)), curve.get(after)) {
        (Some((x0, y0)), Some((x1, y1))) if y1 > y0 => x0 + (x1 - x0) * (ph - y0) / (y1 - y0),
        (Some((x, _)), _) | (None, Some((x, _))) => *x,
        (None, None) => 0.0,
    }
}

/// The states as tints, with border lines, and shape and word of each on the right.
fn bands(drawing: &mut Drawing, scale: &Scale, limits: Limits) {
    let Area { x, w, .. } = scale.plot;
    let edges = [scale.low, limits.nearing.value(), limits.spent.value(), scale.high].map(|ph| scale.y(ph));
    let states = [State::Fresh, State::Nearing, State::Spent];
    for (state, pair) in states.into_iter().zip(edges.windows(2)) {
        drawing.fill_area(Area { x, y: pair[1], w, h: (pair[0] - pair[1]).max(0.0) }, symbol::ink(state).at(0.13));
    }
    for limit in [limits.nearing.value(), limits.spent.value()] {
        let y = scale.y(limit);
        drawing.line(&[(x, y), (x + w, y)], Stroke::dashed(GREY, 1.5, 7.0, 5.0));
    }
    // A row of words needs 26 pixels; the middle band may be narrower.
    let middle = 0.5 * (edges[1] + edges[2]);
    let rows = [(0.5 * (edges[0] + edges[1])).max(middle + 26.0), middle, (0.5 * (edges[2] + edges[3])).min(middle - 26.0)];
    for (state, y) in states.into_iter().zip(rows) {
        symbol::draw(drawing, state, (x + w + 22.0, y), 10.0);
        drawing.bold((x + w + 38.0, y + 7.0), words::state(state), WORDS, Anchor::Start, symbol::ink(state));
    }
}

fn axes(drawing: &mut Drawing, scale: &Scale) {
    let plot = scale.plot;
    for ph in scale.low.ceil() as i32..=scale.high.floor() as i32 {
        let y = scale.y(f64::from(ph));
        drawing.line(&[(plot.x, y), (plot.x + plot.w, y)], Stroke::solid(GUIDE.at(0.6), 1.0));
        drawing.words((plot.x - 10.0, y + 7.0), ph.to_string(), WORDS, Anchor::End, INK);
    }
    drawing.words((plot.x - 34.0, plot.y - 12.0), "pH", WORDS, Anchor::Middle, GREY);
    let step = step(scale.most);
    let mut alkali = 0.0;
    while alkali <= scale.most * (1.0 + 1e-9) {
        let x = scale.x(alkali);
        let foot = plot.y + plot.h;
        drawing.line(&[(x, foot), (x, foot + 7.0)], Stroke::solid(INK, 1.5));
        drawing.words((x, foot + 28.0), format!("{alkali:.0}"), WORDS, Anchor::Middle, INK);
        alkali += step;
    }
    let place = (plot.x + 0.5 * plot.w, plot.y + plot.h + 58.0);
    drawing.words(place, "alkali taken up, milliequivalents per litre", WORDS, Anchor::Middle, GREY);
    drawing.edge(plot, Stroke::solid(INK, 1.5));
}

/// Distance of figures on an axis from 0 to `most`, so that four to nine stand on it; at least 1.
pub(super) fn step(most: f64) -> f64 {
    let unit = 10f64.powf((most / 5.0).max(1.0).log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * unit).find(|step| most / step <= 8.0).unwrap_or(10.0 * unit)
}

/// A line at each quarter of the reserve, with its share above the plot.
fn reserve_marks(drawing: &mut Drawing, scale: &Scale, subject: &Neutralisation<'_>) {
    let plot = scale.plot;
    let text = format!("share of the reserve to pH {:.1}: {:.0} meq/l", subject.limits.spent.value(), subject.reserve);
    drawing.words((plot.x, plot.y - 42.0), text, SMALL, Anchor::Start, GREY);
    for share in [0.25, 0.5, 0.75, 1.0] {
        let alkali = share * subject.reserve;
        if alkali > scale.most {
            continue;
        }
        let x = scale.x(alkali);
        drawing.line(&[(x, plot.y), (x, plot.y + plot.h)], Stroke::dashed(GREY, 1.2, 3.0, 5.0));
        drawing.words((x, plot.y - 12.0), format!("{:.0} %", 100.0 * share), WORDS, Anchor::Middle, INK);
    }
}

/// The dye's colour at each pH beside the axis, with words where it is acid, half turned and base.
fn strip(drawing: &mut Drawing, scale: &Scale, dye: &Dye<'_>) {
    const CELLS: u32 = 60;
    let plot = scale.plot;
    let area = Area { x: plot.x - 72.0, y: plot.y, w: 26.0, h: plot.h };
    let h = area.h / f64::from(CELLS);
    for i in 0..CELLS {
        let ph = scale.high - (scale.high - scale.low) * (f64::from(i) + 0.5) / f64::from(CELLS);
        let share = Ph::new(ph).map_or(0.0, |ph| equilibrium::base_fraction(ph, dye.pka).value());
        let nearest = (share * (dye.chips.len().max(1) - 1) as f64).round() as usize;
        let Some(&[r, g, b]) = dye.chips.get(nearest) else { break };
        let y = area.y + f64::from(i) * h;
        // Half a pixel of overlap hides the seams.
        drawing.fill_area(Area { y, h: (h + 0.5).min(area.y + area.h - y), ..area }, Colour::solid(r, g, b));
    }
    drawing.edge(area, Stroke::solid(INK, 1.5));
    let (low, high) = dye.indicator.visual;
    let rows = [(low, dye.indicator.acid_colour, 22.0), (0.5 * (low + high), "turning", 0.0), (high, dye.indicator.base_colour, -22.0)];
    let mut last = f64::INFINITY;
    for (ph, text, shift) in rows {
        let is_off = (ph < scale.low && shift > 0.0) || (ph > scale.high && shift < 0.0) || !(scale.low..=scale.high).contains(&ph);
        if is_off {
            continue;
        }
        let y = scale.y(ph);
        drawing.line(&[(area.x - 8.0, y), (area.x, y)], Stroke::solid(INK, 1.5));
        let base = (y + 7.0 + 0.3 * shift).min(last - 22.0);
        drawing.words((area.x - 13.0, base), text, SMALL, Anchor::End, INK);
        last = base;
    }
    // The colours are seen in daylight over white; the name stands upright where nothing else is.
    let name = dye.indicator.name.replace('-', " ");
    drawing.words((24.0, SIZE.1 - 18.0), format!("strip: {name} over white in daylight"), SMALL, Anchor::Start, GREY);
}

/// The interval as a broad stretch of the curve with stops or arrows, the likely pH as the state's shape, the count as a bar at the foot.
fn draw_place(drawing: &mut Drawing, scale: &Scale, subject: &Neutralisation<'_>, place: &Place) {
    let colour = symbol::ink(place.state);
    let curve: Vec<(f64, f64)> = subject.curve.iter().copied().filter(|(_, ph)| *ph <= scale.high).collect();
    if place.ph.low.is_some() || place.ph.high.is_some() {
        let end = |ph: Option<f64>, open: Option<&(f64, f64)>| {
            ph.map_or_else(|| open.map_or(0.0, |(alkali, _)| *alkali), |ph| alkali_at(&curve, ph))
        };
        let (from, to) = (end(place.ph.low, curve.first()), end(place.ph.high, curve.last()));
        let on = |alkali: f64| scale.at((alkali, ph_at(&curve, alkali)));
        let mut stretch = vec![on(from)];
        stretch.extend(curve.iter().filter(|(alkali, _)| (from..to).contains(alkali)).map(|at| scale.at(*at)));
        stretch.push(on(to));
        drawing.line(&stretch, Stroke::solid(colour.at(0.45), 13.0));
        ending(drawing, on(from), -1.0, place.ph.low.is_some(), colour);
        ending(drawing, on(to), 1.0, place.ph.high.is_some(), colour);
        if let Some(likely) = place.likely {
            let at = on(alkali_at(&curve, likely));
            drawing.items.push(Item::Disc(at, 17.0, PAPER.at(0.9)));
            symbol::draw(drawing, place.state, at, 12.0);
        }
    }
    if let (Some(low), Some(high)) = (place.counted.low, place.counted.high) {
        let y = scale.plot.y + scale.plot.h - 14.0;
        let (from, to) = (scale.x(low), scale.x(high));
        drawing.line(&[(from, y), (to, y)], Stroke::solid(INK, 4.0));
        for x in [from, to] {
            drawing.line(&[(x, y - 8.0), (x, y + 8.0)], Stroke::solid(INK, 3.0));
        }
        let text = format!("bar at the foot: {low:.0} to {high:.0} meq/l by count");
        drawing.words((SIZE.0 - 24.0, SIZE.1 - 18.0), text, SMALL, Anchor::End, GREY);
    }
}

fn ph_at(curve: &[(f64, f64)], alkali: f64) -> f64 {
    let turned: Vec<(f64, f64)> = curve.iter().map(|(x, y)| (*y, *x)).collect();
    alkali_at(&turned, alkali)
}

/// A stop across the curve's way, or an arrow along the axis of alkali where the interval is open; its tip is at the end, so that it stays on the plot.
fn ending(drawing: &mut Drawing, at: Point, way: f64, is_closed: bool, colour: Colour) {
    if is_closed {
        drawing.line(&[(at.0, at.1 - 13.0), (at.0, at.1 + 13.0)], Stroke::solid(colour, 4.0));
    } else {
        drawing.items.push(Item::Fill(vec![at, (at.0 - way * 20.0, at.1 - 12.0), (at.0 - way * 20.0, at.1 + 12.0)], colour));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_is_read_both_ways() {
        let curve = [(0.0, 2.0), (50.0, 3.0), (100.0, 5.0)];
        assert!((alkali_at(&curve, 4.0) - 75.0).abs() < 1e-12 && (ph_at(&curve, 75.0) - 4.0).abs() < 1e-12);
        assert!((alkali_at(&curve, 1.0), alkali_at(&curve, 9.0), alkali_at(&[], 5.0)) == (0.0, 100.0, 0.0));
    }

    #[test]
    fn figures_on_the_axis_are_round_and_few() {
        for (most, wanted) in [(320.0, 50.0), (180.0, 50.0), (60.0, 10.0), (1.0, 1.0)] {
            assert!((step(most) - wanted).abs() < 1e-9, "{most}: {}", step(most));
            assert!(most / step(most) <= 8.0);
        }
    }
}
