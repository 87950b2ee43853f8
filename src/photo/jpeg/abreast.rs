//! The codes of one scan gone through at two places at once, on one thread.
//!
//! Where a code begins is known once the one before it has been looked up, so that a processor mostly waits. It has time for a second chain
//! of codes that begins in the middle of the bytes. Nobody knows where a code begins there, but codes fall into step: begun anywhere, they
//! soon are those of the scan. Whether they are is certain when the first chain comes to where the second one had begun an MCU. If it does
//! not, the first goes on as if there were no second one.

use super::bits::Bits;
use super::codes::{FULL, STRETCH};
use super::scan::{FARTHEST, OUT_OF_RANGE, Place, Scan, stretch};
use multiversion::multiversion;

/// Fewer bytes are not worth a second chain.
const WORTH: usize = 1 << 15;
/// MCUs after which the second chain is held to be in step: in photos it was after fifty at most.
const SETTLED: usize = 200;
/// How often the second chain begins anew when it meets a code that does not exist before that.
const TRIES: usize = 8;
/// The second chain ends so many bytes early, for it does not know which MCU is the last.
const REST: usize = 64;

/// One chain.
#[derive(Clone)]
struct Chain<'a> {
    bits: Bits<'a>,
    /// What to look up in the block it is in.
    stretches: &'a [u16; 1 << STRETCH],
    /// Its place among the coefficients of the block.
    place: u16,
    /// The block it is in, of those of an MCU.
    block: usize,
    /// MCUs gone through.
    units: usize,
    /// Means of the blocks before, by channel, in quantisation steps; and the least and the greatest there were.
    means: [i32; 4],
    least: [i32; 4],
    most: [i32; 4],
    /// It stops at the first MCU that begins at this bit or behind it, ...
    stop: usize,
    /// ... or after so many.
    most_units: usize,
    fault: Option<&'static str>,
}

impl<'a> Chain<'a> {
    /// Where an MCU is to begin; none in a scan without blocks.
    fn new(scan: &Scan<'a>, bits: Bits<'a>, stop: usize, most_units: usize) -> Option<Self> {
        Some(Chain {
            bits,
            stretches: &scan.blocks.first()?.others.stretches,
            place: 1,
            block: 0,
            units: 0,
            means: [0; 4],
            least: [0; 4],
            most: [0; 4],
            stop,
            most_units,
            fault: None,
        })
    }

    /// Stops it for good; always false.
    fn fail(&mut self, fault: &'static str) -> bool {
        self.fault = Some(fault);
        false
    }

    /// Goes over the mean of a block; false when it is none.
    #[inline(always)]
    fn begin(&mut self, scan: &Scan<'a>) -> bool {
        let block = &scan.blocks[self.block];
        let figure = match block.mean(&mut self.bits) {
            Ok(figure) => figure,
            Err(fault) => return self.fail(fault),
        };
        let channel = block.channel;
        self.means[channel] += figure;
        self.least[channel] = self.least[channel].min(self.means[channel]);
        self.most[channel] = self.most[channel].max(self.means[channel]);
        // From wherever they are counted.
        if (self.most[channel] - self.least[channel]) * block.step > 2 * (FARTHEST + block.step) {
            return self.fail(OUT_OF_RANGE);
        }
        (self.place, self.stretches) = (1, &block.others.stretches);
        true
    }

    /// Goes on by a few coefficients; false where it stops.
    #[inline(always)]
    fn step(&mut self, scan: &Scan<'a>) -> bool {
        self.bits.fill_up();
        for _ in 0..2 {
            match stretch(self.stretches, &mut self.bits, self.place) {
                Some(next) => self.place = next,
                None => return self.turn(scan),
            }
        }
        true
    }

    /// Goes over what may be the end of a block, and begins the next one.
    #[inline(always)]
    fn turn(&mut self, scan: &Scan<'a>) -> bool {
        match scan.blocks[self.block].last(&mut self.bits, self.place) {
            Ok(next) => self.place = next,
            Err(fault) => return self.fail(fault),
        }
        if self.place < FULL {
            return true;
        }
        if let Err(fault) = self.bits.were_there() {
            return self.fail(fault);
        }
        self.block += 1;
        if self.block == scan.blocks.len() {
            (self.block, self.units) = (0, self.units + 1);
            // With as many bits held as can be, the same place is always the same figure.
            self.bits.fill_up();
            if self.units >= self.most_units || self.bits.passed() >= self.stop {
                return false;
            }
        }
        self.begin(scan)
    }

    /// Goes on from where it has stopped, with means counted from here.
    fn resume(&mut self, scan: &Scan<'a>, stop: usize, most_units: usize) -> bool {
        (self.units, self.stop, self.most_units) = (0, stop, most_units);
        [self.means, self.least, self.most] = [[0; 4]; 3];
        self.begin(scan)
    }

    /// Whether a mean has left the range, the first being told from `start`.
    fn is_out_of_range(&self, scan: &Scan<'_>, start: [i32; 4]) -> bool {
        scan.blocks.iter().any(|block| {
            let [least, most] = [self.least, self.most].map(|means| (start[block.channel] + means[block.channel]) * block.step);
            least.min(-most) < -(FARTHEST + block.step)
        })
    }

