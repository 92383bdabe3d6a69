//! The objects of a document; the same in all three forms.

use std::collections::HashSet;

use ringmark_quantity::Unit;

use super::printer::Printer;
use crate::batch::{ColumnHead, NumberColumn, TextColumn, TextForm};
use crate::extras::{Extra, ExtraValue};
use crate::json::{MAX_COLUMNS, rules};
use crate::lens::{EncoderRange, Lens, LensTable, Mark, Ring, ScaleQuantity};
use crate::provenance::{Provenance, Repaired};
use crate::take::Take;

/// Help where the pieces themselves are at fault: the document cannot be repaired by hand.
pub(super) const REPORT: &str = "this is a fault of the reader of the format or of this program; please report it with the input";

pub(super) fn lens(p: &mut Printer, lens: &Lens) {
    p.object(|p| {
        p.text_field("maker", lens.maker.as_deref());
        p.text_field("model", lens.model.as_deref());
        p.text_field("serial", lens.serial.as_deref());
        p.text_field("firmware", lens.firmware.as_deref());
        p.text_field("kind", lens.kind.map(|kind| kind.name()));
        let focal = lens.focal_length.map(|(min, max)| (min.mm(), max.mm()));
        p.pair_field("focal_length_mm", focal);
        p.number_field("close_focus_m", lens.close_focus.map(|l| l.metres()));
        let reference = lens.close_focus_reference.map(|r| r.name());
        p.text_field("close_focus_reference", reference);
        p.number_field("widest_t_stop", lens.widest_t.map(|t| t.value()));
        p.number_field("smallest_t_stop", lens.smallest_t.map(|t| t.value()));
        p.number_field("widest_f_number", lens.widest_f.map(|f| f.value()));
        p.number_field("smallest_f_number", lens.smallest_f.map(|f| f.value()));
        p.number_field("squeeze", lens.squeeze);
        if let Some(circle) = lens.image_circle {
            p.key("image_circle_mm");
            p.millimetres("image circle", circle.metres());
        }
        list(p, "rings", &lens.rings, ring);
        list(p, "tables", &lens.tables, table);
        extras(p, &lens.extras);
    });
}

/// `key: [...]`, if there is an item.
fn list<T>(p: &mut Printer, key: &str, items: &[T], print: impl Fn(&mut Printer, &T)) {
    if !items.is_empty() {
        p.key(key);
        p.array(|p| {
            for each in items {
                p.item();
                print(p, each);
            }
        });
    }
}

fn ring(p: &mut Printer, ring: &Ring) {
    if (ring.quantity == ScaleQuantity::FocusDistance) != ring.reference.is_some() {
        let says = match ring.reference {
            None => "does not say what its distances are measured from",
            Some(_) => "says what it is measured from, but reads no distances",
        };
        p.fault(
            format!("the scale of the {} ring {says}", ring.axis.name()),
            REPORT,
        );
    }
    p.object(|p| {
        p.text_field("axis", Some(ring.axis.name()));
        p.text_field("quantity", Some(ring.quantity.name()));
        p.text_field("reference", ring.reference.map(|r| r.name()));
        let unit = ring.quantity.unit();
        p.text_field("unit", Some(unit.symbol()));
        let source = Some(ring.source_unit).filter(|&source| source != unit);
        p.text_field("source_unit", source.map(Unit::symbol));
        p.pair_field("encoder", ring.encoder.map(ends));
        p.number_field("rotation_deg", ring.rotation.map(|a| a.degrees()));
        p.key("marks");
        p.array(|p| {
            for each in &ring.marks {
                p.item();
                p.on_one_line(|p| mark(p, each));
            }
        });
    });
}

fn ends(range: EncoderRange) -> (f64, f64) {
    (range.low, range.high)
}

fn mark(p: &mut Printer, mark: &Mark) {
    p.object(|p| {
        p.key("position");
        p.value(mark.position);
        p.number_field("raw", mark.raw);
        p.key("value");
        p.value(mark.value);
        p.text_field("engraved", mark.engraved.as_deref());
    });
}

