//! Predicts the encoded value of every patch that was measured, with derivatives.

use super::dye::{ACID_TRAITS, BASE_TRAITS, DyeBasis};
use super::exponential::exponentials;
use super::hypothesis::Hypothesis;
use super::parameters::{
    self as prior, LOCAL_ROOM, LocalRow, LocalVector, Prior, SHARED_ROOM, SharedRow, SharedVector, WHITE, local, shared,
};
use super::{WAVES, Wave, nanometres};
use crate::colour::space::Matrix;
use crate::colour::tone::srgb_encode;
use multiversion::multiversion;
use std::f64::consts::LN_10;

/// What a patch shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Surface {
    /// Liquid; mean squared distance from the middle in radii.
    Liquid(f64),
    /// Liquid of a cup that is taken to be badly stained; mean squared distance from the middle in radii.
    Stained(f64),
    /// White beside a cup.
    White,
    /// Plain water in a cup: the ground as the liquid of the others would show it without dye.
    Water,
    /// The grey card; its reflectance.
    Card(f64),
    /// No colour but a figure in the first channel: the natural log of the light at the cup, against that at the card.
    CupLight,
    /// The same of the card's level against its reflectance.
    CardLight,
}

/// What lies under the liquid of the cups.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Ground {
    /// White ware or paper.
    #[default]
    White,
    /// Whatever a cup of plain water shows; the same under all cups.
    Shown,
}

/// Prediction and derivatives of one patch; rows R, G, B.
#[derive(Debug, Clone)]
pub struct Prediction {
    /// Encoded value.
    pub value: [f64; 3],
    /// Derivatives by the shared unknowns, and zeros beyond.
    pub shared: [SharedRow; 3],
    /// Derivatives by the cup's unknowns, and zeros beyond.
    pub local: [LocalRow; 3],
}

impl Prediction {
    /// Nothing predicted yet.
    pub(super) const NONE: Self = Prediction { value: [0.0; 3], shared: [[0.0; SHARED_ROOM]; 3], local: [[0.0; LOCAL_ROOM]; 3] };
}

/// Rec. 709 luminance weights of linear sRGB.
const LUMINANCE: [f64; 3] = [0.2126, 0.7152, 0.0722];
/// How sharply a sensor saturates: noise rounds the corner by a few per cent.
const SENSOR_SHARPNESS: i32 = 24;
/// Width of the upper clip, encoded: the shoulder of common tone curves near white.
const CEILING: f64 = 0.008;

/// Number of shapes of absorption: acid form, base form, stain, and the traits of either form.
const SHAPES: usize = 3 + TRAITS;
/// Those of the forms come first.
const FORMS: usize = 2;
/// Number of traits of both forms.
const TRAITS: usize = ACID_TRAITS + BASE_TRAITS;

/// All shapes at each wavelength, side by side, so that one pass over the wavelengths sums them all at once.
type Shapes = [[f64; SHAPES]; WAVES];

/// The model at one point of the shared unknowns.
#[derive(Debug)]
pub struct Model<'a> {
    hypothesis: &'a Hypothesis,
    shapes: Shapes,
    gain: [f64; 3],
    level: f64,
    saturation: f64,
    tone: [f64; 3],
    card: f64,
    veil: f64,
    floor: f64,
    channel: [[f64; 3]; 2],
    full: [f64; 3],
    matrix: Matrix,
    ground: Ground,
    /// Reflectance of the ground against white, per channel.
    floor_white: [f64; 3],
    /// Log level of the ground of cups of this kind.
    ware: f64,
    /// Depth slope of cups of this kind.
    form: f64,
    /// Share of the usual difference between cups of a kind.
    unlike: f64,
}

/// Absorption of brown stain relative to 420 nm: falls exponentially, as of tannins and oxidised developer (common knowledge of
/// coloured dissolved matter: a slope of about 1/80 per nm in the visible).
#[must_use]
pub fn stain_shape() -> Wave {
    std::array::from_fn(|i| (-(nanometres(i) - 420.0) / 80.0).exp())
}

/// Transmission of one ring: per channel its value and derivatives by exponent-like quantities.
struct Transmission {
    value: [f64; 3],
    acid: [f64; 3],
    base: [f64; 3],
    stain: [f64; 3],
    traits: [[f64; TRAITS]; 3],
}

