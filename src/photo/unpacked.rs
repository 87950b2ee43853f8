//! What a decoder hands over, whatever the format.

use super::metadata::Facts;
use crate::colour::space::PhotoSpace;
use crate::measurement::frame::Samples;

/// Pixels as stored, and what the file says about them.
#[derive(Debug)]
pub(super) struct Unpacked {
    /// Stored width in pixels.
    pub(super) width: usize,
    /// Stored height in pixels.
    pub(super) height: usize,
    /// Interleaved RGB.
    pub(super) samples: Samples,
    /// From Exif.
    pub(super) facts: Facts,
    /// What the container declares about colour.
    pub(super) colour: Declared,
}

/// The colour space as the container declares it; Exif is asked when it says nothing.
#[derive(Debug, Default)]
pub(super) enum Declared {
    /// Nothing.
    #[default]
    Nothing,
    /// The bytes of an ICC profile.
    Profile(Vec<u8>),
    /// Declared by numbers.
    Space(Box<PhotoSpace>),
    /// Something that cannot be followed; its name.
    Unusable(String),
}

impl From<Option<Vec<u8>>> for Declared {
    fn from(profile: Option<Vec<u8>>) -> Self {
        profile.map_or(Declared::Nothing, Declared::Profile)
    }
}
