//! A photo file to a frame and the facts that go with it.

use super::format::{self, Container};
use super::metadata::ExifColour;
use super::unpacked::{Declared, Unpacked};
use super::{PhotoError, icc, jpeg, limits, raster};
use crate::colour::space::PhotoSpace;
use crate::measurement::frame::{Frame, Pages, Samples};
use crate::measurement::warning::Notice;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;

/// A decoded photo and what its metadata tells.
#[derive(Debug)]
pub struct Photo {
    /// The pixels.
    pub frame: Frame,
    /// When it was taken, ISO 8601 as far as known: with the offset from UTC when the camera wrote it.
    pub taken: Option<String>,
    /// Make and model as the camera wrote them.
    pub camera: Option<String>,
    /// Whether the flash fired, when the camera tells.
    pub flash_fired: Option<bool>,
    /// What is to be said about its colours.
    pub notices: Vec<Notice>,
}

/// Memory that one photo leaves to the next: fresh pages of some ten megabytes cost milliseconds.
#[derive(Debug, Default)]
pub struct Buffers {
    file: Pages,
    pixels: Pages,
}

impl Buffers {
    /// The bytes of the file that was loaded last.
    #[must_use]
    pub fn file(&self) -> &[u8] {
        &self.file
    }

    /// Gives memory back beyond so many bytes: one huge photo must not cost those after it.
    pub fn keep_at_most(&mut self, bytes: usize) {
        if self.file.capacity() > bytes {
            self.file = Pages::default();
        }
        if self.pixels.capacity() > bytes {
            self.pixels = Pages::default();
        }
    }

    /// Takes the memory of a photo that is done with.
    pub fn take_back(&mut self, photo: Photo) {
        if let Samples::Eight(pixels) = photo.frame.into_samples() {
            self.pixels = pixels;
        }
    }
}

/// Reads and decodes one file. Its kind is told by its content, not by its name.
///
/// # Errors
/// [`PhotoError`] when the file cannot be read or is no usable photo.
pub fn load(path: &Path) -> Result<Photo, PhotoError> {
    load_into(&mut Buffers::default(), path)
}

/// [`load`] with the memory of the photo before; the photo is the same.
///
/// # Errors
/// As [`load`].
pub fn load_into(buffers: &mut Buffers, path: &Path) -> Result<Photo, PhotoError> {
    read(path, &mut buffers.file)?;
    unpack(&buffers.file, &mut buffers.pixels)
}

/// Decodes the bytes of one file.
///
/// # Errors
/// [`PhotoError`] when the bytes are no usable photo.
pub fn decode(bytes: &[u8]) -> Result<Photo, PhotoError> {
    unpack(bytes, &mut Pages::default())
}

/// [`decode`] with the memory of the photo before; the photo is the same.
///
/// # Errors
/// As [`decode`].
pub fn decode_into(buffers: &mut Buffers, bytes: &[u8]) -> Result<Photo, PhotoError> {
    unpack(bytes, &mut buffers.pixels)
}

fn unpack(bytes: &[u8], spare: &mut Pages) -> Result<Photo, PhotoError> {
    let container = format::detect(&bytes[..bytes.len().min(format::HEAD)])?;
    let unpacked = match container {
        Container::Jpeg => jpeg::decode(bytes, spare),
        Container::Png => raster::png(bytes),
        Container::Tiff => raster::tiff(bytes),
        Container::Webp => raster::webp(bytes),
    }?;
    assemble(container, unpacked)
}

