//! Runs format plugins in a sandbox.
//!
//! A plugin is a WebAssembly component of the contract in `plugins/contract`. It sees the bytes
//! of the files it was handed and nothing else: no files, clock, network or chance. Whatever it
//! does, it is ended in its [`Limits`], and the error says who is to blame. This is the only
//! crate that knows the engine.
//!
//! ```no_run
//! use ringmark_host::{CacheMode, FileSource, Host, HostConfig, Limits};
//!
//! let host = Host::new(HostConfig { limits: Limits::default(), cache: CacheMode::Off })?;
//! let wasm = std::fs::read("format.wasm").unwrap();
//! let plugin = host.foreign(wasm, "e3b0c442...")?;
//! let mut reading = plugin.read(vec![Box::new(FileSource::new("take.csv"))], "{}")?;
//! while let Some(item) = reading.next()? {
//!     println!("{item:?}");
//! }
//! # Ok::<(), ringmark_host::HostError>(())
//! ```

mod cache;
mod engine;
mod error;
mod files;
mod inputs;
mod inspect;
mod ledger;
mod limits;
mod plugin;
mod session;
mod state;
mod text;
// The generated bindings carry no documentation of their own beyond that of the contract.
#[allow(missing_docs)]
mod v1;

use std::path::PathBuf;
use std::sync::{Arc, OnceLock};

use ringmark_model::manifest::Manifest;

pub use cache::CacheMode;
pub use engine::at_once;
pub use error::{Failure, HostError, LimitHit, Wall};
pub use files::{FileSink, FileSource, MemorySink, MemorySource, Sink, Source};
pub use inspect::Inspection;
pub use limits::{Limits, PluginLimits};
pub use plugin::Plugin;
pub use session::{Reading, Writing};
pub use text::clean_text;

use cache::Cache;
use engine::{Engine, Maker};

/// Settings of a [`Host`].
#[derive(Debug, Clone, Default)]
pub struct HostConfig {
    /// The walls around plugins.
    pub limits: Limits,
    /// Where compiled code is kept.
    pub cache: CacheMode,
}

/// Where plugins run. Clones are the same host.
#[derive(Clone)]
pub struct Host(Arc<Shared>);

struct Shared {
    limits: Arc<Limits>,
    cache_mode: CacheMode,
    /// Both are made when the first plugin runs: listing formats needs neither.
    cache: OnceLock<Cache>,
    engine: OnceLock<Result<Engine, HostError>>,
    /// The engine for plugins of others.
    careful_engine: OnceLock<Result<Engine, HostError>>,
}

impl Host {
    /// A host; costs next to nothing before a plugin runs.
    pub fn new(config: HostConfig) -> Result<Host, HostError> {
        Ok(Host(Arc::new(Shared {
            limits: Arc::new(config.limits),
            cache_mode: config.cache,
            cache: OnceLock::new(),
            engine: OnceLock::new(),
            careful_engine: OnceLock::new(),
        })))
    }

    /// A plugin that is part of the program and therefore trusted. Nothing is compiled yet.
    ///
    /// `sha256` is that of `wasm`, in hexadecimal.
    pub fn bundled(&self, wasm: &'static [u8], manifest: Manifest, sha256: &str) -> Plugin {
        Plugin::bundled(self.clone(), wasm, manifest, sha256)
    }

    /// A plugin from elsewhere. Its digest is compared with the accepted one before anything
    /// else, then it is looked at, compiled, and asked who it is.
    pub fn foreign(&self, wasm: Vec<u8>, pinned_sha256: &str) -> Result<Plugin, HostError> {
        Plugin::foreign(self.clone(), wasm, pinned_sha256)
    }

    /// A plugin that was accepted before with [`Host::foreign`] and whose file was kept. Nothing is
    /// read yet; a file that is no longer the accepted one is refused when the plugin is used.
    pub fn pinned(&self, path: PathBuf, manifest: Manifest, sha256: &str) -> Plugin {
        Plugin::pinned(self.clone(), path, manifest, sha256)
    }

    /// Looks at a plugin without running or compiling it, as `foreign` does.
    pub fn inspect(wasm: &[u8], limits: &Limits) -> Result<Inspection, HostError> {
        inspect::inspect(wasm, &limits.plugin)
    }

    fn engine(&self, maker: Maker) -> Result<&Engine, HostError> {
        let engine = match maker {
            Maker::Us => &self.0.engine,
            Maker::Others => &self.0.careful_engine,
        };
        engine
            .get_or_init(|| Engine::new(&self.0.limits, maker))
            .as_ref()
            .map_err(Clone::clone)
    }

    fn cache(&self) -> &Cache {
        self.0.cache.get_or_init(|| Cache::open(&self.0.cache_mode))
    }
}
