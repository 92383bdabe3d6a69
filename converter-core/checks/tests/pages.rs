//! The examples on the explanation pages: the faulty one fires the check, the repaired one does not.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use ringmark_checks::registry;

/// The fenced block of a page with this info string.
fn block<'a>(page: &'a str, info: &str) -> Option<&'a str> {
    let start = page.find(&format!("```csv {info}\n"))? + info.len() + 8;
    page[start..].split("```").next()
}

#[test]
fn examples_do_what_they_say() {
    for check in registry::all() {
        let (id, page) = (check.info.id, check.info.explanation);
        let calibration = block(page, "lens");
        let fired = |info: &str| -> Vec<String> {
            let text = block(page, info).unwrap_or_else(|| panic!("{id}: no example '{info}'"));
            common::check_in(text, calibration, 512)
                .into_iter()
                .map(|finding| finding.check.into_owned())
                .collect()
        };
        assert!(
            fired("fires").iter().any(|found| found == id),
            "{id} does not fire: {:?}",
            fired("fires")
        );
        assert_eq!(
            fired("clean"),
            Vec::<String>::new(),
            "{id}: the repaired example"
        );
    }
}

#[test]
fn findings_of_the_examples_are_fit_to_be_read() {
    for check in registry::all() {
        let (id, page) = (check.info.id, check.info.explanation);
        let findings = common::check_in(block(page, "fires").unwrap(), block(page, "lens"), 512);
        for finding in findings.iter().filter(|finding| finding.check == id) {
            assert!(finding.place.is_some(), "{id}: no place");
            assert!(finding.message.len() < 200, "{id}: {}", finding.message);
            assert!(
                finding.help.is_some() || finding.repair.is_some(),
                "{id}: nothing to do"
            );
            assert!(
                finding.severity <= check.info.severity,
                "{id}: more severe than declared"
            );
        }
    }
}

#[test]
fn pages_state_the_thresholds_in_force() {
    for check in registry::all() {
        for threshold in check.info.thresholds {
            let value = format!("{} {}", threshold.default, threshold.unit);
            let row = format!(
                "| `{}` | {} | {} |",
                threshold.name,
                value.trim(),
                threshold.why
            );
            assert!(
                check.info.explanation.contains(&row),
                "{}: expected the row {row}",
                check.info.id
            );
        }
    }
}
