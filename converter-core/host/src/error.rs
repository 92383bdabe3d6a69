//! Errors by who is to blame: the input, a limit, the plugin, or the machine.

use std::fmt;
use std::io;
use std::sync::Arc;

use ringmark_model::raw::RawPlace;

/// Why a plugin could not be used. Every message names the plugin.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum HostError {
    /// The plugin says that the input cannot be read, or the output not be written.
    Input(Box<Failure>),
    /// A wall stood in the way.
    Limit(Box<LimitHit>),
    /// The plugin crashed.
    Trapped {
        /// Name of the plugin.
        plugin: String,
        /// What happened, and the last lines that the plugin logged.
        message: String,
        /// Functions on the plugin's stack, one a line; for its author.
        backtrace: String,
    },
    /// The plugin said something that the contract forbids.
    Contract {
        /// Name of the plugin.
        plugin: String,
        /// What it said.
        message: String,
    },
    /// The plugin is not one that this program can run.
    Unsupported {
        /// Name of the plugin.
        plugin: String,
        /// What is missing.
        message: String,
    },
    /// The file of a plugin is not the one that was accepted.
    Changed {
        /// Name of the plugin.
        plugin: String,
        /// SHA-256 that was accepted.
        pinned: String,
        /// SHA-256 of the file.
        found: String,
    },
    /// The machine failed: a file could not be read or written, memory could not be had.
    Machine {
        /// Name of the plugin that was at work.
        plugin: String,
        /// What was being done.
        doing: String,
        /// Why it failed.
        source: Arc<io::Error>,
    },
}

/// A plugin's own error about a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Failure {
    /// Name of the plugin.
    pub plugin: String,
    /// What is wrong.
    pub message: String,
    /// What to do; may be empty.
    pub help: String,
    /// Where, checked to lie in the input.
    pub place: Option<RawPlace>,
}

/// A limit that a plugin ran into.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LimitHit {
    /// Name of the plugin.
    pub plugin: String,
    /// Which limit.
    pub wall: Wall,
    /// What is allowed, in the wall's unit.
    pub allowed: u64,
    /// What was asked for, where it is known.
    pub asked: Option<u64>,
}

/// The walls around a plugin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Wall {
    /// Milliseconds of work for one file.
    Time,
    /// Bytes of memory.
    Memory,
    /// Entries of tables.
    TableEntries,
    /// Memories, tables or instances.
    Instances,
    /// Bytes of stack.
    Stack,
    /// Bytes in one call between plugin and program.
    CallData,
    /// Items of one file.
    Items,
    /// Lenses of one file.
    Lenses,
    /// Takes of one file.
    Takes,
    /// Remarks about one file.
    Remarks,
    /// Frames of one batch.
    BatchFrames,
    /// Bytes of one item.
    ItemBytes,
    /// Bytes of text from one file.
    Text,
    /// Bytes of items from one file.
    Delivered,
    /// Bytes written to outputs.
    Written,
    /// Calls from the plugin to the program.
    HostCalls,
    /// Bytes of one read.
    ReadLength,
    /// Empty batches in a row.
    EmptyBatches,
    /// Bytes of the plugin file.
    PluginSize,
    /// Functions of the plugin.
    Functions,
    /// Bytes of the plugin's largest function.
    FunctionSize,
    /// Parts (modules and components) in the plugin.
    Parts,
    /// Bytes that fill the plugin's memories and tables.
    InitialData,
    /// Bytes of types, imports and exports of the plugin.
    Declarations,
}

