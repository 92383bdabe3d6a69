//! Takes compared with the scale of a calibration.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use ringmark_checks::registry;
use ringmark_model::Finding;

/// An example of an explanation page.
fn example(check: &str, info: &str) -> &'static str {
    let page = registry::find(check).unwrap().info.explanation;
    page.split(&format!("```csv {info}\n"))
        .nth(1)
        .unwrap()
        .split("```")
        .next()
        .unwrap()
}

fn scale() -> &'static str {
    example("ring-values-not-monotonic", "clean")
}

fn only(findings: Vec<Finding>, check: &str) -> Finding {
    assert_eq!(findings.len(), 1, "{findings:#?}");
    assert_eq!(findings[0].check, check);
    findings.into_iter().next().unwrap()
}

#[test]
fn a_take_that_agrees_raises_nothing() {
    for size in [1, 5, 100] {
        assert_eq!(
            common::check_in(
                example("ring-distance-mismatch", "clean"),
                Some(scale()),
                size
            ),
            []
        );
    }
}

#[test]
fn a_distance_off_the_scale_is_found_with_its_travel() {
    let found = only(
        common::check_in(
            example("ring-distance-mismatch", "fires"),
            Some(scale()),
            100,
        ),
        "ring-distance-mismatch",
    );
    let frames = found.frames.unwrap();
    assert_eq!((frames.first, frames.last), (6, 8));
    assert!(
        found.message.contains("Skerry 50") && found.message.contains("% of travel off"),
        "{}",
        found.message
    );
}

#[test]
fn another_unit_is_named_instead() {
    let found = only(
        common::check_in(example("distance-unit-flips", "fires"), Some(scale()), 100),
        "distance-unit-flips",
    );
    assert_eq!(found.frames.unwrap().count, 3);
    assert!(
        found
            .repair
            .unwrap()
            .action
            .starts_with("feet read as metres in 3 frames")
    );
}

#[test]
fn a_whole_take_in_feet_is_found_with_a_calibration_only() {
    let metres = example("ring-distance-mismatch", "clean");
    let mut feet = String::new();
    for line in metres.lines() {
        match line.rsplit_once(',') {
            Some((rest, cell)) if cell.parse::<f64>().is_ok() => {
                feet += &format!("{rest},{:.4}\n", cell.parse::<f64>().unwrap() / 0.3048);
            }
            _ => feet += &format!("{line}\n"),
        }
    }
    assert_eq!(common::check(&feet), []);
    let found = only(
        common::check_in(&feet, Some(scale()), 4),
        "distance-unit-flips",
    );
    assert_eq!(found.frames.unwrap().count, 12);
}