fn table(p: &mut Printer, table: &LensTable) {
    let rows = table.columns.first().map_or(0, |c| c.values.len());
    if table.columns.iter().any(|c| c.values.len() != rows) {
        p.fault(
            format!("the columns of table `{}` differ in length", table.name),
            REPORT,
        );
    }
    let what = format!("table `{}`", table.name);
    check_columns(p, &what, table.columns.iter().map(|c| (&*c.head, false)));
    p.object(|p| {
        p.text_field("name", Some(&table.name));
        p.key("columns");
        p.object(|p| {
            for column in &table.columns {
                number_column(p, column);
            }
        });
    });
}

/// Keeps a fault if heads do not fit the registry, stand twice, or are too many.
pub(super) fn check_columns<'a>(
    p: &mut Printer,
    what: &str,
    heads: impl Iterator<Item = (&'a ColumnHead, bool)>,
) {
    let mut seen = HashSet::new();
    for (head, is_text) in heads {
        if let Some(fault) = rules::head_fault(head, is_text) {
            p.fault(format!("{what}: {fault}"), REPORT);
        }
        if !seen.insert(&head.key) {
            p.fault(
                format!("{what}: column `{}` stands twice", head.key.name()),
                "give the columns different names",
            );
        }
    }
    if seen.len() > MAX_COLUMNS {
        p.fault(
            format!(
                "{what}: {} columns, at most {MAX_COLUMNS} can be written",
                seen.len()
            ),
            "leave out columns that are not needed",
        );
    }
}

/// `name: {head}`.
pub(super) fn declared_column(p: &mut Printer, head: &ColumnHead) {
    p.key(&head.key.name());
    p.on_one_line(|p| p.object(|p| column_head(p, head)));
}

/// `name: {head, values}`.
pub(super) fn number_column(p: &mut Printer, column: &NumberColumn) {
    p.key(&column.head.key.name());
    p.object(|p| {
        column_head(p, &column.head);
        values(p, column.values.iter(), |p, &value| p.value(value));
    });
}

/// `name: {head, values}`.
pub(super) fn text_column(p: &mut Printer, column: &TextColumn) {
    p.key(&column.head.key.name());
    p.object(|p| {
        column_head(p, &column.head);
        values(p, column.iter(), |p, text| match text {
            Some(text) => p.text(text),
            None => p.value(f64::NAN),
        });
    });
}

fn values<T>(p: &mut Printer, values: impl Iterator<Item = T>, print: impl Fn(&mut Printer, T)) {
    p.key("values");
    p.on_one_line(|p| {
        p.array(|p| {
            for value in values {
                p.item();
                print(p, value);
            }
        });
    });
}

fn column_head(p: &mut Printer, head: &ColumnHead) {
    p.text_field(
        "unit",
        Some(head.unit.as_str()).filter(|unit| !unit.is_empty()),
    );
    p.text_field("reference", head.reference.map(|r| r.name()));
    p.text_field("origin", Some(head.origin.name()));
    p.text_field("source_unit", head.source_unit.as_deref());
    // Texts of the registry are plain.
    let form = head.form.filter(|_| head.key.channel().is_none());
    p.text_field("form", form.map(TextForm::name));
}

/// The keys of a take up to its columns; for the body of an object.
pub(super) fn take_head(p: &mut Printer, take: &Take) {
    p.text_field("clip", take.clip.as_deref());
    p.text_field("reel", take.reel.as_deref());
    let camera = &take.camera;
    let known = [
        ("maker", &camera.maker),
        ("model", &camera.model),
        ("serial", &camera.serial),
        ("firmware", &camera.firmware),
        ("label", &camera.label),
    ];
    if known.iter().any(|(_, text)| text.is_some()) {
        p.key("camera");
        p.object(|p| {
            for (key, text) in known {
                p.text_field(key, text.as_deref());
            }
        });
    }
    p.pair_field("sensor_mm", take.sensor_mm);
    let pixels = take.resolution.map(|(w, h)| (f64::from(w), f64::from(h)));
    p.pair_field("resolution", pixels);
    let rate = take.frame_rate.map(|rate| rate.to_string());
    p.text_field("frame_rate", rate.as_deref());
    let rate = take.capture_rate.map(|rate| rate.to_string());
    p.text_field("capture_rate", rate.as_deref());
    p.text_field("counting", take.counting.map(crate::take::counting_name));
    p.text_field("start_timecode", take.start_timecode.as_deref());
    if let Some(lens) = take.lens {
        p.key("lens");
        p.integer(lens as u64);
    }
    if !take.encoders.is_empty() {
        p.key("encoders");
        p.object(|p| {
            for (axis, range) in &take.encoders {
                p.pair_field(axis.name(), Some(ends(*range)));
            }
        });
        let axes: HashSet<_> = take.encoders.iter().map(|(axis, _)| axis).collect();
        if axes.len() < take.encoders.len() {
            p.fault("two encoder ranges for one ring of a take", REPORT);
        }
    }
    p.text_field("distortion_model", take.distortion_model.as_deref());
    extras(p, &take.extras);
}

