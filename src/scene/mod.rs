//! Invented photos with known pH, from a spectral model of light, dye and camera.
//!
//! [`photograph`] turns [`options::Options`] into a picture and its [`Truth`]: things are laid out in millimetres, every surface and
//! liquid is a spectrum, the camera is three sensitivities with noise, white balance, matrix and tone curve. Nothing here is fitted
//! to, or known by, the reading side; the same seed gives the same picture.
//!
//! It is a model: no refraction, no grain of the liquid, no local tone mapping. A reading that is right here may still be wrong on a table.

pub mod camera;
pub mod demo;
pub mod develop;
pub mod dye;
mod expose;
pub mod fault;
pub mod lamp;
mod layout;
pub mod options;
mod paint;
pub mod random;
pub mod sheet;
pub mod surface;
pub mod vessel;
pub mod view;

use expose::Plane;
use layout::{Layout, Wanted};
use options::{Level, Options};
use paint::Painter;
use random::Random;
use view::{Point, View};

/// One cup as it truly is.
#[derive(Debug, Clone, PartialEq)]
pub struct CupTruth {
    /// Name of the dye in it.
    pub indicator: &'static str,
    /// pH on the meter scale.
    pub ph: f64,
    /// pKa' of this lot in this bath.
    pub pka: f64,
    /// Share of the dye in its base form.
    pub base_fraction: f64,
    /// Decadic absorbance of the wholly acid dye at its peak along the whole path at the deepest place.
    pub dose: f64,
    /// Density of the stain at 420 nm.
    pub stain: f64,
    /// Centre of the liquid, pixels.
    pub centre: Point,
    /// Smallest radius of the liquid, pixels.
    pub radius: f64,
    /// Mean radius of the rim, pixels.
    pub rim: f64,
    /// Light at the cup, over that in the middle of the picture.
    pub light: f64,
}

/// The card as it truly is.
#[derive(Debug, Clone, PartialEq)]
pub struct CardTruth {
    /// Left, top, width, height of an upright square well inside it, pixels.
    pub area: [f64; 4],
    /// Its corners in order around it, pixels.
    pub corners: [Point; 4],
    /// What it reflects.
    pub reflectance: f64,
    /// Light in its middle, over that in the middle of the picture.
    pub light: f64,
}

/// What is known about a photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// The cups in the order of the samples.
    pub cups: Vec<CupTruth>,
    /// The card.
    pub card: Option<CardTruth>,
    /// Name of the light.
    pub lamp: String,
    /// Kind of the light.
    pub lamp_kind: lamp::LampKind,
    /// Name of the sensor.
    pub camera: &'static str,
}

/// A picture with its truth.
#[derive(Debug, Clone)]
pub struct Photograph {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Interleaved 8-bit RGB, row by row, to be taken for sRGB.
    pub rgb: Vec<u8>,
    /// What is on it.
    pub truth: Truth,
}

/// Makes one photo.
#[must_use]
pub fn photograph(options: &Options) -> Photograph {
    let mut random = Random::new(options.seed);
    let mut layout = layout::arrange(
        &mut random,
        Wanted {
            cups: options.samples.len(),
            card: options.card.is_some(),
            paper: options.paper,
            clutter: options.clutter,
            tidy: options.level == Level::Easy,
        },
    );
    let margin = random.between(0.03, 0.08);
    let (points, margin) = match &options.sheet {
        Some(scene) => {
            layout = scene.layout(options.card.is_some());
            (layout.paper.iter().flatten().copied().collect(), scene.margin)
        }
        None => (frame_points(&layout), margin),
    };
    let view = View::fitting(&points, options.pose, (options.width, options.height), margin);
    if !options.has_cups {
        layout.cups.clear();
    }
    let painter = Painter::new(options, &layout, view.eye(), &mut random);
    let raw = project(options, &view, &painter);
    let development = options.processing.develop(&options.camera, &options.lamp);
    let rgb = expose::finish(raw, options, &development, &mut random);
    let truth = truth(options, &layout, &view, &painter);
    Photograph { width: options.width, height: options.height, rgb, truth }
}

