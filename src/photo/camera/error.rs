//! Why no photo could be taken, by whose fault.

use super::format::PixelFormat;

/// A camera that gives no photo.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CameraError {
    // The program and the machine.
    /// Built without the feature, or for a system it is not there for.
    #[error("this program was built without cameras")]
    NotBuilt,
    /// No camera at all.
    #[error("no camera was found")]
    NoCamera,
    /// No device of this number.
    #[error("there is no camera {number}")]
    Absent {
        /// Number of the device.
        number: u32,
    },
    /// A device that takes no pictures: an output, or metadata of a camera.
    #[error("device {number} is no camera: it sends no pictures")]
    NotACamera {
        /// Number of the device.
        number: u32,
    },
    /// The system does not let this user.
    #[error("no permission to use camera {number}")]
    NoPermission {
        /// Number of the device.
        number: u32,
    },
    /// Another program has it.
    #[error("camera {number} is in use by another program")]
    Busy {
        /// Number of the device.
        number: u32,
    },

    // What the camera offers.
    /// Nothing that is read.
    #[error("camera {number} offers no format that can be read, in whole frames a second")]
    NoFormat {
        /// Number of the device.
        number: u32,
    },
    /// Not the size or format that was told.
    #[error("camera {number} does not offer {asked}")]
    NotOffered {
        /// Number of the device.
        number: u32,
        /// What was asked for.
        asked: String,
    },
    /// The driver took another format than the one it was asked for.
    #[error("camera {number} does not keep to the format it offers: {offer}")]
    Refused {
        /// Number of the device.
        number: u32,
        /// What it was asked for.
        offer: String,
    },
    /// Colours from which no RGB can be computed.
    #[error("the camera codes its colours as {what}, which is not read")]
    Coding {
        /// How it codes them.
        what: String,
    },

    // While taking.
    /// It is gone.
    #[error("camera {number} was unplugged, or has stopped working")]
    Unplugged {
        /// Number of the device.
        number: u32,
    },
    /// It is there and sends nothing.
    #[error("camera {number} sent no frame for {seconds} seconds")]
    NoFrames {
        /// Number of the device.
        number: u32,
        /// How long was waited.
        seconds: u64,
    },
    /// Frames that hold no picture.
    #[error("camera {number} sent {frames} frames in a row that hold no {} picture: {cause}", format.fourcc())]
    Undecodable {
        /// Number of the device.
        number: u32,
        /// How many.
        frames: usize,
        /// What they should have been.
        format: PixelFormat,
        /// What is wrong with the last of them.
        cause: String,
    },
    /// Something moved.
    #[error(
        "the picture did not keep still: a part of it changed by {:.1} % against the rest (limit {:.1} %), {odd} of {frames} frames stand out",
        100.0 * change,
        100.0 * limit
    )]
    Unsteady {
        /// Standard uncertainty of the mean of a part, share of its light.
        change: f64,
        /// The limit of that.
        limit: f64,
        /// Frames unlike the rest.
        odd: usize,
        /// Frames taken.
        frames: usize,
    },
    /// The bus is full.
    #[error("the bus has no room for what camera {number} sends in this format")]
    NoRoom {
        /// Number of the device.
        number: u32,
    },
    /// Anything else that the driver answered.
    #[error("camera {number}: cannot {doing}: {cause}")]
    Failed {
        /// Number of the device.
        number: u32,
        /// What was tried.
        doing: &'static str,
        /// What the driver or the library said.
        cause: String,
    },
}

impl CameraError {
    /// The error of a device by the number of the system's error, as far as it names a cause that a user can do something about.
    #[must_use]
    pub fn from_system(number: u32, doing: &'static str, code: Option<i32>, cause: String) -> Self {
        match code {
            // ENOENT, ENXIO: no such node, or nothing behind it.
            Some(2 | 6) => CameraError::Absent { number },
            // EPERM, EACCES.
            Some(1 | 13) => CameraError::NoPermission { number },
            // EBUSY.
            Some(16) => CameraError::Busy { number },
            // EIO, ENODEV.
            Some(5 | 19) => CameraError::Unplugged { number },
            // ENOSPC: what drivers of USB cameras answer when others use the bus.
            Some(28) => CameraError::NoRoom { number },
            // ENOTTY: no video device.
            Some(25) => CameraError::NotACamera { number },
            _ => CameraError::Failed { number, doing, cause },
        }
    }

