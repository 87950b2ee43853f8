//! Whether the entropy-coded pixels of a sequential JPEG hold together (ITU-T T.81, annex F).
//!
//! Each code tells where the next begins, so that one flipped bit shifts all that follows until the codes fall into step again, and from
//! there on every mean is off. A decoder goes on with that: the photo comes out whole, in other colours. Here the codes are gone through
//! without making pixels of them: every code must exist, every block must have room for its coefficients, each mean must lie in the range of
//! eight bits, and the last block must end where the bytes do.

/// Most bits of a code (T.81, C.2).
const LONGEST: usize = 16;
/// Bits looked up at once; longer codes are rare by their making, and a table of two kilobytes stays near the processor.
const QUICK: usize = 10;
/// Bits looked up at once for two coefficients: most pairs fit, and two tables of sixteen kilobytes stay near the processor.
const PAIR: usize = 13;
/// Coefficients of a block.
const FULL: u16 = 64;
/// Places that the end of a block is away, more than a block has.
const END: u16 = 128;
/// Places that lead nowhere.
const ASTRAY: u16 = u16::MAX >> 5;

/// Codes of one table.
#[derive(Debug, Clone)]
struct Codes {
    /// By the next [`QUICK`] bits: length of the code, 0 when it is longer; then its symbol.
    quick: Vec<(u8, u8)>,
    /// By the same bits, for coefficients behind the mean: bits of code and figure in the lower five, places to go on in the others; 0 when it is
    /// longer, or is no code of a coefficient.
    steps: Box<[u16; 1 << QUICK]>,
    /// The same by the next [`PAIR`] bits, for two coefficients at once where both their codes are seen; [`ASTRAY`] where not even one is.
    pairs: Box<[u16; 1 << PAIR]>,
    /// For each length, one above the greatest code, in the upper bits of sixteen; and what leads from a code to its symbol.
    ends: [(u32, i32); LONGEST + 1],
    symbols: Vec<u8>,
}

impl Codes {
    /// From the numbers of codes of each length, and the symbols (T.81, annex C).
    fn new(counts: &[u8], symbols: &[u8]) -> Option<Self> {
        let mut codes = Codes {
            quick: vec![(0, 0); 1 << QUICK],
            ends: [(0, 0); LONGEST + 1],
            symbols: symbols.to_vec(),
            steps: Box::new([0; 1 << QUICK]),
            pairs: Box::new([ASTRAY << 5; 1 << PAIR]),
        };
        let (mut code, mut place) = (0u32, 0usize);
        for (length, &count) in (1..).zip(counts) {
            codes.ends[length].1 = i32::try_from(place).ok()? - i32::try_from(code).ok()?;
            for _ in 0..count {
                if length <= QUICK {
                    let first = (code as usize) << (QUICK - length);
                    codes.quick.get_mut(first..first + (1 << (QUICK - length)))?.fill((length as u8, *symbols.get(place)?));
                }
                code += 1;
                place += 1;
            }
            if code > 1 << length {
                return None;
            }
            codes.ends[length].0 = code << (LONGEST - length);
            code <<= 1;
        }
        for (step, &(length, symbol)) in codes.steps.iter_mut().zip(&codes.quick).filter(|(_, (length, _))| *length > 0) {
            *step = coefficient(u32::from(length), symbol).unwrap_or(0);
        }
        for bits in 0..codes.pairs.len() {
            codes.pairs[bits] = codes.pair(bits).unwrap_or(ASTRAY << 5);
        }
        Some(codes)
    }

    /// What [`PAIR`] bits say of the next two coefficients; of one where it ends the block or the second is not seen.
    fn pair(&self, bits: usize) -> Option<u16> {
        let seen = |bits: usize| Some(self.steps[bits >> (PAIR - QUICK)]).filter(|&step| step != 0);
        let first = seen(bits)?;
        let (length, places) = (usize::from(first & 31), first >> 5);
        if length >= PAIR || places == END {
            return Some(first);
        }
        // Behind the last bit that is seen stand zeros: a code must not reach into them, its figure may.
        let rest = bits << length & ((1 << PAIR) - 1);
        let code = usize::from(self.quick[rest >> (PAIR - QUICK)].0);
        let second = seen(rest).filter(|_| length + code <= PAIR);
        Some(second.map_or(first, |second| first + second))
    }

    /// What the next bits say of a coefficient, as in `steps`, whatever the length of its code.
    fn step(&self, bits: u32) -> Result<u16, &'static str> {
        self.next(bits).and_then(|(length, symbol)| coefficient(length, symbol)).ok_or(NO_CODE)
    }

    /// Length and symbol of the code that begins with the next sixteen bits.
    fn next(&self, bits: u32) -> Option<(u32, u8)> {
        let (length, symbol) = self.quick[(bits >> (LONGEST - QUICK)) as usize];
        if length > 0 {
            return Some((u32::from(length), symbol));
        }
        let length = (QUICK + 1..=LONGEST).find(|&length| bits < self.ends[length].0)?;
        let place = (bits >> (LONGEST - length)) as i32 + self.ends[length].1;
        Some((length as u32, *self.symbols.get(usize::try_from(place).ok()?)?))
    }
}

