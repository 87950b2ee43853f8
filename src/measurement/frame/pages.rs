//! Memory of large files and photos. A photo of 12 megapixels fills nine thousand pages of the usual size, each of which costs the system a visit
//! when it is first touched and another when it is given back; in huge pages, where the system has them, it is eighteen.

use memmap2::MmapMut;
use std::ops::{Deref, DerefMut};

/// From this many bytes on, memory is asked for apart, in huge pages: below it a few more usual pages cost less than the asking.
const APART: usize = 1 << 20;
/// Bytes of a huge page of the usual systems.
const HUGE: usize = 2 << 20;

/// Some bytes.
#[derive(Debug, Default)]
pub struct Pages {
    memory: Memory,
    /// Bytes in use; those behind them are spare.
    count: usize,
}

#[derive(Debug)]
enum Memory {
    Usual(Vec<u8>),
    Apart(MmapMut),
}

impl Default for Memory {
    fn default() -> Self {
        Memory::Usual(Vec::new())
    }
}

impl Pages {
    /// Bytes that it can hold without other memory.
    #[must_use]
    pub fn capacity(&self) -> usize {
        match &self.memory {
            Memory::Usual(bytes) => bytes.len(),
            Memory::Apart(bytes) => bytes.len(),
        }
    }

    /// Brings it to so many bytes; their content does not matter. What it has is used again where it suffices, and else given back before
    /// more is asked for, so that there are never two.
    pub fn size(&mut self, count: usize) {
        if self.capacity() < count {
            self.memory = Memory::default();
            self.memory = Memory::of(count);
        }
        self.count = count;
    }

    /// These pieces, one behind the other.
    #[must_use]
    pub fn joined(pieces: &[&[u8]]) -> Self {
        let mut pages = Pages::default();
        pages.size(pieces.iter().map(|piece| piece.len()).sum());
        let mut rest = &mut *pages;
        for piece in pieces {
            let (here, behind) = rest.split_at_mut(piece.len());
            here.copy_from_slice(piece);
            rest = behind;
        }
        pages
    }
}

impl Memory {
    fn of(count: usize) -> Self {
        if count >= APART
            // Whole huge pages: only then the system places it so that its ends need no usual ones, which can be up to a thousand.
            && let Some(whole) = count.checked_next_multiple_of(HUGE)
            && let Ok(bytes) = MmapMut::map_anon(whole)
        {
            // A system without huge pages refuses, and the usual ones do as well.
            #[cfg(target_os = "linux")]
            let _ = bytes.advise(memmap2::Advice::HugePage);
            return Memory::Apart(bytes);
        }
        Memory::Usual(vec![0; count])
    }
}

impl From<Vec<u8>> for Pages {
    fn from(bytes: Vec<u8>) -> Self {
        Pages { count: bytes.len(), memory: Memory::Usual(bytes) }
    }
}

impl Deref for Pages {
    type Target = [u8];

    fn deref(&self) -> &[u8] {
        match &self.memory {
            Memory::Usual(bytes) => &bytes[..self.count],
            Memory::Apart(bytes) => &bytes[..self.count],
        }
    }
}

impl DerefMut for Pages {
    fn deref_mut(&mut self) -> &mut [u8] {
        match &mut self.memory {
            Memory::Usual(bytes) => &mut bytes[..self.count],
            Memory::Apart(bytes) => &mut bytes[..self.count],
        }
    }
}

impl Clone for Pages {
    fn clone(&self) -> Self {
        let mut copy = Pages::default();
        copy.size(self.count);
        copy.copy_from_slice(self);
        copy
    }
}

impl PartialEq for Pages {
    fn eq(&self, other: &Self) -> bool {
        **self == **other
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn either_memory_holds_what_is_put_in() {
        for count in [0, 1, 1000, APART - 1, APART, APART + 4097] {
            let mut bytes = Pages::default();
            bytes.size(count);
            for (at, level) in bytes.iter_mut().enumerate() {
                *level = (at * 7) as u8;
            }
            assert_eq!(bytes.len(), count);
            assert!(bytes.clone() == bytes && bytes == Pages::from(bytes.to_vec()));
        }
    }

    #[test]
    fn memory_is_kept_while_it_suffices() {
        let mut bytes = Pages::default();
        bytes.size(2 * APART);
        let (place, capacity) = (bytes.as_ptr(), bytes.capacity());
        for count in [3, APART, 0, 2 * APART] {
            bytes.size(count);
            assert_eq!((bytes.as_ptr(), bytes.len(), bytes.capacity()), (place, count, capacity));
        }
        bytes.size(capacity + 1);
        assert!(bytes.capacity() > capacity);
    }
}
