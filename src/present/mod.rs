//! Values to text and picture bytes; no files.

pub mod json;
