//! Writes per-frame records: statics, header, one row a frame.

use ringmark_sdk::batch::label_text;
use ringmark_sdk::quantity::parse::DecimalMark;
use ringmark_sdk::quantity::{DistanceReference, Unit};
use ringmark_sdk::{Column, Failure, Frames, Labels, Lens, Output, Take, failure};

use crate::columns::{self, Context, Target};
use crate::fields::{self, Holds, Quantity};
use crate::keys::EXTRA;
use crate::print::{header_needs_quotes, push_header, push_number, push_text, refuse_nul};
use crate::records::Cell;
use crate::say::quoted;
use crate::write_statics::{Lines, words};

/// One column of the file.
#[derive(Debug, Clone, PartialEq)]
enum Slot {
    Numbers {
        channel: String,
        unit: String,
        reference: String,
    },
    Texts {
        channel: String,
        form: String,
        /// Whether the empty text differs from 'not recorded'.
        keeps_empty: bool,
    },
}

/// Where the cells of a slot are in a batch.
#[derive(Clone, Copy)]
enum Source<'a> {
    Absent,
    Numbers(&'a [f64]),
    Texts(&'a Labels, bool),
}

/// A take while it is written.
pub struct TakeWriter {
    slots: Vec<Slot>,
    out: Vec<u8>,
}

impl TakeWriter {
    /// Writes everything above the rows. The columns are those of the first batch.
    pub fn start(
        output: &mut dyn Output,
        lens: Option<&Lens>,
        take: &Take,
        first: &Frames,
    ) -> Result<Self, Failure> {
        let slots = slots(first)?;
        let references: Vec<DistanceReference> = slots.iter().filter_map(Slot::reference).collect();
        // One reference for all distances is said once; several are said column by column.
        let shared = match references.split_first() {
            Some((one, rest)) if rest.iter().all(|other| other == one) => *one,
            _ => DistanceReference::Unstated,
        };
        let mut lines = Lines::new(false);
        lines.take(&take.facts)?;
        if let Some(lens) = lens {
            lines.lens(&lens.facts, shared)?;
        }
        lines.measured_from(shared);
        if slots.len() == 1 {
            // The row of a single cell that was not recorded is a blank line.
            lines.plain("blank lines", "frames");
        }
        let mut out = lines.into_text().into_bytes();
        for (index, slot) in slots.iter().enumerate() {
            if index > 0 {
                out.push(b',');
            }
            let header = slot.header(shared)?;
            refuse_nul(&header)?;
            push_header(&mut out, &header);
        }
        out.push(b'\n');
        output.write(&out);
        Ok(TakeWriter { slots, out })
    }

    /// Writes the rows of a batch.
    pub fn rows(&mut self, output: &mut dyn Output, batch: &Frames) -> Result<(), Failure> {
        for other in slots(batch)? {
            if !self.slots.contains(&other) {
                return Err(late_column(&other, &self.slots));
            }
        }
        for labels in &batch.labels {
            refuse_nul(&labels.text)?;
        }
        let sources: Vec<Source> = self.slots.iter().map(|slot| slot.find(batch)).collect();
        self.out.clear();
        for row in 0..batch.count as usize {
            for (index, source) in sources.iter().enumerate() {
                if index > 0 {
                    self.out.push(b',');
                }
                match source {
                    Source::Absent => {}
                    Source::Numbers(values) => {
                        push_number(&mut self.out, values.get(row).copied().unwrap_or(f64::NAN));
                    }
                    Source::Texts(labels, keeps_empty) => match label_text(labels, row) {
                        Some(text) if *keeps_empty || !text.is_empty() => {
                            push_text(&mut self.out, text);
                        }
                        _ => {}
                    },
                }
            }
            self.out.push(b'\n');
        }
        output.write(&self.out);
        Ok(())
    }
}

/// The columns of a batch: known ones in the order of the registry, then the others.
fn slots(batch: &Frames) -> Result<Vec<Slot>, Failure> {
    let numbers = batch.columns.iter().map(|column| Slot::Numbers {
        channel: column.channel.clone(),
        unit: column.unit.clone(),
        reference: column.reference.clone(),
    });
    let texts = batch.labels.iter().map(|labels| Slot::Texts {
        channel: labels.channel.clone(),
        form: labels.form.clone(),
        keeps_empty: labels.channel.starts_with(EXTRA),
    });
    let mut slots: Vec<Slot> = numbers.chain(texts).collect();
    slots.sort_by_key(|slot| {
        fields::FIELDS
            .iter()
            .position(|field| field.channel == slot.channel())
            .unwrap_or(usize::MAX)
    });
    if slots.is_empty() {
        return Err(failure(
            "the take has no channel",
            "a table needs at least one column",
            None,
        ));
    }
    Ok(slots)
}

impl Slot {
    fn channel(&self) -> &str {
        match self {
            Slot::Numbers { channel, .. } | Slot::Texts { channel, .. } => channel,
        }
    }

    /// What its distances are measured from; `None` for columns that hold none.
    fn reference(&self) -> Option<DistanceReference> {
        match self {
            Slot::Numbers { reference, .. } if !reference.is_empty() => {
                Some(DistanceReference::from_name(reference).unwrap_or_default())
            }
            _ => None,
        }
    }

    fn find<'a>(&self, batch: &'a Frames) -> Source<'a> {
        match self {
            Slot::Numbers { channel, .. } => batch
                .columns
                .iter()
                .find(|column: &&Column| column.channel == *channel)
                .map_or(Source::Absent, |column| Source::Numbers(&column.values)),
            Slot::Texts {
                channel,
                keeps_empty,
                ..
            } => batch
                .labels
                .iter()
                .find(|labels| labels.channel == *channel)
                .map_or(Source::Absent, |labels| Source::Texts(labels, *keeps_empty)),
        }
    }

    /// A header that the reader takes for this very column.
    fn header(&self, shared: DistanceReference) -> Result<String, Failure> {
        let context = Context {
            mark: DecimalMark::Point,
            measured_from: shared,
        };
        let is_same = |header: &&String| {
            let cell = Cell {
                text: (*header).clone(),
                quoted: header_needs_quotes(header),
                at: None,
            };
            let read = columns::resolve(&[cell], &[], context);
            read.is_ok_and(|columns| {
                columns
                    .first()
                    .is_some_and(|column| self.is(&column.target))
            })
        };
        let candidates = self.headers(shared);
        candidates.iter().find(is_same).cloned().ok_or_else(|| {
            failure(
                format!(
                    "channel {} cannot be named in a header",
                    quoted(self.channel())
                ),
                "it needs a unit that the channel can have, without unbalanced brackets",
                None,
            )
        })
    }

    /// Headers that may do, the plainest first.
    fn headers(&self, shared: DistanceReference) -> Vec<String> {
        let field = fields::by_channel(self.channel());
        let names = match field {
            Some(field) => vec![field.title.to_owned()],
            None => {
                let name = self.channel().strip_prefix(EXTRA).unwrap_or(self.channel());
                vec![name.to_owned(), format!("{EXTRA}{name}")]
            }
        };
        let suffixes = match self {
            Slot::Numbers { unit, .. } => {
                let unsaid = match field.map(|field| field.holds) {
                    Some(Holds::Number(quantity)) => Quantity::unsaid(quantity),
                    _ => None,
                };
                let from = match self.reference() {
                    Some(own) if own != shared => format!(" from {}", words(own)),
                    _ => String::new(),
                };
                if unsaid.map(Unit::symbol) == Some(unit) {
                    vec![String::new()]
                } else {
                    vec![format!(" [{unit}{from}]")]
                }
            }
            Slot::Texts { form, .. } if form == "text" => vec![String::new(), " [text]".to_owned()],
            Slot::Texts { form, .. } => vec![format!(" [{form}]")],
        };
        let pairs = suffixes
            .iter()
            .flat_map(|suffix| names.iter().map(move |name| format!("{name}{suffix}")));
        pairs.collect()
    }

    /// Whether the reader would make this column of it.
    fn is(&self, target: &Target) -> bool {
        match (self, target) {
            (
                Slot::Numbers {
                    channel,
                    unit,
                    reference,
                },
                Target::Numbers {
                    channel: read_channel,
                    unit: read_unit,
                    reference: read_reference,
                    ..
                },
            ) => channel == read_channel && unit == read_unit && reference == read_reference,
            (
                Slot::Texts { channel, form, .. },
                Target::Texts {
                    channel: read_channel,
                    form: read_form,
                },
            ) => channel == read_channel && form == read_form,
            _ => false,
        }
    }
}

#[cold]
fn late_column(late: &Slot, slots: &[Slot]) -> Failure {
    let message = if slots.iter().any(|slot| slot.channel() == late.channel()) {
        format!(
            "channel {} changes its unit, reference or form inside the take",
            quoted(late.channel())
        )
    } else {
        format!(
            "channel {} starts inside the take, after the header was written",
            quoted(late.channel())
        )
    };
    failure(
        message,
        "choose a target format whose frames can differ, such as the neutral JSON lines",
        None,
    )
}
