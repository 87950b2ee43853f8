//! One frame as the camera sent it -> RGB.
//!
//! Done here and not by nokhwa, which takes every frame for Rec. 601 in limited range. Colour that two or four pixels share is given
//! to each of them as it is: what is measured are even areas.

use super::coding::{Coding, Range};
use super::format::PixelFormat;
use crate::measurement::frame::{Pages, Samples};
use crate::photo::jpeg;
use std::borrow::Cow;

/// Size and layout of the frames of a stream.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layout {
    /// How the pixels lie.
    pub format: PixelFormat,
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Bytes from one row to the next, of the first plane; without meaning for JPEG.
    pub stride: usize,
    /// What the levels mean.
    pub coding: Coding,
}

/// A frame from which no picture can be had.
#[derive(Debug, thiserror::Error)]
pub enum FrameFault {
    /// Fewer bytes than the size needs.
    #[error("{bytes} bytes are too few for the frame, which needs {needed}")]
    Short {
        /// Bytes received.
        bytes: usize,
        /// Bytes needed.
        needed: usize,
    },
    /// A JPEG that cannot be unpacked.
    #[error("{0}")]
    Jpeg(#[from] crate::photo::PhotoError),
    /// A JPEG of another size.
    #[error("the frame has {width} x {height} pixels instead of the size asked for")]
    Size {
        /// Pixels across.
        width: usize,
        /// Pixels down.
        height: usize,
    },
}

impl Layout {
    /// Unpacks a frame to RGB, sRGB-encoded: 8 bits where the camera sent RGB, 16 bits where it was computed.
    ///
    /// # Errors
    /// [`FrameFault`] when the bytes do not hold the picture.
    pub fn rgb(&self, bytes: &[u8]) -> Result<Samples, FrameFault> {
        let row = match self.format {
            PixelFormat::Rgb | PixelFormat::Bgr => 3 * self.width,
            PixelFormat::Yuyv => 4 * self.width.div_ceil(2),
            PixelFormat::Nv12 => 2 * self.width.div_ceil(2),
            PixelFormat::Jpeg => return self.jpeg(bytes),
        };
        let stride = self.stride.max(row);
        let rows = if self.format == PixelFormat::Nv12 { self.height + self.height.div_ceil(2) } else { self.height };
        let needed = stride * rows.saturating_sub(1) + row;
        if bytes.len() < needed {
            return Err(FrameFault::Short { bytes: bytes.len(), needed });
        }
        Ok(match self.format {
            PixelFormat::Yuyv => self.luma(|x, y| {
                let at = y * stride + 4 * (x / 2);
                [bytes[at + 2 * (x % 2)], bytes[at + 1], bytes[at + 3]]
            }),
            PixelFormat::Nv12 => self.luma(|x, y| {
                let colour = stride * self.height + y / 2 * stride + 2 * (x / 2);
                [bytes[y * stride + x], bytes[colour], bytes[colour + 1]]
            }),
            _ => self.levels(bytes, stride, row),
        })
    }

    /// RGB levels, with red first and over the full range.
    fn levels(&self, bytes: &[u8], stride: usize, row: usize) -> Samples {
        let mut rgb: Vec<u8> = bytes.chunks(stride).take(self.height).flat_map(|line| &line[..row]).copied().collect();
        if self.format == PixelFormat::Bgr {
            rgb.chunks_exact_mut(3).for_each(|pixel| pixel.swap(0, 2));
        }
        match self.coding.range {
            Range::Full => Samples::Eight(rgb.into()),
            Range::Limited => Samples::Sixteen(rgb.iter().map(|&level| full_scale((f64::from(level) - 16.0) / 219.0)).collect()),
        }
    }

    /// Luma and colour differences of each pixel, as `sample` fetches them, to RGB (ITU-R BT.601-7, 2.5.3 and 2.5.4, solved for RGB).
    fn luma(&self, sample: impl Fn(usize, usize) -> [u8; 3]) -> Samples {
        let (black, luma, colour) = match self.coding.range {
            Range::Full => (0.0, 255.0, 255.0),
            Range::Limited => (16.0, 219.0, 224.0),
        };
        let (kr, kb) = (self.coding.matrix.red, self.coding.matrix.blue);
        let kg = 1.0 - kr - kb;
        let mut rgb = Vec::with_capacity(3 * self.width * self.height);
        for y in 0..self.height {
            for x in 0..self.width {
                let [l, u, v] = sample(x, y).map(f64::from);
                let l = (l - black) / luma;
                let red = l + 2.0 * (1.0 - kr) * (v - 128.0) / colour;
                let blue = l + 2.0 * (1.0 - kb) * (u - 128.0) / colour;
                let green = (l - kr * red - kb * blue) / kg;
                rgb.extend([red, green, blue].map(full_scale));
            }
        }
        Samples::Sixteen(rgb)
    }

