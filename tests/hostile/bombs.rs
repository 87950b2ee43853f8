//! Small files that ask for much: each is read or refused in a process of its own, whose memory and time are looked at.

use crate::bench::{read, timed};
use crate::pictures::{self, Picture};
use std::process::Command;

/// Most memory that a process may take for one file, kB: 1 GB.
const MEMORY: u64 = 1_000_000;
/// Most processor time, seconds.
const SECONDS: f64 = 10.0;
/// The environment variable by which a process is told its file.
const NAMED: &str = "TINTPOINT_BOMB";

/// Sides just below the limit of 200 million pixels.
const WIDE: (u32, u32) = (65_500, 3_050);
const SQUARE: (u32, u32) = (14_100, 14_100);

type Make = fn() -> Vec<u8>;

/// Each file, and whether it is read or how it is refused; `any` where either may be.
const BOMBS: [(&str, Make, &str); 18] = [
    ("png of 200 million black pixels", || png(SQUARE, 8, 2), "read"),
    ("png of 200 million pixels of 16 bits", || png(SQUARE, 16, 2), "too-many-pixels"),
    ("png of 110 million pixels of 16 bits with alpha", || png((10_400, 10_600), 16, 6), "transparent"),
    ("png whose profile unpacks to 500 MB", profile_bomb, "read"),
    ("png of 65535 x 65535 pixels", || png((65_535, 65_535), 8, 2), "too-many-pixels"),
    ("tiff of 200 million black pixels", || tiff(SQUARE, 8, 3), "too-many-pixels"),
    ("tiff of 148 million black pixels", || tiff((12_100, 12_200), 8, 3), "read"),
    ("tiff of 74 million pixels of 16 bits", || tiff((8600, 8600), 16, 3), "read"),
    ("tiff of 65535 x 65535 pixels", || tiff((65_535, 65_535), 8, 3), "too-many-pixels"),
    ("baseline jpeg of 200 million pixels", || jpeg(WIDE, 0xC0, 0), "read"),
    ("progressive jpeg of 200 million pixels", || jpeg(WIDE, 0xC2, 1), "too-many-pixels"),
    ("progressive jpeg of 99 million pixels in 95 scans", || jpeg((65_500, 1_520), 0xC2, 94), "read"),
    ("progressive jpeg of 10000 scans", || jpeg((800, 600), 0xC2, 10_000), "damaged"),
    ("jpeg of 65535 x 65535 pixels", || jpeg((65_535, 65_535), 0xC0, 0), "too-many-pixels"),
    ("jpeg of 600000 code tables", tables_bomb, "damaged"),
    ("webp of 16383 x 13000 pixels", || webp((16_382, 12_999)), "too-many-pixels"),
    ("webp of 128 million pixels", || webp((11_199, 11_399)), "read"),
    ("webp of 4 pixels", || webp((1, 1)), "read"),
];

