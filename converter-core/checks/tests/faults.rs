//! Known faults are found, at their place, and clean data raises nothing: see `tests/data/README.md`.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use ringmark_model::{Finding, Severity};

fn lens(name: &str) -> String {
    std::fs::read_to_string(format!(
        "{}/tests/data/lenses/{name}.csv",
        env!("CARGO_MANIFEST_DIR")
    ))
    .unwrap()
}

fn take(name: &str) -> String {
    std::fs::read_to_string(format!(
        "{}/tests/data/takes/take_{name}.csv",
        env!("CARGO_MANIFEST_DIR")
    ))
    .unwrap()
}

fn finding<'a>(findings: &'a [Finding], check: &str) -> &'a Finding {
    findings
        .iter()
        .find(|finding| finding.check == check)
        .unwrap_or_else(|| panic!("no {check} in {findings:#?}"))
}

/// The line at which a finding stands, counted from 0 after the header.
fn row(text: &str, finding: &Finding) -> usize {
    let before = &text[..finding.place.as_ref().unwrap().offset as usize];
    before.lines().filter(|line| !line.starts_with('#')).count() - 1
}

/// File, check, row of the mark, text that the repair must hold.
const LENSES: &[(&str, &str, Option<usize>, &str)] = &[
    ("fault_01", "mark-off-the-curve", Some(7), "1.8 m"),
    ("fault_02", "mark-off-the-curve", Some(5), "3'6\""),
    ("fault_03", "mark-off-the-curve", Some(2), "0.8 m"),
    ("fault_04", "mark-off-the-curve", Some(4), "write 1 m"),
    ("fault_05", "mark-off-the-curve", Some(5), ""),
    ("fault_06", "mark-repeated", Some(3), ""),
    ("fault_07", "infinity-mark-missing", None, ""),
    (
        "fault_08",
        "ring-positions-not-monotonic",
        Some(4),
        "exchange",
    ),
    ("fault_09", "mark-below-close-focus", None, ""),
    ("fault_09", "scale-from-lens-front", None, "add 0.17 m"),
    ("fault_10", "marks-shifted", Some(6), "0.021"),
    ("fault_11", "scale-in-other-unit", None, "feet"),
    ("fault_12", "mark-below-close-focus", Some(0), ""),
    ("fault_13", "mark-off-the-curve", Some(5), "2.5 m"),
    ("fault_14", "mark-off-the-curve", Some(1), "3'6\""),
    ("fault_15", "mark-off-the-curve", Some(5), "2.5 m"),
    ("fault_16", "mark-off-the-curve", Some(5), "2.5 m"),
    ("fault_17", "mark-off-the-curve", Some(4), ""),
    ("fault_18", "mark-repeated", Some(6), ""),
    ("fault_19", "infinity-mark-missing", None, ""),
    (
        "fault_20",
        "ring-positions-not-monotonic",
        Some(5),
        "exchange",
    ),
    ("fault_21", "mark-below-close-focus", None, ""),
    ("fault_21", "scale-from-lens-front", None, "add 0.17 m"),
    ("fault_22", "marks-shifted", Some(5), "0.021"),
    ("fault_23", "scale-in-other-unit", None, "feet"),
    ("fault_24", "mark-below-close-focus", Some(0), ""),
];

#[test]
fn faults_of_lenses_are_found_where_they_are() {
    for (name, check, mark, repair) in LENSES {
        let text = lens(name);
        let findings = common::check(&text);
        let found = finding(&findings, check);
        assert!(found.severity >= Severity::Warning, "{name}");
        if let Some(mark) = mark {
            assert_eq!(row(&text, found), *mark, "{name}: {}", found.message);
        }
        let action = found
            .repair
            .as_ref()
            .map_or("", |repair| repair.action.as_str());
        assert!(action.contains(repair), "{name}: {action}");
        assert!(
            !repair.is_empty() || action.is_empty(),
            "{name}: a repair without ground: {action}"
        );
    }
}

