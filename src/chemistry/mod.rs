//! What is dissolved, and the pH it has: equilibrium solver, buffers of known pH, recipes for mixing them, baths from mixing to disposal.
//!
//! Every pH is on the meter (activity) scale.

pub mod acid;
pub mod activity;
pub mod bath;
pub mod buffer;
pub mod change;
pub mod developer;
pub mod dilution;
pub mod disposal;
pub mod error;
pub mod keeping;
pub mod liquid;
pub mod mixing;
pub mod neutral;
pub mod powder;
pub mod recipe;
pub mod sheet;
pub mod solver;
mod table;
pub mod uncertainty;
