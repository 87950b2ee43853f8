//! The picture of one reading: the photo with card, cups and verdicts on the left, the transition curve on the right.

use super::chart::lanes::Lane;
use super::chart::{self, Axis, SMALL, Subject};
use super::drawing::{Anchor, Area, Colour, Drawing, GREY, INK, Item, PAPER, Pixels, Point, Stroke};
use super::{dyes, font, number, symbol, words};
use crate::colour::space::apply;
use crate::colour::tone::{srgb_decode, srgb_encode};
use crate::indicator::{Indicator, equilibrium};
use crate::measurement::frame::Frame;
use crate::measurement::reading::{CupReading, Reading, State};
use crate::measurement::request::Request;
use crate::measurement::warning::Notice;

/// Outer margin and gap between the columns, pixels.
const MARGIN: f64 = 28.0;
/// Width of the chart, pixels; with a photo of `PHOTO_WIDE` the sheet is 1600 wide.
const CHART_WIDE: f64 = 640.0;
/// Widest photo, pixels.
const PHOTO_WIDE: f64 = 876.0;
/// Narrowest column for the words under the photo, pixels.
const NOTES_WIDE: f64 = 520.0;
/// Tallest photo, pixels.
const PHOTO_HIGH: f64 = 1000.0;
/// Height of the title line, pixels.
const TITLE: f64 = 66.0;
/// Height of the transition curve with heading, pixels.
const CURVE_HIGH: f64 = 480.0;
/// The same where several dyes share a sheet, pixels.
const CURVE_LOW: f64 = 330.0;
/// Most lanes that fit a sheet of 1600 pixels.
pub(super) const MOST_LANES: usize = 10;

/// Corners of the line around a liquid seen aslant: on the sheet they are less than a pixel off the oval.
const OVAL: usize = 64;

/// Lays out the sheet; `name` is the photo's name for the title.
#[must_use]
pub fn draw(name: &str, frame: &Frame, reading: &Reading, request: &Request) -> Drawing {
    let photo = photo_area(reading);
    // A long, narrow picture still gets a column that words fit in.
    let column = photo.w.max(NOTES_WIDE);
    let width = MARGIN + column + MARGIN + CHART_WIDE + MARGIN;
    let title = format!("reading of {}", words::printable(name));
    let mut drawing = Drawing { width, height: 0.0, title, items: Vec::new() };
    let mut body = Drawing { width, height: 0.0, title: String::new(), items: Vec::new() };
    heading(&mut body, name, reading, width);
    // Twice the size drawn stays sharp when the picture is enlarged.
    body.items.push(Item::Photo(pixels(frame, 2.0 * photo.w.max(photo.h)), photo));
    overlay(&mut body, photo, reading, false);
    let notes = notes(&mut body, Area { y: photo.y + photo.h + 20.0, w: column, h: 0.0, ..photo }, reading);
    let chart = chart(&mut body, Area { x: photo.x + column + MARGIN, y: TITLE + 8.0, w: CHART_WIDE, h: CURVE_HIGH }, reading, request);
    drawing.height = (notes.max(chart) + MARGIN).ceil();
    drawing.fill_area(Area { x: 0.0, y: 0.0, w: width, h: drawing.height }, PAPER);
    drawing.items.append(&mut body.items);
    drawing
}

/// Width of the photo in a report of many, pixels: its words stay readable at half that size.
const OVERLAY_WIDE: f64 = 560.0;

/// Height of an upright photo there, pixels.
const OVERLAY_HIGH: f64 = 750.0;
/// More cups than this get no words on the photo there, which would cover each other; they stand in the table beside it.
const MOST_WORDED: usize = 6;

/// The photo alone with what was found on it, for a report of many photos.
#[must_use]
pub fn overlaid(name: &str, frame: &Frame, reading: &Reading) -> Drawing {
    let (w, h) = (reading.width.max(1) as f64, reading.height.max(1) as f64);
    let scale = (OVERLAY_WIDE / w).min(OVERLAY_HIGH / h);
    let photo = Area { x: 0.0, y: 0.0, w: w * scale, h: h * scale };
    let title = format!("{} with card and cups marked", words::printable(name));
    let items = vec![Item::Photo(pixels(frame, photo.w.max(photo.h)), photo)];
    let mut drawing = Drawing { width: photo.w.ceil(), height: photo.h.ceil(), title, items };
    overlay(&mut drawing, photo, reading, reading.cups.len() > MOST_WORDED);
    drawing
}