/// Places that have to be inside the picture: around each rim, the card's corners, and some table about the middle of it all.
fn frame_points(layout: &Layout) -> Vec<Point> {
    let mut points: Vec<Point> = layout.card.iter().flatten().copied().collect();
    for &((x, y), r) in &layout.cups {
        // A little table around each rim.
        let r = 1.1 * r;
        points.extend([(x - r, y), (x + r, y), (x, y - r), (x, y + r)]);
    }
    let n = points.len().max(1) as f64;
    let (x, y) = points.iter().fold((0.0, 0.0), |sum, p| (sum.0 + p.0 / n, sum.1 + p.1 / n));
    // Nobody photographs one cup alone from so near that nothing else is seen.
    points.extend([(x - 110.0, y - 80.0), (x + 110.0, y - 80.0), (x + 110.0, y + 80.0), (x - 110.0, y + 80.0)]);
    points
}

/// Looks through every pixel at the table.
fn project(options: &Options, view: &View, painter: &Painter<'_>) -> Plane {
    let (width, height) = (options.width, options.height);
    let white = painter.white();
    let scale = options.exposure as f32 / white[0].max(white[1]).max(white[2]);
    let middle = (0.5 * width as f64, 0.5 * height as f64);
    let (centre, beside) = (view.unproject(middle), view.unproject((middle.0 + 1.0, middle.1)));
    let pixel = (beside.0 - centre.0).hypot(beside.1 - centre.1);
    let light = Light::new(options, centre);
    let mut values = Vec::with_capacity(3 * width * height);
    for y in 0..height {
        for x in 0..width {
            let p = view.unproject((x as f64, y as f64));
            let seen = painter.at(p, pixel);
            let corner = lens_light(options, (x as f64, y as f64));
            let [first, second] = light.both(p).map(|level| (level * corner) as f32 * scale);
            values.extend([0, 1, 2].map(|c| seen[0][c] * first + seen[1][c] * second));
        }
    }
    Plane { width, height, values }
}

/// What the lens lets through at a place of the picture, pixels, over its middle.
fn lens_light(options: &Options, p: Point) -> f64 {
    let width = options.width as f64;
    let (u, v) = ((p.0 - 0.5 * width) / width, (p.1 - 0.5 * options.height as f64) / width);
    // The corner of a 4:3 picture lies at a squared distance of 0.39.
    1.0 - options.lighting.vignette * (u * u + v * v) / 0.39
}

/// Light of one small lamp (cosine and distance law) relative to the middle of the picture; with two, each wins on its side.
struct Light<'a> {
    options: &'a Options,
    centre: Point,
    lamps: [SmallLamp; 2],
}

/// Where one of the lamps stands.
struct SmallLamp {
    /// Direction from the centre, of length 1.
    towards: Point,
    /// The place on the table below it, mm.
    foot: Point,
    /// Its light in the centre.
    centre: f64,
}

impl<'a> Light<'a> {
    fn new(options: &'a Options, centre: Point) -> Self {
        let lighting = &options.lighting;
        let away = lighting.lamp_aside * lighting.lamp_height;
        let lamps = [0.0, std::f64::consts::PI].map(|half_turn| {
            let turn = lighting.lamp_from.to_radians() + half_turn;
            let foot = (centre.0 + away * turn.cos(), centre.1 + away * turn.sin());
            SmallLamp { towards: (turn.cos(), turn.sin()), foot, centre: below(foot, lighting.lamp_height, centre) }
        });
        Light { options, centre, lamps }
    }

    /// Levels of both lamps; of a lamp that is not there nothing is seen in its light.
    fn both(&self, p: Point) -> [f64; 2] {
        let second = if self.options.second_lamp.is_some() { self.at(p, 1) } else { 0.0 };
        [self.at(p, 0), second]
    }

