//! From format to format and back: nothing is lost that no loss report named.
#![allow(missing_docs, clippy::unwrap_used)]

mod content;
mod generate;
mod matrix;

use std::sync::LazyLock;

use content::{contents, unaccounted};
use generate::{calibration, document};
use proptest::prelude::*;
use ringmark_host::Plugin;
use ringmark_model::{LossReport, Piece};
use ringmark_tests::direct::{
    Files, Plugins, from_neutral, neutral_lines, pieces, sources, written,
};

static PLUGINS: LazyLock<Plugins> =
    LazyLock::new(|| Plugins::new(env!("CARGO_TARGET_TMPDIR")).unwrap());

/// A document that went through a format.
struct Passed {
    back: Vec<Piece>,
    losses: LossReport,
    file: String,
}

/// Writes with a plugin and reads back, and once through the neutral lines.
fn through(name: &str, document: &[Piece]) -> Passed {
    let plugin = PLUGINS.named(name).unwrap();
    let (files, losses) =
        written(plugin, document, &[]).unwrap_or_else(|e| panic!("{name}: {e:#}"));
    let neutral = neutral_lines(&read(plugin, &files)).unwrap();
    Passed {
        back: from_neutral(&neutral).unwrap(),
        losses,
        file: String::from_utf8_lossy(&files[0].1).into_owned(),
    }
}

/// From the first byte on where two files differ; empty if they do not.
fn difference(a: &[u8], b: &[u8]) -> String {
    if a == b {
        return String::new();
    }
    let at = a.iter().zip(b).take_while(|(a, b)| a == b).count();
    let part = |bytes: &[u8]| {
        let from = at.saturating_sub(40);
        String::from_utf8_lossy(&bytes[from..bytes.len().min(at + 80)]).into_owned()
    };
    format!("at byte {at}:\n{}\n{}", part(a), part(b))
}

fn read(plugin: &Plugin, files: &Files) -> Vec<Piece> {
    let name = &plugin.manifest().name;
    let shown = || String::from_utf8_lossy(&files[0].1).into_owned();
    let back = pieces(plugin, sources(files), "{}")
        .unwrap_or_else(|failure| panic!("{name}: {failure:?}\n{}", shown()));
    for piece in &back {
        if let Piece::Remark(finding) = piece {
            panic!(
                "{name}: a remark about what was written: {finding:?}\n{}",
                shown()
            );
        }
    }
    back
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 192,
        failure_persistence: None,
        max_shrink_iters: 400,
        ..ProptestConfig::default()
    })]

    #[test]
    fn table_to_opentrackio_and_back_loses_nothing_that_was_not_named(generated in document()) {
        let first = through("table", &generated);
        let missing = unaccounted(&contents(&generated), &contents(&first.back), &[&first.losses]);
        prop_assert!(missing.is_empty(), "{:#?}\n{}", missing, first.file);

        let second = through("opentrackio", &first.back);
        let last = through("table", &second.back);
        let (before, after) = (contents(&first.back), contents(&last.back));
        let reports = [&second.losses, &last.losses];
        let missing = unaccounted(&before, &after, &reports);
        prop_assert!(missing.is_empty(), "{:#?}\n{}\n{}", missing, second.file, last.file);
        let invented = unaccounted(&after, &before, &reports);
        prop_assert!(invented.is_empty(), "{:#?}\n{}\n{}", invented, second.file, last.file);
    }

    #[test]
    fn calibrations_come_back_from_a_table(generated in calibration()) {
        let first = through("table", &generated);
        let again = through("table", &first.back);
        let (was, is, last) = (contents(&generated), contents(&first.back), contents(&again.back));
        let missing = unaccounted(&was, &is, &[&first.losses]);
        prop_assert!(missing.is_empty(), "{:#?}\n{}", missing, first.file);
        let invented = unaccounted(&is, &was, &[&first.losses]);
        prop_assert!(invented.is_empty(), "{:#?}\n{}", invented, first.file);
        prop_assert!(unaccounted(&is, &last, &[&again.losses]).is_empty());
        prop_assert_eq!(first.file, again.file);
    }

    #[test]
    fn what_was_written_once_is_written_the_same_again(generated in document()) {
        for name in ["table", "opentrackio"] {
            let plugin = PLUGINS.named(name).unwrap();
            let (mut files, mut document) = (Vec::new(), generated.clone());
            for _ in 0..4 {
                let (file, losses) = written(plugin, &document, &[]).unwrap();
                document = read(plugin, &file);
                prop_assert!(files.is_empty() || losses.is_lossless(), "{:?}", losses);
                files.push(file[0].1.clone());
            }
            prop_assert_eq!(difference(&files[2], &files[3]), "", "{}", name);
            // Positions 0..1 that follow from raw ones come last when they are read for the first
            // time; where a format keeps the order of columns it settles one time later.
            if name == "table" {
                prop_assert_eq!(difference(&files[1], &files[2]), "", "{}", name);
            }
        }
        let lines = neutral_lines(&generated).unwrap();
        let again = neutral_lines(&from_neutral(&lines).unwrap()).unwrap();
        prop_assert_eq!(difference(&lines, &again), "");
    }
}
