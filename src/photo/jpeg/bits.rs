//! Bits of entropy-coded pixels (ITU-T T.81, F.1.2.3), read and written.

/// Bits of coded pixels, most significant first, without the zeros behind bytes of ones.
#[derive(Clone)]
pub(super) struct Bits<'a> {
    bytes: &'a [u8],
    at: usize,
    /// Bits not taken yet, uppermost first; behind them may stand some that follow.
    held: u64,
    /// How many there are; below zero when more were passed over than there were.
    count: i32,
}

impl<'a> Bits<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        Bits { bytes, at: 0, held: 0, count: 0 }
    }

    /// From this byte on, wherever it stands among the codes.
    pub(super) fn from(bytes: &'a [u8], at: usize) -> Self {
        Bits { at, ..Bits::new(bytes) }
    }

    /// Holds at least thirty-two bits, or all up to the next marker.
    #[inline(always)]
    pub(super) fn fill(&mut self) {
        if self.count < 32 {
            self.fill_up();
        }
    }

    /// The next eight bytes, where none of them is a byte of ones.
    #[inline(always)]
    fn eight(&self) -> Option<u64> {
        let eight = self.bytes.get(self.at..self.at + 8).and_then(|eight| <[u8; 8]>::try_from(eight).ok());
        eight.map(u64::from_be_bytes).filter(|eight| has_no_ones(*eight))
    }

    /// Holds at least fifty-six bits, or all up to the next marker.
    #[inline(always)]
    pub(super) fn fill_up(&mut self) {
        if let Some(eight) = self.eight() {
            // Those that are too many are seen again the next time.
            self.held |= eight >> self.count;
            let more = (63 - self.count) >> 3;
            self.at += more as usize;
            self.count += 8 * more;
            return;
        }
        while self.count < 56
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
        self.pass(count);
        self.were_there()
    }

    /// Goes on by at most sixty-three bits, whether they are there or not.
    #[inline(always)]
    pub(super) fn pass(&mut self, count: u32) {
        self.held <<= count;
        self.count -= count as i32;
    }

    /// Were all the bits there that were passed over?
    #[inline(always)]
    pub(super) fn were_there(&self) -> Result<(), &'static str> {
        if self.count < 0 { Err("coded pixels end before the last one") } else { Ok(()) }
    }

    /// A figure of so many bits (T.81, F.2.2.1).
    #[inline(always)]
    pub(super) fn figure(&mut self, count: u32) -> Result<i32, &'static str> {
        let value = (self.held >> 1 >> (63 - count)) as i32;
        self.take(count)?;
        // Below half of what so many bits can tell it is less than zero. No branch, for it cannot be foreseen.
        let all = (1i32 << count) - 1;
        let is_below = (value - ((all + 1) >> 1)) >> 31;
        Ok(value - (all & is_below))
    }

    /// Goes to the next marker, before which nothing but filling may be left: bits of the last byte; bytes of ones; and bytes of zeros, which
    /// some cameras leave.
    pub(super) fn end(&mut self) -> Result<(), &'static str> {
        const MORE: &str = "coded pixels go on behind the last one";
        self.were_there()?;
        self.take(self.count as u32 % 8)?;
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

    /// Bytes looked at.
    pub(super) fn seen(&self) -> usize {
        self.at
    }

    /// Bytes not looked at yet.
    pub(super) fn left(&self) -> usize {
        self.bytes.len().saturating_sub(self.at)
    }

    /// Bits behind us, but for zeros behind bytes of ones.
    pub(super) fn passed(&self) -> usize {
        (8 * self.at).saturating_sub(self.count.max(0) as usize)
    }

    /// Writes all from here on, up to the next marker or until so many bits in all have been passed, and then perhaps a few more.
    pub(super) fn hand_on(&mut self, last: usize, writer: &mut Writer) {
        loop {
            while self.count > 0 {
                let count = self.count.min(32) as u32;
                writer.put((self.held >> (64 - count)) as u32, count);
                self.pass(count);
            }
            // Of what follows, nothing is held from here on.
            self.held = 0;
            while 8 * self.at < last
                && let Some(eight) = self.eight()
            {
                writer.put_eight(eight);
                self.at += 8;
            }
            if 8 * self.at < last {
                self.fill_up();
            }
            if self.count <= 0 {
                return;
            }
        }
    }
}

