//! Checked quantities: a value of one of these types is finite and inside its range.

mod day;
mod interval;
mod money;
mod volume;

pub use day::Day;
pub use interval::Interval;
pub use money::{Count, Money};
pub use volume::{BalanceStep, GramsPerLitre, MassPercent, MeqPerLitre, Millilitres};

use serde::{Deserialize, Serialize};
use std::fmt;

/// A value that does not fit its quantity.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{quantity} {value} is outside {low} to {high}")]
pub struct RangeError {
    /// Name of the quantity.
    pub quantity: &'static str,
    /// The refused value.
    pub value: f64,
    /// Lowest value allowed.
    pub low: f64,
    /// Highest value allowed.
    pub high: f64,
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $text:literal, $low:expr, $high:expr) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(try_from = "f64", into = "f64")]
        pub struct $name(f64);

        impl $name {
            /// Lowest value allowed.
            pub const LOW: f64 = $low;
            /// Highest value allowed.
            pub const HIGH: f64 = $high;

            /// Checks that `value` is finite and in range.
            ///
            /// # Errors
            /// [`RangeError`] when the value is not finite or outside [`Self::LOW`] to [`Self::HIGH`].
            pub const fn new(value: f64) -> Result<Self, RangeError> {
                if value >= $low && value <= $high {
                    Ok(Self(value))
                } else {
                    Err(RangeError { quantity: $text, value, low: $low, high: $high })
                }
            }

            /// The bare number.
            #[must_use]
            pub const fn value(self) -> f64 {
                self.0
            }
        }

        impl TryFrom<f64> for $name {
            type Error = RangeError;
            fn try_from(value: f64) -> Result<Self, RangeError> {
                Self::new(value)
            }
        }

        impl From<$name> for f64 {
            fn from(quantity: $name) -> f64 {
                quantity.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    };
}

use quantity;

quantity!(
    /// pH on the meter (activity) scale.
    Ph, "pH", -1.0, 15.0
);
quantity!(
    /// Apparent pKa' of an indicator on the meter scale.
    Pka, "pKa'", -2.0, 16.0
);
quantity!(
    /// Share of the indicator in its base form, 0 to 1.
    BaseFraction, "base fraction", 0.0, 1.0
);
quantity!(
    /// Reflectance relative to a perfect diffuser.
    Reflectance, "reflectance", 0.01, 1.0
);
quantity!(
    /// Temperature in degrees Celsius of an aqueous bath.
    Celsius, "temperature in degrees Celsius", 0.0, 60.0
);

impl Ph {
    /// pH 7, neither acid nor alkaline.
    pub const NEUTRAL: Ph = Ph(7.0);
}

impl Reflectance {
    /// The grey card of photography, 18 % (common practice).
    pub const GREY_CARD: Reflectance = Reflectance(0.18);
}

impl Celsius {
    /// 25 C, at which chemical tables are given.
    pub const STANDARD: Celsius = Celsius(25.0);
}

quantity!(
    /// Ionic strength in mol per litre.
    IonicStrength, "ionic strength in mol/l", 0.0, 2.0
);

impl IonicStrength {
    /// A stop bath in use: what it is made of, and what developers bring into it (common practice, uncertain by a factor of three).
    pub const USED_BATH: IonicStrength = IonicStrength(0.3);
    /// A buffer given by its pH alone (common practice: bottled buffers of 0.05 to 0.1).
    pub const BUFFER: IonicStrength = IonicStrength(0.1);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn refuses_what_is_not_a_number() {
        assert!(Ph::new(f64::NAN).is_err());
        assert!(BaseFraction::new(f64::INFINITY).is_err());
    }

    #[test]
    fn names_value_and_limits() {
        let text = Celsius::new(99.0).unwrap_err().to_string();
        assert_eq!(text, "temperature in degrees Celsius 99 is outside 0 to 60");
    }
}
