//! A placement sheet in the photo: its marks tell the view, the view puts the sheet straight, and on the straight picture cups are true
//! circles at known places, whatever the slant: a plane parallel to the sheet looks like the sheet itself, moved and enlarged.

mod homography;
mod light;
mod marks;
#[cfg(test)]
mod tests;

pub(in crate::measurement) use homography::Homography;
pub use light::{CupLight, LightField};

use super::circle;
use super::cup::{self, FoundCup};
use super::median::{median, median_colour};
use super::pyramid::Pyramid;
use super::vote;
use super::{CardRegion, Circle, CupRegion, Rectangle};
use crate::measurement::frame::{Frame, Reduced};
use crate::placement::{Corner, Point, Sheet, Spot};
use homography::Eye;
use marks::Mark;

/// A sheet as it was seen.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenSheet {
    /// Which sheet.
    pub sheet: Sheet,
    /// Marks that were read.
    pub seen: Vec<Corner>,
    /// True when enough of them were, so that the sheet's places are known.
    pub is_used: bool,
    /// Corners of the paper in pixels of the upright photo, clockwise from its own upper left; `None` when it is not used.
    pub corners: Option<[Point; 4]>,
    /// How the light falls off over it.
    pub light: Option<LightField>,
    /// Encoded R, G, B of its paper as it would be in the light on the card's place, 0 to 1.
    pub paper: Option<[f64; 3]>,
}

impl SeenSheet {
    /// Marks that were not read.
    #[must_use]
    pub fn missing(&self) -> Vec<Corner> {
        Corner::ALL.into_iter().filter(|c| !self.seen.contains(c)).collect()
    }
}

/// A cup on the sheet.
pub(super) struct SheetCup {
    pub(super) region: CupRegion,
    /// The number printed at its circle.
    pub(super) number: usize,
    /// Light at the cup against that at the card's place.
    pub(super) light: Option<CupLight>,
}

/// What a sheet tells.
pub(super) struct OnSheet {
    pub(super) seen: SeenSheet,
    pub(super) card: Option<CardRegion>,
    pub(super) cups: Vec<SheetCup>,
}

/// Longest side of the picture on which marks are placed exactly, pixels. Twice as many placed cups no better.
const FINE: usize = 1800;
/// Longest side of the straight picture, pixels, as that of the picture that cups are else looked for on.
const STRAIGHT: f64 = super::LONGEST as f64;
/// Table around the sheet on the straight picture, mm: cups at its edge lean out over it.
const AROUND: f64 = 40.0;
/// A mark's corner may lie this share of the mark's side off the common view: paper curls, a foreign mark lies anywhere.
const MOST_OFF: f64 = 0.12;
/// Highest surface of a liquid, mm: a tall glass.
const HIGHEST: f64 = 90.0;
/// Steps of height tried, mm.
const STEP: f64 = 2.0;
/// Farthest that a cup may stand off its circle's middle, share of the circle's radius.
const MOST_ASIDE: f64 = 0.5;
/// How far off a cup is mostly put, share of the circle's radius.
const LOOSE: f64 = 0.12;
/// Height of a liquid's surface and its spread, mm, before any was seen: low cups to small glasses.
const LEVELS: (f64, f64) = (22.0, 18.0);
/// Spread of the height among cups of one photo, mm: mostly cups of one kind, filled alike.
const ALIKE: f64 = 10.0;
/// Discs less sure than this are print, glare or a shadow.
const LEAST_SURE: f64 = 0.25;
/// Radii of a liquid over that of the circle its cup stands on.
const LIQUID: (f64, f64) = (0.22, 1.08);

/// The marks that are read on the small picture.
pub(super) fn marks(small: &Reduced) -> Vec<Mark> {
    marks::read(small)
}

