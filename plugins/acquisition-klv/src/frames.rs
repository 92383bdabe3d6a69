//! Sets to frames: which set belongs to which frame, and what its items become.
//!
//! Sets carry no frame number. The first set of the file leads: each one of its kind starts a
//! frame. A lens or camera set of which the frame has one already starts a frame too. All other
//! sets join the frame at hand. Where a container says which sets belong together (ancillary
//! packets), that counts instead.

use ringmark_sdk::{Frames, Item, Place};

use crate::columns::{Columns, Naming, item_extra};
use crate::fields::{EXTRA, FIELDS, Unit, index_of};
use crate::head::Head;
use crate::item::{Oddity, Value, decode};
use crate::keys::{Kind, USER_DEFINED};
use crate::klv::{Key, hex};
use crate::local_set::{Coding, Defect, Items};
use crate::private::{self, Form};
use crate::remarks::{self, Fault, Remarks};

/// Frames of a batch.
const MOST_FRAMES: usize = 4096;
/// Values of a batch in columns that items of the standard do not fill.
const MOST_CELLS: usize = 1 << 20;
/// Bytes of texts of a batch.
const MOST_TEXT: usize = 4 << 20;

/// Start of the names of extras that hold whole sets.
pub const SET: &str = "extra/set.";
/// The extra that holds the first user-defined set of a frame.
pub const USER_SET: &str = "extra/UserDefined";

/// The frames of the batch at hand.
#[derive(Default)]
pub struct Assembly {
    columns: Columns,
    /// What private parts say about the take.
    pub head: Head,
    /// What was noticed.
    pub remarks: Remarks,
    naming: Naming,
    /// The kind of set that starts frames.
    lead: Option<Key>,
    /// Keys of the sets of the current frame, without version and coding.
    keys: Vec<Key>,
    tags: Vec<u16>,
    /// Offsets of the frames; the last one may still be open.
    offsets: Vec<u64>,
    open: bool,
    /// Frames that were handed out.
    first: u64,
    ids: Vec<Option<usize>>,
}

/// A key without its version and coding.
fn plain(key: &Key) -> Key {
    let mut plain = *key;
    plain[7] = 1;
    if Coding::of(key).is_some() {
        plain[5] = 0x53;
    }
    plain
}

/// A set and where it stands.
pub struct Set<'a> {
    /// Its key.
    pub key: Key,
    /// What the key stands for.
    pub kind: Kind,
    /// Its value.
    pub value: &'a [u8],
    /// Where the set starts in the file.
    pub offset: u64,
    /// Where its value starts; `None` if packets split it.
    pub value_at: Option<u64>,
}

impl Set<'_> {
    fn place(&self, at: usize, length: usize, field: String) -> Place {
        match self.value_at {
            Some(start) => Place {
                input: 0,
                offset: start + at as u64,
                length: length as u64,
                field,
            },
            None => Place {
                input: 0,
                offset: self.offset,
                length: 0,
                field: format!("ancillary packets, {field}"),
            },
        }
    }
}

impl Assembly {
    /// Whether a set with this key belongs to a further frame.
    pub fn starts_frame(&self, key: &Key, kind: Kind) -> bool {
        let key = plain(key);
        let again = matches!(kind, Kind::Lens | Kind::Camera) && self.keys.contains(&key);
        !self.open || again || self.lead == Some(key)
    }

    /// Whether the batch is full.
    pub fn is_full(&self) -> bool {
        let frames = self.offsets.len();
        frames >= MOST_FRAMES
            || frames * self.columns.own() >= MOST_CELLS
            || self.columns.text_bytes() >= MOST_TEXT
    }

    /// Whether there are frames in the batch.
    pub fn has_frames(&self) -> bool {
        !self.offsets.is_empty()
    }

    /// Starts a frame.
    pub fn start_frame(&mut self, offset: u64) {
        self.end_frame();
        self.offsets.push(offset);
        self.open = true;
    }

    /// Ends the current frame.
    pub fn end_frame(&mut self) {
        if self.open {
            self.columns.end_frame();
            self.keys.clear();
            self.open = false;
        }
    }

    /// Takes in a set; it belongs to the current frame.
    pub fn add(&mut self, set: &Set) {
        let key = plain(&set.key);
        if self.lead.is_none() {
            self.lead = Some(key);
        }
        match (set.kind, Coding::of(&set.key)) {
            (Kind::Lens, Some(coding)) => self.unit(Unit::Lens, coding, set),
            (Kind::Camera, Some(coding)) => self.unit(Unit::Camera, coding, set),
            _ if set.key == USER_DEFINED && private::is_private(set.value) => self.private(set),
            _ => self.keep(set),
        }
        self.keys.push(key);
    }