/// The transition curve with a lane for each cup, for a report of many photos.
#[must_use]
pub fn curve(name: &str, reading: &Reading, request: &Request) -> Drawing {
    let dyes: Vec<&str> = dyes_of(reading, request).iter().map(|dye| dye.name).collect();
    let title = format!("pH of the cups in {} on the transition curve of {}", words::printable(name), dyes.join(", "));
    let mut drawing = Drawing { width: CHART_WIDE + 2.0 * CURVE_MARGIN, height: 0.0, title, items: Vec::new() };
    let area = Area { x: CURVE_MARGIN, y: CURVE_MARGIN, w: CHART_WIDE, h: CURVE_HIGH };
    drawing.height = (chart(&mut drawing, area, reading, request) + CURVE_MARGIN).ceil();
    drawing
}

/// Room around a curve that stands alone, pixels.
const CURVE_MARGIN: f64 = 12.0;

fn photo_area(reading: &Reading) -> Area {
    let (w, h) = (reading.width.max(1) as f64, reading.height.max(1) as f64);
    let scale = (PHOTO_WIDE / w).min(PHOTO_HIGH / h);
    Area { x: MARGIN, y: TITLE + 8.0, w: w * scale, h: h * scale }
}

fn heading(drawing: &mut Drawing, name: &str, reading: &Reading, width: f64) {
    let light = words::light(reading).map(|light| format!("light: {light}")).unwrap_or_default();
    let room = width - 2.0 * MARGIN - font::width(&light, chart::WORDS, false) - 20.0;
    drawing.bold((MARGIN, 44.0), font::cut(&words::printable(name), 28.0, true, room), 28.0, Anchor::Start, INK);
    drawing.words((width - MARGIN, 44.0), light, chart::WORDS, Anchor::End, GREY);
    drawing.line(&[(MARGIN, TITLE - 6.0), (width - MARGIN, TITLE - 6.0)], Stroke::solid(INK, 1.5));
}

/// The upright photo in sRGB, its longer side reduced to no more than `longest` pixels.
#[must_use]
pub fn pixels(frame: &Frame, longest: f64) -> Pixels {
    let reduced = frame.reduced(longest as usize);
    let matrix = &frame.space().to_srgb;
    let is_srgb = (0..3).all(|i| (0..3).all(|j| (matrix[i][j] - f64::from(u8::from(i == j))).abs() < 1e-9));
    let mut rgb = reduced.rgb;
    if !is_srgb {
        for pixel in rgb.chunks_exact_mut(3) {
            let linear = [0, 1, 2].map(|c| srgb_decode(f64::from(pixel[c]) / 255.0));
            let shown = apply(matrix, linear).map(|v| (srgb_encode(v.clamp(0.0, 1.0)) * 255.0).round() as u8);
            pixel.copy_from_slice(&shown);
        }
    }
    Pixels { width: reduced.width as u32, height: reduced.height as u32, rgb }
}

/// A line that shows on any ground: dark below, light above.
fn outlined(drawing: &mut Drawing, item: impl Fn(Stroke) -> Item) {
    drawing.items.push(item(Stroke::solid(INK.at(0.85), 6.0)));
    drawing.items.push(item(Stroke::solid(PAPER, 2.5)));
}

