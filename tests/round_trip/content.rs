//! What a document says, item by item, so that two documents can be compared and each
//! difference be looked up in the loss reports.

use std::collections::BTreeMap;

use ringmark::formats::neutral_manifests;
use ringmark_model::raw::{EXTRA, RawDatum, RawFact, RawItem, RawRing};
use ringmark_model::{LossItem, LossKind, LossReport, Piece};
use ringmark_normalise::ForWriter;

/// What an item belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Owner {
    Lens,
    Take,
    Frames,
}

/// One value.
#[derive(Debug, Clone)]
enum Cell {
    NotRecorded,
    Number(f64),
    Text(String),
}

/// All values of one item, with its unit, form and reference.
#[derive(Debug, Clone)]
pub struct Content {
    said: String,
    cells: Vec<Cell>,
}

/// What a document says.
pub type Contents = BTreeMap<(Owner, String), Content>;

/// Values that pass through another unit on the way, where the last digits may change: the
/// entrance pupil is in m in OpenTrackIO, ring positions are per cent in EBUCore, focal lengths
/// in m and the shutter in minutes of arc in acquisition sets; an image circle is kept in m, marks
/// go back in the unit in which they were engraved.
const CONVERTED: [&str; 11] = [
    "entrance-pupil-offset",
    "focus-ring",
    "iris-ring",
    "zoom-ring",
    "nominal-focal-length",
    "equivalent-focal-length",
    "shutter-angle",
    "sensor-width",
    "sensor-height",
    "image-circle",
    "marks focus",
];

/// What the pieces of a document say. Places, order and how columns are cut into batches are
/// left out; so is what was not recorded, in a column as in a fact.
pub fn contents(pieces: &[Piece]) -> Contents {
    let manifests = neutral_manifests();
    let lines = manifests.iter().find(|m| m.name == "take.jsonl").unwrap();
    let mut items = ForWriter::new(lines);
    let mut contents = Contents::new();
    let mut frames = 0;
    for piece in pieces {
        match items.item(piece).unwrap() {
            Some(RawItem::Lens(lens)) => {
                facts(&mut contents, Owner::Lens, lens.facts);
                for ring in lens.rings {
                    marks(&mut contents, ring);
                }
            }
            Some(RawItem::Take(take)) => facts(&mut contents, Owner::Take, take.facts),
            Some(RawItem::Frames(batch)) => {
                for column in batch.columns {
                    let said = format!("{} {}", column.unit, column.reference);
                    let cells = column.values.iter().map(|v| number(*v));
                    add(&mut contents, column.channel, said, frames, cells);
                }
                for labels in batch.labels {
                    let cells: Vec<Cell> = labels
                        .index
                        .iter()
                        .map(|index| match labels.ends.get(*index as usize) {
                            None => Cell::NotRecorded,
                            Some(end) => {
                                let start = match index {
                                    0 => 0,
                                    i => labels.ends[*i as usize - 1],
                                };
                                Cell::Text(labels.text[start as usize..*end as usize].to_owned())
                            }
                        })
                        .collect();
                    add(&mut contents, labels.channel, labels.form, frames, cells);
                }
                frames += batch.count as usize;
            }
            Some(RawItem::Remark(_)) | None => {}
        }
    }
    // To say that it is not stated says nothing.
    contents.retain(|(_, name), content| {
        let unstated = matches!(&content.cells[0], Cell::Text(text) if text == "unstated");
        !(name == "close-focus-reference" && unstated)
    });
    contents.retain(|_, content| {
        content
            .cells
            .iter()
            .any(|c| !matches!(c, Cell::NotRecorded))
    });
    for content in contents.values_mut() {
        if content.cells.len() > 1 || frames > 1 {
            content
                .cells
                .resize(frames.max(content.cells.len()), Cell::NotRecorded);
        }
    }
    let count = Content {
        said: String::new(),
        cells: vec![Cell::Number(frames as f64)],
    };
    contents.insert((Owner::Take, "number of frames".to_owned()), count);
    contents
}