    fn jpeg(&self, bytes: &[u8]) -> Result<Samples, FrameFault> {
        let picture = jpeg::decode(&with_tables(bytes), &mut Pages::default())?;
        if (picture.width, picture.height) != (self.width, self.height) {
            return Err(FrameFault::Size { width: picture.width, height: picture.height });
        }
        Ok(picture.samples)
    }
}

/// 0 to 1 -> 0 to 65 535; what lies outside, as rounded luma and colour differences may, is cut off at the ends.
fn full_scale(value: f64) -> u16 {
    (value.clamp(0.0, 1.0) * 65_535.0 + 0.5) as u16
}

/// Many cameras leave the usual Huffman tables out of every frame. A mark as in AVI files makes the decoder put them in.
fn with_tables(bytes: &[u8]) -> Cow<'_, [u8]> {
    // APP0 of 16 bytes: a length, the name, and what follows it in files, all zero.
    const MARK: [u8; 18] = *b"\xFF\xE0\x00\x10AVI1\0\0\0\0\0\0\0\0\0\0";
    if !bytes.starts_with(&[0xFF, 0xD8]) || has_tables(bytes) {
        return Cow::Borrowed(bytes);
    }
    Cow::Owned([&bytes[..2], &MARK, &bytes[2..]].concat())
}