fn overlay(drawing: &mut Drawing, photo: Area, reading: &Reading, is_brief: bool) {
    let scale = (photo.w / reading.width.max(1) as f64, photo.h / reading.height.max(1) as f64);
    // Photo coordinates count pixel centres.
    let place = |x: f64, y: f64| (photo.x + (x + 0.5) * scale.0, photo.y + (y + 0.5) * scale.1);
    let mut taken: Vec<Area> = Vec::new();
    if let Some(corners) = reading.sheet.as_ref().and_then(|sheet| sheet.corners) {
        let paper = corners.map(|(x, y)| place(x, y)).to_vec();
        drawing.items.push(Item::Line(paper.clone(), true, Stroke::solid(INK.at(0.7), 4.0)));
        drawing.items.push(Item::Line(paper, true, Stroke::dashed(PAPER, 2.0, 10.0, 6.0)));
    }
    if let Some(card) = reading.card {
        let corners = card.corners.map(|(x, y)| place(x, y)).to_vec();
        outlined(drawing, |pen| Item::Line(corners.clone(), true, pen));
        let a = card.area;
        let (left_top, right_bottom) = (place(a.x, a.y), place(a.x + a.w, a.y + a.h));
        let inner = Area { x: left_top.0, y: left_top.1, w: right_bottom.0 - left_top.0, h: right_bottom.1 - left_top.1 };
        drawing.edge(inner, Stroke::dashed(PAPER, 2.0, 6.0, 5.0));
        let above = corners.iter().map(|(_, y)| *y).fold(f64::INFINITY, f64::min) - 40.0;
        let label = Area { x: inner.x + 0.5 * inner.w - 38.0, y: above.max(photo.y + 4.0), w: 76.0, h: 32.0 };
        tag(drawing, label, None, "card");
        taken.push(label);
    }
    let circles: Vec<(Point, f64)> =
        reading.cups.iter().map(|c| (place(c.region.liquid.x, c.region.liquid.y), c.region.liquid.radius * scale.1)).collect();
    for (cup, (centre, radius)) in reading.cups.iter().zip(&circles) {
        let oval = |share: f64| {
            let face = cup.region.face?;
            let turn = |i: usize| std::f64::consts::TAU * i as f64 / OVAL as f64;
            (0..OVAL)
                .map(|i| face.at((share * turn(i).cos(), share * turn(i).sin())).map(|(x, y)| place(x, y)))
                .collect::<Option<Vec<Point>>>()
        };
        match oval(1.0) {
            Some(points) => outlined(drawing, |pen| Item::Line(points.clone(), true, pen)),
            None => outlined(drawing, |pen| Item::Ring(*centre, *radius, pen)),
        }
        for (_, outer) in &cup.rings {
            let pen = Stroke::dashed(PAPER.at(0.8), 1.5, 4.0, 5.0);
            drawing.items.push(match oval(outer / cup.region.liquid.radius) {
                Some(points) => Item::Line(points, true, pen),
                None => Item::Ring(*centre, outer * scale.1, pen),
            });
        }
        taken.push(Area { x: centre.0 - radius, y: centre.1 - radius, w: 2.0 * radius, h: 2.0 * radius });
    }
    for (cup, (centre, radius)) in reading.cups.iter().zip(&circles) {
        let text = if is_brief { String::new() } else { verdict_words(cup) };
        verdict(drawing, photo, (cup, &text), (*centre, *radius), &mut taken);
    }
}

/// State and pH; what may not be relied on gets no figure beside the cup, the chart still shows it.
fn verdict_words(cup: &CupReading) -> String {
    let ph = number::ph_short(cup.ph, cup.ph_low, cup.ph_high).filter(|_| cup.state != State::Unclear);
    ph.map_or_else(|| words::state(cup.state).to_owned(), |ph| format!("{}  {ph}", words::state(cup.state)))
}

/// Number, shape, state and pH in a box near the cup: the first free place below, above, right or left.
fn verdict(drawing: &mut Drawing, photo: Area, (cup, text): (&CupReading, &str), (centre, radius): (Point, f64), taken: &mut Vec<Area>) {
    let lead = format!("{} ", cup.number);
    let w = 48.0 + font::width(&lead, 22.0, true) + font::width(text, 22.0, true);
    let h = 36.0;
    let gap = 8.0;
    let rim = cup.region.rim.map_or(radius, |rim| radius * rim / cup.region.liquid.radius.max(1.0));
    let upright = |away: f64| [(centre.0 - 0.5 * w, centre.1 + rim + away), (centre.0 - 0.5 * w, centre.1 - rim - away - h)];
    let mut places = upright(gap).to_vec();
    places.extend([(centre.0 + rim + gap, centre.1 - 0.5 * h), (centre.0 - rim - gap - w, centre.1 - 0.5 * h)]);
    places.extend((1..4).flat_map(|step| upright(gap + f64::from(step) * (h + gap))));
    let boxes: Vec<Area> = places
        .into_iter()
        .map(|(x, y)| Area {
            x: x.clamp(photo.x + 4.0, (photo.x + photo.w - w - 4.0).max(photo.x + 4.0)),
            y: y.clamp(photo.y + 4.0, (photo.y + photo.h - h - 4.0).max(photo.y + 4.0)),
            w,
            h,
        })
        .collect();
    let free = boxes.iter().find(|b| taken.iter().all(|t| !t.overlaps(**b))).or(boxes.first());
    if let Some(area) = free {
        leader(drawing, *area, centre, radius);
        tag(drawing, *area, Some((cup.state, lead)), text);
        taken.push(*area);
    }
}

