//! Pairs of a light and a camera, each with that camera's own colour matrix.

use super::{WAVES, Wave, nanometres};
use crate::colour::generic::{self, LightKind};
use crate::colour::space::{Matrix, PhotoSpace};
use crate::colour::spectrum::Spectrum;
use crate::colour::{chart, light, observer};
use nalgebra::{Matrix3, SMatrix};
use std::sync::OnceLock;

/// One light and one camera.
#[derive(Debug, Clone)]
pub struct Hypothesis {
    /// Kind of the light.
    pub kind: LightKind,
    /// Place of the light among the generic ones.
    pub light: usize,
    /// Place of the camera among the generic ones.
    pub camera: usize,
    /// Light times sensitivity of R, G, B; each sums to 1.
    pub weights: [Wave; 3],
    /// White-balanced camera RGB -> linear RGB in the photo's primaries, made for this light; rows sum to 1.
    pub matrix: Matrix,
    /// What a matrix made for daylight has more than that; rows sum to 0.
    pub towards_daylight: Matrix,
    /// Log of the gain that balances red and blue against green: the sensor's full scale in the balanced picture.
    pub balance: [f64; 3],
    /// Log of the prior probability.
    pub log_prior: f64,
}

/// Log odds that a worker who names the light is right and that the generic lights of that kind stand for it.
pub const TOLD: f64 = 2.3;

/// IEC 61966-2-1, four decimals.
const XYZ_TO_SRGB: Matrix = [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]];

/// A pair as it is whatever the photo: all but its prior and its matrices, which are for sRGB.
struct Pair {
    kind: LightKind,
    light: usize,
    camera: usize,
    weights: [Wave; 3],
    matrix: Matrix3<f64>,
    daylight: Matrix3<f64>,
    balance: [f64; 3],
    /// Lights of that kind.
    of_kind: f64,
}

/// Works out what is the same for every photo, once.
pub(crate) fn prepare() {
    let _ = pairs();
}

fn pairs() -> &'static [Pair] {
    static PAIRS: OnceLock<Vec<Pair>> = OnceLock::new();
    PAIRS.get_or_init(all_pairs)
}

fn all_pairs() -> Vec<Pair> {
    let patches = chart::patches();
    let d65 = light::daylight(6504.0);
    let targets: Vec<[f64; 3]> = patches.iter().map(linear_srgb).collect();
    let lights = generic::lights();
    let by_camera: Vec<_> = generic::cameras()
        .into_iter()
        .map(|camera| {
            let daylight = camera.clone().map(|channel| channel.times(&d65));
            (camera, colour_matrix(&daylight, patches, &targets))
        })
        .collect();
    let mut out = Vec::new();
    for (place, (kind, light)) in lights.iter().enumerate() {
        let of_kind = lights.iter().filter(|(k, _)| k == kind).count() as f64;
        for (number, (camera, daylight)) in by_camera.iter().enumerate() {
            let seen = camera.clone().map(|channel| channel.times(light));
            out.push(Pair {
                kind: *kind,
                light: place,
                camera: number,
                weights: [0, 1, 2].map(|c| binned(&seen[c])),
                matrix: colour_matrix(&seen, patches, &targets),
                daylight: *daylight,
                balance: [0, 1, 2].map(|c| (sum(&seen[1]) / sum(&seen[c])).ln()),
                of_kind,
            });
        }
    }
    out
}

/// All pairs for a photo in `space`; kinds are equally probable (but for the one that was told), as are the lights of a kind.
#[must_use]
pub fn all(space: &PhotoSpace, told: Option<LightKind>) -> Vec<Hypothesis> {
    let to_photo = matrix3(&space.to_srgb).try_inverse().unwrap_or_else(Matrix3::identity);
    let of_photo = |pair: &Pair| {
        let (daylight, matrix) = (to_photo * pair.daylight, to_photo * pair.matrix);
        Hypothesis {
            kind: pair.kind,
            light: pair.light,
            camera: pair.camera,
            weights: pair.weights,
            matrix: std::array::from_fn(|i| std::array::from_fn(|j| matrix[(i, j)])),
            towards_daylight: std::array::from_fn(|i| std::array::from_fn(|j| daylight[(i, j)] - matrix[(i, j)])),
            balance: pair.balance,
            log_prior: if told == Some(pair.kind) { TOLD } else { 0.0 } - pair.of_kind.ln(),
        }
    };
    pairs().iter().map(of_photo).collect()
}

