//! What holds of every item of a plugin, as the contract says it.

use ringmark_sdk::{Column, Fact, Failure, Frames, Item, Labels, Lens, NO_LABEL, Place, Take};

/// Follows the items of one reading.
pub struct Ledger<'a> {
    files: &'a [(String, &'a [u8])],
    lenses: u32,
    /// Frames of each take so far.
    takes: Vec<u64>,
}

impl<'a> Ledger<'a> {
    /// Nothing read yet from `files`.
    pub fn new(files: &'a [(String, &'a [u8])]) -> Self {
        Ledger {
            files,
            lenses: 0,
            takes: Vec::new(),
        }
    }

    /// Frames of all takes.
    pub fn frames(&self) -> u64 {
        self.takes.iter().sum()
    }

    /// Asserts that `item` is well formed and follows from those before.
    pub fn admit(&mut self, item: &Item) {
        match item {
            Item::Lens(lens) => self.lens(lens),
            Item::Take(take) => self.take(take),
            Item::Frames(frames) => self.batch(frames),
            Item::Remark(remark) => {
                let severities = ["error", "warning", "note"];
                assert!(severities.contains(&remark.severity.as_str()), "{remark:?}");
                let kebab = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-';
                assert!(!remark.check.is_empty(), "a remark without a name");
                assert!(remark.check.bytes().all(kebab), "{:?}", remark.check);
                assert!(!remark.message.is_empty(), "{} says nothing", remark.check);
                self.place(remark.at.as_ref());
            }
        }
    }

    /// Asserts that a failure says something, and about a place that exists.
    pub fn failure(&self, failure: &Failure) {
        assert!(!failure.message.is_empty(), "a failure without a message");
        self.place(failure.at.as_ref());
    }

    fn lens(&mut self, lens: &Lens) {
        self.lenses += 1;
        self.facts(&lens.facts);
        for ring in &lens.rings {
            self.facts(&ring.facts);
            for mark in &ring.marks {
                self.place(mark.at.as_ref());
            }
        }
        for table in &lens.tables {
            self.facts(&table.facts);
            let rows = table.columns.first().map_or(0, |c| c.values.len());
            table.columns.iter().for_each(|c| column(c, rows));
        }
    }

    fn take(&mut self, take: &Take) {
        self.takes.push(0);
        self.facts(&take.facts);
        if let Some(lens) = take.lens {
            assert!(lens < self.lenses, "lens {lens} of {}", self.lenses);
        }
    }

    fn batch(&mut self, frames: &Frames) {
        let count = frames.count as usize;
        assert!(count <= 65_536, "a batch of {count} frames");
        let takes = self.takes.len();
        let Some(before) = self.takes.get_mut(frames.take as usize) else {
            panic!("frames of take {}, but {takes} takes", frames.take);
        };
        assert_eq!(frames.first, *before, "first frame of the batch");
        *before += u64::from(frames.count);
        frames.columns.iter().for_each(|c| column(c, count));
        frames.labels.iter().for_each(|l| labels(l, count));
        for length in [frames.inputs.len(), frames.offsets.len()] {
            assert!(length == 0 || length == count, "{length} places");
        }
        for &input in &frames.inputs {
            self.place_in(input, 0, 0);
        }
        for (frame, &offset) in frames.offsets.iter().enumerate() {
            let input = frames.inputs.get(frame).copied().unwrap_or(0);
            self.place_in(input, offset, 0);
        }
    }

    fn facts(&self, facts: &[Fact]) {
        for fact in facts {
            name(&fact.name);
            assert!(!fact.name.is_empty(), "a fact without a name");
            self.place(fact.at.as_ref());
        }
    }

    fn place(&self, place: Option<&Place>) {
        if let Some(place) = place {
            self.place_in(place.input, place.offset, place.length);
        }
    }

    fn place_in(&self, input: u32, offset: u64, length: u64) {
        let size = self.files.get(input as usize).map(|(_, b)| b.len() as u64);
        let size = size.unwrap_or_else(|| panic!("input {input} of {}", self.files.len()));
        let end = offset.checked_add(length);
        assert!(
            end.is_some_and(|end| end <= size),
            "bytes {offset} + {length} of {size} in input {input}"
        );
    }
}

/// The host refuses longer names.
fn name(name: &str) {
    assert!(name.len() <= 1024, "a name of {} bytes", name.len());
}

fn column(column: &Column, rows: usize) {
    name(&column.channel);
    name(&column.unit);
    assert!(!column.channel.is_empty(), "a column without a name");
    assert_eq!(column.values.len(), rows, "values of {}", column.channel);
}

fn labels(labels: &Labels, count: usize) {
    let channel = &labels.channel;
    name(channel);
    assert!(!channel.is_empty(), "labels without a name");
    assert!(
        ["text", "json", "hex"].contains(&labels.form.as_str()),
        "{channel}: {}",
        labels.form
    );
    assert_eq!(labels.index.len(), count, "labels of {channel}");
    let mut before = 0;
    for &end in &labels.ends {
        assert!(end >= before, "{channel}: an end at {end} after {before}");
        assert!(
            labels.text.is_char_boundary(end as usize),
            "{channel}: an end within a letter"
        );
        before = end;
    }
    assert_eq!(
        before as usize,
        labels.text.len(),
        "{channel}: text after the last end"
    );
    for &index in &labels.index {
        assert!(
            index == NO_LABEL || (index as usize) < labels.ends.len(),
            "{channel}: text {index} of {}",
            labels.ends.len()
        );
    }
}