/// What the sheet of these marks tells; `None` without a single mark.
pub(super) fn find(frame: &Frame, small: &Reduced, mut marks: Vec<Mark>) -> Option<OnSheet> {
    if marks.is_empty() {
        return None;
    }
    let fine = if small.factor > 1.0 { frame.reduced(FINE) } else { small.clone() };
    if small.factor > 1.0 {
        let better = marks::read(&fine);
        let unseen = marks.into_iter().filter(|m| !better.iter().any(|b| (b.sheet, b.corner) == (m.sheet, m.corner)));
        let rest: Vec<Mark> = unseen.collect();
        marks = better;
        marks.extend(rest);
    }
    let sheet = commonest(&marks)?;
    marks.retain(|m| m.sheet == sheet);
    let view = view_of(sheet, &mut marks);
    let mut seen = SeenSheet {
        sheet,
        seen: marks.iter().map(|m| m.corner).collect(),
        is_used: view.is_some(),
        corners: None,
        light: None,
        paper: None,
    };
    seen.seen.sort_by_key(|c| c.index());
    let Some(view) = view else { return Some(OnSheet { seen, card: None, cups: Vec::new() }) };
    let straight = Straight::of(&fine, sheet, &view);
    let eye = view.eye((frame.upright_width() as f64, frame.upright_height() as f64));
    let found = eye.map_or(Vec::new(), |eye| straight.cups(&eye));
    let paper = straight.paper(&found);
    seen.light = LightField::fit(sheet, &paper);
    seen.paper = seen.light.as_ref().and_then(|field| field.white_at(sheet.card().middle(), &paper, PAPER_REACH));
    seen.corners = corners_of(sheet, &view);
    let card = straight.card(&view, seen.light.as_ref());
    let light = |cup: &Standing| seen.light.as_ref().map(|field| field.between(cup.middle, sheet.card().middle()));
    let cups = found
        .iter()
        .filter_map(|cup| Some(SheetCup { region: cup.region(&view, eye.as_ref()?)?, number: cup.circle + 1, light: light(cup) }))
        .collect();
    Some(OnSheet { seen, card, cups })
}

/// The sheet that most marks belong to; the first by code among equals.
fn commonest(marks: &[Mark]) -> Option<Sheet> {
    let count = |sheet: Sheet| Corner::ALL.iter().filter(|c| marks.iter().any(|m| (m.sheet, m.corner) == (sheet, **c))).count();
    marks.iter().map(|m| m.sheet).rev().max_by_key(|sheet| count(*sheet))
}

/// The view that at least three marks agree on; those that do not are dropped.
fn view_of(sheet: Sheet, marks: &mut Vec<Mark>) -> Option<Homography> {
    // The same corner twice: a second sheet, or its picture in a mirror. Which is which cannot be told.
    if Corner::ALL.iter().any(|c| marks.iter().filter(|m| m.corner == *c).count() > 1) {
        return None;
    }
    loop {
        if marks.len() < 3 {
            return None;
        }
        let pairs: Vec<(Point, Point)> =
            marks.iter().flat_map(|m| sheet.mark(m.corner).corners().into_iter().zip(m.corners).collect::<Vec<_>>()).collect();
        let (w, h) = sheet.paper().size();
        let view = Homography::through(&pairs)?.facing((0.5 * w, 0.5 * h))?;
        let off = |m: &Mark| {
            let side = (0..4).map(|i| distance(m.corners[i], m.corners[(i + 1) % 4])).fold(f64::INFINITY, f64::min);
            let meant = sheet.mark(m.corner).corners();
            let worst = (0..4).map(|i| view.at(meant[i]).map_or(f64::INFINITY, |p| distance(p, m.corners[i]))).fold(0.0, f64::max);
            worst / side
        };
        let (at, worst) = marks.iter().map(off).enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?;
        if worst < MOST_OFF {
            return Some(view);
        }
        marks.remove(at);
    }
}

fn distance(a: Point, b: Point) -> f64 {
    (a.0 - b.0).hypot(a.1 - b.1)
}

fn corners_of(sheet: Sheet, view: &Homography) -> Option<[Point; 4]> {
    let (w, h) = sheet.paper().size();
    let [a, b, c, d] = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|p| view.at(p));
    Some([a?, b?, c?, d?])
}

