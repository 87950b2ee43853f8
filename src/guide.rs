//! A guide for users, page by page. Its commands are run by the tests.
//!
//! 1. [`first_reading`]: from the cup to the word.
//! 2. [`better_readings`]: what narrows the interval.
//! 3. [`calibrating`]: buffers, and what they are worth.
//! 4. [`keeping_a_bath`]: from mixing to pouring away.
//! 5. [`teaching`]: with a class.

#[doc = include_str!("guide/first_reading.md")]
pub mod first_reading {}

#[doc = include_str!("guide/better_readings.md")]
pub mod better_readings {}

#[doc = include_str!("guide/calibrating.md")]
pub mod calibrating {}

#[doc = include_str!("guide/keeping_a_bath.md")]
pub mod keeping_a_bath {}

#[doc = include_str!("guide/teaching.md")]
pub mod teaching {}
