//! Reads a list into lenses and takes.

use std::collections::VecDeque;

use ringmark_sdk::{Failure, Input, Item, Place, Reader, failure};

use crate::canvas;
use crate::json::Node;
use crate::list::{self, Recorded};
use crate::remarks::{Remarks, Severity};

/// Largest list. Lists hold what was decided for a production, a few kilobytes a camera.
const LARGEST: u64 = 4 << 20;

/// Bytes of one read.
const CHUNK: u32 = 256 << 10;

/// The reading half of the plugin.
pub struct ListReader {
    recorded: VecDeque<Recorded>,
    remarks: Remarks,
    items: VecDeque<Item>,
    lenses: u32,
}

impl Reader for ListReader {
    fn open(inputs: Vec<Box<dyn Input>>, _options: &str) -> Result<Self, Failure> {
        let [input] = inputs.as_slice() else {
            return Err(failure(
                format!(
                    "a Framing Decision List is one file, {} were given",
                    inputs.len()
                ),
                "convert the files one by one",
                None,
            ));
        };
        let bytes = whole(input.as_ref())?;
        let mut remarks = Remarks::default();
        let text = text(&bytes, &mut remarks)?;
        let node = Node::whole(text, bytes.len() - text.len())?;
        let recorded = list::recorded(&node, &mut remarks)?;
        Ok(ListReader {
            recorded,
            items: remarks.take().into(),
            remarks,
            lenses: 0,
        })
    }

    fn next(&mut self) -> Result<Option<Item>, Failure> {
        if self.items.is_empty()
            && let Some(recorded) = self.recorded.pop_front()
        {
            let items = canvas::items(&recorded, self.lenses, &mut self.remarks);
            self.lenses += 1;
            self.items.extend(self.remarks.take());
            self.items.extend(items);
        }
        Ok(self.items.pop_front())
    }
}

fn whole(input: &dyn Input) -> Result<Vec<u8>, Failure> {
    let size = input.size();
    if size > LARGEST {
        return Err(failure(
            format!("the list is {size} bytes long; at most {LARGEST} can be read"),
            "split it by contexts",
            None,
        ));
    }
    let mut bytes = Vec::new();
    // By what comes, not by what the size promised.
    while (bytes.len() as u64) < LARGEST {
        let chunk = input.read(bytes.len() as u64, CHUNK);
        bytes.extend_from_slice(&chunk);
        if chunk.len() < CHUNK as usize {
            break;
        }
    }
    Ok(bytes)
}

/// The bytes as text, without a byte order mark.
fn text<'a>(bytes: &'a [u8], remarks: &mut Remarks) -> Result<&'a str, Failure> {
    let point = |offset: usize, length: u64| Place {
        input: 0,
        offset: offset as u64,
        length,
        field: String::new(),
    };
    let text = std::str::from_utf8(bytes).map_err(|error| {
        failure(
            "this byte is no UTF-8, the only encoding of JSON",
            "write the list again as UTF-8",
            Some(point(error.valid_up_to(), 1)),
        )
    })?;
    match text.strip_prefix('\u{feff}') {
        None => Ok(text),
        Some(rest) => {
            remarks.add(
                Severity::Note,
                "byte-order-mark",
                "the file starts with a byte order mark, which JSON does not have".to_owned(),
                "it was passed over",
                Some(point(0, 3)),
            );
            Ok(rest)
        }
    }
}
