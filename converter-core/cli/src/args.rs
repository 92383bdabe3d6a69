//! What users type. Only types: help texts and completions come from here.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

/// Versions that a question about a file or a plugin needs.
const LONG_VERSION: &str = concat!(
    env!("CARGO_PKG_VERSION"),
    "\nplugin contract 1.0\nneutral documents and schemas 1.0\nengine wasmtime 48"
);

/// Converts lens data between formats and proves that it can be right.
#[derive(Debug, Parser)]
#[command(name = "ringmark", version, long_version = LONG_VERSION, about, max_term_width = 100)]
#[command(
    after_help = "Exit status: 0 done and clean, 1 findings at or above --fail-on, 2 it could not be done."
)]
pub struct Cli {
    /// Say nothing but results and errors
    #[arg(long, short, global = true)]
    pub quiet: bool,
    /// Compile plugins anew instead of using the cache of compiled code
    #[arg(long, global = true)]
    pub no_cache: bool,
    /// When to use colour
    #[arg(long, global = true, value_enum, default_value_t = Colour::Auto, value_name = "WHEN")]
    pub colour: Colour,
    /// What to do
    #[command(subcommand)]
    pub command: Command,
}

/// When to use colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Colour {
    /// On a terminal
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Turn lens data into another format, in one system of units
    Convert(Convert),
    /// Look for values that cannot be or do not fit one another
    Check(Check),
    /// Show what is in a file, in metric and imperial
    Show(Show),
    /// List the formats that can be read and written, and what each carries
    Formats(Formats),
    /// Say why a check exists, its physics and its source
    Explain(Explain),
    /// Add, list and remove format plugins
    Plugin(Plugin),
}

/// How inputs are read.
#[derive(Debug, Clone, Args)]
pub struct Reading {
    /// Files, folders or numbered sequences (plate.####.exr, plate.%04d.exr, plate.1001-1100.exr); - is standard input
    #[arg(required = true, value_name = "INPUT")]
    pub inputs: Vec<PathBuf>,
    /// Format of the inputs, instead of what their names and contents say
    #[arg(long, value_name = "FORMAT")]
    pub from: Option<String>,
    /// What the columns of a delimited text mean; without it, NAME.mapping.toml beside the input is used
    #[arg(long, value_name = "FILE")]
    pub mapping: Option<PathBuf>,
    /// Calibration that turns ring positions into distance, stop and focal length
    #[arg(long, value_name = "LENS.lens.json")]
    pub lens: Option<PathBuf>,
}

/// What is computed for every frame.
#[derive(Debug, Clone, Args)]
pub struct Deriving {
    /// Compute what is not recorded: dof (near and far limit, hyperfocal distance), fov (horizontal field of view)
    #[arg(long, value_enum, value_delimiter = ',', value_name = "WHAT")]
    pub derive: Vec<Quantity>,
    /// Blur that counts as sharp: millimetres, or cine-16, cine-35, full-frame; without it sensor diagonal / 1500
    #[arg(long, value_name = "MM", requires = "derive")]
    pub circle_of_confusion: Option<String>,
}

/// What can be computed for every frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Quantity {
    /// Depth of field
    Dof,
    /// Field of view
    Fov,
}

/// Arguments of `convert`.
#[derive(Debug, Args)]
pub struct Convert {
    /// How inputs are read
    #[command(flatten)]
    pub reading: Reading,
    /// What is computed
    #[command(flatten)]
    pub deriving: Deriving,
    /// Format of the output: take.jsonl, take.json, lens.json or the name of a plugin (see `formats`)
    #[arg(long, value_name = "FORMAT")]
    pub to: Option<String>,
    /// Where to write; a folder for several inputs; - or nothing is standard output
    #[arg(long, short, value_name = "OUT")]
    pub output: Option<PathBuf>,
    /// Files to put the data in copies of, or beside: a folder or a sequence; for formats of one file a frame
    #[arg(long, value_name = "FILES")]
    pub frames: Option<PathBuf>,
    /// Option of the output's format (see `formats --json`); may be repeated
    #[arg(long = "option", value_name = "NAME=VALUE")]
    pub options: Vec<String>,
    /// Replace outputs that exist
    #[arg(long)]
    pub force: bool,
    /// Fail instead of losing anything
    #[arg(long)]
    pub strict: bool,
    /// Print the account of what was lost as JSON on stderr
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct Check {
    /// How inputs are read
    #[command(flatten)]
    pub reading: Reading,
    /// Report to make: text, concise, json or jsonl, with =PATH to write it into a file
    #[arg(long = "report", value_name = "KIND[=PATH]")]
    pub reports: Vec<String>,
    /// From which severity on the exit status is 1
    #[arg(long, value_enum, default_value_t = FailOn::Error, value_name = "LEVEL")]
    pub fail_on: FailOn,
    /// Replace reports that exist
    #[arg(long)]
    pub force: bool,
}

/// From which severity on the exit status is 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum FailOn {
    /// Errors
    Error,
    /// Errors and warnings
    Warning,
    /// Nothing
    Never,
}

/// Arguments of `show`.
#[derive(Debug, Args)]
pub struct Show {
    /// How inputs are read
    #[command(flatten)]
    pub reading: Reading,
    /// What is computed
    #[command(flatten)]
    pub deriving: Deriving,
}

/// Arguments of `formats`.
#[derive(Debug, Args)]
pub struct Formats {
    /// The table of channels and formats
    #[arg(long)]
    pub table: bool,
    /// As JSON
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `explain`.
#[derive(Debug, Args)]
pub struct Explain {
    /// Name of the check; without it all are listed
    pub check: Option<String>,
    /// As JSON
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `plugin`.
#[derive(Debug, Args)]
pub struct Plugin {
    /// What to do
    #[command(subcommand)]
    pub action: PluginAction,
}

/// What to do with plugins.
#[derive(Debug, Subcommand)]
pub enum PluginAction {
    /// Show what a component is and store it, pinned to its SHA-256
    Add {
        /// The component
        file: PathBuf,
        /// Replace a plugin of the same name
        #[arg(long)]
        force: bool,
    },
    /// List bundled and added plugins
    List,
    /// Remove a plugin that was added
    Remove {
        /// Its name
        name: String,
    },
}
