//! What is taken from the picture: robust values of rings, of the white beside each cup, and of the card.

use super::frame::Frame;
use super::regions::{CardRegion, Circle, CupRegion, Face};
use std::ops::{Add, Mul};

/// Robust value of one area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// R, G, B, 0 to 1, sRGB-encoded in the photo's primaries.
    pub value: [f64; 3],
    /// Robust spread of what was averaged: pixels, or sectors of a ring.
    pub spread: [f64; 3],
    /// Share of pixels at the upper end of the scale.
    pub clipped: [f64; 3],
    /// Number of independent values that were averaged.
    pub independent: f64,
}

impl Sample {
    /// Standard uncertainty of the value from pixel noise alone, floored by quantisation.
    #[must_use]
    pub fn noise(&self, channel: usize) -> f64 {
        (self.spread[channel].powi(2) / self.independent.max(1.0) + QUANTISATION * QUANTISATION).sqrt()
    }
}

/// A ring of liquid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ring {
    /// Inner and outer radius, pixels.
    pub radii: (f64, f64),
    /// Mean of (distance / liquid radius)^2 over the ring.
    pub square: f64,
    /// Its colour.
    pub sample: Sample,
}

/// What one cup shows.
#[derive(Debug, Clone, PartialEq)]
pub struct CupSamples {
    /// From the middle outwards.
    pub rings: Vec<Ring>,
    /// The brightest neutral surface beside the liquid: wall, rim or paper.
    pub white: Option<Sample>,
    /// The two halves of that surface, left and right, where both are big enough.
    pub white_halves: Option<[Sample; 2]>,
}

/// What the card shows.
#[derive(Debug, Clone, PartialEq)]
pub struct CardSamples {
    /// All of it.
    pub whole: Sample,
    /// A grid of 3 by 3 parts, row by row.
    pub parts: Vec<Sample>,
}

/// Ring borders as shares of the liquid's radius. The outermost sixth is left out: meniscus, blur and a wrong radius live there.
/// The rings have about equal areas, so that a glare spot spoils no ring wholly.
const RING_BORDERS: [f64; 5] = [0.14, 0.46, 0.61, 0.735, 0.84];
/// Pixels looked at per area at most; more adds time and no information beyond the misfit of any model.
const MOST_PIXELS: f64 = 4500.0;

/// Fewest pixels that make a sample.
const FEWEST_PIXELS: usize = 12;
/// Shortest side of a card that can be measured, pixels: each ninth then has 4 by 4, enough for a sample.
pub const SMALLEST_CARD: f64 = 12.0;
/// Encoded level from which a pixel counts as clipped: cameras and compression leave burnt areas a few levels short of 255.
const CLIPPED: f32 = 0.985;
/// Grain of 8-bit values as a standard uncertainty: a uniform error of one level has 1/sqrt(12) of it.
const QUANTISATION: f64 = 0.3 / 255.0;
/// Share of the pixels beside a cup, by rank of brightness, that is taken for white: the brightest twentieth may be glare or a
/// sharpening halo, the rest of the upper part is wall, rim or paper.
const WHITE_RANKS: (f64, f64) = (0.70, 0.95);
/// Pixels of the card that count, by rank of brightness: dust and print lie below, glare above.
const CARD_RANKS: (f64, f64) = (0.25, 0.75);
/// Ring in which white is looked for, in radii of the liquid: from, to where no rim was seen, and the bounds of a rim.
const WHITE_RING: (f64, f64, (f64, f64)) = (1.06, 1.45, (1.15, 1.6));

/// How far white is looked for around a surface seen on a sheet, in its radii: the wall just above the liquid stands in the liquid's
/// own light, and a rim farther up is seen elsewhere.
const FACE_WHITE: f64 = 1.25;

/// Brightness for ranking, arbitrary scale: green tells most, blue least.
fn brightness<T: Copy + From<u8> + Mul<Output = T> + Add<Output = T>>(rgb: &[T; 3]) -> T {
    T::from(2) * rgb[0] + T::from(4) * rgb[1] + rgb[2]
}

/// Collects pixels and yields a [`Sample`].
#[derive(Default)]
struct Collector {
    pixels: Vec<[f32; 3]>,
}

