//! Many documents in one run: on all cores, told in the order of the inputs, with progress, and ended cleanly.

pub mod in_order;
pub mod interrupt;
pub mod memory;
pub mod one;
pub mod opening;
pub mod progress;

pub use in_order::{Work, in_order, quiet_panics};
pub use interrupt::Interrupt;
pub use memory::Memory;
pub use one::{Checked, Checking, Compared, GivenUp, Subjects, one, told};
pub use opening::{Opening, Ready};
pub use progress::Progress;
