//! Photo bytes to a frame: formats, limits, orientation, colour profile.
//!
//! A photo is taken in by [`load`]: [`mod@format`] looks at the first bytes, one decoder unpacks the pixels as they are
//! stored, [`metadata`] reads Exif and [`icc`] turns a colour profile into a [`crate::colour::space::PhotoSpace`].
//! Nothing goes by the name of a file. [`camera`] takes a photo instead of loading one.

pub mod camera;
mod decode;
pub mod encode;
mod error;
pub mod format;
pub mod icc;
mod jpeg;
pub mod kind;
pub mod limits;
pub mod metadata;
mod png_chunks;
mod raster;
mod tiff_raw;
mod unpacked;

pub use decode::{Buffers, Photo, decode, decode_into, load, load_into};
pub use error::PhotoError;