impl Collector {
    /// Mean over the pixels whose luminance ranks between `low` and `high` (0 to 1).
    fn sample(&mut self, (low, high): (f64, f64)) -> Option<Sample> {
        let n = self.pixels.len();
        if n < FEWEST_PIXELS {
            return None;
        }
        let (a, b) = ((low * n as f64) as usize, ((high * n as f64).ceil() as usize).clamp(1, n));
        let a = a.min(b - 1);
        let order = |p: &[f32; 3], q: &[f32; 3]| brightness(p).total_cmp(&brightness(q));
        let clipped = [0, 1, 2].map(|c| self.pixels.iter().filter(|p| p[c] > CLIPPED).count() as f64 / n as f64);
        if b < n {
            self.pixels.select_nth_unstable_by(b, order);
        }
        if a > 0 {
            self.pixels[..b].select_nth_unstable_by(a, order);
        }
        let kept = &self.pixels[a..b];
        let count = kept.len() as f64;
        let value = [0, 1, 2].map(|c| kept.iter().map(|p| f64::from(p[c])).sum::<f64>() / count);
        let spread = [0, 1, 2].map(|c| (kept.iter().map(|p| (f64::from(p[c]) - value[c]).powi(2)).sum::<f64>() / count).sqrt());
        // Neighbouring pixels of a compressed photo are not independent: blocks of about 16 count as one.
        Some(Sample { value, spread, clipped, independent: n as f64 / 16.0 })
    }
}

/// Sectors of a ring; glare spots and bubbles sit in a few of them.
const SECTORS: usize = 24;
/// Sectors that count, by rank from the darkest: glare brightens and never darkens, so they lie in the darker half; the very darkest
/// may be dust or a shadow. Whole sectors are ranked, not pixels, for a choice among noisy pixels would bias their colour.
const COUNTED: std::ops::Range<usize> = 3..12;

/// Sums pixels by sector and yields a [`Sample`].
#[derive(Default)]
struct Sectors {
    sums: [[f64; 3]; SECTORS],
    counts: [f64; SECTORS],
    clipped: [f64; 3],
}

impl Sectors {
    fn add(&mut self, dx: f64, dy: f64, pixel: [f32; 3]) {
        let turn = (dy.atan2(dx) / std::f64::consts::TAU + 0.5) * SECTORS as f64;
        let sector = (turn as usize).min(SECTORS - 1);
        self.counts[sector] += 1.0;
        for (c, &level) in pixel.iter().enumerate() {
            self.sums[sector][c] += f64::from(level);
            self.clipped[c] += f64::from(u8::from(level > CLIPPED));
        }
    }

    fn sample(&self) -> Option<Sample> {
        let mut means: Vec<[f64; 3]> =
            (0..SECTORS).filter(|&i| self.counts[i] >= 1.0).map(|i| self.sums[i].map(|sum| sum / self.counts[i])).collect();
        if means.len() < SECTORS / 2 {
            return None;
        }
        means.sort_by(|a, b| brightness(a).total_cmp(&brightness(b)));
        let share = |rank: usize| rank * means.len() / SECTORS;
        let kept = &means[share(COUNTED.start)..share(COUNTED.end)];
        let n = kept.len() as f64;
        let value = [0, 1, 2].map(|c| kept.iter().map(|m| m[c]).sum::<f64>() / n);
        let spread = [0, 1, 2].map(|c| (kept.iter().map(|m| (m[c] - value[c]).powi(2)).sum::<f64>() / n).sqrt());
        let count: f64 = self.counts.iter().sum();
        Some(Sample { value, spread, clipped: self.clipped.map(|k| k / count), independent: n })
    }
}

/// Visits a grid of pixels in the ring between two radii, at most about [`MOST_PIXELS`].
fn visit_ring(frame: &Frame, centre: (f64, f64), inner: f64, outer: f64, mut visit: impl FnMut(f64, f64, [f32; 3])) {
    let area = std::f64::consts::PI * (outer * outer - inner * inner);
    let step = (area / MOST_PIXELS).sqrt().max(1.0);
    let (w, h) = (frame.upright_width() as f64, frame.upright_height() as f64);
    let mut y = (centre.1 - outer).max(0.0);
    while y <= (centre.1 + outer).min(h - 1.0) {
        let dy = y - centre.1;
        let half = (outer * outer - dy * dy).max(0.0).sqrt();
        let mut x = (centre.0 - half).max(0.0);
        while x <= (centre.0 + half).min(w - 1.0) {
            let dx = x - centre.0;
            let square = dx * dx + dy * dy;
            if square >= inner * inner && square <= outer * outer {
                visit(dx, dy, frame.pixel(x as usize, y as usize));
            }
            x += step;
        }
        y += step;
    }
}

