//! The page for the phone: the same engine and words as the command line, behind a small web server.
//!
//! [`server`] holds the only socket; everything else turns a request value into a response value. `guard` lets in whom it may,
//! `upload` takes a photo within limits, `check` reads it, `shelf` keeps it for a while in memory, `pages` has the layout.
//! No part of a request is ever used as the name of a file, but for the name of a profile, which can hold neither dots nor slashes.

mod app;
pub mod bounds;
mod check;
mod crowd;
mod fields;
mod guard;
mod ladder;
mod once;
mod pages;
mod pairing;
mod problem;
mod routes;
mod seen;
pub mod server;
mod settings;
mod shelf;
mod token;
mod upload;

pub use app::App;
pub use routes::router;
pub use token::NoRandomness;
