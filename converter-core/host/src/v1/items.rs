//! Items of contract 1.x to and from the program's own. Columns are moved, not copied.

use ringmark_model::raw;

use super::types;

/// `From` in both directions for records whose fields have the same names.
macro_rules! same_fields {
    ($($theirs:ident = $ours:ident { $($field:ident $(: $how:ident)?),* $(,)? })*) => {$(
        impl From<types::$theirs> for raw::$ours {
            fn from(from: types::$theirs) -> Self {
                raw::$ours { $($field: same_fields!(@ from.$field $(, $how)?)),* }
            }
        }
        impl From<raw::$ours> for types::$theirs {
            fn from(from: raw::$ours) -> Self {
                types::$theirs { $($field: same_fields!(@ from.$field $(, $how)?)),* }
            }
        }
    )*};
    (@ $value:expr) => { $value };
    (@ $value:expr, into) => { $value.into() };
    (@ $value:expr, each) => { $value.into_iter().map(Into::into).collect() };
    (@ $value:expr, maybe) => { $value.map(Into::into) };
}

same_fields! {
    Place = RawPlace { input, offset, length, field }
    Fact = RawFact { name, value: into, unit, at: maybe }
    Mark = RawMark { position, value, engraved, at: maybe }
    Ring = RawRing { axis, position_unit, value_unit, facts: each, marks: each }
    Table = RawTable { name, facts: each, columns: each }
    Lens = RawLens { facts: each, rings: each, tables: each }
    Take = RawTake { lens, facts: each }
    Column = RawColumn { channel, unit, reference, values }
    Labels = RawLabels { channel, form, text, ends, index }
    Frames = RawFrames { take, first, count, columns: each, labels: each, inputs, offsets }
    Remark = RawRemark { severity, check, message, help, at: maybe }
}

impl From<types::Datum> for raw::RawDatum {
    fn from(datum: types::Datum) -> Self {
        match datum {
            types::Datum::Number(number) => raw::RawDatum::Number(number),
            types::Datum::Text(text) => raw::RawDatum::Text(text),
        }
    }
}

impl From<raw::RawDatum> for types::Datum {
    fn from(datum: raw::RawDatum) -> Self {
        match datum {
            raw::RawDatum::Number(number) => types::Datum::Number(number),
            raw::RawDatum::Text(text) => types::Datum::Text(text),
        }
    }
}

impl From<types::Item> for raw::RawItem {
    fn from(item: types::Item) -> Self {
        match item {
            types::Item::Lens(lens) => raw::RawItem::Lens(lens.into()),
            types::Item::Take(take) => raw::RawItem::Take(take.into()),
            types::Item::Frames(frames) => raw::RawItem::Frames(frames.into()),
            types::Item::Remark(remark) => raw::RawItem::Remark(remark.into()),
        }
    }
}

impl From<raw::RawItem> for types::Item {
    fn from(item: raw::RawItem) -> Self {
        match item {
            raw::RawItem::Lens(lens) => types::Item::Lens(lens.into()),
            raw::RawItem::Take(take) => types::Item::Take(take.into()),
            raw::RawItem::Frames(frames) => types::Item::Frames(frames.into()),
            raw::RawItem::Remark(remark) => types::Item::Remark(remark.into()),
        }
    }
}