/// The same for a round surface seen aslant: radii are shares of its own, and so are the places handed over. `radius` is that of the
/// surface in pixels, about.
fn visit_face(frame: &Frame, face: &Face, radius: f64, (inner, outer): (f64, f64), mut visit: impl FnMut(f64, f64, [f32; 3])) {
    let area = std::f64::consts::PI * (outer * outer - inner * inner);
    let step = (area / MOST_PIXELS).sqrt().max(1.0 / radius.max(1.0));
    let (w, h) = (frame.upright_width() as f64, frame.upright_height() as f64);
    let count = (outer / step).floor() as i32;
    for row in -count..=count {
        for column in -count..=count {
            let (u, v) = (f64::from(column) * step, f64::from(row) * step);
            let square = u * u + v * v;
            if square < inner * inner || square > outer * outer || !face.shows((u, v)) {
                continue;
            }
            let Some((x, y)) = face.at((u, v)) else { continue };
            let (x, y) = (x.round(), y.round());
            if x >= 0.0 && y >= 0.0 && x < w && y < h {
                visit(u, v, frame.pixel(x as usize, y as usize));
            }
        }
    }
}

/// Rings of liquid and the white around it. `None` when too little of the cup lies inside the picture.
#[must_use]
pub fn cup(frame: &Frame, region: &CupRegion) -> Option<CupSamples> {
    let Circle { x, y, radius } = region.liquid;
    let mut rings = Vec::new();
    for border in RING_BORDERS.windows(2) {
        let (inner, outer) = (border[0] * radius, border[1] * radius);
        let mut sectors = Sectors::default();
        let (mut squares, mut count) = (0.0, 0.0);
        let mut add = |dx: f64, dy: f64, square: f64, pixel| {
            sectors.add(dx, dy, pixel);
            squares += square;
            count += 1.0;
        };
        match &region.face {
            Some(face) => visit_face(frame, face, radius, (border[0], border[1]), |u, v, pixel| add(u, v, u * u + v * v, pixel)),
            None => visit_ring(frame, (x, y), inner, outer, |dx, dy, pixel| {
                add(dx, dy, (dx * dx + dy * dy) / (radius * radius), pixel);
            }),
        }
        let square = squares / f64::max(count, 1.0);
        let sample = sectors.sample()?;
        rings.push(Ring { radii: (inner, outer), square, sample });
    }
    let (from, to, (least, most)) = WHITE_RING;
    // Just inside the rim, where a vessel ends and the table may begin.
    let reach = region.rim.map_or(to * radius, |rim| (0.98 * rim).clamp(least * radius, most * radius));
    let (mut all, mut left, mut right) = (Collector::default(), Collector::default(), Collector::default());
    let mut add = |dx: f64, pixel| {
        all.pixels.push(pixel);
        if dx < 0.0 { left.pixels.push(pixel) } else { right.pixels.push(pixel) }
    };
    match &region.face {
        Some(face) => visit_face(frame, face, radius, (from, FACE_WHITE), |u, _, pixel| add(u, pixel)),
        None => visit_ring(frame, (x, y), from * radius, reach, |dx, _, pixel| add(dx, pixel)),
    }
    let white = all.sample(WHITE_RANKS);
    let white_halves = left.sample(WHITE_RANKS).zip(right.sample(WHITE_RANKS)).map(|(l, r)| [l, r]);
    Some(CupSamples { rings, white, white_halves })
}

/// The card as a whole and in nine parts.
#[must_use]
pub fn card(frame: &Frame, region: &CardRegion) -> Option<CardSamples> {
    let area = region.area;
    let part = |x: f64, y: f64, w: f64, h: f64| {
        let mut collector = Collector::default();
        let step = (w * h / MOST_PIXELS).sqrt().max(1.0);
        let (right, bottom) = ((x + w).min(frame.upright_width() as f64), (y + h).min(frame.upright_height() as f64));
        let mut v = y.max(0.0);
        while v < bottom {
            let mut u = x.max(0.0);
            while u < right {
                collector.pixels.push(frame.pixel(u as usize, v as usize));
                u += step;
            }
            v += step;
        }
        collector.sample(CARD_RANKS)
    };
    let whole = part(area.x, area.y, area.w, area.h)?;
    let mut parts = Vec::new();
    for row in 0..3 {
        for column in 0..3 {
            let (w, h) = (area.w / 3.0, area.h / 3.0);
            parts.push(part(area.x + w * f64::from(column), area.y + h * f64::from(row), w, h)?);
        }
    }
    Some(CardSamples { whole, parts })
}

#[cfg(test)]
mod tests {
    use super::super::frame::{Orientation, Samples};
    use super::super::regions::Rectangle;
    use super::*;
    use crate::colour::space::PhotoSpace;
    use approx::assert_abs_diff_eq;

    /// A picture of 60 by 40 with these levels.
    fn picture(level: impl Fn(usize, usize) -> u8) -> Frame {
        let rgb: Vec<u8> = (0..2400).flat_map(|i| [level(i % 60, i / 60), 100, 50]).collect();
        Frame::new(60, 40, Orientation::Upright, Samples::Eight(rgb.into()), PhotoSpace::srgb()).unwrap()
    }

