//! The unknowns of the model and their priors.
//!
//! Every unknown is kept as a number z of standard deviations from its prior mean, so that the prior is the unit normal.

/// Mean and standard deviation of a prior.
#[derive(Debug, Clone, Copy)]
pub struct Prior {
    /// Most probable value.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
}

impl Prior {
    const fn new(mean: f64, sd: f64) -> Self {
        Prior { mean, sd }
    }

    /// Value at `z` standard deviations.
    #[must_use]
    pub fn at(&self, z: f64) -> f64 {
        self.mean + self.sd * z
    }
}

/// Number of unknowns shared by all cups of a photo.
pub const SHARED: usize = 34;
/// Number of unknowns of one cup.
pub const LOCAL: usize = 6;

/// Room for a row of figures by the shared unknowns: whole vectors of four, so that no sum has a ragged end.
pub const SHARED_ROOM: usize = SHARED.next_multiple_of(4);
/// The same by the unknowns of one cup.
pub const LOCAL_ROOM: usize = LOCAL.next_multiple_of(4);
/// Derivatives by the shared unknowns, or sums of them; what stands beyond the unknowns is zero.
pub type SharedRow = [f64; SHARED_ROOM];
/// The same by the unknowns of one cup.
pub type LocalRow = [f64; LOCAL_ROOM];

/// Values of the shared unknowns, in standard deviations.
pub type SharedVector = nalgebra::SVector<f64, SHARED>;
/// Values of one cup's unknowns, in standard deviations.
pub type LocalVector = nalgebra::SVector<f64, LOCAL>;
/// Squares of the shared unknowns against each other: a covariance, or its inverse.
pub type SharedMatrix = nalgebra::SMatrix<f64, SHARED, SHARED>;

/// Forgets unknowns of a Gaussian: each is as before any photo.
pub fn forget(mean: &mut SharedVector, covariance: &mut SharedMatrix, unknowns: impl IntoIterator<Item = usize>) {
    for k in unknowns {
        mean[k] = 0.0;
        covariance.row_mut(k).fill(0.0);
        covariance.column_mut(k).fill(0.0);
        covariance[(k, k)] = 1.0;
    }
}

/// How many of the shared unknowns, the first ones, describe the dye; cups with different dyes share the rest only.
pub const DYE: usize = 16;

/// Indices of the shared unknowns: those of the dye first, then those of the photo.
pub mod shared {
    /// First of the acid form's shape: peak, width, family mix.
    pub const ACID: usize = 0;
    /// First of the base form's shape: ratio, peak, width, family mix, shoulder, violet band.
    pub const BASE: usize = 3;
    /// First of the channel exponents of the acid form, R G B.
    pub const ACID_CHANNEL: usize = 9;
    /// First of the channel exponents of the base form, R G B.
    pub const BASE_CHANNEL: usize = 12;
    /// What the dye's pKa' is above the table's, in the table's standard uncertainties; only cups of known pH tell of it.
    pub const PKA: usize = 15;
    /// Log of the level of a perfect diffuser.
    pub const LEVEL: usize = 16;
    /// Log gain of red against green.
    pub const RED: usize = 17;
    /// Log gain of blue against green.
    pub const BLUE: usize = 18;
    /// Saturation factor.
    pub const SATURATION: usize = 19;
    /// First tone coefficient.
    pub const TONE_ONE: usize = 20;
    /// Second tone coefficient.
    pub const TONE_TWO: usize = 21;
    /// Encoded lift of black.
    pub const LIFT: usize = 22;
    /// Log of the card's level against what its reflectance says.
    pub const CARD: usize = 23;
    /// Log of the surface reflection.
    pub const VEIL: usize = 24;
    /// Log of the softness of the lower clip.
    pub const FLOOR: usize = 25;
    /// Log of the sensor's full scale in red, in units of the balanced picture.
    pub const FULL_RED: usize = 26;
    /// The same in blue.
    pub const FULL_BLUE: usize = 27;
    /// Which light the camera's colour matrix was made for: 0 the photo's own, 1 daylight.
    pub const MATRIX: usize = 28;
    /// Log level of the cups' ground against white, where a cup of plain water shows it.
    pub const GROUND: usize = 29;
    /// Log of its red against green.
    pub const GROUND_RED: usize = 30;
    /// Log of its blue against green.
    pub const GROUND_BLUE: usize = 31;
    /// What the grounds of all cups have in common: cups of one photo are mostly of one kind.
    pub const WARE: usize = 32;
    /// What their depth slopes have in common.
    pub const FORM: usize = 33;
}