    /// What does not hold together in what it has gone through.
    fn checked(&self, scan: &Scan<'_>, start: [i32; 4]) -> Result<(), &'static str> {
        if self.is_out_of_range(scan, start) {
            return Err(OUT_OF_RANGE);
        }
        self.fault.map_or(Ok(()), Err)
    }
}

/// Goes on with both until one stops.
#[multiversion(targets("x86_64+bmi1+bmi2"))]
fn both<'a>(scan: &Scan<'a>, first: &mut Chain<'a>, second: &mut Chain<'a>) -> (bool, bool) {
    // Of their own, so that the bits stay in registers.
    let (mut one, mut other) = (first.clone(), second.clone());
    let goes_on = loop {
        let goes_on = (one.step(scan), other.step(scan));
        if goes_on != (true, true) {
            break goes_on;
        }
    };
    (*first, *second) = (one, other);
    goes_on
}

/// Goes on with one until it stops.
#[multiversion(targets("x86_64+bmi1+bmi2"))]
fn alone<'a>(scan: &Scan<'a>, chain: &mut Chain<'a>) {
    let mut own = chain.clone();
    while own.step(scan) {}
    *chain = own;
}

/// The second chain, so many MCUs behind the middle; none where it never got there.
fn settled<'a>(scan: &Scan<'a>, coded: &'a [u8], units: usize) -> Option<Chain<'a>> {
    let mut from = coded.len() / 2;
    for _ in 0..TRIES {
        let mut chain = Chain::new(scan, Bits::from(coded, from), usize::MAX, units)?;
        if chain.begin(scan) {
            alone(scan, &mut chain);
        }
        if chain.fault.is_none() {
            return Some(chain);
        }
        from = chain.bits.seen();
    }
    None
}

/// Goes through the codes of a scan as far as two chains lead, and returns the place: of most photos at or near their end, of a scan that is no use for two chains its beginning.
///
/// # Errors
/// What does not hold together, as [`Scan::pass`] has it.
pub(super) fn leap<'a>(scan: &Scan<'a>, coded: &'a [u8]) -> Result<Place<'a>, &'static str> {
    leap_after(scan, coded, SETTLED)
}

/// The same with a second chain that is held to be in step after so many MCUs.
fn leap_after<'a>(scan: &Scan<'a>, coded: &'a [u8], settling: usize) -> Result<Place<'a>, &'static str> {
    let beginning = Place::first(coded);
    // Channels beyond the third have no means of their own.
    let is_usual = scan.restart == 0 && scan.blocks.iter().all(|block| block.channel < 3);
    if coded.len() < WORTH || scan.units < 4 * settling || !is_usual {
        return Ok(beginning);
    }
    // Some cameras leave zeros behind the last MCU.
    let end = coded.iter().rposition(|byte| *byte != 0).unwrap_or(0);
    let Some(mut second) = settled(scan, coded, settling) else { return Ok(beginning) };
    let meeting = second.bits.passed();
    let Some(mut first) = Chain::new(scan, Bits::new(coded), meeting, scan.units) else { return Ok(beginning) };
    let mut goes_on = (first.begin(scan), second.resume(scan, 8 * end.saturating_sub(REST), usize::MAX));
    if goes_on == (true, true) {
        goes_on = both(scan, &mut first, &mut second);
    }
    if goes_on.0 {
        alone(scan, &mut first);
    }
    first.checked(scan, [0; 4])?;
    let met = Place { bits: first.bits, means: first.means, unit: first.units };
    if met.bits.passed() != meeting {
        return Ok(met);
    }
    // Behind the last MCU there are no codes: what looks like some does not count.
    second.most_units = scan.units - met.unit;
    if goes_on.1 {
        if second.units >= second.most_units {
            return Ok(met);
        }
        alone(scan, &mut second);
    }
    let unit = met.unit + second.units;
    if unit > scan.units || (unit == scan.units && second.fault.is_some()) {
        return Ok(met);
    }
    second.checked(scan, met.means)?;
    Ok(Place { bits: second.bits, means: std::array::from_fn(|c| met.means[c] + second.means[c]), unit })
}

#[cfg(test)]
mod tests {
    use super::super::scan::Coding;
    use super::super::scan::tests::of;
    use super::*;
    use crate::photo::encode;

