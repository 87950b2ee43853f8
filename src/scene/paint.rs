//! What the camera sees at one place of the table, as raw numbers under each lamp.

use super::camera::Camera;
use super::lamp::Lamp;
use super::layout::{Layout, Quad, Shape, outside};
use super::options::Options;
use super::random::Random;
use super::sheet::{Print, SheetScene};
use super::surface::{self, trifle};
use super::vessel::{Profile, Ware};
use super::view::Eye;
use super::view::Point;
use crate::colour::spectrum::Spectrum;

mod standing;

/// Raw R, G, B under the first and the second lamp.
pub(super) type Seen = [[f32; 3]; 2];

/// Levels of depth for which the liquid's colour is worked out; between them it is interpolated.
const DEPTHS: usize = 40;
/// What printed black reflects: toner and ink on copy paper, densities of 1.2 to 1.5.
const INK: f64 = 0.04;
/// Deepest level, over the depth at the centre; a leaning liquid is deeper on one side.
const DEEPEST: f64 = 1.15;

fn blend(below: Seen, above: Seen, share: f64) -> Seen {
    let s = share as f32;
    [0, 1].map(|k| [0, 1, 2].map(|c| below[k][c] + s * (above[k][c] - below[k][c])))
}

fn times(seen: Seen, factor: f64) -> Seen {
    seen.map(|lamp| lamp.map(|v| v * factor as f32))
}

fn plus(seen: Seen, other: Seen, factor: f64) -> Seen {
    [0, 1].map(|k| [0, 1, 2].map(|c| seen[k][c] + other[k][c] * factor as f32))
}

/// Share of a pixel that lies within an outline, from the distance to it.
fn cover(distance: f64, pixel: f64) -> f64 {
    (0.5 - distance / pixel).clamp(0.0, 1.0)
}

/// Whether a place is within a square of this half side, mm: most places are of no concern to most things, which this says soonest.
fn near(centre: Point, reach: f64, p: Point) -> bool {
    (p.0 - centre.0).abs() <= reach && (p.1 - centre.1).abs() <= reach
}

