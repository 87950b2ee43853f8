//! A JPEG as the decoder reads it: of another height, and with its end where another thread finds it.
//!
//! A reader of our own also because the decoder asks for four bytes at a time, millions of times: the library's own copies as many as there are, by a call.

use std::sync::atomic::{AtomicUsize, Ordering};
use zune_jpeg::zune_core::bytestream::{ZByteIoError, ZByteReaderTrait, ZSeekFrom};

/// The bytes of a JPEG. The pixels of its upper part are read without a copy of the file, in which nothing but the height would differ.
pub(super) struct Source<'a> {
    bytes: &'a [u8],
    /// Place of the next one to be read; may lie behind the last.
    at: usize,
    height: Height,
    /// Nothing is to be read from here on. The decoder goes over all bytes up to the next marker once it has its pixels.
    end: Option<&'a AtomicUsize>,
}

/// What the frame header is to say in place of what it says.
#[derive(Clone, Copy)]
struct Height {
    bytes: [u8; 2],
    at: usize,
    /// First byte behind it; 0 where nothing is to be told.
    end: usize,
}

impl<'a> Source<'a> {
    /// The bytes as they are.
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        Source { bytes, at: 0, height: Height { bytes: [0; 2], at: 0, end: 0 }, end: None }
    }

    /// The same, with this height of the picture at that place, and up to an end that may be found meanwhile; it has to lie so far behind the last byte that
    /// is wanted that nothing reads ahead to it.
    pub(super) fn upper(bytes: &'a [u8], (height, at): (u16, usize), end: &'a AtomicUsize) -> Self {
        Source { bytes, at: 0, height: Height { bytes: height.to_be_bytes(), at, end: at + 2 }, end: Some(end) }
    }

    /// What is left.
    #[inline(always)]
    fn left(&self) -> &'a [u8] {
        self.bytes.get(self.at..).unwrap_or(&[])
    }
}

impl Height {
    /// Puts it where it stands among bytes that were read from that place on.
    #[inline(always)]
    fn put(self, from: usize, read: &mut [u8]) {
        if from < self.end {
            for (place, byte) in (self.at..).zip(self.bytes) {
                if let Some(read) = place.checked_sub(from).and_then(|place| read.get_mut(place)) {
                    *read = byte;
                }
            }
        }
    }
}

