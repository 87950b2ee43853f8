//! Where the user's data lives.

use super::StoreError;
use etcetera::AppStrategyArgs;
use etcetera::app_strategy::{AppStrategy, choose_app_strategy};
use std::path::PathBuf;

/// Environment variable that names another folder, for tests and for people who keep everything on a stick.
pub const VARIABLE: &str = "TINTPOINT_DATA";

/// The folder for data of this program, which need not exist yet: what [`VARIABLE`] names, else where the system wants it.
///
/// # Errors
/// [`StoreError::NoHome`] when the system names no home.
pub fn data() -> Result<PathBuf, StoreError> {
    if let Some(named) = std::env::var_os(VARIABLE).filter(|named| !named.is_empty()) {
        return Ok(PathBuf::from(named));
    }
    let name = AppStrategyArgs { app_name: "tintpoint".to_owned(), ..AppStrategyArgs::default() };
    choose_app_strategy(name).map(|strategy| strategy.data_dir()).map_err(|_| StoreError::NoHome)
}
