//! Money and how many of a thing.

use super::RangeError;
use serde::{Deserialize, Serialize};
use std::fmt;

super::quantity!(
    /// An amount of money in any currency.
    Money, "amount of money", 0.0, 1e12
);
super::quantity!(
    /// How many rolls, sheets, pupils, batches or days.
    Count, "count", 0.0, 1e9
);
