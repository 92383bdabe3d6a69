//! `ringmark st-map`

use std::path::PathBuf;

use anyhow::{Context, Result, anyhow, bail};
use ringmark_optics::{Canvas, Coefficients, Direction, Normalisation, StMap as Map, StMapKind};
use ringmark_outputs::{StMapError, safe, write_st_map};

use crate::args::{Cli, MapDirection, MapKind, MapNormalisation, Reading, StMap};
use crate::exit::Exit;
use crate::pipeline::program;
use crate::save::Output;
use crate::screen::Screen;
use crate::sequence::Pattern;
use crate::session::Session;
use crate::st_map::{Drawn, Recorded, RecordedFrame, Statement, stated};

/// Frames of one run: maps are large, and a number typed with a digit too many fills a disk.
const MOST_FRAMES: u64 = 100_000;

/// Writes one map, or one a frame. All are checked before the first is written.
pub fn st_map(cli: &Cli, args: &StMap, screen: &Screen) -> Result<Exit> {
    let range = args.frames.as_deref().map(frame_range).transpose()?;
    let wanted = range.or(args.frame.map(|frame| (frame, frame)));
    let (recorded, inputs) = read(cli, args, screen, wanted)?;
    let given = given_coefficients(args);
    let outputs = outputs(args, range)?;
    let model = match given {
        Some(_) => None,
        None if recorded
            .frames
            .iter()
            .all(|frame| frame.coefficients.is_none()) =>
        {
            bail!(
                "{}no distortion is recorded; --k1 and its kin give coefficients",
                args.input
                    .as_ref()
                    .map_or(String::new(), |input| format!("{}: ", input.display()))
            )
        }
        None => recorded.take.distortion_model.as_deref(),
    };
    let statement = stated(
        args.direction.map(direction),
        args.normalisation.map(normalisation),
        model,
    )?;
    let frames: Vec<RecordedFrame> = match recorded.frames.as_slice() {
        // Options alone: one map of a frame that has no number.
        [] => vec![RecordedFrame {
            number: 0,
            coefficients: None,
            pinhole_mm: None,
        }],
        frames => frames.to_vec(),
    };
    let maps: Vec<Drawn> = frames
        .iter()
        .map(|frame| {
            let drawn = Drawn::of(args, &recorded, statement, given, frame);
            drawn.with_context(|| at_frame(&recorded, frame))
        })
        .collect::<Result<_>>()?;
    let canvas = common_canvas(args, &recorded, &maps, &frames)?;
    let kind = match args.kind {
        MapKind::Undistort => StMapKind::Undistort,
        MapKind::Redistort => StMapKind::Redistort,
    };
    for (drawn, frame) in maps.iter().zip(&frames) {
        drawn
            .check(kind, canvas)
            .with_context(|| at_frame(&recorded, frame))?;
    }
    if let Some(shift) = &recorded.shift
        && args.principal == "0,0"
        && !cli.quiet
    {
        screen.talk(&format!(
            "note: {} is recorded and not applied: --principal says where the axis meets the sensor\n",
            safe(shift)
        ));
    }
    for ((drawn, frame), path) in maps.iter().zip(&frames).zip(&outputs) {
        let facts = facts(args, &recorded, statement, drawn, frame, canvas);
        let map = Map::new(kind, &drawn.distortion, &drawn.image, canvas);
        let mut output = Output::create(path, args.force, &inputs)?;
        write_st_map(&mut output, map.size_px(), &program(), &facts, |row| {
            map.row(row)
        })
        .map_err(|error| match error {
            StMapError::Row(error) => anyhow!("{}: {error}", path.display()),
            StMapError::Write(why) => anyhow!("{}: cannot write: {why}", path.display()),
        })?;
        output.finish()?;
    }
    Ok(Exit::Clean)
}

