//! What users type for pre-marked rings.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

/// Arguments of `transfer`.
#[derive(Debug, Args)]
#[command(
    after_help = "Targets follow from marks that people took: check both ends and a mark between on the lens before a motor \
                  goes there."
)]
pub struct Transfer {
    /// The lens, with the marks of its focus ring
    #[arg(value_name = "LENS.lens.json")]
    pub lens: PathBuf,
    /// Pre-marked rings, one or a set a document; may be repeated, then the ring that fits best comes first
    #[arg(long = "to", required = true, value_name = "RING.json")]
    pub rings: Vec<PathBuf>,
    /// Sharpness
    #[command(flatten)]
    pub sharp: Sharp,
    /// As JSON
    #[arg(long)]
    pub json: bool,
    /// Write a file: NAME.svg with the best ring as a strip at 1:1, NAME.txt or NAME.json with all targets; may be repeated
    #[arg(long, short, value_name = "OUT")]
    pub output: Vec<PathBuf>,
    /// Replace outputs that exist
    #[arg(long)]
    pub force: bool,
}

/// What depth of field rests on.
#[derive(Debug, Clone, Args)]
pub struct Sharp {
    /// Stop for the depth of field, instead of the widest f-number of the lens
    #[arg(long, value_name = "N")]
    pub f_number: Option<String>,
    /// Blur that counts as sharp: millimetres, or cine-16, cine-35, full-frame; without it 0.025 mm
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    pub circle_of_confusion: Option<String>,
}

/// Arguments of `ring`.
#[derive(Debug, Args)]
#[command(
    after_help = "Marks are evenly spaced on the knob. Between --from and --to they follow 1/distance, in which depth of field \
                  is even, and are rounded to distances that people print."
)]
pub struct MakeRing {
    /// Nearest mark, with its unit
    #[arg(long, value_name = "DISTANCE", required_unless_present = "values")]
    pub from: Option<String>,
    /// Farthest mark
    #[arg(long, value_name = "DISTANCE", default_value = "inf")]
    pub to: String,
    /// How many marks, ends counted
    #[arg(long, value_name = "N", default_value_t = 12)]
    pub marks: usize,
    /// What distances between the ends are round in
    #[arg(long, value_enum, value_name = "UNIT", default_value_t = PrintedUnit::M)]
    pub unit: PrintedUnit,
    /// The marks one by one instead: 2',2'6",3',inf
    #[arg(
        long,
        value_delimiter = ',',
        value_name = "DISTANCES",
        conflicts_with_all = ["from", "to", "marks", "unit"]
    )]
    pub values: Vec<String>,
    /// Name of the ring
    #[arg(long, value_name = "TEXT")]
    pub name: Option<String>,
    /// Who makes it
    #[arg(long, value_name = "TEXT")]
    pub maker: Option<String>,
    /// How far the knob turns from the first mark to the last, as 300deg
    #[arg(long, value_name = "ANGLE")]
    pub rotation: Option<String>,
    /// Length of the print from the first mark to the last, as 180mm
    #[arg(long, value_name = "LENGTH")]
    pub length: Option<String>,
    /// Where to write; - or nothing is standard output
    #[arg(long, short, value_name = "OUT.json")]
    pub output: Option<PathBuf>,
    /// Replace an output that exists
    #[arg(long)]
    pub force: bool,
}

/// What printed distances are round in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum PrintedUnit {
    /// Metres
    M,
    /// Feet and inches
    FtIn,
}