/// A line from a box that stands away from its cup to the cup's edge.
fn leader(drawing: &mut Drawing, area: Area, centre: Point, radius: f64) {
    let near = (centre.0.clamp(area.x, area.x + area.w), centre.1.clamp(area.y, area.y + area.h));
    let (dx, dy) = (near.0 - centre.0, near.1 - centre.1);
    let distance = dx.hypot(dy);
    // Closer than 12 pixels the box touches its cup for the eye.
    if distance > radius + 12.0 {
        let edge = (centre.0 + dx / distance * radius, centre.1 + dy / distance * radius);
        outlined(drawing, |pen| Item::Line(vec![edge, near], false, pen));
    }
}

/// Words in a light box; with a state its number and shape come first.
fn tag(drawing: &mut Drawing, area: Area, state: Option<(State, String)>, text: &str) {
    drawing.fill_area(area, PAPER.at(0.94));
    drawing.edge(area, Stroke::solid(INK, 2.0));
    let base = area.y + 0.5 * area.h + 8.0;
    match state {
        None => drawing.words((area.x + 0.5 * area.w, base), text, 22.0, Anchor::Middle, INK),
        Some((state, lead)) => {
            let mut x = area.x + 10.0;
            drawing.bold((x, base), lead.as_str(), 22.0, Anchor::Start, INK);
            x += font::width(&lead, 22.0, true) + 12.0;
            symbol::draw(drawing, state, (x, area.y + 0.5 * area.h), 11.0);
            drawing.bold((x + 18.0, base), text, 22.0, Anchor::Start, symbol::ink(state));
        }
    }
}

/// Advice, reasons, remedies and cautions under the photo; returns where they end.
fn notes(drawing: &mut Drawing, area: Area, reading: &Reading) -> f64 {
    let mut y = area.y;
    let cautions = [(words::CAUTIONS.to_owned(), GREY, SMALL)];
    for (text, colour, size) in sentences(reading).into_iter().map(|(text, colour)| (text, colour, chart::WORDS)).chain(cautions) {
        if size < chart::WORDS {
            y += 10.0;
        }
        for part in font::wrapped(&text, size, area.w) {
            y += 1.33 * size;
            drawing.words((area.x, y), part, size, Anchor::Start, colour);
        }
    }
    y
}

/// What is to be said under the photo, in order, each with its ink.
pub fn sentences(reading: &Reading) -> Vec<(String, Colour)> {
    let mut out: Vec<(String, Colour)> = words::by_state(reading)
        .into_iter()
        .map(|(state, cups)| (format!("{} ({cups}): {}", words::state(state), words::advice(state)), symbol::ink(state)))
        .collect();
    out.extend(reading.cups.iter().filter_map(|cup| Some((format!("cup {}: {}", cup.number, words::why(cup, reading.limits)?), INK))));
    let photo = words::by_gravity(&reading.warnings).into_iter().map(|notice| ("photo".to_owned(), notice));
    let cups = reading.cups.iter().take(MOST_LANES);
    let cups = cups.flat_map(|cup| cup.reasons.iter().map(move |notice| (format!("cup {}", cup.number), notice)));
    let panel = reading.panel.iter().flat_map(|panel| panel.reasons.iter().map(|notice| (words::panel(panel), notice)));
    let mut said: Vec<&'static str> = Vec::new();
    for (lead, notice) in photo.chain(cups).chain(panel) {
        out.push((format!("{lead}: {}", words::message(notice)), INK));
        // One remedy for several cups is told once.
        if let Some(remedy) = words::remedy(notice).filter(|remedy| !said.contains(remedy)) {
            said.push(remedy);
            out.push((format!("- {remedy}"), GREY));
        }
    }
    out
}

