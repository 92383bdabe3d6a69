//! `ringmark formats`

use anyhow::Result;
use ringmark_model::Manifest;
use ringmark_outputs::{write_format_channels, write_formats, write_formats_json};

use crate::args::{Cli, Formats as Args};
use crate::exit::Exit;
use crate::formats::{Formats, neutral_manifests};
use crate::screen::Screen;

/// Lists the formats.
pub fn formats(cli: &Cli, args: &Args, screen: &Screen) -> Result<Exit> {
    let formats = Formats::load(cli.no_cache)?;
    let mut manifests: Vec<Manifest> = neutral_manifests();
    manifests.extend(formats.plugins().iter().map(|p| p.manifest().clone()));
    if args.json {
        let mut bytes = Vec::new();
        write_formats_json(&mut bytes, &manifests)?;
        screen.result(&bytes)?;
        return Ok(Exit::Clean);
    }
    let mut text = String::new();
    if args.table {
        write_format_channels(&mut text, &manifests)?;
    } else {
        write_formats(&mut text, &manifests)?;
    }
    screen.result(&text)?;
    Ok(Exit::Clean)
}
