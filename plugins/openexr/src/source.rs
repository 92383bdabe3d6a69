//! Fetches the header bytes of a file, and no more than these.

use ringmark_sdk::{Failure, Input, Place, failure};

use crate::defect::{Defect, Halt};
use crate::header::{Header, MOST_BYTES, NamesSeen, Part, walk};
use crate::keys::Keys;
use crate::same::same_layout;

/// Bytes of the first read of a sequence, and the step in which reads grow.
const PAGE: u64 = 4096;

/// Reads headers; remembers what the file before looked like.
#[derive(Default)]
pub struct HeaderSource {
    /// Names and types met so far.
    pub keys: Keys,
    names: NamesSeen,
    /// Bytes of the longest header so far.
    longest: u64,
    before: Header,
    /// The header read last.
    pub header: Header,
    /// Its bytes, perhaps with some that follow.
    pub bytes: Vec<u8>,
    /// Attributes whose values differ from the file before, if the layout does not.
    pub changed: Vec<usize>,
}

impl HeaderSource {
    /// Reads the header of `input`, the file with this index. `false` if it was not walked, since it has the layout of the file
    /// before: then only the attributes in [`HeaderSource::changed`] are new. `walk_always` forbids that.
    pub fn read(
        &mut self,
        input: &dyn Input,
        index: u32,
        walk_always: bool,
    ) -> Result<bool, Failure> {
        // One read is enough if the header is no longer than those before. It asks for no byte more:
        // at the end of a short file a second one would be needed, to be sure of the end.
        let first = match self.header.length as u64 {
            0 => PAGE,
            before => before.max(self.longest.min(PAGE)),
        };
        let bytes = input.read(0, first as u32);
        let ended = (bytes.len() as u64) < first;
        let (header, keys, changed) = (&self.header, &self.keys, &mut self.changed);
        if !walk_always && same_layout(&self.bytes, &bytes, header, keys, changed) {
            self.bytes = bytes;
            return Ok(false);
        }
        self.bytes = self.walk(input, index, bytes, ended)?;
        self.longest = self.longest.max(self.header.length as u64);
        Ok(true)
    }

    /// Walks the header, fetching more of it as needed; gives its bytes.
    fn walk(
        &mut self,
        input: &dyn Input,
        index: u32,
        mut bytes: Vec<u8>,
        mut ended: bool,
    ) -> Result<Vec<u8>, Failure> {
        std::mem::swap(&mut self.before, &mut self.header);
        loop {
            let result = walk(
                &bytes,
                &mut self.keys,
                &mut self.names,
                &self.before,
                &mut self.header,
            );
            let (need, missing) = match result {
                Ok(()) => return Ok(bytes),
                Err(Halt::Damaged(defect)) => return Err(refuse(*defect, index)),
                Err(Halt::More { need, missing }) => (need, missing),
            };
            // A declared size is compared with the file before any memory is asked for.
            if ended || need > input.size() {
                return Err(refuse(*missing, index));
            }
            if need > MOST_BYTES {
                let message = format!("the header is larger than {} MiB", MOST_BYTES >> 20);
                let defect = Defect {
                    message,
                    help: "remove large attributes, or read another copy of the file",
                    ..*missing
                };
                return Err(refuse(defect, index));
            }
            let have = bytes.len() as u64;
            let wanted = whole_pages(need.max(2 * have)).min(MOST_BYTES) - have;
            let more = input.read(have, wanted as u32);
            ended = (more.len() as u64) < wanted;
            if more.is_empty() {
                return Err(refuse(*missing, index));
            }
            bytes.extend_from_slice(&more);
        }
    }

    /// The value in `part` of the attribute that `key` (`name NUL type NUL`) spells; empty if there is none.
    pub fn value_of(&self, part: &Part, key: &[u8]) -> &[u8] {
        let entries = self.header.entries.get(part.entries.clone());
        let mut entries = entries.unwrap_or_default().iter();
        let entry = entries.find(|entry| self.keys.get(entry.key).bytes() == key);
        entry
            .map(|entry| entry.value(&self.bytes))
            .unwrap_or_default()
    }
}

fn whole_pages(bytes: u64) -> u64 {
    bytes.next_multiple_of(PAGE)
}

fn refuse(defect: Defect, input: u32) -> Failure {
    let field = field(defect.part, &defect.attribute);
    let message = match field.as_str() {
        "" => defect.message,
        field => format!("{field}: {}", defect.message),
    };
    failure(
        message,
        defect.help,
        Some(Place {
            input,
            offset: defect.at,
            length: defect.length,
            field,
        }),
    )
}

/// The name of a place: `part 1, attribute focus`. Parts count from 0, as in the format; `None` in single-part files.
pub fn field(part: Option<usize>, attribute: &str) -> String {
    match (part, attribute) {
        (None, "") => String::new(),
        (None, name) => format!("attribute {name}"),
        (Some(part), "") => format!("part {part}"),
        (Some(part), name) => format!("part {part}, attribute {name}"),
    }
}
