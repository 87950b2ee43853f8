//! Light and colour: no dye, no photo.

pub mod generic;
pub mod light;
pub mod observer;
pub mod space;
pub mod spectrum;
pub mod tone;