/// File, check, first and last frame (of the cut take).
const TAKES: &[(&str, &str, u64, u64)] = &[
    ("fault_unit-flip_1", "distance-unit-flips", 40, 234),
    ("fault_unit-flip_2", "distance-unit-flips", 40, 187),
    ("fault_encoder-frozen_1", "ring-frozen", 40, 199),
    ("fault_encoder-frozen_2", "ring-frozen", 40, 159),
    ("fault_frames-dropped_1", "frame-number-gap", 40, 40),
    ("fault_frames-dropped_1", "timecode-gap", 40, 40),
    ("fault_frames-dropped_2", "frame-number-gap", 40, 40),
    ("fault_frames-dropped_2", "timecode-gap", 40, 40),
    ("fault_timecode-repeated_1", "timecode-repeated", 40, 40),
    ("fault_timecode-repeated_2", "timecode-repeated", 40, 40),
    ("fault_label-impossible_1", "timecode-impossible", 40, 40),
    ("fault_label-impossible_2", "timecode-impossible", 40, 40),
    ("fault_t-below-f_1", "t-stop-below-f-number", 40, 230),
    ("fault_t-below-f_2", "t-stop-below-f-number", 40, 188),
    (
        "fault_below-close-focus_1",
        "distance-below-close-focus",
        40,
        44,
    ),
    (
        "fault_below-close-focus_2",
        "distance-below-close-focus",
        40,
        44,
    ),
    (
        "fault_focal-change-on-prime_1",
        "focal-length-changes-on-prime",
        40,
        204,
    ),
    (
        "fault_focal-change-on-prime_2",
        "focal-length-changes-on-prime",
        40,
        121,
    ),
    ("fault_lens-changes_1", "lens-changes-in-take", 40, 647),
    ("fault_lens-changes_2", "lens-changes-in-take", 40, 493),
    (
        "fault_ring-distance-mismatch_1",
        "ring-distance-mismatch",
        40,
        106,
    ),
    (
        "fault_ring-distance-mismatch_2",
        "ring-distance-mismatch",
        40,
        151,
    ),
    ("fault_encoder-wrap_1", "ring-jump", 40, 42),
    ("fault_encoder-wrap_2", "ring-jump", 40, 42),
    ("fault_columns-swapped_1", "t-stop-below-f-number", 40, 103),
    ("fault_columns-swapped_2", "t-stop-below-f-number", 40, 208),
    ("fault_zero-for-missing_1", "distance-not-positive", 40, 201),
    ("fault_zero-for-missing_2", "distance-not-positive", 40, 237),
    ("fault_frames-back_1", "frame-number-goes-back", 40, 59),
    ("fault_frames-back_2", "frame-number-goes-back", 40, 59),
];

#[test]
fn faults_of_takes_are_found_in_their_frames() {
    for (name, check, first, last) in TAKES {
        let text = take(name);
        let findings = common::check(&text);
        let found = finding(&findings, check);
        let frames = found.frames.as_ref().unwrap();
        assert_eq!(found.severity, Severity::Error, "{name}");
        assert_eq!((frames.first, frames.last), (*first, *last), "{name}");
        assert_eq!(frames.count, last - first + 1, "{name}");
        assert_eq!(row(&text, found), *first as usize, "{name}");
        assert!(
            frames.first_number.is_some() && frames.last_number.is_some(),
            "{name}"
        );
        assert!(
            frames.first_label.is_some() && frames.last_label.is_some(),
            "{name}"
        );
    }
}

/// Checks that may speak beside the one that is to find the fault.
const BESIDE: &[(&str, &str)] = &[("fault_encoder-frozen_1", "ring-jump")];

#[test]
fn nothing_else_is_said_about_faulty_takes() {
    for (name, ..) in TAKES {
        for found in common::check(&take(name)) {
            let expected = TAKES
                .iter()
                .map(|(take, check, ..)| (*take, *check))
                .chain(BESIDE.iter().copied());
            assert!(
                expected
                    .into_iter()
                    .any(|pair| pair == (*name, found.check.as_ref())),
                "{name}: {}",
                found.message
            );
        }
    }
}

#[test]
fn clean_data_raises_notes_at_most() {
    for n in 1..=8 {
        let name = format!("clean_0{n}");
        for found in common::check(&lens(&name)) {
            assert_eq!(found.severity, Severity::Note, "{name}: {}", found.message);
        }
    }
    for name in ["clean_1_24", "clean_1_29", "clean_2_24", "clean_2_29"] {
        assert_eq!(common::check(&take(name)), [], "{name}");
    }
}

#[test]
fn findings_do_not_depend_on_the_size_of_batches() {
    for (name, ..) in TAKES {
        let text = take(name);
        let whole = common::check_in(&text, None, 100_000);
        for size in [1, 7, 64] {
            assert_eq!(
                common::check_in(&text, None, size),
                whole,
                "{name} in batches of {size}"
            );
        }
    }
}
