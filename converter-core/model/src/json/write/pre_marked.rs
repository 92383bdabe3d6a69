//! Pre-marked focus rings.

use super::error::WriteError;
use super::printer::Printer;
use crate::json::VERSION;
use crate::pre_marked::PreMarkedRing;

/// The document of `rings`, by `schemas/pre-marked-ring.schema.json`.
pub fn write_pre_marked(rings: &[PreMarkedRing]) -> Result<Vec<u8>, WriteError> {
    let mut p = Printer::indented();
    p.object(|p| {
        p.text_field("pre_marked_rings", Some(VERSION));
        p.key("rings");
        p.array(|p| {
            for each in rings {
                p.item();
                ring(p, each);
            }
        });
    });
    let mut text = p.finish()?;
    text.push(b'\n');
    Ok(text)
}

fn ring(p: &mut Printer, ring: &PreMarkedRing) {
    p.object(|p| {
        p.text_field("maker", ring.maker.as_deref());
        p.text_field("name", ring.name.as_deref());
        p.number_field("rotation_deg", ring.rotation.map(|angle| angle.degrees()));
        if let Some(length) = ring.length {
            p.key("length_mm");
            p.millimetres("length", length.metres());
        }
        p.key("marks");
        p.array(|p| {
            for mark in &ring.marks {
                p.item();
                p.on_one_line(|p| {
                    p.object(|p| {
                        p.text_field("mark", Some(&mark.text));
                        p.number_field("position", Some(mark.position));
                    });
                });
            }
        });
    });
}
