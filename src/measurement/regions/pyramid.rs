//! The photo in several sizes, for seeing small and large things with the same few pixels.

use crate::measurement::frame::Reduced;
use std::borrow::Cow;

/// sRGB-encoded colour, 0 to 1 (before the gain of a dark photo).
pub(super) type Colour = [f32; 3];

/// One size of the picture.
#[derive(Debug, Clone)]
pub(super) struct Plane<'a> {
    pub(super) width: usize,
    pub(super) height: usize,
    pixels: Pixels<'a>,
}

/// Where colours come from. Those of the finest size are worked out when asked for: writing all of them down takes longer than what is done
/// with the few that are looked at.
#[derive(Debug, Clone)]
enum Pixels<'a> {
    Levels { rgb: &'a [u8], gain: f32 },
    Colours(Vec<Colour>),
}

/// The reduced photo and its halvings, finest first; level k has pixels 2^k times as wide.
#[derive(Debug, Clone)]
pub(super) struct Pyramid<'a> {
    levels: Vec<Plane<'a>>,
}

/// Halvings beyond the reduced picture: 1200 pixels become 37, on which the largest cup still spans 20.
const HALVINGS: usize = 5;
/// Below this width or height a level shows nothing.
const SMALLEST_SIDE: usize = 24;
/// A dark photo is lifted until its brightest hundredth reaches this level, so that thresholds keep their meaning.
const BRIGHT: f32 = 0.8;
/// Beyond this gain noise would be lifted to edges.
const GREATEST_GAIN: f32 = 6.0;

impl<'a> Plane<'a> {
    fn from_reduced(small: &'a Reduced) -> Self {
        let mut histogram = [0usize; 256];
        for p in small.rgb.chunks_exact(3) {
            histogram[usize::from(p[0].max(p[1]).max(p[2]))] += 1;
        }
        let mut above = small.width * small.height / 100;
        let mut bright = 255usize;
        while bright > 1 && histogram[bright] <= above {
            above -= histogram[bright];
            bright -= 1;
        }
        let gain = (BRIGHT * 255.0 / bright as f32).clamp(1.0, GREATEST_GAIN) / 255.0;
        Plane { width: small.width, height: small.height, pixels: Pixels::Levels { rgb: &small.rgb, gain } }
    }

    fn halved<'b>(&self) -> Plane<'b> {
        let (width, height) = (self.width / 2, self.height / 2);
        let mut pixels = Vec::with_capacity(width * height);
        for y in 0..height {
            let (upper, lower) = (self.row(2 * y), self.row(2 * y + 1));
            for (a, b) in upper.chunks_exact(2).zip(lower.chunks_exact(2)) {
                pixels.push([0, 1, 2].map(|c| 0.25 * (a[0][c] + a[1][c] + b[0][c] + b[1][c])));
            }
        }
        Plane { width, height, pixels: Pixels::Colours(pixels) }
    }

    /// The pixel of that number, row by row.
    #[inline]
    pub(super) fn pixel(&self, at: usize) -> Colour {
        match &self.pixels {
            Pixels::Levels { rgb, gain } => {
                let p = &rgb[3 * at..3 * at + 3];
                [f32::from(p[0]) * gain, f32::from(p[1]) * gain, f32::from(p[2]) * gain]
            }
            Pixels::Colours(colours) => colours[at],
        }
    }

    /// That pixel and the one to its right.
    #[inline]
    fn pair(&self, at: usize) -> [Colour; 2] {
        match &self.pixels {
            Pixels::Levels { rgb, gain } => {
                let p = &rgb[3 * at..3 * at + 6];
                [[0, 1, 2], [3, 4, 5]].map(|places| places.map(|c| f32::from(p[c]) * gain))
            }
            Pixels::Colours(colours) => {
                let p = &colours[at..at + 2];
                [p[0], p[1]]
            }
        }
    }

    /// One row.
    pub(super) fn row(&self, y: usize) -> Cow<'_, [Colour]> {
        let first = y * self.width;
        match &self.pixels {
            Pixels::Levels { rgb, gain } => {
                rgb[3 * first..3 * (first + self.width)].chunks_exact(3).map(|p| [0, 1, 2].map(|c| f32::from(p[c]) * gain)).collect()
            }
            Pixels::Colours(colours) => Cow::Borrowed(&colours[first..first + self.width]),
        }
    }

    /// Bilinear value at (`x`, `y`), pixel centres at whole numbers; `None` outside the picture.
    #[inline]
    pub(super) fn sample(&self, x: f32, y: f32) -> Option<Colour> {
        if !(x >= 0.0 && y >= 0.0) {
            return None;
        }
        // By way of 32 bits, for which processors have an instruction.
        let (ix, iy) = (x as i32 as usize, y as i32 as usize);
        if ix + 1 >= self.width || iy + 1 >= self.height {
            return None;
        }
        let (fx, fy) = (x - ix as f32, y - iy as f32);
        let i = iy * self.width + ix;
        let ([a, b], [c, d]) = (self.pair(i), self.pair(i + self.width));
        let between = |k: usize| {
            let top = a[k] + fx * (b[k] - a[k]);
            let bottom = c[k] + fx * (d[k] - c[k]);
            top + fy * (bottom - top)
        };
        Some([between(0), between(1), between(2)])
    }
}

impl<'a> Pyramid<'a> {
    /// Builds the sizes from the reduced photo.
    pub(super) fn new(small: &'a Reduced) -> Self {
        let mut levels = vec![Plane::from_reduced(small)];
        for _ in 0..HALVINGS {
            let next = levels[levels.len() - 1].halved();
            if next.width.min(next.height) < SMALLEST_SIDE {
                break;
            }
            levels.push(next);
        }
        Pyramid { levels }
    }

