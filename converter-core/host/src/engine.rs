//! The engine: what is on, what is off, and why.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use wasmtime::component::Component;
use wasmtime::{
    Config, Enabled, InstanceAllocationStrategy, OptLevel, PoolConcurrencyLimitError,
    PoolingAllocationConfig, Store, Trap, UpdateDeadline, WasmBacktrace,
};

use crate::cache::Cache;
use crate::error::{HostError, Wall};
use crate::limits::Limits;
use crate::state::{State, TICK};
use crate::text::clean_text;

/// An engine and its clock.
pub(crate) struct Engine {
    pub engine: wasmtime::Engine,
    /// Counts ticks; a thread of its own moves it on while the engine lives.
    pub ticks: Arc<AtomicU64>,
}

/// Who made a plugin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Maker {
    /// It is part of the program.
    Us,
    /// Anybody.
    Others,
}

/// Instances of bundled plugins that may live at the same time. Each place costs 5 µs when the program starts, so there are no
/// more than a machine of this size has use for.
pub fn at_once() -> u32 {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    u32::try_from(cores)
        .unwrap_or(u32::MAX)
        .saturating_mul(4)
        .clamp(64, 1024)
}

/// Bytes of an instance's memory that stay with the pool and are cleared for the next instance. More than a bundled plugin
/// needs for a usual file.
const KEPT: usize = 4 << 20;

/// Memory that one instance after another uses: taking it from the system and giving it back is most of what a short file
/// costs, and cores wait for each other there.
fn pool(limits: &Limits) -> PoolingAllocationConfig {
    /// Core modules in a component: the plugin, and two that tie it to its imports.
    const PARTS: u32 = 3;
    let mut pool = PoolingAllocationConfig::new();
    pool.total_component_instances(at_once())
        .total_memories(at_once())
        .total_tables(PARTS * at_once())
        .total_core_instances(PARTS * at_once())
        .max_memory_size(usize::try_from(limits.memory).unwrap_or(usize::MAX))
        .linear_memory_keep_resident(KEPT)
        .table_keep_resident(KEPT)
        // Only what an instance has touched is cleared, where the system can say what that is (Linux 6.7).
        .pagemap_scan(Enabled::Auto);
    pool
}

fn config(limits: &Limits, maker: Maker) -> Config {
    let mut config = Config::new();
    // The optimiser makes reading a table a tenth faster. But a function made to be slow to
    // compile takes 6 s with it and 0.09 s without, so others' plugins go without.
    config.cranelift_opt_level(match maker {
        Maker::Us => OptLevel::Speed,
        Maker::Others => OptLevel::None,
    });
    config.parallel_compilation(true);

    // Endless loops are ended by the clock; fuel would cost twice as much in tight loops.
    config.epoch_interruption(true);
    config.max_wasm_stack(limits.stack);

    // The same file gives the same bytes on every machine.
    config.cranelift_nan_canonicalization(true);
    config.wasm_relaxed_simd(false);

    // What no plugin needs is off: less to go wrong. Sharing memory between threads, memories
    // over 4 GiB, several memories, references to functions, collected objects, exceptions.
    config.wasm_memory64(false);
    config.wasm_multi_memory(false);
    config.wasm_tail_call(false);
    config.wasm_wide_arithmetic(false);
    config.wasm_custom_page_sizes(false);
    config.shared_memory(false);
    config.concurrency_support(false);

    // A crash names functions, which needs neither the system's unwinder nor a map of addresses;
    // without both the compiled code is smaller and loads faster.
    config.native_unwind_info(false);
    config.generate_address_map(false);
    config
}

impl Engine {
    pub fn new(limits: &Limits, maker: Maker) -> Result<Self, HostError> {
        let mut config = config(limits, maker);
        if maker == Maker::Us {
            config.allocation_strategy(InstanceAllocationStrategy::Pooling(pool(limits)));
        }
        let engine = wasmtime::Engine::new(&config).or_else(|error| {
            // The pool needs much address space, which `ulimit -v` may refuse.
            config.allocation_strategy(InstanceAllocationStrategy::OnDemand);
            wasmtime::Engine::new(&config).map_err(|_| error)
        });
        let engine = engine
            .map_err(|error| HostError::machine("(all)", "starting the engine", other(&error)))?;
        let ticks = Arc::new(AtomicU64::new(0));
        let (weak, count) = (engine.weak(), ticks.clone());
        std::thread::Builder::new()
            .name("plugin clock".into())
            .spawn(move || {
                loop {
                    std::thread::sleep(TICK);
                    let Some(engine) = weak.upgrade() else {
                        return;
                    };
                    count.fetch_add(1, Ordering::Relaxed);
                    engine.increment_epoch();
                }
            })
            .map_err(|error| HostError::machine("(all)", "starting the plugin clock", error))?;
        Ok(Engine { engine, ticks })
    }

    /// The component, from the cache if it is there, else compiled and put there.
    pub fn component(
        &self,
        plugin: &str,
        wasm: &[u8],
        sha256: &str,
        cache: &Cache,
    ) -> Result<Component, HostError> {
        let key = cache.key(sha256, &self.engine);
        if let Some(code) = cache.load(&key) {
            match deserialise(&self.engine, &code) {
                Some(component) => return Ok(component),
                None => cache.remove(&key),
            }
        }
        let compiled = catch_unwind(AssertUnwindSafe(|| Component::new(&self.engine, wasm)));
        let component = match compiled {
            Ok(Ok(component)) => component,
            Ok(Err(error)) => {
                return Err(HostError::unsupported(
                    plugin,
                    format!("it does not compile: {}", root(&error)),
                ));
            }
            Err(panic) => {
                return Err(HostError::unsupported(
                    plugin,
                    format!("the compiler fails on it: {}", panic_text(&*panic)),
                ));
            }
        };
        if cache.is_on()
            && let Ok(code) = component.serialize()
        {
            cache.store(&key, &code);
        }
        Ok(component)
    }