/// Indices of one cup's unknowns.
pub mod local {
    /// Natural logit of the base fraction.
    pub const LOGIT: usize = 0;
    /// Log optical dose.
    pub const DOSE: usize = 1;
    /// How much shallower the edge is than the middle, beside what all cups have in common.
    pub const SLOPE: usize = 2;
    /// Log level of the liquid's ground against the white beside it, beside what all cups have in common.
    pub const OFFSET: usize = 3;
    /// Log level of the light at the cup.
    pub const SHADE: usize = 4;
    /// Log density of brown stain at 420 nm.
    pub const STAIN: usize = 5;
}

// Widths follow what photos by phones and cameras commonly show (common practice) and a simulation of other cameras and lights.

/// Log level: a white between a third and full scale.
pub const LEVEL: Prior = Prior::new(-0.5, 0.35);
/// Log gains: automatic white balance is off by up to a third.
pub const GAIN: Prior = Prior::new(0.0, 0.15);
/// Saturation: mostly neutral, a little boosted.
pub const SATURATION: Prior = Prior::new(1.05, 0.12);
/// Tone: mid tones mostly lifted.
pub const TONE_ONE: Prior = Prior::new(0.05, 0.4);
/// Tone: S-shaped part.
pub const TONE_TWO: Prior = Prior::new(0.0, 0.2);
/// Lift of black, encoded.
pub const LIFT: Prior = Prior::new(0.0, 0.004);
/// Card: its own tolerance and the fall-off of light.
pub const CARD: Prior = Prior::new(0.0, 0.10);
/// Log of surface reflection: half a percent, within a factor of 2.5.
pub const VEIL: Prior = Prior::new(-5.1, 0.9);
/// Log softness of the lower clip, linear scale.
pub const FLOOR: Prior = Prior::new(-5.1, 1.0);
/// Peak of either form, nm.
pub const PEAK_NM: f64 = 3.0;
/// Relative width of either form's band.
pub const WIDTH: f64 = 0.12;
/// Blend of the two measured band families: 0 and 1 are the measured dyes.
pub const MIX: f64 = 0.5;
/// Extra shoulder of the base form, share of its peak.
pub const SHOULDER: f64 = 0.12;
/// Extra violet absorption of the base form, share of the acid peak.
pub const VIOLET: f64 = 0.10;
/// Channel exponents.
pub const CHANNEL: f64 = 0.06;

/// Log of the sensor's full scale against what light and sensitivities of equal height give: real sensors see less red and blue than green.
pub const FULL: Prior = Prior::new(0.2, 0.4);

/// Colour matrix: cameras choose it by their guess of the light, or keep one for daylight.
pub const MATRIX: Prior = Prior::new(0.5, 0.5);

/// Ground of cups of which one holds plain water: from white ware to glass on a dark table.
pub const GROUND: Prior = Prior::new(-0.6, 0.8);
/// Its tint: white to wood.
pub const TINT: Prior = Prior::new(0.0, 0.4);

/// Logit: nearly flat.
pub const LOGIT: Prior = Prior::new(0.0, 3.0);
/// Log dose.
pub const DOSE: Prior = Prior::new(0.0, 1.0);
/// Depth slope: flat to half; mostly a matter of the kind of cup.
pub const FORM: Prior = Prior::new(0.25, 0.15);
/// Depth slope of one cup against others of its kind.
pub const SLOPE: Prior = Prior::new(0.0, 0.10);
/// Liquid's ground against white: mostly a matter of the kind of cup.
pub const WARE: Prior = Prior::new(-0.03, 0.04);
/// Ground of one cup against others of its kind.
pub const OFFSET: Prior = Prior::new(0.0, 0.03);
/// Local light.
pub const SHADE: Prior = Prior::new(0.0, 0.08);
/// Log stain density.
pub const STAIN: Prior = Prior::new(-4.0, 1.2);
/// Log stain density of a cup that is badly stained.
pub const BAD_STAIN: Prior = Prior::new(-0.2, 0.5);

/// Reflectance of white paper and vessels (common practice: 0.8 to 0.9).
pub const WHITE: f64 = 0.85;
