//! A take and its other record, side by side.

use std::sync::Arc;

use ringmark_model::{Batch, Take};

use super::align::Alignment;
use super::differences::{Difference, differences};
use super::record::{ChannelPrecision, Record, RecordBuilder};

/// Two records at work: frames of the one come in, then all is compared.
pub(crate) struct Versus {
    pub other: Arc<Record>,
    builder: Option<RecordBuilder>,
    outcome: Option<Outcome>,
}

/// What the comparison gave.
pub(crate) struct Outcome {
    pub own: Record,
    pub alignment: Alignment,
    pub differences: Vec<Difference>,
}

impl Versus {
    /// A comparison of `take` with `other`; `precision` is that of the format of `take`.
    pub fn new(take: &Take, other: Arc<Record>, precision: Vec<ChannelPrecision>) -> Versus {
        Versus {
            other,
            builder: Some(RecordBuilder::new(take, "", precision)),
            outcome: None,
        }
    }

    /// Takes in consecutive frames.
    pub fn frames(&mut self, batch: &Batch) {
        if let Some(builder) = &mut self.builder {
            builder.frames(batch);
        }
    }

    /// The take is over: compares. `most` is the largest offset that is tried, in frames.
    pub fn end(&mut self, most: i64) {
        if let Some(builder) = self.builder.take() {
            let own = builder.finish();
            let alignment = Alignment::new(&own, &self.other, most);
            let differences = differences(&own, &self.other, &alignment);
            self.outcome = Some(Outcome {
                own,
                alignment,
                differences,
            });
        }
    }

    /// What the comparison gave, once the take is over.
    pub fn outcome(&self) -> Option<&Outcome> {
        self.outcome.as_ref()
    }
}
