//! Frames from nokhwa, in a thread of their own: a frame that never comes blocks nokhwa for ever, but not the program.
//!
//! The thread takes every frame, so that none grows old in the driver's queue, and hands one over whenever one is wanted.

use super::CameraError;
use super::error::system_code;
use super::format::{Offer, PixelFormat};
use nokhwa::Camera;
use nokhwa::utils::{CameraFormat, CameraIndex, FrameFormat, RequestedFormat, RequestedFormatType, Resolution};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Seconds without a frame after which a camera counts as silent. Slow ones need two or three for the first frame.
pub(super) const PATIENCE: u64 = 6;
/// Time in which the last frame comes at the slowest rate that is chosen by itself, five a second, with as much again to spare.
const LAST_FRAME: Duration = Duration::from_millis(400);
/// Old frames after a change: the driver holds four buffers (v4l's default, which nokhwa uses), one of which may be half new.
const OLD: u64 = 4;

/// One frame as it came.
pub(super) struct Raw {
    /// Counted from 1.
    pub(super) number: u64,
    /// The whole buffer; a JPEG does not fill it.
    pub(super) bytes: Vec<u8>,
}

/// What both sides of the thread share.
#[derive(Default)]
struct Shared {
    is_wanted: AtomicBool,
    is_over: AtomicBool,
    /// Frames taken so far.
    taken: AtomicU64,
}

/// A running camera.
pub(super) struct Grabber {
    device: u32,
    frames: Receiver<Result<Raw, String>>,
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
    /// Frames up to this number are old.
    old: u64,
}

impl Grabber {
    /// Opens the camera in this format and starts it; returns once it runs.
    pub(super) fn start(device: u32, offer: Offer) -> Result<Self, CameraError> {
        let shared = Arc::new(Shared::default());
        let (sender, frames) = sync_channel(1);
        let theirs = Arc::clone(&shared);
        let thread = std::thread::Builder::new()
            .name("camera".to_owned())
            .spawn(move || run(device, offer, &sender, &theirs))
            .map_err(|e| CameraError::Failed { number: device, doing: "start a thread", cause: e.to_string() })?;
        let mut grabber = Grabber { device, frames, shared, thread: Some(thread), old: OLD };
        grabber.receive("start it")?;
        Ok(grabber)
    }

    /// The next frame of the present scene.
    pub(super) fn next(&mut self) -> Result<Raw, CameraError> {
        loop {
            self.shared.is_wanted.store(true, Ordering::SeqCst);
            let raw = self.receive("take a frame")?;
            if raw.number > self.old {
                return Ok(raw);
            }
        }
    }

    /// Scene or camera has changed: frames already under way do not count.
    pub(super) fn forget(&mut self) {
        self.old = self.shared.taken.load(Ordering::SeqCst) + OLD;
    }

    fn receive(&mut self, doing: &'static str) -> Result<Raw, CameraError> {
        let number = self.device;
        match self.frames.recv_timeout(Duration::from_secs(PATIENCE)) {
            Ok(Ok(raw)) => Ok(raw),
            Ok(Err(text)) => Err(CameraError::from_system(number, doing, system_code(&text), text)),
            Err(RecvTimeoutError::Timeout) => {
                // The thread hangs in the driver and ends with the program.
                self.thread = None;
                Err(CameraError::NoFrames { number, seconds: PATIENCE })
            }
            Err(RecvTimeoutError::Disconnected) => {
                Err(CameraError::Failed { number, doing, cause: "the driver's answer could not be understood".to_owned() })
            }
        }
    }
}

impl Drop for Grabber {
    fn drop(&mut self) {
        self.shared.is_over.store(true, Ordering::SeqCst);
        // A frame's time, since it was sending; the camera is then free for others. One that has just fallen silent is left behind.
        if let Some(thread) = self.thread.take() {
            let start = Instant::now();
            while !thread.is_finished() && start.elapsed() < LAST_FRAME {
                std::thread::sleep(Duration::from_millis(5));
            }
        }
    }
}

fn frame_format(format: PixelFormat) -> FrameFormat {
    match format {
        PixelFormat::Rgb => FrameFormat::RAWRGB,
        PixelFormat::Bgr => FrameFormat::RAWBGR,
        PixelFormat::Yuyv => FrameFormat::YUYV,
        PixelFormat::Nv12 => FrameFormat::NV12,
        PixelFormat::Jpeg => FrameFormat::MJPEG,
    }
}

/// The thread: a message once the camera runs, then a frame whenever one is wanted, until it is over or fails.
fn run(device: u32, offer: Offer, sender: &SyncSender<Result<Raw, String>>, shared: &Shared) {
    let format = frame_format(offer.format);
    let exact = CameraFormat::new(Resolution::new(offer.width, offer.height), format, offer.rate);
    let formats = [format];
    let asked = RequestedFormat::with_formats(RequestedFormatType::Exact(exact), &formats);
    let opened = Camera::new(CameraIndex::Index(device), asked).and_then(|mut camera| camera.open_stream().map(|()| camera));
    let mut camera = match opened {
        Ok(camera) => camera,
        Err(e) => {
            let _ = sender.send(Err(e.to_string()));
            return;
        }
    };
    if sender.send(Ok(Raw { number: 0, bytes: Vec::new() })).is_err() {
        return;
    }
    while !shared.is_over.load(Ordering::SeqCst) {
        match camera.frame() {
            Ok(buffer) => {
                let number = shared.taken.fetch_add(1, Ordering::SeqCst) + 1;
                if shared.is_wanted.swap(false, Ordering::SeqCst)
                    && sender.send(Ok(Raw { number, bytes: buffer.buffer().to_vec() })).is_err()
                {
                    return;
                }
            }
            Err(e) => {
                let _ = sender.send(Err(e.to_string()));
                // Closing a camera that is gone panics inside the library; the system closes it with the program.
                std::mem::forget(camera);
                return;
            }
        }
    }
}