/// A curve for each dye with the lanes of its cups under it, and the panel's lane last; returns where they end.
fn chart(drawing: &mut Drawing, area: Area, reading: &Reading, request: &Request) -> f64 {
    let mut shown: Vec<CupReading> = reading.cups.iter().take(MOST_LANES).cloned().collect();
    if reading.warnings.iter().any(Notice::refuses) {
        // What spoils the photo spoils the sample's colour in neutral light too.
        for cup in &mut shown {
            cup.lab = None;
        }
    }
    let dyes = dyes_of(reading, request);
    let mut end = area.y;
    let mut axis = None;
    for (place, dye) in dyes.iter().enumerate() {
        let cups: Vec<CupReading> = shown.iter().filter(|cup| cup.indicator == dye.name).cloned().collect();
        let pka = equilibrium::pka_at(dye, request.ionic_strength, request.temperature);
        let subject = Subject { indicator: dye, pka, limits: Some(reading.limits), chips: &dyes::chips(dye) };
        let top = Area { y: if place == 0 { area.y } else { end + 34.0 }, h: if dyes.len() == 1 { area.h } else { CURVE_LOW }, ..area };
        let drawn = chart::transition::draw(drawing, top, &subject, &cups);
        let lanes: Vec<Lane> = cups.iter().map(Lane::from).collect();
        let below = Area { y: top.y + top.h + 12.0, ..top };
        end = below.y + chart::lanes::draw(drawing, below, &drawn, reading.limits, &lanes);
        axis = Some(drawn);
    }
    if reading.cups.len() > shown.len() {
        end += 26.0;
        let text = format!("and {} more cups in the report", reading.cups.len() - shown.len());
        drawing.words((area.x, end), text, chart::WORDS, Anchor::Start, GREY);
    }
    if let Some((panel, axis)) = reading.panel.as_ref().zip(axis) {
        // The panel's axis reaches as far as its dyes see.
        let pkas = dyes.iter().map(|dye| equilibrium::pka_at(dye, request.ionic_strength, request.temperature));
        let (low, high) = pkas.fold((axis.low, axis.high), |(low, high), pka| (low.min((pka - 2.0).floor()), high.max((pka + 2.0).ceil())));
        let below = Area { y: end + 34.0, ..area };
        end = below.y + chart::lanes::draw(drawing, below, &Axis { low, high, ..axis }, reading.limits, &[Lane::from(panel)]);
    }
    end
}

