//! Medians: of figures, and of colours channel by channel.

use super::pyramid::Colour;

/// Median of the values, 0 of none; of an even number the upper one of the two in the middle.
pub(super) fn median(values: impl IntoIterator<Item = f32>) -> f32 {
    // As whole numbers of the same order, which are compared at once.
    let mut keys: Vec<i32> = values.into_iter().map(|value| in_order(value.to_bits().cast_signed())).collect();
    if keys.is_empty() {
        return 0.0;
    }
    let middle = keys.len() / 2;
    f32::from_bits(in_order(*keys.select_nth_unstable(middle).1).cast_unsigned())
}

/// Bits of a figure as a whole number that is greater the greater it is, and back: below zero the magnitude counts the other way (IEEE 754, 5.10).
fn in_order(bits: i32) -> i32 {
    bits ^ ((bits >> 31) & i32::MAX)
}

/// The same of each channel. No channel may be other than a number.
pub(super) fn median_colour(colours: &[Colour]) -> Colour {
    match colours.len() {
        0..=32 => by_network::<32>(colours, &PAIRS_32),
        33..=64 => by_network::<64>(colours, &PAIRS_64),
        _ => [0, 1, 2].map(|c| median(colours.iter().map(|colour| colour[c]))),
    }
}

/// Two places of a sorting network; the lesser figure goes to the first.
type Pair = (u8, u8);

const PAIRS_32: [Pair; kept(32)] = pairs(32);
const PAIRS_64: [Pair; kept(64)] = pairs(64);

/// All channels go through the network side by side, and nothing depends on how the figures lie: choosing by halves, one channel after the other, takes three times
/// as long, for which half a figure belongs to cannot be foreseen.
fn by_network<const N: usize>(colours: &[Colour], pairs: &[Pair]) -> Colour {
    if colours.is_empty() {
        return [0.0; 3];
    }
    // As many below all as above, so that the middle stays the middle.
    let below = N / 2 - colours.len() / 2;
    let mut values = [[f32::INFINITY; 4]; N];
    values[..below].fill([f32::NEG_INFINITY; 4]);
    for (value, colour) in values[below..].iter_mut().zip(colours) {
        value[..3].copy_from_slice(colour);
    }
    for &(first, second) in pairs {
        let (first, second) = (usize::from(first) % N, usize::from(second) % N);
        let (a, b) = (values[first], values[second]);
        for c in 0..4 {
            values[first][c] = if a[c] < b[c] { a[c] } else { b[c] };
            values[second][c] = if a[c] < b[c] { b[c] } else { a[c] };
        }
    }
    let [red, green, blue, _] = values[N / 2];
    [red, green, blue]
}

/// Most pairs of a network: 543 sort 64 figures.
const MOST: usize = 543;

/// Batcher's odd-even merge sort of `count` figures, a power of two (K. E. Batcher, Sorting networks and their applications, 1968), and how many pairs it has.
const fn sorting(count: usize) -> ([Pair; MOST], usize) {
    let (mut pairs, mut all) = ([(0, 0); MOST], 0);
    let mut run = 1;
    while run < count {
        let mut apart = run;
        while apart > 0 {
            let mut first = apart % run;
            while first + apart < count {
                let mut i = first;
                while i < first + apart && i + apart < count {
                    if i / (2 * run) == (i + apart) / (2 * run) {
                        pairs[all] = (i as u8, (i + apart) as u8);
                        all += 1;
                    }
                    i += 1;
                }
                first += 2 * apart;
            }
            apart /= 2;
        }
        run *= 2;
    }
    (pairs, all)
}

/// Which of the pairs what comes out in the middle depends on.
const fn needed(count: usize) -> [bool; MOST] {
    let (pairs, all) = sorting(count);
    let mut is_needed = [false; MOST];
    let mut places = 1u64 << (count / 2);
    let mut at = all;
    while at > 0 {
        at -= 1;
        let both = 1u64 << pairs[at].0 | 1 << pairs[at].1;
        if places & both != 0 {
            is_needed[at] = true;
            places |= both;
        }
    }
    is_needed
}

/// How many they are.
const fn kept(count: usize) -> usize {
    let is_needed = needed(count);
    let (mut kept, mut at) = (0, 0);
    while at < MOST {
        kept += is_needed[at] as usize;
        at += 1;
    }
    kept
}

const fn pairs<const KEPT: usize>(count: usize) -> [Pair; KEPT] {
    let ((pairs, _), is_needed) = (sorting(count), needed(count));
    let (mut out, mut kept, mut at) = ([(0, 0); KEPT], 0, 0);
    while at < MOST {
        if is_needed[at] {
            out[kept] = pairs[at];
            kept += 1;
        }
        at += 1;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    // Sorted by the standard library; of both signs, and with many alike.
    #[test]
    fn the_middle_is_that_of_the_sorted() {
        let mut noise = 5u32;
        for count in 0..150 {
            let mut colours = vec![[0.0f32; 3]; count];
            for value in colours.as_flattened_mut() {
                noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                *value = (noise >> 24) as f32 / 64.0 - 1.5;
            }
            let wanted = [0, 1, 2].map(|c| {
                let mut sorted: Vec<f32> = colours.iter().map(|colour| colour[c]).collect();
                sorted.sort_by(f32::total_cmp);
                sorted.get(count / 2).copied().unwrap_or(0.0).to_bits()
            });
            assert_eq!(median_colour(&colours).map(f32::to_bits), wanted, "{count}");
            assert_eq!([0, 1, 2].map(|c| median(colours.iter().map(|colour| colour[c])).to_bits()), wanted, "{count}");
        }
    }

    // A network that sorts all rows of zeros and ones sorts all (the zero-one principle): of 16 places there are few enough. Batcher's counts: 63, 191, 543.
    #[test]
    fn networks_sort() {
        let (pairs, all) = sorting(16);
        for mut row in 0..1u32 << 16 {
            let ones = row.count_ones();
            for &(first, second) in &pairs[..all] {
                let swap = row >> first & !(row >> second) & 1;
                row ^= swap << first | swap << second;
            }
            assert_eq!(row, (0xFFFF << (16 - ones)) & 0xFFFF);
        }
        assert_eq!([16, 32, 64].map(|count| sorting(count).1), [63, 191, 543]);
        assert!(PAIRS_32.len() < 191 && PAIRS_64.len() < 543);
    }
}
