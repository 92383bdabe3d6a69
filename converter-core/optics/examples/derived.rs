//! Answers questions in JSON, one a line, with the functions of this crate: what checks against other libraries call.
//!
//! - `{"ask": "limits", "reference": "entrance-pupil", "focal_length_mm": 50, "f_number": 2.8, "circle_mm": 0.025, "focus_m": 3}`,
//!   with `"pinhole_mm"` and `"pupil_offset_mm"` where known: near, far and hyperfocal distance in metres.
//! - `{"ask": "distort", "coefficients": [k1, k2, p1, p2, k3], "direction": "undistorted-to-distorted", "normalisation":
//!   "focal lengths", "points": [[x, y], …]}`, or `undistort`: points.
//! - `{"ask": "st-map", "kind": "undistort", …, "size_px": [w, h], "sensor_mm": [w, h], "pinhole_mm": f, "principal_mm": [x, y],
//!   "overscan_px": [left, right, top, bottom]}`: rows of [s, t].
//!
//! Infinity is `"inf"`; what has no answer gives `{"error": …}`.
#![allow(clippy::print_stdout)]

use std::error::Error;
use std::io::BufRead;

use ringmark_optics::{
    Canvas, CircleOfConfusion, Coefficients, Direction, Distortion, FocusedLens, ImageGeometry,
    Normalisation, StMap, StMapKind, hyperfocal,
};
use ringmark_quantity::{
    DistanceReference, EffectiveFocalLength, FNumber, FocusDistance, Length, PinholeFocalLength,
};
use serde_json::{Value, json};

type Answer = Result<Value, Box<dyn Error>>;

fn main() -> Result<(), Box<dyn Error>> {
    for line in std::io::stdin().lock().lines() {
        let question: Value = serde_json::from_str(&line?)?;
        let answer = answer(&question).unwrap_or_else(|error| json!({"error": error.to_string()}));
        println!("{answer}");
    }
    Ok(())
}

fn answer(question: &Value) -> Answer {
    match text(question, "ask")? {
        "limits" => limits(question),
        ask @ ("distort" | "undistort") => {
            let distortion = distortion(question)?;
            let points: Vec<[f64; 2]> = serde_json::from_value(question["points"].clone())?;
            let moved = points.into_iter().map(|point| match ask {
                "distort" => distortion.distort(point),
                _ => distortion.undistort(point),
            });
            Ok(json!(moved.collect::<Result<Vec<_>, _>>()?))
        }
        "st-map" => st_map(question),
        other => Err(format!("nothing is asked by '{other}'").into()),
    }
}

fn limits(question: &Value) -> Answer {
    let reference = DistanceReference::from_name(text(question, "reference")?)
        .ok_or("reference: not a known one")?;
    let focal_length = EffectiveFocalLength::from_mm(number(question, "focal_length_mm")?)?;
    let stop = FNumber::new(number(question, "f_number")?)?;
    let circle = CircleOfConfusion::from_mm(number(question, "circle_mm")?)?;
    let focus = FocusDistance::new(number(question, "focus_m")?, reference)?;
    let offset = question["pupil_offset_mm"].as_f64().map(Length::from_mm);
    let pinhole = question["pinhole_mm"]
        .as_f64()
        .map(PinholeFocalLength::from_mm)
        .transpose()?;
    let depth =
        FocusedLens::known(focal_length, focus, pinhole, offset)?.depth_of_field(stop, circle)?;
    let far_focus = hyperfocal(focal_length, stop, circle, offset, reference)?;
    let metres = |distance: FocusDistance| match distance.is_infinite() {
        true => json!("inf"),
        false => json!(distance.metres()),
    };
    Ok(json!({
        "near_m": metres(depth.near),
        "far_m": metres(depth.far),
        "hyperfocal_m": metres(far_focus),
    }))
}

fn distortion(question: &Value) -> Result<Distortion, Box<dyn Error>> {
    let [k1, k2, p1, p2, k3]: [f64; 5] = serde_json::from_value(question["coefficients"].clone())?;
    let direction = match text(question, "direction")? {
        "undistorted-to-distorted" => Direction::UndistortedToDistorted,
        "distorted-to-undistorted" => Direction::DistortedToUndistorted,
        other => return Err(format!("direction: '{other}'").into()),
    };
    let unit = text(question, "normalisation")?;
    let normalisation = [
        Normalisation::FocalLength,
        Normalisation::HalfWidth,
        Normalisation::HalfDiagonal,
        Normalisation::Millimetre,
        Normalisation::Pixel,
    ]
    .into_iter()
    .find(|normalisation| normalisation.unit() == unit)
    .ok_or("normalisation: not a known one")?;
    let coefficients = Coefficients { k1, k2, k3, p1, p2 };
    Ok(Distortion::new(coefficients, direction, normalisation)?)
}

fn st_map(question: &Value) -> Answer {
    let distortion = distortion(question)?;
    let size: (u32, u32) = serde_json::from_value(question["size_px"].clone())?;
    let sensor: (f64, f64) = serde_json::from_value(question["sensor_mm"].clone())?;
    let principal: (f64, f64) = serde_json::from_value(question["principal_mm"].clone())?;
    let pinhole = PinholeFocalLength::from_mm(number(question, "pinhole_mm")?)?;
    let image = ImageGeometry::new(size, sensor, pinhole, principal)?;
    let [left, right, top, bottom]: [u32; 4] =
        serde_json::from_value(question["overscan_px"].clone())?;
    let canvas = Canvas::with_overscan(&image, left, right, top, bottom)?;
    let kind = match text(question, "kind")? {
        "undistort" => StMapKind::Undistort,
        "redistort" => StMapKind::Redistort,
        other => return Err(format!("kind: '{other}'").into()),
    };
    let map = StMap::new(kind, &distortion, &image, canvas);
    Ok(json!(map.rows().collect::<Result<Vec<_>, _>>()?))
}

fn text<'q>(question: &'q Value, name: &str) -> Result<&'q str, Box<dyn Error>> {
    question[name]
        .as_str()
        .ok_or_else(|| format!("{name}: a text is missing").into())
}

fn number(question: &Value, name: &str) -> Result<f64, Box<dyn Error>> {
    match &question[name] {
        Value::String(text) if text == "inf" => Ok(f64::INFINITY),
        other => other
            .as_f64()
            .ok_or_else(|| format!("{name}: a number is missing").into()),
    }
}