/// Beer-Lambert through the liquid, integrated in each channel. Without slopes only what the value needs is there: the acid and the base form.
#[multiversion(targets("x86_64+avx2"))]
fn transmission<const SLOPES: bool>(
    shapes: &Shapes,
    weights: &[Wave; 3],
    fraction: f64,
    dose: f64,
    stain: f64,
    depth: f64,
) -> Transmission {
    let (acid_part, base_part, stain_part) =
        (-LN_10 * dose * depth * (1.0 - fraction), -LN_10 * dose * depth * fraction, -LN_10 * stain * depth);
    let mut powers = [0.0; WAVES];
    for (power, [acid, base, stain, ..]) in powers.iter_mut().zip(shapes) {
        *power = acid_part * acid + base_part * base + stain_part * stain;
    }
    let through = exponentials(&powers);
    // All channels side by side: none of their sums has to wait for another.
    let (mut totals, mut sums) = ([0.0; 3], [[0.0; SHAPES]; 3]);
    for (i, shapes) in shapes.iter().enumerate() {
        for c in 0..3 {
            let seen = weights[c][i] * through[i];
            totals[c] += seen;
            for (sum, shape) in sums[c].iter_mut().zip(shapes).take(if SLOPES { SHAPES } else { FORMS }) {
                *sum += seen * shape;
            }
        }
    }
    let mut out = Transmission { value: totals, acid: [0.0; 3], base: [0.0; 3], stain: [0.0; 3], traits: [[0.0; TRAITS]; 3] };
    for (c, total) in totals.into_iter().enumerate() {
        let [acid, base, stain, traits @ ..] = sums[c];
        (out.acid[c], out.base[c], out.stain[c]) = (acid / total, base / total, stain / total);
        for (k, (slope, trait_)) in out.traits[c].iter_mut().zip(traits).enumerate() {
            *slope = if k < ACID_TRAITS { acid_part } else { base_part } * (trait_ / total);
        }
    }
    out
}

impl<'a> Model<'a> {
    /// Prepares what all patches share.
    #[must_use]
    pub fn new(hypothesis: &'a Hypothesis, basis: &'a DyeBasis, stain: &'a Wave, ground: Ground, z: &SharedVector) -> Self {
        let (acid, base) = basis.forms(z);
        let mut shapes = [[0.0; SHAPES]; WAVES];
        let all = [&acid, &base, stain].into_iter().chain(&basis.acid_traits).chain(&basis.base_traits);
        for (k, shape) in all.enumerate() {
            for (row, value) in shapes.iter_mut().zip(shape) {
                row[k] = *value;
            }
        }
        Model {
            hypothesis,
            shapes,
            gain: [prior::GAIN.at(z[shared::RED]).exp(), 1.0, prior::GAIN.at(z[shared::BLUE]).exp()],
            level: prior::LEVEL.at(z[shared::LEVEL]),
            saturation: prior::SATURATION.at(z[shared::SATURATION]),
            tone: [prior::TONE_ONE.at(z[shared::TONE_ONE]), prior::TONE_TWO.at(z[shared::TONE_TWO]), prior::LIFT.at(z[shared::LIFT])],
            card: prior::CARD.at(z[shared::CARD]),
            veil: prior::VEIL.at(z[shared::VEIL]).exp(),
            floor: prior::FLOOR.at(z[shared::FLOOR]).exp(),
            full: [
                (hypothesis.balance[0] + prior::FULL.at(z[shared::FULL_RED])).exp(),
                f64::INFINITY,
                (hypothesis.balance[2] + prior::FULL.at(z[shared::FULL_BLUE])).exp(),
            ],
            matrix: std::array::from_fn(|i| {
                std::array::from_fn(|j| hypothesis.matrix[i][j] + prior::MATRIX.at(z[shared::MATRIX]) * hypothesis.towards_daylight[i][j])
            }),
            ground,
            ware: prior::WARE.at(z[shared::WARE]),
            form: prior::FORM.at(z[shared::FORM]),
            unlike: 1.0,
            floor_white: match ground {
                Ground::White => [1.0; 3],
                Ground::Shown => {
                    let level = prior::GROUND.at(z[shared::GROUND]);
                    let tint = [prior::TINT.at(z[shared::GROUND_RED]), 0.0, prior::TINT.at(z[shared::GROUND_BLUE])];
                    tint.map(|tint| (level + tint).exp())
                }
            },
            channel: [0, 1]
                .map(|form| [0, 1, 2].map(|c| prior::CHANNEL * z[if form == 0 { shared::ACID_CHANNEL } else { shared::BASE_CHANNEL } + c])),
        }
    }