/// The bytes of a file that starts like a photo. A raw file or a film is refused by its first bytes, before the rest
/// is read.
fn read(path: &Path, bytes: &mut Pages) -> Result<(), PhotoError> {
    let too_large = PhotoError::FileTooLarge { limit: limits::FILE_BYTES >> 20 };
    let mut file = File::open(path).map_err(refusal)?;
    let about = file.metadata().map_err(refusal)?;
    if about.is_dir() {
        return Err(PhotoError::IsFolder);
    }
    if about.len() > limits::FILE_BYTES {
        return Err(too_large);
    }
    let mut head = Vec::with_capacity(format::HEAD);
    (&mut file).take(format::HEAD as u64).read_to_end(&mut head).map_err(refusal)?;
    format::detect(&head)?;
    bytes.size(head.len().max(about.len() as usize));
    bytes[..head.len()].copy_from_slice(&head);
    let mut count = head.len();
    while count < bytes.len() {
        match file.read(&mut bytes[count..]) {
            Ok(0) => break,
            Ok(more) => count += more,
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => return Err(refusal(error)),
        }
    }
    // A pipe tells no length, and a file may grow meanwhile or be cut short; the limit is kept here too.
    let mut behind = Vec::new();
    (&mut file).take(limits::FILE_BYTES - count as u64 + 1).read_to_end(&mut behind).map_err(refusal)?;
    if count as u64 + behind.len() as u64 > limits::FILE_BYTES {
        return Err(too_large);
    }
    if behind.is_empty() {
        bytes.size(count);
    } else {
        *bytes = Pages::joined(&[&bytes[..count], &behind]);
    }
    Ok(())
}

fn refusal(error: std::io::Error) -> PhotoError {
    match error.kind() {
        ErrorKind::NotFound => PhotoError::NotFound,
        ErrorKind::PermissionDenied => PhotoError::NoPermission,
        ErrorKind::IsADirectory => PhotoError::IsFolder,
        _ => PhotoError::Unreadable(error),
    }
}

fn assemble(container: Container, unpacked: Unpacked) -> Result<Photo, PhotoError> {
    let Unpacked { width, height, samples, facts, colour } = unpacked;
    let (space, notice) = space(colour, facts.colour);
    let frame = Frame::new(width, height, facts.orientation, samples, space)
        .map_err(|error| PhotoError::Damaged { container, cause: Box::new(error) })?;
    Ok(Photo { frame, taken: facts.taken, camera: facts.camera, flash_fired: facts.flash_fired, notices: notice.into_iter().collect() })
}

/// The colour space: as the container declares it, else as Exif does, else sRGB.
fn space(declared: Declared, exif: ExifColour) -> (PhotoSpace, Option<Notice>) {
    let ignored = |name: String| (PhotoSpace::srgb(), Some(Notice::ProfileIgnored { name }));
    match (declared, exif) {
        (Declared::Profile(bytes), _) => icc::space(&bytes).map_or_else(ignored, |space| (space, None)),
        (Declared::Space(space), _) => (*space, None),
        (Declared::Unusable(name), _) => ignored(name),
        (Declared::Nothing, ExifColour::AdobeRgb) => (PhotoSpace::adobe_rgb(), None),
        (Declared::Nothing, ExifColour::Uncalibrated) => (PhotoSpace::srgb(), Some(Notice::ColourSpaceAssumed)),
        (Declared::Nothing, ExifColour::Srgb | ExifColour::Unsaid) => (PhotoSpace::srgb(), None),
    }
}

#[cfg(test)]
mod tests {
    use super::super::encode;
    use super::*;

    // Else each spoilt photo would cost the next one fresh pages.
    #[test]
    fn a_spoilt_photo_leaves_the_memory_to_the_next() {
        let (width, height) = (320, 240);
        let grey: Vec<u8> = (0..3 * width * height).map(|i| 100 + (i % 17) as u8).collect();
        let whole = encode::jpeg(width, height, &grey, 90).unwrap();
        let mut buffers = Buffers::default();
        let photo = decode_into(&mut buffers, &whole).unwrap();
        buffers.take_back(photo);
        let kept = (buffers.pixels.as_ptr(), buffers.pixels.capacity());
        for spoilt in [&whole[..whole.len() / 2], b"no photo at all"] {
            assert!(decode_into(&mut buffers, spoilt).is_err());
            assert_eq!((buffers.pixels.as_ptr(), buffers.pixels.capacity()), kept);
        }
        buffers.keep_at_most(kept.1);
        assert_eq!(buffers.pixels.capacity(), kept.1);
        buffers.keep_at_most(kept.1 - 1);
        assert_eq!(buffers.pixels.capacity(), 0);
    }
}
