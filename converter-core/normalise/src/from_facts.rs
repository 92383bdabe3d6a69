//! Facts of a plugin to typed fields.

use ringmark_model::facts::{FactKind, Owner, fact_info};
use ringmark_model::raw::{EXTRA, RawDatum, RawFact};
use ringmark_model::{Extra, ExtraValue, Finding, Place, Severity, Subject, TextForm};
use ringmark_quantity::{FrameRate, QuantityError, Unit};

use crate::error::NormaliseError;
use crate::units;

/// A fact in the canonical unit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value {
    Number(f64),
    /// An encoder position as it stands, with its unit if the plugin said it: counts or degrees.
    Raw(f64, Option<Unit>),
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
    fn add(&mut self, message: String, help: String, place: Option<&Place>, on: &Subject) {
        self.0.push(
            Finding::new("value-impossible", Severity::Error, on.clone(), message)
                .at(place.cloned())
                .help(help),
        );
    }

    /// Notes a text that should be one of a few.
    pub fn word(
        &mut self,
        name: &str,
        text: &str,
        allowed: &str,
        place: Option<&Place>,
        on: &Subject,
    ) {
        self.add(
            format!("{name} is '{text}'"),
            format!("write {allowed}"),
            place,
            on,
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
            .map_err(|error| {
                let message = format!("{name}: {}", without_help(&error));
                self.add(message, error.help().to_owned(), place, on);
            })
            .ok()
    }

    /// The number if `possible`, else `None` and a remark that says what was `expected`.
    fn number(
        &mut self,
        name: &str,
        (number, unit): (f64, Unit),
        possible: bool,
        expected: &str,
        place: Option<&Place>,
        on: &Subject,
    ) -> Option<f64> {
        if possible {
            return Some(number);
        }
        let found = format!("{number} {}", unit.symbol());
        self.add(
            format!("{name} is {}: expected {expected}", found.trim_end()),
            "leave out what is not recorded".to_owned(),
            place,
            on,
        );
        None
    }

    /// The number if it is above zero and finite, else `None` and a remark.
    pub fn above_zero(
        &mut self,
        name: &str,
        number: (f64, Unit),
        place: Option<&Place>,
        on: &Subject,
    ) -> Option<f64> {
        let possible = number.0 > 0.0 && number.0.is_finite();
        self.number(name, number, possible, "a number above 0", place, on)
    }

    /// The number if it is one of pixels, else `None` and a remark.
    pub fn pixels(
        &mut self,
        name: &str,
        pixels: f64,
        place: Option<&Place>,
        on: &Subject,
    ) -> Option<u32> {
        let possible = (1.0..=f64::from(u32::MAX)).contains(&pixels) && pixels.fract() == 0.0;
        let expected = "a whole number of pixels above 0";
        self.number(name, (pixels, Unit::One), possible, expected, place, on)
            .map(|pixels| pixels as u32)
    }

    /// The number if it is finite, else `None` and a remark.
    pub fn finite(
        &mut self,
        name: &str,
        number: (f64, Unit),
        place: Option<&Place>,
        on: &Subject,
    ) -> Option<f64> {
        let possible = number.0.is_finite();
        self.number(name, number, possible, "a finite number", place, on)
    }
}

/// What is wrong, without what to do: that stands apart.
pub(crate) fn without_help(error: &QuantityError) -> String {
    let said = error.to_string();
    match said.strip_suffix(&format!("; {}", error.help())) {
        Some(short) => short.to_owned(),
        None => said,
    }
}

/// One half of a pair means nothing to the model, but is not thrown away.
pub(crate) fn half(a: (&str, Option<f64>), b: (&str, Option<f64>), unit: &str) -> Option<Extra> {
    match (a, b) {
        ((name, Some(number)), (_, None)) | ((_, None), (name, Some(number))) => Some(Extra {
            name: name.to_owned(),
            value: ExtraValue::Number(number, unit.to_owned()),
        }),
        _ => None,
    }
}

/// An extra of a ring or table, which have none of their own, as one of the lens.
pub(crate) fn extra_of(part: &str, extra: Extra) -> Extra {
    Extra {
        name: format!("{part}/{}", extra.name),
        ..extra
    }
}

/// Sorts one fact of `owner` and brings it into the canonical unit.
pub(crate) fn sort(
    fact: RawFact,
    owner: Owner,
    on: &Subject,
    remarks: &mut Remarks,
) -> Result<Sorted, NormaliseError> {
    if let Some(extra) = extra(&fact)? {
        return Ok(Sorted::Extra(extra));
    }
    let info = fact_info(&fact.name)
        .filter(|info| info.owner == owner)
        .ok_or_else(|| no_place(&fact))?;
    let place = fact.at.map(Place::from);
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
            let value = number_value(info.name, number, &fact.unit, canonical);
            match value.map_err(|e| e.at(place.clone()))? {
                Value::Raw(raw, unit) => {
                    let at = place.as_ref();
                    let shown = (raw, unit.unwrap_or(canonical));
                    match remarks.finite(info.name, shown, at, on) {
                        Some(raw) => Value::Raw(raw, unit),
                        None => return Ok(Sorted::Nothing),
                    }
                }
                value => value,
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

/// The fact as an extra, if it is one.
pub(crate) fn extra(fact: &RawFact) -> Result<Option<Extra>, NormaliseError> {
    let Some(name) = fact.name.strip_prefix(EXTRA) else {
        return Ok(None);
    };
    let value = match &fact.value {
        RawDatum::Number(number) => ExtraValue::Number(*number, fact.unit.clone()),
        RawDatum::Text(text) => {
            // The unit of a text says how to read it.
            let form = match fact.unit.as_str() {
                "" => TextForm::Text,
                form => text_form(form).map_err(|e| e.at(place_of(fact)))?,
            };
            ExtraValue::Text(form, text.clone())
        }
    };
    Ok(Some(Extra {
        name: name.to_owned(),
        value,
    }))
}

/// The error of a fact that stands where it does not belong.
pub(crate) fn no_place(fact: &RawFact) -> NormaliseError {
    let name = &fact.name;
    NormaliseError::new(
        format!("the plugin delivered the fact '{name}', which has no place here"),
        format!("a fact outside the registry is called '{EXTRA}{name}'"),
    )
    .at(place_of(fact))
}

fn place_of(fact: &RawFact) -> Option<Place> {
    fact.at.clone().map(Place::from)
}

/// A number in the canonical unit; encoder limits stay in that of the raw positions.
fn number_value(
    name: &str,
    number: f64,
    symbol: &str,
    canonical: Unit,
) -> Result<Value, NormaliseError> {
    if canonical != Unit::Count {
        let unit = units::unit(symbol, canonical, name)?;
        return Ok(Value::Number(
            units::conversion(unit, canonical, name)?.apply(number),
        ));
    }
    if symbol.is_empty() {
        return Ok(Value::Raw(number, None));
    }
    match units::unit(symbol, canonical, name)? {
        unit @ (Unit::Count | Unit::Degree) => Ok(Value::Raw(number, Some(unit))),
        other => Err(NormaliseError::new(
            format!("{name} is in {}", other.name()),
            "encoder limits are in count or deg, as the raw positions are",
        )),
    }
}

/// How to read a text.
pub(crate) fn text_form(name: &str) -> Result<TextForm, NormaliseError> {
    TextForm::from_name(name).ok_or_else(|| {
        NormaliseError::new(
            format!("the plugin delivered texts of the form '{name}'"),
            "text, json or hex",
        )
    })
}