    /// The same for cups of which only this share of the usual difference is believed.
    #[must_use]
    pub fn with_cups_unlike(self, share: f64) -> Self {
        Model { unlike: share, ..self }
    }

    /// Encoded value of a patch and its derivatives.
    #[must_use]
    pub fn predict(&self, surface: Surface, z: &LocalVector) -> Prediction {
        let mut out = Prediction::NONE;
        self.predict_into(surface, z, &mut out);
        out
    }

    /// The same in the place of another prediction.
    pub(super) fn predict_into(&self, surface: Surface, z: &LocalVector, out: &mut Prediction) {
        self.look::<true>(surface, z, out);
    }

    /// The encoded value alone.
    #[must_use]
    pub fn value(&self, surface: Surface, z: &LocalVector) -> [f64; 3] {
        let mut out = Prediction::NONE;
        self.look::<false>(surface, z, &mut out);
        out.value
    }

    /// Without slopes the derivatives have no meaning.
    fn look<const SLOPES: bool>(&self, surface: Surface, z: &LocalVector, out: &mut Prediction) {
        if let Surface::CupLight | Surface::CardLight = surface {
            *out = self.light(surface, z);
            return;
        }
        // Raw camera values x and their derivatives by each unknown that acts before the matrix.
        let mut raw = [0.0; 3];
        let mut raw_shared = [[0.0; SHARED_ROOM]; 3];
        let mut raw_local = [[0.0; LOCAL_ROOM]; 3];
        match surface {
            Surface::Card(reflectance) => {
                let level = (self.level + self.card).exp() * reflectance;
                for c in 0..3 {
                    raw[c] = level * self.gain[c];
                    raw_shared[c][shared::CARD] = raw[c] * prior::CARD.sd;
                }
            }
            Surface::White => {
                let level = (self.level + prior::SHADE.at(z[local::SHADE])).exp() * WHITE;
                for c in 0..3 {
                    raw[c] = level * self.gain[c];
                    raw_local[c][local::SHADE] = raw[c] * prior::SHADE.sd;
                }
            }
            Surface::Water => {
                let level = (self.level + prior::SHADE.at(z[local::SHADE]) + self.ware + prior::OFFSET.at(self.unlike * z[local::OFFSET]))
                    .exp()
                    * WHITE;
                for c in 0..3 {
                    let scale = level * self.gain[c];
                    raw[c] = scale * (self.floor_white[c] + self.veil / WHITE);
                    raw_shared[c][shared::VEIL] = scale * self.veil / WHITE * prior::VEIL.sd;
                    raw_local[c][local::SHADE] = raw[c] * prior::SHADE.sd;
                    raw_local[c][local::OFFSET] = raw[c] * self.unlike * prior::OFFSET.sd;
                    raw_shared[c][shared::WARE] = raw[c] * prior::WARE.sd;
                    self.by_ground(c, scale * self.floor_white[c], &mut raw_shared[c]);
                }
            }
            Surface::Liquid(square) => self.liquid::<SLOPES>(square, prior::STAIN, z, &mut raw, &mut raw_shared, &mut raw_local),
            Surface::CupLight | Surface::CardLight => {}
            Surface::Stained(square) => self.liquid::<SLOPES>(square, prior::BAD_STAIN, z, &mut raw, &mut raw_shared, &mut raw_local),
        }
        for c in 0..3 {
            raw_shared[c][shared::LEVEL] = raw[c] * prior::LEVEL.sd;
        }
        raw_shared[0][shared::RED] = raw[0] * prior::GAIN.sd;
        raw_shared[2][shared::BLUE] = raw[2] * prior::GAIN.sd;
        self.saturate(&mut raw, &mut raw_shared, &mut raw_local);
        develop::<SLOPES>(self, raw, &raw_shared, &raw_local, out);
    }

    /// A level alone, in the first channel.
    fn light(&self, surface: Surface, z: &LocalVector) -> Prediction {
        let mut out = Prediction::NONE;
        if surface == Surface::CupLight {
            out.value[0] = prior::SHADE.at(z[local::SHADE]);
            out.local[0][local::SHADE] = prior::SHADE.sd;
        } else {
            out.value[0] = self.card;
            out.shared[0][shared::CARD] = prior::CARD.sd;
        }
        out
    }