    // By hand: 0.03 over nine values is 0.01; an 8-bit level adds 0.3 / 255 of its own, and less than one value is one.
    #[test]
    fn noise_falls_with_the_root_of_what_was_averaged() {
        let sample = |independent: f64| Sample { value: [0.5; 3], spread: [0.03, 0.0, 0.06], clipped: [0.0; 3], independent };
        assert_abs_diff_eq!(sample(9.0).noise(0), (1e-4f64 + (0.3f64 / 255.0).powi(2)).sqrt(), epsilon = 1e-12);
        assert_abs_diff_eq!(sample(9.0).noise(1), 0.3 / 255.0, epsilon = 1e-12);
        assert_abs_diff_eq!(sample(0.5).noise(2), 0.06, epsilon = 2e-5);
    }

    // A ring is looked at in all of its pixels and in no other; at the picture's corner a quarter of it is left.
    #[test]
    fn a_ring_is_all_pixels_between_two_radii() {
        let frame = picture(|_, _| 200);
        let wanted = |quarter: bool| {
            let all = (-10..=10).flat_map(|y| (-10..=10).map(move |x| (x, y)));
            all.filter(|(x, y)| (25..=100).contains(&(x * x + y * y)) && (!quarter || (*x >= 0 && *y >= 0))).count() as i64
        };
        for (centre, quarter) in [((30.0, 20.0), false), ((0.0, 0.0), true)] {
            let mut count = 0i64;
            visit_ring(&frame, centre, 5.0, 10.0, |dx, dy, _| {
                assert!((4.999..10.001).contains(&dx.hypot(dy)), "{dx} {dy}");
                count += 1;
            });
            // Rows begin where the circle does, between two pixels, so that a row may have one less.
            assert!((wanted(quarter) - count).abs() <= if quarter { 8 } else { 20 }, "{count} {}", wanted(quarter));
        }
    }

    // Twelve by twelve pixels whose red rises by ten a column; each ninth has 16 pixels, one block of a compressed photo.
    #[test]
    fn a_card_is_seen_whole_and_in_nine_parts() {
        let frame = picture(|x, _| (10 * x.min(25)) as u8);
        let area = Rectangle { x: 6.0, y: 9.0, w: 12.0, h: 12.0 };
        let card = card(&frame, &CardRegion { area, corners: [(0.0, 0.0); 4], confidence: 1.0 }).unwrap();
        let red = |sample: &Sample| 255.0 * sample.value[0];
        assert_abs_diff_eq!(card.whole.independent, 9.0);
        assert_abs_diff_eq!(red(&card.whole), 115.0, epsilon = 1e-3);
        assert_eq!(card.parts.len(), 9);
        for (k, part) in card.parts.iter().enumerate() {
            assert_abs_diff_eq!(red(part), 75.0 + 40.0 * (k % 3) as f64, epsilon = 1e-3);
            assert_abs_diff_eq!(part.independent, 1.0);
        }
        let small = Rectangle { w: 9.0, h: 9.0, ..area };
        assert!(super::card(&frame, &CardRegion { area: small, corners: [(0.0, 0.0); 4], confidence: 1.0 }).is_none());
    }

    // A tenth of each ring is burnt out; of 24 sectors the nine between the third and the twelfth from the dark count.
    #[test]
    fn sectors_are_ranked_and_the_darker_ones_count() {
        let mut sectors = Sectors::default();
        for sector in 0..SECTORS {
            let turn = std::f64::consts::TAU * ((sector as f64 + 0.5) / SECTORS as f64 - 0.5);
            for pixel in 0..10 {
                let level = if pixel == 0 { [1.0, 0.0, 0.0] } else { [(0.01 * sector as f32 - 0.1) / 0.9, 0.4, 0.2] };
                sectors.add(3.0 * turn.cos(), 3.0 * turn.sin(), level);
            }
        }
        let sample = sectors.sample().unwrap();
        // Sectors 3 to 11 have red 0.03 to 0.11.
        assert_abs_diff_eq!(sample.value[0], 0.07, epsilon = 1e-6);
        assert_abs_diff_eq!(sample.spread[0], (6.0f64 * 10.0 / 9.0).sqrt() * 0.01, epsilon = 1e-6);
        assert_abs_diff_eq!(sample.clipped.as_slice(), [0.1, 0.0, 0.0].as_slice(), epsilon = 1e-12);
        assert_abs_diff_eq!(sample.independent, 9.0);
        assert!(Sectors::default().sample().is_none());
    }
}
