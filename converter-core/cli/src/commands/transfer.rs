//! `ringmark transfer`

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};
use ringmark_model::{Lens, PreMarkedRing, json};
use ringmark_optics::RingCurve;
use ringmark_optics::transfer::{self, Largest, OutOfReach, Printed};
use ringmark_outputs::{
    LargestError, TransferReport, TransferRing, TransferTarget, Unreached, write_transfer_json,
    write_transfer_svg, write_transfer_text,
};

use crate::args::Transfer;
use crate::calibrate::read_lens;
use crate::exit::Exit;
use crate::pipeline::program;
use crate::scale::{self, Depth, Sharpness};
use crate::screen::Screen;
use crate::sheets::{self, Form, Sheets};

/// A ring document is a page of text; anything larger is something else.
const MAX_DOCUMENT: u64 = 4 << 20;

/// Says where the lens must stand for each printed mark, and writes it where it was asked to.
pub fn transfer(args: &Transfer, screen: &Screen) -> Result<Exit> {
    let sharp = &args.sharp;
    let sharpness = Sharpness::of(
        sharp.f_number.as_deref(),
        sharp.circle_of_confusion.as_deref(),
    )?;
    let sheets = Sheets::of(&args.output)?;
    let name = args.lens.display().to_string();
    let (lens, _) = read_lens(&args.lens)?;
    let report = report(&lens, &name, &args.rings, sharpness)?;
    let mut inputs = args.rings.clone();
    inputs.push(args.lens.clone());
    let made = |form: Form| -> Result<Vec<u8>> {
        let mut bytes = Vec::new();
        match form {
            Form::Json => write_transfer_json(&mut bytes, &program(), &report)?,
            Form::Svg => write_transfer_svg(&mut bytes, &report)?,
            Form::Text => {
                let mut text = String::new();
                write_transfer_text(&mut text, &report)?;
                bytes = text.into_bytes();
            }
        }
        Ok(bytes)
    };
    sheets.write(args.force, &inputs, made)?;
    sheets::show(args.json, screen, made)?;
    Ok(Exit::Clean)
}

fn report(
    lens: &Lens,
    name: &str,
    documents: &[PathBuf],
    sharpness: Sharpness,
) -> Result<TransferReport> {
    let ring = scale::focus_ring(lens, name)?;
    let curve = scale::focus_curve(ring, name)?;
    let depth = Depth::of(lens, ring.reference.unwrap_or_default(), sharpness);
    let mut pre_marked = Vec::new();
    for path in documents {
        let file = path.display().to_string();
        pre_marked.extend(rings(path)?.into_iter().map(|ring| (file.clone(), ring)));
    }
    let transfers: Vec<_> = pre_marked
        .iter()
        .map(|(_, ring)| on(&curve, ring, depth.as_ref().ok()))
        .collect();
    let rings = transfer::ranked(&transfers)
        .into_iter()
        .filter_map(|index| {
            let (file, ring) = pre_marked.get(index)?;
            Some(told(file, ring, transfers.get(index)?))
        });
    Ok(TransferReport {
        lens: lens.label(),
        calibration: name.to_owned(),
        ring: ring.clone(),
        depth: depth.as_ref().map(Depth::words).map_err(String::clone),
        rings: rings.collect(),
    })
}

fn rings(path: &Path) -> Result<Vec<PreMarkedRing>> {
    let name = path.display().to_string();
    let size = std::fs::metadata(path)
        .with_context(|| format!("{name}: cannot read"))?
        .len();
    if size > MAX_DOCUMENT {
        bail!("{name}: {size} bytes are no description of pre-marked rings");
    }
    let text = std::fs::read(path).with_context(|| format!("{name}: cannot read"))?;
    json::read_pre_marked(&name, &text).map_err(|error| match error.help.as_str() {
        "" => anyhow::anyhow!(
            "{error}; pre-marked rings are a JSON document, as `ringmark ring` makes one"
        ),
        help => anyhow::anyhow!("{error}; {help}"),
    })
}

fn on(curve: &RingCurve, ring: &PreMarkedRing, depth: Option<&Depth>) -> transfer::Transfer {
    let printed: Vec<Printed> = ring
        .marks
        .iter()
        .map(|mark| Printed {
            metres: mark.metres,
            position: mark.position,
        })
        .collect();
    transfer::Transfer::new(curve, &printed, |metres| depth?.dioptres(metres))
}

fn told(file: &str, ring: &PreMarkedRing, found: &transfer::Transfer) -> TransferRing {
    let largest = |largest: Largest| LargestError {
        error: largest.error,
        metres: largest.metres,
        position: largest.position,
    };
    TransferRing {
        file: file.to_owned(),
        ring: ring.clone(),
        targets: found
            .targets
            .iter()
            .map(|target| match target {
                Ok(target) => Ok(TransferTarget {
                    position: target.position,
                    band: target.band,
                    low: target.low,
                    high: target.high,
                }),
                Err(OutOfReach::Nearer) => Err(Unreached::NearerThanScale),
                Err(OutOfReach::BeyondMarks) => Err(Unreached::BeyondMarks),
                Err(OutOfReach::EndStop) => Err(Unreached::EndStop),
            })
            .collect(),
        travel_share: found.travel_share,
        largest_metres: found.largest_metres.map(largest),
        largest_depths: found.largest_depths.map(largest),
    }
}
