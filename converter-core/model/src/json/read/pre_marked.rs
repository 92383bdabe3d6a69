//! Pre-marked focus rings.

use ringmark_quantity::{Angle, Conversion, Length, Unit, parse};

use super::cursor::Cursor;
use super::error::{Fault, Parsed, ReadError};
use super::lens::owned;
use crate::json::{VERSION, keys};
use crate::pre_marked::{PreMarkedRing, PrintedMark};

/// Marks that a knob can have; more is a document of something else.
const MAX_MARKS: usize = 1000;

/// Reads the rings of a document by `schemas/pre-marked-ring.schema.json`; `name` stands in errors.
///
/// Marks come back by rising position. Texts are read as people write distances, and say their unit: `1.2 m`, `5'6"`,
/// `inf`. A mark at `angle_deg` is placed by the ring's `rotation_deg`.
pub fn read_pre_marked(name: &str, text: &[u8]) -> Result<Vec<PreMarkedRing>, ReadError> {
    document(text).map_err(|fault| ReadError::in_text(name, text, *fault))
}

fn document(text: &[u8]) -> Parsed<Vec<PreMarkedRing>> {
    let mut c = Cursor::new(text, 0);
    c.take_exactly(b"\xef\xbb\xbf");
    c.space();
    let start = c.at();
    let (mut version, mut rings) = (false, Vec::new());
    c.object(keys::PRE_MARKED, |c, key| match key {
        "rings" => c.array(|c| {
            rings.push(ring(c)?);
            Ok(())
        }),
        _ => {
            let start = c.at();
            let found = owned(c)?;
            version = found == VERSION;
            let message = format!(
                "version `{}`: this program reads {VERSION}",
                found.escape_debug()
            );
            match version {
                true => Ok(()),
                false => Err(c.fault(start, message, "")),
            }
        }
    })?;
    c.space();
    if !c.is_at_end() {
        return Err(c.unexpected("nothing after the end of the document"));
    }
    if !version {
        let help =
            "a document of pre-marked rings begins {\"pre_marked_rings\": \"1.0\", \"rings\": [";
        return Err(c.fault(start, "no `pre_marked_rings`", help));
    }
    match rings.is_empty() {
        true => Err(c.fault(start, "no rings", "")),
        false => Ok(rings),
    }
}

/// A mark, and where it stands in the document.
struct Read {
    start: usize,
    end: usize,
    text: String,
    metres: f64,
    place: Place,
}

enum Place {
    Position(f64),
    Degrees(f64),
}

fn ring(c: &mut Cursor) -> Parsed<PreMarkedRing> {
    c.space();
    let start = c.at();
    let (mut maker, mut name, mut rotation, mut length) = (None, None, None, None);
    let mut read = Vec::new();
    c.object(keys::PRE_MARKED_RING, |c, key| {
        match key {
            "maker" => maker = Some(owned(c)?),
            "name" => name = Some(owned(c)?),
            "rotation_deg" => rotation = Some(above_zero(c, "rotation_deg")?),
            "length_mm" => length = Some(above_zero(c, "length_mm")?),
            _ => c.array(|c| {
                read.push(mark(c)?);
                Ok(())
            })?,
        }
        Ok(())
    })?;
    if !(2..=MAX_MARKS).contains(&read.len()) {
        let message = format!("{} marks: a ring has 2 to {MAX_MARKS}", read.len());
        return Err(c.fault(start, message, ""));
    }
    let mut placed = Vec::with_capacity(read.len());
    for mark in read {
        let position = match (&mark.place, rotation) {
            (Place::Position(position), _) => *position,
            (Place::Degrees(degrees), Some(turn)) => degrees / turn,
            (Place::Degrees(_), None) => {
                let help = "state `rotation_deg`, how far the knob turns from its first to its last position";
                return Err(at(&mark, "an angle on a ring without `rotation_deg`", help));
            }
        };
        if !(0.0..=1.0).contains(&position) {
            let message = format!("printed at {position} of the turn: places run from 0 to 1");
            let help = "angles run from 0 to `rotation_deg`";
            return Err(at(&mark, message, help));
        }
        placed.push((position, mark));
    }
    placed.sort_by(|a, b| a.0.total_cmp(&b.0));
    in_order(&placed)?;
    Ok(PreMarkedRing {
        maker,
        name,
        rotation: rotation.map(Angle::from_degrees),
        length: length.map(Length::from_mm),
        marks: placed
            .into_iter()
            .map(|(position, mark)| PrintedMark {
                text: mark.text,
                metres: mark.metres,
                position,
            })
            .collect(),
    })
}

