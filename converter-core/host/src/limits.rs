//! What a plugin may use, as values.

use std::time::Duration;

/// The walls around plugins. The defaults leave room for any sound plugin: they are there to
/// end unsound ones.
///
/// Where a limit grows with the input, 'input' is the part of the files that the plugin has
/// read (up to the highest byte, so that reading twice gives no more), or the items that a
/// writer was given.
#[derive(Debug, Clone)]
pub struct Limits {
    /// Time inside the plugin for one file, start included. Slow files do not count.
    pub time: Duration,
    /// And in addition for each MiB of input.
    pub time_per_mebibyte: Duration,
    /// Bytes of memory of one instance.
    pub memory: u64,
    /// Entries of all its tables.
    pub table_entries: u64,
    /// Instances, and memories, and tables: so many of each.
    pub instances: usize,
    /// Bytes of stack. The thread that calls must have at least 1 MiB more.
    pub stack: usize,
    /// Frames of one batch.
    pub batch_frames: u32,
    /// Bytes of one item. Twice of it may cross in one call, as the engine counts more closely.
    pub item_bytes: u64,
    /// Items of one file.
    pub items: u64,
    /// Lenses of one file.
    pub lenses: u32,
    /// Takes of one file.
    pub takes: u32,
    /// Remarks about one file.
    pub remarks: u64,
    /// Bytes of text from one file, whatever its size.
    pub text: u64,
    /// And in addition for each byte of input.
    pub text_ratio: u64,
    /// Bytes of items from one file, or written to outputs, whatever the size of the input.
    pub output: u64,
    /// And in addition for each byte of input.
    pub output_ratio: u64,
    /// Calls from the plugin to the program, whatever the size and number of inputs. In addition
    /// come 1,000 for each input and one for each 64 bytes.
    pub host_calls: u64,
    /// Bytes of one read.
    pub read_length: u32,
    /// Batches without a frame, one after another.
    pub empty_batches: u32,
    /// What is looked at before a plugin that is not bundled is compiled.
    pub plugin: PluginLimits,
}

/// Sizes of a plugin that is not bundled. Compiling is outside the engine's promises: one
/// function of 156 kB was seen to take 6 s, one of 1.6 MB 150 s, with the usual settings.
#[derive(Debug, Clone)]
pub struct PluginLimits {
    /// Bytes of the file.
    pub size: u64,
    /// Functions in all its parts.
    pub functions: u64,
    /// Bytes of the largest function.
    pub function_size: u64,
    /// Modules and components inside.
    pub parts: u64,
    /// Bytes that fill its memories and tables at the start.
    pub initial_data: u64,
    /// Bytes of types, imports, exports and adapters.
    pub declarations: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Limits {
            time: Duration::from_secs(30),
            time_per_mebibyte: Duration::from_secs(1),
            memory: 512 << 20,
            table_entries: 1 << 20,
            instances: 64,
            stack: 512 << 10,
            batch_frames: 65_536,
            item_bytes: 64 << 20,
            items: 50_000_000,
            lenses: 10_000,
            takes: 100_000,
            remarks: 100_000,
            text: 64 << 20,
            text_ratio: 16,
            output: 256 << 20,
            output_ratio: 64,
            host_calls: 1_000_000,
            read_length: 16 << 20,
            empty_batches: 16,
            plugin: PluginLimits {
                size: 32 << 20,
                functions: 100_000,
                function_size: 512 << 10,
                parts: 64,
                initial_data: 24 << 20,
                declarations: 4 << 20,
            },
        }
    }
}

impl Limits {
    /// Bytes that may cross in one call.
    pub(crate) fn call_data(&self) -> u64 {
        self.item_bytes.saturating_mul(2)
    }
}
