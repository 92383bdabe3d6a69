//! One take while it is read: what its attributes become.

pub mod decode;
pub mod extra;
mod kept;

use ringmark_sdk::quantity::FrameRate;
use ringmark_sdk::{Fact, Frames, Item, Place, Take, fact};

use crate::attribute::describe;
use crate::columns::{Columns, Origin};
use crate::fields::{Private, Role};
use crate::header::Entry;
use crate::keys::{Key, KeyId, Keys};
use crate::name;
use crate::private;
use crate::remarks::{self, RemarkId, Remarks};
use crate::source::field;

/// Where an attribute stands.
#[derive(Debug, Clone, Copy)]
pub struct Spot {
    /// Index of the file.
    pub input: u32,
    /// Index of the part.
    pub part: usize,
    /// Whether places name the part.
    pub multi_part: bool,
}

impl Spot {
    /// The place of an attribute.
    pub fn place(&self, key: &Key, entry: &Entry) -> Place {
        Place {
            input: self.input,
            offset: u64::from(entry.at),
            length: u64::from(entry.length()),
            field: field(self.multi_part.then_some(self.part), &key.name()),
        }
    }
}

/// An attribute with its value and its place.
#[derive(Clone, Copy)]
pub struct Attribute<'a> {
    /// Number of the key.
    pub id: KeyId,
    /// Name and type.
    pub key: &'a Key,
    /// Where it stands in the file.
    pub entry: &'a Entry,
    /// Bytes of the value.
    pub value: &'a [u8],
    /// In which file and part.
    pub spot: Spot,
}

/// What is known about an attribute of this take.
#[derive(Default)]
struct Slot {
    /// Whether the file before has it.
    known: bool,
    /// File that had it last and was walked, counted from 1.
    file: u32,
    /// The same, known before it is applied.
    present: u32,
    /// Whether the text that it has there is hidden by a private attribute.
    hidden: bool,
    /// Part that had it last.
    part: usize,
    /// Its value there.
    raw: Vec<u8>,
    /// Columns of its numbers.
    numbers: Vec<usize>,
    /// Column of its text.
    text: Option<usize>,
    /// Whether a private attribute takes its place.
    shadowed: bool,
    /// What is wrong with this value.
    remark: Option<RemarkId>,
}

/// A take while it is read.
pub struct TakeReader {
    /// Index among the takes.
    index: u32,
    /// View of the parts that belong to it; empty without.
    pub view: Vec<u8>,
    /// Serial number of the lens in the first file.
    pub serial: Vec<u8>,
    /// File that the take starts in, counted from 0.
    pub start: u32,
    /// File that was walked last, counted from 1.
    file: u32,
    offset: u64,
    slots: Vec<Slot>,
    image_counter: Option<usize>,
    user_bits: Option<usize>,
    flags: Option<usize>,
    /// Attributes with the frame number and the file name of the take.
    own_frame: Option<KeyId>,
    own_file: Option<KeyId>,
    /// Frame rate of the file at hand.
    rate: Option<FrameRate>,
    /// What private attributes say.
    kept: kept::Kept,
    columns: Columns,
    lens_facts: Vec<Fact>,
    take_facts: Vec<Fact>,
}

impl TakeReader {
    /// A take that starts with the file `start`.
    pub fn new(index: u32, view: &[u8], serial: &[u8], start: u32) -> Self {
        TakeReader {
            index,
            view: view.to_vec(),
            serial: serial.to_vec(),
            start,
            file: 0,
            offset: 0,
            slots: Vec::new(),
            image_counter: None,
            user_bits: None,
            flags: None,
            own_frame: None,
            own_file: None,
            rate: None,
            kept: kept::Kept::default(),
            columns: Columns::new(),
            lens_facts: Vec::new(),
            take_facts: Vec::new(),
        }
    }

    /// The next attributes are from a part of `input` whose header is at `offset`.
    pub fn begin(&mut self, input: u32, offset: u32) {
        if self.file != input + 1 {
            self.file = input + 1;
            self.offset = u64::from(offset);
            self.rate = None;
            self.kept.begin();
        }
    }

    /// Looks at an attribute that decides what others mean, before [`TakeReader::apply`] gets all of them.
    pub fn foresee(&mut self, key: &Key, value: &[u8]) {
        match key.role {
            Some(Role::Rate("frame-rate")) if self.rate.is_none() => {
                self.rate = decode::frame_rate(value);
            }
            Some(Role::Private(Private::Columns)) => self.kept.describe(value),
            Some(Role::Private(Private::Value)) => self.kept.shadow(key.shown()),
            _ => {}
        }
    }

    /// Notes that the file at hand has an attribute, once it is known which ones others take the place of.
    pub fn mark(&mut self, id: KeyId, key: &Key) {
        let hidden = self.kept.is_shadowed(key);
        if hidden && key.role != Some(Role::Timecode) {
            return;
        }
        let id = id as usize;
        if id >= self.slots.len() {
            self.slots.resize_with(id + 1, Slot::default);
        }
        self.slots[id].present = self.file;
        self.slots[id].hidden = hidden;
    }

    /// Whether private attributes take the place of others in the file at hand.
    pub fn has_shadows(&self) -> bool {
        self.kept.has_shadows()
    }

    /// Whether a part of `input` belongs to this take.
    pub fn is_in(&self, input: u32) -> bool {
        self.file == input + 1
    }

