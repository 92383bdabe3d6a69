//! Changes of a lens that a program can make: what a repair says in words, exactly.

use ringmark_quantity::{DistanceReference, Unit};
use thiserror::Error;

use crate::lens::{Axis, Lens, Mark, Ring};
use crate::provenance::Changed;

/// One change of one ring of a lens. Marks are counted from 0 in the order of the source.
#[derive(Debug, Clone, PartialEq)]
pub struct Edit {
    /// Index of the lens in the document.
    pub lens: usize,
    /// Which ring.
    pub axis: Axis,
    /// What to change.
    pub change: Change,
}

/// What to change in a ring.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Another value for a mark.
    Value {
        /// The mark.
        mark: usize,
        /// The value in the canonical unit of the ring's quantity; +infinity is infinity.
        value: f64,
        /// The text as it should be engraved in the unit of the scale.
        engraved: Option<String>,
    },
    /// Another ring position for a mark.
    Position {
        /// The mark.
        mark: usize,
        /// The position, 0 to 1.
        position: f64,
    },
    /// Takes a mark out.
    Remove {
        /// The mark.
        mark: usize,
    },
    /// Another unit of the engraving; values stay as they are unless they are changed too.
    Unit(Unit),
    /// Another point that the distances are measured from.
    Reference(DistanceReference),
}

/// Why an edit could not be made.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum EditError {
    /// The document has no such lens, or the lens no such ring.
    #[error("there is no {axis} ring in lens {lens}")]
    NoRing {
        /// Index of the lens.
        lens: usize,
        /// Name of the ring.
        axis: &'static str,
    },
    /// The ring has no such mark.
    #[error("the {axis} ring has no mark {mark} (counted from 0), it has {marks}")]
    NoMark {
        /// Name of the ring.
        axis: &'static str,
        /// The mark asked for.
        mark: usize,
        /// How many there are.
        marks: usize,
    },
    /// The new value or position is no number.
    #[error("mark {mark} of the {axis} ring would get no number")]
    NoNumber {
        /// Name of the ring.
        axis: &'static str,
        /// The mark.
        mark: usize,
    },
}

/// Makes edits, all or none of them, and says what each changed, by JSON Pointer (RFC 6901) into the document the
/// lenses came from. Marks are taken out last, so that numbers of marks hold for all edits.
pub fn apply(lenses: &mut [Lens], edits: &[Edit]) -> Result<Vec<Changed>, EditError> {
    let mut edited = lenses.to_vec();
    let mut changed = Vec::new();
    for edit in edits {
        change(&mut edited, edit, &mut changed)?;
    }
    let mut removals: Vec<(usize, Axis, usize)> = edits.iter().filter_map(removal).collect();
    removals.sort_by_key(|(.., mark)| std::cmp::Reverse(*mark));
    removals.dedup();
    for (lens, axis, mark) in removals {
        if let Some((_, ring)) = find(&mut edited, lens, axis) {
            ring.marks.remove(mark);
        }
    }
    lenses.clone_from_slice(&edited);
    Ok(changed)
}

fn removal(edit: &Edit) -> Option<(usize, Axis, usize)> {
    match edit.change {
        Change::Remove { mark } => Some((edit.lens, edit.axis, mark)),
        _ => None,
    }
}

fn find(lenses: &mut [Lens], lens: usize, axis: Axis) -> Option<(usize, &mut Ring)> {
    let rings = &mut lenses.get_mut(lens)?.rings;
    rings.iter_mut().enumerate().find(|(_, r)| r.axis == axis)
}

fn change(lenses: &mut [Lens], edit: &Edit, out: &mut Vec<Changed>) -> Result<(), EditError> {
    let (lens, axis) = (edit.lens, edit.axis);
    let name = axis.name();
    let no_ring = EditError::NoRing { lens, axis: name };
    let (at, ring) = find(lenses, lens, axis).ok_or(no_ring)?;
    let path = format!("/lenses/{lens}/rings/{at}");
    let place = |mark: usize, key: &str| format!("{path}/marks/{mark}{key}");
    let number = |number: f64| number.to_string();
    match &edit.change {
        Change::Value {
            mark,
            value,
            engraved,
        } => {
            let found = mark_of(ring, *mark)?;
            if value.is_nan() {
                return Err(EditError::NoNumber {
                    axis: name,
                    mark: *mark,
                });
            }
            note(
                out,
                place(*mark, "/value"),
                Some(number(found.value)),
                Some(number(*value)),
            );
            note(
                out,
                place(*mark, "/engraved"),
                found.engraved.clone(),
                engraved.clone(),
            );
            found.value = *value;
            found.engraved.clone_from(engraved);
        }
        Change::Position { mark, position } => {
            let range = ring.encoder;
            let found = mark_of(ring, *mark)?;
            if !position.is_finite() {
                return Err(EditError::NoNumber {
                    axis: name,
                    mark: *mark,
                });
            }
            note(
                out,
                place(*mark, "/position"),
                Some(number(found.position)),
                Some(number(*position)),
            );
            // Raw counts follow where the range of the encoder is known; one that contradicts the position is worse than none.
            let raw = range
                .filter(|_| found.raw.is_some())
                .map(|r| (r.low + position * (r.high - r.low)).round());
            note(
                out,
                place(*mark, "/raw"),
                found.raw.map(number),
                raw.map(number),
            );
            found.position = *position;
            found.raw = raw;
        }
        Change::Remove { mark } => {
            let found = mark_of(ring, *mark)?;
            let was = format!("{} at {}", found.value, found.position);
            note(out, place(*mark, ""), Some(was), None);
        }
        Change::Unit(unit) => {
            note(
                out,
                format!("{path}/source_unit"),
                Some(ring.source_unit.symbol().to_owned()),
                Some(unit.symbol().to_owned()),
            );
            ring.source_unit = *unit;
        }
        Change::Reference(reference) => {
            let was = ring.reference.map(|reference| reference.name().to_owned());
            note(
                out,
                format!("{path}/reference"),
                was,
                Some(reference.name().to_owned()),
            );
            ring.reference = Some(*reference);
        }
    }
    Ok(())
}

