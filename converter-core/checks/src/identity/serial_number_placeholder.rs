//! Serial numbers that are none.

use ringmark_model::{Finding, Severity};

use super::names::{self, Name};
use crate::by_frame::AtStart;
use crate::info::{CheckInfo, Family};
use crate::ranges::Span;
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, LensView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "serial-number-placeholder",
        title: "A serial number is a placeholder",
        severity: Severity::Warning,
        family: Family::Identity,
        since: "0.1.0",
        explanation: include_str!("serial_number_placeholder.md"),
        thresholds: &[],
    },
    lens: Some(lens),
    take: Some(|_| Some(AtStart::watch(report))),
};

/// Words that stand for 'not known', letters only.
const WORDS: [&str; 14] =
    ["na", "none", "null", "nil", "unknown", "unk", "tbd", "tba", "test", "serial", "serialnumber", "sn", "default", "dummy"];

/// Whether this is what people and programs write who have no number.
fn is_placeholder(text: &str) -> bool {
    let plain: Vec<char> = text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect();
    let Some(&first) = plain.first() else { return true };
    let word: String = plain.iter().collect();
    let same = plain.iter().all(|c| *c == first);
    // 111 may be a number, 1111 hardly; zeros and crosses never are.
    let repeated = same && (plain.len() >= 4 || (first == '0' || first == 'x') && plain.len() >= 2 || word == "0" || word == "x");
    let counted = plain.len() >= 4 && ("1234567890".starts_with(&word) || "0123456789".starts_with(&word) || "9876543210".starts_with(&word));
    repeated || counted || WORDS.contains(&word.as_str())
}

fn say(finding: Finding, name: &Name) -> Finding {
    finding
        .says(format!("{} “{}” is a placeholder: it tells no lens or camera from another", name.what, name.text.trim()))
        .help("read the number from the barrel or the plate and enter it; calibrations are found by it")
}

fn serials(names: Vec<Name>) -> impl Iterator<Item = Name> {
    names.into_iter().filter(|name| name.fact.ends_with("-serial") && is_placeholder(&name.text))
}

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    for name in serials(names::of_lens(view.lens)) {
        out.add(Severity::Warning, view.subject(), |finding| say(finding, &name).at(name.place.clone()));
    }
}

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    for name in serials(names::of_take(take, batch)) {
        out.add(Severity::Warning, take.subject(), |finding| {
            let finding = say(finding, &name);
            match &name.place {
                Some(place) => finding.at(Some(place.clone())),
                None => Span::at(batch.mark_at(0)).put(finding),
            }
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_told_from_what_stands_for_them() {
        for text in ["0000", "123456", "N/A", "n.a.", "xxxx", "TBD", "-", "", "00", "1234", "987654", "9999", "unknown", "S/N"] {
            assert!(is_placeholder(text), "{text}");
        }
        for text in ["BV40-0117", "1001", "7", "111", "12", "123", "SK-0000", "40001", "H-1207", "12345678A"] {
            assert!(!is_placeholder(text), "{text}");
        }
    }
}
