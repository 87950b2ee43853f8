//! What a camera offers, and which of it is taken.

/// How the pixels of a frame lie in memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PixelFormat {
    /// Red, green, blue, 8 bits each.
    Rgb,
    /// Blue, green, red, 8 bits each.
    Bgr,
    /// Luma of each pixel, colour of each pair of pixels.
    Yuyv,
    /// A plane of luma, then a plane with the colour of each square of four pixels.
    Nv12,
    /// A JPEG for each frame.
    Jpeg,
}

impl PixelFormat {
    /// From the four characters of the driver; `None` for what is not read.
    #[must_use]
    pub fn from_fourcc(code: [u8; 4]) -> Option<Self> {
        match &code {
            b"RGB3" => Some(Self::Rgb),
            b"BGR3" => Some(Self::Bgr),
            b"YUYV" => Some(Self::Yuyv),
            b"NV12" => Some(Self::Nv12),
            b"MJPG" => Some(Self::Jpeg),
            _ => None,
        }
    }

    /// The four characters of the driver.
    #[must_use]
    pub fn fourcc(self) -> &'static str {
        match self {
            Self::Rgb => "RGB3",
            Self::Bgr => "BGR3",
            Self::Yuyv => "YUYV",
            Self::Nv12 => "NV12",
            Self::Jpeg => "MJPG",
        }
    }

    /// How well colour survives, at equal size: no conversion before half the colour before a quarter of it; JPEG last, since it
    /// rounds coarsely.
    fn rank(self) -> u8 {
        match self {
            Self::Rgb => 4,
            Self::Bgr => 3,
            Self::Yuyv => 2,
            Self::Nv12 => 1,
            Self::Jpeg => 0,
        }
    }
}

/// One format in one size at one rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Offer {
    /// How the pixels lie.
    pub format: PixelFormat,
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Whole frames a second; other rates cannot be asked for.
    pub rate: u32,
}

impl std::fmt::Display for Offer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}x{} at {} frames a second", self.format.fourcc(), self.width, self.height, self.rate)
    }
}

impl Offer {
    fn pixels(&self) -> i64 {
        i64::from(self.width) * i64::from(self.height)
    }
}

/// Pixels beyond which more bring nothing: the reading looks at 4500 of an area at most, which a card and a cup of a fifth of a picture
/// of this size have many times over.
const MOST_PIXELS: i64 = 1920 * 1080;
/// Frames a second below which waiting for exposure and white balance takes too long: a camera wants about ten frames for it.
const SLOWEST: u32 = 5;
/// Beyond this rate a camera has to shorten its exposure, which costs light.
const FASTEST: u32 = 30;

/// The largest offer that is usable; of one size, the format that keeps colour best. With `size` or `format`, only such offers count.
#[must_use]
pub fn choose(offers: &[Offer], size: Option<(u32, u32)>, format: Option<PixelFormat>) -> Option<Offer> {
    let fits = |offer: &&Offer| {
        size.is_none_or(|(width, height)| (offer.width, offer.height) == (width, height)) && format.is_none_or(|f| f == offer.format)
    };
    let preference = |offer: &&Offer| {
        let (pixels, rate) = (offer.pixels(), i64::from(offer.rate));
        let (is_moderate, is_calm) = (pixels <= MOST_PIXELS, offer.rate <= FASTEST);
        let size = if is_moderate { pixels } else { -pixels };
        let speed = if is_calm { rate } else { -rate };
        (offer.rate >= SLOWEST, is_moderate, size, offer.format.rank(), is_calm, speed)
    };
    offers.iter().filter(fits).max_by_key(preference).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use PixelFormat::{Jpeg, Nv12, Rgb, Yuyv};

    fn offer(format: PixelFormat, width: u32, height: u32, rate: u32) -> Offer {
        Offer { format, width, height, rate }
    }

    // The list of an ordinary webcam: large raw pictures only slowly.
    #[test]
    fn largest_wins_as_long_as_it_is_quick_enough() {
        let small = offer(Yuyv, 640, 480, 30);
        let slow = offer(Yuyv, 1920, 1080, 2);
        let large = offer(Jpeg, 1920, 1080, 30);
        assert_eq!(choose(&[small, slow, large], None, None), Some(large));
        assert_eq!(choose(&[small, slow], None, None), Some(small));
        assert_eq!(choose(&[slow], None, None), Some(slow), "better slow than none");
        let raw = offer(Yuyv, 1920, 1080, 5);
        assert_eq!(choose(&[small, large, raw], None, None), Some(raw), "the same size without JPEG");
    }

    #[test]
    fn more_pixels_than_help_are_not_taken() {
        let (full, huge, vast) = (offer(Nv12, 1920, 1080, 30), offer(Rgb, 3840, 2160, 30), offer(Rgb, 7680, 4320, 30));
        assert_eq!(choose(&[vast, huge, full], None, None), Some(full));
        assert_eq!(choose(&[vast, huge], None, None), Some(huge), "the least of what is too much");
    }

    #[test]
    fn rate_is_high_but_leaves_time_for_exposure() {
        let at = |rate| offer(Rgb, 640, 480, rate);
        assert_eq!(choose(&[at(60), at(15), at(30), at(120)], None, None), Some(at(30)));
        assert_eq!(choose(&[at(120), at(60)], None, None), Some(at(60)));
        assert_eq!(choose(&[at(1), at(60)], None, None), Some(at(60)));
    }

    #[test]
    fn colour_is_kept_best_at_equal_size() {
        let all = [offer(Jpeg, 640, 480, 30), offer(Nv12, 640, 480, 30), offer(Yuyv, 640, 480, 30), offer(Rgb, 640, 480, 10)];
        assert_eq!(choose(&all, None, None), Some(all[3]));
        assert_eq!(choose(&all[..3], None, None), Some(all[2]));
    }

    #[test]
    fn told_size_and_format_are_kept_to() {
        let all = [offer(Rgb, 640, 480, 30), offer(Jpeg, 1280, 720, 30)];
        assert_eq!(choose(&all, Some((640, 480)), None), Some(all[0]));
        assert_eq!(choose(&all, Some((641, 480)), None), None);
        assert_eq!(choose(&all, None, Some(Rgb)), Some(all[0]));
        assert_eq!(choose(&all, Some((1280, 720)), Some(Rgb)), None);
        assert_eq!(choose(&[], None, None), None);
    }

    #[test]
    fn codes_go_there_and_back() {
        for code in [*b"RGB3", *b"BGR3", *b"YUYV", *b"NV12", *b"MJPG"] {
            let format = PixelFormat::from_fourcc(code).unwrap();
            assert_eq!(format.fourcc().as_bytes(), code);
        }
        assert_eq!(PixelFormat::from_fourcc(*b"GREY"), None);
    }
}
