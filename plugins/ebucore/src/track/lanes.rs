//! From the tag of a parameter to its values over a segment.

use std::rc::Rc;

use ringmark_sdk::Failure;

use super::{Common, Stretch};
use crate::fields;
use crate::lane::{Interval, Lane};
use crate::pages::Pages;
use crate::parameter::Around;
use crate::remarks::{Remarks, Severity, Spot, shown};
use crate::tokens::Tokens;
use crate::units;
use crate::xml::Tag;

/// A parameter of a segment, before it is known what stands beside it.
pub(super) struct Found {
    pub name: String,
    pub tag: Tag,
}

/// The items of a parameter.
pub(super) fn tokens(pages: &Rc<Pages>, parameter: &str, tag: &Tag) -> Tokens {
    Tokens::new(pages, tag.inside, tag.empty, shown(parameter).into())
}

/// Name of a parameter; `None` and a remark if it has none.
pub fn parameter_name(tag: &Tag, remarks: &mut Remarks) -> Option<String> {
    let name = tag.attribute("name").filter(|name| !name.is_empty());
    if name.is_none() {
        remarks.add(
            Severity::Error,
            "name-missing",
            "",
            || "a parameter has no name; it was not read".to_owned(),
            "give it its name attribute",
            &tag.spot,
        );
    }
    name.map(str::to_owned)
}

/// Adds the values of a parameter to the segment.
pub(super) fn lane(
    found: Found,
    outer_unit: Option<&str>,
    around: &Around,
    stretch: &mut Stretch,
    common: &mut Common,
) -> Result<(), Failure> {
    let Found { name, tag } = found;
    let spot = Spot {
        field: format!("parameter {}", shown(&name)),
        ..tag.spot.clone()
    };
    let unit = tag.attribute("unit").or(outer_unit);
    if unit.is_some_and(units::is_of_interval) && fields::field(&name).is_some() {
        common.remarks.add(
            Severity::Note,
            "unit-of-interval",
            &name,
            || {
                format!(
                    "the unit of {} is of its interval; its values have the usual unit",
                    shown(&name)
                )
            },
            "",
            &spot,
        );
    }
    let target = common.parameters.target(
        &name,
        unit,
        around,
        &mut common.columns,
        &mut common.remarks,
        &spot,
    )?;
    let Some(target) = target else {
        return Ok(());
    };
    let interval = Interval::read(tag.attribute("interval"))
        .map_err(|why| spot.failure(why, "correct the interval attribute"))?;
    if stretch.end == stretch.start {
        return Ok(());
    }
    stretch.lanes.push(Lane::new(
        target,
        tokens(&common.pages, &name, &tag),
        interval,
        (stretch.end - stretch.start) as u64,
        spot,
        &mut common.remarks,
    ));
    Ok(())
}