/// Distances rise or fall all the way, and no two marks share a place.
fn in_order(placed: &[(f64, Read)]) -> Parsed<()> {
    let ends = placed.first().zip(placed.last());
    let rises = ends.is_some_and(|(first, last)| first.1.metres < last.1.metres);
    for ((place, mark), (next_place, next)) in placed.iter().zip(placed.iter().skip(1)) {
        if place == next_place {
            let message = format!(
                "`{}` and `{}` are printed at one place",
                mark.text.escape_debug(),
                next.text.escape_debug()
            );
            return Err(at(next, message, "correct or remove one"));
        }
        if mark.metres == next.metres || (mark.metres < next.metres) != rises {
            let message = format!(
                "`{}` follows on `{}`, against the rest of the ring",
                next.text.escape_debug(),
                mark.text.escape_debug()
            );
            return Err(at(
                next,
                message,
                "compare text and place of both with the print",
            ));
        }
    }
    Ok(())
}

fn at(mark: &Read, message: impl Into<String>, help: &str) -> Box<Fault> {
    Box::new(Fault {
        message: message.into(),
        help: help.to_owned(),
        at: mark.start,
        length: mark.end - mark.start,
        cut: false,
    })
}

fn above_zero(c: &mut Cursor, key: &str) -> Parsed<f64> {
    let start = c.at();
    let value = c.finite()?;
    match value > 0.0 {
        true => Ok(value),
        false => Err(c.fault(start, format!("`{key}` is {value}: it is above 0"), "")),
    }
}

fn mark(c: &mut Cursor) -> Parsed<Read> {
    c.space();
    let start = c.at();
    let (mut printed, mut position, mut degrees) = (None, None, None);
    c.object(keys::PRINTED_MARK, |c, key| {
        match key {
            "mark" => printed = Some(distance(c)?),
            "position" => position = Some(Place::Position(c.finite()?)),
            _ => degrees = Some(Place::Degrees(c.finite()?)),
        }
        Ok(())
    })?;
    let Some((text, metres)) = printed else {
        return Err(c.fault(
            start,
            "a mark without `mark`",
            "the distance as it is printed",
        ));
    };
    let place = match (position, degrees) {
        (Some(place), None) | (None, Some(place)) => place,
        _ => {
            let help = "say where it is printed: `position` from 0 to 1, or `angle_deg`";
            return Err(c.fault(start, "a mark has `position` or `angle_deg`", help));
        }
    };
    Ok(Read {
        start,
        end: c.at(),
        text,
        metres,
        place,
    })
}

