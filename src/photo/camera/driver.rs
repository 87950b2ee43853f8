//! Asks the driver itself, on a handle of its own beside the one that captures: what the node is, what it offers, how it codes colours,
//! its controls. nokhwa answers none of this reliably.

use super::CameraError;
use super::coding::Declared;
use super::format::{Offer, PixelFormat};
use super::lock::Controls;
use linuxvideo::controls::Cid;
use linuxvideo::format::{Format, FrameIntervals, FrameSizes, PixFormat, PixelFormat as Code};
use linuxvideo::{BufType, CapabilityFlags, Device, Fract};
use std::path::PathBuf;

/// A handle on one node.
pub(super) struct Driver {
    number: u32,
    device: Device,
}

/// Numbers of all video nodes, ascending.
pub(super) fn numbers() -> Vec<u32> {
    let Ok(entries) = std::fs::read_dir("/dev") else { return Vec::new() };
    let mut all: Vec<u32> = entries.flatten().filter_map(|entry| entry.file_name().to_str()?.strip_prefix("video")?.parse().ok()).collect();
    all.sort_unstable();
    all
}

/// Name of a node as the kernel tells it, also to those who may not open it. Unknown bytes are replaced.
pub(super) fn name(number: u32) -> String {
    let bytes = std::fs::read(format!("/sys/class/video4linux/video{number}/name")).unwrap_or_default();
    let name = String::from_utf8_lossy(&bytes).trim().to_owned();
    if name.is_empty() { format!("video{number}") } else { name }
}

fn path(number: u32) -> PathBuf {
    PathBuf::from(format!("/dev/video{number}"))
}

impl Driver {
    /// Opens a node that takes pictures.
    pub(super) fn open(number: u32) -> Result<Self, CameraError> {
        let device = Device::open(path(number)).map_err(|e| failed(number, "open it", &e))?;
        let driver = Driver { number, device };
        let able = driver.device.capabilities().map_err(|e| failed(number, "ask what it can do", &e))?.device_capabilities();
        if able.contains(CapabilityFlags::VIDEO_CAPTURE | CapabilityFlags::STREAMING) {
            Ok(driver)
        } else {
            Err(CameraError::NotACamera { number })
        }
    }

    /// Every readable format in every size of its own at every whole rate.
    pub(super) fn offers(&self) -> Vec<Offer> {
        let mut offers = Vec::new();
        for code in self.device.formats(BufType::VIDEO_CAPTURE).flatten().map(|format| format.pixel_format()) {
            let Some(format) = PixelFormat::from_fourcc(code.as_fourcc()) else { continue };
            let Ok(FrameSizes::Discrete(sizes)) = self.device.frame_sizes(code) else { continue };
            for (width, height) in sizes.iter().map(|size| (size.width(), size.height())) {
                offers.extend(self.rates(code, width, height).into_iter().map(|rate| Offer { format, width, height, rate }));
            }
        }
        offers
    }

    /// Rates of the form n frames a second; nokhwa sets no others.
    fn rates(&self, code: Code, width: u32, height: u32) -> Vec<u32> {
        match self.device.frame_intervals(code, width, height) {
            Ok(FrameIntervals::Discrete(all)) => {
                all.iter().map(|each| each.fract()).filter(|f| f.numerator() == 1).map(|f| f.denominator()).collect()
            }
            _ => Vec::new(),
        }
    }

    /// Sets format and rate before nokhwa opens the node: it cannot open one that stands at a format or rate it does not know.
    pub(super) fn prepare(self, offer: &Offer) -> Result<(), CameraError> {
        let number = self.number;
        let code = offer.format.fourcc().as_bytes();
        let code = Code::from_fourcc([code[0], code[1], code[2], code[3]]);
        let asked = PixFormat::new(offer.width, offer.height, code);
        let taken = self.device.video_capture(asked).map_err(|e| failed(number, "set its format", &e))?;
        let format = taken.format();
        if (format.width(), format.height(), format.pixel_format()) != (offer.width, offer.height, code) {
            return Err(CameraError::Refused { number, offer: offer.to_string() });
        }
        // A driver that refuses is found out when nokhwa looks at what was set.
        let _ = taken.set_frame_interval(Fract::new(1, offer.rate));
        Ok(())
    }

    /// Bytes from row to row, and how colours are coded; `None` for what the driver does not tell.
    pub(super) fn stream(&self) -> (Option<u32>, Option<Declared>) {
        match self.device.format(BufType::VIDEO_CAPTURE) {
            Ok(Format::VideoCapture(format)) => (Some(format.bytes_per_line()), Declared::read(&format!("{format:?}"))),
            _ => (None, None),
        }
    }
}

fn failed(number: u32, doing: &'static str, error: &std::io::Error) -> CameraError {
    CameraError::from_system(number, doing, error.raw_os_error(), error.to_string())
}

/// The controls that are locked, by their numbers.
fn control(number: u32) -> Option<Cid> {
    Some(match number {
        0x009a_0901 => Cid::EXPOSURE_AUTO,
        0x009a_0902 => Cid::EXPOSURE_ABSOLUTE,
        0x0098_090c => Cid::AUTO_WHITE_BALANCE,
        0x0098_091a => Cid::WHITE_BALANCE_TEMPERATURE,
        0x0098_0912 => Cid::AUTOGAIN,
        0x0098_0913 => Cid::GAIN,
        _ => return None,
    })
}

impl Controls for Driver {
    fn level(&self, number: u32) -> Option<i32> {
        self.device.read_control_raw(control(number)?).ok()
    }

    fn set(&mut self, number: u32, level: i32) -> bool {
        control(number).is_some_and(|control| self.device.write_control_raw(control, level).is_ok())
    }
}