impl Wall {
    /// What it counts, as it reads after 'asked for 5 …'.
    fn unit(self) -> &'static str {
        match self {
            Wall::Time => "ms of work",
            Wall::Memory => "bytes of memory",
            Wall::TableEntries => "table entries",
            Wall::Instances => "instances, memories or tables",
            Wall::Stack => "bytes of stack",
            Wall::CallData => "bytes in one call",
            Wall::Items => "items",
            Wall::Lenses => "lenses",
            Wall::Takes => "takes",
            Wall::Remarks => "remarks",
            Wall::BatchFrames => "frames in one batch",
            Wall::ItemBytes => "bytes in one item",
            Wall::Text => "bytes of text",
            Wall::Delivered => "bytes of items",
            Wall::Written => "bytes of output",
            Wall::HostCalls => "calls to the program",
            Wall::ReadLength => "bytes in one read",
            Wall::EmptyBatches => "empty batches in a row",
            Wall::PluginSize => "bytes of plugin",
            Wall::Functions => "functions",
            Wall::FunctionSize => "bytes in one function",
            Wall::Parts => "parts (modules and components)",
            Wall::InitialData => "bytes of initial data",
            Wall::Declarations => "bytes of types, imports and exports",
        }
    }

    /// What to do about it.
    fn advice(self) -> &'static str {
        match self {
            Wall::Time => {
                "it is probably in an endless loop: report it to the plugin's author with the input"
            }
            Wall::PluginSize
            | Wall::Functions
            | Wall::FunctionSize
            | Wall::Parts
            | Wall::InitialData
            | Wall::Declarations => {
                "it was not run; ask the plugin's author for a smaller build, or do not use it"
            }
            _ => {
                "the plugin was ended; if the input is sound, report it to the plugin's author with the input"
            }
        }
    }
}

impl HostError {
    /// Name of the plugin that was at work.
    pub fn plugin(&self) -> &str {
        match self {
            HostError::Input(failure) => &failure.plugin,
            HostError::Limit(hit) => &hit.plugin,
            HostError::Trapped { plugin, .. }
            | HostError::Contract { plugin, .. }
            | HostError::Unsupported { plugin, .. }
            | HostError::Changed { plugin, .. }
            | HostError::Machine { plugin, .. } => plugin,
        }
    }

    /// What to do about it, where that can be said.
    pub fn help(&self) -> &str {
        match self {
            HostError::Input(failure) => &failure.help,
            HostError::Limit(hit) => hit.wall.advice(),
            HostError::Trapped { .. } | HostError::Contract { .. } => {
                "the fault is the plugin's: report it to its author with the input"
            }
            HostError::Changed { .. } => {
                "if the new file is wanted, accept it with `ringmark plugin add --force FILE`"
            }
            HostError::Unsupported { .. } | HostError::Machine { .. } => "",
        }
    }

    pub(crate) fn limit(plugin: &str, wall: Wall, allowed: u64, asked: Option<u64>) -> Self {
        HostError::Limit(Box::new(LimitHit {
            plugin: plugin.to_owned(),
            wall,
            allowed,
            asked,
        }))
    }

    pub(crate) fn contract(plugin: &str, message: impl Into<String>) -> Self {
        HostError::Contract {
            plugin: plugin.to_owned(),
            message: message.into(),
        }
    }

    pub(crate) fn unsupported(plugin: &str, message: impl Into<String>) -> Self {
        HostError::Unsupported {
            plugin: plugin.to_owned(),
            message: message.into(),
        }
    }

    pub(crate) fn machine(plugin: &str, doing: impl Into<String>, source: io::Error) -> Self {
        HostError::Machine {
            plugin: plugin.to_owned(),
            doing: doing.into(),
            source: Arc::new(source),
        }
    }
}

impl fmt::Display for HostError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            HostError::Input(failure) => {
                write!(f, "{} (plugin '{}')", failure.message, failure.plugin)
            }
            HostError::Limit(hit) => hit.fmt(f),
            HostError::Trapped {
                plugin, message, ..
            } => write!(f, "plugin '{plugin}' crashed: {message}"),
            HostError::Contract { plugin, message } => {
                write!(f, "plugin '{plugin}' broke the contract: {message}")
            }
            HostError::Unsupported { plugin, message } => {
                write!(f, "plugin '{plugin}' cannot be used: {message}")
            }
            HostError::Changed {
                plugin,
                pinned,
                found,
            } => write!(
                f,
                "plugin '{plugin}' has changed: accepted was SHA-256 {pinned}, the file has {found}"
            ),
            HostError::Machine {
                plugin,
                doing,
                source,
            } => write!(f, "{doing}: {source} (plugin '{plugin}')"),
        }
    }
}

impl fmt::Display for LimitHit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit = self.wall.unit();
        match self.asked {
            Some(asked) => write!(
                f,
                "plugin '{}' went over a limit: {asked} {unit}, allowed are {}",
                self.plugin, self.allowed
            ),
            None => write!(
                f,
                "plugin '{}' went over a limit: more than {} {unit}",
                self.plugin, self.allowed
            ),
        }
    }
}

impl std::error::Error for HostError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            HostError::Machine { source, .. } => Some(source.as_ref()),
            _ => None,
        }
    }
}
