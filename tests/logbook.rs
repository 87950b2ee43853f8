//! The logbook as a user meets it: the real program, real files, real kills.

// A test that cannot do its work must stop.
#![allow(clippy::unwrap_used)]
#![allow(clippy::print_stdout, reason = "what was skipped, and how often was killed, is shown with --nocapture")]

#[path = "logbook/bench.rs"]
mod bench;
#[path = "logbook/cost.rs"]
mod cost;
// Permissions and small disks as Unix has them.
#[cfg(unix)]
#[path = "logbook/damage.rs"]
mod damage;
#[cfg(unix)]
mod disk;
#[path = "logbook/exchange.rs"]
mod exchange;
#[path = "logbook/kills.rs"]
mod kills;
#[path = "logbook/photos.rs"]
mod photos;
#[path = "logbook/record.rs"]
mod record;
#[path = "logbook/versions.rs"]
mod versions;
