//! What a bath has been through, and what that leaves of it.

pub mod life;
