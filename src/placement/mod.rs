//! The placement sheet: what is printed where, in millimetres from the upper left corner of the paper, x to the right, y downwards.
//!
//! The drawing prints it, the finder recognises it and the renderer of test photos paints it, all from this one description. The sheet
//! lies landscape: a mark in each corner, the card's place on the left, circles for the cups on the right, words above and below.

mod mark;

pub use mark::{CELLS, FIRST_ID, LAST_ID};

/// A place on the sheet, mm.
pub type Point = (f64, f64);

/// Most cups that a sheet has circles for.
pub const MOST_CUPS: usize = 12;
/// From the paper's edge to print, mm: many printers leave 5 to 10 mm white.
pub const EDGE: f64 = 12.0;
/// Side of a corner mark, mm: eight cells of 3 mm, which stay over three pixels wide on a 700-pixel picture of the sheet.
pub const MARK: f64 = 24.0;
/// White that a mark needs around it, mm: more than one cell.
const QUIET: f64 = 8.0;
/// Width of the card's place, mm.
const CARD_WIDE: f64 = 72.0;
/// White between the card's place and the circles, mm.
const CARD_GAP: f64 = 10.0;
/// White between two circles as a share of the pitch: enough for the light of the paper to be measured there.
const CIRCLE_GAP: f64 = 0.16;
/// Largest circle, mm across: wider sample cups are rare.
const WIDEST_CIRCLE: f64 = 80.0;
/// Length of the printed scale, mm.
pub const SCALE: f64 = 100.0;
/// Side of the square in the middle of the card's place that a card surely covers, mm: cards of a wallet's size are 54 mm wide.
pub const CARD_CORE: f64 = 36.0;

/// Size of the paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Paper {
    /// ISO 216: 297 x 210 mm.
    A4,
    /// ANSI/ASME Y14.1: 11 x 8.5 inches.
    Letter,
}

impl Paper {
    /// Both sizes.
    pub const ALL: [Paper; 2] = [Paper::A4, Paper::Letter];

    /// Width and height as the sheet lies, mm.
    #[must_use]
    pub fn size(self) -> (f64, f64) {
        match self {
            Paper::A4 => (297.0, 210.0),
            Paper::Letter => (279.4, 215.9),
        }
    }

    /// Its usual name in lower case.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Paper::A4 => "a4",
            Paper::Letter => "letter",
        }
    }
}

/// A corner of the sheet, clockwise from the upper left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Corner {
    /// Upper left.
    UpperLeft,
    /// Upper right.
    UpperRight,
    /// Lower right.
    LowerRight,
    /// Lower left.
    LowerLeft,
}

impl Corner {
    /// All four, clockwise from the upper left.
    pub const ALL: [Corner; 4] = [Corner::UpperLeft, Corner::UpperRight, Corner::LowerRight, Corner::LowerLeft];

    /// Place in [`Corner::ALL`].
    #[must_use]
    pub fn index(self) -> usize {
        self as usize
    }

    /// In words.
    #[must_use]
    pub fn name(self) -> &'static str {
        ["upper left", "upper right", "lower right", "lower left"][self.index()]
    }
}

/// An upright box on the sheet, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Left edge.
    pub x: f64,
    /// Upper edge.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

impl Area {
    /// Corners clockwise from the upper left.
    #[must_use]
    pub fn corners(self) -> [Point; 4] {
        [(self.x, self.y), (self.x + self.w, self.y), (self.x + self.w, self.y + self.h), (self.x, self.y + self.h)]
    }

    /// Its middle.
    #[must_use]
    pub fn middle(self) -> Point {
        (self.x + 0.5 * self.w, self.y + 0.5 * self.h)
    }

    /// True when the place lies inside, or no farther outside than `margin` mm.
    #[must_use]
    pub fn holds(self, (x, y): Point, margin: f64) -> bool {
        (self.x - margin..=self.x + self.w + margin).contains(&x) && (self.y - margin..=self.y + self.h + margin).contains(&y)
    }
}

