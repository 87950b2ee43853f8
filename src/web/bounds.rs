//! How much and how slowly devices may ask.

use std::time::Duration;

/// Bounds on connections.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bounds {
    /// Connections at once.
    pub connections: usize,
    /// Connections of one device at once; a phone opens up to six.
    pub of_one: usize,
    /// A request whose head is not there by then is dropped, and so is a connection that asks for nothing.
    pub head: Duration,
    /// A sender of a photo that is silent for this long has gone; a form of words alone must be there by then.
    pub silence: Duration,
    /// Nothing on a page takes this long, also over a slow network.
    pub whole: Duration,
}

impl Default for Bounds {
    fn default() -> Self {
        Bounds {
            connections: 512,
            of_one: 64,
            head: Duration::from_secs(10),
            silence: Duration::from_secs(15),
            whole: Duration::from_secs(300),
        }
    }
}
