//! What users type. Only types: help texts and completions come from here.

mod plan;
mod transfer;

use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use ringmark_model::Severity;
use ringmark_outputs::FailsFrom;

pub use plan::Plan;
pub use transfer::{MakeRing, PrintedUnit, Sharp, Transfer};

/// Versions that a question about a file or a plugin needs.
const LONG_VERSION: &str = concat!(
    env!("CARGO_PKG_VERSION"),
    "\nplugin contract 1.0\nneutral documents and schemas 1.0\nengine wasmtime 48"
);

/// Converts lens data between formats and proves that it can be right.
#[derive(Debug, Parser)]
#[command(name = "ringmark", version, long_version = LONG_VERSION, about, max_term_width = 100)]
#[command(
    after_help = "Exit status: 0 done and clean, 1 findings at or above --fail-on, 2 it could not be done, or not to its end."
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
    /// Write the ST map of a lens distortion as OpenEXR
    StMap(Box<StMap>),
    /// List the formats that can be read and written, and what each carries
    Formats(Formats),
    /// Say how the focus scale of a lens moves from take to take, by rangefinder readings
    Drift(Drift),
    /// Say which marks of a focus scale to take next, and print a sheet for them
    Plan(Plan),
    /// Carry the focus scale of a lens onto a pre-marked focus ring
    Transfer(Transfer),
    /// Describe a pre-marked focus ring with round distances evenly spaced
    Ring(MakeRing),
    /// Say why a check exists, its physics and its source
    Explain(Explain),
    /// Add, list and remove format plugins
    Plugin(Plugin),
    /// Print what a shell needs to complete commands and options
    Completions(Completions),
    /// Write the man pages
    Man(Man),
}

/// How inputs are read.
#[derive(Debug, Clone, Args)]
pub struct Reading {
    /// Files, folders, numbered sequences (plate.####.exr, plate.%04d.exr, plate.1001-1100.exr) or quoted patterns ('cards/**/*.csv'); - is standard input
    #[arg(required_unless_present = "list", value_name = "INPUT")]
    pub inputs: Vec<PathBuf>,
    /// File with one more input a line; - is standard input
    #[arg(long, value_name = "FILE")]
    pub list: Option<PathBuf>,
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
    /// Compute what is not recorded: dof (near and far limit, hyperfocal distance), fov (horizontal field of view),
    /// band (95 % band of what ring positions give with --lens)
    #[arg(long, value_enum, value_delimiter = ',', value_name = "WHAT")]
    pub derive: Vec<Quantity>,
    /// Blur that counts as sharp: millimetres, or cine-16, cine-35, full-frame; without it sensor diagonal / 1500, for the scale of a lens 0.025 mm
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    pub circle_of_confusion: Option<String>,
}

/// What can be computed for every frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Quantity {
    /// Depth of field
    Dof,
    /// Field of view
    Fov,
    /// 95 % band of values from ring positions
    Band,
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
    /// Point that focus distances are to be measured from, in scales and takes; it needs the entrance pupil of each frame, or a table of it
    #[arg(long, value_enum, value_name = "POINT")]
    pub measured_from: Option<Point>,
    /// How far the front vertex of the lens is in front of the image plane, with unit (182mm, 7.2in)
    #[arg(
        long,
        value_name = "LENGTH",
        requires = "measured_from",
        allow_hyphen_values = true
    )]
    pub front_vertex: Option<String>,
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