/// Whether there is no byte of ones among them: only in such a one both the upper bit is set and adding one to the rest sets it.
#[inline(always)]
fn has_no_ones(eight: u64) -> bool {
    eight & ((eight & 0x7F7F_7F7F_7F7F_7F7F) + 0x0101_0101_0101_0101) & 0x8080_8080_8080_8080 == 0
}

/// Coded pixels being written.
pub(super) struct Writer {
    bytes: Vec<u8>,
    /// Bits not written yet, lowest last.
    held: u64,
    count: u32,
}

impl Writer {
    /// One that goes on behind these bytes, and needs no more memory for so many.
    pub(super) fn behind(begun: &[u8], count: usize) -> Self {
        // Bytes of ones, which need a zero behind them, may be more than they were.
        let mut bytes = Vec::with_capacity(begun.len() + count + count / 64 + 64);
        bytes.extend_from_slice(begun);
        Writer { bytes, held: 0, count: 0 }
    }

    /// Writes up to thirty-two bits, the lowest of `bits`.
    pub(super) fn put(&mut self, bits: u32, count: u32) {
        self.held = self.held << count | u64::from(bits);
        self.count += count;
        if self.count >= 32 {
            self.count -= 32;
            let four = ((self.held >> self.count) as u32).to_be_bytes();
            four.into_iter().for_each(|byte| self.put_byte(byte));
        }
    }

    /// Writes sixty-four bits.
    #[inline(always)]
    fn put_eight(&mut self, bits: u64) {
        // Of those not written yet there are fewer than thirty-two.
        let eight = self.held << 1 << (63 - self.count) | bits >> self.count;
        self.held = bits;
        if has_no_ones(eight) {
            self.bytes.extend_from_slice(&eight.to_be_bytes());
        } else {
            eight.to_be_bytes().into_iter().for_each(|byte| self.put_byte(byte));
        }
    }

    fn put_byte(&mut self, byte: u8) {
        self.bytes.push(byte);
        if byte == 0xFF {
            self.bytes.push(0);
        }
    }

