//! The thin layer between the component's exports and the traits of this crate.

use std::cell::RefCell;
use std::marker::PhantomData;

use crate::bindings::exports::ringmark::format::{about, reader, writer};
use crate::bindings::ringmark::format::host;
use crate::{Failure, Format, Input, Item, Output, Reader, Writer, failure};

impl Input for host::Source {
    fn name(&self) -> String {
        host::Source::name(self)
    }
    fn size(&self) -> u64 {
        host::Source::size(self)
    }
    fn read(&self, offset: u64, length: u32) -> Vec<u8> {
        host::Source::read(self, offset, length)
    }
    fn handle(&self) -> Option<&host::Source> {
        Some(self)
    }
}

/// An output of the host.
struct HostSink(host::Sink);

impl Output for HostSink {
    fn write(&mut self, bytes: &[u8]) {
        self.0.write(bytes);
    }
    fn copy_from(&mut self, template: &dyn Input, offset: u64, length: u64) {
        if let Some(source) = template.handle() {
            return self.0.copy_from(source, offset, length);
        }
        // An input that the plugin made up: its bytes are here.
        let mut at = offset;
        let end = offset.saturating_add(length);
        while at < end {
            let wanted = u32::try_from(end - at).unwrap_or(u32::MAX).min(1 << 20);
            let chunk = template.read(at, wanted);
            if chunk.is_empty() {
                break;
            }
            at += chunk.len() as u64;
            self.0.write(&chunk);
        }
    }
}

fn inputs(sources: Vec<host::Source>) -> Vec<Box<dyn Input>> {
    sources
        .into_iter()
        .map(|source| Box::new(source) as Box<dyn Input>)
        .collect()
}

/// Sends the text of a panic to the host: without it the author sees only 'unreachable'.
fn report_panics() {
    static ONCE: std::sync::Once = std::sync::Once::new();
    ONCE.call_once(|| {
        std::panic::set_hook(Box::new(|info| host::log("error", &info.to_string())));
    });
}

/// A plugin as the component exports it.
pub struct Exported<P>(PhantomData<P>);

/// One reading, as the component exports it.
pub struct ReadSession<P>(RefCell<P>);

/// One writing, as the component exports it.
pub struct WriteSession<P>(RefCell<P>);

/// A plugin: two session types, since each kind has its own state.
pub trait Plugin: Format + 'static {
    /// The reading half.
    type Read: Reader + 'static;
    /// The writing half; [`ReadOnly`] where there is none.
    type Write: Writer + 'static;
}

/// The writing half of a plugin that only reads.
pub struct ReadOnly;

impl Writer for ReadOnly {
    fn open(_: Vec<Box<dyn Output>>, _: Vec<Box<dyn Input>>, _: &str) -> Result<Self, Failure> {
        Err(failure(
            "this plugin only reads",
            "choose another target format",
            None,
        ))
    }
    fn put(&mut self, _: Item) -> Result<(), Failure> {
        Ok(())
    }
    fn finish(&mut self) -> Result<(), Failure> {
        Ok(())
    }
}

impl<P: Format> about::Guest for Exported<P> {
    fn describe() -> String {
        P::MANIFEST.to_owned()
    }
    fn recognise(name: String, head: Vec<u8>) -> u32 {
        report_panics();
        P::recognise(&name, &head)
    }
}

impl<P: Plugin> reader::Guest for Exported<P> {
    type Session = ReadSession<P::Read>;
}

impl<P: Plugin> writer::Guest for Exported<P> {
    type Session = WriteSession<P::Write>;
}

impl<R: Reader + 'static> reader::GuestSession for ReadSession<R> {
    fn open(sources: Vec<host::Source>, options: String) -> Result<reader::Session, Failure> {
        report_panics();
        R::open(inputs(sources), &options)
            .map(|session| reader::Session::new(ReadSession(RefCell::new(session))))
    }
    fn next(&self) -> Result<Option<Item>, Failure> {
        self.0.borrow_mut().next()
    }
}

impl<W: Writer + 'static> writer::GuestSession for WriteSession<W> {
    fn open(
        outputs: Vec<host::Sink>,
        templates: Vec<host::Source>,
        options: String,
    ) -> Result<writer::Session, Failure> {
        report_panics();
        let outputs = outputs
            .into_iter()
            .map(|sink| Box::new(HostSink(sink)) as Box<dyn Output>)
            .collect();
        W::open(outputs, inputs(templates), &options)
            .map(|session| writer::Session::new(WriteSession(RefCell::new(session))))
    }
    fn put(&self, item: Item) -> Result<(), Failure> {
        self.0.borrow_mut().put(item)
    }
    fn finish(&self) -> Result<(), Failure> {
        self.0.borrow_mut().finish()
    }
}

/// Exports a type that implements [`Plugin`](crate::shell::Plugin). Does nothing outside wasm:
/// the exported names are not legal in a native library.
#[macro_export]
macro_rules! export_plugin {
    ($plugin:ty) => {
        #[cfg(target_arch = "wasm32")]
        #[allow(unsafe_code, missing_docs)]
        mod exported {
            type Exported = $crate::shell::Exported<$plugin>;
            $crate::bindings::export_world!(Exported with_types_in $crate::bindings);
        }
    };
}
