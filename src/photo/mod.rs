//! Photo bytes to a frame: formats, limits, orientation, colour profile.

mod decode;
mod error;

pub use decode::{Photo, load};
pub use error::PhotoError;
