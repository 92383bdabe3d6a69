//! Facts of the take among the parameters of its segments.

use ringmark_sdk::{Column, Datum, Fact};

use super::Take;
use crate::fields;
use crate::parameter::FACT_COLUMN;
use crate::remarks::{Severity, Spot};

impl Take {
    /// Takes the columns out that hold facts of the take. What changes within the take is an extra.
    pub(super) fn facts(&mut self, columns: &mut Vec<Column>) -> Vec<Fact> {
        let mut facts = Vec::new();
        let (own, mut others): (Vec<_>, Vec<_>) = std::mem::take(columns)
            .into_iter()
            .partition(|column| column.channel.starts_with(FACT_COLUMN));
        for mut column in own {
            let name = column.channel.trim_start_matches(FACT_COLUMN).to_owned();
            let known = self.known_fact(&name, &column);
            let fact = match known {
                Some(value) => value,
                None if self.common.statics.sealed() => f64::NAN,
                None => {
                    let value = column.values.iter().copied().find(|v| !v.is_nan());
                    let Some(value) = value else { continue };
                    let fact = Fact {
                        name: name.clone(),
                        value: Datum::Number(value),
                        unit: column.unit.clone(),
                        at: None,
                    };
                    self.common.statics.remember(&fact);
                    facts.push(fact);
                    value
                }
            };
            for value in &mut column.values {
                if *value == fact {
                    *value = f64::NAN;
                }
            }
            if column.values.iter().all(|v| v.is_nan()) {
                continue;
            }
            self.common.remarks.add(
                Severity::Warning,
                "fact-changes",
                &name,
                || format!("{name} changes within the take; the first value is the take's"),
                "the others were kept as an extra of their frames",
                &Spot::default(),
            );
            let parameter = fields::of_fact(&name).map_or("", |field| field.parameter);
            column.channel = format!("extra/{parameter}");
            match others.iter_mut().find(|c| c.channel == column.channel) {
                Some(other) => {
                    for (value, late) in other.values.iter_mut().zip(column.values) {
                        if value.is_nan() {
                            *value = late;
                        }
                    }
                }
                None => others.push(column),
            }
        }
        *columns = others;
        facts
    }

    /// The value that the take has for a fact, if it is in the unit of `column`.
    fn known_fact(&self, name: &str, column: &Column) -> Option<f64> {
        let fact = self.common.statics.remembered(name)?;
        match fact.value {
            Datum::Number(number) if fact.unit == column.unit => Some(number),
            _ => None,
        }
    }
}