    /// Takes an attribute; whether something is wrong with it.
    pub fn apply(&mut self, attribute: Attribute<'_>, remarks: &mut Remarks) -> bool {
        let id = attribute.id as usize;
        if id >= self.slots.len() {
            self.slots.resize_with(id + 1, Slot::default);
        }
        let shadowed = self.kept.is_shadowed(attribute.key);
        if shadowed && attribute.key.role != Some(Role::Timecode) {
            return false;
        }
        let slot = &mut self.slots[id];
        let spot = attribute.spot;
        if slot.file == self.file && slot.part != spot.part {
            // An earlier part of this view has it too, and counts.
            if slot.raw != attribute.value {
                let first = std::mem::take(&mut slot.raw);
                self.disagree(attribute, &first, remarks);
                self.slots[id].raw = first;
            }
            return false;
        }
        let known = std::mem::replace(&mut slot.known, true);
        slot.file = self.file;
        slot.part = spot.part;
        let same = std::mem::replace(&mut slot.shadowed, shadowed) == shadowed;
        if known && same && slot.raw == attribute.value {
            if let Some(remark) = slot.remark {
                remarks.again(remark, spot.input);
            }
            return slot.remark.is_some();
        }
        let before = std::mem::take(&mut slot.raw);
        let remark = self.decode(attribute, known.then_some(before.as_slice()), remarks);
        let slot = &mut self.slots[id];
        slot.remark = remark;
        slot.raw = before;
        slot.raw.clear();
        slot.raw.extend_from_slice(attribute.value);
        remark.is_some()
    }

    /// Attributes that the file before has and `input` has not: all that it has is marked.
    pub fn forget_missing(&mut self, input: u32, keys: &Keys, remarks: &mut Remarks) {
        for (id, slot) in self.slots.iter_mut().enumerate() {
            if !slot.known || slot.present == self.file {
                continue;
            }
            slot.known = false;
            slot.remark = None;
            for &column in &slot.numbers {
                self.columns.set_number(column, f64::NAN);
            }
            if let Some(column) = slot.text {
                self.columns.set_no_text(column);
            }
            let key = keys.get(id as KeyId);
            if !key.role.is_some_and(Role::is_fact) {
                continue;
            }
            remarks.report(&remarks::ATTRIBUTE_CHANGES, id as KeyId, input, || {
                let place = Place {
                    input,
                    offset: self.offset,
                    length: 0,
                    field: field(None, &key.name()),
                };
                let name = key.name();
                (format!("{name} is missing, the file before has it"), place)
            });
        }
    }

    /// The column for numbers of an attribute. One name may have several types in a sequence: they
    /// share a column, unless one file has both.
    fn number_column(&mut self, channel: &str, kind: &str, unit: &str, reference: &str) -> usize {
        let known = self.columns.number_called(channel, unit, reference);
        let free = |column: &usize| {
            let mut present = self.slots.iter().filter(|slot| slot.present == self.file);
            present.all(|slot| !slot.numbers.contains(column))
        };
        match known.filter(free) {
            Some(column) => column,
            None => self.columns.add_number(channel, kind, unit, reference),
        }
    }

    /// The same for its text.
    fn text_column(&mut self, channel: &str, kind: &str, form: &str) -> usize {
        let known = self.columns.text_called(channel, form);
        let free = |column: &usize| {
            let mut present = self.slots.iter().filter(|slot| slot.present == self.file);
            present.all(|slot| slot.hidden || slot.text != Some(*column))
        };
        match known.filter(free) {
            Some(column) => column,
            None => self.columns.add_text(channel, kind, form),
        }
    }

    fn disagree(&self, attribute: Attribute<'_>, first: &[u8], remarks: &mut Remarks) {
        let Attribute { id, key, .. } = attribute;
        remarks.report(&remarks::PARTS_DISAGREE, id, attribute.spot.input, || {
            let message = format!(
                "{} is {}, an earlier part of this view has {}",
                key.name(),
                describe(key.kind, attribute.value),
                describe(key.kind, first)
            );
            (message, attribute.spot.place(key, attribute.entry))
        });
    }

    /// Ends the file: one more frame.
    pub fn end(&mut self, file_name: &str, input: u32) {
        if self.columns.is_unused() {
            self.name_clip(file_name);
        }
        let own = |id: Option<KeyId>| self.slots.get(id? as usize).filter(|slot| slot.known);
        let frame = match (own(self.own_frame), name::frame_number(file_name)) {
            (Some(slot), _) => decode::double(&slot.raw),
            (None, Some(number)) => Some(number as f64),
            (None, None) => self
                .image_counter
                .and_then(|column| self.columns.number(column)),
        };
        let file = own(self.own_file).map(|slot| String::from_utf8_lossy(&slot.raw).into_owned());
        self.columns.push(&Origin {
            file: file.as_deref().unwrap_or(file_name),
            input,
            offset: self.offset,
            frame,
        });
    }

    fn name_clip(&mut self, file_name: &str) {
        let view = String::from_utf8_lossy(&self.view).into_owned();
        let clip = name::clip_of_view(file_name, &view);
        if !view.is_empty() {
            self.take_facts.push(fact(private::VIEW, view, None));
        }
        if !clip.is_empty() {
            self.take_facts.push(fact("clip", clip, None));
        }
    }

    /// Lenses and the take, after the first frame. `first` is the index that the first lens gets.
    pub fn announce(&mut self, first: u32) -> (Vec<Item>, Item) {
        let own = std::mem::take(&mut self.lens_facts);
        let mut facts = std::mem::take(&mut self.take_facts);
        let (lenses, lens) = self.kept.announce(own, &mut facts);
        let take = Item::Take(Take {
            lens: lens.map(|lens| first + lens),
            facts,
        });
        (lenses, take)
    }

    /// Whether a batch should be handed out.
    pub fn is_full(&self) -> bool {
        self.columns.is_full()
    }

    /// The frames that were not handed out yet.
    pub fn flush(&mut self) -> Option<Frames> {
        self.columns.flush(self.index)
    }
}
