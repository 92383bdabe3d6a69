//! `ringmark ring`

use std::io::Write;
use std::path::Path;

use anyhow::{Context, Result, anyhow, bail};
use ringmark_model::{PreMarkedRing, PrintedMark, json};
use ringmark_optics::transfer::round_series;
use ringmark_quantity::{Angle, Conversion, Length, Unit, parse, print};

use crate::args::{MakeRing, PrintedUnit};
use crate::exit::Exit;
use crate::save::Output;
use crate::screen::Screen;

/// Most marks that are written.
const MAX_MARKS: usize = 1000;

/// Writes the description of a ring.
pub fn ring(args: &MakeRing, screen: &Screen) -> Result<Exit> {
    let distances = match &args.from {
        Some(from) => series(from, args)?,
        None => listed(&args.values)?,
    };
    let ring = PreMarkedRing {
        maker: args.maker.clone(),
        name: args.name.clone(),
        rotation: args.rotation.as_deref().map(rotation).transpose()?,
        length: args.length.as_deref().map(length).transpose()?,
        marks: evenly(distances),
    };
    let text = json::write_pre_marked(&[ring])?;
    match args.output.as_deref() {
        Some(path) if path != Path::new("-") => {
            let mut output = Output::create(path, args.force, &[])?;
            output
                .write_all(&text)
                .with_context(|| format!("{}: cannot write", path.display()))?;
            output.finish()?;
        }
        _ => screen.result(&text)?,
    }
    Ok(Exit::Clean)
}

/// A distance as it is printed, and in metres.
type Distance = (String, f64);

fn distance(option: &str, text: &str) -> Result<Distance> {
    let text = text.trim();
    if parse::number(text).is_ok_and(f64::is_finite) {
        bail!("{option} {text}: {text} of what? Write the unit, as 0.6m or 2'6\"");
    }
    let (value, unit) = parse::length(text, Unit::FeetInches)
        .map_err(|error| anyhow!("{option} {text}: {error}"))?;
    let metres = Conversion::between(unit, Unit::Metre)?.apply(value);
    if metres > 0.0 {
        let printed = match metres.is_infinite() {
            true => "inf".to_owned(),
            false => print::value(value, unit),
        };
        Ok((printed, metres))
    } else {
        bail!("{option} {text}: a distance is above 0")
    }
}

/// Round distances between two ends.
fn series(from: &str, args: &MakeRing) -> Result<Vec<Distance>> {
    let (from, to) = (distance("--from", from)?, distance("--to", &args.to)?);
    if args.marks > MAX_MARKS {
        bail!("--marks {}: a ring has at most {MAX_MARKS}", args.marks);
    }
    let unit = match args.unit {
        PrintedUnit::M => Unit::Metre,
        PrintedUnit::FtIn => Unit::FeetInches,
    };
    let values = round_series(from.1, to.1, args.marks, unit)?;
    let metres = Conversion::between(unit, Unit::Metre)?;
    let mut distances = vec![from];
    distances.extend(
        values
            .into_iter()
            .map(|value| (print::value(value, unit), metres.apply(value))),
    );
    distances.push(to);
    Ok(distances)
}

/// The distances that were listed, which rise or fall all the way.
fn listed(values: &[String]) -> Result<Vec<Distance>> {
    let distances: Vec<Distance> = values
        .iter()
        .map(|text| distance("--values", text))
        .collect::<Result<_>>()?;
    if !(2..=MAX_MARKS).contains(&distances.len()) {
        bail!(
            "--values: {} marks: a ring has 2 to {MAX_MARKS}",
            distances.len()
        );
    }
    let pairs = || distances.iter().zip(distances.iter().skip(1));
    let rises = pairs().next().is_some_and(|(a, b)| a.1 < b.1);
    match pairs().find(|(a, b)| a.1 == b.1 || (a.1 < b.1) != rises) {
        Some((a, b)) => bail!("--values: {} follows on {}, against the rest", b.0, a.0),
        None => Ok(distances),
    }
}

/// The distances at even places from 0 to 1.
fn evenly(distances: Vec<Distance>) -> Vec<PrintedMark> {
    let last = distances.len().saturating_sub(1) as f64;
    let mark = |(index, (text, metres)): (usize, Distance)| PrintedMark {
        text,
        metres,
        position: index as f64 / last,
    };
    distances.into_iter().enumerate().map(mark).collect()
}

fn rotation(text: &str) -> Result<Angle> {
    let read = parse::angle(text, Unit::One).ok();
    let angle = read.and_then(|(value, unit)| Angle::of(value, unit).ok());
    angle
        .filter(|angle| angle.degrees() > 0.0)
        .with_context(|| {
            format!("--rotation {text}: expected an angle above 0 with its unit, as 300deg")
        })
}

fn length(text: &str) -> Result<Length> {
    // A bare number would come back as `Unit::One`, which is no length.
    let read = parse::length(text, Unit::One).ok();
    read.filter(|(_, unit)| *unit != Unit::Dioptre)
        .and_then(|(value, unit)| Length::of(value, unit).ok())
        .filter(|length| length.metres() > 0.0)
        .with_context(|| format!("--length {text}: expected a length with its unit, as 180mm"))
}
