//! What the tests of this crate share.

#![allow(clippy::unwrap_used, dead_code)]

use ringmark_fdl::ListReader;
use ringmark_sdk::native::read_all;
use ringmark_sdk::{Datum, Fact, Failure, Item, Remark};

/// All items of a list.
pub fn read(bytes: &[u8]) -> Result<Vec<Item>, Failure> {
    read_all::<ListReader>("list.fdl", bytes, "{}")
}

/// A file under `tests/data`.
pub fn data(name: &str) -> Vec<u8> {
    let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read(path).unwrap()
}

/// Facts of lenses and takes, in the order of the items.
pub fn facts(items: &[Item]) -> (Vec<&[Fact]>, Vec<&[Fact]>) {
    let (mut lenses, mut takes) = (Vec::new(), Vec::new());
    for item in items {
        match item {
            Item::Lens(lens) => lenses.push(&*lens.facts),
            Item::Take(take) => takes.push(&*take.facts),
            Item::Frames(_) | Item::Remark(_) => {}
        }
    }
    (lenses, takes)
}

/// `name value unit` of each fact.
pub fn shown(facts: &[Fact]) -> Vec<String> {
    let one = |fact: &Fact| {
        let value = match &fact.value {
            Datum::Number(number) => number.to_string(),
            Datum::Text(text) => format!("'{text}'"),
        };
        format!("{} {value} {}", fact.name, fact.unit)
            .trim_end()
            .to_owned()
    };
    facts.iter().map(one).collect()
}

/// The remarks.
pub fn remarks(items: &[Item]) -> Vec<&Remark> {
    let each = items.iter();
    each.filter_map(|item| match item {
        Item::Remark(remark) => Some(remark),
        _ => None,
    })
    .collect()
}
