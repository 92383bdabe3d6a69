//! Inputs and outputs for tests, fuzzing and measurements outside the sandbox.

use std::cell::RefCell;
use std::rc::Rc;

use crate::{Failure, Input, Item, Output, Reader};

/// An input held in memory.
pub struct MemoryInput {
    name: String,
    bytes: Rc<[u8]>,
}

impl MemoryInput {
    /// An input called `name` with these bytes.
    pub fn boxed(name: &str, bytes: impl Into<Rc<[u8]>>) -> Box<dyn Input> {
        Box::new(MemoryInput {
            name: name.to_owned(),
            bytes: bytes.into(),
        })
    }
}

impl Input for MemoryInput {
    fn name(&self) -> String {
        self.name.clone()
    }
    fn size(&self) -> u64 {
        self.bytes.len() as u64
    }
    fn read(&self, offset: u64, length: u32) -> Vec<u8> {
        let size = self.bytes.len();
        let start = usize::try_from(offset).unwrap_or(size).min(size);
        let end = start.saturating_add(length as usize).min(size);
        self.bytes[start..end].to_vec()
    }
}

/// An output held in memory; clones share the bytes.
#[derive(Clone, Default)]
pub struct MemoryOutput(Rc<RefCell<Vec<u8>>>);

impl MemoryOutput {
    /// What was written so far.
    pub fn bytes(&self) -> Vec<u8> {
        self.0.borrow().clone()
    }
    /// The same output for handing to a writer.
    pub fn boxed(&self) -> Box<dyn Output> {
        Box::new(self.clone())
    }
}

impl Output for MemoryOutput {
    fn write(&mut self, bytes: &[u8]) {
        self.0.borrow_mut().extend_from_slice(bytes);
    }
    fn copy_from(&mut self, template: &dyn Input, offset: u64, length: u64) {
        let bytes = template.read(offset, u32::try_from(length).unwrap_or(u32::MAX));
        self.0.borrow_mut().extend_from_slice(&bytes);
    }
}

/// All items of one input.
pub fn read_all<R: Reader>(name: &str, bytes: &[u8], options: &str) -> Result<Vec<Item>, Failure> {
    let mut reader = R::open(vec![MemoryInput::boxed(name, bytes)], options)?;
    let mut items = Vec::new();
    while let Some(item) = reader.next()? {
        items.push(item);
    }
    Ok(items)
}
