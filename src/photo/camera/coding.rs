//! How a driver says that colours are coded, and what follows from it.
//!
//! Webcams mostly send luma and colour differences. Which matrix led there and which range of levels is used is not part of the
//! frame: the driver tells it beside, and who does not ask reads a wrong colour. Names and defaults are those of the kernel's
//! documentation of Video for Linux (chapters "Colorspaces", "Defining Colorspaces in V4L2" and "Detailed Colorspace Descriptions";
//! `include/uapi/linux/videodev2.h`).

use super::CameraError;
use super::format::PixelFormat;
use crate::measurement::warning::Notice;

/// Levels in use, of 0 to 255.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Range {
    /// All of them.
    Full,
    /// Luma and RGB 16 to 235, colour differences 16 to 240.
    Limited,
}

/// Shares of red and blue in luma; green has the rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Matrix {
    /// Share of red, 0 to 1.
    pub red: f64,
    /// Share of blue, 0 to 1.
    pub blue: f64,
}

impl Matrix {
    /// ITU-R BT.601-7, 2.5.1.
    pub const REC_601: Matrix = Matrix { red: 0.299, blue: 0.114 };
    /// ITU-R BT.709-6, table 3, item 3.2.
    pub const REC_709: Matrix = Matrix { red: 0.2126, blue: 0.0722 };
    /// ITU-R BT.2020-2, table 4, the luma that is not constant.
    pub const REC_2020: Matrix = Matrix { red: 0.2627, blue: 0.0593 };
    /// SMPTE 240M, as the kernel's documentation gives it.
    pub const SMPTE_240M: Matrix = Matrix { red: 0.212, blue: 0.087 };
}

/// Range and matrix of the frames of one stream.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coding {
    /// Levels in use.
    pub range: Range,
    /// The way from luma and colour differences to RGB; without meaning for RGB frames.
    pub matrix: Matrix,
}

/// What the driver declares about the colours of a stream.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Declared {
    /// Name of the colour space, such as `SRGB`.
    pub colourspace: String,
    /// Number of the matrix; 0 leaves it to the colour space.
    pub encoding: u32,
    /// Name of the range; `DEFAULT` leaves it to the colour space.
    pub quantization: String,
}

impl Declared {
    /// Reads what the library prints of a stream's format: `PixFormat { ..., colorspace: SRGB, ..., enc: 2, quantization: DEFAULT, ... }`.
    /// It has no other way to tell the matrix. `None` when any of the three is missing.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let field = |name: &str| {
            let rest = text.split_once(&format!(" {name}: "))?.1;
            Some(rest.split([',', ' ', '}']).next().unwrap_or_default().to_owned())
        };
        Some(Declared { colourspace: field("colorspace")?, encoding: field("enc")?.parse().ok()?, quantization: field("quantization")? })
    }
}

/// Range and matrix of a stream, and what is to be said about it.
///
/// # Errors
/// [`CameraError::Coding`] when frames are coded in a way from which no colour can be had by a matrix.
pub fn coding(format: PixelFormat, declared: Option<&Declared>) -> Result<(Coding, Vec<Notice>), CameraError> {
    let Some(declared) = declared else {
        return Ok((Coding { range: usual_range(format, ""), matrix: Matrix::REC_601 }, vec![Notice::CameraCodingAssumed]));
    };
    let space = declared.colourspace.as_str();
    let (matrix, is_sure) = matrix(space, declared.encoding)?;
    let range = match declared.quantization.as_str() {
        "FULL_RANGE" => Some(Range::Full),
        "LIM_RANGE" => Some(Range::Limited),
        "DEFAULT" => Some(usual_range(format, space)),
        _ => None,
    };
    let coding = Coding { range: range.unwrap_or(usual_range(format, space)), matrix };
    let is_doubtful = match format {
        PixelFormat::Rgb | PixelFormat::Bgr => range.is_none(),
        PixelFormat::Yuyv | PixelFormat::Nv12 => range.is_none() || !is_sure,
        // A JPEG is Rec. 601 in full range by its own standard (JFIF 1.02); a driver that says otherwise leaves a doubt.
        PixelFormat::Jpeg => !is_sure || matrix != Matrix::REC_601 || range != Some(Range::Full),
    };
    let mut notices = Vec::new();
    if is_doubtful {
        notices.push(Notice::CameraCodingAssumed);
    }
    // Primaries far from those of sRGB; the older video ones differ from it by less than cameras do.
    if matches!(space, "OPRGB" | "BT2020" | "DCI_P3") {
        notices.push(Notice::ColourSpaceAssumed);
    }
    Ok((if format == PixelFormat::Jpeg { Coding { range: Range::Full, matrix: Matrix::REC_601 } } else { coding }, notices))
}

