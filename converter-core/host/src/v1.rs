//! Contract 1.x.

mod items;

use ringmark_model::raw;
use wasmtime::Store;
use wasmtime::component::{Component, HasSelf, InstancePre, Linker, Resource, ResourceAny};

use crate::engine::{Engine, guarded};
use crate::error::HostError;
use crate::ledger::failure;
use crate::session::{Contract, ReadSession, WriteSession};
use crate::state::State;

wasmtime::component::bindgen!({
    path: "../../plugins/contract/v1",
    world: "format-reader-writer",
    imports: { default: trappable },
    with: {
        "ringmark:format/host.source": Source,
        "ringmark:format/host.sink": Sink,
    },
});

use exports::ringmark::format::{about, reader, writer};
use ringmark::format::{host, types};

/// Mark of handles to inputs; the handle's number is the index in [`State::inputs`].
pub struct Source;
/// Mark of handles to outputs; the handle's number is the index in [`State::outputs`].
pub struct Sink;

/// A compiled plugin of contract 1.x, its imports resolved.
pub(crate) struct V1 {
    before_start: InstancePre<State>,
    about: about::GuestIndices,
    reader: Option<reader::GuestIndices>,
    writer: Option<writer::GuestIndices>,
}

impl V1 {
    /// Resolves the imports. Nothing of the plugin runs yet.
    pub fn new(plugin: &str, engine: &Engine, component: &Component) -> Result<Self, HostError> {
        let unsupported = |error: wasmtime::Error| {
            HostError::unsupported(
                plugin,
                format!("it does not fit contract 1.0: {}", whole(&error)),
            )
        };
        let mut linker = Linker::new(&engine.engine);
        host::add_to_linker::<State, HasSelf<State>>(&mut linker, |state| state)
            .map_err(unsupported)?;
        let before_start = linker.instantiate_pre(component).map_err(unsupported)?;
        let about = about::GuestIndices::new(&before_start).map_err(unsupported)?;
        // What is missing is no error until it is wanted.
        let reader = exported(component, "reader")
            .then(|| reader::GuestIndices::new(&before_start))
            .transpose()
            .map_err(unsupported)?;
        let writer = exported(component, "writer")
            .then(|| writer::GuestIndices::new(&before_start))
            .transpose()
            .map_err(unsupported)?;
        Ok(V1 {
            before_start,
            about,
            reader,
            writer,
        })
    }
}

fn exported(component: &Component, interface: &str) -> bool {
    let name = format!("ringmark:format/{interface}@1.0.0");
    component.get_export_index(None, &name).is_some()
}

/// An error of linking with all its causes: the outer ones name the import or export.
fn whole(error: &wasmtime::Error) -> String {
    let causes: Vec<String> = error.chain().map(ToString::to_string).collect();
    crate::text::clean_text(&causes.join(": "), 1000)
}

impl Contract for V1 {
    fn describe(&self, mut store: Store<State>) -> Result<String, HostError> {
        guarded(&mut store, |store| {
            let instance = self.before_start.instantiate(&mut *store)?;
            let about = self.about.load(&mut *store, &instance)?;
            about.call_describe(store)
        })
    }

    fn recognise(
        &self,
        mut store: Store<State>,
        name: &str,
        head: &[u8],
    ) -> Result<u32, HostError> {
        guarded(&mut store, |store| {
            let instance = self.before_start.instantiate(&mut *store)?;
            let about = self.about.load(&mut *store, &instance)?;
            about.call_recognise(store, name, head)
        })
    }

    fn read(
        &self,
        mut store: Store<State>,
        options: &str,
    ) -> Result<Box<dyn ReadSession>, HostError> {
        let Some(indices) = &self.reader else {
            let plugin = &store.data().plugin;
            return Err(HostError::unsupported(plugin, "it has no reader"));
        };
        let inputs = sources(&store);
        let (guest, opened) = guarded(&mut store, |store| {
            let instance = self.before_start.instantiate(&mut *store)?;
            let guest = indices.load(&mut *store, &instance)?;
            let opened = guest.session().call_open(store, &inputs, options)?;
            Ok((guest, opened))
        })?;
        match opened {
            Ok(session) => Ok(Box::new(Reader {
                store,
                guest,
                session,
            })),
            Err(error) => Err(failed(error, &mut store)),
        }
    }