    fn at(&self, p: Point, lamp: usize) -> f64 {
        let lamp = &self.lamps[lamp];
        let level = self.shade(p) * below(lamp.foot, self.options.lighting.lamp_height, p) / lamp.centre;
        if self.options.second_lamp.is_none() {
            return level;
        }
        // Two lights from two sides: a window's light is gone after about 20 cm.
        let towards = (p.0 - self.centre.0) * lamp.towards.0 + (p.1 - self.centre.1) * lamp.towards.1;
        level / (1.0 + (-towards / 40.0).exp())
    }

    /// What somebody's shadow leaves of it.
    fn shade(&self, p: Point) -> f64 {
        self.options.lighting.shade.map_or(1.0, |shade| {
            let (s, c) = shade.side.to_radians().sin_cos();
            let beyond = (p.0 - self.centre.0) * c + (p.1 - self.centre.1) * s - shade.from_middle;
            // Half-shadow of a few centimetres, as from a person under a ceiling lamp.
            1.0 - shade.depth / (1.0 + (-beyond / 12.0).exp())
        })
    }
}

/// Light on the table at `p` from a lamp at this height over `foot`, both mm, over that at `foot`.
fn below(foot: Point, height: f64, p: Point) -> f64 {
    let square = (p.0 - foot.0).powi(2) + (p.1 - foot.1).powi(2);
    (1.0 + square / height.powi(2)).powf(-1.5)
}

fn truth(options: &Options, layout: &Layout, view: &View, painter: &Painter<'_>) -> Truth {
    let middle = view.unproject((0.5 * options.width as f64, 0.5 * options.height as f64));
    let lamps = Light::new(options, middle);
    let light = |p: Point| lamps.at(p, 0) * lens_light(options, view.project(p));
    let cups = layout.cups.iter().zip(&options.samples).enumerate().map(|(i, (&(_, rim), sample))| {
        let (centre, radius) = painter.liquid(i);
        let stand = options.sheet.as_ref().and_then(|scene| scene.standing.get(i));
        let eye = view.eye();
        let (level, height) = stand.map_or((0.0, 0.0), |stand| (stand.level, stand.height));
        let (surface, top) = (eye.seen_at(centre, level), eye.seen_at(centre, height));
        CupTruth {
            indicator: sample.lot.indicator.name,
            ph: sample.ph.value(),
            pka: sample.lot.pka(options.medium),
            base_fraction: sample.fraction(options.medium).value(),
            dose: sample.dose,
            stain: sample.stain,
            centre: view.project(surface),
            radius: view.radii(surface, radius * eye.enlarges(level)).0,
            rim: view.radii(top, rim * eye.enlarges(height)).1,
            light: light(surface),
        }
    });
    let card = layout.card.as_ref().zip(options.card.as_ref()).map(|(quad, card)| {
        let corners = quad.map(|p| view.project(p));
        let middle = corners.iter().fold((0.0, 0.0), |sum, p| (sum.0 + 0.25 * p.0, sum.1 + 0.25 * p.1));
        let side = |i: usize| (corners[i].0 - corners[i + 1].0).hypot(corners[i].1 - corners[i + 1].1);
        // A square of this half side, however the card is turned, stays inside: half of 0.6 times the root of 2 is below a half.
        let half = 0.3 * side(0).min(side(1));
        CardTruth {
            area: [middle.0 - half, middle.1 - half, 2.0 * half, 2.0 * half],
            corners,
            reflectance: card.stated.value() * card.true_over_stated,
            light: light(quad.iter().fold((0.0, 0.0), |sum, p| (sum.0 + 0.25 * p.0, sum.1 + 0.25 * p.1))),
        }
    });
    Truth { cups: cups.collect(), card, lamp: options.lamp.name.clone(), lamp_kind: options.lamp.kind, camera: options.camera.name }
}
