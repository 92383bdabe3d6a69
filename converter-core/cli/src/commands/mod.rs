//! One file a command.

pub mod check;
pub mod convert;
pub mod explain;
pub mod formats;
pub mod plugin;
pub mod show;
