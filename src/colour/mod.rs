//! Light and colour: no dye, no photo.

pub mod chart;
pub mod generic;
pub mod lab;
pub mod light;
pub mod matrix;
pub mod observer;
pub mod space;
pub mod spectrum;
mod table;
pub mod tone;
