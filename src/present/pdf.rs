//! The drawing list as a PDF page whose unit is the millimetre. Words become outlines, so that every machine prints the same.

use super::drawing::{Anchor, Colour, Drawing, Item, Point, Stroke, Words};
use super::font::{self, Pen};
use pdf_writer::{Content, Finish, Pdf, Rect, Ref, TextStr};

/// PDF units (1/72 inch, ISO 32000-1 section 8.3.2.3) in a millimetre.
const UNITS: f64 = 72.0 / 25.4;
/// Distance of the control points of a quarter circle from its ends, in radii: 4/3 (sqrt(2) - 1), off by less than 0.03 %.
const QUARTER: f64 = 0.552_284_75;

/// The whole file. Opacity is not used by printed pages and taken as solid; a photo has no place on one and is left out.
#[must_use]
pub fn render(drawing: &Drawing) -> Vec<u8> {
    let [catalogue, pages, page, content, information] = [1, 2, 3, 4, 5].map(Ref::new);
    let mut pdf = Pdf::new();
    pdf.catalog(catalogue).pages(pages);
    pdf.pages(pages).kids([page]).count(1);
    pdf.document_info(information).title(TextStr(&drawing.title));
    let mut sheet = pdf.page(page);
    sheet.media_box(Rect::new(0.0, 0.0, (drawing.width * UNITS) as f32, (drawing.height * UNITS) as f32));
    sheet.parent(pages).contents(content);
    sheet.resources().finish();
    sheet.finish();
    pdf.stream(content, &operators(drawing));
    pdf.finish()
}

/// Millimetres downwards -> PDF units upwards.
fn operators(drawing: &Drawing) -> Vec<u8> {
    let mut content = Content::new();
    content.transform([UNITS as f32, 0.0, 0.0, -UNITS as f32, 0.0, (drawing.height * UNITS) as f32]);
    for item in &drawing.items {
        draw(&mut content, item);
    }
    content.finish().into_vec()
}

fn draw(content: &mut Content, item: &Item) {
    match item {
        Item::Fill(points, colour) => {
            ink(content, *colour);
            through(content, points, true);
            content.fill_nonzero();
        }
        Item::Line(points, is_closed, pen) => {
            stroke(content, *pen);
            through(content, points, *is_closed);
            content.stroke();
        }
        Item::Disc(centre, radius, colour) => {
            ink(content, *colour);
            circle(content, *centre, *radius);
            content.fill_nonzero();
        }
        Item::Ring(centre, radius, pen) => {
            stroke(content, *pen);
            circle(content, *centre, *radius);
            content.stroke();
        }
        Item::Words(words) => write(content, words),
        Item::Photo(..) => {}
    }
}

fn shares(colour: Colour) -> [f32; 3] {
    colour.rgb.map(|v| f32::from(v) / 255.0)
}

fn ink(content: &mut Content, colour: Colour) {
    let [r, g, b] = shares(colour);
    content.set_fill_rgb(r, g, b);
}

fn stroke(content: &mut Content, pen: Stroke) {
    let [r, g, b] = shares(pen.colour);
    content.set_stroke_rgb(r, g, b).set_line_width(pen.width as f32);
    let dash = pen.dash.map_or(Vec::new(), |(dash, gap)| vec![dash as f32, gap as f32]);
    content.set_dash_pattern(dash, 0.0);
}

/// Rounded to a thousandth of a millimetre: no printer is finer, and the file is half as long.
fn fine(v: f64) -> f32 {
    ((1000.0 * v).round() / 1000.0) as f32
}

fn through(content: &mut Content, points: &[Point], is_closed: bool) {
    for (i, (x, y)) in points.iter().enumerate() {
        if i == 0 {
            content.move_to(fine(*x), fine(*y));
        } else {
            content.line_to(fine(*x), fine(*y));
        }
    }
    if is_closed {
        content.close_path();
    }
}

fn circle(content: &mut Content, (x, y): Point, radius: f64) {
    let at = |u: f64, v: f64| (fine(x + u * radius), fine(y + v * radius));
    let (x0, y0) = at(1.0, 0.0);
    content.move_to(x0, y0);
    for (from, to) in [((1.0, 0.0), (0.0, 1.0)), ((0.0, 1.0), (-1.0, 0.0)), ((-1.0, 0.0), (0.0, -1.0)), ((0.0, -1.0), (1.0, 0.0))] {
        let (a, b) = (at(from.0 + QUARTER * to.0, from.1 + QUARTER * to.1), at(to.0 + QUARTER * from.0, to.1 + QUARTER * from.1));
        let end = at(to.0, to.1);
        content.cubic_to(a.0, a.1, b.0, b.1, end.0, end.1);
    }
    content.close_path();
}

/// Outlines of glyphs as path operators.
struct Outlines<'a> {
    content: &'a mut Content,
    last: Point,
}

impl Pen for Outlines<'_> {
    fn start(&mut self, at: Point) {
        self.content.move_to(fine(at.0), fine(at.1));
        self.last = at;
    }
    fn line(&mut self, to: Point) {
        self.content.line_to(fine(to.0), fine(to.1));
        self.last = to;
    }
    fn bend(&mut self, control: Point, to: Point) {
        // A quadratic curve is the cubic one whose control points lie two thirds of the way to its own.
        let towards = |end: Point| (end.0 + (control.0 - end.0) * 2.0 / 3.0, end.1 + (control.1 - end.1) * 2.0 / 3.0);
        let (a, b) = (towards(self.last), towards(to));
        self.content.cubic_to(fine(a.0), fine(a.1), fine(b.0), fine(b.1), fine(to.0), fine(to.1));
        self.last = to;
    }
    fn close(&mut self) {
        self.content.close_path();
    }
}

fn write(content: &mut Content, words: &Words) {
    ink(content, words.colour);
    let width = font::width(&words.text, words.size, words.is_bold);
    let back = match words.anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => 0.5 * width,
        Anchor::End => width,
    };
    let mut pen = Outlines { content, last: words.at };
    font::outline(&words.text, (words.at.0 - back, words.at.1), words.size, words.is_bold, &mut pen);
    content.fill_nonzero();
}

#[cfg(test)]
mod tests {
    use super::*;

    // ISO 216: A4 is 297 x 210 mm; ISO 32000-1: 72 units an inch of 25.4 mm, hence 841.89 x 595.28.
    #[test]
    fn a_page_has_the_size_of_its_paper() {
        let drawing = Drawing { width: 297.0, height: 210.0, title: "sheet".to_owned(), items: Vec::new() };
        let text = String::from_utf8_lossy(&render(&drawing)).into_owned();
        let at = text.find("/MediaBox").unwrap();
        let numbers: Vec<f64> = text[at..].split(['[', ']']).nth(1).unwrap().split_whitespace().map(|n| n.parse().unwrap()).collect();
        assert_eq!(numbers.len(), 4);
        assert!((numbers[2] - 841.89).abs() < 0.01 && (numbers[3] - 595.28).abs() < 0.01, "{numbers:?}");
    }
}