fn at_frame(recorded: &Recorded, frame: &RecordedFrame) -> String {
    match recorded.frames.is_empty() {
        true => "no map".to_owned(),
        false => format!("no map for frame {}", frame.number),
    }
}

/// What the take records, if there is one, and the files it was read from.
fn read(
    cli: &Cli,
    args: &StMap,
    screen: &Screen,
    wanted: Option<(u64, u64)>,
) -> Result<(Recorded, Vec<PathBuf>)> {
    let Some(input) = &args.input else {
        if wanted.is_some() {
            bail!("--frame and --frames choose frames of a TAKE: name one");
        }
        return Ok((Recorded::default(), Vec::new()));
    };
    let reading = Reading {
        inputs: vec![input.clone()],
        list: None,
        from: args.from.clone(),
        mapping: args.mapping.clone(),
        lens: None,
    };
    let session = Session::new(&reading, cli.no_cache)?;
    let mut documents = session.documents(screen, cli.quiet)?;
    let (Some((group, document)), true) = (documents.pop(), documents.is_empty()) else {
        bail!("{}: expected one take", input.display());
    };
    let document = document?;
    let recorded = Recorded::read(&document, wanted)?;
    if recorded.frames.is_empty() {
        bail!("{}: has no frames", group.name);
    }
    Ok((recorded, group.files))
}

/// `1001-1010`
fn frame_range(text: &str) -> Result<(u64, u64)> {
    let range = text
        .split_once('-')
        .and_then(|(first, last)| Some((first.parse().ok()?, last.parse().ok()?)));
    match range {
        Some((first, last)) if first <= last && last - first < MOST_FRAMES => Ok((first, last)),
        Some((first, last)) if first <= last => {
            bail!("--frames {text}: {MOST_FRAMES} frames at most")
        }
        _ => bail!("--frames {text}: expected FIRST-LAST, as 1001-1010"),
    }
}

/// Where each map goes.
fn outputs(args: &StMap, range: Option<(u64, u64)>) -> Result<Vec<PathBuf>> {
    let out = &args.output;
    if out.as_os_str() == "-" {
        bail!("-o -: OpenEXR is written to a file: its writer goes back to fill in where rows are");
    }
    if !out
        .extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("exr"))
    {
        bail!(
            "{}: an ST map is OpenEXR: let the name end in .exr",
            out.display()
        );
    }
    let Some((first, last)) = range else {
        return Ok(vec![out.clone()]);
    };
    let pattern = Pattern::of(out);
    (first..=last)
        .map(|number| pattern.as_ref().and_then(|pattern| pattern.file(number)))
        .collect::<Option<Vec<_>>>()
        .with_context(|| {
            format!(
                "{}: --frames writes one file a frame: name them NAME.####.exr",
                out.display()
            )
        })
}

/// The coefficients in the options, if any is there.
fn given_coefficients(args: &StMap) -> Option<Coefficients> {
    let all = [args.k1, args.k2, args.k3, args.p1, args.p2];
    all.iter().any(Option::is_some).then(|| Coefficients {
        k1: args.k1.unwrap_or(0.0),
        k2: args.k2.unwrap_or(0.0),
        k3: args.k3.unwrap_or(0.0),
        p1: args.p1.unwrap_or(0.0),
        p2: args.p2.unwrap_or(0.0),
    })
}

const fn direction(direction: MapDirection) -> Direction {
    match direction {
        MapDirection::UndistortedToDistorted => Direction::UndistortedToDistorted,
        MapDirection::DistortedToUndistorted => Direction::DistortedToUndistorted,
    }
}

const fn normalisation(normalisation: MapNormalisation) -> Normalisation {
    match normalisation {
        MapNormalisation::FocalLength => Normalisation::FocalLength,
        MapNormalisation::HalfWidth => Normalisation::HalfWidth,
        MapNormalisation::HalfDiagonal => Normalisation::HalfDiagonal,
        MapNormalisation::Millimetre => Normalisation::Millimetre,
        MapNormalisation::Pixel => Normalisation::Pixel,
    }
}

