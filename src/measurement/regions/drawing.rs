//! Small drawn pictures for the tests of finding.

use crate::measurement::frame::{Frame, Orientation, Samples};

pub(super) type Level = [u8; 3];

pub(super) const WHITE: Level = [222, 224, 221];
pub(super) const GREY: Level = [112, 113, 112];
pub(super) const SLATE: Level = [70, 72, 76];
pub(super) const PURPLE: Level = [96, 30, 120];
pub(super) const YELLOW: Level = [214, 190, 40];

/// A picture under the brush.
pub(super) struct Canvas {
    width: usize,
    height: usize,
    pixels: Vec<[f64; 3]>,
}

impl Canvas {
    pub(super) fn new(width: usize, height: usize, ground: Level) -> Self {
        Canvas { width, height, pixels: vec![ground.map(f64::from); width * height] }
    }

    /// Paints where `depth` (pixels inside the edge) is positive, with an edge one pixel soft.
    fn paint(&mut self, colour: Level, depth: impl Fn(f64, f64) -> f64) {
        for y in 0..self.height {
            for x in 0..self.width {
                let share = (depth(x as f64, y as f64) + 0.5).clamp(0.0, 1.0);
                let p = &mut self.pixels[y * self.width + x];
                for c in 0..3 {
                    p[c] += share * (f64::from(colour[c]) - p[c]);
                }
            }
        }
    }

    pub(super) fn disc(&mut self, x: f64, y: f64, radius: f64, colour: Level) -> &mut Self {
        self.ellipse((x, y), (radius, radius), colour)
    }

    pub(super) fn ellipse(&mut self, (cx, cy): (f64, f64), (a, b): (f64, f64), colour: Level) -> &mut Self {
        self.paint(colour, |x, y| (1.0 - ((x - cx) / a).hypot((y - cy) / b)) * a.min(b));
        self
    }

    /// A rectangle about a centre, turned by `degrees`.
    pub(super) fn sheet(&mut self, (cx, cy): (f64, f64), (w, h): (f64, f64), degrees: f64, colour: Level) -> &mut Self {
        let (s, c) = degrees.to_radians().sin_cos();
        self.paint(colour, |x, y| {
            let (u, v) = ((x - cx) * c + (y - cy) * s, (y - cy) * c - (x - cx) * s);
            (w / 2.0 - u.abs()).min(h / 2.0 - v.abs())
        });
        self
    }

    /// A white vessel of outer radius `1.4 * radius` with a liquid of the given radius.
    pub(super) fn cup(&mut self, x: f64, y: f64, radius: f64, liquid: Level) -> &mut Self {
        self.disc(x, y, 1.4 * radius, WHITE).disc(x, y, 1.28 * radius, [205, 207, 204]).disc(x, y, radius, liquid)
    }

    /// Adds a repeatable grain of up to `reach` levels either way.
    pub(super) fn grain(&mut self, reach: f64) -> &mut Self {
        let mut state = 12345u64;
        for p in &mut self.pixels {
            for v in p {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                *v += reach * ((state >> 33) as f64 / f64::from(1u32 << 30) - 1.0);
            }
        }
        self
    }

    pub(super) fn frame(&self) -> Frame {
        let samples: Vec<u8> = self.pixels.iter().flatten().map(|v| (v + 0.5) as u8).collect();
        let space = crate::colour::space::PhotoSpace::srgb();
        Frame::new(self.width, self.height, Orientation::Upright, Samples::Eight(samples.into()), space).unwrap()
    }
}
