//! The camera: sensitivities, noise, and the matrix that suits it.

use super::random::Random;
use crate::colour::matrix::{inverse, product};
use crate::colour::space::{Matrix, SRGB, apply, rgb_to_xyz};
use crate::colour::spectrum::Spectrum;
use crate::colour::{chart, light, observer};

/// A bell with a width of its own on either side: peak, violet-side and red-side standard deviation, all nm.
type Bell = (f64, f64, f64);

/// Invented sensors, R, G, B: peaks where published camera sensitivities lie (about 600, 535, 460 nm), widths from narrow to broad.
const SENSORS: [(&str, [Bell; 3]); 5] = [
    ("narrow", [(605.0, 20.0, 26.0), (533.0, 28.0, 30.0), (456.0, 19.0, 21.0)]),
    ("usual", [(598.0, 24.0, 38.0), (531.0, 34.0, 42.0), (462.0, 26.0, 28.0)]),
    ("broad", [(592.0, 36.0, 50.0), (541.0, 44.0, 48.0), (452.0, 24.0, 40.0)]),
    ("late-red", [(617.0, 30.0, 30.0), (545.0, 36.0, 34.0), (470.0, 34.0, 24.0)]),
    ("early-green", [(600.0, 30.0, 34.0), (522.0, 30.0, 46.0), (447.0, 20.0, 30.0)]),
];

/// Light in, raw numbers out.
#[derive(Debug, Clone, PartialEq)]
pub struct Camera {
    /// Which sensor, for the truth file.
    pub name: &'static str,
    /// Sensitivity of the red, green and blue channel.
    pub channels: [Spectrum; 3],
    /// Electrons at full scale.
    pub full_well: f64,
    /// Noise in the dark, share of full scale.
    pub read_noise: f64,
}

impl Camera {
    /// One of the sensors, or the CIE observer, each a little off, behind its own filter.
    #[must_use]
    pub fn drawn(random: &mut Random) -> Self {
        let (full_well, read_noise) = (random.between_log(2000.0, 15_000.0), random.between(0.0005, 0.002));
        let which = random.below(SENSORS.len() + 1);
        let Some((name, bells)) = SENSORS.get(which) else {
            return Camera { name: "observer", channels: scaled(observer::cie_1931().clone()), full_well, read_noise };
        };
        let (violet_cut, infrared_cut) = (random.between(400.0, 420.0), random.between(645.0, 690.0));
        let second = random.between(0.0, 0.08);
        let channels = std::array::from_fn(|c| {
            let (peak, below, above) = bells[c];
            let (peak, wide) = (peak + random.normal(3.0), 1.0 + random.normal(0.05));
            Spectrum::from_fn(|nm| {
                let width = wide * if nm < peak { below } else { above };
                let bell = (-0.5 * ((nm - peak) / width).powi(2)).exp();
                // Red filters let a little blue pass, all filters a little of everything.
                let leak = 0.006 + if c == 0 { second * (-0.5 * ((nm - 435.0) / 18.0f64).powi(2)).exp() } else { 0.0 };
                let filter = 1.0 / ((1.0 + (-(nm - violet_cut) / 6.0).exp()) * (1.0 + ((nm - infrared_cut) / 8.0).exp()));
                (bell + leak) * filter
            })
        });
        Camera { name, channels: scaled(channels), full_well, read_noise }
    }

    /// Raw R, G, B of a spectrum.
    #[must_use]
    pub fn raw(&self, spectrum: &Spectrum) -> [f64; 3] {
        [0, 1, 2].map(|c| spectrum.dot(&self.channels[c]))
    }

    /// White-balanced raw -> linear sRGB, fitted by least squares on the chart under `light`; white stays white.
    #[must_use]
    pub fn matrix(&self, light: &Spectrum) -> Matrix {
        let white = self.raw(light);
        let to_srgb = inverse(&rgb_to_xyz(&SRGB).unwrap_or_else(|| unreachable!("the primaries of sRGB lie on no line")));
        let d65 = light::daylight(6504.0);
        let (mut squares, mut products) = ([[0.0; 3]; 3], [[0.0; 3]; 3]);
        for patch in chart::patches() {
            let raw = self.raw(&light.times(patch));
            let raw = [0, 1, 2].map(|c| raw[c] / white[c]);
            let wanted = apply(&to_srgb, observer::tristimulus(&d65, patch));
            for i in 0..3 {
                for j in 0..3 {
                    squares[i][j] += raw[i] * raw[j];
                    products[i][j] += wanted[i] * raw[j];
                }
            }
        }
        let fitted = product(&products, &inverse(&squares));
        fitted.map(|row| {
            let sum: f64 = row.iter().sum();
            row.map(|v| v / sum)
        })
    }
}

/// Sensitivities scaled so that white in daylight fills the channels as unevenly as sensors do (0.65 : 1 : 0.75, invented).
fn scaled(channels: [Spectrum; 3]) -> [Spectrum; 3] {
    let daylight = light::daylight(6504.0);
    std::array::from_fn(|c| {
        let factor = [0.65, 1.0, 0.75][c] / daylight.dot(&channels[c]);
        channels[c].map(|v| v * factor)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn matrix_keeps_white_and_orders_colours() {
        let mut random = Random::new(8);
        let d65 = light::named("D65").unwrap();
        for _ in 0..20 {
            let camera = Camera::drawn(&mut random);
            let matrix = camera.matrix(d65);
            let white = apply(&matrix, [1.0, 1.0, 1.0]);
            assert!(white.iter().all(|v| (v - 1.0).abs() < 1e-9));
            // Patches 13 to 15 of the chart are blue, green and red.
            let raw_white = camera.raw(d65);
            let seen = |i: usize| {
                let raw = camera.raw(&d65.times(&chart::patches()[i]));
                apply(&matrix, [0, 1, 2].map(|c| raw[c] / raw_white[c]))
            };
            let (blue, green, red) = (seen(12), seen(13), seen(14));
            assert!(blue[2] > blue[0] && blue[2] > blue[1], "{} {blue:?}", camera.name);
            assert!(green[1] > green[0] && green[1] > green[2], "{} {green:?}", camera.name);
            assert!(red[0] > red[1] && red[0] > red[2], "{} {red:?}", camera.name);
        }
    }
}