    fn row(&self) -> usize {
        self.offsets.len().saturating_sub(1)
    }

    /// Keeps a set as it stands.
    fn keep(&mut self, set: &Set) {
        let base = if set.key == USER_DEFINED {
            USER_SET.to_owned()
        } else {
            format!("{SET}{}", hex(&set.key))
        };
        let mut name = base.clone();
        let mut number = 1;
        while self.columns.has_own_text(&name) {
            number += 1;
            name = format!("{base}#{number}");
        }
        let place = || set.place(0, set.value.len(), "set".to_owned());
        self.keep_bytes(&name, set.value, place);
    }

    /// Keeps bytes under a name, unless there are too many names already.
    fn keep_bytes(&mut self, name: &str, value: &[u8], at: impl Fn() -> Place) {
        match self.columns.declare(name, Form::Hex, "", "") {
            Some(column) => self.columns.set_own_text(column, self.row(), &hex(value)),
            None => self.remarks.add(remarks::TOO_MANY, 0, Some(at()), || {
                format!("{name}: there are too many kinds of sets and items already")
            }),
        }
    }

    fn unit(&mut self, unit: Unit, coding: Coding, set: &Set) {
        self.tags.clear();
        for item in Items::new(coding, set.value) {
            let item = match item {
                Ok(item) => item,
                Err(defect) => {
                    self.damage(unit, set, defect);
                    return;
                }
            };
            let index = index_of(unit, item.tag);
            let at = || {
                let mut field = format!("{} unit set, item {:04X}", unit.name(), item.tag);
                if let Some(index) = index {
                    field.push_str(&format!(" ({})", FIELDS[index].title));
                }
                set.place(item.offset, item.value.len(), field)
            };
            if self.tags.contains(&item.tag) {
                let subject = subject(unit, item.tag);
                self.remarks
                    .add(remarks::ITEM_REPEATED, subject, Some(at()), || {
                        format!(
                            "item {:04X} comes twice in one {} unit set",
                            item.tag,
                            unit.name()
                        )
                    });
                if let Some(index) = index {
                    self.columns.clear_item(index, self.row());
                }
            }
            self.tags.push(item.tag);
            match index {
                Some(index) => self.known(index, item.value, at),
                None => self.keep_bytes(&item_extra(unit, item.tag), item.value, at),
            }
        }
    }

    fn known(&mut self, index: usize, bytes: &[u8], at: impl Fn() -> Place) {
        let field = &FIELDS[index];
        let row = self.row();
        let (value, oddity) = match decode(field.codec, bytes) {
            Ok(decoded) => decoded,
            Err(wrong) => {
                self.remarks
                    .add(remarks::ITEM_SIZE, index as u32, Some(at()), || {
                        format!(
                            "{} has {} bytes, expected {}",
                            field.title,
                            bytes.len(),
                            wrong.expected
                        )
                    });
                return;
            }
        };
        match value {
            Value::Number(number) => self.columns.set_item(index, row, number),
            Value::Text(text) => self.columns.set_item_text(index, row, &text),
            Value::Kept => self.keep_bytes(&item_extra(field.unit, field.tag), bytes, &at),
        }
        if let Some(oddity) = oddity {
            let (fault, message) = odd(oddity);
            self.remarks.add(fault, index as u32, Some(at()), || {
                let code = bytes.get(..MOST_SHOWN).unwrap_or(bytes);
                format!("{} {message} (code {})", field.title, hex(code))
            });
        }
    }

    fn damage(&mut self, unit: Unit, set: &Set, defect: Defect) {
        let name = unit.name();
        let (fault, offset, length, message) = match defect {
            Defect::Stray { offset, count } => (
                remarks::ITEM_CUT,
                offset,
                count,
                format!("the {name} unit set ends with {count} bytes that are no item"),
            ),
            Defect::Overrun {
                offset,
                tag,
                length,
                left,
            } => (
                remarks::ITEM_OVERRUN,
                offset,
                set.value.len() - offset,
                format!(
                    "item {tag:04X} of the {name} unit set says that it has {length} bytes, the set has {left} left"
                ),
            ),
        };
        let place = set.place(offset, length, format!("{name} unit set"));
        self.remarks
            .add(fault, subject(unit, 0), Some(place), || message);
    }