/// The matrix, and whether the driver told it.
fn matrix(space: &str, encoding: u32) -> Result<(Matrix, bool), CameraError> {
    Ok(match encoding {
        // V4L2_MAP_YCBCR_ENC_DEFAULT of videodev2.h.
        0 => match space {
            "REC709" | "DCI_P3" => (Matrix::REC_709, true),
            "BT2020" => (Matrix::REC_2020, true),
            "SMPTE240M" => (Matrix::SMPTE_240M, true),
            "DEFAULT" | "RAW" => (Matrix::REC_601, false),
            named => (Matrix::REC_601, !named.starts_with('(')),
        },
        // Rec. 601, its extended gamut, and the old name of the same for sYCC.
        1 | 3 | 5 => (Matrix::REC_601, true),
        2 | 4 => (Matrix::REC_709, true),
        6 => (Matrix::REC_2020, true),
        7 => return Err(CameraError::Coding { what: "Rec. 2020 with constant luminance".to_owned() }),
        8 => (Matrix::SMPTE_240M, true),
        _ => (Matrix::REC_601, false),
    })
}

/// V4L2_MAP_QUANTIZATION_DEFAULT of videodev2.h, and JFIF for JPEG frames.
fn usual_range(format: PixelFormat, space: &str) -> Range {
    match format {
        PixelFormat::Rgb | PixelFormat::Bgr | PixelFormat::Jpeg => Range::Full,
        PixelFormat::Yuyv | PixelFormat::Nv12 if space == "JPEG" => Range::Full,
        PixelFormat::Yuyv | PixelFormat::Nv12 => Range::Limited,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn declared(colourspace: &str, encoding: u32, quantization: &str) -> Declared {
        Declared { colourspace: colourspace.to_owned(), encoding, quantization: quantization.to_owned() }
    }

    fn of(format: PixelFormat, declared: &Declared) -> (Coding, Vec<Notice>) {
        coding(format, Some(declared)).unwrap()
    }

    #[test]
    fn debug_text_is_read() {
        let text = "PixFormat { width: 640, height: 480, pixel_format: YUYV, field: NONE, bytesperline: 1280, sizeimage: 614400, \
            colorspace: SRGB, flags: (empty), enc: 2, quantization: FULL_RANGE, xfer_func: DEFAULT }";
        assert_eq!(Declared::read(text), Some(declared("SRGB", 2, "FULL_RANGE")));
        assert_eq!(Declared::read("PixFormat { colorspace: SRGB }"), None);
        assert_eq!(Declared::read(""), None);
    }

    #[test]
    fn luma_is_limited_601_unless_told() {
        let usual = Coding { range: Range::Limited, matrix: Matrix::REC_601 };
        assert_eq!(of(PixelFormat::Yuyv, &declared("SRGB", 0, "DEFAULT")), (usual, vec![]));
        assert_eq!(of(PixelFormat::Nv12, &declared("SMPTE170M", 1, "LIM_RANGE")), (usual, vec![]));
        assert_eq!(of(PixelFormat::Yuyv, &declared("SRGB", 0, "FULL_RANGE")).0.range, Range::Full);
        assert_eq!(of(PixelFormat::Yuyv, &declared("JPEG", 0, "DEFAULT")).0.range, Range::Full);
        assert_eq!(of(PixelFormat::Yuyv, &declared("SRGB", 2, "DEFAULT")), (Coding { matrix: Matrix::REC_709, ..usual }, vec![]));
        assert_eq!(of(PixelFormat::Yuyv, &declared("REC709", 0, "DEFAULT")).0.matrix, Matrix::REC_709);
        assert_eq!(of(PixelFormat::Yuyv, &declared("REC709", 1, "DEFAULT")).0.matrix, Matrix::REC_601);
    }

    #[test]
    fn what_is_not_told_is_said() {
        let said = vec![Notice::CameraCodingAssumed];
        assert_eq!(coding(PixelFormat::Yuyv, None).unwrap().1, said);
        for unsure in [
            declared("DEFAULT", 0, "DEFAULT"),
            declared("SRGB", 99, "DEFAULT"),
            declared("SRGB", 0, "(unknown:"),
            declared("(unknown:", 0, "DEFAULT"),
        ] {
            assert_eq!(of(PixelFormat::Yuyv, &unsure).1, said, "{unsure:?}");
        }
        assert_eq!(of(PixelFormat::Jpeg, &declared("REC709", 0, "DEFAULT")).1, said);
        assert_eq!(of(PixelFormat::Rgb, &declared("DEFAULT", 0, "DEFAULT")).1, vec![], "RGB needs no matrix");
        assert_eq!(of(PixelFormat::Rgb, &declared("OPRGB", 0, "DEFAULT")).1, vec![Notice::ColourSpaceAssumed]);
    }

    #[test]
    fn a_jpeg_keeps_to_its_own_standard() {
        let (coding, notices) = of(PixelFormat::Jpeg, &declared("JPEG", 0, "DEFAULT"));
        assert_eq!((coding, notices), (Coding { range: Range::Full, matrix: Matrix::REC_601 }, vec![]));
        assert_eq!(of(PixelFormat::Jpeg, &declared("SRGB", 2, "LIM_RANGE")).0, coding);
    }

    #[test]
    fn constant_luminance_is_refused() {
        let error = coding(PixelFormat::Yuyv, Some(&declared("BT2020", 7, "DEFAULT"))).unwrap_err();
        assert!(error.to_string().contains("constant luminance"));
    }

    #[test]
    fn limited_rgb_is_followed() {
        assert_eq!(of(PixelFormat::Rgb, &declared("SRGB", 0, "LIM_RANGE")).0.range, Range::Limited);
    }
}