/// The sheet as seen from straight above.
struct Straight {
    sheet: Sheet,
    picture: Reduced,
    /// Pixels a millimetre.
    scale: f64,
}

/// A cup on the straight picture.
struct Standing {
    /// Which circle it stands on, from 0.
    circle: usize,
    /// The liquid's middle and radius as seen on the sheet, mm.
    middle: Point,
    radius: f64,
    confidence: f64,
    /// How high the surface must be for that, mm.
    height: f64,
    /// How far off its circle, share of the circle's radius.
    aside: f64,
    /// How unlikely that is, in squared spreads.
    odds: f64,
}

impl Straight {
    fn of(fine: &Reduced, sheet: Sheet, view: &Homography) -> Self {
        let (w, h) = sheet.paper().size();
        let scale = STRAIGHT / (w + 2.0 * AROUND);
        let (width, height) = (STRAIGHT as usize, ((h + 2.0 * AROUND) * scale) as usize);
        let rows: Vec<usize> = (0..height).collect();
        // From upper left corners of straight pixels to centres of fine ones, at once: half a million pixels are looked up.
        let view = view.in_units((1.0 / scale, -AROUND), (1.0 / fine.factor, 0.5 / fine.factor - 0.5));
        let sample = |x: usize, y: usize| {
            let mut sum = [0.0f32; 3];
            // Two by two places a pixel: the photo is up to three times as fine.
            for (dx, dy) in [(0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)] {
                let seen = between(fine, view.at((x as f64 + dx, y as f64 + dy)).unwrap_or_default());
                for c in 0..3 {
                    sum[c] += 0.25 * seen[c];
                }
            }
            sum.map(|v| (v + 0.5) as u8)
        };
        let rgb = crate::measurement::share::map(&rows, |&y| (0..width).flat_map(|x| sample(x, y)).collect::<Vec<u8>>()).concat();
        Straight { sheet, picture: Reduced { width, height, factor: 1.0, rgb }, scale }
    }

    /// Straight pixels (centres at whole numbers) to mm.
    fn place(&self, x: f64, y: f64) -> Point {
        ((x + 0.5) / self.scale - AROUND, (y + 0.5) / self.scale - AROUND)
    }

    /// Encoded colour at a place, mm; mean over a square of about `side` mm.
    fn colour(&self, p: Point, side: f64) -> Option<[f32; 3]> {
        let reach = (0.5 * side * self.scale).floor() as i64;
        let (x, y) = (((p.0 + AROUND) * self.scale) as i64, ((p.1 + AROUND) * self.scale) as i64);
        if x < reach || y < reach || x + reach >= self.picture.width as i64 || y + reach >= self.picture.height as i64 {
            return None;
        }
        let mut sum = [0u32; 3];
        for v in y - reach..=y + reach {
            for u in x - reach..=x + reach {
                let pixel = self.picture.pixel(u as usize, v as usize);
                for c in 0..3 {
                    sum[c] += u32::from(pixel[c]);
                }
            }
        }
        let count = ((2 * reach + 1) * (2 * reach + 1)) as f32;
        Some(sum.map(|s| s as f32 / count / 255.0))
    }

    /// Cups that stand on circles, in the order of the circles.
    fn cups(&self, eye: &Eye) -> Vec<Standing> {
        let pyramid = Pyramid::new(&self.picture);
        let circles = self.sheet.circles();
        let discs: Vec<FoundCup> = cup::suspects(&pyramid, vote::candidates(&pyramid))
            .into_iter()
            .filter_map(|found| {
                let (towards, tangent) = eye.slant(self.place(f64::from(found.x), f64::from(found.y)));
                if tangent <= SLANTED {
                    return Some(found);
                }
                let (x, y, radius) = settled(&pyramid, &found, (-towards.0 as f32, -towards.1 as f32))?;
                Some(FoundCup { x, y, radius, ..found })
            })
            .collect();
        let first = self.assigned(&discs, &circles, eye, LEVELS);
        if first.len() < 3 {
            return first;
        }
        // Which circle a cup stands on is plainer once it is known how high the others' surfaces are.
        let mut heights: Vec<f64> = first.iter().map(|cup| cup.height).collect();
        heights.sort_by(f64::total_cmp);
        self.assigned(&discs, &circles, eye, (heights[heights.len() / 2], ALIKE))
    }

