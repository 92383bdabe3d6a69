//! Typed fields back to facts, in the canonical units.

use ringmark_model::facts::{FactKind, fact_info};
use ringmark_model::raw::{EXTRA, RawDatum, RawFact};
use ringmark_model::take::counting_name;
use ringmark_model::{Axis, Extra, ExtraValue, Lens, Ring, Take};
use ringmark_quantity::{Angle, Length, Unit};

/// Collects facts; `None` is left out.
#[derive(Default)]
struct Facts(Vec<RawFact>);

impl Facts {
    fn text(&mut self, name: &str, text: Option<impl Into<String>>) {
        if let Some(text) = text {
            self.push(name, RawDatum::Text(text.into()));
        }
    }

    fn number(&mut self, name: &str, number: Option<f64>) {
        if let Some(number) = number {
            self.push(name, RawDatum::Number(number));
        }
    }

    fn push(&mut self, name: &str, value: RawDatum) {
        let unit = match fact_info(name).map(|info| info.kind) {
            Some(FactKind::Number(unit)) => unit.symbol(),
            _ => "",
        };
        self.0.push(RawFact {
            name: name.to_owned(),
            value,
            unit: unit.to_owned(),
            at: None,
        });
    }

    fn extras(&mut self, extras: &[Extra]) {
        for extra in extras {
            let (value, unit) = match &extra.value {
                ExtraValue::Number(number, unit) => (RawDatum::Number(*number), unit.clone()),
                ExtraValue::Text(form, text) => {
                    (RawDatum::Text(text.clone()), form.name().to_owned())
                }
            };
            self.0.push(RawFact {
                name: format!("{EXTRA}{}", extra.name),
                value,
                unit,
                at: None,
            });
        }
    }
}

/// Whether the fact is an encoder limit, which stays in the unit of the raw positions.
pub(crate) fn is_raw(name: &str) -> bool {
    let kind = fact_info(name).map(|info| info.kind);
    kind == Some(FactKind::Number(Unit::Count))
}

/// Millimetres of a length that is kept in metres: the shorter number where two give the same
/// metres, so that 3.97 mm does not come back as 3.9700000000000006 mm.
fn millimetres(length: Length) -> f64 {
    match format!("{:.14e}", length.mm()).parse() {
        Ok(short) if Length::from_mm(short) == length => short,
        _ => length.mm(),
    }
}

/// Facts of a lens.
pub(crate) fn of_lens(lens: &Lens) -> Vec<RawFact> {
    let mut facts = Facts::default();
    facts.text("lens-maker", lens.maker.clone());
    facts.text("lens-model", lens.model.clone());
    facts.text("lens-serial", lens.serial.clone());
    facts.text("lens-firmware", lens.firmware.clone());
    facts.text("lens-kind", lens.kind.map(|k| k.name()));
    facts.number("focal-length-min", lens.focal_length.map(|f| f.0.mm()));
    facts.number("focal-length-max", lens.focal_length.map(|f| f.1.mm()));
    facts.number("close-focus", lens.close_focus.map(|l| l.metres()));
    facts.text(
        "close-focus-reference",
        lens.close_focus_reference.map(|r| r.name()),
    );
    facts.number("widest-t-stop", lens.widest_t.map(|t| t.value()));
    facts.number("smallest-t-stop", lens.smallest_t.map(|t| t.value()));
    facts.number("widest-f-number", lens.widest_f.map(|f| f.value()));
    facts.number("smallest-f-number", lens.smallest_f.map(|f| f.value()));
    facts.number("squeeze", lens.squeeze);
    facts.number("image-circle", lens.image_circle.map(millimetres));
    facts.extras(&lens.extras);
    facts.0
}

/// Facts of a ring whose raw positions are in `raw`.
pub(crate) fn of_ring(ring: &Ring, raw: Unit) -> Vec<RawFact> {
    let mut facts = Facts::default();
    facts.text("reference", ring.reference.map(|r| r.name()));
    facts.number("encoder-low", ring.encoder.map(|e| e.low));
    facts.number("encoder-high", ring.encoder.map(|e| e.high));
    for end in &mut facts.0 {
        if is_raw(&end.name) {
            raw.symbol().clone_into(&mut end.unit);
        }
    }
    facts.number("rotation", ring.rotation.map(Angle::degrees));
    facts.0
}

/// Facts of a take.
pub(crate) fn of_take(take: &Take) -> Vec<RawFact> {
    let mut facts = Facts::default();
    facts.text("clip", take.clip.clone());
    facts.text("reel", take.reel.clone());
    facts.text("camera-maker", take.camera.maker.clone());
    facts.text("camera-model", take.camera.model.clone());
    facts.text("camera-serial", take.camera.serial.clone());
    facts.text("camera-firmware", take.camera.firmware.clone());
    facts.text("camera-label", take.camera.label.clone());
    facts.number("sensor-width", take.sensor_mm.map(|s| s.0));
    facts.number("sensor-height", take.sensor_mm.map(|s| s.1));
    facts.number("resolution-width", take.resolution.map(|r| f64::from(r.0)));
    facts.number("resolution-height", take.resolution.map(|r| f64::from(r.1)));
    facts.text("frame-rate", take.frame_rate.map(|r| r.to_string()));
    facts.text("capture-rate", take.capture_rate.map(|r| r.to_string()));
    facts.text("counting", take.counting.map(counting_name));
    facts.text("start-timecode", take.start_timecode.clone());
    facts.text("distortion-model", take.distortion_model.clone());
    for axis in Axis::ALL {
        let range = take.encoder(axis);
        facts.number(
            &format!("{}-encoder-low", axis.name()),
            range.map(|r| r.low),
        );
        facts.number(
            &format!("{}-encoder-high", axis.name()),
            range.map(|r| r.high),
        );
    }
    facts.extras(&take.extras);
    facts.0
}
