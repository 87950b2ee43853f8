//! Tables of Huffman codes (ITU-T T.81, annexes C and F), for going over coded pixels without unpacking them.

/// Most bits of a code (T.81, C.2).
pub(super) const LONGEST: usize = 16;
/// Bits looked up at once; longer codes are rare by their making, and a table of two kilobytes stays near the processor.
pub(super) const QUICK: usize = 10;
/// Bits looked up at once for several coefficients: mostly two or three fit, and two tables of eight kilobytes stay near the processor.
pub(super) const STRETCH: usize = 12;
/// Bits of a step that tell its length, the lower ones; the others tell places to go on.
pub(super) const LENGTH: u32 = 6;
/// Coefficients of a block.
pub(super) const FULL: u16 = 64;
/// Places that the end of a block is away, more than a block has.
pub(super) const END: u16 = 128;
/// Places that lead nowhere.
const ASTRAY: u16 = u16::MAX >> LENGTH;

/// Codes of one table.
#[derive(Debug, Clone)]
pub(super) struct Codes {
    /// By the next [`QUICK`] bits: length of the code, 0 when it is longer; then its symbol.
    quick: Vec<(u8, u8)>,
    /// By the same bits, for coefficients behind the mean: bits of code and figure in the lower [`LENGTH`], places to go on in the others; 0 when it is
    /// longer, or is no code of a coefficient.
    pub(super) steps: Box<[u16; 1 << QUICK]>,
    /// The same by the next [`STRETCH`] bits, for as many coefficients at once as are seen of their codes; [`ASTRAY`] where not even one is.
    pub(super) stretches: Box<[u16; 1 << STRETCH]>,
    /// For each length, one above the greatest code, in the upper bits of sixteen; and what leads from a code to its symbol.
    ends: [(u32, i32); LONGEST + 1],
    symbols: Vec<u8>,
}

impl Codes {
    /// From the numbers of codes of each length, and the symbols (T.81, annex C).
    pub(super) fn new(counts: &[u8], symbols: &[u8]) -> Option<Self> {
        let mut codes = Codes {
            quick: vec![(0, 0); 1 << QUICK],
            ends: [(0, 0); LONGEST + 1],
            symbols: symbols.to_vec(),
            steps: Box::new([0; 1 << QUICK]),
            stretches: Box::new([ASTRAY << LENGTH; 1 << STRETCH]),
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
        for bits in 0..codes.stretches.len() {
            codes.stretches[bits] = codes.stretch(bits).unwrap_or(ASTRAY << LENGTH);
        }
        Some(codes)
    }

    /// What [`STRETCH`] bits say of the next coefficients, as many as are seen, up to the end of the block; none where not even one is.
    fn stretch(&self, bits: usize) -> Option<u16> {
        let mut all: Option<u16> = None;
        loop {
            let seen = all.map_or(0, |all| length_of(all) as usize);
            let places = all.map_or(0, |all| all >> LENGTH);
            if seen >= STRETCH || places >= FULL {
                return all;
            }
            // Behind the last bit that is seen stand zeros: a code must not reach into them, its figure may.
            let rest = bits << seen & ((1 << STRETCH) - 1);
            let place = rest >> (STRETCH - QUICK);
            let next = self.steps[place];
            if next == 0 || seen + usize::from(self.quick[place].0) > STRETCH {
                return all;
            }
            // No block has more places, and with those before them more would look like its end.
            if next >> LENGTH != END && places + (next >> LENGTH) > FULL {
                return all;
            }
            all = Some(all.map_or(next, |all| all + next));
        }
    }

    /// What the next bits say of a coefficient, as in `steps`, whatever the length of its code.
    pub(super) fn step(&self, bits: u32) -> Result<u16, &'static str> {
        self.next(bits).and_then(|(length, symbol)| coefficient(length, symbol)).ok_or(NO_CODE)
    }

