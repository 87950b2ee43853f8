//! Reads the pH of a photographic stop bath from a photo of its indicator beside a grey card.
//!
//! The way of the data, one stage a module:
//!
//! photo bytes -> [`measurement::frame::Frame`] -> [`measurement::regions::Regions`] -> ring values
//! -> fit of a spectral model -> posterior over the base fraction -> pH with an interval -> state
//! -> [`measurement::reading::Reading`] -> report.
//!
//! Who wants to use the program rather than its code begins with the [`guide`].

pub mod quantity;

pub mod colour;

pub mod indicator;

pub mod chemistry;

pub mod cost;

pub mod placement;

pub mod measurement;

pub mod logbook;

pub mod scene;

pub mod calibration;

pub mod photo;

pub mod store;

pub mod present;

pub mod desk;

pub mod web;

pub mod guide;

#[doc(hidden)]
pub mod cli;
