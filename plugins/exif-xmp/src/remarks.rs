//! Remarks, each said once: a fault that runs through a thousand stills is one remark and one
//! closing note with the count.

use std::collections::BTreeMap;

use ringmark_sdk::{Item, Place, Remark};

/// Different remarks on a sequence; more are only counted.
const MOST: usize = 200;

/// What kind of fault, and how bad.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fault {
    /// Name of the defect.
    pub check: &'static str,
    /// `error`, `warning` or `note`.
    pub severity: &'static str,
    /// What to do.
    pub help: &'static str,
}

macro_rules! faults {
    ($($(#[$doc:meta])* $name:ident = $check:literal, $severity:literal, $help:literal;)*) => {
        $($(#[$doc])* pub const $name: Fault = Fault { check: $check, severity: $severity, help: $help };)*
    };
}

faults! {
    /// A file without Exif and XMP.
    NO_METADATA = "metadata-missing", "warning",
        "its frame has no values: check that the file is the camera's own, not an export without metadata";
    /// A tag with a type that is not the standard's.
    TAG_TYPE = "attribute-type", "warning", "store it with the type of the standard";
    /// A tag with more or fewer values than the standard's.
    TAG_COUNT = "attribute-count", "warning", "store as many values as the standard says";
    /// A field type that does not exist.
    UNKNOWN_TYPE = "field-type-unknown", "warning", "the tag is passed over: write the file again";
    /// A value or directory outside the file.
    OFFSET = "offset-outside", "error", "the value is lost: the file was cut or edited by a program that does not know it";
    /// A value at the place of the header.
    OVERLAP = "offset-overlaps", "error", "the value is taken as not recorded: write the file again";
    /// A directory that leads back to one before.
    LOOP = "directory-loop", "error", "the pointer is not followed: write the file again";
    /// A directory that is damaged.
    DIRECTORY = "directory-damaged", "error", "its values are lost: write the file again";
    /// A value too large to be kept.
    TOO_LARGE = "attribute-too-large", "warning", "the value is not kept: store it in a file of its own";
    /// More properties than are kept.
    TOO_MANY = "too-many-properties", "warning", "the ones above are not kept: remove what nobody needs from the file";
    /// A property twice.
    REPEATED = "attribute-repeated", "warning", "the last value counts: write each property once";
    /// What holds for a whole take changes inside the sequence.
    CHANGES = "attribute-changes", "warning",
        "the value of the first file is kept for the take: check that all files belong to it";
    /// A text that is no number, or no rational.
    NOT_A_NUMBER = "value-not-a-number", "error", "taken as not recorded: write a rational such as 19/10";
    /// A rational with the denominator 0.
    UNDEFINED = "rational-undefined", "warning", "taken as not recorded, never as infinity: leave the property out instead";
    /// A number without meaning for its property.
    IMPOSSIBLE = "value-without-meaning", "warning", "taken as not recorded: leave the property out instead";
    /// A decimal where a rational belongs.
    DECIMAL = "decimal-for-rational", "warning", "read as the number it says: other programs may not, write a rational such as 19/10";
    /// The infinity marker cut to 31 bits.
    CLAMPED = "infinity-clamped", "warning",
        "taken as infinity: the program that wrote it cut 4294967295/1 to 31 bits, use another";
    /// Sensitivity that does not fit its tag.
    ELSEWHERE = "sensitivity-elsewhere", "note", "taken as not recorded: the ISO value is in another tag, kept as an extra";
    /// f-number and aperture value of one file disagree.
    STOPS_DISAGREE = "apertures-disagree", "warning", "FNumber is used: one of both was written wrongly";
    /// Exposure time and shutter speed of one file disagree.
    TIMES_DISAGREE = "exposure-times-disagree", "warning", "ExposureTime is used: one of both was written wrongly";
    /// Exif and XMP of one file differ.
    PARTS_DISAGREE = "exif-and-xmp-disagree", "warning", "the Exif value is used: one of both was edited without the other";
    /// An identity of no letters.
    TEXT_EMPTY = "text-empty", "warning", "taken as not recorded: leave the property out instead";
    /// A text in another coding.
    TEXT_NOT_UTF8 = "text-not-utf8", "warning", "the wrong bytes are shown as \u{fffd}: write the text as UTF-8";
    /// A text with a NUL inside.
    TEXT_NUL = "text-nul", "warning", "what stands behind the NUL is not read: write the text without it";
    /// XMP inside an image that cannot be read.
    XMP_DAMAGED = "xmp-damaged", "error", "only the Exif part is read: write the XMP packet again";
    /// Extended XMP.
    XMP_EXTENDED = "xmp-extended", "note", "only the main packet is read, which is where lens data belongs";
    /// RDF that XMP does not have.
    XMP_UNSUPPORTED = "xmp-property-unsupported", "warning", "the property is passed over: XMP has no such form";
    /// A private part of another version, or damaged.
    PRIVATE_PART = "private-part", "error", "the private part is passed over: write the sidecar again with this program";
    /// A value beside a property which was changed since.
    EDITED = "property-edited", "note", "the property is used: another program changed it after the sidecar was written";
}

#[derive(Debug)]
struct Repeat {
    subject: String,
    more: u64,
    last_input: u32,
}

/// All remarks of a reading.
#[derive(Debug, Default)]
pub struct Remarks {
    known: BTreeMap<(&'static str, String), Repeat>,
    left_out: u64,
    ready: Vec<Item>,
}

impl Remarks {
    /// Reports a fault. `message` is called for the first one of a subject (the place's field) only.
    pub fn report(&mut self, fault: &Fault, place: Place, message: impl FnOnce() -> String) {
        self.report_with(fault, place, message, fault.help);
    }

    /// Reports a fault with help of its own.
    pub fn report_with(
        &mut self,
        fault: &Fault,
        place: Place,
        message: impl FnOnce() -> String,
        help: &str,
    ) {
        let key = (fault.check, place.field.clone());
        if let Some(repeat) = self.known.get_mut(&key) {
            repeat.more += u64::from(repeat.last_input != place.input);
            repeat.last_input = place.input;
            return;
        }
        if self.known.len() >= MOST {
            self.left_out += 1;
            return;
        }
        let repeat = Repeat {
            subject: place.field.clone(),
            more: 0,
            last_input: place.input,
        };
        self.known.insert(key, repeat);
        self.ready.push(Item::Remark(Remark {
            severity: fault.severity.to_owned(),
            check: fault.check.to_owned(),
            message: message(),
            help: help.to_owned(),
            at: Some(place),
        }));
    }

    /// The remarks that were not handed out yet.
    pub fn take(&mut self) -> Vec<Item> {
        std::mem::take(&mut self.ready)
    }

    /// A note for each fault that stood in more than one file.
    pub fn close(&mut self) -> Vec<Item> {
        let known = std::mem::take(&mut self.known);
        let repeated = known.into_iter().filter(|(_, repeat)| repeat.more > 0);
        let mut notes: Vec<Item> = repeated
            .map(|((check, _), repeat)| {
                let files = if repeat.more == 1 { "file" } else { "files" };
                let message = format!("the same in {} more {files}, here last", repeat.more);
                note(check, message, repeat.subject, repeat.last_input)
            })
            .collect();
        if self.left_out > 0 {
            let message = format!("{} more remarks after {MOST} are left out", self.left_out);
            notes.push(note("more-remarks", message, String::new(), 0));
        }
        notes
    }
}

fn note(check: &str, mut message: String, subject: String, input: u32) -> Item {
    if !subject.is_empty() {
        message = format!("{subject}: {message}");
    }
    Item::Remark(Remark {
        severity: "note".to_owned(),
        check: check.to_owned(),
        message,
        help: "see the first remark of this kind".to_owned(),
        at: Some(Place {
            input,
            offset: 0,
            length: 0,
            field: subject,
        }),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn place(input: u32, field: &str) -> Place {
        Place {
            input,
            offset: 9,
            length: 1,
            field: field.to_owned(),
        }
    }

    #[test]
    fn a_fault_is_told_once_and_counted_by_files() {
        let mut remarks = Remarks::default();
        for input in [0, 1, 1, 2] {
            remarks.report(&TAG_TYPE, place(input, "Exif FNumber"), || "wrong".into());
        }
        remarks.report(&TAG_TYPE, place(0, "Exif FocalLength"), || "wrong".into());
        assert_eq!(remarks.take().len(), 2);
        let notes = remarks.close();
        let [Item::Remark(note)] = notes.as_slice() else {
            panic!("one note: {notes:?}");
        };
        assert!(note.message.contains("2 more files"), "{}", note.message);
        assert_eq!(note.at.as_ref().unwrap().input, 2);
    }

    #[test]
    fn names_from_a_file_do_not_fill_the_memory() {
        let mut remarks = Remarks::default();
        for n in 0..10_000 {
            remarks.report(&REPEATED, place(0, &format!("x:{n}")), || "twice".into());
        }
        assert_eq!(remarks.take().len(), MOST);
        assert_eq!(remarks.close().len(), 1);
    }
}
