//! The head of a take.

use ringmark_quantity::{CountingMode, FrameRate};

use super::columns::{Declared, columns};
use super::cursor::Cursor;
use super::error::Parsed;
use super::extras::extras;
use super::lens::{encoder, fact, owned};
use crate::json::keys;
use crate::lens::{Axis, EncoderRange};
use crate::place::Place;
use crate::take::{Camera, Take, counting_name};

/// A take as it stands in a document.
#[derive(Debug)]
pub(super) struct ReadTake<'a> {
    pub take: Take,
    /// The count of frames, if stated, and where.
    pub frames: Option<(u64, usize)>,
    pub columns: Vec<Declared<'a>>,
    /// Where the take begins.
    pub start: usize,
}

pub(super) fn take<'a>(c: &mut Cursor<'a>) -> Parsed<ReadTake<'a>> {
    c.space();
    let start = c.at();
    let mut take = Take::default();
    let mut places = Vec::new();
    let at = &mut places;
    let mut frames = None;
    let mut declared = Vec::new();
    c.object(keys::TAKE, |c, key| {
        match key {
            "clip" => take.clip = Some(fact(c, at, &["clip"], owned)?),
            "reel" => take.reel = Some(fact(c, at, &["reel"], owned)?),
            "camera" => take.camera = camera(c, at)?,
            "sensor_mm" => {
                let facts = ["sensor-width", "sensor-height"];
                take.sensor_mm = Some(fact(c, at, &facts, Cursor::pair)?);
            }
            "resolution" => {
                let facts = ["resolution-width", "resolution-height"];
                take.resolution = Some(fact(c, at, &facts, resolution)?);
            }
            "frame_rate" => take.frame_rate = Some(fact(c, at, &["frame-rate"], rate)?),
            "capture_rate" => take.capture_rate = Some(fact(c, at, &["capture-rate"], rate)?),
            "counting" => take.counting = Some(fact(c, at, &["counting"], counting)?),
            "start_timecode" => {
                take.start_timecode = Some(fact(c, at, &["start-timecode"], owned)?);
            }
            "lens" => take.lens = usize::try_from(c.whole(u64::from(u32::MAX))?).ok(),
            "encoders" => take.encoders = encoders(c, at)?,
            "distortion_model" => {
                take.distortion_model = Some(fact(c, at, &["distortion-model"], owned)?);
            }
            "extras" => take.extras = extras(c)?,
            "frames" => {
                let start = c.at();
                frames = Some((c.whole(u64::MAX)?, start));
            }
            _ => declared = columns(c)?,
        }
        Ok(())
    })?;
    take.places = places;
    Ok(ReadTake {
        take,
        frames,
        columns: declared,
        start,
    })
}

fn camera(c: &mut Cursor, places: &mut Vec<(String, Place)>) -> Parsed<Camera> {
    let mut camera = Camera::default();
    c.object(keys::CAMERA, |c, key| {
        let text = Some(fact(c, places, &[&format!("camera-{key}")], owned)?);
        match key {
            "maker" => camera.maker = text,
            "model" => camera.model = text,
            "serial" => camera.serial = text,
            "firmware" => camera.firmware = text,
            _ => camera.label = text,
        }
        Ok(())
    })?;
    Ok(camera)
}

fn resolution(c: &mut Cursor) -> Parsed<(u32, u32)> {
    c.expect(b'[', "`[` and two numbers")?;
    let width = pixels(c)?;
    c.expect(b',', "`,` and a second number")?;
    let height = pixels(c)?;
    c.expect(b']', "`]` after two numbers")?;
    Ok((width, height))
}

fn pixels(c: &mut Cursor) -> Parsed<u32> {
    let pixels = c.whole(u64::from(u32::MAX))?;
    Ok(u32::try_from(pixels).unwrap_or(u32::MAX))
}

fn rate(c: &mut Cursor) -> Parsed<FrameRate> {
    let start = c.at();
    let text = c.text()?;
    FrameRate::parse(&text).map_err(|error| c.fault(start, error.to_string(), ""))
}

fn counting(c: &mut Cursor) -> Parsed<CountingMode> {
    let modes = [CountingMode::DropFrame, CountingMode::NonDrop];
    c.one_of(
        "counting mode",
        &modes.map(|mode| (counting_name(mode), mode)),
    )
}

fn encoders(
    c: &mut Cursor,
    places: &mut Vec<(String, Place)>,
) -> Parsed<Vec<(Axis, EncoderRange)>> {
    let mut encoders = Vec::new();
    c.object(keys::AXES, |c, key| {
        let facts = [format!("{key}-encoder-low"), format!("{key}-encoder-high")];
        let range = fact(c, places, &facts.each_ref().map(String::as_str), encoder)?;
        encoders.extend(Axis::from_name(key).map(|axis| (axis, range)));
        Ok(())
    })?;
    Ok(encoders)
}