    fn private(&mut self, set: &Set) {
        let row = self.row();
        let first = self.is_first_batch();
        let records = private::records(set.value);
        let whole = records.is_some_and(|records| {
            let mut rest = &records[..];
            self.head
                .take_in(&mut rest, &mut self.columns, &mut self.ids, row, first)
        });
        if !whole {
            let place = set.place(0, set.value.len(), "private part".to_owned());
            self.remarks.add(remarks::PRIVATE, 0, Some(place), || {
                "the private part of a frame cannot be read".to_owned()
            });
        }
    }

    /// The items of the batch: the head of the take in front of the first frames.
    pub fn take(&mut self) -> Vec<Item> {
        let first = self.is_first_batch();
        let frames = self.frames();
        let mut items = self.remarks.take();
        if first {
            items.extend(self.head.items(&self.naming));
        }
        items.push(Item::Frames(frames));
        items
    }

    fn frames(&mut self) -> Frames {
        self.end_frame();
        self.columns
            .learn_focus(&mut self.naming, self.head.focus.as_deref());
        self.naming.hidden.clone_from(&self.head.hidden);
        if self.first == 0 {
            self.naming.sensor = self.head.sensor(self.columns.sensor());
        }
        if let Some(row) = self.columns.other_sensor(&self.naming) {
            let place = Place {
                input: 0,
                offset: self.offsets.get(row).copied().unwrap_or_default(),
                length: 0,
                field: "camera unit set, effective size of the image sensor".to_owned(),
            };
            self.remarks.add(remarks::CHANGES, 0, Some(place), || {
                "the effective size of the image sensor changes within the take".to_owned()
            });
        }
        let count = self.offsets.len();
        let (columns, labels) = self.columns.take(count, &self.naming);
        let first = self.first;
        self.first += count as u64;
        Frames {
            take: 0,
            first,
            count: count as u32,
            columns,
            labels,
            inputs: Vec::new(),
            offsets: std::mem::take(&mut self.offsets),
        }
    }

    /// Whether no batch was taken yet.
    fn is_first_batch(&self) -> bool {
        self.first == 0
    }
}

fn subject(unit: Unit, tag: u16) -> u32 {
    0x10000 + 0x10000 * u32::from(unit == Unit::Camera) + u32::from(tag)
}

/// Bytes of a code that messages show.
const MOST_SHOWN: usize = 16;

fn odd(oddity: Oddity) -> (Fault, &'static str) {
    match oddity {
        Oddity::Infinity => (remarks::INFINITY, "is over 1,000 km"),
        Oddity::Zero => (remarks::VALUE_ZERO, "is 0"),
        Oddity::ZeroDenominator => (remarks::FRACTION_INVALID, "has a denominator of 0"),
        Oddity::Rate => (remarks::RATE_INVALID, "is no rate above 0"),
        Oddity::Utf8 => (remarks::TEXT_NOT_UTF8, "is no UTF-8"),
        Oddity::Sign => (remarks::SIGN, "is in the upper half of its range"),
        Oddity::Word => (remarks::VALUE_UNKNOWN, "has no meaning here"),
        Oddity::Array => (remarks::VALUE_UNKNOWN, "is no array as it should be"),
    }
}

/// Key of a set that an extra of this name holds, and which of its kind in the frame it is.
pub fn set_of_extra(name: &str) -> Option<(Key, usize)> {
    let (base, number) = match name.rsplit_once('#') {
        Some((base, number)) => {
            let parsed: usize = number.parse().ok().filter(|n| *n > 1)?;
            (base, (parsed.to_string() == number).then_some(parsed)?)
        }
        None => (name, 1),
    };
    if base == USER_SET {
        return Some((USER_DEFINED, number));
    }
    let key: Key = crate::klv::from_hex(base.strip_prefix(SET)?)?
        .try_into()
        .ok()?;
    let kept = matches!(
        Kind::of(&key),
        Kind::Set | Kind::Acquisition | Kind::Metadata(_)
    ) && key != USER_DEFINED;
    kept.then_some((key, number))
}

/// Unit and tag of an item that an extra of this name holds.
pub fn item_of_extra(name: &str) -> Option<(Unit, u16)> {
    let rest = name.strip_prefix(EXTRA)?;
    let (unit, tag) = rest.split_once('.')?;
    let unit = [Unit::Lens, Unit::Camera]
        .into_iter()
        .find(|u| u.name() == unit)?;
    let tag = u16::from_str_radix(tag, 16).ok()?;
    (item_extra(unit, tag) == name).then_some((unit, tag))
}
