//! Opens a table and decides what it holds.

use ringmark_sdk::bytes::Window;
use ringmark_sdk::quantity::parse::DecimalMark;
use ringmark_sdk::{Failure, Input, Item, Reader, failure};

use crate::columns::{self, Context};
use crate::fields::fold;
use crate::form::Form;
use crate::header::split_unit;
use crate::mapping::{Document, Mapping};
use crate::preamble;
use crate::read_calibration::CalibrationReader;
use crate::read_take::TakeReader;
use crate::records::Cell;
use crate::statics::Statics;

/// A table while it is read.
pub enum TableReader {
    /// Per-frame records.
    Take(Box<TakeReader>),
    /// Scales of lens rings.
    Calibration(Box<CalibrationReader>),
}

impl Reader for TableReader {
    fn open(inputs: Vec<Box<dyn Input>>, options: &str) -> Result<Self, Failure> {
        let mapping = Mapping::from_options(options)?;
        let mut inputs = inputs.into_iter();
        let (Some(input), None) = (inputs.next(), inputs.next()) else {
            return Err(failure(
                "a table is one file",
                "read one file at a time",
                None,
            ));
        };
        let mut window = Window::new(input);
        let preamble = preamble::read(&mut window, &mapping)?;
        let statics = Statics::new(preamble.lines, &mapping);
        let mark = decimal_mark(&mapping, &statics, preamble.delimiter)?;
        let stated = match mapping.document {
            Some(document) => Some(document),
            None => statics.document()?,
        };
        let mapped = mapping.match_columns(&preamble.header)?;
        let document = stated.unwrap_or_else(|| by_columns(&preamble.header));
        let facts = statics.facts(document, mark)?;
        let form = Form {
            delimiter: preamble.delimiter,
            mark,
            missing: mapping.missing.clone(),
            blank_lines_are_frames: match mapping.blank_lines_are_frames {
                Some(stated) => stated,
                None => statics.blank_lines_are_frames()?,
            },
        };
        if document == Document::Calibration {
            let reader = CalibrationReader::new(window, &preamble.header, &mapped, facts, form)?;
            return Ok(TableReader::Calibration(Box::new(reader)));
        }
        let context = Context {
            mark,
            measured_from: facts.measured_from,
        };
        let columns = columns::resolve(&preamble.header, &mapped, context)?;
        let stated = stated.is_some() || !mapping.columns.is_empty();
        let reader = TakeReader::new(window, columns, facts, form, stated)?;
        Ok(TableReader::Take(Box::new(reader)))
    }

    fn next(&mut self) -> Result<Option<Item>, Failure> {
        match self {
            TableReader::Take(take) => take.next(),
            TableReader::Calibration(calibration) => calibration.next(),
        }
    }
}

fn decimal_mark(
    mapping: &Mapping,
    statics: &Statics,
    delimiter: u8,
) -> Result<DecimalMark, Failure> {
    let mark = match mapping.decimal_comma()? {
        Some(true) => DecimalMark::Comma,
        Some(false) => DecimalMark::Point,
        None => statics.decimal()?.unwrap_or_default(),
    };
    if mark == DecimalMark::Comma && delimiter == b',' {
        return Err(failure(
            "decimals have a comma, and so has the space between the cells",
            "save the table with semicolons or tabs between the cells",
            None,
        ));
    }
    Ok(mark)
}

/// What the columns say: a table of marks has a column `ring` and one `mark`.
fn by_columns(header: &[Cell]) -> Document {
    let has = |name: &str| {
        header
            .iter()
            .any(|cell| fold(split_unit(cell.text.trim()).0) == name)
    };
    if has("ring") && has("mark") {
        Document::Calibration
    } else {
        Document::Take
    }
}
