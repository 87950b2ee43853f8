//! The pipeline: one photo in, one [`reading::Reading`] out.

pub mod frame;
pub mod reading;
pub mod regions;
pub mod request;
pub mod warning;

use frame::Frame;
use reading::{CupReading, Reading};
use request::Request;

/// Reads one photo: finds card and cups (unless told), measures, judges.
#[must_use]
pub fn read(frame: &Frame, request: &Request) -> Reading {
    let regions = regions::locate(frame, request);
    let cups = regions.cups.iter().enumerate().map(|(index, cup)| CupReading::unjudged(index + 1, cup, request.indicator.name)).collect();
    Reading {
        width: frame.upright_width(),
        height: frame.upright_height(),
        card: regions.card,
        light: reading::LightReport::default(),
        warnings: regions.notices,
        cups,
        limits: request.limits,
    }
}
