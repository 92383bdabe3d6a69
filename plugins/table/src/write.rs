//! Writes one take or one calibration.

use ringmark_sdk::{Failure, Input, Item, Lens, Output, Take, Writer, failure};

use crate::write_calibration;
use crate::write_take::TakeWriter;

/// A table while it is written.
pub struct TableWriter {
    output: Box<dyn Output>,
    lens: Option<Lens>,
    take: Option<Take>,
    rows: Option<TakeWriter>,
}

impl Writer for TableWriter {
    fn open(
        outputs: Vec<Box<dyn Output>>,
        _templates: Vec<Box<dyn Input>>,
        _options: &str,
    ) -> Result<Self, Failure> {
        let mut outputs = outputs.into_iter();
        let (Some(output), None) = (outputs.next(), outputs.next()) else {
            return Err(failure("a table is one file", "write to one output", None));
        };
        Ok(TableWriter {
            output,
            lens: None,
            take: None,
            rows: None,
        })
    }

    fn put(&mut self, item: Item) -> Result<(), Failure> {
        match item {
            Item::Lens(lens) if !lens.tables.is_empty() => Err(failure(
                format!(
                    "the lens has {} tables over focus and zoom, which delimited text has no place for",
                    lens.tables.len()
                ),
                "choose another target format for them",
                None,
            )),
            Item::Lens(lens) => match self.lens.replace(lens) {
                None => Ok(()),
                Some(_) => Err(one_only("lens")),
            },
            Item::Take(take) => match self.take.replace(take) {
                None => Ok(()),
                Some(_) => Err(one_only("take")),
            },
            Item::Frames(frames) => {
                let Some(take) = &self.take else {
                    return Err(failure(
                        "frames came before their take",
                        "this is a fault of the program",
                        None,
                    ));
                };
                let mut rows = match self.rows.take() {
                    Some(rows) => rows,
                    None => {
                        TakeWriter::start(&mut *self.output, self.lens.as_ref(), take, &frames)?
                    }
                };
                rows.rows(&mut *self.output, &frames)?;
                self.rows = Some(rows);
                Ok(())
            }
            Item::Remark(_) => Ok(()),
        }
    }

    fn finish(&mut self) -> Result<(), Failure> {
        match (&self.rows, &self.take, &self.lens) {
            (Some(_), _, _) => Ok(()),
            (None, Some(_), _) => Err(failure(
                "the take has no frames",
                "a table needs at least one row",
                None,
            )),
            (None, None, Some(lens)) => write_calibration::write(&mut *self.output, lens),
            (None, None, None) => Err(failure(
                "there is nothing to write",
                "a table holds one lens or one take",
                None,
            )),
        }
    }
}

#[cold]
fn one_only(what: &str) -> Failure {
    failure(
        format!("there is more than one {what}: a table holds one {what}"),
        "choose another target format, or convert them one by one",
        None,
    )
}
