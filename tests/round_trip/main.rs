//! From format to format and back: nothing is lost that no loss report named.
#![allow(missing_docs, clippy::unwrap_used)]

mod content;
mod generate;

use std::sync::LazyLock;

use content::{contents, unaccounted};
use generate::document;
use proptest::prelude::*;
use ringmark_host::Plugin;
use ringmark_model::{LossReport, Piece};
use ringmark_tests::direct::{Plugins, from_neutral, neutral_lines, pieces, source, written};

static PLUGINS: LazyLock<Plugins> =
    LazyLock::new(|| Plugins::new(env!("CARGO_TARGET_TMPDIR")).unwrap());

/// Writes with a plugin and reads back, and once through the neutral lines.
fn through(name: &str, document: &[Piece]) -> (Vec<Piece>, LossReport) {
    let plugin = PLUGINS.named(name).unwrap();
    let (bytes, losses) = written(plugin, document).unwrap_or_else(|e| panic!("{name}: {e:#}"));
    let back = read(plugin, &bytes);
    let neutral = neutral_lines(&back).unwrap();
    let back = from_neutral(&neutral).unwrap();
    (back, losses)
}

fn read(plugin: &Plugin, bytes: &[u8]) -> Vec<Piece> {
    let back = pieces(plugin, source("take", bytes), "{}").unwrap_or_else(|failure| {
        panic!("{}: {failure:?}\n{}", plugin.manifest().name, String::from_utf8_lossy(bytes))
    });
    for piece in &back {
        if let Piece::Remark(finding) = piece {
            panic!("a remark about what was written: {finding:?}\n{}", String::from_utf8_lossy(bytes));
        }
    }
    back
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 96,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn table_to_opentrackio_and_back_loses_nothing_that_was_not_named(generated in document()) {
        let (first, losses) = through("table", &generated);
        prop_assert_eq!(
            unaccounted(&contents(&generated), &contents(&first), &[&losses]),
            Vec::<String>::new()
        );
        let (second, to_opentrackio) = through("opentrackio", &first);
        let (last, to_table) = through("table", &second);
        let reports = [&to_opentrackio, &to_table];
        prop_assert_eq!(
            unaccounted(&contents(&first), &contents(&last), &reports),
            Vec::<String>::new()
        );
        // And nothing was invented.
        prop_assert_eq!(
            unaccounted(&contents(&last), &contents(&first), &reports),
            Vec::<String>::new()
        );
    }

    #[test]
    fn what_was_written_once_is_written_the_same_again(generated in document()) {
        for plugin in PLUGINS.all().iter().filter(|p| p.manifest().writes && p.manifest().reads) {
            let (first, _) = written(plugin, &generated).unwrap();
            let (second, _) = written(plugin, &read(plugin, &first)).unwrap();
            let (third, losses) = written(plugin, &read(plugin, &second)).unwrap();
            prop_assert_eq!(
                String::from_utf8_lossy(&third),
                String::from_utf8_lossy(&second),
                "{}", plugin.manifest().name
            );
            prop_assert!(losses.is_lossless(), "{:?}", losses);
        }
        let lines = neutral_lines(&generated).unwrap();
        let again = neutral_lines(&from_neutral(&lines).unwrap()).unwrap();
        prop_assert_eq!(String::from_utf8_lossy(&again), String::from_utf8_lossy(&lines));
    }
}