/// A circle that a cup is put on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Its middle, mm.
    pub middle: Point,
    /// Its radius, mm.
    pub radius: f64,
}

/// A number of cups that no sheet is made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a sheet holds 1 to {MOST_CUPS} cups, not {0}")]
pub struct CupsError(pub usize);

/// One kind of sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Sheet {
    paper: Paper,
    cups: usize,
}

impl Sheet {
    /// A sheet with this many circles, 1 to [`MOST_CUPS`].
    ///
    /// # Errors
    /// [`CupsError`] for any other number.
    pub fn new(paper: Paper, cups: usize) -> Result<Self, CupsError> {
        if (1..=MOST_CUPS).contains(&cups) { Ok(Sheet { paper, cups }) } else { Err(CupsError(cups)) }
    }

    /// Its paper.
    #[must_use]
    pub fn paper(self) -> Paper {
        self.paper
    }

    /// Number of circles.
    #[must_use]
    pub fn cups(self) -> usize {
        self.cups
    }

    /// The box of a corner's mark.
    #[must_use]
    pub fn mark(self, corner: Corner) -> Area {
        let (w, h) = self.paper.size();
        let (left, top) = (EDGE, EDGE);
        let (right, bottom) = (w - EDGE - MARK, h - EDGE - MARK);
        let (x, y) = match corner {
            Corner::UpperLeft => (left, top),
            Corner::UpperRight => (right, top),
            Corner::LowerRight => (right, bottom),
            Corner::LowerLeft => (left, bottom),
        };
        Area { x, y, w: MARK, h: MARK }
    }

    /// The box in the middle of which the card is laid.
    #[must_use]
    pub fn card(self) -> Area {
        let (_, h) = self.paper.size();
        let top = EDGE + MARK + QUIET;
        Area { x: EDGE, y: top, w: CARD_WIDE, h: h - 2.0 * top }
    }

    /// The square in the middle of the card's place.
    #[must_use]
    pub fn card_core(self) -> Area {
        let (x, y) = self.card().middle();
        Area { x: x - 0.5 * CARD_CORE, y: y - 0.5 * CARD_CORE, w: CARD_CORE, h: CARD_CORE }
    }

    /// The circles in the order of their numbers: row by row, each from left to right.
    #[must_use]
    pub fn circles(self) -> Vec<Spot> {
        let (w, h) = self.paper.size();
        let (left, top) = (EDGE + CARD_WIDE + CARD_GAP, EDGE + MARK + QUIET);
        let (wide, high) = (w - EDGE - left, h - 2.0 * top);
        let pitch = |rows: usize| (wide / self.cups.div_ceil(rows) as f64).min(high / rows as f64);
        let rows = (1..=self.cups).max_by(|&a, &b| pitch(a).total_cmp(&pitch(b)).then(b.cmp(&a))).unwrap_or(1);
        let columns = self.cups.div_ceil(rows);
        let radius = 0.5 * ((1.0 - CIRCLE_GAP) * pitch(rows)).min(WIDEST_CIRCLE);
        let cell = (wide / columns as f64, high / rows as f64);
        (0..self.cups)
            .map(|i| {
                let (column, row) = ((i % columns) as f64, (i / columns) as f64);
                Spot { middle: (left + (column + 0.5) * cell.0, top + (row + 0.5) * cell.1), radius }
            })
            .collect()
    }

    /// The band for words between the upper marks.
    #[must_use]
    pub fn upper_band(self) -> Area {
        let (w, _) = self.paper.size();
        let side = EDGE + MARK + QUIET;
        Area { x: side, y: EDGE, w: w - 2.0 * side, h: MARK }
    }

    /// The band for scale and words between the lower marks.
    #[must_use]
    pub fn lower_band(self) -> Area {
        let (_, h) = self.paper.size();
        Area { y: h - EDGE - MARK, ..self.upper_band() }
    }

