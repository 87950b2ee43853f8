//! `tintpoint snap --list`.

use crate::cli::failure::Status;
use crate::cli::output::{self, Output};
use crate::photo::camera::format::{Offer, choose};
use crate::photo::camera::{self, CameraError, Device};
use crate::present::words;
use std::io;

/// Tells all cameras.
pub(super) fn list() -> io::Result<Status> {
    match camera::list() {
        Ok(devices) => {
            let all: String = devices.iter().map(described).collect();
            Output::new().put(&all)?;
            Ok(Status::Judged)
        }
        Err(error) => {
            output::complain(&error.to_string(), Some(error.hint()));
            Ok(Status::Failed)
        }
    }
}

/// A camera with a line for each format and size, and the one that would be taken.
fn described(device: &Device) -> String {
    let mut text = format!("camera {}: {}\n", device.number, words::printable(&device.name));
    match &device.offers {
        Err(error) => text.push_str(&format!("  {error}\n  hint: {}\n", error.hint())),
        Ok(offers) => {
            let is_same = |a: &Offer, b: &Offer| (a.format, a.width, a.height) == (b.format, b.width, b.height);
            for group in offers.chunk_by(is_same) {
                let rates: Vec<String> = group.iter().map(|offer| offer.rate.to_string()).collect();
                let first = group[0];
                let (code, rates) = (first.format.fourcc(), rates.join(", "));
                text.push_str(&format!("  {code} {}x{} at {rates} frames a second\n", first.width, first.height));
            }
            match choose(offers, None, None) {
                Some(offer) => text.push_str(&format!("  taken unless told otherwise: {offer}\n")),
                None => text.push_str(&format!("  {}\n", CameraError::NoFormat { number: device.number })),
            }
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::camera::format::PixelFormat;

    #[test]
    fn a_list_names_sizes_and_the_choice() {
        let offer = |format, rate| Offer { format, width: 640, height: 480, rate };
        let offers = vec![offer(PixelFormat::Yuyv, 30), offer(PixelFormat::Yuyv, 15), offer(PixelFormat::Jpeg, 30)];
        let text = described(&Device { number: 2, name: "desk\u{1b}[31m".to_owned(), offers: Ok(offers) });
        assert!(text.starts_with("camera 2: desk?[31m\n"), "{text}");
        assert!(text.contains("YUYV 640x480 at 30, 15 frames a second\n") && text.contains("otherwise: YUYV 640x480 at 30"), "{text}");
        let shut = described(&Device { number: 3, name: "desk".to_owned(), offers: Err(CameraError::NoPermission { number: 3 }) });
        assert!(shut.contains("no permission") && shut.contains("hint: "), "{shut}");
    }
}
