//! The columns of a take while a batch is read.

use std::collections::HashMap;

use ringmark_sdk::batch::LabelColumn;
use ringmark_sdk::{Column, Labels};

use crate::fields::{
    EXTRA, FIELDS, FROM_FRONT_VERTEX, FROM_IMAGE_PLANE, RATE, SENSOR_FACTS, Unit, index_by_name,
};
use crate::private::Form;

/// Most columns that items of the standard do not fill: a take has a few.
pub const MOST_OWN: usize = 4096;

/// Name of the channel that two items share.
pub const FOCUS: &str = "focus-distance";

/// Texts, the current frame's apart: a private part may still replace it.
struct Texts {
    labels: LabelColumn,
    current: String,
    set: bool,
}

impl Texts {
    fn new(name: &str, form: &'static str) -> Self {
        Texts {
            labels: LabelColumn::with_form(name, form),
            current: String::new(),
            set: false,
        }
    }

    fn pad(&mut self, rows: usize) {
        while self.labels.len() < rows {
            self.labels.push_absent();
        }
    }
}

/// A column that no item of the standard fills.
enum Own {
    Numbers {
        name: String,
        unit: String,
        reference: String,
        values: Vec<f64>,
    },
    Texts {
        name: String,
        texts: Texts,
        /// The item that has the same name and form: its column takes the texts.
        item: Option<usize>,
    },
}

/// All columns of a take.
pub struct Columns {
    numbers: Vec<Vec<f64>>,
    texts: Vec<Option<Texts>>,
    own: Vec<Own>,
    by_name: HashMap<String, usize>,
    /// Texts that the current frame has: items, and indices of own columns behind them.
    touched: Vec<usize>,
    /// Items that had a number once: their columns go on.
    seen: Vec<bool>,
    text_bytes: usize,
}

/// How columns of a take are named. Each part stays as it is once it is known.
#[derive(Default)]
pub struct Naming {
    /// Whether `focus-distance` is the item measured from the front vertex.
    pub by_vertex: Option<bool>,
    /// What `focus-distance` is measured from.
    pub reference: Option<String>,
    /// Names that items seem to state and the source did not.
    pub hidden: Vec<String>,
    /// The sensor's size as facts, in micrometres, where there are such.
    pub sensor: [Option<f64>; 2],
}

impl Naming {
    /// Whether items seem to state `name` and the source did not.
    pub fn hides(&self, name: &str) -> bool {
        self.hidden.iter().any(|hidden| hidden == name)
    }
}

impl Default for Columns {
    fn default() -> Self {
        Columns {
            numbers: vec![Vec::new(); FIELDS.len()],
            texts: (0..FIELDS.len()).map(|_| None).collect(),
            own: Vec::new(),
            by_name: HashMap::new(),
            touched: Vec::new(),
            seen: vec![false; FIELDS.len()],
            text_bytes: 0,
        }
    }
}

impl Columns {
    /// Bytes of texts since the last batch, at most.
    pub fn text_bytes(&self) -> usize {
        self.text_bytes
    }

    /// Sets the number of an item.
    pub fn set_item(&mut self, field: usize, row: usize, value: f64) {
        set(&mut self.numbers[field], row, value);
    }

    /// Takes the number of an item back.
    pub fn clear_item(&mut self, field: usize, row: usize) {
        self.numbers[field].truncate(row);
        if let Some(texts) = &mut self.texts[field] {
            texts.set = false;
        }
    }

    /// Sets the text of an item.
    pub fn set_item_text(&mut self, field: usize, row: usize, text: &str) {
        let codec = FIELDS[field].codec;
        let texts =
            self.texts[field].get_or_insert_with(|| Texts::new(FIELDS[field].name, codec.form()));
        if !texts.set {
            self.touched.push(field);
        }
        keep(texts, row, text);
        self.text_bytes += text.len();
    }

    /// Columns that items of the standard do not fill.
    pub fn own(&self) -> usize {
        self.own.len()
    }

    /// The column that a private part declares, or that holds bytes as they stand; `None` if there
    /// are too many.
    pub fn declare(
        &mut self,
        name: &str,
        form: Form,
        unit: &str,
        reference: &str,
    ) -> Option<usize> {
        if let Some(&index) = self.by_name.get(name) {
            return Some(index);
        }
        let index = self.own.len();
        if index == MOST_OWN {
            return None;
        }
        self.own.push(match form {
            Form::Number => Own::Numbers {
                name: name.to_owned(),
                unit: unit.to_owned(),
                reference: reference.to_owned(),
                values: Vec::new(),
            },
            form => Own::Texts {
                name: name.to_owned(),
                texts: Texts::new(name, form.name()),
                item: index_by_name(name).filter(|field| {
                    let codec = FIELDS[*field].codec;
                    !codec.is_number() && codec.form() == form.name()
                }),
            },
        });
        self.by_name.insert(name.to_owned(), index);
        Some(index)
    }

