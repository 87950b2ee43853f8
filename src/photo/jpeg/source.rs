//! A JPEG as the decoder reads it: of another height, and with its end where another thread finds it.

use std::sync::atomic::{AtomicUsize, Ordering};
use zune_jpeg::zune_core::bytestream::{ZByteIoError, ZByteReaderTrait, ZCursor, ZSeekFrom};

/// The bytes of a JPEG. The pixels of its upper part are read without a copy of the file, in which nothing but the height would differ.
pub(super) struct Source<'a> {
    cursor: ZCursor<&'a [u8]>,
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
        Source { cursor: ZCursor::new(bytes), height: Height { bytes: [0; 2], at: 0, end: 0 }, end: None }
    }

    /// The same, with this height of the picture at that place, and up to an end that may be found meanwhile; it has to lie so far behind the last byte that
    /// is wanted that nothing reads ahead to it.
    pub(super) fn upper(bytes: &'a [u8], (height, at): (u16, usize), end: &'a AtomicUsize) -> Self {
        Source { cursor: ZCursor::new(bytes), height: Height { bytes: height.to_be_bytes(), at, end: at + 2 }, end: Some(end) }
    }

    #[inline(always)]
    fn position(&mut self) -> Result<usize, ZByteIoError> {
        Ok(self.cursor.z_position()? as usize)
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
        let from = self.position().unwrap_or(usize::MAX);
        let mut byte = [self.cursor.read_byte_no_error()];
        self.height.put(from, &mut byte);
        byte[0]
    }

    #[inline(always)]
    fn read_exact_bytes(&mut self, buf: &mut [u8]) -> Result<(), ZByteIoError> {
        let from = self.position()?;
        self.cursor.read_exact_bytes(buf)?;
        self.height.put(from, buf);
        Ok(())
    }

    #[inline(always)]
    fn read_bytes(&mut self, buf: &mut [u8]) -> Result<usize, ZByteIoError> {
        let from = self.position()?;
        let count = self.cursor.read_bytes(buf)?;
        self.height.put(from, &mut buf[..count]);
        Ok(count)
    }

    #[inline(always)]
    fn peek_bytes(&mut self, buf: &mut [u8]) -> Result<usize, ZByteIoError> {
        let from = self.position()?;
        let count = self.cursor.peek_bytes(buf)?;
        self.height.put(from, &mut buf[..count]);
        Ok(count)
    }

    #[inline(always)]
    fn peek_exact_bytes(&mut self, buf: &mut [u8]) -> Result<(), ZByteIoError> {
        let from = self.position()?;
        self.cursor.peek_exact_bytes(buf)?;
        self.height.put(from, buf);
        Ok(())
    }

    #[inline(always)]
    fn z_seek(&mut self, from: ZSeekFrom) -> Result<u64, ZByteIoError> {
        self.cursor.z_seek(from)
    }

    #[inline(always)]
    fn is_eof(&mut self) -> Result<bool, ZByteIoError> {
        let position = self.position()?;
        Ok(self.cursor.is_eof()? || self.end.is_some_and(|end| position >= end.load(Ordering::Relaxed)))
    }

    #[inline(always)]
    fn z_position(&mut self) -> Result<u64, ZByteIoError> {
        self.cursor.z_position()
    }

    fn read_remaining(&mut self, sink: &mut Vec<u8>) -> Result<usize, ZByteIoError> {
        let (from, before) = (self.position()?, sink.len());
        let count = self.cursor.read_remaining(sink)?;
        self.height.put(from, &mut sink[before..]);
        Ok(count)
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
