//! The program `ringmark`, as a library so that it can be tested and measured from outside.

pub mod args;
pub mod calibrate;
pub mod commands;
pub mod derive;
pub mod document;
pub mod exit;
pub mod folders;
pub mod formats;
pub mod frames;
pub mod hash;
pub mod inputs;
pub mod mapping;
pub mod options;
pub mod pipeline;
pub mod save;
pub mod screen;
pub mod sections;
pub mod sequence;
pub mod session;
pub mod writer;
