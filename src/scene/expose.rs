//! From the light that falls on the sensor to the 8-bit picture.

use super::develop::{Development, Tone};
use super::options::Options;
use super::random::Random;

/// An unclipped picture of three channels, row by row.
pub(super) struct Plane {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) values: Vec<f32>,
}

impl Plane {
    /// Blurred with about a Gaussian of this standard deviation in pixels; edges held.
    pub(super) fn blurred(&self, deviation: f64) -> Plane {
        // Three passes of a running mean of w pixels have variance (w^2 - 1) / 4 (Wells 1986); a fractional width is mixed from two odd ones.
        let ideal = (4.0 * deviation * deviation + 1.0).sqrt();
        let narrow = ((ideal - 1.0) / 2.0).floor() as usize;
        let share = ((ideal * ideal - (2.0 * narrow as f64 + 1.0).powi(2)) / (8.0 * narrow as f64 + 8.0)).clamp(0.0, 1.0) as f32;
        let mut values = self.values.clone();
        let mut spare = vec![0.0f32; values.len()];
        for _ in 0..3 {
            self.mean_across(&values, &mut spare, (narrow, share));
            self.mean_down(&spare, &mut values, (narrow, share));
        }
        Plane { width: self.width, height: self.height, values }
    }

    /// Running mean along each row over 2 `narrow` + 1 pixels, mixed with the one that is two pixels wider.
    fn mean_across(&self, values: &[f32], out: &mut [f32], (narrow, share): (usize, f32)) {
        let mean = Mean::new(narrow, share);
        // A row with what lies beyond its ends, which is as its ends: then no place has to be looked after.
        let mut row = vec![[0.0f32; 3]; self.width + 2 * narrow + 2];
        for (line, out) in values.chunks_exact(3 * self.width).zip(out.chunks_exact_mut(3 * self.width)) {
            let (pixels, _) = line.as_chunks::<3>();
            for (at, place) in row.iter_mut().enumerate() {
                *place = pixels[at.saturating_sub(narrow + 1).min(self.width - 1)];
            }
            let mut sum = [0.0f64; 3];
            for pixel in &row[1..2 * narrow + 2] {
                for c in 0..3 {
                    sum[c] += f64::from(pixel[c]);
                }
            }
            let (out, _) = out.as_chunks_mut::<3>();
            for (at, out) in out.iter_mut().enumerate() {
                let (left, leaves, comes) = (row[at], row[at + 1], row[at + 2 * narrow + 2]);
                for c in 0..3 {
                    out[c] = mean.of(sum[c], left[c], comes[c]);
                    sum[c] += f64::from(comes[c]) - f64::from(leaves[c]);
                }
            }
        }
    }

    /// The same down the columns, all of them row by row.
    fn mean_down(&self, values: &[f32], out: &mut [f32], (narrow, share): (usize, f32)) {
        let mean = Mean::new(narrow, share);
        let (length, reach) = (3 * self.width, narrow as isize);
        let row = |y: isize| &values[length * y.clamp(0, self.height as isize - 1) as usize..][..length];
        let mut sum = vec![0.0f64; length];
        for y in -reach..=reach {
            sum.iter_mut().zip(row(y)).for_each(|(sum, v)| *sum += f64::from(*v));
        }
        for (y, out) in out.chunks_exact_mut(length).enumerate() {
            let y = y as isize;
            let (above, leaves, comes) = (row(y - reach - 1), row(y - reach), row(y + reach + 1));
            for i in 0..length {
                out[i] = mean.of(sum[i], above[i], comes[i]);
                sum[i] += f64::from(comes[i]) - f64::from(leaves[i]);
            }
        }
    }
}

/// Means of an odd width and of the next, mixed.
struct Mean {
    small: f32,
    large: f32,
    share: f32,
}

impl Mean {
    fn new(narrow: usize, share: f32) -> Self {
        Mean { small: (2 * narrow + 1) as f32, large: (2 * narrow + 3) as f32, share }
    }

    /// From the sum of the narrow width and the two that lie next to it.
    fn of(&self, sum: f64, before: f32, behind: f32) -> f32 {
        let outer = sum as f32 + before + behind;
        (1.0 - self.share) * sum as f32 / self.small + self.share * outer / self.large
    }
}

/// Clips, adds noise, develops and encodes a picture of raw numbers (1 = full scale).
pub(super) fn finish(raw: Plane, options: &Options, development: &Development, random: &mut Random) -> Vec<u8> {
    let raw = if options.blur > 0.0 { raw.blurred(options.blur) } else { raw };
    let (well, read) = (options.camera.full_well as f32, options.camera.read_noise as f32);
    let curve = Curve::new(options.processing.tone);
    let mut encoded = Plane { width: raw.width, height: raw.height, values: Vec::with_capacity(raw.values.len()) };
    for pixel in raw.values.chunks_exact(3) {
        let noisy = [0, 1, 2].map(|c| {
            let light = pixel[c].clamp(0.0, 1.0);
            f64::from((light + random.grain() * (light / well + read * read).sqrt()).clamp(0.0, 1.0))
        });
        encoded.values.extend(development.linear(noisy).map(|v| curve.at(v)));
    }
    let strength = options.processing.sharpening as f32;
    if strength > 0.0 {
        let soft = encoded.blurred(1.1);
        for (value, mean) in encoded.values.iter_mut().zip(&soft.values) {
            *value += strength * (*value - mean);
        }
    }
    encoded.values.iter().map(|v| (v.clamp(0.0, 1.0) * 255.0 + 0.5) as u8).collect()
}

/// A tone curve as a table over the square root of the linear value, where it is nearly straight.
struct Curve(Vec<f32>);

impl Curve {
    const STEPS: usize = 2048;

    fn new(tone: Tone) -> Self {
        // Values up to 4 are kept apart, since a shoulder still rises there.
        Curve((0..=Self::STEPS).map(|i| tone.encode((2.0 * i as f64 / Self::STEPS as f64).powi(2)) as f32).collect())
    }

    fn at(&self, linear: f64) -> f32 {
        let place = (linear.max(0.0).sqrt() * 0.5 * Self::STEPS as f64).min(Self::STEPS as f64 - 1e-3) as f32;
        let step = place as usize;
        self.0[step] + (self.0[step + 1] - self.0[step]) * (place - step as f32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn table_follows_the_curve() {
        for tone in [Tone::Srgb, Tone::Power(0.45), Tone::Shoulder(0.5), Tone::Filmic { contrast: 1.1, half: 0.8 }] {
            let curve = Curve::new(tone);
            for i in 0..=1000 {
                let x = f64::from(i) / 900.0;
                // A quarter of an 8-bit level.
                assert_abs_diff_eq!(f64::from(curve.at(x)), tone.encode(x), epsilon = 0.001);
            }
        }
    }

    #[test]
    fn blur_has_the_width_it_is_told() {
        for deviation in [0.7, 2.3, 9.0] {
            let size = 121;
            let mut plane = Plane { width: size, height: size, values: vec![0.0; 3 * size * size] };
            plane.values[3 * (60 * size + 60) + 1] = 1.0;
            let soft = plane.blurred(deviation);
            let (mut sum, mut square) = (0.0, 0.0);
            for y in 0..size {
                for x in 0..size {
                    let v = f64::from(soft.values[3 * (y * size + x) + 1]);
                    sum += v;
                    square += v * (x as f64 - 60.0).powi(2);
                }
            }
            assert_abs_diff_eq!(sum, 1.0, epsilon = 1e-4);
            assert_abs_diff_eq!((square / sum).sqrt(), deviation, epsilon = 0.02 * deviation);
        }
    }
}