    /// All sizes, finest first.
    pub(super) fn levels(&self) -> &[Plane<'a>] {
        &self.levels
    }

    /// The finest size whose longer side is at most `longest` pixels, or the coarsest there is.
    pub(super) fn level_within(&self, longest: usize) -> usize {
        self.levels.iter().position(|p| p.width.max(p.height) <= longest).unwrap_or(self.levels.len() - 1)
    }

    /// The coarsest size on which a circle of `radius` base pixels still has a radius of at least `wanted` pixels.
    pub(super) fn level_for(&self, radius: f32, wanted: f32) -> usize {
        let mut level = 0;
        while level + 1 < self.levels.len() && radius / (2 << level) as f32 >= wanted {
            level += 1;
        }
        level
    }
}

/// Encoded level per channel that a twentieth of the picture exceeds: its white, when there is a good deal of white.
pub(super) fn bright_level(plane: &Plane<'_>) -> Colour {
    let count = plane.width * plane.height;
    [0, 1, 2].map(|c| {
        let mut values: Vec<f32> = (0..count).map(|at| plane.pixel(at)[c]).collect();
        *values.select_nth_unstable_by(count - 1 - count / 20, f32::total_cmp).1
    })
}

/// Base coordinate to that of `level`.
pub(super) fn to_level(u: f32, level: usize) -> f32 {
    (u + 0.5) / (1 << level) as f32 - 0.5
}

/// Coordinate of `level` to that of the base.
pub(super) fn to_base(u: f32, level: usize) -> f32 {
    (u + 0.5) * (1 << level) as f32 - 0.5
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn flat(side: usize, level: u8) -> Reduced {
        Reduced { width: side, height: side, factor: 1.0, rgb: vec![level; 3 * side * side] }
    }

    #[test]
    fn a_dark_picture_is_lifted_but_not_without_end() {
        let seen = |small: &Reduced| Pyramid::new(small).levels()[0].pixel(0)[1];
        assert_abs_diff_eq!(seen(&flat(30, 230)), 230.0 / 255.0, epsilon = 1e-6);
        assert_abs_diff_eq!(seen(&flat(30, 60)), BRIGHT, epsilon = 1e-6);
        assert_abs_diff_eq!(seen(&flat(30, 10)), 10.0 / 255.0 * GREATEST_GAIN, epsilon = 1e-6);
        // Nine bright pixels of a thousand are glare; eleven are what is bright in it.
        for (bright, wanted) in [(9, 60.0 / 255.0 * 255.0 * BRIGHT / 60.0), (11, 60.0 / 255.0)] {
            let mut small = Reduced { width: 40, height: 25, factor: 1.0, rgb: vec![60; 3000] };
            small.rgb[3000 - 3 * bright..].fill(255);
            assert_abs_diff_eq!(seen(&small), wanted, epsilon = 1e-6);
        }
    }

    #[test]
    fn a_circle_is_looked_at_where_it_is_just_large_enough() {
        let small = flat(800, 200);
        let pyramid = Pyramid::new(&small);
        assert_eq!(pyramid.levels().iter().map(|plane| plane.width).collect::<Vec<_>>(), [800, 400, 200, 100, 50, 25]);
        // Radius 100: 50, 25 and 12.5 pixels on the levels after the finest.
        for (wanted, level) in [(101.0, 0), (51.0, 0), (50.0, 1), (18.0, 2), (12.5, 3), (0.1, 5)] {
            assert_eq!(pyramid.level_for(100.0, wanted), level, "{wanted}");
        }
        for (longest, level) in [(1000, 0), (800, 0), (799, 1), (400, 1), (60, 4), (3, 5)] {
            assert_eq!(pyramid.level_within(longest), level, "{longest}");
        }
    }

    #[test]
    fn coordinates_of_levels_meet() {
        // Four base pixels 4 to 7 are pixel 1 of the second level; its middle lies between 5 and 6.
        assert_abs_diff_eq!(to_base(1.0, 2), 5.5);
        for level in 0..4 {
            assert_abs_diff_eq!(to_level(to_base(3.25, level), level), 3.25, epsilon = 1e-6);
        }
    }

    // A plane of levels is its own interpolation.
    #[test]
    fn between_pixels_colours_are_interpolated() {
        let rgb = (0..36).flat_map(|i| [100 + 10 * (i % 6) as u8 + 3 * (i / 6) as u8; 3]).collect();
        let small = Reduced { width: 6, height: 6, factor: 1.0, rgb };
        let plane = Plane { width: 6, height: 6, pixels: Pixels::Levels { rgb: &small.rgb, gain: 1.0 / 255.0 } };
        for (x, y) in [(0.0, 0.0), (1.25, 3.5), (4.9, 4.9)] {
            assert_abs_diff_eq!(plane.sample(x, y).unwrap()[2], (100.0 + 10.0 * x + 3.0 * y) / 255.0, epsilon = 1e-5);
        }
        assert!([(-0.1, 2.0), (2.0, -0.1), (5.0, 2.0), (2.0, 5.0), (f32::NAN, 2.0)].iter().all(|(x, y)| plane.sample(*x, *y).is_none()));
    }

    #[test]
    fn white_is_what_a_twentieth_exceeds() {
        let rgb = (0..100u8).flat_map(|i| [i, 99 - i, 7]).collect();
        let small = Reduced { width: 10, height: 10, factor: 1.0, rgb };
        let plane = Plane { width: 10, height: 10, pixels: Pixels::Levels { rgb: &small.rgb, gain: 1.0 } };
        assert_eq!(bright_level(&plane).map(|level| level as u8), [94, 94, 7]);
    }
}
