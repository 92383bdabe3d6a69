//! What the head of a column must say; the same for writing and reading.

use crate::batch::{ColumnHead, ColumnKey, TextForm};

/// Why a head does not fit the registry; `None` if it does.
pub(super) fn head_fault(head: &ColumnHead, is_text: bool) -> Option<String> {
    let name = head.key.name();
    let said = |word: &str| match is_text {
        true => format!("`{name}` holds texts, but {word}"),
        false => format!("`{name}` holds numbers, but {word}"),
    };
    let ColumnKey::Channel(channel) = head.key else {
        return match (is_text, head.form) {
            (true, None) => Some(said("its form is not stated")),
            (false, Some(form)) => Some(said(&format!("its form is `{}`", form.name()))),
            _ => None,
        };
    };
    if channel.is_text() != is_text {
        return Some(said("the channel does not"));
    }
    let form = is_text.then_some(TextForm::Text);
    if head.form != form {
        return Some(match head.form {
            Some(found) => said(&format!("its form is `{}`", found.name())),
            None => said("its form is not stated"),
        });
    }
    let unit = channel.unit().map_or("", |unit| unit.symbol());
    if head.unit != unit {
        return Some(match (head.unit.as_str(), unit) {
            ("", unit) => format!("`{name}` has no unit; it is always in `{unit}`"),
            (found, "") => format!("`{name}` is in `{found}`; it has no unit"),
            (found, unit) => format!("`{name}` is in `{found}`; it is always in `{unit}`"),
        });
    }
    match (channel.is_distance(), head.reference) {
        (true, None) => Some(format!("`{name}` does not say what it is measured from")),
        (false, Some(_)) => Some(format!(
            "`{name}` is no distance, but says what it is measured from"
        )),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::batch::Origin;
    use crate::channel::Channel;
    use ringmark_quantity::DistanceReference;

    fn head(channel: Channel, unit: &str, reference: Option<DistanceReference>) -> ColumnHead {
        ColumnHead {
            key: ColumnKey::Channel(channel),
            unit: unit.to_owned(),
            reference,
            origin: Origin::Recorded,
            source_unit: None,
            form: channel.is_text().then_some(TextForm::Text),
        }
    }

    #[test]
    fn heads_must_fit_the_registry() {
        let plane = Some(DistanceReference::ImagePlane);
        for (head, is_text, expected) in [
            (head(Channel::FocusDistance, "m", plane), false, None),
            (head(Channel::Frame, "", None), false, None),
            (head(Channel::Timecode, "", None), true, None),
            (
                head(Channel::FocusDistance, "ft", plane),
                false,
                Some("always in `m`"),
            ),
            (
                head(Channel::FocusDistance, "", plane),
                false,
                Some("no unit"),
            ),
            (
                head(Channel::Frame, "m", None),
                false,
                Some("it has no unit"),
            ),
            (
                head(Channel::FocusDistance, "m", None),
                false,
                Some("measured from"),
            ),
            (head(Channel::TStop, "T", plane), false, Some("no distance")),
            (
                head(Channel::Timecode, "", None),
                false,
                Some("holds numbers"),
            ),
            (head(Channel::TStop, "T", None), true, Some("holds texts")),
        ] {
            let fault = head_fault(&head, is_text);
            match expected {
                None => assert_eq!(fault, None),
                Some(part) => assert!(fault.clone().unwrap().contains(part), "{fault:?}"),
            }
        }
    }

    #[test]
    fn extras_are_free_but_texts_name_their_form() {
        let mut extra = head(Channel::Frame, "furlong", None);
        extra.key = ColumnKey::Extra("pace".into());
        assert_eq!(head_fault(&extra, false), None);
        assert!(
            head_fault(&extra, true)
                .unwrap()
                .contains("form is not stated")
        );
        extra.form = Some(TextForm::Json);
        assert_eq!(head_fault(&extra, true), None);
        assert!(head_fault(&extra, false).unwrap().contains("`json`"));
    }
}
