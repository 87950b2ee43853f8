//! The drawing list: geometry and words once, for both SVG and PNG.

/// A place on the drawing, pixels from the left and from the top.
pub type Point = (f64, f64);

/// An sRGB colour with opacity 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Colour {
    /// Red, green, blue, 0 to 255.
    pub rgb: [u8; 3],
    /// 0 (clear) to 1 (solid).
    pub opacity: f64,
}

impl Colour {
    /// A solid colour from red, green, blue, 0 to 255.
    #[must_use]
    pub const fn solid(red: u8, green: u8, blue: u8) -> Self {
        Colour { rgb: [red, green, blue], opacity: 1.0 }
    }

    /// The same colour at `opacity`, 0 to 1.
    #[must_use]
    pub const fn at(self, opacity: f64) -> Self {
        Colour { rgb: self.rgb, opacity }
    }
}

/// Ink of words and axes.
pub const INK: Colour = Colour::solid(0x1c, 0x1c, 0x1c);
/// Ink of lesser words; 7:1 against paper (contrast formula of WCAG 2.1).
pub const GREY: Colour = Colour::solid(0x50, 0x50, 0x50);
/// Thin guide lines.
pub const GUIDE: Colour = Colour::solid(0xb8, 0xb8, 0xb8);
/// The paper of the drawing.
pub const PAPER: Colour = Colour::solid(0xff, 0xff, 0xff);

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke {
    /// Its colour.
    pub colour: Colour,
    /// Its width, pixels.
    pub width: f64,
    /// Lengths of dash and gap, pixels; solid when absent.
    pub dash: Option<(f64, f64)>,
}

impl Stroke {
    /// A solid line.
    #[must_use]
    pub const fn solid(colour: Colour, width: f64) -> Self {
        Stroke { colour, width, dash: None }
    }

    /// A dashed line.
    #[must_use]
    pub const fn dashed(colour: Colour, width: f64, dash: f64, gap: f64) -> Self {
        Stroke { colour, width, dash: Some((dash, gap)) }
    }
}

/// Which end of the words sits at their place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// The left end.
    Start,
    /// The middle.
    Middle,
    /// The right end.
    End,
}

/// Words on one line.
#[derive(Debug, Clone, PartialEq)]
pub struct Words {
    /// Place of the anchor on the baseline.
    pub at: Point,
    /// The text; characters that the font lacks are left out in PNG.
    pub text: String,
    /// Font size, pixels.
    pub size: f64,
    /// Bold instead of regular.
    pub is_bold: bool,
    /// Which end sits at `at`.
    pub anchor: Anchor,
    /// Ink.
    pub colour: Colour,
}

/// A picture inside the drawing: interleaved RGB, row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct Pixels {
    /// Width in pixels of `rgb`.
    pub width: u32,
    /// Height in pixels of `rgb`.
    pub height: u32,
    /// Three bytes per pixel.
    pub rgb: Vec<u8>,
}

/// A box on the drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Left edge.
    pub x: f64,
    /// Top edge.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

impl Area {
    /// The corners in order around it, from the top left.
    #[must_use]
    pub fn corners(self) -> [Point; 4] {
        [(self.x, self.y), (self.x + self.w, self.y), (self.x + self.w, self.y + self.h), (self.x, self.y + self.h)]
    }

    /// True when the two boxes share some place.
    #[must_use]
    pub fn overlaps(self, other: Area) -> bool {
        self.x < other.x + other.w && other.x < self.x + self.w && self.y < other.y + other.h && other.y < self.y + self.h
    }
}

/// One thing on the drawing; later things cover earlier ones.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A filled outline.
    Fill(Vec<Point>, Colour),
    /// A line through points, closed or open.
    Line(Vec<Point>, bool, Stroke),
    /// A filled circle: centre and radius.
    Disc(Point, f64, Colour),
    /// A circle's line: centre and radius.
    Ring(Point, f64, Stroke),
    /// Words.
    Words(Words),
    /// A photo, stretched into the box.
    Photo(Pixels, Area),
}

/// The list with its size in pixels.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// Width, pixels.
    pub width: f64,
    /// Height, pixels.
    pub height: f64,
    /// What the picture shows, in a sentence; the title of the SVG.
    pub title: String,
    /// From bottom to top.
    pub items: Vec<Item>,
}

impl Drawing {
    /// A filled box.
    pub fn fill_area(&mut self, area: Area, colour: Colour) {
        self.items.push(Item::Fill(area.corners().to_vec(), colour));
    }

    /// The edge of a box.
    pub fn edge(&mut self, area: Area, stroke: Stroke) {
        self.items.push(Item::Line(area.corners().to_vec(), true, stroke));
    }

    /// An open line through `points`.
    pub fn line(&mut self, points: &[Point], stroke: Stroke) {
        self.items.push(Item::Line(points.to_vec(), false, stroke));
    }

    /// Regular words.
    pub fn words(&mut self, at: Point, text: impl Into<String>, size: f64, anchor: Anchor, colour: Colour) {
        self.items.push(Item::Words(Words { at, text: text.into(), size, is_bold: false, anchor, colour }));
    }

    /// Bold words.
    pub fn bold(&mut self, at: Point, text: impl Into<String>, size: f64, anchor: Anchor, colour: Colour) {
        self.items.push(Item::Words(Words { at, text: text.into(), size, is_bold: true, anchor, colour }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn touching_boxes_do_not_overlap() {
        let one = Area { x: 0.0, y: 0.0, w: 10.0, h: 10.0 };
        assert!(!one.overlaps(Area { x: 10.0, ..one }));
        assert!(one.overlaps(Area { x: 9.5, y: 9.5, ..one }));
    }

    // WCAG 2.1: contrast = (lighter + 0.05) / (darker + 0.05) of relative luminance; 7 is its stricter limit for text.
    #[test]
    fn grey_words_can_be_read() {
        let luminance = |c: Colour| {
            let [r, g, b] = c.rgb.map(|v| crate::colour::tone::srgb_decode(f64::from(v) / 255.0));
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        assert!((luminance(PAPER) + 0.05) / (luminance(GREY) + 0.05) > 7.0);
    }
}
