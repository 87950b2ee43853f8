//! What a bath has been through, and what that leaves of it.

pub mod age;
pub mod belief;
mod curve;
pub mod drop_test;
mod evidence;
pub mod forecast;
pub mod judge;
pub mod ladder;
pub mod life;
mod normal;
pub mod pace;
mod path;
mod proposal;
pub mod unknowns;

#[cfg(test)]
mod example;