    /// A store with all walls up.
    pub fn store(&self, state: State) -> Store<State> {
        let crossing = usize::try_from(state.limits.call_data()).unwrap_or(usize::MAX);
        let mut store = Store::new(&self.engine, state);
        store.limiter(|state| state);
        store.set_hostcall_fuel(crossing);
        store.epoch_deadline_callback(|mut store| {
            let left = store.data_mut().time_left()?;
            Ok(UpdateDeadline::Continue(left))
        });
        store
    }
}

/// Native code from the cache, ready to run; `None` if the engine does not take it.
///
/// `code` must be what [`Cache::load`] returned.
#[allow(unsafe_code)]
fn deserialise(engine: &wasmtime::Engine, code: &[u8]) -> Option<Component> {
    // SAFETY: the engine takes these bytes as native code and looks at little more than its own
    // version and settings. They are what this program wrote after compiling: the cache has
    // verified, on the bytes in memory that are used here, an HMAC with a key that only this
    // user can read, over the code and a name made of the plugin's digest, this crate's version
    // and the engine's settings.
    catch_unwind(AssertUnwindSafe(|| unsafe {
        Component::deserialize(engine, code)
    }))
    .ok()?
    .ok()
}

/// Runs `call` in the plugin: the clock runs, and an error is told by who is to blame.
pub(crate) fn guarded<R>(
    store: &mut Store<State>,
    call: impl FnOnce(&mut Store<State>) -> wasmtime::Result<R>,
) -> Result<R, HostError> {
    let result = match store.data_mut().time_left() {
        Ok(left) => {
            store.set_epoch_deadline(left);
            store.data_mut().clock.resume();
            let result = call(store);
            store.data_mut().clock.pause();
            result
        }
        Err(error) => Err(error),
    };
    result.map_err(|error| blame(&error, store.data_mut()))
}

fn blame(error: &wasmtime::Error, state: &mut State) -> HostError {
    if let Some(refusal) = state.take_refusal() {
        return refusal;
    }
    let plugin = state.plugin.clone();
    let limit = |wall, allowed| HostError::limit(&plugin, wall, allowed, None);
    let text = root(error);
    match error.downcast_ref::<Trap>() {
        Some(Trap::StackOverflow) => return limit(Wall::Stack, state.limits.stack as u64),
        Some(
            Trap::CannotEnterComponent
            | Trap::CannotLeaveComponent
            | Trap::InvalidChar
            | Trap::StringOutOfBounds
            | Trap::ListOutOfBounds
            | Trap::InvalidDiscriminant
            | Trap::UnalignedPointer,
        ) => {}
        Some(trap) => {
            let what = trap.to_string();
            let what = what.strip_prefix("wasm trap: ").unwrap_or(&what);
            return HostError::Trapped {
                plugin: plugin.to_string(),
                message: match state.log.joined() {
                    Some(log) => format!("{what}; it logged: {log}"),
                    None => what.to_owned(),
                },
                backtrace: backtrace(error),
            };
        }
        None => {}
    }
    // These two errors have no public type: the texts are the engine's, and tests hold them.
    if text.contains("fuel allocated for hostcalls has been exhausted") {
        return limit(Wall::CallData, state.limits.call_data());
    }
    if text.contains("resource limit exceeded") {
        return limit(Wall::Instances, state.limits.instances as u64);
    }
    if error.is::<PoolConcurrencyLimitError>() {
        let doing = "reading or writing another file at the same time";
        let error = format!("{} are open already", at_once());
        return HostError::machine(&plugin, doing, std::io::Error::other(error));
    }
    if let Some(error) = error
        .chain()
        .find_map(|cause| cause.downcast_ref::<std::io::Error>())
    {
        let doing = "reserving memory for the plugin (each memory needs about 6 GiB of address \
                     space; see `ulimit -v`)";
        let error = std::io::Error::new(error.kind(), error.to_string());
        return HostError::machine(&plugin, doing, error);
    }
    HostError::contract(
        &plugin,
        match state.log.joined() {
            Some(log) => format!("{text}; it logged: {log}"),
            None => text,
        },
    )
}

fn backtrace(error: &wasmtime::Error) -> String {
    let Some(trace) = error.downcast_ref::<WasmBacktrace>() else {
        return String::new();
    };
    let lines: Vec<String> = trace
        .frames()
        .iter()
        .take(50)
        .map(|frame| match frame.func_name() {
            Some(name) => clean_text(name, 300),
            None => format!("function {}", frame.func_index()),
        })
        .collect();
    lines.join("\n")
}

/// The innermost cause, fit for a message.
pub(crate) fn root(error: &wasmtime::Error) -> String {
    clean_text(&error.root_cause().to_string(), 1000)
}

fn other(error: &wasmtime::Error) -> std::io::Error {
    std::io::Error::other(root(error))
}

fn panic_text(panic: &(dyn Any + Send)) -> String {
    let text = panic
        .downcast_ref::<String>()
        .map(String::as_str)
        .or_else(|| panic.downcast_ref::<&str>().copied())
        .unwrap_or("unknown");
    clean_text(text, 500)
}
