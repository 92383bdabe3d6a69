//! Facts of a plugin to typed fields.

use ringmark_model::facts::{FactKind, Owner, fact_info};
use ringmark_model::raw::{EXTRA, RawDatum, RawFact};
use ringmark_model::{Extra, ExtraValue, Finding, Place, Severity, Subject, TextForm};
use ringmark_quantity::{FrameRate, QuantityError};

use crate::error::NormaliseError;
use crate::units;

/// A fact in the canonical unit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value {
    Number(f64),
    Text(String),
    Rate(FrameRate),
}

/// A known fact.
pub(crate) struct Known {
    pub name: &'static str,
    pub value: Value,
    pub place: Option<Place>,
}

/// A fact is known, or an extra.
pub(crate) enum Sorted {
    Known(Known),
    Extra(Extra),
    /// Not recorded (NaN), or a remark was made about it.
    Nothing,
}

/// What goes wrong with single values on the way: the file is at fault, reading goes on.
#[derive(Default)]
pub(crate) struct Remarks(pub Vec<Finding>);

impl Remarks {
    /// Notes a value that cannot be.
    pub fn value(&mut self, name: &str, error: &QuantityError, place: Option<Place>, on: Subject) {
        self.0.push(
            Finding::new(
                "value-impossible",
                Severity::Error,
                on,
                format!("{name}: {error}"),
            )
            .at(place)
            .help(error.help().to_owned()),
        );
    }

    /// Notes a text that should be one of a few.
    pub fn word(
        &mut self,
        name: &str,
        text: &str,
        allowed: &str,
        place: Option<Place>,
        on: Subject,
    ) {
        self.0.push(
            Finding::new(
                "value-impossible",
                Severity::Error,
                on,
                format!("{name} is '{text}'"),
            )
            .at(place)
            .help(format!("write {allowed}")),
        );
    }

    /// The value, or `None` and a remark.
    pub fn check<T>(
        &mut self,
        name: &str,
        result: Result<T, QuantityError>,
        place: Option<&Place>,
        on: &Subject,
    ) -> Option<T> {
        result
            .map_err(|error| self.value(name, &error, place.cloned(), on.clone()))
            .ok()
    }
}

/// Sorts one fact of `owner` and brings it into the canonical unit.
pub(crate) fn sort(
    fact: RawFact,
    owner: Owner,
    on: &Subject,
    remarks: &mut Remarks,
) -> Result<Sorted, NormaliseError> {
    let place = fact.at.map(Place::from);
    if let Some(name) = fact.name.strip_prefix(EXTRA) {
        let value = match fact.value {
            RawDatum::Number(number) => ExtraValue::Number(number, fact.unit),
            // The unit of a text says how to read it.
            RawDatum::Text(text) => ExtraValue::Text(
                TextForm::from_name(&fact.unit).unwrap_or(TextForm::Text),
                text,
            ),
        };
        return Ok(Sorted::Extra(Extra {
            name: name.to_owned(),
            value,
        }));
    }
    let info = fact_info(&fact.name)
        .filter(|info| info.owner == owner)
        .ok_or_else(|| {
            NormaliseError::new(
                format!("the plugin delivered the fact '{}', which has no place here", fact.name),
                format!("a fact outside the registry is called '{EXTRA}{}'", fact.name),
            )
            .at(place.clone())
        })?;
    let wrong_type = |wanted: &str| {
        NormaliseError::new(
            format!("the fact '{}' is no {wanted}", info.name),
            "report this to the author of the plugin",
        )
        .at(place.clone())
    };
    let value = match (info.kind, fact.value) {
        (FactKind::Text, RawDatum::Text(text)) => Value::Text(text),
        (FactKind::Rate, RawDatum::Text(text)) => {
            match remarks.check(info.name, FrameRate::parse(&text), place.as_ref(), on) {
                Some(rate) => Value::Rate(rate),
                None => return Ok(Sorted::Nothing),
            }
        }
        (FactKind::Number(canonical), RawDatum::Number(number)) => {
            if number.is_nan() {
                return Ok(Sorted::Nothing);
            }
            // Encoder limits stay in the unit of the raw positions, counts or degrees.
            if info.name.contains("encoder-") {
                Value::Number(number)
            } else {
                let unit = units::unit(&fact.unit, canonical, info.name)
                    .map_err(|e| e.at(place.clone()))?;
                let conversion = units::conversion(unit, canonical, info.name)
                    .map_err(|e| e.at(place.clone()))?;
                Value::Number(conversion.apply(number))
            }
        }
        (FactKind::Text, RawDatum::Number(_)) => return Err(wrong_type("text")),
        (FactKind::Rate, RawDatum::Number(_)) => return Err(wrong_type("rate written as text")),
        (FactKind::Number(_), RawDatum::Text(_)) => return Err(wrong_type("number")),
    };
    Ok(Sorted::Known(Known {
        name: info.name,
        value,
        place,
    }))
}
