//! Light and colour: no dye, no photo.

pub mod space;
pub mod spectrum;
pub mod tone;
