//! From raw numbers to levels: white balance, matrix, saturation, tone.

use super::camera::Camera;
use super::lamp::Lamp;
use crate::colour::space::{Matrix, apply};
use crate::colour::tone::srgb_encode;

/// How linear values become levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tone {
    /// IEC 61966-2-1.
    Srgb,
    /// Pure power of this exponent, such as 1/2.2.
    Power(f64),
    /// sRGB up to a knee, from where highlights roll off evenly.
    Shoulder(f64),
    /// Film-like: x^n / (x^n + s^n) scaled to reach 1 at 1 (the Naka-Rushton curve), then sRGB.
    Filmic {
        /// Steepness n.
        contrast: f64,
        /// Linear value s of half the full output.
        half: f64,
    },
}

impl Tone {
    /// Linear (1 = full scale) -> encoded, 0 to 1.
    #[must_use]
    pub fn encode(self, linear: f64) -> f64 {
        let x = linear.max(0.0);
        let level = match self {
            Tone::Srgb => srgb_encode(x),
            Tone::Power(exponent) => x.powf(exponent),
            Tone::Shoulder(knee) if x > knee => srgb_encode(knee + (1.0 - knee) * (1.0 - (-(x - knee) / (1.0 - knee)).exp())),
            Tone::Shoulder(_) => srgb_encode(x),
            Tone::Filmic { contrast, half } => {
                let bend = |x: f64| x.powf(contrast) / (x.powf(contrast) + half.powf(contrast));
                srgb_encode(bend(x) / bend(1.0))
            }
        };
        level.min(1.0)
    }
}

/// What the camera is set to do with its raw numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Processing {
    /// The light its white balance is set for; `None` when it follows the light of the scene.
    pub balanced_for: Option<Lamp>,
    /// Factors by which the balance of red, green and blue is wrong.
    pub balance_error: [f64; 3],
    /// The light its matrix is made for; `None` for the light of the scene.
    pub matrix_for: Option<Lamp>,
    /// 1 leaves colours as they are.
    pub saturation: f64,
    /// The curve.
    pub tone: Tone,
    /// True: colours out of gamut are paled until they fit. False: each channel is cut.
    pub pales: bool,
    /// Strength of the edge sharpening; 0 is none.
    pub sharpening: f64,
}

impl Processing {
    /// Works out gains and matrix for a camera under the scene's light.
    pub(super) fn develop(&self, camera: &Camera, lamp: &Lamp) -> Development {
        let white = camera.raw(&self.balanced_for.as_ref().unwrap_or(lamp).spectrum);
        Development {
            matrix: camera.matrix(&self.matrix_for.as_ref().unwrap_or(lamp).spectrum),
            // The balance multiplies what is low and leaves the green channel alone.
            gains: [0, 1, 2].map(|c| self.balance_error[c] * white[1] / white[c]),
            saturation: self.saturation,
            pales: self.pales,
        }
    }
}

/// Processing worked out for one light.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Development {
    /// White-balanced raw -> linear sRGB.
    matrix: Matrix,
    /// Gains of R, G, B, errors included.
    gains: [f64; 3],
    saturation: f64,
    pales: bool,
}

impl Development {
    /// Raw -> linear sRGB, 0 or more.
    #[must_use]
    pub(super) fn linear(&self, raw: [f64; 3]) -> [f64; 3] {
        let rgb = apply(&self.matrix, [0, 1, 2].map(|c| raw[c] * self.gains[c]));
        // Luminance weights of IEC 61966-2-1.
        let luminance = (0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2]).max(0.0);
        let mut share = self.saturation;
        if self.pales {
            let lowest = rgb[0].min(rgb[1]).min(rgb[2]);
            if luminance + share * (lowest - luminance) < 0.0 {
                share = luminance / (luminance - lowest);
            }
        }
        rgb.map(|v| (luminance + share * (v - luminance)).max(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn tones_rise_from_black_to_white() {
        for tone in [Tone::Srgb, Tone::Power(1.0 / 2.2), Tone::Shoulder(0.6), Tone::Filmic { contrast: 1.1, half: 0.8 }] {
            let levels: Vec<f64> = (0..=100).map(|i| tone.encode(f64::from(i) / 100.0)).collect();
            assert!(levels.is_sorted_by(|a, b| a < b), "{tone:?}");
            assert_abs_diff_eq!(levels[0], 0.0, epsilon = 1e-12);
            assert!(levels[100] > 0.8, "{tone:?}");
        }
    }
}