    /// Where a circle's number is printed: the middle of a digit 5 mm high.
    #[must_use]
    pub fn number_place(self, spot: Spot) -> Point {
        let away = spot.radius + 4.0;
        (spot.middle.0 - 0.76 * away, spot.middle.1 - 0.76 * away)
    }

    /// True where the sheet is blank and nothing is meant to lie: at least `margin` mm from print, card and circles and from the edge.
    #[must_use]
    pub fn is_blank(self, p: Point, margin: f64) -> bool {
        let (w, h) = self.paper.size();
        let inside = Area { x: margin, y: margin, w: w - 2.0 * margin, h: h - 2.0 * margin }.holds(p, 0.0);
        let printed = Corner::ALL.iter().any(|c| self.mark(*c).holds(p, margin))
            || [self.card(), self.upper_band(), self.lower_band()].iter().any(|a| a.holds(p, margin));
        inside
            && !printed
            && self.circles().iter().all(|spot| {
                let number = self.number_place(*spot);
                (p.0 - spot.middle.0).hypot(p.1 - spot.middle.1) > spot.radius + margin
                    && (p.0 - number.0).abs().max((p.1 - number.1).abs()) > 3.5 + margin
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all() -> impl Iterator<Item = Sheet> {
        Paper::ALL.into_iter().flat_map(|paper| (1..=MOST_CUPS).map(move |cups| Sheet::new(paper, cups).unwrap()))
    }

    #[test]
    fn a_sheet_holds_one_to_twelve_cups() {
        assert_eq!(Sheet::new(Paper::A4, 0), Err(CupsError(0)));
        assert_eq!(Sheet::new(Paper::A4, 13), Err(CupsError(13)));
        assert!(all().all(|sheet| sheet.circles().len() == sheet.cups()));
    }

    #[test]
    fn nothing_overlaps_and_everything_can_be_printed() {
        for sheet in all() {
            let (w, h) = sheet.paper().size();
            let inside = Area { x: 10.0, y: 10.0, w: w - 20.0, h: h - 20.0 };
            let boxes: Vec<Area> =
                Corner::ALL.iter().map(|c| sheet.mark(*c)).chain([sheet.card(), sheet.upper_band(), sheet.lower_band()]).collect();
            for (i, a) in boxes.iter().enumerate() {
                assert!(a.corners().iter().all(|p| inside.holds(*p, 0.0)), "{sheet:?}: {a:?}");
                let apart = |b: &Area| a.x + a.w <= b.x || b.x + b.w <= a.x || a.y + a.h <= b.y || b.y + b.h <= a.y;
                assert!(boxes[..i].iter().all(apart), "{sheet:?}: {a:?}");
            }
            let circles = sheet.circles();
            for (i, one) in circles.iter().enumerate() {
                assert!(inside.holds(one.middle, -one.radius), "{sheet:?}");
                assert!(one.radius >= 16.0, "a small medicine cup is 32 mm wide: {sheet:?}");
                let gap = |b: &Spot| (one.middle.0 - b.middle.0).hypot(one.middle.1 - b.middle.1) - one.radius - b.radius;
                assert!(circles[..i].iter().all(|other| gap(other) > 5.0), "{sheet:?}");
                assert!(boxes.iter().all(|a| !a.holds(one.middle, one.radius)), "{sheet:?}");
            }
        }
    }

    #[test]
    fn there_is_blank_paper_on_every_side() {
        for sheet in all() {
            let (w, h) = sheet.paper().size();
            let mut quarters = [0; 4];
            for i in 0..(w / 4.0) as usize {
                for j in 0..(h / 4.0) as usize {
                    let p = (4.0 * i as f64, 4.0 * j as f64);
                    if sheet.is_blank(p, 2.0) {
                        quarters[usize::from(p.0 > 0.5 * w) + 2 * usize::from(p.1 > 0.5 * h)] += 1;
                    }
                }
            }
            assert!(quarters.iter().all(|n| *n > 40), "{sheet:?}: {quarters:?}");
        }
    }
}