    /// Sets a number of an own column.
    pub fn set_own(&mut self, column: usize, row: usize, value: f64) {
        if let Some(Own::Numbers { values, .. }) = self.own.get_mut(column) {
            set(values, row, value);
        }
    }

    /// Sets a text of an own column, or of the item of that name.
    pub fn set_own_text(&mut self, column: usize, row: usize, text: &str) {
        let Some(Own::Texts { texts, item, .. }) = self.own.get_mut(column) else {
            return;
        };
        if let Some(field) = *item {
            return self.set_item_text(field, row, text);
        }
        if !texts.set {
            self.touched.push(FIELDS.len() + column);
        }
        keep(texts, row, text);
        self.text_bytes += text.len();
    }

    /// Whether the current frame has bytes of this name.
    pub fn has_own_text(&self, name: &str) -> bool {
        let column = self.by_name.get(name).and_then(|c| self.own.get(*c));
        matches!(column, Some(Own::Texts { texts, .. }) if texts.set)
    }

    /// Ends the current frame.
    pub fn end_frame(&mut self) {
        for touched in self.touched.drain(..) {
            let texts = match touched.checked_sub(FIELDS.len()) {
                None => self.texts[touched].as_mut(),
                Some(own) => match self.own.get_mut(own) {
                    Some(Own::Texts { texts, .. }) => Some(texts),
                    _ => None,
                },
            };
            if let Some(texts) = texts
                && texts.set
            {
                texts.labels.push(&texts.current);
                texts.set = false;
            }
        }
    }

    /// Learns what `focus-distance` is: from what private parts say (`told`), else from the items of
    /// this batch.
    pub fn learn_focus(&self, naming: &mut Naming, told: Option<&str>) {
        if naming.by_vertex.is_none() {
            naming.by_vertex = if let Some(told) = told {
                Some(told == "front-vertex")
            } else if recorded(&self.numbers[FROM_IMAGE_PLANE]).is_some() {
                Some(false)
            } else {
                recorded(&self.numbers[FROM_FRONT_VERTEX]).map(|_| true)
            };
        }
        if naming.reference.is_none() {
            let declared = self.by_name.get(FOCUS).and_then(|own| self.own.get(*own));
            naming.reference = match (declared, told, naming.by_vertex) {
                (Some(Own::Numbers { reference, .. }), ..) => Some(reference.clone()),
                (_, Some(told), _) => Some(told.to_owned()),
                (.., Some(true)) => Some("front-vertex".to_owned()),
                (.., Some(false)) => Some("image-plane".to_owned()),
                (.., None) => None,
            };
        }
    }

    /// The sensor's size in the first frames that state it, in micrometres.
    pub fn sensor(&self) -> [Option<f64>; 2] {
        SENSOR_FACTS.map(|(field, ..)| recorded(&self.numbers[field]).map(micrometres))
    }

    /// The first row in which the sensor's size is not that of the fact.
    pub fn other_sensor(&self, naming: &Naming) -> Option<usize> {
        let facts = SENSOR_FACTS.iter().zip(&naming.sensor);
        facts
            .filter_map(|((field, ..), fact)| {
                let fact = (*fact)?;
                let other = |v: &f64| !v.is_nan() && micrometres(*v) != fact.round();
                self.numbers[*field].iter().position(other)
            })
            .min()
    }

    /// The columns of a batch of `count` frames; all are empty again.
    pub fn take(&mut self, count: usize, naming: &Naming) -> (Vec<Column>, Vec<Labels>) {
        self.text_bytes = 0;
        for ((field, ..), fact) in SENSOR_FACTS.iter().zip(&naming.sensor) {
            for value in &mut self.numbers[*field] {
                if fact.is_some_and(|fact| micrometres(*value) == fact.round()) {
                    *value = f64::NAN;
                }
            }
        }
        if naming.hides(FIELDS[RATE].name) {
            self.numbers[RATE].clear();
        }
        let (mut columns, mut labels) = (Vec::new(), Vec::new());
        for (index, values) in self.numbers.iter_mut().enumerate() {
            self.seen[index] |= recorded(values).is_some();
            let mut values = std::mem::take(values);
            if self.seen[index] {
                values.resize(count, f64::NAN);
                let (name, unit, reference) = head(index, naming);
                columns.push(Column {
                    channel: name.to_owned(),
                    unit: unit.to_owned(),
                    reference: reference.to_owned(),
                    values,
                });
            }
        }
        for texts in self.texts.iter_mut().flatten() {
            texts.pad(count);
            labels.push(texts.labels.take());
        }
        for own in &mut self.own {
            match own {
                Own::Numbers {
                    name,
                    unit,
                    reference,
                    values,
                } => {
                    values.resize(count, f64::NAN);
                    let own = Column {
                        channel: name.clone(),
                        unit: unit.clone(),
                        reference: reference.clone(),
                        values: std::mem::take(values),
                    };
                    labels.retain(|labels: &Labels| labels.channel != own.channel);
                    merge(&mut columns, own);
                }
                Own::Texts { name, texts, item } if item.is_none() => {
                    columns.retain(|column| column.channel != *name);
                    labels.retain(|labels| labels.channel != *name);
                    texts.pad(count);
                    labels.push(texts.labels.take());
                }
                Own::Texts { .. } => {}
            }
        }
        (columns, labels)
    }
}

