//! Whether the entropy-coded pixels of a sequential JPEG hold together (ITU-T T.81, annex F).
//!
//! Each code tells where the next begins, so that one flipped bit shifts all that follows until the codes fall into step again, and from
//! there on every mean is off. A decoder goes on with that: the photo comes out whole, in other colours. Here the codes are gone through
//! without making pixels of them: every code must exist, every block must have room for its coefficients, each mean must lie in the range of
//! eight bits, and the last block must end where the bytes do.

use super::abreast::leap;
use super::bits::{Bits, Writer};
use super::codes::{Codes, END, FULL, LENGTH, LONGEST, NO_CODE, QUICK, STRETCH, WIDEST, length_of};
use multiversion::multiversion;

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
    /// Tables of codes so far.
    number: usize,
}

/// Tables of codes in a file at most. Each takes a while to make ready, and a picture has eight, or some for each scan.
const MOST_TABLES: usize = 2000;

impl Coding {
    /// True when a file has more tables than any picture needs.
    pub(super) fn has_too_many_tables(&self) -> bool {
        self.number > MOST_TABLES
    }

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
            self.number += 1;
            if self.has_too_many_tables() {
                return;
            }
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
        let Some(scan) = self.scan(header) else { return Ok(()) };
        let mut place = leap(&scan, coded)?;
        scan.pass(&mut place, scan.units)?;
        place.end()
    }

    /// The scan of that header, to be gone through; none where a table is missing or the header makes no sense.
    pub(super) fn scan(&self, header: &[u8]) -> Option<Scan<'_>> {
        let (blocks, units) = self.blocks(header)?;
        Some(Scan { blocks, units, restart: self.restart })
    }

    /// MCUs in a row and pixel rows in an MCU of a scan of all channels; none where the frame header makes no sense.
    pub(super) fn grid(&self) -> Option<(usize, usize)> {
        let (across, down) = self.unit()?;
        Some((self.width.div_ceil(8 * across), 8 * down))
    }

    /// Blocks across and down in an MCU of all channels (T.81, A.2.3).
    fn unit(&self) -> Option<(usize, usize)> {
        let most = |side: fn(&Channel) -> usize| self.channels.iter().map(side).max().filter(|&most| most > 0);
        Some((most(|c| c.across)?, most(|c| c.down)?))
    }

    /// The blocks of one MCU of a scan in their order, and how many MCUs there are (T.81, A.2).
    fn blocks(&self, header: &[u8]) -> Option<(Vec<Block<'_>>, usize)> {
        let (&count, rest) = header.split_first()?;
        let told = rest.get(..2 * usize::from(count))?;
        let (across, down) = self.unit()?;
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

/// One block of 8 x 8 pixels.
#[derive(Clone)]
pub(super) struct Block<'a> {
    pub(super) channel: usize,
    means: &'a Codes,
    pub(super) others: &'a Codes,
    /// Of the mean.
    pub(super) step: i32,
}

/// Eight times the mean of a block of samples of -128 to 127 (T.81, A.3.3).
pub(super) const FARTHEST: i32 = 1024;
/// Rounding to steps may lead out of the range by half of one; some encoders round otherwise.
pub(super) const OUT_OF_RANGE: &str = "mean of a block is out of range";

/// A scan with what is needed to go through it.
pub(super) struct Scan<'a> {
    /// Of one MCU.
    pub(super) blocks: Vec<Block<'a>>,
    /// MCUs in all.
    pub(super) units: usize,
    /// MCUs between two restarts; 0 for none.
    pub(super) restart: usize,
}

/// The beginning of an MCU of a scan.
#[derive(Clone)]
pub(super) struct Place<'a> {
    pub(super) bits: Bits<'a>,
    /// Means of the blocks before, by channel, in quantisation steps.
    pub(super) means: [i32; 4],
    pub(super) unit: usize,
}

impl<'a> Place<'a> {
    pub(super) fn first(coded: &'a [u8]) -> Self {
        Place { bits: Bits::new(coded), means: [0; 4], unit: 0 }
    }

    /// How many bytes hold all that has been passed, and perhaps a few more.
    pub(super) fn bytes(&self) -> usize {
        self.bits.seen()
    }

    /// Makes sure that nothing follows.
    pub(super) fn end(mut self) -> Result<(), &'static str> {
        self.bits.end()?;
        if self.bits.is_past() { Ok(()) } else { Err("coded pixels go on behind the last one") }
    }
}

impl Scan<'_> {
    /// Goes on to another MCU.
    pub(super) fn pass(&self, place: &mut Place<'_>, to: usize) -> Result<(), &'static str> {
        pass(self, place, to)
    }

    /// What is `begun`, and behind it the coded bytes of a scan that begins at `from` and holds all up to the MCU at `to`, or all that is left. Blocks of the first MCU have no
    /// mean before them there, so that theirs are coded anew; none where the table has no code for one.
    pub(super) fn part(&self, begun: &[u8], from: &Place<'_>, to: Option<&Place<'_>>) -> Option<Vec<u8>> {
        let Place { mut bits, mut means, .. } = from.clone();
        // More than was asked for does not matter, and neither place knows of the zeros among the bits that it holds.
        let last = to.map_or(usize::MAX, |to| to.bits.passed() + 128);
        let mut writer = Writer::behind(begun, to.map_or_else(|| bits.left(), |to| bits.left().saturating_sub(to.bits.left())));
        let mut before = [0; 4];
        for block in &self.blocks {
            block.rewrite(&mut bits, &mut means[block.channel], &mut before[block.channel], &mut writer)?;
        }
        bits.hand_on(last, &mut writer);
        Some(writer.finish())
    }
}

