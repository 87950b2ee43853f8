//! Why a photo could not be read, by whose fault.

use super::format::Container;

/// A fault inside a decoder, kept as the source of the error.
pub(super) type Cause = Box<dyn std::error::Error + Send + Sync>;

/// A photo that gives no reading. The path is added where it is known.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PhotoError {
    // The way to the file.
    /// No such file.
    #[error("no such file")]
    NotFound,
    /// A folder where a file was expected.
    #[error("this is a folder, not a photo")]
    IsFolder,
    /// The file may not be read.
    #[error("no permission to read the file")]
    NoPermission,
    /// Any other fault of the disk or the system.
    #[error("cannot read the file")]
    Unreadable(#[source] std::io::Error),

    // Limits.
    /// More bytes than are ever read.
    #[error("file is larger than the limit of {limit} MiB")]
    FileTooLarge {
        /// The limit in MiB.
        limit: u64,
    },
    /// A side is longer than allowed.
    #[error("picture is declared as {width} x {height} pixels; a side may have at most {limit}")]
    SideTooLong {
        /// Declared width.
        width: u64,
        /// Declared height.
        height: u64,
        /// Pixels allowed a side.
        limit: u64,
    },
    /// More pixels than allowed.
    #[error("picture is declared as {width} x {height} pixels; the limit is {limit} million pixels")]
    TooManyPixels {
        /// Declared width.
        width: u64,
        /// Declared height.
        height: u64,
        /// The limit in millions of pixels.
        limit: u64,
    },

    // The file itself.
    /// No bytes at all.
    #[error("file is empty")]
    Empty,
    /// The file ends before the picture does.
    #[error("{container} ends too early: part of the picture is missing")]
    Truncated {
        /// What it is.
        container: Container,
    },
    /// The bytes contradict each other.
    #[error("{container} is damaged")]
    Damaged {
        /// What it is.
        container: Container,
        /// What the decoder said.
        #[source]
        cause: Cause,
    },
    /// No picture of any known kind.
    #[error("this is no picture of a known kind")]
    NotAPicture,

    // Pictures that are whole but give no reading.
    /// Sensor values before any development.
    #[error("this is a raw camera file ({name})")]
    Raw {
        /// Name of the format.
        name: &'static str,
    },
    /// HEIC or AVIF.
    #[error("{name} pictures are not supported")]
    HighEfficiency {
        /// Name of the format.
        name: &'static str,
    },
    /// A known kind of file that is not read.
    #[error("{name} files are not supported")]
    OtherFormat {
        /// Name of the format.
        name: &'static str,
    },
    /// One channel only.
    #[error("picture is greyscale: it carries no colour to read")]
    Greyscale,
    /// Printing inks instead of light.
    #[error("picture is stored as printing inks (CMYK)")]
    Inks,
    /// Pixels that are not fully opaque.
    #[error("picture has transparent pixels ({count})")]
    Transparent {
        /// How many.
        count: usize,
    },
    /// More than one picture in turn.
    #[error("{container} is animated")]
    Animated {
        /// What it is.
        container: Container,
    },
    /// A lawful variant that is not read, such as arithmetic coding or 32-bit floats.
    #[error("{container} uses a variant that is not supported")]
    Variant {
        /// What it is.
        container: Container,
        /// What the decoder said.
        #[source]
        cause: Cause,
    },
}

impl PhotoError {
    /// The stable code of the report.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            PhotoError::NotFound => "not-found",
            PhotoError::IsFolder => "is-folder",
            PhotoError::NoPermission => "no-permission",
            PhotoError::Unreadable(_) => "unreadable",
            PhotoError::FileTooLarge { .. } => "file-too-large",
            PhotoError::SideTooLong { .. } => "side-too-long",
            PhotoError::TooManyPixels { .. } => "too-many-pixels",
            PhotoError::Empty => "empty",
            PhotoError::Truncated { .. } => "truncated",
            PhotoError::Damaged { .. } => "damaged",
            PhotoError::NotAPicture => "not-a-picture",
            PhotoError::Raw { .. } => "raw",
            PhotoError::HighEfficiency { .. } => "high-efficiency",
            PhotoError::OtherFormat { .. } => "other-format",
            PhotoError::Greyscale => "greyscale",
            PhotoError::Inks => "inks",
            PhotoError::Transparent { .. } => "transparent",
            PhotoError::Animated { .. } => "animated",
            PhotoError::Variant { .. } => "variant",
        }
    }

    /// The next thing to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            PhotoError::NotFound => "check the spelling of the path",
            PhotoError::IsFolder => "name the photos in it, one by one or with a wildcard",
            PhotoError::NoPermission => "change the permissions of the file, or copy it to a folder of yours",
            PhotoError::Unreadable(_) => "copy the file to another disk and try again",
            PhotoError::FileTooLarge { .. } | PhotoError::SideTooLong { .. } | PhotoError::TooManyPixels { .. } => {
                "crop the photo to card and cups, or save it with fewer pixels"
            }
            PhotoError::Empty | PhotoError::Truncated { .. } => "copy or send the photo again; the transfer broke off",
            PhotoError::Damaged { .. } => "copy the photo again from the camera; if that does not help, retake it",
            PhotoError::NotAPicture => "give a JPEG, PNG, TIFF or WebP photo",
            PhotoError::Raw { .. } => {
                "develop it with neutral settings (no tone curve, no colour effects) and export a 16-bit TIFF or a JPEG in sRGB"
            }
            PhotoError::HighEfficiency { .. } => "set the camera to JPEG (most compatible), or export the picture as JPEG or TIFF",
            PhotoError::OtherFormat { .. } => "save the photo as JPEG, PNG, TIFF or WebP",
            PhotoError::Greyscale => "take the photo in colour",
            PhotoError::Inks => "go back to the original photo, or export it as RGB with its colour profile",
            PhotoError::Transparent { .. } => "use the photo as it came from the camera, without cut-outs",
            PhotoError::Animated { .. } => "save one still picture of it",
            PhotoError::Variant { .. } => "save the photo as an ordinary 8-bit JPEG, or as an 8- or 16-bit RGB TIFF or PNG",
        }
    }
}