    /// Each disc on its likeliest circle; the surest for each circle, and each thing once.
    fn assigned(&self, discs: &[FoundCup], circles: &[Spot], eye: &Eye, levels: (f64, f64)) -> Vec<Standing> {
        let mut suspects: Vec<Standing> = discs.iter().filter_map(|found| self.stands_on(found, circles, eye, levels)).collect();
        let rank = |s: &Standing| s.confidence - 0.5 * s.aside - 0.02 * s.odds;
        suspects.sort_by(|a, b| rank(b).total_cmp(&rank(a)));
        let mut kept: Vec<Standing> = Vec::new();
        for suspect in suspects {
            let is_free =
                kept.iter().all(|k| k.circle != suspect.circle && distance(k.middle, suspect.middle) > 0.95 * (k.radius + suspect.radius));
            if is_free {
                kept.push(suspect);
            }
        }
        kept.sort_by_key(|k| k.circle);
        kept
    }

    /// The circle that a found disc may stand on, at some height: the higher it is, the farther it leans away from the camera.
    fn stands_on(&self, found: &FoundCup, circles: &[Spot], eye: &Eye, levels: (f64, f64)) -> Option<Standing> {
        if f64::from(found.confidence) < LEAST_SURE {
            return None;
        }
        let middle = self.place(f64::from(found.x), f64::from(found.y));
        let radius = f64::from(found.radius) / self.scale;
        let mut best: Option<(f64, f64, f64, usize)> = None;
        for (i, spot) in circles.iter().enumerate() {
            let mut height = 0.0;
            while height <= HIGHEST {
                let aside = distance(eye.seen_at(spot.middle, height), middle) / eye.enlarges(height) / spot.radius;
                let share = radius / eye.enlarges(height) / spot.radius;
                let odds = (aside / LOOSE).powi(2) + ((height - levels.0) / levels.1).powi(2);
                if aside < MOST_ASIDE && (LIQUID.0..LIQUID.1).contains(&share) && best.is_none_or(|b| odds < b.0) {
                    best = Some((odds, aside, height, i));
                }
                height += STEP;
            }
        }
        let (odds, aside, height, circle) = best?;
        let spot = circles[circle];
        let is_print = distance(middle, spot.middle) < 0.15 * spot.radius && (PRINTED.0..PRINTED.1).contains(&(radius / spot.radius));
        if is_print && is_paper(found) {
            return None;
        }
        Some(Standing { circle, middle, radius, confidence: f64::from(found.confidence), height, aside, odds })
    }

    /// Blank paper away from print, card and cups: places and colours.
    fn paper(&self, cups: &[Standing]) -> Vec<(Point, [f32; 3])> {
        let circles = self.sheet.circles();
        let (w, h) = self.sheet.paper().size();
        let (columns, rows) = ((w / PAPER_STEP) as usize, (h / PAPER_STEP) as usize);
        let grid = (0..columns * rows).map(|i| ((0.5 + (i % columns) as f64) * PAPER_STEP, (0.5 + (i / columns) as f64) * PAPER_STEP));
        grid.filter(|p| self.sheet.is_blank(*p, PAPER_CLEAR) && cups.iter().all(|cup| !cup.hides(*p, circles[cup.circle].middle)))
            .filter_map(|p| Some((p, self.colour(p, PAPER_SIDE)?)))
            .collect()
    }