/// Smoothly 0 to 1 while `x` goes from `a` to `b`.
fn smooth(a: f64, b: f64, x: f64) -> f64 {
    let t = ((x - a) / (b - a)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// A reflection, bubble or speck on a liquid: place over the liquid's radius, half sizes, turn, brightness over white.
struct Spot {
    at: Point,
    half: (f64, f64),
    turn: f64,
    light: f64,
}

struct PaintedCup {
    centre: Point,
    rim: f64,
    /// Where the rim is seen, higher up than the liquid.
    rim_centre: Point,
    liquid: f64,
    lean: Point,
    by_depth: Vec<Seen>,
    spots: Vec<Spot>,
}

/// All colours of one scene, ready to be looked up.
pub(super) struct Painter<'a> {
    options: &'a Options,
    layout: &'a Layout,
    white: Seen,
    table: Seen,
    paper: Seen,
    card: Seen,
    wall: Seen,
    clutter: Vec<Seen>,
    cups: Vec<PaintedCup>,
    ink: Seen,
    print: Option<Print>,
    eye: Eye,
    noise_key: u64,
    lamp_direction: Point,
}

impl<'a> Painter<'a> {
    pub(super) fn new(options: &'a Options, layout: &'a Layout, eye: Eye, random: &mut Random) -> Self {
        let seen = |reflectance: &Spectrum| look(&options.camera, &options.lamp, options.second_lamp.as_ref(), reflectance);
        let card = options
            .card
            .as_ref()
            .map_or_else(|| surface::grey(0.18), |card| surface::card(card.stated.value() * card.true_over_stated, card.slope));
        let (sine, cosine) = options.lighting.lamp_from.to_radians().sin_cos();
        Painter {
            options,
            layout,
            white: seen(&surface::grey(1.0)),
            table: seen(&options.table.reflectance()),
            paper: seen(&surface::paper()),
            card: seen(&card),
            wall: seen(&options.vessel.wall),
            clutter: layout.clutter.iter().map(|_| seen(&trifle(random))).collect(),
            cups: (0..layout.cups.len()).map(|i| painted_cup(options, layout, i, random)).collect(),
            ink: seen(&surface::grey(INK)),
            print: options.sheet.as_ref().map(SheetScene::print),
            eye,
            noise_key: random.bits(),
            lamp_direction: (cosine, sine),
        }
    }

    /// Raw of a perfect white under the first lamp.
    pub(super) fn white(&self) -> [f32; 3] {
        self.white[0]
    }

    /// Centre and radius of the liquid in a cup, mm.
    pub(super) fn liquid(&self, cup: usize) -> (Point, f64) {
        (self.cups[cup].centre, self.cups[cup].liquid)
    }

    /// What is seen at `p` when a pixel spans `pixel` mm, before the fall-off of the light.
    pub(super) fn at(&self, p: Point, pixel: f64) -> Seen {
        let mut seen = times(self.table, 1.0 + self.options.table.contrast() * self.grain(p));
        for (shape, colour) in self.layout.clutter.iter().zip(&self.clutter) {
            let distance = match shape {
                Shape::Disc(centre, radius) if !near(*centre, radius + pixel, p) => continue,
                Shape::Disc(centre, radius) => (p.0 - centre.0).hypot(p.1 - centre.1) - radius,
                Shape::Sheet(quad) => outside(quad, p),
            };
            seen = blend(seen, *colour, cover(distance, pixel));
        }
        if let Some(paper) = &self.layout.paper {
            seen = blend(seen, self.paper, cover(outside(paper, p), pixel));
        }
        if let Some(scene) = &self.options.sheet {
            seen = blend(seen, self.ink, self.print.as_ref().map_or(0.0, |print| print.ink(p, pixel)));
            for corner in &scene.covered {
                seen = blend(seen, self.table, cover(outside(&scene.cover(*corner), p), pixel));
            }
        }
        if let (Some(quad), Some(card)) = (&self.layout.card, &self.options.card) {
            let share = cover(outside(quad, p), pixel);
            if share > 0.0 {
                seen = blend(seen, times(self.card, card_light(quad, p, card.gloss, card.shaded)), share);
            }
        }
        if let Some(scene) = &self.options.sheet {
            for (cup, stand) in self.cups.iter().zip(&scene.standing) {
                seen = self.standing(cup, stand, p, pixel, seen);
            }
            return seen;
        }
        for cup in &self.cups {
            seen = self.cup(cup, p, pixel, seen);
        }
        seen
    }

    /// Paints one cup and its shadow over what lies below.
    fn cup(&self, cup: &PaintedCup, p: Point, pixel: f64, below: Seen) -> Seen {
        if !near(cup.centre, 1.9 * cup.rim, p) {
            return below;
        }
        let (dx, dy) = (p.0 - cup.centre.0, p.1 - cup.centre.1);
        let from_centre = dx.hypot(dy);
        if from_centre > 1.9 * cup.rim {
            return below;
        }
        let from_rim = (p.0 - cup.rim_centre.0).hypot(p.1 - cup.rim_centre.1);
        let vessel = &self.options.vessel;
        let shadow_at = (dx + 0.22 * cup.rim * self.lamp_direction.0).hypot(dy + 0.22 * cup.rim * self.lamp_direction.1);
        let dark = self.options.lighting.shadow * (1.0 - smooth(0.85 * cup.rim, 1.3 * cup.rim, shadow_at));
        let mut seen = times(below, 1.0 - dark * (1.0 - cover(from_rim - cup.rim, pixel)));
        // The wall opposite to the lamp looks into it.
        let facing = -(dx * self.lamp_direction.0 + dy * self.lamp_direction.1) / from_centre.max(1e-6);
        let climb = ((from_centre - cup.liquid) / (0.93 * cup.rim - cup.liquid).max(1e-6)).clamp(0.0, 1.0);
        let wall_light = (vessel.wall_light + (1.0 - vessel.wall_light) * climb) * (1.0 + vessel.wall_contrast * facing * (1.0 - climb));
        match vessel.ware {
            Ware::Glazed => {
                seen = blend(seen, times(self.wall, 1.0), cover(from_rim - cup.rim, pixel));
                seen = blend(seen, times(self.wall, wall_light), cover(from_rim - 0.93 * cup.rim, pixel));
            }
            Ware::Glass => {
                // Two thin dark lines where the wall is looked along, pale glass between them.
                seen = blend(seen, times(self.wall, 0.92), cover(from_rim - cup.rim, pixel));
                for line in [0.985 * cup.rim, 1.02 * cup.liquid] {
                    seen = times(seen, 1.0 - 0.45 * (-((from_centre - line) / (0.018 * cup.rim)).powi(2)).exp());
                }
                // The bright crescent that the glass throws on the far side.
                let crescent = 0.16 * facing.max(0.0).powi(4) * (-((from_centre - 0.96 * cup.rim) / (0.025 * cup.rim)).powi(2)).exp();
                seen = plus(seen, self.white, crescent);
            }
        }
        let share = cover(from_centre - cup.liquid, pixel);
        if share > 0.0 { blend(seen, self.liquid_at(cup, (dx / cup.liquid, dy / cup.liquid)), share) } else { seen }
    }

    /// The liquid at `q`, counted in radii from its centre.
    fn liquid_at(&self, cup: &PaintedCup, q: Point) -> Seen {
        let depth = self.options.vessel.profile.depth(q.0.hypot(q.1)) + cup.lean.0 * q.0 + cup.lean.1 * q.1;
        let place = (depth / DEEPEST * (DEPTHS - 1) as f64).clamp(0.0, (DEPTHS - 1) as f64 - 1e-6);
        let step = place as usize;
        let mut seen = blend(cup.by_depth[step], cup.by_depth[step + 1], place - step as f64);
        for spot in &cup.spots {
            let (s, c) = spot.turn.sin_cos();
            let (x, y) = (q.0 - spot.at.0, q.1 - spot.at.1);
            let (u, v) = ((c * x + s * y).abs() / spot.half.0, (c * y - s * x).abs() / spot.half.1);
            // Windows and lamps are mirrored with soft edges.
            let light = spot.light * (1.0 - smooth(0.7, 1.3, u)) * (1.0 - smooth(0.7, 1.3, v));
            if light > 0.0 {
                seen = plus(seen, self.white, light);
            }
        }
        seen
    }

    /// Grain of the table, about -1 to 1.
    fn grain(&self, p: Point) -> f64 {
        let (across, along) = self.options.table.grain();
        let mut sum = 0.0;
        for octave in 0..3u64 {
            let scale = f64::from(1u32 << octave);
            sum += lattice(self.noise_key ^ (octave << 60), p.0 / (along * scale), p.1 / (across * scale)) / 1.5;
        }
        sum
    }
}

/// Light on a card: shining from end to end, perhaps a shadow with a soft edge over one half.
fn card_light(quad: &Quad, p: Point, gloss: f64, shaded: bool) -> f64 {
    let (a, b) = (quad[0], quad[1]);
    let (ux, uy) = (b.0 - a.0, b.1 - a.1);
    let along = ((p.0 - a.0) * ux + (p.1 - a.1) * uy) / (ux * ux + uy * uy);
    let shadow = if shaded { 0.6 * (1.0 - smooth(0.38, 0.62, along)) } else { 0.0 };
    (1.0 + gloss * (2.0 * along - 1.0)) * (1.0 - shadow)
}

/// Raw numbers of a reflectance under both lamps, the second as bright as the first.
fn look(camera: &Camera, lamp: &Lamp, second: Option<&Lamp>, reflectance: &Spectrum) -> Seen {
    let green = camera.raw(&lamp.spectrum)[1];
    let one = camera.raw(&lamp.spectrum.times(reflectance)).map(|v| v as f32);
    let other = second.map_or([0.0; 3], |second| {
        let level = green / camera.raw(&second.spectrum)[1];
        camera.raw(&second.spectrum.times(reflectance)).map(|v| (v * level) as f32)
    });
    [one, other]
}

fn painted_cup(options: &Options, layout: &Layout, index: usize, random: &mut Random) -> PaintedCup {
    let (centre, rim) = layout.cups[index];
    let vessel = &options.vessel;
    let absorbance = options.samples[index].absorbance(options.medium);
    let seen = |reflectance: &Spectrum| look(&options.camera, &options.lamp, options.second_lamp.as_ref(), reflectance);
    let veil = options.lighting.veil;
    let by_depth = (0..DEPTHS)
        .map(|i| {
            let depth = DEEPEST * i as f64 / (DEPTHS - 1) as f64;
            seen(&vessel.under(&absorbance, depth).map(|v| v + veil))
        })
        .collect();
    let (lean, lean_to) = (vessel.lean.min(DEEPEST - 1.0), random.between(0.0, std::f64::consts::TAU));
    let (sine, cosine) = (options.pose.towards + options.pose.roll).to_radians().sin_cos();
    // The rim stands about half its radius above the liquid and shifts with the slant of the view.
    let shift = if vessel.ware == Ware::Glazed { 0.3 * rim * options.pose.tilt.to_radians().tan() } else { 0.0 };
    let shift = shift.min(0.7 * (0.93 - vessel.liquid_share) * rim);
    PaintedCup {
        centre,
        rim,
        rim_centre: (centre.0 - shift * sine, centre.1 + shift * cosine),
        liquid: vessel.liquid_share * rim,
        lean: (lean * lean_to.cos(), lean * lean_to.sin()),
        by_depth,
        spots: spots(options, random),
    }
}

/// Mirrored windows, a few bubbles near the edge, specks of dust.
fn spots(options: &Options, random: &mut Random) -> Vec<Spot> {
    let mut all = Vec::new();
    let tau = std::f64::consts::TAU;
    for _ in 0..options.lighting.glare {
        let (turn, arm) = (random.between(0.0, tau), random.between(0.15, 0.8));
        let half = (random.between(0.05, 0.16), random.between(0.04, 0.12));
        all.push(Spot { at: (arm * turn.cos(), arm * turn.sin()), half, turn: random.between(0.0, tau), light: random.between(0.15, 1.2) });
    }
    if !matches!(options.vessel.profile, Profile::Cone { .. }) && options.lighting.glare > 0 {
        for _ in 0..random.below(5) {
            let (turn, arm) = (random.between(0.0, tau), random.between(0.8, 0.95));
            all.push(Spot { at: (arm * turn.cos(), arm * turn.sin()), half: (0.015, 0.015), turn: 0.0, light: 0.3 });
        }
    }
    all
}

/// Smooth noise between -1 and 1 over the plane, one random value per unit square's corner.
fn lattice(key: u64, x: f64, y: f64) -> f64 {
    let (left, top) = (x.floor(), y.floor());
    let corner = |i: i64, j: i64| {
        let mut z = key ^ (i as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ (j as u64).wrapping_mul(0xc2b2_ae3d_27d4_eb4f);
        z = (z ^ (z >> 32)).wrapping_mul(0xd6e8_feb8_6659_fd93);
        z ^= z >> 32;
        (z & 0xffff) as f64 / 32768.0 - 1.0
    };
    let (i, j) = (left as i64, top as i64);
    let (u, v) = (smooth(0.0, 1.0, x - left), smooth(0.0, 1.0, y - top));
    let upper = corner(i, j) * (1.0 - u) + corner(i + 1, j) * u;
    let lower = corner(i, j + 1) * (1.0 - u) + corner(i + 1, j + 1) * u;
    upper * (1.0 - v) + lower * v
}