    /// The sensor's own full scale, before the white balance: a channel that the light favours clips first.
    fn saturate(&self, raw: &mut [f64; 3], raw_shared: &mut [SharedRow; 3], raw_local: &mut [LocalRow; 3]) {
        for (c, unknown) in [(0, shared::FULL_RED), (2, shared::FULL_BLUE)] {
            let ratio = raw[c] / self.full[c];
            if ratio < 0.7 {
                continue;
            }
            let power = 1.0 + ratio.powi(SENSOR_SHARPNESS);
            let clipped = raw[c] * power.powf(-1.0 / f64::from(SENSOR_SHARPNESS));
            let slope = clipped / (raw[c] * power);
            for derivative in &mut raw_shared[c] {
                *derivative *= slope;
            }
            for derivative in &mut raw_local[c] {
                *derivative *= slope;
            }
            raw_shared[c][unknown] = (clipped - raw[c] * slope) * prior::FULL.sd;
            raw[c] = clipped;
        }
    }

    /// Derivatives by the ground of light that comes back from it.
    fn by_ground(&self, channel: usize, seen: f64, by_shared: &mut SharedRow) {
        if self.ground == Ground::White {
            return;
        }
        by_shared[shared::GROUND] = seen * prior::GROUND.sd;
        match channel {
            0 => by_shared[shared::GROUND_RED] = seen * prior::TINT.sd,
            2 => by_shared[shared::GROUND_BLUE] = seen * prior::TINT.sd,
            _ => {}
        }
    }

    fn liquid<const SLOPES: bool>(
        &self,
        square: f64,
        stain_prior: Prior,
        z: &LocalVector,
        raw: &mut [f64; 3],
        raw_shared: &mut [SharedRow; 3],
        raw_local: &mut [LocalRow; 3],
    ) {
        let fraction = 1.0 / (1.0 + (-prior::LOGIT.at(z[local::LOGIT])).exp());
        let dose = prior::DOSE.at(z[local::DOSE]).exp();
        let stain = stain_prior.at(z[local::STAIN]).exp();
        let depth = (1.0 - (self.form + prior::SLOPE.at(self.unlike * z[local::SLOPE])) * square).max(0.05);
        let through = transmission::<SLOPES>(&self.shapes, &self.hypothesis.weights, fraction, dose, stain, depth);
        let level =
            (self.level + prior::SHADE.at(z[local::SHADE]) + self.ware + prior::OFFSET.at(self.unlike * z[local::OFFSET])).exp() * WHITE;
        for c in 0..3 {
            let (eta_acid, eta_base) = (self.channel[0][c], self.channel[1][c]);
            // The channel exponents act on the mean absorptivity of the form in that channel.
            let extra = -LN_10 * dose * depth * ((1.0 - fraction) * eta_acid * through.acid[c] + fraction * eta_base * through.base[c]);
            let passed = self.floor_white[c] * through.value[c] * extra.exp();
            let scale = level * self.gain[c];
            raw[c] = scale * (passed + self.veil / WHITE);
            if !SLOPES {
                continue;
            }
            let seen = scale * passed;
            let (acid, base) = (through.acid[c] * (1.0 + eta_acid), through.base[c] * (1.0 + eta_base));
            let mixed = (1.0 - fraction) * acid + fraction * base;
            raw_local[c][local::LOGIT] = seen * -LN_10 * dose * depth * (base - acid) * fraction * (1.0 - fraction) * prior::LOGIT.sd;
            raw_local[c][local::DOSE] = seen * -LN_10 * dose * depth * mixed * prior::DOSE.sd;
            let by_depth = -LN_10 * (dose * mixed + stain * through.stain[c]);
            raw_local[c][local::SLOPE] = seen * by_depth * -square * self.unlike * prior::SLOPE.sd;
            raw_shared[c][shared::FORM] = seen * by_depth * -square * prior::FORM.sd;
            raw_local[c][local::OFFSET] = raw[c] * self.unlike * prior::OFFSET.sd;
            raw_shared[c][shared::WARE] = raw[c] * prior::WARE.sd;
            raw_local[c][local::SHADE] = raw[c] * prior::SHADE.sd;
            raw_local[c][local::STAIN] = seen * -LN_10 * depth * through.stain[c] * stain * stain_prior.sd;
            raw_shared[c][shared::VEIL] = scale * self.veil / WHITE * prior::VEIL.sd;
            self.by_ground(c, seen, &mut raw_shared[c]);
            for k in 0..TRAITS {
                raw_shared[c][shared::ACID + k] = seen * through.traits[c][k];
            }
            raw_shared[c][shared::ACID_CHANNEL + c] = seen * -LN_10 * dose * depth * (1.0 - fraction) * through.acid[c] * prior::CHANNEL;
            raw_shared[c][shared::BASE_CHANNEL + c] = seen * -LN_10 * dose * depth * fraction * through.base[c] * prior::CHANNEL;
        }
    }
}

