//! Items of the SDK to and from those that the program works on, as the host does it for components.

use ringmark_model::raw;
use ringmark_sdk as sdk;

/// One function in each direction for records whose fields have the same names.
macro_rules! records {
    ($($theirs:ident = $ours:ident, $into:ident, $from:ident { $($field:ident $(: $how:ident $to:ident $back:ident)?),* $(,)? })*) => {$(
        fn $into(it: sdk::$theirs) -> raw::$ours {
            raw::$ours { $($field: records!(@ it.$field $(, $how $to)?)),* }
        }
        fn $from(it: raw::$ours) -> sdk::$theirs {
            sdk::$theirs { $($field: records!(@ it.$field $(, $how $back)?)),* }
        }
    )*};
    (@ $value:expr) => { $value };
    (@ $value:expr, one $f:ident) => { $f($value) };
    (@ $value:expr, each $f:ident) => { $value.into_iter().map($f).collect() };
    (@ $value:expr, maybe $f:ident) => { $value.map($f) };
}

records! {
    Place = RawPlace, place, to_place { input, offset, length, field }
    Fact = RawFact, fact, to_fact { name, value: one datum to_datum, unit, at: maybe place to_place }
    Mark = RawMark, mark, to_mark { position, value, engraved, at: maybe place to_place }
    Ring = RawRing, ring, to_ring { axis, position_unit, value_unit, facts: each fact to_fact, marks: each mark to_mark }
    Table = RawTable, table, to_table { name, facts: each fact to_fact, columns: each column to_column }
    Lens = RawLens, lens, to_lens { facts: each fact to_fact, rings: each ring to_ring, tables: each table to_table }
    Take = RawTake, take, to_take { lens, facts: each fact to_fact }
    Column = RawColumn, column, to_column { channel, unit, reference, values }
    Labels = RawLabels, labels, to_labels { channel, form, text, ends, index }
    Frames = RawFrames, frames, to_frames { take, first, count, columns: each column to_column, labels: each labels to_labels, inputs, offsets }
    Remark = RawRemark, remark, to_remark { severity, check, message, help, at: maybe place to_place }
}

fn datum(it: sdk::Datum) -> raw::RawDatum {
    match it {
        sdk::Datum::Number(number) => raw::RawDatum::Number(number),
        sdk::Datum::Text(text) => raw::RawDatum::Text(text),
    }
}

fn to_datum(it: raw::RawDatum) -> sdk::Datum {
    match it {
        raw::RawDatum::Number(number) => sdk::Datum::Number(number),
        raw::RawDatum::Text(text) => sdk::Datum::Text(text),
    }
}

/// What the program is given.
pub fn item(it: sdk::Item) -> raw::RawItem {
    match it {
        sdk::Item::Lens(it) => raw::RawItem::Lens(lens(it)),
        sdk::Item::Take(it) => raw::RawItem::Take(take(it)),
        sdk::Item::Frames(it) => raw::RawItem::Frames(frames(it)),
        sdk::Item::Remark(it) => raw::RawItem::Remark(remark(it)),
    }
}

/// What a writer is given.
pub fn to_item(it: raw::RawItem) -> sdk::Item {
    match it {
        raw::RawItem::Lens(it) => sdk::Item::Lens(to_lens(it)),
        raw::RawItem::Take(it) => sdk::Item::Take(to_take(it)),
        raw::RawItem::Frames(it) => sdk::Item::Frames(to_frames(it)),
        raw::RawItem::Remark(it) => sdk::Item::Remark(to_remark(it)),
    }
}
