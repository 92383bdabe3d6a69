//! The items of a local set: a tag, a length, a value.

use crate::klv::{Key, number};

/// Bytes of tags and lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Coding {
    tag: usize,
    length: usize,
}

impl Coding {
    /// The coding that byte 6 of the key says. 43, 53 and 63 as an independent decoder reads
    /// them, 73 from memory of SMPTE ST 336.
    pub fn of(key: &Key) -> Option<Coding> {
        let (tag, length) = match key[5] {
            0x43 => (1, 2),
            0x53 => (2, 2),
            0x63 | 0x73 => (2, 4),
            _ => return None,
        };
        Some(Coding { tag, length })
    }
}

/// One item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Item<'a> {
    /// Its tag.
    pub tag: u16,
    /// Where it starts in the set's value.
    pub offset: usize,
    /// Its value.
    pub value: &'a [u8],
}

/// Why the items end before the set does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Defect {
    /// So many bytes are left, too few for a tag and a length.
    Stray {
        /// Where they start.
        offset: usize,
        /// How many there are.
        count: usize,
    },
    /// The length of an item reaches past the set.
    Overrun {
        /// Where the item starts.
        offset: usize,
        /// Its tag.
        tag: u16,
        /// Its length.
        length: u64,
        /// Bytes that are left.
        left: usize,
    },
}

/// The items of a set, one by one.
pub struct Items<'a> {
    coding: Coding,
    value: &'a [u8],
    offset: usize,
}

impl<'a> Items<'a> {
    /// The items of a set with this value.
    pub fn new(coding: Coding, value: &'a [u8]) -> Self {
        Items {
            coding,
            value,
            offset: 0,
        }
    }
}

impl<'a> Iterator for Items<'a> {
    type Item = Result<Item<'a>, Defect>;

    fn next(&mut self) -> Option<Self::Item> {
        let offset = self.offset;
        let rest = self.value.get(offset..)?;
        if rest.is_empty() {
            return None;
        }
        let head = self.coding.tag + self.coding.length;
        // After a defect there is nothing to go on with.
        self.offset = self.value.len();
        let Some((head, rest)) = rest.split_at_checked(head) else {
            let count = rest.len();
            return Some(Err(Defect::Stray { offset, count }));
        };
        let (tag, length) = head.split_at(self.coding.tag);
        let (tag, length) = (number(tag) as u16, number(length));
        let value = usize::try_from(length).ok().and_then(|l| rest.get(..l));
        let Some(value) = value else {
            return Some(Err(Defect::Overrun {
                offset,
                tag,
                length,
                left: rest.len(),
            }));
        };
        self.offset = offset + head.len() + value.len();
        Some(Ok(Item { tag, offset, value }))
    }
}

/// Appends an item of two-byte tag and length. `false` if the value is too long for that.
pub fn push(out: &mut Vec<u8>, tag: u16, value: &[u8]) -> bool {
    let Ok(length) = u16::try_from(value.len()) else {
        return false;
    };
    out.extend_from_slice(&tag.to_be_bytes());
    out.extend_from_slice(&length.to_be_bytes());
    out.extend_from_slice(value);
    true
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn items(coding: u8, value: &[u8]) -> Vec<Result<(u16, Vec<u8>), Defect>> {
        let mut key = crate::keys::LENS;
        key[5] = coding;
        Items::new(Coding::of(&key).unwrap(), value)
            .map(|item| item.map(|item| (item.tag, item.value.to_vec())))
            .collect()
    }

    #[test]
    fn the_codings_read_alike() {
        let expected = vec![Ok((0x80, vec![7, 8])), Ok((1, vec![]))];
        assert_eq!(items(0x43, &[0x80, 0, 2, 7, 8, 1, 0, 0]), expected);
        assert_eq!(items(0x53, &[0, 0x80, 0, 2, 7, 8, 0, 1, 0, 0]), expected);
        assert_eq!(
            items(0x63, &[0, 0x80, 0, 0, 0, 2, 7, 8, 0, 1, 0, 0, 0, 0]),
            expected
        );
    }

    #[test]
    fn damage_ends_the_set() {
        assert_eq!(
            items(0x53, &[0x80, 1, 1, 0x90, 9, 9]),
            [Err(Defect::Overrun {
                offset: 0,
                tag: 0x8001,
                length: 400,
                left: 2
            })]
        );
        let cut = items(0x53, &[0x80, 1, 0, 1, 9, 1, 2, 3]);
        assert_eq!(
            cut[1],
            Err(Defect::Stray {
                offset: 5,
                count: 3
            })
        );
        assert_eq!(cut.len(), 2);
    }
}
