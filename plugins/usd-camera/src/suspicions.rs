//! What is legal in a stage, and looks wrong or is left open.

use ringmark_sdk::Place;

use crate::remarks::{Notice, Remarks};
use crate::stage::{Attribute, Camera, Stage};
use crate::units::Scene;

/// Focal lengths in mm of lenses there are, generously (common practice, no source).
const FOCAL_LENGTHS: std::ops::RangeInclusive<f64> = 3.0..=2000.0;

/// Says what is odd about a camera. `own`: this program wrote it.
pub fn tell(camera: &Camera, stage: &Stage, scene: Scene, own: bool, remarks: &mut Remarks) {
    if !own {
        millimetres_in_tenths(camera, stage, scene, remarks);
        film_back(camera, remarks);
    }
    for attribute in &camera.attributes {
        let disorder = attribute.samples.as_ref().and_then(|s| s.disorder);
        if let Some((key, offset)) = disorder {
            remarks.add(Notice {
                severity: "warning",
                check: "samples-out-of-order",
                subject: &attribute.at.field,
                message: format!(
                    "the samples of {} are not in the order of time, first at time code {key}: they are sorted, and of equal ones the last holds",
                    attribute.at.field
                ),
                help: "OpenUSD reads them so too; other programs may not",
                at: Some(Place {
                    offset,
                    length: 0,
                    ..attribute.at.clone()
                }),
            });
        }
    }
    if !camera.others.is_empty() {
        remarks.add(Notice {
            severity: "note",
            check: "attributes-not-carried",
            subject: &camera.path,
            message: format!("not read of {}: {}", camera.path, camera.others.join(", ")),
            help: "",
            at: Some(camera.at.clone()),
        });
    }
}

/// Lens lengths are tenths of a scene unit. Many write millimetres, whatever the scene unit is.
fn millimetres_in_tenths(camera: &Camera, stage: &Stage, scene: Scene, remarks: &mut Remarks) {
    let focal_length = camera.attribute("focalLength");
    let Some((attribute, number)) = focal_length.and_then(|a| a.first_number().map(|n| (a, n)))
    else {
        return;
    };
    let mm = scene.millimetres().read(number);
    if FOCAL_LENGTHS.contains(&mm) || !FOCAL_LENGTHS.contains(&number) {
        return;
    }
    let unit = stage.meters_per_unit.as_ref().map_or(0.0, |m| m.value);
    remarks.add(Notice {
        severity: "warning",
        check: "scale-in-other-unit",
        subject: &camera.path,
        message: format!(
            "focalLength {number} is {mm} mm by the standard, in tenths of a scene unit of {unit} m; it would make sense as millimetres"
        ),
        help: "the likely cause: millimetres were written while metersPerUnit is not 0.01; check focal length and apertures where the file was made",
        at: Some(attribute.at.clone()),
    });
}

/// Without apertures the field of view is that of the standard's fallback.
fn film_back(camera: &Camera, remarks: &mut Remarks) {
    let has = |name: &str| camera.attribute(name).is_some_and(says);
    if has("focalLength") && !has("horizontalAperture") {
        remarks.add(Notice {
            severity: "note",
            check: "film-back-unstated",
            subject: &camera.path,
            message: format!(
                "{} has no horizontalAperture: the sensor width is not recorded",
                camera.path
            ),
            help: "the standard would take 20.955 tenths of a scene unit: write what the camera has",
            at: Some(camera.at.clone()),
        });
    }
}

fn says(attribute: &Attribute) -> bool {
    attribute.is_animated() || attribute.value.is_some()
}

/// The stage does not say how large its unit is.
pub fn unit_unstated(remarks: &mut Remarks) {
    remarks.add(Notice {
        severity: "note",
        check: "unit-unstated",
        subject: "",
        message: "the stage has no metersPerUnit: its unit is the centimetre by the standard"
            .to_owned(),
        help: "write metersPerUnit",
        at: None,
    });
}