/// The dyes of the photo in the order of their cups; without a cup the one that was told.
fn dyes_of(reading: &Reading, request: &Request) -> Vec<&'static Indicator> {
    let mut dyes: Vec<&'static Indicator> = Vec::new();
    for dye in reading.cups.iter().map(|cup| request.contents.dye(cup.number)) {
        if !dyes.iter().any(|known| known.name == dye.name) {
            dyes.push(dye);
        }
    }
    if dyes.is_empty() {
        dyes.push(request.contents.dye(1));
    }
    dyes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::space::PhotoSpace;

    use crate::measurement::frame::{Orientation, Samples};
    use crate::present::{examples, raster};

    fn sheet(reading: &Reading) -> Drawing {
        let samples = Samples::Eight(vec![90; 3 * reading.width * reading.height].into());
        let frame = Frame::new(reading.width, reading.height, Orientation::Upright, samples, PhotoSpace::srgb()).unwrap();
        let request = Request { limits: reading.limits, ..Request::default() };
        draw("evening.jpg", &frame, reading, &request)
    }

    fn said(drawing: &Drawing) -> Vec<&str> {
        drawing.items.iter().filter_map(|item| if let Item::Words(w) = item { Some(w.text.as_str()) } else { None }).collect()
    }

    #[test]
    fn everything_stays_on_the_sheet() {
        let mut crowd = examples::three_cups();
        crowd.cups = (1..=15).map(|n| CupReading { number: n, ..crowd.cups[n % 3].clone() }).collect();
        for reading in [examples::three_cups(), examples::fresh_cup(), examples::no_cup(), examples::panel(), crowd] {
            let drawing = sheet(&reading);
            assert!(drawing.width <= 1600.0 && drawing.height <= 1700.0, "{} x {}", drawing.width, drawing.height);
            for item in &drawing.items {
                let Item::Words(words) = item else { continue };
                let width = font::width(&words.text, words.size, words.is_bold);
                let left = match words.anchor {
                    Anchor::Start => words.at.0,
                    Anchor::Middle => words.at.0 - 0.5 * width,
                    Anchor::End => words.at.0 - width,
                };
                assert!(left >= 0.0 && left + width <= drawing.width && words.at.1 <= drawing.height, "{}", words.text);
            }
            assert!(raster::render(&drawing).is_ok());
        }
    }

    #[test]
    fn a_broken_figure_is_not_drawn() {
        let mut reading = examples::three_cups();
        reading.cups[0].ph = Some(f64::NAN);
        reading.cups[0].ph_low = Some(f64::NAN);
        reading.cups[1].lab = Some([f64::NAN; 3]);
        reading.cups[1].posterior = vec![(f64::NAN, f64::NAN), (5.0, f64::NAN)];
        let text = crate::present::svg::render(&sheet(&reading));
        assert!(!text.contains("NaN") && !text.contains("inf"));
    }

    #[test]
    fn verdicts_stand_in_words() {
        let drawing = sheet(&examples::three_cups());
        let all = said(&drawing);
        assert!(all.contains(&"spent  pH 5.9") && all.contains(&"nearing  pH 5.3") && all.contains(&"card"), "{all:?}");
        assert!(all.iter().any(|text| text.contains("pour it shallower")), "{all:?}");
        assert!(!all.iter().any(|text| text.starts_with("unclear  pH")), "{all:?}");
    }

    #[test]
    fn many_cups_carry_no_words_in_a_report() {
        let few = examples::three_cups();
        let mut crowd = examples::three_cups();
        crowd.cups = (1..=15).map(|n| CupReading { number: n, ..crowd.cups[n % 3].clone() }).collect();
        let overlaid = |reading: &Reading| {
            let samples = Samples::Eight(vec![90; 3 * reading.width * reading.height].into());
            let frame = Frame::new(reading.width, reading.height, Orientation::Upright, samples, PhotoSpace::srgb()).unwrap();
            super::overlaid("evening.jpg", &frame, reading)
        };
        assert!(said(&overlaid(&few)).contains(&"spent  pH 5.9"));
        let drawing = overlaid(&crowd);
        assert!(said(&drawing).iter().all(|text| !text.contains("pH")));
        assert!(drawing.width <= 560.0 && drawing.height <= 750.0);
    }

    #[test]
    fn labels_do_not_cover_each_other() {
        let reading = examples::three_cups();
        let drawing = sheet(&reading);
        // The boxes of labels are the only areas in nearly solid paper.
        let boxes: Vec<Area> = drawing
            .items
            .iter()
            .filter_map(|item| match item {
                Item::Fill(c, colour) if *colour == PAPER.at(0.94) => {
                    Some(Area { x: c[0].0, y: c[0].1, w: c[1].0 - c[0].0, h: c[2].1 - c[0].1 })
                }
                _ => None,
            })
            .collect();
        assert_eq!(boxes.len(), 4);
        for (i, one) in boxes.iter().enumerate() {
            assert!(boxes[i + 1..].iter().all(|other| !one.overlaps(*other)));
        }
    }

    #[test]
    fn a_narrow_picture_is_not_stretched() {
        let reading = Reading { width: 100, height: 2000, card: None, ..examples::no_cup() };
        let drawing = sheet(&reading);
        let area = drawing.items.iter().find_map(|item| if let Item::Photo(_, area) = item { Some(*area) } else { None }).unwrap();
        assert!((area.h / area.w - 20.0).abs() < 1e-9);
    }
}