fn extras(p: &mut Printer, extras: &[Extra]) {
    if extras.is_empty() {
        return;
    }
    let mut seen = HashSet::new();
    p.key("extras");
    p.object(|p| {
        for extra in extras {
            if !seen.insert(extra.name.as_str()) {
                p.fault(
                    format!("extra `{}` stands twice", extra.name),
                    "give the two different names",
                );
            }
            p.key(&extra.name);
            extra_value(p, &extra.value);
        }
    });
}

/// A plain finite number and a plain text stand as they are; all else says what it is.
fn extra_value(p: &mut Printer, value: &ExtraValue) {
    match value {
        ExtraValue::Number(number, unit) if unit.is_empty() && number.is_finite() => {
            p.value(*number);
        }
        ExtraValue::Text(TextForm::Text, text) => p.text(text),
        ExtraValue::Number(number, unit) => p.on_one_line(|p| {
            p.object(|p| {
                p.key("number");
                p.value(*number);
                p.text_field("unit", Some(unit.as_str()).filter(|unit| !unit.is_empty()));
            });
        }),
        ExtraValue::Text(form, text) => p.on_one_line(|p| {
            p.object(|p| p.text_field(form.name(), Some(text)));
        }),
    }
}

/// `provenance: [...]`.
pub(super) fn provenance(p: &mut Printer, inputs: &[Provenance]) {
    p.key("provenance");
    p.array(|p| {
        for input in inputs {
            p.item();
            one_input(p, input);
        }
    });
}

fn one_input(p: &mut Printer, input: &Provenance) {
    p.object(|p| {
        p.text_field("file", Some(&input.file));
        p.key("files");
        p.integer(input.files);
        p.key("size");
        p.integer(input.size);
        p.text_field("sha256", input.sha256.as_deref());
        if let Some(plugin) = &input.plugin {
            p.key("plugin");
            p.object(|p| {
                p.text_field("name", Some(&plugin.name));
                p.text_field("version", Some(&plugin.version));
                p.text_field("sha256", Some(&plugin.sha256));
            });
        }
        named_file(p, "mapping", input.mapping.as_ref());
        named_file(p, "calibration", input.calibration.as_ref());
        list(p, "repairs", &input.repairs, repair);
        p.text_field("program", Some(&input.program));
    });
}

fn repair(p: &mut Printer, repair: &Repaired) {
    p.object(|p| {
        p.text_field("check", Some(&repair.check));
        p.text_field("action", Some(&repair.action));
        p.text_field("evidence", Some(&repair.evidence));
        p.key("changes");
        p.array(|p| {
            for each in &repair.changes {
                p.item();
                p.on_one_line(|p| {
                    p.object(|p| {
                        p.text_field("place", Some(&each.place));
                        p.text_field("was", each.was.as_deref());
                        p.text_field("now", each.now.as_deref());
                    });
                });
            }
        });
    });
}

fn named_file(p: &mut Printer, key: &str, file: Option<&(String, String)>) {
    if let Some((name, sha256)) = file {
        p.key(key);
        p.object(|p| {
            p.text_field("name", Some(name));
            p.text_field("sha256", Some(sha256));
        });
    }
}
