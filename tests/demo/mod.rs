//! The demo photos, made by the program itself.

use std::process::Command;
use std::sync::{Arc, Mutex, PoisonError, Weak};
use tempfile::TempDir;

/// A folder with them, to be read only: made once for tests that run side by side, since it takes seconds, and removed with the last.
pub(crate) fn photos() -> Arc<TempDir> {
    static MADE: Mutex<Weak<TempDir>> = Mutex::new(Weak::new());
    let mut made = MADE.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(folder) = made.upgrade() {
        return folder;
    }
    let folder = Arc::new(tempfile::tempdir().unwrap());
    let output = Command::new(env!("CARGO_BIN_EXE_tintpoint")).arg("demo").arg(folder.path()).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    *made = Arc::downgrade(&folder);
    folder
}