/// A distance as printed, and in metres.
fn distance(c: &mut Cursor) -> Parsed<(String, f64)> {
    let start = c.at();
    let text = owned(c)?;
    let bare = parse::number(&text).is_ok_and(f64::is_finite);
    if bare {
        let message = format!("`{}` of what?", text.escape_debug());
        return Err(c.fault(start, message, "write the unit, as 1.2 m or 5'6\""));
    }
    let metres = parse::length(&text, Unit::FeetInches)
        .and_then(|(value, unit)| Ok(Conversion::between(unit, Unit::Metre)?.apply(value)));
    match metres {
        Ok(metres) if metres > 0.0 => Ok((text, metres)),
        Ok(_) => Err(c.fault(
            start,
            "a printed distance of 0",
            "leave out what is no distance",
        )),
        Err(error) => Err(c.fault(start, error.to_string(), "")),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::json::write_pre_marked;

    fn rings(marks: &str) -> Result<Vec<PreMarkedRing>, ReadError> {
        let text = format!(
            "{{\"pre_marked_rings\": \"1.0\", \"rings\": [{{\"name\": \"N\", \"rotation_deg\": 300,\n\"marks\": [{marks}]}}]}}"
        );
        read_pre_marked("r.json", text.as_bytes())
    }

    #[test]
    fn marks_are_read_as_people_write_them_and_come_by_position() {
        let read = rings(
            r#"{"mark": "inf", "position": 1}, {"mark": "5'6\"", "angle_deg": 150}, {"mark": "0.6 m", "position": 0}"#,
        )
        .unwrap();
        let ring = &read[0];
        assert_eq!((ring.label().as_str(), ring.length), ("N", None));
        let found: Vec<_> = ring.marks.iter().map(|m| (m.metres, m.position)).collect();
        // 66 in of 25.4 mm.
        assert_eq!(found, [(0.6, 0.0), (1.6764, 0.5), (f64::INFINITY, 1.0)]);
        assert_eq!(ring.marks[1].text, "5'6\"");
    }

    #[test]
    fn what_is_written_reads_back() {
        let mut read =
            rings(r#"{"mark": "∞", "position": 0.1}, {"mark": "3'", "angle_deg": 299}"#).unwrap();
        read[0].maker = Some("Orrin \"1\"".to_owned());
        read[0].length = Some(Length::from_mm(184.5));
        let text = write_pre_marked(&read).unwrap();
        assert_eq!(read_pre_marked("r.json", &text).unwrap(), read);
    }

    #[test]
    fn what_is_wrong_is_said_with_its_line() {
        let two = r#"{"mark": "1 m", "position": 0}, {"mark": "inf", "position": 1}"#;
        for (marks, message, help) in [
            (
                two.replace("position\": 0", "positon\": 0"),
                "unknown key `positon`",
                "did you mean `position`?",
            ),
            (two.replace("1 m", "1"), "`1` of what?", "as 1.2 m or 5'6\""),
            (two.replace("1 m", "0 m"), "a printed distance of 0", ""),
            (two.replace("1 m", "near"), "“near”", ""),
            (
                two.replace("1 m", "inf"),
                "`inf` follows on `inf`",
                "compare",
            ),
            (
                two.replace("position\": 1", "position\": 0"),
                "`1 m` and `inf` are printed at one place",
                "",
            ),
            (
                two.replace("position\": 1", "position\": 1.2"),
                "printed at 1.2",
                "",
            ),
            (
                two.replace("position\": 1", "angle_deg\": 301"),
                "printed at 1.00",
                "rotation_deg",
            ),
            (
                two.replace(", \"position\": 1", ""),
                "a mark has `position` or `angle_deg`",
                "",
            ),
            (
                two.replace("\"mark\": \"inf\", ", ""),
                "a mark without `mark`",
                "",
            ),
            (
                r#"{"mark": "1 m", "position": 0}"#.to_owned(),
                "1 marks: a ring has 2 to 1000",
                "",
            ),
            (
                two.to_owned()
                    + r#", {"mark": "2 m", "position": 0.5}, {"mark": "1.5 m", "position": 0.6}"#,
                "`1.5 m` follows on `2 m`",
                "",
            ),
        ] {
            let error = rings(&marks).unwrap_err();
            assert!(error.message.contains(message), "{marks}: {error}");
            assert!(error.help.contains(help), "{marks}: {}", error.help);
        }
        for (text, message) in [
            ("{}", "no `pre_marked_rings`"),
            (r#"{"pre_marked_rings": "1.0", "rings": []}"#, "no rings"),
            (r#"{"pre_marked_rings": "2.0"}"#, "version `2.0`"),
            (
                r#"{"pre_marked_rings": "1.0", "ring": []}"#,
                "unknown key `ring`",
            ),
            (
                r#"{"pre_marked_rings": "1.0", "rings": [{"rotation_deg": 0}]}"#,
                "it is above 0",
            ),
            (
                r#"{"pre_marked_rings": "1.0", "rings": [{"marks": [{"mark": "1 m", "angle_deg": 1}, {"mark": "2 m", "angle_deg": 2}]}]}"#,
                "without `rotation_deg`",
            ),
            ("[", "expected `{`"),
            ("", "the end of the file"),
        ] {
            let error = read_pre_marked("r.json", text.as_bytes()).unwrap_err();
            assert!(error.message.contains(message), "{text}: {error}");
        }
    }
}
