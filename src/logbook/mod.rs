//! What a bath has been through, and what that leaves of it.

pub mod belief;
mod curve;
mod evidence;
pub mod forecast;
pub mod life;
mod normal;
mod path;
pub mod unknowns;