    /// The card on its place: even, neutral against the paper, and between black and white.
    fn card(&self, view: &Homography, light: Option<&LightField>) -> Option<CardRegion> {
        let core = self.sheet.card_core();
        let inner = |i: usize| core.x + CORE_STEP * (i as f64 + 0.5);
        let count = (core.w / CORE_STEP) as usize;
        let mut seen = Vec::with_capacity(count * count);
        for i in 0..count * count {
            seen.push(self.colour((inner(i % count), inner(i / count) - core.x + core.y), 1.0)?);
        }
        let middle = median_colour(&seen);
        let spread = median(seen.iter().map(|s| (s[1] - middle[1]).abs()));
        let odd = seen.iter().filter(|s| (0..3).any(|c| (s[c] - middle[c]).abs() > 0.25 * middle[c] + 0.03)).count();
        if spread > 0.03 || odd as f64 > 0.15 * seen.len() as f64 || !self.is_card(middle, light) {
            return None;
        }
        region_of(view, core.corners())
    }

    /// Whether a colour on the card's place may be a grey card beside this paper.
    fn is_card(&self, colour: [f32; 3], light: Option<&LightField>) -> bool {
        // Without a field the paper is burnt out, and the card's level tells nothing.
        if light.is_none() {
            return true;
        }
        let around: Vec<[f32; 3]> =
            self.paper(&[]).into_iter().filter(|(p, _)| p.0 < 0.4 * self.sheet.paper().size().0).map(|(_, c)| c).collect();
        if around.is_empty() {
            return true;
        }
        let white = median_colour(&around);
        // Encoded to light by a power of 2.2; 0.02 keeps a channel without light from telling anything.
        let ratio = [0, 1, 2].map(|c| 2.2 * ((colour[c] + 0.02) / (white[c] + 0.02)).log10());
        let (red, blue) = (ratio[0] - ratio[1], ratio[2] - ratio[1]);
        (-1.25..-0.2).contains(&ratio[1]) && red.abs() < 0.2 && blue.abs() < 0.25
    }
}

/// Distance between the places where paper is looked at, mm.
const PAPER_STEP: f64 = 4.0;
/// Side of the squares looked at, mm.
const PAPER_SIDE: f64 = 2.0;
/// From print and from the paper's edge to these places, mm: blur and a print off scale.
const PAPER_CLEAR: f64 = 3.5;
/// How far from the card's middle paper may lie to stand for paper beside it, mm: the card's place is 118 mm high.
const PAPER_REACH: f64 = 85.0;
/// Distance between the places where the card is looked at, mm.
const CORE_STEP: f64 = 3.0;

/// Share of a liquid's radius that a near wall hides for each unit of the slant's tangent: a rim as high above the surface as the
/// surface is wide.
const HIDDEN: f64 = 1.05;
/// At least the far half of a liquid is sampled, and a little of the near one.
const LEAST_SHOWN: f64 = 0.1;
/// Tangent of the slant from which a near wall may hide some of a liquid.
const SLANTED: f64 = 0.12;
/// Reach of the arc's edge in each round, share of the radius.
const ROUNDS: [f32; 5] = [0.55, 0.4, 0.3, 0.2, 0.15];
/// A disc of this many radii of its circle, in the middle of it and of the paper's colour, is the circle itself.
const PRINTED: (f64, f64) = (0.88, 1.1);
/// A neutral density up to this is that of dashes blurred over paper, and a tint up to the second is none.
const DASHES: (f32, f32) = (0.07, 0.03);

/// Whether the disc's inside differs from its outside by no more than the dashes of a printed circle.
fn is_paper(found: &FoundCup) -> bool {
    let density = [0, 1, 2].map(|c| 2.2 * ((found.white[c] + 0.02) / (found.inside[c] + 0.02)).log10());
    let (least, most) = density.iter().fold((f32::MAX, f32::MIN), |(l, m), &d| (l.min(d), m.max(d)));
    most.abs().max(least.abs()) < DASHES.0 && most - least < DASHES.1
}

/// The circle again by its far arc, where no near wall hides it.
fn settled(pyramid: &Pyramid, found: &FoundCup, away: (f32, f32)) -> Option<(f32, f32, f32)> {
    let step = [0, 1, 2].map(|c| found.white[c] - found.inside[c]);
    let length = (step[0] * step[0] + step[1] * step[1] + step[2] * step[2]).sqrt();
    if length < 1e-3 {
        return None;
    }
    let wanted = step.map(|v| v / length);
    ROUNDS.iter().try_fold((found.x, found.y, found.radius), |start, reach| circle::arc(pyramid, start, wanted, away, *reach))
}