fn micrometres(millimetres: f64) -> f64 {
    (millimetres * 1000.0).round()
}

/// Name, unit and reference of the column of an item.
fn head(field: usize, naming: &Naming) -> (&'static str, &'static str, &str) {
    let reference = naming.reference.as_deref().unwrap_or("image-plane");
    match (field, naming.by_vertex) {
        (FROM_IMAGE_PLANE, Some(true)) => ("extra/FocusPositionFromImagePlane", "", ""),
        (FROM_FRONT_VERTEX, Some(true)) | (FROM_IMAGE_PLANE, _) => (FOCUS, "m", reference),
        _ => (FIELDS[field].name, FIELDS[field].symbol, ""),
    }
}

fn set(values: &mut Vec<f64>, row: usize, value: f64) {
    values.resize(row, f64::NAN);
    values.push(value);
}

fn keep(texts: &mut Texts, row: usize, text: &str) {
    texts.pad(row);
    text.clone_into(&mut texts.current);
    texts.set = true;
}

/// The first value that is recorded.
fn recorded(values: &[f64]) -> Option<f64> {
    values.iter().copied().find(|value| !value.is_nan())
}

/// Adds a column of a private part; where an item has the same name, the private values count.
fn merge(columns: &mut Vec<Column>, own: Column) {
    match columns.iter_mut().find(|c| c.channel == own.channel) {
        Some(native) if native.unit == own.unit => {
            for (value, own) in native.values.iter_mut().zip(own.values) {
                if !own.is_nan() {
                    *value = own;
                }
            }
        }
        Some(native) => *native = own,
        None => columns.push(own),
    }
}

/// The extra that holds the bytes of an item as they stand.
pub fn item_extra(unit: Unit, tag: u16) -> String {
    format!("{EXTRA}{}.{tag:04X}", unit.name())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::batch::label_text;

    #[test]
    fn gaps_are_not_recorded_and_private_values_count() {
        let mut columns = Columns::default();
        let private = columns
            .declare("focus-distance", Form::Number, "m", "image-plane")
            .unwrap();
        let note = columns.declare("extra/note", Form::Text, "", "").unwrap();
        for row in 0..4 {
            if row == 1 {
                columns.set_item(FROM_IMAGE_PLANE, row, 2.0);
                columns.set_item_text(7, row, "lens");
                columns.set_own_text(note, row, "a");
            }
            if row == 2 {
                columns.set_own(private, row, f64::INFINITY);
            }
            columns.end_frame();
        }
        let (numbers, labels) = columns.take(4, &Naming::default());
        assert_eq!(numbers.len(), 1);
        assert!(numbers[0].values[0].is_nan() && numbers[0].values[3].is_nan());
        assert_eq!(numbers[0].values[1..3], [2.0, f64::INFINITY]);
        let texts = |labels: &Labels| {
            (0..4)
                .map(|r| label_text(labels, r).map(str::to_owned))
                .collect::<Vec<_>>()
        };
        assert_eq!(
            texts(&labels[0]),
            [None, Some("lens".to_owned()), None, None]
        );
        assert_eq!(texts(&labels[1]), [None, Some("a".to_owned()), None, None]);
        let (numbers, labels) = columns.take(2, &Naming::default());
        assert!(numbers[0].values.iter().all(|v| v.is_nan()));
        assert!(
            labels
                .iter()
                .all(|l| l.ends.is_empty() && l.index.len() == 2)
        );
    }

    #[test]
    fn the_front_vertex_is_the_reference_only_without_the_image_plane() {
        let mut columns = Columns::default();
        columns.set_item(FROM_FRONT_VERTEX, 0, 1.8);
        let mut naming = Naming::default();
        columns.learn_focus(&mut naming, None);
        assert_eq!(naming.reference.as_deref(), Some("front-vertex"));
        columns.set_item(FROM_IMAGE_PLANE, 1, 2.0);
        let mut naming = Naming::default();
        columns.learn_focus(&mut naming, None);
        let (numbers, _) = columns.take(2, &naming);
        let heads: Vec<_> = numbers
            .iter()
            .map(|c| (&*c.channel, &*c.unit, &*c.reference))
            .collect();
        assert_eq!(
            heads,
            [
                ("focus-distance", "m", "image-plane"),
                ("extra/FocusPositionFromFrontLensVertex", "", "")
            ]
        );
    }
}
