//! Compares a header with that of the file before: in a sequence nearly all bytes are equal.

use crate::attribute::Kind;
use crate::fields::{Private, Role};
use crate::header::Header;
use crate::keys::Keys;

/// Whether `now` has the attributes of `before` in the same places, so that no walk is needed.
/// `changed` then holds the indices of the attributes whose values differ and matter.
/// `header` describes `before`.
pub fn same_layout(
    before: &[u8],
    now: &[u8],
    header: &Header,
    keys: &Keys,
    changed: &mut Vec<usize>,
) -> bool {
    changed.clear();
    let (Some(before), Some(now)) = (before.get(..header.length), now.get(..header.length)) else {
        return false;
    };
    let mut entries = header.entries.iter().enumerate();
    let mut at = 0;
    while let Some(difference) = first_difference(before, now, at) {
        let hit = entries.find(|(_, entry)| (entry.value + entry.size) as usize > difference);
        let Some((index, entry)) = hit else {
            return false;
        };
        if difference < entry.value as usize {
            // A name, type or size, or the end of a header.
            return false;
        }
        let key = keys.get(entry.key);
        match key.role {
            Some(Role::Structural) => {}
            // These decide what else must be there, where it belongs and what it means.
            Some(
                Role::View
                | Role::PartName
                | Role::PartType
                | Role::Rate(_)
                | Role::Private(Private::Columns),
            ) => return false,
            // Has inner lengths.
            _ if key.kind == Kind::TextVector => return false,
            _ => changed.push(index),
        }
        at = (entry.value + entry.size) as usize;
    }
    true
}

/// Offset of the first byte from `at` on in which two slices of one length differ.
fn first_difference(a: &[u8], b: &[u8], at: usize) -> Option<usize> {
    let (rest_a, rest_b) = (a.get(at..)?, b.get(at..)?);
    let (words_a, tail_a) = rest_a.as_chunks::<8>();
    let (words_b, tail_b) = rest_b.as_chunks::<8>();
    let words = words_a.iter().zip(words_b);
    let word = words
        .map(|(a, b)| u64::from_le_bytes(*a) ^ u64::from_le_bytes(*b))
        .enumerate()
        .find(|&(_, bits)| bits != 0);
    if let Some((index, bits)) = word {
        return Some(at + 8 * index + bits.trailing_zeros() as usize / 8);
    }
    let tail = tail_a.iter().zip(tail_b).position(|(a, b)| a != b)?;
    Some(at + 8 * words_a.len() + tail)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_difference_is_found_at_every_place() {
        let a = [7u8; 27];
        for place in 0..a.len() {
            let mut b = a;
            b[place] = 8;
            for at in 0..=a.len() {
                let expected = (at <= place).then_some(place);
                assert_eq!(first_difference(&a, &b, at), expected);
            }
        }
        assert_eq!(first_difference(&a, &a, 0), None);
    }
}