/// True when a segment with Huffman tables stands before the pixels (ITU-T T.81, B.1).
fn has_tables(bytes: &[u8]) -> bool {
    let mut at = 2;
    while let Some(&[0xFF, marker, high, low]) = bytes.get(at..at + 4) {
        match marker {
            0xC4 => return true,
            0xDA => return false,
            // Filling before a marker.
            0xFF => at += 1,
            _ => at += 2 + usize::from(u16::from_be_bytes([high, low])),
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::camera::coding::Matrix;

    const USUAL: Coding = Coding { range: Range::Limited, matrix: Matrix::REC_601 };

    fn layout(format: PixelFormat, width: usize, height: usize, coding: Coding) -> Layout {
        Layout { format, width, height, stride: 0, coding }
    }

    fn levels(layout: &Layout, bytes: &[u8]) -> Vec<f64> {
        match layout.rgb(bytes).unwrap() {
            Samples::Eight(all) => all.iter().copied().map(f64::from).collect(),
            Samples::Sixteen(all) => all.into_iter().map(|v| f64::from(v) / 257.0).collect(),
        }
    }

    fn assert_near(found: &[f64], wanted: &[f64], tolerance: f64) {
        assert_eq!(found.len(), wanted.len());
        assert!(found.iter().zip(wanted).all(|(a, b)| (a - b).abs() <= tolerance), "{found:?} is not {wanted:?}");
    }

    // The colour bars of ITU-R BT.801-1, 100/0/100/0, 8 bits: yellow 210,16,146 and blue 41,240,110 in Rec. 601; from Rec. 709
    // (ITU-R BT.709, 3.4 and 3.5): yellow 219,16,138 and blue 32,240,118. Computed values are rounded, hence one level.
    #[test]
    fn colour_bars_have_their_colours() {
        let rec_709 = Coding { matrix: Matrix::REC_709, ..USUAL };
        for (coding, [l, u, v], rgb) in [
            (USUAL, [210, 16, 146], [255.0, 255.0, 0.0]),
            (USUAL, [41, 240, 110], [0.0, 0.0, 255.0]),
            (rec_709, [219, 16, 138], [255.0, 255.0, 0.0]),
            (rec_709, [32, 240, 118], [0.0, 0.0, 255.0]),
            (USUAL, [235, 128, 128], [255.0; 3]),
            (USUAL, [16, 128, 128], [0.0; 3]),
        ] {
            let two = [rgb, rgb].concat();
            assert_near(&levels(&layout(PixelFormat::Yuyv, 2, 1, coding), &[l, u, l, v]), &two, 1.0);
            assert_near(&levels(&layout(PixelFormat::Nv12, 2, 1, coding), &[l, l, u, v]), &two, 1.0);
        }
    }

    // JFIF 1.02: R = Y + 1.402 (Cr - 128), G = Y - 0.34414 (Cb - 128) - 0.71414 (Cr - 128), B = Y + 1.772 (Cb - 128).
    #[test]
    fn full_range_follows_jfif() {
        let full = Coding { range: Range::Full, ..USUAL };
        let (l, u, v) = (120.0, 100.0 - 128.0, 150.0 - 128.0);
        let wanted = [l + 1.402 * v, l - 0.344_14 * u - 0.714_14 * v, l + 1.772 * u];
        assert_near(&levels(&layout(PixelFormat::Yuyv, 2, 1, full), &[120, 100, 120, 150]), &[wanted, wanted].concat(), 0.01);
    }

    #[test]
    fn each_pixel_has_its_own_luma_and_place() {
        let found = levels(&layout(PixelFormat::Yuyv, 2, 2, USUAL), &[16, 128, 235, 128, 235, 128, 16, 128]);
        assert_near(&found, &[[0.0; 3], [255.0; 3], [255.0; 3], [0.0; 3]].concat(), 0.01);
        let found = levels(&layout(PixelFormat::Nv12, 2, 2, USUAL), &[16, 235, 235, 16, 128, 128]);
        assert_near(&found, &[[0.0; 3], [255.0; 3], [255.0; 3], [0.0; 3]].concat(), 0.01);
    }

    #[test]
    fn rgb_is_left_alone_unless_its_range_is_limited() {
        let full = Coding { range: Range::Full, ..USUAL };
        assert_eq!(layout(PixelFormat::Rgb, 1, 1, full).rgb(&[1, 2, 3]).unwrap(), Samples::Eight(vec![1, 2, 3].into()));
        assert_eq!(layout(PixelFormat::Bgr, 1, 1, full).rgb(&[1, 2, 3]).unwrap(), Samples::Eight(vec![3, 2, 1].into()));
        assert_near(&levels(&layout(PixelFormat::Rgb, 1, 1, USUAL), &[16, 235, 250]), &[0.0, 255.0, 255.0], 0.01);
    }

    #[test]
    fn padded_rows_are_followed() {
        let padded = Layout { stride: 8, ..layout(PixelFormat::Rgb, 1, 2, Coding { range: Range::Full, ..USUAL }) };
        let bytes = [1, 2, 3, 0, 0, 0, 0, 0, 4, 5, 6];
        assert_eq!(padded.rgb(&bytes).unwrap(), Samples::Eight(vec![1, 2, 3, 4, 5, 6].into()));
        assert!(matches!(padded.rgb(&bytes[..10]), Err(FrameFault::Short { bytes: 10, needed: 11 })));
    }

    #[test]
    fn too_few_bytes_are_told_for_every_format() {
        for format in [PixelFormat::Rgb, PixelFormat::Bgr, PixelFormat::Yuyv, PixelFormat::Nv12, PixelFormat::Jpeg] {
            assert!(layout(format, 4, 4, USUAL).rgb(&[0; 20]).is_err(), "{format:?}");
            assert!(layout(format, 4, 4, USUAL).rgb(&[]).is_err(), "{format:?}");
        }
    }

    /// A JPEG of one colour.
    fn jpeg_of(rgb: [u8; 3]) -> Vec<u8> {
        crate::photo::encode::jpeg(16, 16, &rgb.repeat(256), 95).unwrap()
    }

    #[test]
    fn bytes_behind_a_jpeg_are_not_looked_at() {
        let mut bytes = jpeg_of([200, 90, 30]);
        bytes.extend(jpeg_of([0; 3]));
        bytes.extend([0xFF; 100]);
        let found = levels(&layout(PixelFormat::Jpeg, 16, 16, USUAL), &bytes);
        assert_near(&found, &[200.0, 90.0, 30.0].repeat(256), 2.0);
        assert!(matches!(layout(PixelFormat::Jpeg, 32, 16, USUAL).rgb(&bytes), Err(FrameFault::Size { width: 16, .. })));
        assert!(layout(PixelFormat::Jpeg, 16, 16, USUAL).rgb(&bytes[..200]).is_err());
    }

    // Our encoder writes the tables of ITU-T T.81, annex K, which are those that cameras leave out.
    #[test]
    fn a_jpeg_without_its_tables_is_read() {
        let whole = jpeg_of([200, 90, 30]);
        let mut bare = whole[..2].to_vec();
        let mut at = 2;
        loop {
            let length = 2 + usize::from(u16::from_be_bytes([whole[at + 2], whole[at + 3]]));
            if whole[at + 1] == 0xDA {
                bare.extend(&whole[at..]);
                break;
            }
            if whole[at + 1] != 0xC4 {
                bare.extend(&whole[at..at + length]);
            }
            at += length;
        }
        assert!(bare.len() + 400 < whole.len(), "there were tables to leave out");
        let layout = layout(PixelFormat::Jpeg, 16, 16, USUAL);
        assert_eq!(layout.rgb(&bare).unwrap(), layout.rgb(&whole).unwrap());
    }
}
