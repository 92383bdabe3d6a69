//! Reads a sequence of stills or sidecars: one take, one frame a file.

use std::collections::VecDeque;

use ringmark_sdk::{Datum, Fact, Failure, Input, Item, Lens, Reader, Take, failure};

use crate::columns::Columns;
use crate::record::place;
use crate::remarks::{self, Remarks};
use crate::still;
use crate::values::Values;

/// Facts of a lens that are a channel too, so that a change is no surprise.
const LENS_CHANNELS: [&str; 3] = ["lens-maker", "lens-model", "lens-serial"];

/// A sequence of files while it is read.
pub struct Sequence {
    inputs: std::vec::IntoIter<Box<dyn Input>>,
    index: u32,
    /// Facts of the take and of its lens, from the first file.
    heads: Option<[Vec<Fact>; 2]>,
    columns: Columns,
    remarks: Remarks,
    ready: VecDeque<Item>,
    ended: bool,
}

impl Reader for Sequence {
    fn open(inputs: Vec<Box<dyn Input>>, _options: &str) -> Result<Self, Failure> {
        if inputs.is_empty() {
            return Err(failure(
                "no input file",
                "pass a still, a sidecar, or a sequence of them",
                None,
            ));
        }
        Ok(Sequence {
            inputs: inputs.into_iter(),
            index: 0,
            heads: None,
            columns: Columns::default(),
            remarks: Remarks::default(),
            ready: VecDeque::new(),
            ended: false,
        })
    }

    fn next(&mut self) -> Result<Option<Item>, Failure> {
        loop {
            if let Some(item) = self.ready.pop_front() {
                return Ok(Some(item));
            }
            if self.ended {
                return Ok(None);
            }
            match self.inputs.next() {
                // The file is let go as soon as it is read.
                Some(input) => self.read_file(&*input)?,
                None => self.end(),
            }
        }
    }
}

impl Sequence {
    fn read_file(&mut self, input: &dyn Input) -> Result<(), Failure> {
        let index = self.index;
        self.index += 1;
        let values = still::read(input, index, &mut self.remarks)?;
        match self.heads.take() {
            None => self.announce(&values),
            Some(heads) => {
                self.compare(&heads, &values, index);
                self.heads = Some(heads);
            }
        }
        self.columns.push(&values, index, 0);
        self.ready.extend(self.remarks.take());
        if self.columns.is_full() {
            self.ready.extend(self.columns.flush().map(Item::Frames));
        }
        Ok(())
    }

    /// Lens and take, from the first file.
    fn announce(&mut self, values: &Values) {
        for facts in &values.lenses {
            self.ready.push_back(Item::Lens(Lens {
                facts: facts.clone(),
                rings: Vec::new(),
                tables: Vec::new(),
            }));
        }
        self.ready.push_back(Item::Take(Take {
            lens: values.lens,
            facts: values.take.clone(),
        }));
        self.heads = Some([values.take.clone(), values.lens_facts().to_vec()]);
    }

    /// Remarks on facts that differ from those of the first file.
    fn compare(&mut self, heads: &[Vec<Fact>; 2], values: &Values, index: u32) {
        for (first, now) in heads.iter().zip([&values.take[..], values.lens_facts()]) {
            let names = first.iter().chain(now).map(|fact| &fact.name);
            for name in names {
                let find = |facts: &[Fact]| facts.iter().find(|fact| fact.name == *name).cloned();
                let (before, now) = (find(first), find(now));
                let value =
                    |fact: &Option<Fact>| fact.as_ref().map(|f| (f.value.clone(), f.unit.clone()));
                if value(&before) == value(&now)
                    || name == "clip"
                    || LENS_CHANNELS.contains(&name.as_str())
                {
                    continue;
                }
                let mut at = now.as_ref().and_then(|fact| fact.at.clone());
                let at = at.get_or_insert_with(|| place(index, 0, 0, "")).clone();
                let at = place(index, at.offset, at.length, name.as_str());
                self.remarks.report(&remarks::CHANGES, at, || {
                    let (before, now) = (show(&before), show(&now));
                    format!("{name} is {before} in the first file and {now} here")
                });
            }
        }
    }

    fn end(&mut self) {
        self.ready.extend(self.columns.flush().map(Item::Frames));
        self.ready.extend(self.remarks.close());
        self.ended = true;
    }
}

fn show(fact: &Option<Fact>) -> String {
    match fact {
        None => "not recorded".to_owned(),
        Some(fact) => match &fact.value {
            Datum::Number(number) => format!("{number} {}", fact.unit).trim_end().to_owned(),
            Datum::Text(text) => format!("“{}”", text.escape_debug()),
        },
    }
}