/// A point of a lens that distances are measured from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Point {
    /// Sensor or film, as barrels are engraved
    ImagePlane,
    /// Where the perspective has its centre
    EntrancePupil,
    /// The foremost point of the glass
    FrontVertex,
}

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct Check {
    /// How inputs are read
    #[command(flatten)]
    pub reading: Reading,
    /// Report to make: text, concise, json, jsonl, sarif, junit or html, with =PATH to write it into a file
    #[arg(long = "report", value_name = "KIND[=PATH]")]
    pub reports: Vec<String>,
    /// How far the rangefinder's front is in front of the image plane, with unit (120mm, 4.7in), where the take does not say
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub rangefinder_offset: Option<String>,
    /// Severities, thresholds, accepted findings and expected lenses; without it the nearest ringmark.toml in this folder or above it, `none` for none
    #[arg(long, value_name = "FILE")]
    pub profile: Option<PathBuf>,
    /// Other records of the takes (image headers, another recorder), compared frame by frame; takes are paired by clip name
    #[arg(long, value_name = "INPUT")]
    pub against: Vec<PathBuf>,
    /// How many files are checked at the same time; without it, as many as there are cores
    #[arg(long, short, value_name = "N", value_parser = above_zero)]
    pub jobs: Option<NonZeroUsize>,
    /// Check only what has changed since an earlier run: files, this program, plugins, profile, mapping, lens or options; for the rest the report is the same
    #[arg(long, conflicts_with = "repair")]
    pub changed_only: bool,
    /// From which severity on the exit status is 1
    #[arg(long, value_enum, default_value_t = FailOn::Error, value_name = "LEVEL")]
    pub fail_on: FailOn,
    /// Write the lens with the repairs that errors and warnings propose; a proposal: compare it with the barrel
    #[arg(long, value_name = "FILE.lens.json")]
    pub repair: Option<PathBuf>,
    /// Replace reports and a repaired lens that exist
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

impl FailOn {
    /// The same for reports.
    pub fn from(self) -> FailsFrom {
        FailsFrom(match self {
            FailOn::Error => Some(Severity::Error),
            FailOn::Warning => Some(Severity::Warning),
            FailOn::Never => None,
        })
    }
}

/// Arguments of `show`.
#[derive(Debug, Args)]
#[command(
    after_help = "Scales follow from marks that people took: check a position on the lens before a motor goes there."
)]
pub struct Show {
    /// How inputs are read
    #[command(flatten)]
    pub reading: Reading,
    /// What is computed
    #[command(flatten)]
    pub deriving: Deriving,
    /// Say only where these values stand on the rings of a lens: 1.2m, 5'6", inf, T2.8, f/4, 50mm
    #[arg(
        long,
        value_delimiter = ',',
        value_name = "VALUES",
        allow_hyphen_values = true
    )]
    pub at: Vec<String>,
    /// Say only what the rings of a lens read at these positions: 0.43, 43%, 140deg, '31000 count'
    #[arg(
        long,
        value_delimiter = ',',
        value_name = "POSITIONS",
        allow_hyphen_values = true
    )]
    pub at_ring: Vec<String>,
    /// Stop for the depth of field along a focus scale, instead of the widest f-number of the lens
    #[arg(long, value_name = "N")]
    pub f_number: Option<String>,
}

