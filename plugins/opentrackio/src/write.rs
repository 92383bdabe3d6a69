//! Writes a take as one sample a line.

use std::collections::HashSet;

use ringmark_sdk::{
    Column, Fact, Failure, Frames, Input, Item, Labels, NO_LABEL, Output, Writer, failure,
};

use crate::aside::{CHANNELS, ColumnForm, Declared, KeptFact, PRIVATE, Private};
use crate::constants::Heads;
use crate::encode;
use crate::fields;
use crate::plan::{Held, Plan, Row};

/// Bytes that are gathered before they go out.
const BUFFER: usize = 256 * 1024;

/// Every sample starts so.
const PROTOCOL: &[u8] = br#"{"protocol":{"name":"OpenTrackIO","version":[1,0,1]}"#;

/// The writing half of the plugin.
pub struct TakeWriter {
    output: Box<dyn Output>,
    buffer: Vec<u8>,
    lenses: Vec<Vec<Fact>>,
    lens: Option<u32>,
    heads: Option<Heads>,
    plan: Option<Columns>,
    /// Columns that reading knows how to take.
    known: HashSet<String>,
    /// Facts of which the file says that the take does not have them.
    absent: HashSet<String>,
    /// Columns whose value holds, and which the batch at hand lacks: by name, with the value written last.
    ended: Vec<(String, f64)>,
    first: bool,
}

/// The columns of a batch, and where they go.
struct Columns {
    plan: Plan,
    numbers: Vec<ColumnHead>,
    texts: Vec<ColumnHead>,
    /// Numbers, then texts, by name: the order of columns differs after reading.
    numbers_by_name: Vec<usize>,
    texts_by_name: Vec<usize>,
    /// Whether the next frame is the first of its kind, so that columns may have to be declared.
    fresh: bool,
}

struct ColumnHead {
    declared: Declared,
    /// `"name":`
    key: Vec<u8>,
    /// The keys of the standard define it, if it is written there.
    standard: bool,
}

impl Writer for TakeWriter {
    fn open(
        outputs: Vec<Box<dyn Output>>,
        _templates: Vec<Box<dyn Input>>,
        _options: &str,
    ) -> Result<Self, Failure> {
        let count = outputs.len();
        let mut outputs = outputs.into_iter();
        let (Some(output), None) = (outputs.next(), outputs.next()) else {
            return Err(failure(
                format!("a take of OpenTrackIO samples is one file, {count} were given"),
                "name one output",
                None,
            ));
        };
        Ok(TakeWriter {
            output,
            buffer: Vec::with_capacity(BUFFER + BUFFER / 4),
            lenses: Vec::new(),
            lens: None,
            heads: None,
            plan: None,
            known: HashSet::new(),
            absent: HashSet::new(),
            ended: Vec::new(),
            first: true,
        })
    }

    fn put(&mut self, item: Item) -> Result<(), Failure> {
        match item {
            Item::Lens(lens) => self.lenses.push(lens.facts),
            Item::Take(take) => {
                if self.heads.is_some() {
                    return Err(failure(
                        "there is more than one take, and a file of OpenTrackIO samples holds one",
                        "convert the takes one by one",
                        None,
                    ));
                }
                self.lens = take.lens;
                let lens = take.lens.and_then(|lens| self.lenses.get(lens as usize));
                self.heads = Some(Heads {
                    take: take.facts,
                    lens: lens.cloned().unwrap_or_default(),
                });
            }
            Item::Frames(frames) => self.frames(&frames)?,
            Item::Remark(_) => {}
        }
        Ok(())
    }

    fn finish(&mut self) -> Result<(), Failure> {
        if self.first {
            return Err(failure(
                "there is no frame to write: OpenTrackIO holds takes, frame by frame",
                "convert a take, or write the lens in another format",
                None,
            ));
        }
        self.output.write(&self.buffer);
        self.buffer.clear();
        Ok(())
    }
}

impl TakeWriter {
    fn frames(&mut self, frames: &Frames) -> Result<(), Failure> {
        check_lengths(frames)?;
        let mut columns = match self.plan.take() {
            Some(columns) if columns.fit(frames) => columns,
            old => self.new_columns(old, frames)?,
        };
        for row in 0..frames.count as usize {
            self.frame(&mut columns, frames, row);
            if self.buffer.len() >= BUFFER {
                self.output.write(&self.buffer);
                self.buffer.clear();
            }
        }
        self.plan = Some(columns);
        Ok(())
    }