    /// The stable code of the report.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            CameraError::NotBuilt => "camera-not-built",
            CameraError::NoCamera => "camera-none",
            CameraError::Absent { .. } => "camera-absent",
            CameraError::NotACamera { .. } => "camera-not-one",
            CameraError::NoPermission { .. } => "camera-no-permission",
            CameraError::Busy { .. } => "camera-busy",
            CameraError::NoFormat { .. } => "camera-no-format",
            CameraError::NotOffered { .. } => "camera-not-offered",
            CameraError::Refused { .. } => "camera-refused",
            CameraError::Coding { .. } => "camera-coding",
            CameraError::Unplugged { .. } => "camera-unplugged",
            CameraError::NoFrames { .. } => "camera-no-frames",
            CameraError::Undecodable { .. } => "camera-undecodable",
            CameraError::Unsteady { .. } => "camera-unsteady",
            CameraError::NoRoom { .. } => "camera-no-room",
            CameraError::Failed { .. } => "camera-failed",
        }
    }

    /// The next thing to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            CameraError::NotBuilt => {
                "on Linux build it with cameras: cargo install --path . --features camera (needs libclang; see the manual); \
                 or take the photo with any camera and use tintpoint read"
            }
            CameraError::NoCamera => "plug a camera in and switch it on; if it is there, `ls /dev/video*` shows what the system sees",
            CameraError::Absent { .. } | CameraError::NotACamera { .. } => {
                "`tintpoint snap --list` shows the cameras; give one with --device N"
            }
            CameraError::NoPermission { .. } => {
                "`ls -l /dev/video*` shows which group may use cameras (mostly video); join it with `sudo usermod -aG video NAME` and log in again"
            }
            CameraError::Busy { .. } => "close the other program (a call, a browser tab, a preview) and try again",
            CameraError::NoFormat { .. } => "RGB3, BGR3, YUYV, NV12 and MJPG are read; use another camera",
            CameraError::NotOffered { .. } => {
                "`tintpoint snap --list` shows what it offers; leave --size and --pixels out to have both chosen"
            }
            CameraError::Refused { .. } => "give another --size or --pixels; `tintpoint snap --list` shows what there is",
            CameraError::Coding { .. } => "give other --pixels, or use another camera",
            CameraError::Unplugged { .. } => "check cable and hub, plug it in again and wait a moment",
            CameraError::NoFrames { .. } => "switch the camera on and open its cover; unplug it and plug it in again",
            CameraError::Undecodable { .. } => {
                "plug it straight into the computer instead of a hub, or give a smaller --size or other --pixels"
            }
            CameraError::Unsteady { .. } => {
                "rest the camera on something, keep hands and shadows away, let the liquid come to rest; \
                 under a lamp that flickers take more --frames"
            }
            CameraError::NoRoom { .. } => "take other cameras off the same hub, or give a smaller --size or --pixels MJPG",
            CameraError::Failed { .. } => "unplug the camera and plug it in again; if that does not help, use another one",
        }
    }
}

/// The number in a text such as `Permission denied (os error 13)`: the library hands on only words.
#[must_use]
pub fn system_code(text: &str) -> Option<i32> {
    let (_, rest) = text.rsplit_once("(os error ")?;
    rest.split(')').next()?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    // Messages as the library writes them.
    #[test]
    fn causes_are_told_apart_by_number() {
        let of = |text: &str| CameraError::from_system(7, "open it", system_code(text), text.to_owned());
        let device = "Could not open device 7: V4L2 Error: ";
        assert_eq!(of(&format!("{device}No such file or directory (os error 2)")), CameraError::Absent { number: 7 });
        assert_eq!(of(&format!("{device}Permission denied (os error 13)")), CameraError::NoPermission { number: 7 });
        assert_eq!(of("Could not open device stream: Device or resource busy (os error 16)"), CameraError::Busy { number: 7 });
        assert_eq!(of("Could not capture frame: No such device (os error 19)"), CameraError::Unplugged { number: 7 });
        assert_eq!(of("Could not capture frame: Input/output error (os error 5)"), CameraError::Unplugged { number: 7 });
        assert_eq!(of("No space left on device (os error 28)"), CameraError::NoRoom { number: 7 });
        assert!(matches!(of("Failed to Fufill"), CameraError::Failed { number: 7, .. }));
        assert_eq!(system_code("no number (os error x)"), None);
    }

    fn every_error() -> Vec<CameraError> {
        vec![
            CameraError::NotBuilt,
            CameraError::NoCamera,
            CameraError::Absent { number: 3 },
            CameraError::NotACamera { number: 3 },
            CameraError::NoPermission { number: 3 },
            CameraError::Busy { number: 3 },
            CameraError::NoFormat { number: 3 },
            CameraError::NotOffered { number: 3, asked: "640 x 481 pixels".to_owned() },
            CameraError::Refused { number: 3, offer: "RGB3".to_owned() },
            CameraError::Coding { what: "ink".to_owned() },
            CameraError::Unplugged { number: 3 },
            CameraError::NoFrames { number: 3, seconds: 6 },
            CameraError::Undecodable { number: 3, frames: 10, format: PixelFormat::Jpeg, cause: "torn".to_owned() },
            CameraError::Unsteady { change: 0.0312, limit: 0.012, odd: 2, frames: 8 },
            CameraError::NoRoom { number: 3 },
            CameraError::Failed { number: 3, doing: "open it", cause: "odd".to_owned() },
        ]
    }

    #[test]
    fn sentences_keep_the_house_form_and_codes_differ() {
        let all = every_error();
        for error in &all {
            for text in [error.to_string(), error.hint().to_owned()] {
                assert!(!text.ends_with('.') && !text.contains("  "), "{text}");
            }
            assert!(error.to_string().starts_with(char::is_lowercase), "{error}");
        }
        let mut codes: Vec<&str> = all.iter().map(CameraError::code).collect();
        codes.sort_unstable();
        codes.dedup();
        assert_eq!(codes.len(), all.len());
    }

    #[test]
    fn manual_lists_every_code() {
        let readme = include_str!("../../../README.md");
        for error in every_error() {
            assert!(readme.contains(&format!("`{}`", error.code())), "README does not list `{}`", error.code());
        }
    }

    #[test]
    fn figures_reach_the_message() {
        let text = every_error()[13].to_string();
        assert!(text.contains("3.1 %") && text.contains("limit 1.2 %") && text.contains("2 of 8"), "{text}");
        assert!(every_error()[11].to_string().contains("6 seconds"));
    }
}