fn sum(spectrum: &Spectrum) -> f64 {
    spectrum.0.iter().sum()
}

/// 10 nm bins (triangular) of a 5 nm spectrum, scaled to sum 1.
fn binned(spectrum: &Spectrum) -> Wave {
    let mut wave: Wave = std::array::from_fn(|i| {
        let nm = nanometres(i);
        0.5 * spectrum.at(nm - 5.0) + spectrum.at(nm) + 0.5 * spectrum.at(nm + 5.0)
    });
    let sum: f64 = wave.iter().sum();
    for w in &mut wave {
        *w /= sum;
    }
    debug_assert_eq!(wave.len(), WAVES);
    wave
}

fn matrix3(m: &Matrix) -> Matrix3<f64> {
    Matrix3::from_fn(|i, j| m[i][j])
}

/// Linear sRGB of a reflectance under D65.
fn linear_srgb(reflectance: &Spectrum) -> [f64; 3] {
    let d65 = light::daylight(6504.0);
    let observer = observer::cie_1931();
    let white = d65.dot(&observer[1]);
    let xyz = [0, 1, 2].map(|i| reflectance.times(&d65).dot(&observer[i]) / white);
    let white_xyz = [0, 1, 2].map(|i| d65.dot(&observer[i]) / white);
    // The patch relative to the light's own white, seen under the white of sRGB.
    let srgb_white = [0.9505, 1.0, 1.0890];
    let adapted = [0, 1, 2].map(|i| xyz[i] / white_xyz[i] * srgb_white[i]);
    crate::colour::space::apply(&XYZ_TO_SRGB, adapted)
}

/// Least squares from white-balanced camera values to linear sRGB, rows scaled to keep neutrals.
fn colour_matrix(seen: &[Spectrum; 3], patches: &[Spectrum], targets: &[[f64; 3]]) -> Matrix3<f64> {
    let white = [0, 1, 2].map(|c: usize| sum(&seen[c]));
    let mut normal = SMatrix::<f64, 3, 3>::zeros();
    let mut right = SMatrix::<f64, 3, 3>::zeros();
    for (patch, target) in patches.iter().zip(targets) {
        let raw = [0, 1, 2].map(|c| seen[c].dot(patch) / white[c]);
        for i in 0..3 {
            for j in 0..3 {
                normal[(i, j)] += raw[i] * raw[j];
                right[(i, j)] += raw[i] * target[j];
            }
        }
    }
    let solution = normal.try_inverse().map_or_else(Matrix3::identity, |inverse| (inverse * right).transpose());
    Matrix3::from_fn(|i, j| solution[(i, j)] / (0..3).map(|k| solution[(i, k)]).sum::<f64>())
}

#[cfg(test)]
mod tests {
    use super::*;

    // A straight line keeps its shape under even bins, all but the last, where the spectrum may end within the bin.
    #[test]
    fn bins_of_a_line_are_a_line() {
        let wave = binned(&Spectrum::from_fn(|nm| nm - 300.0));
        assert!((wave.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        for i in 1..wave.len() - 1 {
            let wanted = (nanometres(i) - 300.0) / (nanometres(1) - 300.0);
            assert!((wave[i] / wave[1] - wanted).abs() < 1e-9, "{i}");
        }
    }

    #[test]
    fn neutral_stays_neutral() {
        for hypothesis in all(&PhotoSpace::srgb(), None) {
            for (row, weights) in hypothesis.matrix.iter().zip(&hypothesis.weights) {
                assert!((row.iter().sum::<f64>() - 1.0).abs() < 1e-9);
                assert!((weights.iter().sum::<f64>() - 1.0).abs() < 1e-9);
            }
        }
    }
}