/// One canvas for all frames: a sequence has one size.
fn common_canvas(
    args: &StMap,
    recorded: &Recorded,
    maps: &[Drawn],
    frames: &[RecordedFrame],
) -> Result<Canvas> {
    let first = maps.first().context("no frames")?;
    let (width, height) = first.image.size_px();
    if args.overscan != "auto" {
        let percent: f64 = args
            .overscan
            .trim_end_matches('%')
            .parse()
            .ok()
            .filter(|p| (0.0..=400.0).contains(p))
            .with_context(|| {
                format!(
                    "--overscan {}: expected auto, or 0 to 400 per cent",
                    args.overscan
                )
            })?;
        // Half on each side, whole pixels, never less than asked for.
        let side = |pixels: u32| (f64::from(pixels) * percent / 200.0 - 1e-9).ceil() as u32;
        let (across, down) = (side(width), side(height));
        return Ok(Canvas::with_overscan(
            &first.image,
            across,
            across,
            down,
            down,
        )?);
    }
    let (mut left, mut right, mut top, mut bottom) = (0, 0, 0, 0);
    for (drawn, frame) in maps.iter().zip(frames) {
        let canvas = Canvas::covering(&drawn.distortion, &drawn.image)
            .with_context(|| at_frame(recorded, frame))?;
        let (x, y) = canvas.origin_px();
        let (w, h) = canvas.size_px();
        left = left.max(x);
        top = top.max(y);
        right = right.max(w - width - x);
        bottom = bottom.max(h - height - y);
    }
    Ok(Canvas::with_overscan(
        &first.image,
        left,
        right,
        top,
        bottom,
    )?)
}

/// What the file says about itself besides the convention.
fn facts(
    args: &StMap,
    recorded: &Recorded,
    statement: Statement,
    drawn: &Drawn,
    frame: &RecordedFrame,
    canvas: Canvas,
) -> Vec<(&'static str, String)> {
    let (direction, normalisation) = statement.names();
    let (width, height) = drawn.image.size_px();
    let (left, top) = canvas.origin_px();
    let (ideal_width, ideal_height) = canvas.size_px();
    let Coefficients { k1, k2, k3, p1, p2 } = drawn.coefficients;
    let (kind, from) = match args.kind {
        MapKind::Undistort => ("undistort", "the recorded picture"),
        MapKind::Redistort => ("redistort", "the ideal picture"),
    };
    let mut facts = vec![
        ("kind", kind.to_owned()),
        ("source picture", from.to_owned()),
        ("recorded picture", format!("{width} x {height} pixels")),
        (
            "ideal picture",
            format!(
                "{ideal_width} x {ideal_height} pixels, the recorded one at {left}, {top} from its top left"
            ),
        ),
        (
            "model",
            "Brown-Conrady, x to the right, y down, as OpenCV documents it".to_owned(),
        ),
        ("direction", direction.to_owned()),
        ("normalisation", normalisation.to_owned()),
    ];
    for (name, value) in [("k1", k1), ("k2", k2), ("k3", k3), ("p1", p1), ("p2", p2)] {
        facts.push((name, value.to_string()));
    }
    if let Some(mm) = drawn.pinhole_mm {
        facts.push(("pinhole focal length", format!("{mm} mm")));
    }
    if let Some((width, height)) = drawn.sensor_mm {
        facts.push(("sensor", format!("{width} x {height} mm")));
    }
    let (x, y) = drawn.principal_mm;
    facts.push((
        "principal point",
        format!("{x} mm right, {y} mm below the centre"),
    ));
    if let Some((file, sha256)) = &recorded.source {
        facts.push(("source", file.clone()));
        facts.push(("frame", frame.number.to_string()));
        facts.extend(sha256.clone().map(|hash| ("source sha256", hash)));
    }
    facts
}