/// Bits of code and figure in the lower five, places to go on in the others (T.81, F.1.2.2.1); none for a symbol that does not exist.
fn coefficient(length: u32, symbol: u8) -> Option<u16> {
    let (zeros, width) = (symbol >> 4, symbol & 15);
    let places = match (zeros, width) {
        (0, 0) => END,
        (zeros, 0) if zeros < 15 => return None,
        (_, width) if width > WIDEST.1 => return None,
        _ => u16::from(zeros) + 1,
    };
    Some(places << 5 | (length as u16 + u16::from(width)))
}

/// A channel as the frame header declares it.
#[derive(Debug, Clone, Copy)]
struct Channel {
    id: u8,
    across: usize,
    down: usize,
    /// Number of its quantisation table.
    steps: usize,
}

/// What headers before a scan declare about its codes.
#[derive(Debug, Clone, Default)]
pub(super) struct Coding {
    width: usize,
    height: usize,
    channels: Vec<Channel>,
    means: [Option<Codes>; 4],
    others: [Option<Codes>; 4],
    /// Step of the mean, by quantisation table.
    steps: [i32; 4],
    /// MCUs between two restarts; 0 for none.
    restart: usize,
}

impl Coding {
    /// Takes a frame header (T.81, B.2.2).
    pub(super) fn frame(&mut self, content: &[u8]) {
        let [_, h1, h0, w1, w0, _, channels @ ..] = content else { return };
        self.height = usize::from(u16::from_be_bytes([*h1, *h0]));
        self.width = usize::from(u16::from_be_bytes([*w1, *w0]));
        let channel =
            |c: &[u8]| Channel { id: c[0], across: usize::from(c[1] >> 4), down: usize::from(c[1] & 15), steps: usize::from(c[2] & 3) };
        self.channels = channels.chunks_exact(3).map(channel).collect();
    }

    /// Takes a table of codes (T.81, B.2.4.2). One that makes no sense is no table.
    pub(super) fn tables(&mut self, mut content: &[u8]) {
        while let [place, rest @ ..] = content {
            let Some((counts, rest)) = rest.split_at_checked(LONGEST) else { return };
            let all = counts.iter().map(|&count| usize::from(count)).sum();
            let Some((symbols, rest)) = rest.split_at_checked(all) else { return };
            let tables = if place >> 4 == 0 { &mut self.means } else { &mut self.others };
            tables[usize::from(place & 3)] = Codes::new(counts, symbols);
            content = rest;
        }
    }

    /// Takes quantisation tables (T.81, B.2.4.1); the first of each is that of the mean.
    pub(super) fn quantisation(&mut self, mut content: &[u8]) {
        while let [place, rest @ ..] = content {
            let is_wide = place >> 4 == 1;
            let Some((table, rest)) = rest.split_at_checked(if is_wide { 128 } else { 64 }) else { return };
            let first = if is_wide { i32::from(u16::from_be_bytes([table[0], table[1]])) } else { i32::from(table[0]) };
            self.steps[usize::from(place & 3)] = first;
            content = rest;
        }
    }

    /// Takes a restart interval (T.81, B.2.4.4).
    pub(super) fn restarts(&mut self, content: &[u8]) {
        if let [high, low] = *content {
            self.restart = usize::from(u16::from_be_bytes([high, low]));
        }
    }

    /// Goes through one scan of a sequential JPEG: its header and all its coded bytes up to the next marker.
    ///
    /// # Errors
    /// What does not hold together.
    pub(super) fn check(&self, header: &[u8], coded: &[u8]) -> Result<(), &'static str> {
        // Frames of moving pictures have no tables; the decoder knows those that are meant, and refuses what makes no sense.
        let Some((blocks, units)) = self.blocks(header) else { return Ok(()) };
        let mut bits = Bits::new(coded);
        let mut means = [0i32; 4];
        for unit in 0..units {
            if self.restart > 0 && unit > 0 && unit % self.restart == 0 {
                bits.end()?;
                bits.restart()?;
                means = [0; 4];
            }
            for block in &blocks {
                block.pass(&mut bits, &mut means[block.channel])?;
            }
        }
        bits.end()?;
        if bits.at < coded.len() { Err("coded pixels go on behind the last one") } else { Ok(()) }
    }

    /// The blocks of one MCU of a scan in their order, and how many MCUs there are (T.81, A.2).
    fn blocks(&self, header: &[u8]) -> Option<(Vec<Block<'_>>, usize)> {
        let (&count, rest) = header.split_first()?;
        let told = rest.get(..2 * usize::from(count))?;
        let most = |side: fn(&Channel) -> usize| self.channels.iter().map(side).max().filter(|&most| most > 0);
        let (across, down) = (most(|c| c.across)?, most(|c| c.down)?);
        let mut blocks = Vec::new();
        let mut units = self.width.div_ceil(8 * across) * self.height.div_ceil(8 * down);
        for pair in told.chunks_exact(2) {
            let at = self.channels.iter().position(|channel| channel.id == pair[0])?;
            let channel = self.channels[at];
            let block = Block {
                channel: at.min(3),
                means: self.means[usize::from(pair[1] >> 4 & 3)].as_ref()?,
                others: self.others[usize::from(pair[1] & 3)].as_ref()?,
                step: self.steps[channel.steps].max(1),
            };
            let mut number = channel.across * channel.down;
            if count == 1 {
                number = 1;
                units = (self.width * channel.across).div_ceil(8 * across) * (self.height * channel.down).div_ceil(8 * down);
            }
            blocks.extend(std::iter::repeat_n(block, number));
        }
        Some((blocks, units))
    }
}

