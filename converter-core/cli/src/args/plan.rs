//! What users type to plan marks.

use std::path::PathBuf;

use clap::Args;

use super::{PrintedUnit, Sharp};

/// Arguments of `plan`.
#[derive(Debug, Args)]
#[command(
    after_help = "The band is the 95 % band of the focus scale between close focus and infinity. Expected positions are only \
                  where to look: what is written down is read on the lens."
)]
pub struct Plan {
    /// The lens, with the marks it has, or with none
    #[arg(value_name = "LENS.lens.json")]
    pub lens: PathBuf,
    /// Part of the full depth of field that the band shall not be wider than, to each side
    #[arg(long, value_name = "PART", default_value = "1/4")]
    pub target: String,
    /// Plan so many marks instead
    #[arg(long, value_name = "N", conflicts_with = "target")]
    pub marks: Option<usize>,
    /// What distances are round in, instead of what the scale is engraved in
    #[arg(long, value_enum, value_name = "UNIT")]
    pub unit: Option<PrintedUnit>,
    /// Sharpness
    #[command(flatten)]
    pub sharp: Sharp,
    /// As JSON
    #[arg(long)]
    pub json: bool,
    /// Write a sheet with boxes for the readings: NAME.svg to print, NAME.txt, or NAME.json; may be repeated
    #[arg(long, short, value_name = "OUT")]
    pub output: Vec<PathBuf>,
    /// Replace outputs that exist
    #[arg(long)]
    pub force: bool,
}