    fn write(
        &self,
        mut store: Store<State>,
        options: &str,
    ) -> Result<Box<dyn WriteSession>, HostError> {
        let Some(indices) = &self.writer else {
            let plugin = &store.data().plugin;
            return Err(HostError::unsupported(plugin, "it has no writer"));
        };
        let templates = sources(&store);
        let outputs: Vec<Resource<Sink>> = (0..store.data().outputs.len() as u32)
            .map(Resource::new_own)
            .collect();
        let (guest, opened) = guarded(&mut store, |store| {
            let instance = self.before_start.instantiate(&mut *store)?;
            let guest = indices.load(&mut *store, &instance)?;
            let opened = guest
                .session()
                .call_open(store, &outputs, &templates, options)?;
            Ok((guest, opened))
        })?;
        match opened {
            Ok(session) => Ok(Box::new(Writer {
                store,
                guest,
                session,
            })),
            Err(error) => Err(failed(error, &mut store)),
        }
    }
}

fn sources(store: &Store<State>) -> Vec<Resource<Source>> {
    (0..store.data().inputs.count() as u32)
        .map(Resource::new_own)
        .collect()
}

fn failed(error: types::Failure, store: &mut Store<State>) -> HostError {
    let place = error.at.map(raw::RawPlace::from);
    failure(&error.message, &error.help, place, store.data_mut())
}

/// A file being read. Its handle is never given back to the plugin: the whole instance goes.
struct Reader {
    store: Store<State>,
    guest: reader::Guest,
    session: ResourceAny,
}

impl ReadSession for Reader {
    fn next(&mut self) -> Result<Option<raw::RawItem>, HostError> {
        let (guest, session) = (&self.guest, self.session);
        let item = guarded(&mut self.store, |store| {
            guest.session().call_next(store, session)
        })?;
        match item {
            Ok(item) => Ok(item.map(raw::RawItem::from)),
            Err(error) => Err(failed(error, &mut self.store)),
        }
    }

    fn state(&mut self) -> &mut State {
        self.store.data_mut()
    }
}

/// Files being written.
struct Writer {
    store: Store<State>,
    guest: writer::Guest,
    session: ResourceAny,
}

impl WriteSession for Writer {
    fn put(&mut self, item: raw::RawItem) -> Result<(), HostError> {
        let (guest, session) = (&self.guest, self.session);
        let item = types::Item::from(item);
        let result = guarded(&mut self.store, |store| {
            guest.session().call_put(store, session, &item)
        })?;
        result.map_err(|error| failed(error, &mut self.store))
    }

    fn finish(&mut self) -> Result<(), HostError> {
        let (guest, session) = (&self.guest, self.session);
        let result = guarded(&mut self.store, |store| {
            guest.session().call_finish(store, session)
        })?;
        result.map_err(|error| failed(error, &mut self.store))
    }

    fn state(&mut self) -> &mut State {
        self.store.data_mut()
    }
}

impl host::Host for State {
    fn log(&mut self, level: String, text: String) -> wasmtime::Result<()> {
        self.count_call()?;
        self.log.push(&level, &text);
        Ok(())
    }
}

impl host::HostSource for State {
    fn name(&mut self, source: Resource<Source>) -> wasmtime::Result<String> {
        self.count_call()?;
        Ok(self.inputs.name(source.rep()))
    }

    fn size(&mut self, source: Resource<Source>) -> wasmtime::Result<u64> {
        self.count_call()?;
        State::size(self, source.rep())
    }

    fn read(
        &mut self,
        source: Resource<Source>,
        offset: u64,
        length: u32,
    ) -> wasmtime::Result<Vec<u8>> {
        self.count_call()?;
        State::read(self, source.rep(), offset, length)
    }

    fn drop(&mut self, source: Resource<Source>) -> wasmtime::Result<()> {
        self.inputs.rest(source.rep());
        Ok(())
    }
}

impl host::HostSink for State {
    fn write(&mut self, sink: Resource<Sink>, bytes: Vec<u8>) -> wasmtime::Result<()> {
        self.count_call()?;
        State::write(self, sink.rep(), &bytes)
    }

    fn copy_from(
        &mut self,
        sink: Resource<Sink>,
        origin: Resource<Source>,
        offset: u64,
        length: u64,
    ) -> wasmtime::Result<()> {
        self.count_call()?;
        self.copy(sink.rep(), origin.rep(), offset, length)
    }

    fn drop(&mut self, _sink: Resource<Sink>) -> wasmtime::Result<()> {
        Ok(())
    }
}
