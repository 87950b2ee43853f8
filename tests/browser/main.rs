//! The page in a real browser: Debian's Chromium, headless, through WebDriver. Without it these tests say that they were skipped.

#![allow(clippy::unwrap_used, clippy::print_stderr, reason = "a test that cannot go on has failed; a skipped one says so")]

mod club;
#[path = "../demo/mod.rs"]
mod demo;
mod driver;
mod walks;

use driver::{Browser, Served, axe};
use std::path::Path;

/// What a walk starts with.
struct Scene {
    browser: Browser,
    /// Width of the screen, CSS pixels.
    width: u32,
    served: Served,
    /// Demo photos.
    photos: std::sync::Arc<tempfile::TempDir>,
}

static TURN: std::sync::Mutex<()> = std::sync::Mutex::new(());

/// Runs a walk in a browser of its own, or says why not.
fn walk<F>(arguments: &[&str], size: (u32, u32), steps: F)
where
    F: AsyncFnOnce(&Scene),
{
    let missing: Vec<&str> = ["chromium", "chromedriver"].into_iter().filter(|name| !is_there(name)).collect();
    if !missing.is_empty() || axe().is_none() {
        eprintln!("skipped: no {}", if missing.is_empty() { "axe.min.js (see .ci/prepare)".to_owned() } else { missing.join(", ") });
        return;
    }
    // Before the turn, so that those who wait keep the photos for each other.
    let photos = demo::photos();
    // One browser at a time: each takes all the processors there are.
    let _turn = TURN.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let served = Served::start(arguments);
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let browser = Browser::start(size).await;
        let scene = Scene { browser, width: size.0, served, photos };
        steps(&scene).await;
        scene.browser.end(&scene.served).await;
    });
}

fn is_there(program: &str) -> bool {
    std::env::var_os("PATH").is_some_and(|path| std::env::split_paths(&path).any(|folder| folder.join(program).is_file()))
}

impl Scene {
    fn photo(&self, name: &str) -> String {
        Path::new(self.photos.path()).join(name).to_str().unwrap().to_owned()
    }
}
