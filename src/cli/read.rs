//! `tintpoint read`.

use super::args::ReadOptions;
use crate::indicator::catalogue;
use crate::measurement::request::{LightChoice, Limits, Request};
use crate::quantity::{Celsius, IonicStrength, Ph, Reflectance};
use std::io::Write;
use std::process::ExitCode;

pub(crate) fn run(options: &ReadOptions) -> ExitCode {
    let Some(request) = request(options) else { return ExitCode::from(2) };
    let mut out = std::io::stdout().lock();
    for path in &options.photos {
        match crate::photo::load(path) {
            Ok(photo) => {
                let reading = crate::measurement::read(&photo.frame, &request);
                let line = crate::present::json::photo(&path.display().to_string(), &reading);
                if writeln!(out, "{line}").is_err() {
                    return ExitCode::from(1);
                }
            }
            Err(_) => return ExitCode::from(1),
        }
    }
    ExitCode::SUCCESS
}

fn request(options: &ReadOptions) -> Option<Request> {
    let light = match options.light.as_str() {
        "daylight" => LightChoice::Daylight,
        "tungsten" => LightChoice::Tungsten,
        "led" => LightChoice::Led,
        "fluorescent" => LightChoice::Fluorescent,
        _ => LightChoice::Auto,
    };
    Some(Request {
        indicator: catalogue::find(&options.indicator)?,
        light,
        card: options.card,
        card_reflectance: Reflectance::new(options.card_reflectance).ok()?,
        cups: options.cups.clone(),
        ionic_strength: IonicStrength::new(options.ionic_strength).ok()?,
        temperature: Celsius::new(options.temperature).ok()?,
        limits: Limits { nearing: Ph::new(options.nearing).ok()?, spent: Ph::new(options.spent).ok()? },
    })
}