    /// A JPEG of some hundred kilobytes: soft shades under grain, which is the same in all channels where `is_grey`.
    fn photo(quality: u8, is_grey: bool) -> Vec<u8> {
        let (width, height) = (640, 480);
        let mut seed = 5u32;
        let mut grain = || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (seed >> 26) as u8
        };
        let pixel = |i: usize| {
            let (x, y) = (i % width, i / width);
            let one = grain();
            [x / 5, y / 3, (x + y) / 6].map(|shade| shade as u8 + if is_grey { one } else { grain() })
        };
        let pixels: Vec<u8> = (0..width * height).flat_map(pixel).collect();
        encode::jpeg(width, height, &pixels, quality).unwrap()
    }

    // What is found at the place that both lead to is what a single chain finds there.
    #[test]
    fn two_chains_lead_to_a_place_of_the_single_one() {
        for quality in [60, 85, 97] {
            let bytes = photo(quality, true);
            let (coding, header, coded) = of(&bytes);
            let scan = coding.scan(header).unwrap();
            let mut far = leap(&scan, coded).unwrap();
            assert!(far.unit > scan.units * 9 / 10 && far.unit <= scan.units, "{quality}: {} of {}", far.unit, scan.units);
            let mut near = Place::first(coded);
            scan.pass(&mut near, far.unit).unwrap();
            near.bits.fill_up();
            far.bits.fill_up();
            assert_eq!((near.bits.passed(), near.means), (far.bits.passed(), far.means), "{quality}");
        }
    }

    // At a restart all begins anew, which neither chain knows of.
    #[test]
    fn a_scan_with_restarts_is_left_to_a_single_chain() {
        let bytes = photo(97, true);
        let (coding, header, coded) = of(&bytes);
        let mut scan = coding.scan(header).unwrap();
        assert!(leap(&scan, coded).unwrap().unit > 0);
        scan.restart = 40;
        assert_eq!(leap(&scan, coded).unwrap().unit, 0);
    }

    // A second chain that is trusted after its first MCU is hardly in step yet: then the first goes on alone, and nothing is taken for damage.
    #[test]
    fn a_chain_that_is_not_in_step_does_not_count() {
        let mut alone = 0;
        for (quality, is_grey) in [(60, true), (75, false), (85, false), (90, true), (97, true), (97, false)] {
            let bytes = photo(quality, is_grey);
            let (coding, header, coded) = of(&bytes);
            let scan = coding.scan(header).unwrap();
            let mut place = leap_after(&scan, coded, 1).unwrap();
            alone += usize::from(place.unit < scan.units * 2 / 3);
            assert_eq!(scan.pass(&mut place, scan.units).and_then(|()| place.end()), Ok(()), "{quality} {is_grey}");
        }
        assert!(alone > 2, "{alone}");
    }

    // Grain of every channel its own makes MCUs longer than what the second chain leaves of the bytes; and some cameras leave zeros behind the last.
    #[test]
    fn the_last_mcu_ends_both_however_long_it_is() {
        for (grain, zeros) in [(true, 0), (true, 5000), (false, 0), (false, 300)] {
            let bytes = photo(97, grain);
            let (coding, header, coded) = of(&bytes);
            let scan = coding.scan(header).unwrap();
            let padded = [coded, &vec![0; zeros]].concat();
            let mut far = leap(&scan, &padded).unwrap();
            assert!(!grain || far.unit > scan.units * 9 / 10, "{grain} {zeros}: {} of {}", far.unit, scan.units);
            assert_eq!(scan.pass(&mut far, scan.units).and_then(|()| far.end()), Ok(()), "{grain} {zeros}");
        }
    }

    // Codes of a bit each for no change of the mean and for the end of a block: what follows the picture must not be gone through, be it ever so long.
    #[test]
    fn what_follows_the_last_mcu_is_no_work() {
        let mut coding = Coding::default();
        coding.frame(&[8, 4, 0, 4, 0, 1, 1, 0x11, 0]);
        for place in [0x00, 0x10] {
            coding.tables(&[&[place, 1][..], &[0; 15], &[0]].concat());
        }
        let scan = coding.scan(&[1, 1, 0, 0, 63, 0]).unwrap();
        let coded = vec![0; 1 << 22];
        assert!(leap(&scan, &coded).unwrap().unit <= scan.units);
        assert_eq!(coding.check(&[1, 1, 0, 0, 63, 0], &coded), Ok(()));
    }

    // Flipped bits, bytes missing and bytes too many: whatever a single chain says of them, two say.
    #[test]
    fn damage_is_told_as_by_a_single_chain() {
        let bytes = photo(80, true);
        let (coding, header, coded) = of(&bytes);
        let scan = coding.scan(header).unwrap();
        let (mut seed, mut faults, mut met) = (11u32, 0, 0);
        let mut random = |below: usize| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (seed >> 8) as usize % below
        };
        for kind in (0..600).map(|i| i % 4) {
            let mut damaged = coded.to_vec();
            let at = random(coded.len() - 8);
            match kind {
                0 => damaged[at] ^= 1 << random(8),
                1 => drop(damaged.drain(at..at + 1 + random(4))),
                2 => drop(damaged.splice(at..at, [0x55, random(250) as u8])),
                _ => damaged.extend(coded[at..].iter().take(20 + random(4000))),
            }
            let single = || {
                let mut place = Place::first(&damaged);
                scan.pass(&mut place, scan.units)?;
                place.end()
            };
            let mut by_two = || {
                let mut place = leap(&scan, &damaged)?;
                met += usize::from(place.unit > scan.units / 2);
                scan.pass(&mut place, scan.units)?;
                place.end()
            };
            let said = single();
            faults += usize::from(said.is_err());
            assert_eq!(by_two(), said, "{kind} at {at}");
        }
        assert!(faults > 300 && faults < 600 && met > 100, "{faults} {met}");
    }
}
