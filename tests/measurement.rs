//! The measuring core through its public interface: model and fit, what follows from a mixture, what is taken from pixels, whole photos.
//!
//! Everything is drawn from fixed seeds. No test asks for more than a few seconds.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

#[path = "measurement/fit.rs"]
mod fit;
#[path = "measurement/jacobian.rs"]
mod jacobian;
#[path = "measurement/judgement.rs"]
mod judgement;
#[path = "measurement/photos.rs"]
mod photos;
#[path = "measurement/quality.rs"]
mod quality;
#[path = "measurement/rows.rs"]
mod rows;
#[path = "measurement/samples.rs"]
mod samples;
#[path = "measurement/table.rs"]
mod table;

use tintpoint::indicator::{Indicator, catalogue};

/// The dye of most photographic stop baths.
fn purple() -> &'static Indicator {
    catalogue::find("bromocresol-purple").unwrap()
}
