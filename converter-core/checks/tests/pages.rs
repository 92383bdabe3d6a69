//! The examples on the explanation pages: the faulty one fires the check, the repaired one does not.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use ringmark_checks::{Check, Expected, registry};
use ringmark_model::Finding;

/// The fenced block of a page with this info string.
fn fenced<'a>(page: &'a str, info: &str) -> Option<&'a str> {
    let (_, rest) = page.split_once(&format!("```{info}\n"))?;
    rest.split("```").next()
}

fn block<'a>(page: &'a str, info: &str) -> Option<&'a str> {
    fenced(page, &format!("csv {info}"))
}

fn expected(page: &str) -> Expected {
    fenced(page, "toml profile").map_or(Expected::default(), common::expected)
}

/// What is found in an example of a check.
fn found(check: &Check, text: &str, calibration: Option<&str>, size: usize) -> Vec<Finding> {
    let page = check.info.explanation;
    match block(page, "before") {
        Some(before) => common::check_show(before, text, size),
        None => common::check_against(
            text,
            block(page, "other"),
            calibration,
            expected(page),
            size,
        ),
    }
}

#[test]
fn examples_do_what_they_say() {
    let mut wrong = Vec::new();
    for check in registry::all() {
        let (id, page) = (check.info.id, check.info.explanation);
        let calibration = block(page, "lens");
        let fired = |info: &str| -> Vec<String> {
            let text = block(page, info).unwrap_or_else(|| panic!("{id}: no example '{info}'"));
            found(check, text, calibration, 512)
                .into_iter()
                .map(|finding| finding.check.into_owned())
                .collect()
        };
        let (faulty, repaired) = (fired("fires"), fired("clean"));
        if !faulty.iter().any(|found| found == id) {
            wrong.push(format!("{id} does not fire: {faulty:?}"));
        }
        if !repaired.is_empty() {
            wrong.push(format!("{id}: the repaired example: {repaired:?}"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn findings_of_the_examples_are_fit_to_be_read() {
    for check in registry::all() {
        let (id, page) = (check.info.id, check.info.explanation);
        let findings = found(
            check,
            block(page, "fires").unwrap(),
            block(page, "lens"),
            512,
        );
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

#[test]
fn findings_of_the_examples_do_not_depend_on_the_size_of_batches() {
    for check in registry::all() {
        let (id, page) = (check.info.id, check.info.explanation);
        let Some(text) = block(page, "fires") else {
            continue;
        };
        let found = |size: usize| found(check, text, block(page, "lens"), size);
        let whole = found(10_000);
        for size in [1, 7, 64] {
            assert_eq!(found(size), whole, "{id} in batches of {size}");
        }
    }
}