/// The marks of a ring, and what is said about it. What was engraved is left out where it is
/// the value itself.
fn marks(contents: &mut Contents, ring: RawRing) {
    let mut said = format!("{} {}", ring.position_unit, ring.value_unit);
    for fact in ring.facts {
        said += &format!(" {} {:?} {}", fact.name, fact.value, fact.unit);
    }
    let cells = ring
        .marks
        .iter()
        .flat_map(|mark| [number(mark.position), number(mark.value)]);
    let content = Content {
        said,
        cells: cells.collect(),
    };
    contents.insert((Owner::Lens, format!("marks {}", ring.axis)), content);
}

fn number(value: f64) -> Cell {
    if value.is_nan() {
        Cell::NotRecorded
    } else {
        // The neutral form has one zero.
        Cell::Number(value + 0.0)
    }
}

fn facts(contents: &mut Contents, owner: Owner, facts: Vec<RawFact>) {
    for fact in facts {
        let cell = match fact.value {
            RawDatum::Number(value) => number(value),
            RawDatum::Text(text) => Cell::Text(text),
        };
        let content = Content {
            said: fact.unit,
            cells: vec![cell],
        };
        let twice = contents.insert((owner, fact.name.clone()), content);
        assert!(twice.is_none(), "{} stands twice", fact.name);
    }
}

fn add(
    contents: &mut Contents,
    channel: String,
    said: String,
    before: usize,
    cells: impl IntoIterator<Item = Cell>,
) {
    let content = contents
        .entry((Owner::Frames, channel))
        .or_insert_with(|| Content {
            said: said.clone(),
            cells: Vec::new(),
        });
    assert_eq!(content.said, said, "a column changes what it is");
    content.cells.resize(before, Cell::NotRecorded);
    content.cells.extend(cells);
}

/// Units in the last place between two numbers.
fn ulps(a: f64, b: f64) -> u64 {
    let ordered = |v: f64| {
        let bits = v.to_bits() as i64;
        if bits < 0 { i64::MIN - bits } else { bits }
    };
    ordered(a).abs_diff(ordered(b))
}

fn same(name: &str, a: &Cell, b: &Cell) -> bool {
    match (a, b) {
        (Cell::NotRecorded, Cell::NotRecorded) => true,
        (Cell::Text(a), Cell::Text(b)) => a == b,
        (Cell::Number(a), Cell::Number(b)) => {
            let allowed = if CONVERTED.contains(&name) { 2 } else { 0 };
            a == b || ulps(*a, *b) <= allowed
        }
        _ => false,
    }
}

/// What of `before` is not in `after` and is named by none of the loss reports.
pub fn unaccounted(before: &Contents, after: &Contents, reports: &[&LossReport]) -> Vec<String> {
    let named = |name: &str| {
        let item = match name.strip_prefix(EXTRA) {
            Some(extra) => vec![LossItem::Extra(extra.to_owned())],
            None => vec![
                LossItem::Channel(name.to_owned()),
                LossItem::Fact(name.to_owned()),
            ],
        };
        reports
            .iter()
            .flat_map(|report| &report.entries)
            // What is put aside reads back: it is no excuse.
            .any(|loss| loss.kind != LossKind::Aside && item.contains(&loss.what))
    };
    let mut missing = Vec::new();
    for ((owner, name), was) in before {
        if named(name) {
            continue;
        }
        let is = after.get(&(*owner, name.clone()));
        let kept = is.is_some_and(|is| {
            is.said == was.said
                && is.cells.len() == was.cells.len()
                && is
                    .cells
                    .iter()
                    .zip(&was.cells)
                    .all(|(a, b)| same(name, a, b))
        });
        if !kept {
            missing.push(format!("{owner:?} {name}: was {was:?}, is {is:?}"));
        }
    }
    missing
}
