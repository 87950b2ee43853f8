//! A table drawn pixel by pixel: a grey card on the left and two white cups of yellow liquid, in light that a test may spoil.

use tintpoint::colour::space::PhotoSpace;
use tintpoint::colour::tone::srgb_encode;
use tintpoint::measurement::frame::{Frame, Orientation, Samples};
use tintpoint::measurement::regions::{CardRegion, Circle, CupRegion, Rectangle};

pub(crate) const WIDTH: usize = 400;
pub(crate) const HEIGHT: usize = 300;
/// Reflectance of the photographic grey card.
pub(crate) const GREY: f64 = 0.18;
pub(crate) const WHITE: f64 = 0.85;
/// What the liquid lets through, R G B: yellow.
pub(crate) const LIQUID: [f64; 3] = [0.8, 0.7, 0.2];

const CUPS: [(f64, f64); 2] = [(200.0, 150.0), (325.0, 150.0)];
const RADIUS: f64 = 42.0;
const RIM: f64 = 60.0;
const CARD: Rectangle = Rectangle { x: 30.0, y: 110.0, w: 84.0, h: 84.0 };

/// How the table is lit and photographed.
#[derive(Clone)]
pub(crate) struct Table {
    /// Where a perfect diffuser lands, linear, 1 = full scale.
    pub(crate) exposure: f64,
    /// Light at a place relative to that, R G B.
    pub(crate) light: fn(f64, f64) -> [f64; 3],
    /// Width of an edge in pixels.
    pub(crate) edge: f64,
}

impl Table {
    pub(crate) fn good() -> Self {
        Table { exposure: 0.7, light: |_, _| [1.0; 3], edge: 1.0 }
    }

    /// sRGB-encoded levels 0 to 1, row by row.
    pub(crate) fn levels(&self) -> Vec<[f64; 3]> {
        let mut all = Vec::with_capacity(WIDTH * HEIGHT);
        for y in 0..HEIGHT {
            for x in 0..WIDTH {
                let (x, y) = (x as f64, y as f64);
                let (surface, light) = (self.surface(x, y), (self.light)(x, y));
                all.push([0, 1, 2].map(|c| srgb_encode((surface[c] * light[c] * self.exposure).min(1.0))));
            }
        }
        all
    }

    fn surface(&self, x: f64, y: f64) -> [f64; 3] {
        // Share of a pixel that lies `inside` pixels within an edge.
        let cover = |inside: f64| (0.5 + inside / self.edge).clamp(0.0, 1.0);
        let over = |below: [f64; 3], colour: [f64; 3], share: f64| [0, 1, 2].map(|c| below[c] + share * (colour[c] - below[c]));
        let (dx, dy) = ((x - CARD.x - 0.5 * CARD.w).abs(), (y - CARD.y - 0.5 * CARD.h).abs());
        // The drawn card is six pixels larger all round than the region that a test measures.
        let mut surface = over([0.10; 3], [GREY; 3], cover(0.5 * CARD.w + 6.0 - dx.max(dy)));
        for (cx, cy) in CUPS {
            let distance = (x - cx).hypot(y - cy);
            surface = over(surface, [WHITE; 3], cover(RIM + 6.0 - distance));
            surface = over(surface, LIQUID.map(|t| t * WHITE), cover(RADIUS - distance));
        }
        surface
    }
}

pub(crate) fn card() -> CardRegion {
    let (right, bottom) = (CARD.x + CARD.w, CARD.y + CARD.h);
    CardRegion { area: CARD, corners: [(CARD.x, CARD.y), (right, CARD.y), (right, bottom), (CARD.x, bottom)], confidence: 1.0 }
}

pub(crate) fn cups() -> Vec<CupRegion> {
    CUPS.iter().map(|&(x, y)| CupRegion { liquid: Circle { x, y, radius: RADIUS }, rim: Some(RIM), confidence: 1.0, face: None }).collect()
}

/// An 8-bit frame of these levels.
pub(crate) fn eight(levels: &[[f64; 3]]) -> Frame {
    let samples: Vec<u8> = levels.iter().flatten().map(|v| (v * 255.0).round() as u8).collect();
    Frame::new(WIDTH, HEIGHT, Orientation::Upright, Samples::Eight(samples.into()), PhotoSpace::srgb()).unwrap()
}

/// A 16-bit frame of these levels.
pub(crate) fn sixteen(levels: &[[f64; 3]]) -> Frame {
    let samples = levels.iter().flatten().map(|v| (v * 65535.0).round() as u16).collect();
    Frame::new(WIDTH, HEIGHT, Orientation::Upright, Samples::Sixteen(samples), PhotoSpace::srgb()).unwrap()
}
