//! What the reader notices while it can go on: each defect once a place in the format, and a
//! closing note with the count where there were more.

use std::collections::BTreeMap;

use ringmark_sdk::{Item, Place, Remark};

/// Different defects that are told.
const MOST: usize = 200;

/// What kind of defect, how bad, and what to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fault {
    check: &'static str,
    severity: &'static str,
    help: &'static str,
}

const fn fault(check: &'static str, severity: &'static str, help: &'static str) -> Fault {
    Fault {
        check,
        severity,
        help,
    }
}

/// Bytes between two triplets.
pub const NO_KEY: Fault = fault(
    "bytes-between-keys",
    "warning",
    "reading went on at the next key: find out what wrote these bytes",
);
/// A set too long to be looked at.
pub const SET_TOO_LARGE: Fault = fault(
    "set-too-large",
    "warning",
    "the set is not read: sets of this kind have a few hundred bytes",
);
/// A triplet of a stream that is no set.
pub const NOT_A_SET: Fault = fault(
    "triplet-not-kept",
    "note",
    "only sets are read: convert what else the stream holds apart",
);
/// An item reaches past its set.
pub const ITEM_OVERRUN: Fault = fault(
    "item-overrun",
    "error",
    "the items before it are read: write the set again",
);
/// Bytes behind the last item of a set.
pub const ITEM_CUT: Fault = fault(
    "item-cut",
    "error",
    "the items before it are read: write the set again",
);
/// An item of a size that it cannot have.
pub const ITEM_SIZE: Fault = fault(
    "item-size",
    "error",
    "the item is ignored: write it with the size of the standard",
);
/// A tag twice in one set.
pub const ITEM_REPEATED: Fault = fault(
    "duplicate-key",
    "error",
    "the last value counts: write each item once",
);
/// A text in another coding.
pub const TEXT_NOT_UTF8: Fault = fault(
    "text-not-utf8",
    "warning",
    "the wrong bytes are shown as \u{fffd}: write the text as UTF-8",
);
/// A rate without meaning.
pub const RATE_INVALID: Fault = fault(
    "rate-invalid",
    "error",
    "both parts of a rate must be above 0: correct the item",
);
/// A fraction with a denominator of 0.
pub const FRACTION_INVALID: Fault = fault(
    "fraction-invalid",
    "error",
    "taken as not recorded, its bytes are kept: correct the item",
);
/// 0 where nothing can be 0.
pub const VALUE_ZERO: Fault = fault(
    "value-zero",
    "warning",
    "taken as not recorded, its bytes are kept: leave the item out instead",
);
/// A code that has no meaning here.
pub const VALUE_UNKNOWN: Fault = fault("value-unknown", "note", "its bytes are kept as they stand");
/// A distance that can only mean infinity.
pub const INFINITY: Fault = fault(
    "infinity-by-size",
    "warning",
    "read as infinity: the standard has no code for it",
);
/// A number that may be meant as negative.
pub const SIGN: Fault = fault(
    "sign-assumed",
    "note",
    "read as negative: the number without a sign would be impossible",
);
/// What holds for a whole take changes inside it.
pub const CHANGES: Fault = fault(
    "attribute-changes",
    "warning",
    "the first value is kept for the take, others with their frames: check that all frames belong to it",
);
/// A private part that cannot be read.
pub const PRIVATE: Fault = fault(
    "private-part",
    "error",
    "what this set holds besides is not read: convert the source again",
);
/// Ancillary packets that cannot be read.
pub const ANCILLARY: Fault = fault(
    "ancillary-packet",
    "error",
    "the rest of these packets is not read: write the element again",
);
/// Ancillary packets in a coding that is not read.
pub const ANCILLARY_CODING: Fault = fault(
    "ancillary-coding",
    "warning",
    "the packet is not read: store ancillary packets in eight bits",
);
/// More kinds of sets and items than are kept.
pub const TOO_MANY: Fault = fault(
    "extra-not-kept",
    "warning",
    "the bytes are not kept: this file may be damaged",
);
/// Sets stand in two places of a file.
pub const TWO_PLACES: Fault = fault(
    "sets-in-two-places",
    "warning",
    "only the sets of the first kind are read: keep one of both",
);
/// A start of time code that cannot be a label.
pub const TIMECODE_LABEL: Fault = fault(
    "timecode-label",
    "warning",
    "the start time code is taken as not recorded: correct the header metadata",
);

/// All remarks of a reading.
#[derive(Default)]
pub struct Remarks {
    known: BTreeMap<(&'static str, u32), Known>,
    waiting: Vec<Item>,
}

struct Known {
    more: u64,
    last: Option<Place>,
}

impl Remarks {
    /// Notes a defect; `about`, called for the first of its `subject` only, gives the message.
    pub fn add(
        &mut self,
        fault: Fault,
        subject: u32,
        at: Option<Place>,
        about: impl FnOnce() -> String,
    ) {
        if let Some(known) = self.known.get_mut(&(fault.check, subject)) {
            known.more += 1;
            known.last = at;
            return;
        }
        if self.known.len() > MOST {
            return;
        }
        let left_out = self.known.len() == MOST;
        let known = Known {
            more: 0,
            last: at.clone(),
        };
        self.known.insert((fault.check, subject), known);
        let remark = if left_out {
            Remark {
                severity: "note".to_owned(),
                check: "more-remarks".to_owned(),
                message: format!("further remarks on this file are left out after {MOST}"),
                help: String::new(),
                at,
            }
        } else {
            Remark {
                severity: fault.severity.to_owned(),
                check: fault.check.to_owned(),
                message: about(),
                help: fault.help.to_owned(),
                at,
            }
        };
        self.waiting.push(Item::Remark(remark));
    }

    /// The remarks since the last call.
    pub fn take(&mut self) -> Vec<Item> {
        std::mem::take(&mut self.waiting)
    }

    /// A note for each defect that came more than once.
    pub fn close(&mut self) {
        let known = std::mem::take(&mut self.known);
        for ((check, _), Known { more, last }) in known {
            if more == 0 {
                continue;
            }
            let times = if more == 1 { "time" } else { "times" };
            let field = last.as_ref().map_or("", |place| &place.field);
            self.waiting.push(Item::Remark(Remark {
                severity: "note".to_owned(),
                check: check.to_owned(),
                message: format!("{field}: the same {more} more {times}, here last"),
                help: "see the first remark of this kind".to_owned(),
                at: last,
            }));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn told_once_counted_and_not_without_end() {
        let mut remarks = Remarks::default();
        for subject in [1, 1, 1, 2] {
            remarks.add(ITEM_SIZE, subject, None, || "m".to_owned());
        }
        assert_eq!(remarks.take().len(), 2);
        remarks.close();
        let notes = remarks.take();
        let [Item::Remark(note)] = &notes[..] else {
            panic!("{notes:?}");
        };
        assert!(note.message.contains("2 more times"), "{}", note.message);
        for subject in 0..1000 {
            remarks.add(ITEM_SIZE, subject, None, || "m".to_owned());
        }
        assert_eq!(remarks.take().len(), MOST + 1);
    }
}
