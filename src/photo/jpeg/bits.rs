//! Bits of entropy-coded pixels (ITU-T T.81, F.1.2.3), read and written.

/// Bits of coded pixels, most significant first, without the zeros behind bytes of ones.
#[derive(Clone)]
pub(super) struct Bits<'a> {
    bytes: &'a [u8],
    at: usize,
    /// Bits not taken yet, uppermost first.
    held: u64,
    count: u32,
}

impl<'a> Bits<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        Bits { bytes, at: 0, held: 0, count: 0 }
    }

    /// Holds at least thirty-two bits, or all up to the next marker.
    #[inline(always)]
    pub(super) fn fill(&mut self) {
        if self.count < 32 {
            self.refill();
        }
    }

    fn refill(&mut self) {
        // Four bytes at once where none of them is a byte of ones: only there both the upper bit is set and adding one to the rest sets it.
        if let Some(four) = self.bytes.get(self.at..self.at + 4).and_then(|four| <[u8; 4]>::try_from(four).ok()) {
            let four = u32::from_be_bytes(four);
            if four & ((four & 0x7F7F_7F7F) + 0x0101_0101) & 0x8080_8080 == 0 {
                self.held |= u64::from(four) << (32 - self.count);
                self.count += 32;
                self.at += 4;
                return;
            }
        }
        while self.count <= 56
            && let Some(&byte) = self.bytes.get(self.at)
        {
            if byte == 0xFF && self.bytes.get(self.at + 1) != Some(&0) {
                return;
            }
            self.held |= u64::from(byte) << (56 - self.count);
            self.count += 8;
            self.at += if byte == 0xFF { 2 } else { 1 };
        }
    }

    /// The next bits, at least one, with zeros behind the last.
    #[inline(always)]
    pub(super) fn next(&self, count: usize) -> usize {
        (self.held >> (64 - count)) as usize
    }

    /// The next sixteen bits, with zeros behind the last.
    pub(super) fn peek(&self) -> u32 {
        (self.held >> 48) as u32
    }

    #[inline(always)]
    pub(super) fn take(&mut self, count: u32) -> Result<(), &'static str> {
        if count > self.count {
            return Err("coded pixels end before the last one");
        }
        self.held <<= count;
        self.count -= count;
        Ok(())
    }

    /// A figure of so many bits (T.81, F.2.2.1).
    pub(super) fn figure(&mut self, count: u32) -> Result<i32, &'static str> {
        if count == 0 {
            return Ok(0);
        }
        let value = (self.held >> (64 - count)) as i32;
        self.take(count)?;
        Ok(if value >> (count - 1) == 1 { value } else { value - (1 << count) + 1 })
    }

    /// Goes to the next marker, before which nothing but filling may be left: bits of the last byte; bytes of ones; and bytes of zeros, which
    /// some cameras leave.
    pub(super) fn end(&mut self) -> Result<(), &'static str> {
        const MORE: &str = "coded pixels go on behind the last one";
        let rest = self.count % 8;
        self.take(rest)?;
        loop {
            self.fill();
            if self.count == 0 {
                break;
            }
            if self.held >> 56 != 0 {
                return Err(MORE);
            }
            self.take(8)?;
        }
        while self.bytes.get(self.at) == Some(&0xFF) && self.bytes.get(self.at + 1).is_none_or(|&next| next == 0xFF) {
            self.at += 1;
        }
        Ok(())
    }

    /// Passes over a restart marker.
    pub(super) fn restart(&mut self) -> Result<(), &'static str> {
        match self.bytes.get(self.at..self.at + 2) {
            Some([0xFF, 0xD0..=0xD7]) => {
                self.at += 2;
                Ok(())
            }
            _ => Err("restart marker is missing"),
        }
    }

    /// True when all bytes are used up.
    pub(super) fn is_past(&self) -> bool {
        self.at >= self.bytes.len()
    }

    /// Bytes not looked at yet.
    pub(super) fn left(&self) -> usize {
        self.bytes.len().saturating_sub(self.at)
    }

    /// Bits behind us, but for zeros behind bytes of ones.
    pub(super) fn passed(&self) -> usize {
        (8 * self.at).saturating_sub(self.count as usize)
    }

    /// Writes what is held, and looks further; false at the end.
    pub(super) fn hand_on(&mut self, writer: &mut Writer) -> bool {
        self.fill();
        let count = self.count.min(32);
        if count > 0 {
            writer.put((self.held >> (64 - count)) as u32, count);
            self.held <<= count;
            self.count -= count;
        }
        count > 0
    }
}

/// Coded pixels being written.
pub(super) struct Writer {
    bytes: Vec<u8>,
    /// Bits not written yet, lowest last.
    held: u64,
    count: u32,
}

impl Writer {
    /// One that needs no more memory for so many bytes.
    pub(super) fn with_room(bytes: usize) -> Self {
        // Bytes of ones, which need a zero behind them, may be more than they were.
        Writer { bytes: Vec::with_capacity(bytes + bytes / 64 + 64), held: 0, count: 0 }
    }

    /// Writes up to thirty-two bits, the lowest of `bits`.
    pub(super) fn put(&mut self, bits: u32, count: u32) {
        self.held = self.held << count | u64::from(bits);
        self.count += count;
        if self.count >= 32 {
            self.count -= 32;
            let four = ((self.held >> self.count) as u32).to_be_bytes();
            self.put_bytes(four);
        }
    }

    fn put_bytes(&mut self, four: [u8; 4]) {
        if four.contains(&0xFF) {
            for byte in four {
                self.bytes.push(byte);
                if byte == 0xFF {
                    self.bytes.push(0);
                }
            }
        } else {
            self.bytes.extend_from_slice(&four);
        }
    }

    /// The bytes; the last one is filled with ones (T.81, F.1.2.3).
    pub(super) fn finish(mut self) -> Vec<u8> {
        let rest = (64 - self.count) % 8;
        self.held = self.held << rest | ((1 << rest) - 1);
        self.count += rest;
        while self.count > 0 {
            self.count -= 8;
            let byte = (self.held >> self.count) as u8;
            self.bytes.push(byte);
            if byte == 0xFF {
                self.bytes.push(0);
            }
        }
        self.bytes
    }
}
