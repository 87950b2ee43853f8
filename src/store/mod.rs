//! What outlives a run: files that are never seen half-written.

pub mod whole;