    fn new_columns(&mut self, old: Option<Columns>, frames: &Frames) -> Result<Columns, Failure> {
        let Some(heads) = &self.heads else {
            return Err(failure(
                "frames came before the head of their take",
                "report this to the authors of the program",
                None,
            ));
        };
        let mut columns = Columns::new(frames, heads)?;
        if let Some(old) = old {
            for held in &old.plan.held {
                let name = &old.numbers[held.column].declared.name;
                self.ended.push((name.clone(), held.last));
            }
        }
        let numbers = &columns.numbers;
        for Held { column, last } in &mut columns.plan.held {
            let name = &numbers[*column].declared.name;
            if let Some(at) = self.ended.iter().position(|(ended, _)| ended == name) {
                *last = self.ended.swap_remove(at).1;
            }
        }
        self.ended.retain(|(_, last)| !last.is_nan());
        self.ended.sort_by(|(a, _), (b, _)| a.cmp(b));
        Ok(columns)
    }

    fn frame(&mut self, columns: &mut Columns, frames: &Frames, row: usize) {
        let row = Row {
            columns: &frames.columns,
            labels: &frames.labels,
            row,
            first: self.first,
        };
        self.buffer.extend_from_slice(PROTOCOL);
        columns.plan.write(row, &mut self.buffer);
        let mut part = Part {
            out: &mut self.buffer,
            open: false,
            any: false,
        };
        if self.first || columns.fresh || !columns.plan.written.implied.is_empty() {
            let mut private = Private::default();
            if self.first
                && let Some(heads) = &self.heads
            {
                kept_facts(&mut private, columns, heads, &self.lenses, self.lens);
            }
            for name in columns.plan.written.implied.drain(..) {
                if self.absent.insert(name.clone()) {
                    private.absent.push(name);
                }
            }
            if columns.fresh {
                declare(&mut private, columns, &mut self.known);
            }
            if !private.is_empty() {
                if self.first {
                    private.stamp();
                }
                part.members(&private);
            }
        }
        channels(&mut part, columns, row, &self.ended);
        part.close();
        self.buffer.extend_from_slice(b"}\n");
        self.first = false;
        columns.fresh = false;
    }
}

/// Facts that the keys of the standard do not hold.
fn kept_facts(
    private: &mut Private,
    columns: &Columns,
    heads: &Heads,
    lenses: &[Vec<Fact>],
    lens: Option<u32>,
) {
    let written = &columns.plan.written.facts;
    let aside = |facts: &[Fact], base: usize| -> Vec<KeptFact> {
        facts
            .iter()
            .enumerate()
            .filter(|(index, _)| !written.get(base + index).is_some_and(|w| *w))
            .map(|(_, fact)| KeptFact::from(fact))
            .collect()
    };
    private.facts = aside(&heads.take, 0);
    let own = aside(&heads.lens, heads.take.len());
    // A single lens of which the keys say everything needs no list.
    let simple = match lenses {
        [] => lens.is_none(),
        [facts] => lens == Some(0) && own.is_empty() && !facts.is_empty(),
        _ => false,
    };
    if simple {
        return;
    }
    private.lens = lens;
    let kept = lenses.iter().enumerate().map(|(index, facts)| {
        if lens.is_some_and(|lens| lens as usize == index) {
            own.clone()
        } else {
            facts.iter().map(KeptFact::from).collect()
        }
    });
    private.lenses = Some(kept.collect());
}

/// Columns that start here and that the keys of the standard do not define.
fn declare(private: &mut Private, columns: &Columns, known: &mut HashSet<String>) {
    let written = &columns.plan.written;
    let numbers = columns.numbers_by_name.iter();
    let numbers = numbers.map(|&at| (&columns.numbers[at], written.numbers[at]));
    let texts = columns.texts_by_name.iter();
    let texts = texts.map(|&at| (&columns.texts[at], written.texts[at]));
    for (head, written) in numbers.chain(texts) {
        if known.insert(head.declared.name.clone()) && !(head.standard && written) {
            private.columns.push(head.declared.clone());
        }
    }
}

/// Values of the frame that the keys of the standard do not hold.
fn channels(part: &mut Part<'_>, columns: &Columns, row: Row<'_>, ended: &[(String, f64)]) {
    let written = &columns.plan.written;
    for &index in &columns.numbers_by_name {
        let head = &columns.numbers[index];
        if written.numbers[index] {
            continue;
        }
        let value = row.number(index);
        if !value.is_nan() {
            encode::push_number(part.channel(&head.key), value);
        } else if columns
            .plan
            .held
            .iter()
            .any(|h| h.column == index && !h.last.is_nan())
        {
            part.channel(&head.key).extend_from_slice(b"null");
        }
    }
    for &index in &columns.texts_by_name {
        let head = &columns.texts[index];
        if let Some(text) = row.text(index)
            && !written.texts[index]
        {
            encode::push_text(part.channel(&head.key), text);
        }
    }
    for (name, _) in ended {
        part.channel(&key_of(name)).extend_from_slice(b"null");
    }
}

/// The private part of a sample while it is written.
struct Part<'b> {
    out: &'b mut Vec<u8>,
    /// Whether the part has begun.
    open: bool,
    /// Whether its channels have begun.
    any: bool,
}

