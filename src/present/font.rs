//! The embedded font: widths for the layout, outlines for PNG.
//!
//! DejaVu Sans, regular and bold, cut down to the characters used here; licence in `font/LICENCE.txt`.

use super::drawing::Point;
use std::sync::OnceLock;
use ttf_parser::{Face, OutlineBuilder};

const REGULAR: &[u8] = include_bytes!("font/DejaVuSans-subset.ttf");
const BOLD: &[u8] = include_bytes!("font/DejaVuSans-Bold-subset.ttf");

/// Family names for SVG, whose viewer brings its own font.
pub const FAMILY: &str = "DejaVu Sans, Verdana, sans-serif";

fn face(is_bold: bool) -> Option<&'static Face<'static>> {
    static FACES: OnceLock<[Option<Face<'static>>; 2]> = OnceLock::new();
    let faces = FACES.get_or_init(|| [REGULAR, BOLD].map(|bytes| Face::parse(bytes, 0).ok()));
    faces[usize::from(is_bold)].as_ref()
}

/// Width in pixels of `text` at `size` pixels.
#[must_use]
pub fn width(text: &str, size: f64, is_bold: bool) -> f64 {
    let Some(face) = face(is_bold) else { return 0.0 };
    let units: u32 =
        text.chars().filter_map(|c| face.glyph_index(c)).filter_map(|glyph| face.glyph_hor_advance(glyph)).map(u32::from).sum();
    f64::from(units) * size / f64::from(face.units_per_em())
}

/// `text` broken into lines no wider than `columns` pixels; a word longer than that stays whole.
#[must_use]
pub fn wrapped(text: &str, size: f64, columns: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if width(&format!("{line} {word}"), size, false) <= columns => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// `text` cut with three dots so that it is no wider than `columns` pixels.
#[must_use]
pub fn cut(text: &str, size: f64, is_bold: bool, columns: f64) -> String {
    if width(text, size, is_bold) <= columns {
        return text.to_owned();
    }
    let mut kept: String = text.to_owned();
    while !kept.is_empty() && width(&format!("{kept}..."), size, is_bold) > columns {
        kept.pop();
    }
    format!("{}...", kept.trim_end())
}

/// A pen that receives the outlines of glyphs, in pixels of the drawing.
pub trait Pen {
    /// Starts an outline.
    fn start(&mut self, at: Point);
    /// A straight line.
    fn line(&mut self, to: Point);
    /// A quadratic curve with one control point.
    fn bend(&mut self, control: Point, to: Point);
    /// Closes the outline.
    fn close(&mut self);
}

/// Glyph units with y upwards -> drawing pixels with y downwards.
struct Placed<'a, P: Pen> {
    pen: &'a mut P,
    origin: Point,
    scale: f64,
}

impl<P: Pen> Placed<'_, P> {
    fn point(&self, x: f32, y: f32) -> Point {
        (self.origin.0 + f64::from(x) * self.scale, self.origin.1 - f64::from(y) * self.scale)
    }
}

impl<P: Pen> OutlineBuilder for Placed<'_, P> {
    fn move_to(&mut self, x: f32, y: f32) {
        self.pen.start(self.point(x, y));
    }
    fn line_to(&mut self, x: f32, y: f32) {
        self.pen.line(self.point(x, y));
    }
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        self.pen.bend(self.point(x1, y1), self.point(x, y));
    }
    // TrueType outlines are quadratic; a cubic one would be drawn through its middle.
    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.pen.bend(self.point((x1 + x2) / 2.0, (y1 + y2) / 2.0), self.point(x, y));
    }
    fn close(&mut self) {
        self.pen.close();
    }
}

/// Sends the outlines of `text`, whose baseline starts at `origin`, to `pen`.
pub fn outline(text: &str, origin: Point, size: f64, is_bold: bool, pen: &mut impl Pen) {
    let Some(face) = face(is_bold) else { return };
    let scale = size / f64::from(face.units_per_em());
    let mut x = origin.0;
    for glyph in text.chars().filter_map(|c| face.glyph_index(c)) {
        face.outline_glyph(glyph, &mut Placed { pen: &mut *pen, origin: (x, origin.1), scale });
        x += f64::from(face.glyph_hor_advance(glyph).unwrap_or(0)) * scale;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::indicator::catalogue;

    #[test]
    fn both_faces_open_and_hold_ascii() {
        for is_bold in [false, true] {
            let face = face(is_bold).unwrap();
            assert!((' '..='~').all(|c| face.glyph_index(c).is_some()));
        }
    }

    #[test]
    fn every_name_can_be_written() {
        let face = face(false).unwrap();
        let text: String = catalogue::all().iter().map(|dye| format!("{} {}", dye.name, dye.source)).collect();
        for c in text.chars() {
            assert!(face.glyph_index(c).is_some(), "{c}");
        }
    }

    // DejaVu Sans: a digit is 1303 of 2048 units wide (its hmtx table).
    #[test]
    fn digits_have_the_width_of_the_table() {
        assert!((width("55", 20.48, false) - 2.0 * 13.03).abs() < 1e-6);
    }

    #[test]
    fn wrapping_and_cutting_keep_the_limit() {
        let lines = wrapped("retake under white light, paper covered, safelight off", 20.0, 200.0);
        assert!(lines.len() > 2 && lines.iter().all(|l| width(l, 20.0, false) <= 200.0));
        let short = cut("a very long file name of a photo.jpg", 20.0, false, 150.0);
        assert!(short.ends_with("...") && width(&short, 20.0, false) <= 150.0);
    }
}
