//! Which conversion leads from a stated unit to the canonical one.

use ringmark_quantity::{Conversion, Unit};

use crate::error::NormaliseError;

/// The unit behind a symbol. Pure numbers, stops and sensitivities need no symbol.
pub(crate) fn unit(symbol: &str, canonical: Unit, what: &str) -> Result<Unit, NormaliseError> {
    if symbol.is_empty() {
        return match canonical {
            Unit::One | Unit::TStop | Unit::FNumber | Unit::Iso => Ok(canonical),
            _ => Err(NormaliseError::new(
                format!("{what} has no unit"),
                format!(
                    "say it in the file or in a mapping; ringmark keeps it in {}",
                    canonical.symbol()
                ),
            )),
        };
    }
    Unit::from_symbol(symbol).ok_or_else(|| {
        NormaliseError::new(
            format!("{what} has the unit '{symbol}', which ringmark does not know"),
            match canonical {
                Unit::One => "it is a number without a unit: leave the unit out".to_owned(),
                _ => format!("{} would do", canonical.symbol()),
            },
        )
    })
}

/// The conversion from a stated unit to the canonical one.
pub(crate) fn conversion(from: Unit, to: Unit, what: &str) -> Result<Conversion, NormaliseError> {
    Conversion::between(from, to).map_err(|error| {
        NormaliseError::new(
            format!("{what}: {error}"),
            match to {
                Unit::One => "it is a number without a unit: leave the unit out".to_owned(),
                Unit::TStop | Unit::FNumber | Unit::Iso | Unit::Count => {
                    format!("give it in {}", to.symbol())
                }
                _ => format!("give it in {} or a unit of the same kind", to.symbol()),
            },
        )
    })
}