    /// The bytes; the last one is filled with ones (T.81, F.1.2.3).
    pub(super) fn finish(mut self) -> Vec<u8> {
        let rest = (64 - self.count) % 8;
        self.held = self.held << rest | ((1 << rest) - 1);
        self.count += rest;
        while self.count > 0 {
            self.count -= 8;
            self.put_byte((self.held >> self.count) as u8);
        }
        self.bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Coded bytes, many of them ones, and the bits that they stand for: without the zeros behind bytes of ones (T.81, F.1.2.3).
    fn coded(seed: u32, count: usize, ones: u32) -> (Vec<u8>, Vec<u8>) {
        let mut noise = seed;
        let (mut bytes, mut bits) = (Vec::new(), Vec::new());
        for _ in 0..count {
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let byte = if (noise >> 8) % 16 < ones { 0xFF } else { (noise >> 24) as u8 };
            bytes.push(byte);
            if byte == 0xFF {
                bytes.push(0);
            }
            bits.extend((0..8).rev().map(|place| byte >> place & 1));
        }
        (bytes, bits)
    }

    // Eight bytes at once or one by one, the bits are the same, and one too many is noticed.
    #[test]
    fn bits_come_in_their_order_and_end_with_the_last() {
        for (seed, ones) in [(1, 0), (2, 1), (3, 6), (4, 16)] {
            let (mut bytes, wanted) = coded(seed, 300, ones);
            bytes.extend([0xFF, 0xD9]);
            let mut bits = Bits::new(&bytes);
            let (mut at, mut noise) = (0, seed);
            while at < wanted.len() {
                bits.fill_up();
                // Twice, as a block does between two fillings.
                for _ in 0..2 {
                    noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    let count = (1 + (noise >> 16) as usize % 26).min(wanted.len() - at);
                    if count > 0 {
                        let value = wanted[at..at + count].iter().fold(0, |value, &bit| value << 1 | usize::from(bit));
                        assert_eq!(bits.next(count), value, "seed {seed}, bit {at}");
                        bits.take(count as u32).unwrap();
                        at += count;
                    }
                }
            }
            bits.fill_up();
            assert!(bits.take(1).is_err() && bits.were_there().is_err(), "seed {seed}");
        }
    }

    // From whatever bit on, and behind whatever was written before, the bits that are handed on are those that follow.
    #[test]
    fn bits_are_handed_on_as_they_are() {
        for (seed, ones) in [(7, 0), (8, 1), (9, 6), (10, 16)] {
            let (mut bytes, wanted) = coded(seed, 300, ones);
            bytes.extend([0xFF, 0xD9]);
            for (skipped, before) in [(0, 0), (1, 0), (5, 31), (8, 7), (61, 16), (64, 1), (2400, 9)] {
                let (mut bits, mut writer) = (Bits::new(&bytes), Writer::behind(&[0x12, 0xFF], 300));
                for _ in 0..skipped {
                    bits.fill_up();
                    bits.take(1).unwrap();
                }
                (0..before).for_each(|_| writer.put(1, 1));
                bits.hand_on(usize::MAX, &mut writer);
                let written = writer.finish();
                assert_eq!(written[..2], [0x12, 0xFF]);
                let mut read = Bits::new(&written[2..]);
                for (at, bit) in std::iter::repeat_n(1, before).chain(wanted[skipped..].iter().copied()).enumerate() {
                    read.fill_up();
                    assert_eq!(read.next(1), usize::from(bit), "seed {seed}, {skipped} behind {before}, bit {at}");
                    read.take(1).unwrap();
                }
                read.end().unwrap();
                assert!(read.is_past() && bits.left() == 2, "{seed} {skipped} {before}");
            }
            let mut bits = Bits::new(&bytes);
            bits.hand_on(1000, &mut Writer::behind(&[], 300));
            assert!((1000..1200).contains(&bits.passed()), "{seed}: {}", bits.passed());
        }
    }

    // T.81, table F.1: of two bits 00 to 11 are -3, -2, 2, 3; no bits are 0.
    #[test]
    fn a_figure_is_that_of_the_table() {
        let figures = |bytes: &[u8], count: u32, many: usize| {
            let mut bits = Bits::new(bytes);
            bits.fill();
            (0..many).map(|_| bits.figure(count).unwrap()).collect::<Vec<_>>()
        };
        assert_eq!(figures(&[0b00_01_10_11], 2, 4), [-3, -2, 2, 3]);
        assert_eq!(figures(&[0b0100_0000], 1, 2), [-1, 1]);
        assert_eq!(figures(&[0b0000_0000, 0b0001_1111, 0b1111_1100], 11, 2), [-2047, 2047]);
        assert_eq!(figures(&[0b1010_1010], 0, 3), [0, 0, 0]);
    }

    // After the last bit of a piece the next one begins, with nothing of the first left over.
    #[test]
    fn a_restart_begins_anew() {
        let (first, second) = (coded(5, 40, 1), coded(6, 40, 1));
        let bytes = [&first.0[..], &[0xFF, 0xD3], &second.0].concat();
        let mut bits = Bits::new(&bytes);
        for _ in 0..first.1.len() {
            bits.fill_up();
            bits.take(1).unwrap();
        }
        bits.end().unwrap();
        bits.restart().unwrap();
        for (at, &wanted) in second.1.iter().enumerate() {
            bits.fill_up();
            assert_eq!(bits.next(1), usize::from(wanted), "bit {at}");
            bits.take(1).unwrap();
        }
        bits.end().unwrap();
        assert!(bits.is_past());
    }
}
