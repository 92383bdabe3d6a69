//! Names with characters that nobody wrote.

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
        id: "name-unreadable",
        title: "A name holds characters that nobody wrote",
        severity: Severity::Warning,
        family: Family::Identity,
        since: "0.1.0",
        explanation: include_str!("name_unreadable.md"),
        thresholds: &[],
    },
    lens: Some(lens),
    take: Some(|_| Some(AtStart::watch(report))),
};

/// What is wrong with a text.
fn fault(text: &str) -> Option<&'static str> {
    // UTF-8 of accented letters, read as Latin-1: Ã followed by a character of the upper half.
    let twice = |text: &str| {
        let mut before = ' ';
        text.chars().any(|c| {
            let found = matches!(before, 'Ã' | 'Â') && ('\u{80}'..='\u{bf}').contains(&c);
            before = c;
            found
        })
    };
    if text.contains('\u{fffd}') {
        Some("a character that could not be read")
    } else if text.chars().any(|c| c.is_control() && c != '\t') {
        Some("a control character")
    } else if twice(text) {
        Some("letters that were encoded twice")
    } else {
        None
    }
}

fn say(finding: Finding, name: &Name, fault: &str) -> Finding {
    let shown: String = name.text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    finding
        .says(format!("{} “{}” holds {fault}", name.what, shown.trim()))
        .help("look for a text in another encoding or a field longer than its text; a lens is looked up by its name, letter by letter")
}

fn unreadable(names: Vec<Name>) -> impl Iterator<Item = (Name, &'static str)> {
    names.into_iter().filter_map(|name| fault(&name.text).map(|fault| (name, fault)))
}

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    for (name, fault) in unreadable(names::of_lens(view.lens)) {
        out.add(Severity::Warning, view.subject(), |finding| say(finding, &name, fault).at(name.place.clone()));
    }
}

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    for (name, fault) in unreadable(names::of_take(take, batch)) {
        out.add(Severity::Warning, take.subject(), |finding| {
            let finding = say(finding, &name, fault);
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
    fn letters_of_all_languages_are_readable() {
        for text in ["Brannvik 40", "Ørrin Ångström 85", "レンズ 50", "Linse „B“", "d'Été"] {
            assert_eq!(fault(text), None, "{text}");
        }
        for text in ["Brannvik\u{0}40", "Brannvik \u{fffd}40", "ÃngstrÃ¶m", "a\u{1b}[1m"] {
            assert!(fault(text).is_some(), "{text:?}");
        }
    }
}
