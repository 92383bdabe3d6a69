//! The traits that a plugin implements.

use crate::{Datum, Fact, Failure, Item, Place};

/// One input file, as bytes.
pub trait Input {
    /// File name without its folder.
    fn name(&self) -> String;
    /// Length in bytes.
    fn size(&self) -> u64;
    /// Bytes from `offset`; fewer than `length` mean the end of the file.
    fn read(&self, offset: u64, length: u32) -> Vec<u8>;
    /// The host's handle where this is one of its files: copying from it needs no bytes here.
    #[doc(hidden)]
    fn handle(&self) -> Option<&crate::bindings::ringmark::format::host::Source> {
        None
    }
}

/// One output file.
pub trait Output {
    /// Appends bytes.
    fn write(&mut self, bytes: &[u8]);
    /// Appends bytes of a template, which do not pass through the plugin.
    fn copy_from(&mut self, template: &dyn Input, offset: u64, length: u64);
}

/// Who the plugin is.
pub trait Format {
    /// The manifest as JSON, usually `include_str!("../manifest.json")`.
    const MANIFEST: &'static str;
    /// How sure the plugin is that it can read this file: 0 no, 100 certain.
    fn recognise(name: &str, head: &[u8]) -> u32;
}

/// Reads files into items.
pub trait Reader: Sized {
    /// Starts reading. `options` is a JSON object that fits the manifest's option schema.
    fn open(inputs: Vec<Box<dyn Input>>, options: &str) -> Result<Self, Failure>;
    /// The next item, `None` at the end. Keep batches between 1,000 and 8,000 frames.
    fn next(&mut self) -> Result<Option<Item>, Failure>;
}

/// Writes items into files.
pub trait Writer: Sized {
    /// Starts writing. `templates` are files that the outputs shall be copies of, where the format works so.
    fn open(
        outputs: Vec<Box<dyn Output>>,
        templates: Vec<Box<dyn Input>>,
        options: &str,
    ) -> Result<Self, Failure>;
    /// Takes the next item, in the units that the manifest asks for.
    fn put(&mut self, item: Item) -> Result<(), Failure>;
    /// Writes what is left.
    fn finish(&mut self) -> Result<(), Failure>;
}

/// A failure with what the person should do about it, and its place where there is one.
pub fn failure(message: impl Into<String>, help: impl Into<String>, at: Option<Place>) -> Failure {
    Failure {
        message: message.into(),
        help: help.into(),
        at,
    }
}

/// A fact with a text value.
pub fn fact(name: impl Into<String>, text: impl Into<String>, at: Option<Place>) -> Fact {
    Fact {
        name: name.into(),
        value: Datum::Text(text.into()),
        unit: String::new(),
        at,
    }
}
