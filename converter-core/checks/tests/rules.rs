//! A profile's severities and thresholds decide what is found, in every check that has them.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use ringmark_checks::{Checker, LensPattern, Level, Rules, Settings};
use ringmark_model::{Finding, Severity};

fn found(text: &str, settings: &Settings) -> Vec<Finding> {
    let mut checker = Checker::new(settings);
    for piece in common::pieces(text, 64) {
        checker.piece(&piece);
    }
    checker.finish()
}

fn data(name: &str) -> String {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data");
    std::fs::read_to_string(format!("{folder}/{name}.csv")).unwrap()
}

#[test]
fn a_severity_is_changed_and_a_check_switched_off() {
    let text = data("takes/take_fault_frames-dropped_1");
    let mut settings = Settings::default();
    settings
        .rules
        .set_level("frame-number-gap", Level::As(Severity::Note))
        .unwrap();
    settings
        .rules
        .set_level("timecode-gap", Level::Off)
        .unwrap();
    let found = found(&text, &settings);
    assert_eq!(found.len(), 1);
    assert_eq!(
        (found[0].check.as_ref(), found[0].severity),
        ("frame-number-gap", Severity::Note)
    );
}

#[test]
fn rules_of_one_lens_leave_the_others_alone() {
    let text = data("takes/take_fault_t-below-f_1");
    let lens_of = |serial: &str| {
        let mut off = Rules::default();
        off.set_level("t-stop-below-f-number", Level::Off).unwrap();
        let pattern = LensPattern {
            serial: Some(serial.to_owned()),
            ..LensPattern::default()
        };
        Settings {
            lenses: vec![(pattern, off)],
            ..Settings::default()
        }
    };
    let text = format!(
        "# serial: H-1
{text}"
    );
    assert_eq!(found(&text, &lens_of("H-1")), []);
    assert_eq!(found(&text, &lens_of("another")).len(), 1);
}

/// A threshold that nothing reads would be a promise not kept.
#[test]
fn every_threshold_is_read_through_the_rules() {
    let mut files = vec![std::path::PathBuf::from(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/src"
    ))];
    let mut seen = 0;
    while let Some(path) = files.pop() {
        if path.is_dir() {
            files.extend(std::fs::read_dir(path).unwrap().map(|e| e.unwrap().path()));
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        for (before, _) in text.match_indices(": ThresholdInfo = ThresholdInfo {") {
            let name = text[..before].rsplit(' ').next().unwrap();
            let uses = text.matches(name).count();
            assert!(
                uses >= 3,
                "{}: {name} is declared and explained, but not used",
                path.display()
            );
            assert!(
                !text.contains(&format!("{name}.default")),
                "{}: {name}.default is what no profile can change; ask the view for its value",
                path.display()
            );
            seen += 1;
        }
    }
    assert!(seen > 30, "{seen}");
}
