//! The number codes of the acquisition sets, both ways.

pub mod distance;
pub mod fraction;
pub mod half;
pub mod stop;
