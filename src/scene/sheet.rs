//! A placement sheet on the table: how it is printed, what stands on it.

use super::dye::{Medium, Sample};
use super::layout::{Layout, Quad};
use super::options::{Level, Options};
use super::random::Random;
use super::view::{Point, Pose};
use crate::placement::{Area, CELLS, Corner, CupsError, MARK, Paper, SCALE, Sheet, Spot};

/// A cup on the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// Number of the circle it stands on, from 0.
    pub circle: usize,
    /// How far off the circle's middle it stands, mm.
    pub off: Point,
    /// Radius of its rim, mm.
    pub rim: f64,
    /// Height of its rim over the paper, mm.
    pub height: f64,
    /// Height of the liquid's surface over the paper, mm.
    pub level: f64,
}

/// The sheet and what is on it.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetScene {
    /// Which sheet.
    pub sheet: Sheet,
    /// One for each sample.
    pub standing: Vec<Standing>,
    /// Length printed over length meant.
    pub print_scale: f64,
    /// True: the paper is blank, everything else as on a printed one.
    pub is_blank: bool,
    /// Marks that something lies on.
    pub covered: Vec<Corner>,
    /// Where the card's middle lies off its place, mm, and how it is turned, degrees.
    pub card_off: (Point, f64),
    /// Width and height of the card, mm.
    pub card_size: (f64, f64),
    /// Margin of the picture around the sheet, share of its sides; negative when the sheet does not quite fit.
    pub margin: f64,
}

impl SheetScene {
    /// As hands leave it: cups of one kind some millimetres off, the card a little askew, printed nearly to scale.
    #[must_use]
    pub fn drawn(sheet: Sheet, cups: usize, random: &mut Random) -> Self {
        let circles = sheet.circles();
        let mut free: Vec<usize> = (0..circles.len()).collect();
        let share = random.between(0.72, 0.98);
        let rim = (share * circles[0].radius).min(random.between(26.0, 40.0));
        // Low sample cups, half full to nearly full: from 45 degrees a near wall then hides up to a third of the liquid.
        let height = rim * random.between(0.45, 1.0);
        let level = height * random.between(0.45, 0.8);
        let mut standing: Vec<Standing> = (0..cups.min(circles.len()))
            .map(|_| {
                let circle = free.swap_remove(random.below(free.len()));
                let loose = 0.12 * circles[circle].radius;
                Standing { circle, off: (random.between(-loose, loose), random.between(-loose, loose)), rim, height, level }
            })
            .collect();
        standing.sort_by_key(|s| s.circle);
        SheetScene {
            sheet,
            standing,
            print_scale: 1.0 + random.normal(0.01),
            is_blank: false,
            covered: Vec::new(),
            card_off: ((random.between(-6.0, 6.0), random.between(-8.0, 8.0)), random.between(-6.0, 6.0)),
            card_size: (random.between(56.0, 76.0), random.between(84.0, 120.0)),
            margin: random.between(0.02, 0.125),
        }
    }

    /// Places on the table, mm; the sheet's middle is the origin.
    pub(super) fn layout(&self, has_card: bool) -> Layout {
        let circles = self.sheet.circles();
        let cups = self.standing.iter().map(|cup| {
            let (x, y) = self.on_table(circles[cup.circle].middle);
            ((x + cup.off.0, y + cup.off.1), cup.rim)
        });
        let (w, h) = self.sheet.paper().size();
        let paper = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|p| (p.0 - 0.5 * w, p.1 - 0.5 * h));
        let middle = self.on_table(self.sheet.card().middle());
        let spot = (middle.0 + self.card_off.0.0, middle.1 + self.card_off.0.1);
        let card = has_card.then(|| super::layout::turned(spot, self.card_size, self.card_off.1));
        Layout { cups: cups.collect(), card, paper: Some(paper), clutter: Vec::new() }
    }

    /// A place of the printed sheet on the table: the paper keeps its size, the print is centred on it.
    fn on_table(&self, p: Point) -> Point {
        let (w, h) = self.sheet.paper().size();
        (self.print_scale * (p.0 - 0.5 * w), self.print_scale * (p.1 - 0.5 * h))
    }

    /// Corners of a mark on the table, for what lies on it.
    pub(super) fn cover(&self, corner: Corner) -> Quad {
        let quad = self.sheet.mark(corner).corners().map(|p| self.on_table(p));
        // A finger or a bottle hides about two thirds of a mark.
        [quad[0], quad[1], between(quad[1], quad[2], 0.65), between(quad[0], quad[3], 0.65)]
    }

    /// What is printed, ready to be looked up.
    pub(super) fn print(&self) -> Print {
        let sheet = self.sheet;
        Print {
            sheet,
            scale: self.print_scale,
            is_blank: self.is_blank,
            marks: Corner::ALL.map(|corner| (sheet.mark(corner), sheet.mark_cells(corner))),
            circles: sheet.circles().into_iter().map(|spot| (spot, sheet.number_place(spot))).collect(),
        }
    }
}

/// The print of a sheet.
pub(super) struct Print {
    sheet: Sheet,
    scale: f64,
    is_blank: bool,
    marks: [(Area, [[bool; CELLS]; CELLS]); 4],
    circles: Vec<(Spot, Point)>,
}