const NO_CODE: &str = "code that does not exist";

/// One block of 8 x 8 pixels.
#[derive(Clone)]
struct Block<'a> {
    channel: usize,
    means: &'a Codes,
    others: &'a Codes,
    step: i32,
}

/// Most bits of a difference of means, and of another coefficient, of eight-bit samples (T.81, tables F.1 and F.2).
const WIDEST: (u8, u8) = (11, 10);
/// Eight times the mean of a block of samples of -128 to 127 (T.81, A.3.3).
const FARTHEST: i32 = 1024;

impl Block<'_> {
    /// Goes over its codes; `mean` is that of the block before, and then its own, in quantisation steps.
    fn pass(&self, bits: &mut Bits<'_>, mean: &mut i32) -> Result<(), &'static str> {
        bits.fill();
        let (length, width) = self.means.next(bits.peek()).ok_or(NO_CODE)?;
        bits.take(length)?;
        if width > WIDEST.0 {
            return Err(NO_CODE);
        }
        *mean += bits.figure(u32::from(width))?;
        // Rounding to steps may lead out of the range by half of one; some encoders round otherwise.
        if (*mean * self.step).abs() > FARTHEST + self.step {
            return Err("mean of a block is out of range");
        }
        let mut place = 1;
        while place < FULL {
            bits.fill();
            let mut step = self.others.pairs[(bits.held >> (64 - PAIR)) as usize];
            let to = place + (step >> 5);
            // The first of two may fill the block; then the second is of the next one.
            if !(to <= FULL || (END..END + FULL).contains(&to)) {
                step = self.others.steps[(bits.held >> (64 - QUICK)) as usize];
                if step == 0 {
                    step = self.others.step(bits.peek())?;
                }
            }
            bits.take(u32::from(step & 31))?;
            place += step >> 5;
        }
        if place > FULL && place < END { Err("more coefficients than a block holds") } else { Ok(()) }
    }
}

/// Bits of coded pixels, most significant first, without the zeros behind bytes of ones.
struct Bits<'a> {
    bytes: &'a [u8],
    at: usize,
    /// Bits not taken yet, uppermost first.
    held: u64,
    count: u32,
}

impl<'a> Bits<'a> {
    fn new(bytes: &'a [u8]) -> Self {
        Bits { bytes, at: 0, held: 0, count: 0 }
    }

    /// Holds at least thirty-two bits, or all up to the next marker.
    #[inline(always)]
    fn fill(&mut self) {
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

    /// The next sixteen bits, with zeros behind the last.
    fn peek(&self) -> u32 {
        (self.held >> 48) as u32
    }

    #[inline(always)]
    fn take(&mut self, count: u32) -> Result<(), &'static str> {
        if count > self.count {
            return Err("coded pixels end before the last one");
        }
        self.held <<= count;
        self.count -= count;
        Ok(())
    }

    /// A figure of so many bits (T.81, F.2.2.1).
    fn figure(&mut self, count: u32) -> Result<i32, &'static str> {
        if count == 0 {
            return Ok(0);
        }
        let value = (self.held >> (64 - count)) as i32;
        self.take(count)?;
        Ok(if value >> (count - 1) == 1 { value } else { value - (1 << count) + 1 })
    }

    /// Goes to the next marker, before which nothing but filling may be left: bits of the last byte; bytes of ones; and bytes of zeros, which
    /// some cameras leave.
    fn end(&mut self) -> Result<(), &'static str> {
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
    fn restart(&mut self) -> Result<(), &'static str> {
        match self.bytes.get(self.at..self.at + 2) {
            Some([0xFF, 0xD0..=0xD7]) => {
                self.at += 2;
                Ok(())
            }
            _ => Err("restart marker is missing"),
        }
    }
}
