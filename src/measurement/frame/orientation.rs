//! How stored pixels turn into the upright picture.

/// Exif orientation, 1 to 8: how stored pixels turn into the upright picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Orientation {
    /// 1: as stored.
    #[default]
    Upright,
    /// 2: mirrored left to right.
    MirroredHorizontally,
    /// 3: turned by 180 degrees.
    Turned180,
    /// 4: mirrored top to bottom.
    MirroredVertically,
    /// 5: mirrored along the main diagonal.
    Transposed,
    /// 6: to be turned clockwise by 90 degrees.
    TurnClockwise,
    /// 7: mirrored along the other diagonal.
    Transversed,
    /// 8: to be turned anticlockwise by 90 degrees.
    TurnAnticlockwise,
}

impl Orientation {
    /// From the Exif number; anything but 2 to 8 is upright.
    #[must_use]
    pub fn from_exif(number: u32) -> Self {
        match number {
            2 => Self::MirroredHorizontally,
            3 => Self::Turned180,
            4 => Self::MirroredVertically,
            5 => Self::Transposed,
            6 => Self::TurnClockwise,
            7 => Self::Transversed,
            8 => Self::TurnAnticlockwise,
            _ => Self::Upright,
        }
    }

    /// True when width and height change places.
    #[must_use]
    pub fn swaps_sides(self) -> bool {
        matches!(self, Self::Transposed | Self::TurnClockwise | Self::Transversed | Self::TurnAnticlockwise)
    }

    /// The number Exif writes for it, 1 to 8.
    #[must_use]
    pub fn exif(self) -> u32 {
        match self {
            Self::Upright => 1,
            Self::MirroredHorizontally => 2,
            Self::Turned180 => 3,
            Self::MirroredVertically => 4,
            Self::Transposed => 5,
            Self::TurnClockwise => 6,
            Self::Transversed => 7,
            Self::TurnAnticlockwise => 8,
        }
    }

    /// Stored pixel of the upright pixel (`x`, `y`); `width` and `height` are those of the stored picture.
    #[must_use]
    pub fn stored(self, x: usize, y: usize, width: usize, height: usize) -> (usize, usize) {
        match self {
            Self::Upright => (x, y),
            Self::MirroredHorizontally => (width - 1 - x, y),
            Self::Turned180 => (width - 1 - x, height - 1 - y),
            Self::MirroredVertically => (x, height - 1 - y),
            Self::Transposed => (y, x),
            Self::TurnClockwise => (y, height - 1 - x),
            Self::Transversed => (width - 1 - y, height - 1 - x),
            Self::TurnAnticlockwise => (width - 1 - y, x),
        }
    }
}