/// Goes on to another MCU. With shifts by a figure in a register that leave the flags alone (BMI2), where there are such.
#[multiversion(targets("x86_64+bmi1+bmi2"))]
fn pass(scan: &Scan<'_>, place: &mut Place<'_>, to: usize) -> Result<(), &'static str> {
    // Of its own, so that the bits stay in registers.
    let Place { mut bits, mut means, mut unit } = place.clone();
    while unit < to {
        if scan.restart > 0 && unit > 0 && unit % scan.restart == 0 {
            bits.end()?;
            bits.restart()?;
            means = [0; 4];
        }
        for block in &scan.blocks {
            block.pass(&mut bits, &mut means[block.channel])?;
        }
        unit += 1;
    }
    *place = Place { bits, means, unit };
    Ok(())
}

impl Block<'_> {
    /// Goes over its codes; `mean` is that of the block before, and then its own, in quantisation steps.
    #[inline(always)]
    fn pass(&self, bits: &mut Bits<'_>, mean: &mut i32) -> Result<(), &'static str> {
        *mean += self.mean(bits)?;
        if (*mean * self.step).abs() > FARTHEST + self.step {
            return Err(OUT_OF_RANGE);
        }
        let stretches = &*self.others.stretches;
        let mut place = 1;
        while place < FULL {
            // Enough for two steps, of which the second may be of one coefficient with a long code.
            bits.fill_up();
            let Some(next) = stretch(stretches, bits, place) else {
                place = self.last(bits, place)?;
                continue;
            };
            place = match stretch(stretches, bits, next) {
                Some(next) => next,
                None => self.last(bits, next)?,
            };
        }
        bits.were_there()
    }

    /// Goes over the code of its mean, and returns by how much it differs from the one before, in quantisation steps.
    #[inline(always)]
    pub(super) fn mean(&self, bits: &mut Bits<'_>) -> Result<i32, &'static str> {
        bits.fill();
        let (length, width) = self.means.next(bits.peek()).ok_or(NO_CODE)?;
        bits.take(length)?;
        if width > WIDEST.0 {
            return Err(NO_CODE);
        }
        bits.figure(u32::from(width))
    }

    /// Goes over what may be the end of the block.
    #[inline(always)]
    pub(super) fn last(&self, bits: &mut Bits<'_>, place: u16) -> Result<u16, &'static str> {
        let mut step = self.others.stretches[bits.next(STRETCH)];
        let mut to = place + (step >> LENGTH);
        // The first of several may fill the block; then the others are of the next one. And a code may be longer.
        if to != FULL && !(END..END + FULL).contains(&to) {
            step = self.single(bits)?;
            to = place + (step >> LENGTH);
            if to > FULL && to < END {
                return Err("more coefficients than a block holds");
            }
        }
        bits.pass(length_of(step));
        Ok(to)
    }

    /// The next coefficient.
    fn single(&self, bits: &Bits<'_>) -> Result<u16, &'static str> {
        match self.others.steps[bits.next(QUICK)] {
            0 => self.others.step(bits.peek()),
            step => Ok(step),
        }
    }

    /// Writes its codes as they are, but for the mean, which is told from `before`. Both then are its own.
    fn rewrite(&self, bits: &mut Bits<'_>, mean: &mut i32, before: &mut i32, writer: &mut Writer) -> Option<()> {
        bits.fill();
        let (length, width) = self.means.next(bits.peek())?;
        bits.take(length).ok()?;
        *mean += bits.figure(u32::from(width)).ok()?;
        let figure = *mean - *before;
        *before = *mean;
        let width = i32::BITS - figure.abs().leading_zeros();
        let (code, length) = self.means.code(u8::try_from(width).ok()?)?;
        writer.put(code, length);
        // T.81, F.1.2.1: what is below zero is written one lower.
        writer.put((if figure < 0 { figure - 1 } else { figure }) as u32 & ((1 << width) - 1), width);
        let mut place = 1;
        while place < FULL {
            bits.fill();
            let step = self.single(bits).ok()?;
            let length = length_of(step);
            writer.put(bits.next(length as usize) as u32, length);
            bits.take(length).ok()?;
            place += step >> LENGTH;
        }
        Some(())
    }
}

/// Goes over one coefficient or several, of which none is the last of the block; none when that cannot be seen of its bits.
#[inline(always)]
pub(super) fn stretch(stretches: &[u16; 1 << STRETCH], bits: &mut Bits<'_>, place: u16) -> Option<u16> {
    let step = stretches[bits.next(STRETCH)];
    let to = place + (step >> LENGTH);
    (to < FULL).then(|| {
        bits.pass(length_of(step));
        to
    })
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// Tables, header and coded pixels of the one scan of a JPEG.
    pub(in crate::photo::jpeg) fn of(bytes: &[u8]) -> (Coding, &[u8], &[u8]) {
        let open = super::super::walk(bytes, 0).unwrap().open.unwrap();
        (open.coding, open.header, open.coded)
    }
}