impl Standing {
    /// Whether the cup, or its near shadow, hides a place of the paper: its foot stands on the circle, its surface leans away from there.
    fn hides(&self, p: Point, foot: Point) -> bool {
        let (dx, dy) = (self.middle.0 - foot.0, self.middle.1 - foot.1);
        // The rim is about twice as high as the surface.
        let far = (foot.0 + 2.2 * dx, foot.1 + 2.2 * dy);
        let (lx, ly) = (far.0 - foot.0, far.1 - foot.1);
        let along = (((p.0 - foot.0) * lx + (p.1 - foot.1) * ly) / (lx * lx + ly * ly).max(1e-9)).clamp(0.0, 1.0);
        distance(p, (foot.0 + along * lx, foot.1 + along * ly)) < 1.9 * self.radius
    }

    /// In the photo: the circle is the largest one around the liquid's middle that stays inside its surface.
    fn region(&self, view: &Homography, eye: &Eye) -> Option<CupRegion> {
        let face = view.of_disc(self.middle, self.radius);
        let (x, y) = face.at((0.0, 0.0))?;
        let mut radius = f64::INFINITY;
        for i in 0..32 {
            let (s, c) = (std::f64::consts::TAU * f64::from(i) / 32.0).sin_cos();
            radius = radius.min(distance(face.at((c, s))?, (x, y)));
        }
        let (towards, tangent) = eye.slant(self.middle);
        let face = super::Face { view: face, towards, shown: (1.0 - HIDDEN * tangent).max(LEAST_SHOWN) };
        Some(CupRegion { liquid: Circle { x, y, radius }, rim: None, confidence: self.confidence, face: Some(face) })
    }
}

/// An upright square inside the picture of a box of the sheet.
fn region_of(view: &Homography, corners: [Point; 4]) -> Option<CardRegion> {
    let [a, b, c, d] = corners.map(|p| view.at(p));
    let corners = [a?, b?, c?, d?];
    let middle = corners.iter().fold((0.0, 0.0), |s, p| (s.0 + 0.25 * p.0, s.1 + 0.25 * p.1));
    // Distance of the middle from a side, over how far a square's corner reaches towards it.
    let half = (0..4).fold(f64::INFINITY, |least, i| {
        let (p, q) = (corners[i], corners[(i + 1) % 4]);
        let (dx, dy) = (q.0 - p.0, q.1 - p.1);
        let away = ((middle.0 - p.0) * dy - (middle.1 - p.1) * dx).abs();
        least.min(away / (dx.abs() + dy.abs()).max(1e-9))
    });
    // Well inside: blur at the card's own edge must not matter where the card is no larger.
    let half = 0.92 * half;
    let area = Rectangle { x: middle.0 - half, y: middle.1 - half, w: 2.0 * half, h: 2.0 * half };
    Some(CardRegion { area, corners, confidence: 0.95 })
}

/// Bilinear value, 0 to 255; the edge of the picture, which is two pixels or more a side, goes on beyond it.
fn between(picture: &Reduced, (x, y): Point) -> [f32; 3] {
    let (x, y) = (x.clamp(0.0, picture.width as f64 - 1.001), y.clamp(0.0, picture.height as f64 - 1.001));
    // Neither is negative or beyond what a side may have, and a narrow conversion is the quick one.
    let (i, j) = (x as u32 as usize, y as u32 as usize);
    let (u, v) = ((x - i as f64) as f32, (y - j as f64) as f32);
    let two = |j: usize| &picture.rgb[3 * (j * picture.width + i)..][..6];
    let (upper, lower) = (two(j), two(j + 1));
    [0, 1, 2].map(|k| {
        let top = f32::from(upper[k]) + u * (f32::from(upper[k + 3]) - f32::from(upper[k]));
        let bottom = f32::from(lower[k]) + u * (f32::from(lower[k + 3]) - f32::from(lower[k]));
        top + v * (bottom - top)
    })
}
