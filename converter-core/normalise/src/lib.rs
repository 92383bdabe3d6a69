//! The only place where units change.
//!
//! [`Normaliser`] turns what a plugin delivered, in the source's units and with names
//! unchecked, into [`Piece`](ringmark_model::Piece)s in the canonical units.
//! [`ForWriter`] goes the other way: it gives a writer what its manifest says the format
//! can carry, in the units it asks for, and keeps account of what is lost.

mod error;
mod for_writer;
mod frames;
mod from_facts;
mod lens;
mod normaliser;
mod range;
mod reference;
mod ring;
mod take;
mod to_facts;
mod units;

pub use error::NormaliseError;
pub use for_writer::ForWriter;
pub use normaliser::Normaliser;