/// Arguments of `st-map`.
#[derive(Debug, Args)]
#[command(
    after_help = "R is s and G is t: 0 to 1 from the left and from the bottom edge of the picture that is sampled, at pixel \
                  centres. The formula is that of OpenCV; its direction and the length that is 1 in it are never guessed."
)]
pub struct StMap {
    /// A take with distortion, focal length, sensor size and pixels; not needed where options give all of them
    #[arg(value_name = "TAKE")]
    pub input: Option<PathBuf>,
    /// Format of the take, instead of what its name and content say
    #[arg(long, value_name = "FORMAT")]
    pub from: Option<String>,
    /// What the columns of a delimited text mean
    #[arg(long, value_name = "FILE")]
    pub mapping: Option<PathBuf>,
    /// What the map makes: the ideal picture from the recorded one, or the recorded one from the ideal one
    #[arg(long, value_enum, value_name = "KIND")]
    pub kind: MapKind,
    /// Frame of the take, by its number, or counted from 0 where frames have none
    #[arg(long, value_name = "N", conflicts_with = "frames")]
    pub frame: Option<u64>,
    /// Frames of the take, one map each: 1001-1010, into NAME.####.exr
    #[arg(long, value_name = "FIRST-LAST")]
    pub frames: Option<String>,
    /// Radial coefficient of r²; with any coefficient given, none is taken from the take and the others are 0
    #[arg(long, allow_hyphen_values = true, value_name = "NUMBER")]
    pub k1: Option<f64>,
    /// Radial coefficient of r⁴
    #[arg(long, allow_hyphen_values = true, value_name = "NUMBER")]
    pub k2: Option<f64>,
    /// Radial coefficient of r⁶
    #[arg(long, allow_hyphen_values = true, value_name = "NUMBER")]
    pub k3: Option<f64>,
    /// First tangential coefficient
    #[arg(long, allow_hyphen_values = true, value_name = "NUMBER")]
    pub p1: Option<f64>,
    /// Second tangential coefficient
    #[arg(long, allow_hyphen_values = true, value_name = "NUMBER")]
    pub p2: Option<f64>,
    /// What applying the formula to a point gives
    #[arg(long, value_enum, value_name = "DIRECTION")]
    pub direction: Option<MapDirection>,
    /// The length that is 1 in the formula
    #[arg(long, value_enum, value_name = "LENGTH")]
    pub normalisation: Option<MapNormalisation>,
    /// Pixels of the recorded picture, as 4448x3096
    #[arg(long, value_name = "WxH")]
    pub size: Option<String>,
    /// Size of the sensor behind them in mm, as 38.1x26.5
    #[arg(long, value_name = "WxH")]
    pub sensor: Option<String>,
    /// Pinhole focal length in mm
    #[arg(long, value_name = "MM")]
    pub focal_length: Option<f64>,
    /// Where the axis of the lens meets the sensor: mm to the right of and below its centre
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "X,Y",
        default_value = "0,0"
    )]
    pub principal: String,
    /// How much larger than the recorded picture the ideal one is: per cent, half on each side, or auto to hold all of it
    #[arg(
        long,
        value_name = "auto|PERCENT",
        default_value = "auto",
        allow_hyphen_values = true
    )]
    pub overscan: String,
    /// Where to write
    #[arg(long, short, value_name = "OUT.exr")]
    pub output: PathBuf,
    /// Replace outputs that exist
    #[arg(long)]
    pub force: bool,
}

/// What a map makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum MapKind {
    /// The ideal picture from the recorded one
    Undistort,
    /// The recorded picture from the ideal one
    Redistort,
}

/// What applying the formula to a point gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum MapDirection {
    /// Where the lens puts a point of the ideal picture
    UndistortedToDistorted,
    /// Where a point of the recorded picture ideally is
    DistortedToUndistorted,
}

/// The length that is 1 in the formula.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum MapNormalisation {
    /// The pinhole focal length
    FocalLength,
    /// Half the width of the sensor
    HalfWidth,
    /// Half the diagonal of the sensor
    HalfDiagonal,
    /// A millimetre on the sensor
    Millimetre,
    /// A pixel
    Pixel,
}

/// Arguments of `drift`.
#[derive(Debug, Args)]
pub struct Drift {
    /// The lens whose scale is judged: a calibration
    #[arg(value_name = "LENS.lens.json")]
    pub lens: PathBuf,
    /// Takes with ring positions and rangefinder readings, in the order in which they were shot
    #[arg(required = true, value_name = "TAKE")]
    pub takes: Vec<PathBuf>,
    /// Format of the takes, instead of what their names and contents say
    #[arg(long, value_name = "FORMAT")]
    pub from: Option<String>,
    /// What the columns of a delimited text mean
    #[arg(long, value_name = "FILE")]
    pub mapping: Option<PathBuf>,
    /// How far the rangefinder's front is in front of the image plane, with unit (120mm, 4.7in), where a take does not say
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub rangefinder_offset: Option<String>,
    /// As JSON
    #[arg(long)]
    pub json: bool,
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

/// Arguments of `completions`.
#[derive(Debug, Args)]
pub struct Completions {
    /// The shell
    #[arg(value_enum)]
    pub shell: clap_complete::Shell,
}

/// Arguments of `man`.
#[derive(Debug, Args)]
pub struct Man {
    /// Folder to write them into, one a command
    pub folder: PathBuf,
    /// Replace pages that exist
    #[arg(long)]
    pub force: bool,
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

fn above_zero(text: &str) -> Result<NonZeroUsize, &'static str> {
    text.parse().map_err(|_| "expected a whole number above 0")
}