impl Print {
    /// Share of ink around a place of the table, seen in a pixel of this many mm.
    pub(super) fn ink(&self, p: Point, pixel: f64) -> f64 {
        const GRID: usize = 3;
        let (w, h) = self.sheet.paper().size();
        let at = (p.0 / self.scale + 0.5 * w, p.1 / self.scale + 0.5 * h);
        if self.is_blank || !(Area { x: 0.0, y: 0.0, w, h }).holds(at, 0.0) {
            return 0.0;
        }
        let mut black = 0;
        for i in 0..GRID * GRID {
            let part = |k: usize| ((k as f64 + 0.5) / GRID as f64 - 0.5) * pixel;
            black += usize::from(self.is_black((at.0 + part(i % GRID), at.1 + part(i / GRID))));
        }
        black as f64 / (GRID * GRID) as f64
    }

    fn is_black(&self, p: Point) -> bool {
        for (place, cells) in &self.marks {
            if place.holds(p, 0.0) {
                let cell = |u: f64| ((u / MARK * CELLS as f64) as usize).min(CELLS - 1);
                return cells[cell(p.1 - place.y)][cell(p.0 - place.x)];
            }
        }
        let dash = |along: f64| along.rem_euclid(4.0) < 2.0;
        let card = self.sheet.card();
        if card.holds(p, 0.2) && !card.holds(p, -0.2) {
            return dash(p.0 + p.1);
        }
        let upper = self.sheet.upper_band();
        if upper.holds(p, 0.0) {
            return is_type(p, upper.y, 5.0);
        }
        let lower = self.sheet.lower_band();
        if lower.holds(p, 0.0) {
            let on_scale = (p.1 - lower.y - 12.0).abs() < 0.15 && p.0 < lower.x + SCALE;
            return on_scale || (p.0 > lower.x + SCALE + 14.0 && is_type(p, lower.y + 3.0, 4.0));
        }
        self.circles.iter().any(|(spot, number)| {
            let (dx, dy) = (p.0 - spot.middle.0, p.1 - spot.middle.1);
            let in_number = (p.0 - number.0).abs() < 1.4 && (p.1 - number.1).abs() < 1.8;
            ((dx.hypot(dy) - spot.radius).abs() < 0.15 && dash(dy.atan2(dx) * spot.radius)) || (in_number && (p.0 - number.0).abs() > 0.5)
        })
    }
}

fn between(a: Point, b: Point, share: f64) -> Point {
    (a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1))
}

/// Lines of type as strokes of uneven spacing; nobody reads them at this size.
fn is_type(p: Point, top: f64, line: f64) -> bool {
    let row = ((p.1 - top) / line).floor();
    let within = (p.1 - top) - row * line;
    let stroke = (p.0 * 0.9 + 3.1 * row).rem_euclid(1.0) < 0.45;
    let word = (p.0 + 5.3 * row).rem_euclid(13.0) < 11.0;
    (1.0..3.0).contains(&within) && stroke && word && row < 4.0
}

/// A photo of `samples` on a sheet with `circles` for them (no fewer than samples), drawn at random within what such a photo must
/// stand: slanted by up to 35 degrees either way, any roll, blur up to 2 pixels, uneven light. `size` is width and height in pixels.
///
/// # Errors
/// [`CupsError`] when there is no sheet with so many circles.
pub fn photo_drawn(
    level: Level,
    samples: Vec<Sample>,
    circles: usize,
    medium: Medium,
    (width, height): (usize, usize),
    random: &mut Random,
) -> Result<Options, CupsError> {
    let sheet = Sheet::new(Paper::ALL[random.below(Paper::ALL.len())], circles)?;
    let scene = SheetScene::drawn(sheet, samples.len(), random);
    let drawn = Options::drawn(level, samples, medium, random.bits());
    let pose =
        slanted(random.between(-35.0, 35.0), random.between(-35.0, 35.0), random.between(-180.0, 180.0), random.between(420.0, 800.0));
    Ok(Options { width, height, sheet: Some(scene), paper: true, clutter: 0, pose, blur: random.between(0.4, 2.0), ..drawn })
}

/// How a camera is held when turned by `yaw` and `pitch` degrees from straight down, at `distance` mm from the sheet's middle.
#[must_use]
pub fn slanted(yaw: f64, pitch: f64, roll: f64, distance: f64) -> Pose {
    let (yaw, pitch) = (yaw.to_radians(), pitch.to_radians());
    let tilt = (yaw.cos() * pitch.cos()).acos().to_degrees();
    let towards = (yaw.tan()).atan2(pitch.tan() / yaw.cos().max(1e-9)).to_degrees();
    Pose { tilt, towards, roll, height: distance }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::placement::Paper;

    #[test]
    fn a_slanted_camera_is_tilted_by_both_turns() {
        assert!((slanted(0.0, 20.0, 0.0, 500.0).tilt - 20.0).abs() < 1e-9);
        assert!((slanted(35.0, 0.0, 0.0, 500.0).tilt - 35.0).abs() < 1e-9);
        // cos 35 squared is 0.671, the cosine of 47.9 degrees.
        assert!((slanted(35.0, 35.0, 0.0, 500.0).tilt - 47.9).abs() < 0.1);
    }

    #[test]
    fn ink_is_where_the_sheet_says() {
        let sheet = Sheet::new(Paper::A4, 4).unwrap();
        let scene = SheetScene { print_scale: 1.0, ..SheetScene::drawn(sheet, 2, &mut Random::new(3)) };
        let mark = scene.on_table((sheet.mark(Corner::UpperLeft).x + 1.0, sheet.mark(Corner::UpperLeft).y + 1.0));
        let print = scene.print();
        assert!((print.ink(mark, 0.5) - 1.0).abs() < 1e-9);
        assert!(print.ink(scene.on_table(sheet.circles()[0].middle), 0.5).abs() < 1e-9);
        assert_eq!(scene.standing.len(), 2);
        assert_ne!(scene.standing[0].circle, scene.standing[1].circle);
    }
}