fn mark_of(ring: &mut Ring, mark: usize) -> Result<&mut Mark, EditError> {
    let (axis, marks) = (ring.axis.name(), ring.marks.len());
    ring.marks
        .get_mut(mark)
        .ok_or(EditError::NoMark { axis, mark, marks })
}

fn note(out: &mut Vec<Changed>, place: String, was: Option<String>, now: Option<String>) {
    if was != now {
        out.push(Changed { place, was, now });
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::lens::{EncoderRange, ScaleQuantity};

    fn lens() -> Lens {
        let mark = |position: f64, value: f64| Mark {
            position,
            raw: Some(position * 1000.0),
            value,
            engraved: Some(value.to_string()),
            place: None,
        };
        Lens {
            rings: vec![Ring {
                axis: Axis::Focus,
                quantity: ScaleQuantity::FocusDistance,
                reference: Some(DistanceReference::ImagePlane),
                source_unit: Unit::Metre,
                encoder: Some(EncoderRange {
                    low: 0.0,
                    high: 1000.0,
                }),
                rotation: None,
                marks: vec![
                    mark(0.1, 0.5),
                    mark(0.5, 5.91),
                    mark(0.5, 5.91),
                    mark(1.0, f64::INFINITY),
                ],
            }],
            ..Lens::default()
        }
    }

    fn focus(change: Change) -> Edit {
        Edit {
            lens: 0,
            axis: Axis::Focus,
            change,
        }
    }

    #[test]
    fn changes_are_made_and_told() {
        let mut lenses = [lens()];
        let edits = [
            focus(Change::Remove { mark: 2 }),
            focus(Change::Value {
                mark: 1,
                value: 1.8,
                engraved: Some("1.8".to_owned()),
            }),
            focus(Change::Position {
                mark: 3,
                position: 0.98,
            }),
            focus(Change::Reference(DistanceReference::FrontVertex)),
            focus(Change::Unit(Unit::Foot)),
        ];
        let changed = apply(&mut lenses, &edits).unwrap();
        let ring = &lenses[0].rings[0];
        assert_eq!(ring.marks.len(), 3);
        assert_eq!(
            (ring.marks[1].value, ring.marks[1].engraved.as_deref()),
            (1.8, Some("1.8"))
        );
        assert_eq!(
            (ring.marks[2].position, ring.marks[2].raw),
            (0.98, Some(980.0))
        );
        assert_eq!(
            (ring.source_unit, ring.reference),
            (Unit::Foot, Some(DistanceReference::FrontVertex))
        );
        let told: Vec<_> = changed
            .iter()
            .map(|c| (c.place.as_str(), c.was.as_deref(), c.now.as_deref()))
            .collect();
        assert_eq!(
            told,
            [
                ("/lenses/0/rings/0/marks/2", Some("5.91 at 0.5"), None),
                ("/lenses/0/rings/0/marks/1/value", Some("5.91"), Some("1.8")),
                (
                    "/lenses/0/rings/0/marks/1/engraved",
                    Some("5.91"),
                    Some("1.8")
                ),
                (
                    "/lenses/0/rings/0/marks/3/position",
                    Some("1"),
                    Some("0.98")
                ),
                ("/lenses/0/rings/0/marks/3/raw", Some("1000"), Some("980")),
                (
                    "/lenses/0/rings/0/reference",
                    Some("image-plane"),
                    Some("front-vertex")
                ),
                ("/lenses/0/rings/0/source_unit", Some("m"), Some("ft")),
            ]
        );
    }

    #[test]
    fn an_edit_that_fails_leaves_all_as_it_was() {
        let mut lenses = [lens()];
        let good = focus(Change::Position {
            mark: 0,
            position: 0.2,
        });
        for (bad, says) in [
            (
                focus(Change::Remove { mark: 4 }),
                "the focus ring has no mark 4 (counted from 0), it has 4",
            ),
            (
                focus(Change::Value {
                    mark: 1,
                    value: f64::NAN,
                    engraved: None,
                }),
                "mark 1 of the focus ring would get no number",
            ),
            (
                Edit {
                    lens: 0,
                    axis: Axis::Iris,
                    change: Change::Unit(Unit::Foot),
                },
                "there is no iris ring in lens 0",
            ),
            (
                Edit {
                    lens: 1,
                    axis: Axis::Focus,
                    change: Change::Unit(Unit::Foot),
                },
                "there is no focus ring in lens 1",
            ),
        ] {
            let error = apply(&mut lenses, &[good.clone(), bad]).unwrap_err();
            assert_eq!(error.to_string(), says);
            assert_eq!(lenses[0], lens());
        }
    }
}
