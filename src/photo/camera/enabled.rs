//! Taking a photo: the steps in order.

use super::average::{MOST_FRAMES, average};
use super::coding::coding;
use super::decode::Layout;
use super::driver::{self, Driver};
use super::format::choose;
use super::grabber::Grabber;
use super::lock::Lock;
use super::look::Look;
use super::settle::{Settling, difference};
use super::steady::{MOST_CHANGE, steadiness};
use super::{CameraError, Device, Plan, Shot, Wanted};
use crate::colour::space::PhotoSpace;
use crate::measurement::frame::{Frame, Orientation, Samples};
use crate::measurement::warning::Notice;
use crate::photo::Photo;
use std::time::Instant;

/// Seconds after which a picture that does not come to rest is taken all the same, and said so.
const LONGEST_WAIT: f64 = 8.0;
/// Frames without a picture in a row that are put up with: cameras begin with torn ones.
const MOST_FAULTS: usize = 10;
/// Change of the light by locking, share, beyond which the camera did not keep its own values and is let go again.
const MOST_JUMP: f64 = 0.10;

pub(super) fn list() -> Result<Vec<Device>, CameraError> {
    let found: Vec<Device> = driver::numbers()
        .into_iter()
        .map(|number| Device { number, name: driver::name(number), offers: Driver::open(number).map(|driver| driver.offers()) })
        .filter(|device| !matches!(device.offers, Err(CameraError::NotACamera { .. } | CameraError::Absent { .. })))
        .collect();
    if found.is_empty() { Err(CameraError::NoCamera) } else { Ok(found) }
}

pub(super) fn plan(wanted: &Wanted) -> Result<Plan, CameraError> {
    if let Some(number) = wanted.device {
        let offers = Driver::open(number)?.offers();
        return chosen(Device { number, name: driver::name(number), offers: Ok(offers) }, wanted);
    }
    let mut first_fault = None;
    for device in list()? {
        match chosen(device, wanted) {
            Ok(plan) => return Ok(plan),
            Err(fault) => first_fault = first_fault.or(Some(fault)),
        }
    }
    Err(first_fault.unwrap_or(CameraError::NoCamera))
}

fn chosen(device: Device, wanted: &Wanted) -> Result<Plan, CameraError> {
    let number = device.number;
    let offers = device.offers?;
    if offers.is_empty() {
        return Err(CameraError::NoFormat { number });
    }
    match choose(&offers, wanted.size, wanted.format) {
        Some(offer) => Ok(Plan { number, name: device.name, offer }),
        None => Err(CameraError::NotOffered { number, asked: asked(wanted) }),
    }
}

/// What was asked for, in words.
fn asked(wanted: &Wanted) -> String {
    let size = wanted.size.map(|(width, height)| format!("{width} x {height} pixels"));
    let format = wanted.format.map(|format| format.fourcc().to_owned());
    [format, size].into_iter().flatten().collect::<Vec<_>>().join(" with ")
}

pub(super) fn take(plan: &Plan, frames: usize) -> Result<Shot, CameraError> {
    Driver::open(plan.number)?.prepare(&plan.offer)?;
    let mut camera = Running::start(plan)?;
    let lock = camera.rest_and_lock()?;
    let taken = camera.frames(frames.clamp(1, MOST_FRAMES));
    lock.open(&mut camera.driver);
    let taken = taken?;
    let looks: Vec<Look> = taken.iter().map(|samples| Look::of(samples, camera.layout.width, camera.layout.height)).collect();
    let steady = steadiness(&looks);
    if !steady.is_enough() {
        return Err(CameraError::Unsteady { change: steady.change, limit: MOST_CHANGE, odd: steady.odd, frames: steady.frames });
    }
    let levels = average(&taken);
    let Layout { width, height, .. } = camera.layout;
    let frame = Frame::new(width, height, Orientation::Upright, Samples::Sixteen(levels.clone()), PhotoSpace::srgb())
        .map_err(|e| CameraError::Failed { number: plan.number, doing: "join its frames", cause: e.to_string() })?;
    let notices = std::mem::take(&mut camera.notices);
    Ok(Shot {
        photo: Photo { frame, taken: None, camera: Some(plan.name.clone()), flash_fired: None, notices },
        levels,
        frames: taken.len(),
        odd: steady.odd,
        is_exposure_locked: lock.exposure,
        is_white_balance_locked: lock.white_balance,
    })
}

/// A camera that sends frames, and the second handle on it.
struct Running {
    number: u32,
    driver: Driver,
    grabber: Grabber,
    layout: Layout,
    notices: Vec<Notice>,
}

impl Running {
    fn start(plan: &Plan) -> Result<Self, CameraError> {
        let grabber = Grabber::start(plan.number, plan.offer)?;
        let driver = Driver::open(plan.number)?;
        let (stride, declared) = driver.stream();
        let (coding, notices) = coding(plan.offer.format, declared.as_ref())?;
        let layout = Layout {
            format: plan.offer.format,
            width: plan.offer.width as usize,
            height: plan.offer.height as usize,
            stride: stride.unwrap_or(0) as usize,
            coding,
        };
        Ok(Running { number: plan.number, driver, grabber, layout, notices })
    }

    /// The next frame that holds a picture.
    fn frame(&mut self) -> Result<Samples, CameraError> {
        let mut faults = 0;
        loop {
            match self.layout.rgb(&self.grabber.next()?.bytes) {
                Ok(samples) => return Ok(samples),
                Err(fault) => {
                    faults += 1;
                    if faults >= MOST_FAULTS {
                        let (number, format) = (self.number, self.layout.format);
                        return Err(CameraError::Undecodable { number, frames: faults, format, cause: fault.to_string() });
                    }
                }
            }
        }
    }

    fn frames(&mut self, count: usize) -> Result<Vec<Samples>, CameraError> {
        (0..count).map(|_| self.frame()).collect()
    }

    /// Mean light of the next frame.
    fn light(&mut self) -> Result<[f64; 3], CameraError> {
        let samples = self.frame()?;
        Ok(Look::of(&samples, self.layout.width, self.layout.height).whole())
    }

    /// Waits until exposure and white balance rest; returns the mean light then, and how much it still changes if it never does.
    fn rest(&mut self) -> Result<([f64; 3], Option<f64>), CameraError> {
        let start = Instant::now();
        let mut settling = Settling::default();
        loop {
            let light = self.light()?;
            let seconds = start.elapsed().as_secs_f64();
            if settling.add(seconds, light) {
                return Ok((light, None));
            }
            if seconds > LONGEST_WAIT && settling.has_enough() {
                return Ok((light, Some(settling.change())));
            }
        }
    }

    /// Waits for rest, then locks. A lock by which the picture jumps is opened again, and rest is waited for once more.
    fn rest_and_lock(&mut self) -> Result<Lock, CameraError> {
        let (before, mut unrest) = self.rest()?;
        let mut lock = Lock::close(&mut self.driver);
        if lock.has_changed() {
            self.grabber.forget();
            let after = match self.light() {
                Ok(light) => light,
                Err(e) => {
                    lock.open(&mut self.driver);
                    return Err(e);
                }
            };
            if difference(before, after) > MOST_JUMP {
                lock.open(&mut self.driver);
                lock = Lock::default();
                self.grabber.forget();
                unrest = self.rest()?.1;
            }
        }
        self.notices.extend(unrest.map(|change| Notice::CameraUnsettled { change }));
        Ok(lock)
    }
}
