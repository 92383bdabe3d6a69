//! Remarks, each said once: a fault that runs through ten thousand files is one remark and one
//! closing note with the count.

use std::collections::BTreeMap;

use ringmark_sdk::{Item, Place, Remark};

use crate::keys::KeyId;

/// What kind of fault, and how bad.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    /// Name of the defect.
    pub check: &'static str,
    /// `error`, `warning` or `note`.
    pub severity: &'static str,
    /// What to do.
    pub help: &'static str,
}

const fn fault(check: &'static str, severity: &'static str, help: &'static str) -> Fault {
    Fault {
        check,
        severity,
        help,
    }
}

/// A standard name with a type that is not the standard's.
pub const ATTRIBUTE_TYPE: Fault = fault(
    "attribute-type",
    "warning",
    "the value is ignored: store it with the type of the standard",
);
/// An attribute twice in one header.
pub const ATTRIBUTE_REPEATED: Fault = fault(
    "attribute-repeated",
    "warning",
    "the last value counts: write each attribute once",
);
/// What holds for a whole take changes inside the sequence.
pub const ATTRIBUTE_CHANGES: Fault = fault(
    "attribute-changes",
    "warning",
    "the value of the first file is kept for the take: check that all files belong to it",
);
/// A value too large to be kept.
pub const ATTRIBUTE_TOO_LARGE: Fault = fault(
    "attribute-too-large",
    "warning",
    "the value is not kept: store it in a file of its own",
);
/// Two parts of one view differ.
pub const PARTS_DISAGREE: Fault = fault(
    "parts-disagree",
    "warning",
    "the value of the first part counts: give the parts of a view equal values",
);
/// Two parts of one name.
pub const PART_NAME_REPEATED: Fault = fault(
    "part-name-repeated",
    "warning",
    "give each part a name of its own",
);
/// A file without a part of a view.
pub const VIEW_MISSING: Fault = fault(
    "view-missing",
    "warning",
    "the take of this view has no frame here: check that all files belong to the sequence",
);
/// A number that is none.
pub const NOT_A_NUMBER: Fault = fault(
    "value-not-a-number",
    "warning",
    "taken as not recorded: leave the attribute out instead",
);
/// A rate without meaning.
pub const RATE_INVALID: Fault = fault(
    "rate-invalid",
    "error",
    "both parts of a rate must be above 0: correct the attribute",
);
/// A window without area.
pub const WINDOW_EMPTY: Fault = fault(
    "display-window-empty",
    "warning",
    "the resolution is taken as unknown: correct the attribute",
);
/// Time code digits that are not decimal.
pub const TIMECODE_DIGITS: Fault = fault(
    "timecode-digits",
    "error",
    "the label is taken as not recorded: write the time code again",
);
/// A label that exists at no rate.
pub const TIMECODE_LABEL: Fault = fault(
    "timecode-label",
    "error",
    "the label is kept as it stands: write the time code again",
);
/// An identity of no letters.
pub const TEXT_EMPTY: Fault = fault(
    "text-empty",
    "warning",
    "taken as not recorded: leave the attribute out instead",
);
/// A text in another coding.
pub const TEXT_NOT_UTF8: Fault = fault(
    "text-not-utf8",
    "warning",
    "the wrong bytes are shown as \u{fffd}: write the text as UTF-8",
);
/// A text with a NUL inside.
pub const TEXT_NUL: Fault = fault(
    "text-nul",
    "warning",
    "the text is kept as it stands: programs that stop at NUL read less",
);

/// A private attribute that cannot be read.
pub const PRIVATE_DAMAGED: Fault = fault(
    "private-part-damaged",
    "error",
    "the attribute is ignored: write the take into the files again",
);

/// Number of a remark.
pub type RemarkId = usize;

/// All remarks of a reading.
#[derive(Debug, Default)]
pub struct Remarks {
    known: BTreeMap<(&'static str, KeyId), RemarkId>,
    repeats: Vec<Repeat>,
    ready: Vec<Item>,
}

#[derive(Debug)]
struct Repeat {
    check: &'static str,
    subject: String,
    more: u64,
    last_input: u32,
}

impl Remarks {
    /// Reports a fault of an attribute. `about` is called for the first one only and gives the message and the place.
    pub fn report(
        &mut self,
        fault: &Fault,
        key: KeyId,
        input: u32,
        about: impl FnOnce() -> (String, Place),
    ) -> RemarkId {
        if let Some(&id) = self.known.get(&(fault.check, key)) {
            self.again(id, input);
            return id;
        }
        let (message, place) = about();
        let id = self.repeats.len();
        self.known.insert((fault.check, key), id);
        self.repeats.push(Repeat {
            check: fault.check,
            subject: place.field.clone(),
            more: 0,
            last_input: input,
        });
        self.ready.push(Item::Remark(Remark {
            severity: fault.severity.to_owned(),
            check: fault.check.to_owned(),
            message,
            help: fault.help.to_owned(),
            at: Some(place),
        }));
        id
    }

    /// The same fault stands in one more file.
    pub fn again(&mut self, id: RemarkId, input: u32) {
        if let Some(repeat) = self.repeats.get_mut(id) {
            repeat.more += 1;
            repeat.last_input = input;
        }
    }

    /// The remarks that were not handed out yet.
    pub fn take(&mut self) -> Vec<Item> {
        std::mem::take(&mut self.ready)
    }

    /// A note for each fault that stood in more than one place.
    pub fn close(&mut self) -> Vec<Item> {
        let repeats = std::mem::take(&mut self.repeats);
        let notes = repeats.into_iter().filter(|repeat| repeat.more > 0);
        let note = |repeat: Repeat| {
            let times = if repeat.more == 1 { "time" } else { "times" };
            Item::Remark(Remark {
                severity: "note".to_owned(),
                check: repeat.check.to_owned(),
                message: format!(
                    "{}: the same {} more {times}, here last",
                    repeat.subject, repeat.more
                ),
                help: "see the first remark of this kind".to_owned(),
                at: Some(Place {
                    input: repeat.last_input,
                    offset: 0,
                    length: 0,
                    field: repeat.subject,
                }),
            })
        };
        notes.map(note).collect()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn place() -> Place {
        Place {
            input: 0,
            offset: 9,
            length: 1,
            field: "attribute focus".to_owned(),
        }
    }

    #[test]
    fn a_fault_is_told_once_and_counted() {
        let mut remarks = Remarks::default();
        for input in 0..3 {
            remarks.report(&NOT_A_NUMBER, 7, input, || ("NaN".to_owned(), place()));
        }
        remarks.report(&NOT_A_NUMBER, 8, 0, || ("NaN".to_owned(), place()));
        assert_eq!(remarks.take().len(), 2);
        let notes = remarks.close();
        let [Item::Remark(note)] = notes.as_slice() else {
            panic!("one note: {notes:?}");
        };
        assert!(note.message.contains("2 more times"), "{}", note.message);
        assert_eq!(note.at.as_ref().unwrap().input, 2);
    }
}
