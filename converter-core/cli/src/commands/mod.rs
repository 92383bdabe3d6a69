//! One file a command.

pub mod check;
pub mod completions;
pub mod convert;
pub mod drift;
pub mod explain;
pub mod formats;
pub mod man;
pub mod plan;
pub mod plugin;
pub mod ring;
pub mod show;
pub mod st_map;
pub mod transfer;