impl ZByteReaderTrait for Source<'_> {
    #[inline(always)]
    fn read_byte_no_error(&mut self) -> u8 {
        let mut byte = [self.left().first().copied().unwrap_or(0)];
        self.height.put(self.at, &mut byte);
        self.at = self.at.saturating_add(1);
        byte[0]
    }

    #[inline(always)]
    fn read_exact_bytes(&mut self, buf: &mut [u8]) -> Result<(), ZByteIoError> {
        self.peek_exact_bytes(buf)?;
        self.at += buf.len();
        Ok(())
    }

    #[inline(always)]
    fn read_bytes(&mut self, buf: &mut [u8]) -> Result<usize, ZByteIoError> {
        let count = self.peek_bytes(buf)?;
        self.at += count;
        Ok(count)
    }

    #[inline(always)]
    fn peek_bytes(&mut self, buf: &mut [u8]) -> Result<usize, ZByteIoError> {
        let count = self.left().len().min(buf.len());
        self.peek_exact_bytes(&mut buf[..count])?;
        Ok(count)
    }

    #[inline(always)]
    fn peek_exact_bytes(&mut self, buf: &mut [u8]) -> Result<(), ZByteIoError> {
        let left = self.left();
        let bytes = left.get(..buf.len()).ok_or(ZByteIoError::NotEnoughBytes(left.len(), buf.len()))?;
        buf.copy_from_slice(bytes);
        self.height.put(self.at, buf);
        Ok(())
    }

    #[inline(always)]
    fn z_seek(&mut self, from: ZSeekFrom) -> Result<u64, ZByteIoError> {
        let to = match from {
            ZSeekFrom::Start(to) => usize::try_from(to).ok(),
            ZSeekFrom::End(by) => self.bytes.len().checked_add_signed(by as isize),
            ZSeekFrom::Current(by) => self.at.checked_add_signed(by as isize),
        };
        self.at = to.ok_or(ZByteIoError::SeekError("no such place"))?;
        Ok(self.at as u64)
    }

    #[inline(always)]
    fn is_eof(&mut self) -> Result<bool, ZByteIoError> {
        Ok(self.at >= self.bytes.len() || self.end.is_some_and(|end| self.at >= end.load(Ordering::Relaxed)))
    }

    #[inline(always)]
    fn z_position(&mut self) -> Result<u64, ZByteIoError> {
        Ok(self.at as u64)
    }

    fn read_remaining(&mut self, sink: &mut Vec<u8>) -> Result<usize, ZByteIoError> {
        let (left, before) = (self.left(), sink.len());
        sink.extend_from_slice(left);
        self.height.put(self.at, &mut sink[before..]);
        self.at = self.at.saturating_add(left.len());
        Ok(left.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is read from that place on, by every way there is to read so many bytes.
    fn read(source: &mut Source<'_>, from: u64, count: usize) -> Vec<u8> {
        let mut all = [const { Vec::new() }; 6];
        for (way, read) in all.iter_mut().enumerate() {
            source.z_seek(ZSeekFrom::Start(from)).unwrap();
            read.resize(count, 0);
            match way {
                0 => read.fill_with(|| source.read_byte_no_error()),
                1 => source.read_exact_bytes(read).unwrap(),
                2 => assert_eq!(source.read_bytes(read).unwrap(), count),
                3 => assert_eq!(source.peek_bytes(read).unwrap(), count),
                4 => source.peek_exact_bytes(read).unwrap(),
                _ => {
                    read.truncate(1);
                    source.read_remaining(read).unwrap();
                    read.remove(0);
                    read.truncate(count);
                }
            }
            let behind = if (3..5).contains(&way) { from } else { from + count as u64 };
            assert!(way == 5 || source.z_position().unwrap() == behind, "{way}");
        }
        assert!(all.iter().all(|read| *read == all[0]), "{all:?}");
        all[0].clone()
    }

    #[test]
    fn nothing_but_the_height_is_another() {
        let bytes: Vec<u8> = (0..20).collect();
        let end = AtomicUsize::new(usize::MAX);
        let (mut upper, mut whole) = (Source::upper(&bytes, (0x1234, 7), &end), Source::new(&bytes));
        let mut other = bytes.clone();
        other[7..9].copy_from_slice(&[0x12, 0x34]);
        for from in 0..20 {
            for count in 1..=20 - from {
                assert_eq!(read(&mut upper, from as u64, count), other[from..from + count]);
                assert_eq!(read(&mut whole, from as u64, count), bytes[from..from + count]);
            }
        }
    }

    // As the library's own reader has it: behind the last byte there are zeros where no error can be told, and what cannot be read whole is not begun. Only what
    // remains there is nothing, and no error.
    #[test]
    fn nothing_is_read_behind_the_end() {
        let bytes = [1, 2, 3];
        let mut source = Source::new(&bytes);
        let mut four = [9; 4];
        assert!(source.read_exact_bytes(&mut four).is_err() && source.peek_exact_bytes(&mut four).is_err());
        assert_eq!((source.z_position().unwrap(), four), (0, [9; 4]));
        assert_eq!((source.peek_bytes(&mut four).unwrap(), source.read_bytes(&mut four).unwrap(), four), (3, 3, [1, 2, 3, 9]));
        assert_eq!((source.is_eof().unwrap(), source.read_byte_no_error(), source.z_position().unwrap()), (true, 0, 4));
        assert_eq!((source.read_bytes(&mut four).unwrap(), source.read_remaining(&mut Vec::new()).unwrap()), (0, 0));
        assert_eq!((source.z_seek(ZSeekFrom::End(-1)).unwrap(), source.read_byte_no_error()), (2, 3));
        assert_eq!((source.z_seek(ZSeekFrom::Current(-2)).unwrap(), source.read_byte_no_error()), (1, 2));
        assert!(source.z_seek(ZSeekFrom::Current(-3)).is_err());
        assert_eq!(source.z_position().unwrap(), 2);
    }

    #[test]
    fn it_ends_where_the_end_was_found() {
        let bytes = [0; 20];
        let end = AtomicUsize::new(usize::MAX);
        let mut upper = Source::upper(&bytes, (1, 2), &end);
        let mut ends = |found: usize| {
            end.store(found, Ordering::Relaxed);
            upper.z_seek(ZSeekFrom::Start(0)).unwrap();
            while !upper.is_eof().unwrap() {
                upper.read_byte_no_error();
            }
            upper.z_position().unwrap()
        };
        assert_eq!((ends(usize::MAX), ends(13), ends(30)), (20, 13, 20));
    }
}
