//! The placement sheet as a drawing whose unit is the millimetre.

use super::drawing::{Anchor, Area, Colour, Drawing, Item, PAPER, Point, Stroke};
use super::font;
use super::words;
use crate::placement::{self, CELLS, Corner, SCALE, Sheet, Spot};

/// Printers render anything less than black as dots.
const BLACK: Colour = Colour::solid(0, 0, 0);
/// Type size of the title, mm (about 14 points).
const TITLE: f64 = 5.0;
/// Type size of instructions, mm (about 10 points).
const TEXT: f64 = 3.4;
/// Type size of cautions, mm (about 8 points).
const SMALL: f64 = 2.8;
/// Type size of the circles' numbers, mm.
const NUMBER: f64 = 5.0;
/// Thin line, mm.
const THIN: f64 = 0.3;
/// Longer ticks of the scale, mm.
const TICK: f64 = 3.0;

/// Draws the sheet.
#[must_use]
pub fn draw(sheet: Sheet) -> Drawing {
    let (width, height) = sheet.paper().size();
    let mut drawing = Drawing { width, height, title: words::sheet_title(sheet), items: Vec::new() };
    drawing.fill_area(Area { x: 0.0, y: 0.0, w: width, h: height }, PAPER);
    for corner in Corner::ALL {
        mark(&mut drawing, sheet, corner);
    }
    card(&mut drawing, sheet.card());
    for (i, spot) in sheet.circles().iter().enumerate() {
        circle(&mut drawing, sheet, *spot, i + 1);
    }
    instructions(&mut drawing, sheet);
    scale(&mut drawing, sheet.lower_band());
    drawing
}

/// Runs of black cells in a row are one box, so that no hairline shows between them.
fn mark(drawing: &mut Drawing, sheet: Sheet, corner: Corner) {
    let place = sheet.mark(corner);
    let side = place.w / CELLS as f64;
    for (row, cells) in sheet.mark_cells(corner).iter().enumerate() {
        let mut column = 0;
        while column < CELLS {
            let length = cells[column..].iter().take_while(|black| **black).count();
            if length > 0 {
                let (x, y) = (place.x + side * column as f64, place.y + side * row as f64);
                drawing.fill_area(Area { x, y, w: side * length as f64, h: side }, BLACK);
            }
            column += length.max(1);
        }
    }
}

fn card(drawing: &mut Drawing, place: placement::Area) {
    let area = Area { x: place.x, y: place.y, w: place.w, h: place.h };
    drawing.edge(area, Stroke::dashed(BLACK, THIN, 2.0, 2.0));
    let (x, y) = place.middle();
    for (dx, dy) in [(4.0, 0.0), (0.0, 4.0)] {
        drawing.line(&[(x - dx, y - dy), (x + dx, y + dy)], Stroke::solid(BLACK, THIN));
    }
    for (i, line) in words::SHEET_CARD.iter().enumerate() {
        drawing.words((x, place.y + 6.0 + 1.35 * TEXT * i as f64), *line, TEXT, Anchor::Middle, BLACK);
    }
}

fn circle(drawing: &mut Drawing, sheet: Sheet, spot: Spot, number: usize) {
    drawing.items.push(Item::Ring(spot.middle, spot.radius, Stroke::dashed(BLACK, THIN, 2.0, 2.0)));
    let (x, y) = sheet.number_place(spot);
    // Digits are 0.73 of their type size high.
    drawing.bold((x, y + 0.365 * NUMBER), number.to_string(), NUMBER, Anchor::Middle, BLACK);
}

fn instructions(drawing: &mut Drawing, sheet: Sheet) {
    let band = sheet.upper_band();
    drawing.bold((band.x, band.y + 0.8 * TITLE), words::sheet_title(sheet), TITLE, Anchor::Start, BLACK);
    for (i, line) in words::SHEET_STEPS.iter().enumerate() {
        let y = band.y + TITLE + 1.45 * TEXT * (i + 1) as f64;
        drawing.words((band.x, y), format!("{}. {line}", i + 1), TEXT, Anchor::Start, BLACK);
    }
}

/// The scale to check the print by, and cautions to the right of it.
fn scale(drawing: &mut Drawing, band: placement::Area) {
    let base: Point = (band.x, band.y + 12.0);
    drawing.line(&[base, (base.0 + SCALE, base.1)], Stroke::solid(BLACK, THIN));
    for i in 0..=10 {
        let x = base.0 + SCALE * f64::from(i) / 10.0;
        let up = if i % 5 == 0 { TICK } else { 0.6 * TICK };
        drawing.line(&[(x, base.1), (x, base.1 - up)], Stroke::solid(BLACK, THIN));
    }
    drawing.words((base.0, base.1 + 1.4 * TEXT), "0", TEXT, Anchor::Middle, BLACK);
    drawing.words((base.0 + SCALE, base.1 + 1.4 * TEXT), format!("{SCALE} mm"), TEXT, Anchor::Middle, BLACK);
    let x = base.0 + SCALE + 14.0;
    for (i, line) in font::wrapped(words::SHEET_CAUTIONS, SMALL, band.x + band.w - x).iter().enumerate() {
        drawing.words((x, band.y + 6.0 + 1.4 * SMALL * i as f64), line.as_str(), SMALL, Anchor::Start, BLACK);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::placement::{MOST_CUPS, Paper};

    #[test]
    fn words_stay_in_their_bands() {
        for sheet in Paper::ALL.into_iter().flat_map(|paper| (1..=MOST_CUPS).map(move |cups| Sheet::new(paper, cups).unwrap())) {
            let bands = [sheet.upper_band(), sheet.lower_band(), sheet.card()];
            let circles = sheet.circles();
            for item in &draw(sheet).items {
                let Item::Words(words) = item else { continue };
                let width = font::width(&words.text, words.size, words.is_bold);
                let left = words.at.0
                    - match words.anchor {
                        Anchor::Start => 0.0,
                        Anchor::Middle => 0.5 * width,
                        Anchor::End => width,
                    };
                let ends = [(left, words.at.1), (left + width, words.at.1 - 0.7 * words.size)];
                // Numbers stand beside their circles; the 0 of the scale is centred on its end.
                let is_number =
                    words.is_bold && circles.iter().any(|c| (c.middle.0 - left).hypot(c.middle.1 - words.at.1) < c.radius + 12.0);
                assert!(is_number || bands.iter().any(|b| ends.iter().all(|p| b.holds(*p, 2.0))), "{sheet:?}: {}", words.text);
            }
        }
    }
}