/// Camera values to encoded values: matrix, saturation, soft clip, encoding, tone.
#[multiversion(targets("x86_64+avx2"))]
fn develop<const SLOPES: bool>(
    model: &Model<'_>,
    raw: [f64; 3],
    raw_shared: &[SharedRow; 3],
    raw_local: &[LocalRow; 3],
    out: &mut Prediction,
) {
    let colour = crate::colour::space::apply(&model.matrix, raw);
    let by_matrix = crate::colour::space::apply(&model.hypothesis.towards_daylight, raw);
    let luminance_by_matrix: f64 = (0..3).map(|c| LUMINANCE[c] * by_matrix[c]).sum();
    let luminance: f64 = (0..3).map(|c| LUMINANCE[c] * colour[c]).sum();
    let row_luminance: [f64; 3] = std::array::from_fn(|j| (0..3).map(|i| LUMINANCE[i] * model.matrix[i][j]).sum());
    for c in 0..3 {
        let s = model.saturation;
        let saturated = luminance + s * (colour[c] - luminance);
        // Soft plus: what lies below zero is pressed towards black instead of cut.
        let ratio = saturated / model.floor;
        let (soft, soft_slope) = if ratio > 30.0 {
            (saturated, 1.0)
        } else {
            let e = ratio.exp();
            (model.floor * e.ln_1p(), e / (1.0 + e))
        };
        let encoded = srgb_encode(soft);
        // Above its straight part the encoding is 1.055 x^(1/2.4) - 0.055.
        let encode_slope = if soft <= 0.003_130_8 { 12.92 } else { (encoded + 0.055) / (2.4 * soft) };
        let room = (1.0 - encoded) / CEILING;
        let (clipped, clip_slope) = if room > 30.0 {
            (encoded, 1.0)
        } else {
            let e = room.exp();
            (1.0 - CEILING * e.ln_1p(), e / (1.0 + e))
        };
        let (e, [c1, c2, lift]) = (clipped, model.tone);
        let curve = e * (1.0 - e);
        out.value[c] = e + curve * (c1 + c2 * (1.0 - 2.0 * e)) + lift * (1.0 - e);
        if !SLOPES {
            continue;
        }
        let tone_slope = 1.0 + (1.0 - 2.0 * e) * (c1 + c2 * (1.0 - 2.0 * e)) - 2.0 * c2 * curve - lift;
        let linear_slope = tone_slope * clip_slope * encode_slope;
        let slope = linear_slope * soft_slope;
        let mut by_raw = [0.0; 3];
        for j in 0..3 {
            by_raw[j] = slope * (s * model.matrix[c][j] + (1.0 - s) * row_luminance[j]);
        }
        sum_three(&mut out.shared[c], by_raw, raw_shared);
        sum_three(&mut out.local[c], by_raw, raw_local);
        out.shared[c][shared::SATURATION] += slope * (colour[c] - luminance) * prior::SATURATION.sd;
        out.shared[c][shared::MATRIX] += slope * (s * by_matrix[c] + (1.0 - s) * luminance_by_matrix) * prior::MATRIX.sd;
        let by_floor = if ratio > 30.0 { 0.0 } else { soft - saturated * soft_slope };
        out.shared[c][shared::FLOOR] += linear_slope * by_floor * prior::FLOOR.sd;
        out.shared[c][shared::TONE_ONE] += curve * prior::TONE_ONE.sd;
        out.shared[c][shared::TONE_TWO] += curve * (1.0 - 2.0 * e) * prior::TONE_TWO.sd;
        out.shared[c][shared::LIFT] += (1.0 - e) * prior::LIFT.sd;
    }
}

/// Three rows, each times its factor, together.
#[inline(always)]
fn sum_three<const N: usize>(sum: &mut [f64; N], factors: [f64; 3], [a, b, c]: &[[f64; N]; 3]) {
    for i in 0..N {
        sum[i] = factors[0] * a[i] + factors[1] * b[i] + factors[2] * c[i];
    }
}