    /// The code of a symbol, and its length; none where the table has none.
    pub(super) fn code(&self, symbol: u8) -> Option<(u32, u32)> {
        let place = i32::try_from(self.symbols.iter().position(|&known| known == symbol)?).ok()?;
        (1..=LONGEST).find_map(|length| {
            let code = u32::try_from(place - self.ends[length].1).ok()?;
            (code << (LONGEST - length) < self.ends[length].0).then_some((code, length as u32))
        })
    }

    /// Length and symbol of the code that begins with the next sixteen bits.
    pub(super) fn next(&self, bits: u32) -> Option<(u32, u8)> {
        let (length, symbol) = self.quick[(bits >> (LONGEST - QUICK)) as usize];
        if length > 0 {
            return Some((u32::from(length), symbol));
        }
        let length = (QUICK + 1..=LONGEST).find(|&length| bits < self.ends[length].0)?;
        let place = (bits >> (LONGEST - length)) as i32 + self.ends[length].1;
        Some((length as u32, *self.symbols.get(usize::try_from(place).ok()?)?))
    }
}

/// Bits of code and figure in the lower [`LENGTH`], places to go on in the others (T.81, F.1.2.2.1); none for a symbol that does not exist.
fn coefficient(length: u32, symbol: u8) -> Option<u16> {
    let (zeros, width) = (symbol >> 4, symbol & 15);
    let places = match (zeros, width) {
        (0, 0) => END,
        (zeros, 0) if zeros < 15 => return None,
        (_, width) if width > WIDEST.1 => return None,
        _ => u16::from(zeros) + 1,
    };
    Some(places << LENGTH | (length as u16 + u16::from(width)))
}

/// Bits of a step: at most twenty-six for one coefficient, and fewer for two.
pub(super) fn length_of(step: u16) -> u32 {
    u32::from(step & ((1 << LENGTH) - 1))
}

pub(super) const NO_CODE: &str = "code that does not exist";

/// Most bits of a difference of means, and of another coefficient, of eight-bit samples (T.81, tables F.1 and F.2).
pub(super) const WIDEST: (u8, u8) = (11, 10);

#[cfg(test)]
mod tests {
    use super::*;

    /// A table with so many codes of each length from one bit on.
    fn table(counts: &[u8], symbols: &[u8]) -> Codes {
        let counts: [u8; LONGEST] = std::array::from_fn(|i| counts.get(i).copied().unwrap_or(0));
        Codes::new(&counts, symbols).unwrap()
    }

    // What is looked up at once is what its coefficients are one by one, whatever the bits: with short codes, of runs of zeros too, and with long ones.
    #[test]
    fn several_coefficients_are_those_one_by_one() {
        let runs = table(&[1, 1, 1], &[0xF0, 0x00, 0x01]);
        let short = table(&[0, 2, 1, 2], &[0x01, 0x02, 0x00, 0x11, 0x03]);
        let long = table(&[0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 3], &[0x01, 0x00, 0x21, 0x0A]);
        let mut most = 0;
        for (codes, bits) in [&runs, &short, &long].into_iter().flat_map(|codes| (0..1usize << STRETCH).map(move |bits| (codes, bits))) {
            let looked_up = codes.stretches[bits];
            let (mut places, mut length, mut number) = (0, 0, 0);
            while looked_up >> LENGTH != ASTRAY && (places, length) != (looked_up >> LENGTH, length_of(looked_up)) {
                assert!(places < FULL && length < STRETCH as u32, "{bits:b}: {looked_up:b}");
                let step = codes.step((bits << (LONGEST - STRETCH) << length & 0xFFFF) as u32).unwrap();
                (places, length, number) = (places + (step >> LENGTH), length + length_of(step), number + 1);
                // Nothing but its end ends a block.
                assert_eq!(places >= END, step >> LENGTH == END, "{bits:b}");
            }
            // From no place of a block do coefficients without an end lead to where its end is looked for.
            assert!(looked_up >> LENGTH == ASTRAY || places <= FULL || places >= END, "{bits:b}: {places}");
            most = most.max(number);
        }
        // By hand: three runs of sixteen zeros of a bit each and two coefficients of four bits; for one more run a block has no room.
        assert_eq!(most, 5);
    }
}
