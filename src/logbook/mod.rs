//! What a bath has been through, and what that leaves of it.
//!
//! [`event::Entry`] is one line of the logbook; [`ledger::Ledger`] puts lines in order and together; [`finding`] says what stands out, [`trace`] which bath a film went
//! through and what the record can prove. [`life::Life`] is one bath as [`judge`] wants it.

pub mod advice;
pub mod age;
pub mod belief;
mod bridge;
pub mod check;
mod curve;
pub mod drop_test;
pub mod event;
mod evidence;
pub mod finding;
pub mod forecast;
pub mod habit;
pub mod judge;
pub mod ladder;
pub mod ledger;
pub mod life;
pub mod moment;
mod normal;
pub mod order;
pub mod pace;
mod path;
pub mod piece;
mod proposal;
mod prospect;
pub mod recipe;
pub mod trace;
pub mod unknowns;

#[cfg(test)]
mod example;
#[cfg(test)]
mod examples;