#[cfg(target_os = "linux")]
#[test]
fn no_file_takes_a_gigabyte_or_ten_seconds() {
    let mut wrong = Vec::new();
    for (name, _, wanted) in BOMBS {
        let child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "bombs::one_bomb", "--ignored", "--nocapture", "--test-threads", "1"])
            .env(NAMED, name)
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&child.stdout);
        assert!(child.status.success(), "{name}: {said}{}", String::from_utf8_lossy(&child.stderr));
        let figure = |word: &str| said.lines().find_map(|line| line.strip_prefix(word)).unwrap_or_else(|| panic!("{name}: {said}")).trim();
        let (came, memory, seconds) =
            (figure("came:"), figure("memory:").parse::<u64>().unwrap(), figure("seconds:").parse::<f64>().unwrap());
        let told = format!("{name}: {came}, {} MB, {seconds:.2} s", memory / 1000);
        println!("{told}");
        if (wanted != "any" && came != wanted) || memory >= MEMORY || seconds >= SECONDS {
            wrong.push(told);
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What one process does, for the test above.
#[test]
#[ignore = "started by the test of bombs"]
fn one_bomb() {
    let name = std::env::var(NAMED).unwrap();
    let (_, make, _) = BOMBS.into_iter().find(|(known, _, _)| *known == name).unwrap();
    let what = || name.clone();
    let came = match timed(&make(), &what) {
        Err(error) => error.code(),
        Ok(photo) => {
            read(&photo, &what);
            "read"
        }
    };
    // Fields 14 and 15 of stat(5), the first two behind the name and eleven more: processor time in hundredths of a second.
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    let ticks: u32 = stat.rsplit(") ").next().unwrap().split(' ').skip(11).take(2).map(|field| field.parse::<u32>().unwrap()).sum();
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap().trim().trim_end_matches(" kB");
    println!("\ncame: {came}\nmemory: {peak}\nseconds: {}", f64::from(ticks) / 100.0);
}

/// Bits in the order of a packed stream.
#[derive(Default)]
struct Bits {
    bytes: Vec<u8>,
    held: u32,
    count: u32,
}

impl Bits {
    /// Least significant first, as in RFC 1951.
    fn low_first(&mut self, value: u32, count: u32) {
        for bit in 0..count {
            self.held |= (value >> bit & 1) << self.count;
            self.count += 1;
            if self.count == 8 {
                self.bytes.push(self.held as u8);
                (self.held, self.count) = (0, 0);
            }
        }
    }

    /// Most significant first, with a zero behind each byte of ones, as in ITU-T T.81.
    fn high_first(&mut self, value: u32, count: u32) {
        for bit in (0..count).rev() {
            self.held = self.held << 1 | (value >> bit & 1);
            self.count += 1;
            if self.count == 8 {
                self.bytes.push(self.held as u8);
                if self.held as u8 == 0xFF {
                    self.bytes.push(0);
                }
                (self.held, self.count) = (0, 0);
            }
        }
    }

    /// The last byte filled with ones.
    fn ended(mut self) -> Vec<u8> {
        while self.count > 0 {
            self.high_first(1, 1);
        }
        self.bytes
    }
}

/// A zlib stream (RFC 1950) that unpacks to so many zeros, 258 from 13 bits.
fn zeros(count: u64) -> Vec<u8> {
    let mut bits = Bits { bytes: vec![0x78, 0x01], ..Bits::default() };
    // One last block with fixed codes (RFC 1951, 3.2.6); codes go most significant bit first. A literal zero, then copies of it.
    bits.low_first(0b011, 3);
    let literal = |bits: &mut Bits| bits.low_first(0b0000_1100, 8);
    literal(&mut bits);
    for _ in 0..(count - 1) / 258 {
        // Length 258 is code 285, 11000101; distance 1 is code 0.
        bits.low_first(0b1010_0011, 8);
        bits.low_first(0, 5);
    }
    (0..(count - 1) % 258).for_each(|_| literal(&mut bits));
    bits.low_first(0, 7);
    bits.low_first(0, (8 - bits.count) % 8);
    // Adler-32 of zeros: the first sum stays 1, the second counts.
    bits.bytes.extend((((count % 65_521) << 16) as u32 | 1).to_be_bytes());
    bits.bytes
}

fn chunk(kind: &[u8; 4], content: &[u8]) -> Vec<u8> {
    let mut out = (content.len() as u32).to_be_bytes().to_vec();
    out.extend(kind);
    out.extend(content);
    out.extend(pictures::crc(&out[4..]).to_be_bytes());
    out
}

/// Black, of a colour type of ISO/IEC 15948.
fn png((width, height): (u32, u32), bits: u8, kind: u8) -> Vec<u8> {
    let mut head = width.to_be_bytes().to_vec();
    head.extend(height.to_be_bytes());
    head.extend([bits, kind, 0, 0, 0]);
    let samples = if kind == 6 { 4 } else { 3 };
    let row = u64::from(width) * samples * u64::from(bits / 8) + 1;
    // Whoever refuses by the size need not be given the pixels.
    let rows = if u64::from(width) * u64::from(height) > 200_000_000 { 1 } else { u64::from(height) };
    let parts = [chunk(b"IHDR", &head), chunk(b"IDAT", &zeros(row * rows)), chunk(b"IEND", &[])];
    [b"\x89PNG\r\n\x1a\n".to_vec(), parts.concat()].concat()
}

fn profile_bomb() -> Vec<u8> {
    let content = [b"large\0\0".to_vec(), zeros(500_000_000)].concat();
    Picture::textured(8, 8).png_with_chunk(b"iCCP", &content)
}

/// Tables that no scan uses: a run of sixteen zeros of one bit, and a figure of two.
fn tables_bomb() -> Vec<u8> {
    let table = [vec![0x10, 2], vec![0; 15], vec![0xF0, 0x01]].concat();
    let content = table.repeat(3000);
    let segment = [vec![0xFF, 0xC4], (content.len() as u16 + 2).to_be_bytes().to_vec(), content].concat();
    [vec![0xFF, 0xD8], segment.repeat(200), jpeg((80, 60), 0xC0, 0)[2..].to_vec()].concat()
}

/// Black, one strip packed with deflate.
fn tiff((width, height): (u32, u32), bits: u16, samples: u16) -> Vec<u8> {
    let rows = if u64::from(width) * u64::from(height) > 200_000_000 { 1 } else { height };
    let strip = zeros(u64::from(width) * u64::from(rows) * u64::from(samples) * u64::from(bits / 8));
    pictures::tiff_of(width, height, &vec![bits; samples.into()], 8, &strip)
}

/// A grey surface, every coefficient but the means zero; `scans` more of the higher coefficients, each a few bytes.
fn jpeg((width, height): (u32, u32), frame: u8, scans: usize) -> Vec<u8> {
    let segment = |marker: u8, content: &[u8]| [&[0xFF, marker], &(content.len() as u16 + 2).to_be_bytes()[..], content].concat();
    let blocks = u64::from(width.div_ceil(8)) * u64::from(height.div_ceil(8));
    let is_baseline = frame == 0xC0;
    let mut out = vec![0xFF, 0xD8];
    out.extend(segment(0xDB, &[vec![0], vec![1; 64]].concat()));
    let mut head = vec![8];
    head.extend((height as u16).to_be_bytes());
    head.extend((width as u16).to_be_bytes());
    head.extend([3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0]);
    out.extend(segment(frame, &head));
    // One code of one bit each: no difference of the mean; end of block, or a run of 16384 and more blocks without coefficients.
    let table = |class: u8, symbol: u8| [vec![class, 1], vec![0; 15], vec![symbol]].concat();
    out.extend(segment(0xC4, &table(0x00, 0)));
    out.extend(segment(0xC4, &table(0x10, if is_baseline { 0 } else { 0xE0 })));
    out.extend(segment(0xDA, &[3, 1, 0, 2, 0, 3, 0, 0, if is_baseline { 63 } else { 0 }, 0]));
    let mut bits = Bits::default();
    let blocks_here = if u64::from(width) * u64::from(height) > 200_000_000 { 10 } else { blocks };
    for _ in 0..3 * blocks_here {
        bits.high_first(0, if is_baseline { 2 } else { 1 });
    }
    out.extend(bits.ended());
    for scan in 0..scans {
        out.extend(segment(0xDA, &[1, 1 + (scan % 3) as u8, 0, 1, 63, 0]));
        let mut bits = Bits::default();
        for _ in 0..blocks.div_ceil(32_767) {
            bits.high_first(0b011_1111_1111_1111, 15);
        }
        out.extend(bits.ended());
    }
    out.extend([0xFF, 0xD9]);
    out
}

/// A lossless black WebP (RFC 9649, 7.1: sides less one in fourteen bits each). Each of its codes has one symbol, which takes no bits.
fn webp((width, height): (u32, u32)) -> Vec<u8> {
    let mut bits = Bits { bytes: vec![0x2F], ..Bits::default() };
    bits.low_first(width, 14);
    bits.low_first(height, 14);
    // No alpha, version 0; no transform, no cache, one group of codes.
    bits.low_first(0, 7);
    for _ in 0..5 {
        // A simple code, of one symbol, told in one bit: 0.
        bits.low_first(0b0001, 4);
    }
    bits.low_first(0, 16);
    let mut content = bits.bytes;
    content.resize(content.len().next_multiple_of(2), 0);
    let mut out = b"RIFF".to_vec();
    out.extend((content.len() as u32 + 12).to_le_bytes());
    out.extend(b"WEBPVP8L");
    out.extend((content.len() as u32).to_le_bytes());
    out.extend(content);
    out
}