impl Part<'_> {
    fn members(&mut self, private: &Private) {
        // Texts and numbers only: writing them to memory cannot fail.
        let json = serde_json::to_vec(private).unwrap_or_default();
        self.open();
        // Without the closing brace: channels may follow.
        self.out
            .extend_from_slice(json.strip_suffix(b"}").unwrap_or_default());
    }

    fn open(&mut self) {
        self.open = true;
        self.out.push(b',');
        encode::push_text(self.out, PRIVATE);
        self.out.push(b':');
    }

    fn channel(&mut self, key: &[u8]) -> &mut Vec<u8> {
        if self.any {
            self.out.push(b',');
        } else {
            self.any = true;
            if self.open {
                self.out.push(b',');
            } else {
                self.open();
                self.out.push(b'{');
            }
            encode::push_text(self.out, CHANNELS);
            self.out.extend_from_slice(b":{");
        }
        self.out.extend_from_slice(key);
        self.out
    }

    fn close(self) {
        if self.any {
            self.out.push(b'}');
        }
        if self.open {
            self.out.push(b'}');
        }
    }
}

impl Columns {
    fn new(frames: &Frames, heads: &Heads) -> Result<Self, Failure> {
        let mut names = HashSet::new();
        let all = frames.columns.iter().map(|c| &c.channel);
        for name in all.chain(frames.labels.iter().map(|l| &l.channel)) {
            if !names.insert(name) {
                return Err(failure(
                    format!("the channel {name} comes twice"),
                    "leave one of both out",
                    None,
                ));
            }
        }
        let numbers: Vec<_> = frames.columns.iter().map(ColumnHead::of_numbers).collect();
        let texts = frames
            .labels
            .iter()
            .map(ColumnHead::of_labels)
            .collect::<Result<Vec<_>, _>>()?;
        Ok(Columns {
            numbers_by_name: by_name(&numbers),
            texts_by_name: by_name(&texts),
            plan: Plan::new(&frames.columns, &frames.labels, heads),
            numbers,
            texts,
            fresh: true,
        })
    }

    /// Whether the plan is for columns such as these.
    fn fit(&self, frames: &Frames) -> bool {
        self.numbers.len() == frames.columns.len()
            && self.texts.len() == frames.labels.len()
            && self.numbers.iter().zip(&frames.columns).all(|(head, c)| {
                head.declared.name == c.channel
                    && head.declared.unit == c.unit
                    && head.declared.reference == c.reference
            })
            && self.texts.iter().zip(&frames.labels).all(|(head, l)| {
                head.declared.name == l.channel && head.declared.form.name() == l.form
            })
    }
}

impl ColumnHead {
    fn of_numbers(column: &Column) -> Self {
        let standard = match fields::place_of(&column.channel) {
            Some(field) => field.unit == column.unit && field.reference == column.reference,
            None => column.unit.is_empty() && column.reference.is_empty(),
        };
        ColumnHead {
            declared: Declared {
                name: column.channel.clone(),
                form: ColumnForm::Number,
                unit: column.unit.clone(),
                reference: column.reference.clone(),
            },
            key: key_of(&column.channel),
            standard,
        }
    }

    fn of_labels(labels: &Labels) -> Result<Self, Failure> {
        let form = ColumnForm::of_labels(&labels.form).ok_or_else(|| {
            failure(
                format!(
                    "texts of {} have the unknown form '{}'",
                    labels.channel, labels.form
                ),
                "report this to the authors of the program",
                None,
            )
        })?;
        Ok(ColumnHead {
            declared: Declared {
                name: labels.channel.clone(),
                form,
                unit: String::new(),
                reference: String::new(),
            },
            key: key_of(&labels.channel),
            standard: true,
        })
    }
}

fn by_name(heads: &[ColumnHead]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..heads.len()).collect();
    order.sort_by_key(|&at| &heads[at].declared.name);
    order
}

fn key_of(name: &str) -> Vec<u8> {
    let mut key = Vec::new();
    encode::push_text(&mut key, name);
    key.push(b':');
    key
}

fn check_lengths(frames: &Frames) -> Result<(), Failure> {
    let count = frames.count as usize;
    let numbers = frames.columns.iter().map(|c| (&c.channel, c.values.len()));
    let texts = frames.labels.iter().map(|l| (&l.channel, l.index.len()));
    for (channel, length) in numbers.chain(texts) {
        if length != count {
            return Err(failure(
                format!("{channel} has {length} values in a batch of {count} frames"),
                "report this to the authors of the program",
                None,
            ));
        }
    }
    for labels in &frames.labels {
        let texts = labels.ends.len();
        if labels
            .index
            .iter()
            .any(|&i| i != NO_LABEL && i as usize >= texts)
        {
            return Err(failure(
                format!("{} refers to a text that is not there", labels.channel),
                "report this to the authors of the program",
                None,
            ));
        }
    }
    Ok(())
}
