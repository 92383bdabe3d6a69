//! The examples on the explanation pages, read by the real table plugin: the faulty one is found
//! by its own check, the repaired one gives no finding.
#![allow(missing_docs, clippy::unwrap_used)]

use ringmark_checks::{Checker, Settings, registry};
use ringmark_model::{Finding, Lens, Piece};
use ringmark_tests::direct::{Plugins, pieces, source};

/// The fenced block of a page with this info string.
fn block<'a>(page: &'a str, info: &str) -> Option<&'a str> {
    let fence = format!("```csv {info}\n");
    let (_, rest) = page.split_once(&fence)?;
    rest.split("```").next()
}

fn read(plugins: &Plugins, text: &str) -> Vec<Piece> {
    let table = plugins.named("table").unwrap();
    pieces(table, source("example.csv", text.as_bytes()), "{}")
        .unwrap_or_else(|failure| panic!("{failure:?}\n{text}"))
}

fn findings(plugins: &Plugins, text: &str, calibration: Option<&str>) -> Vec<Finding> {
    let calibration: Option<Lens> = calibration.map(|text| {
        let mut lenses = read(plugins, text)
            .into_iter()
            .filter_map(|piece| match piece {
                Piece::Lens(lens) => Some(lens),
                _ => None,
            });
        lenses.next().unwrap()
    });
    let mut checker = Checker::with_calibration(&Settings::default(), calibration);
    for piece in read(plugins, text) {
        checker.piece(&piece);
    }
    checker.finish()
}

#[test]
fn examples_do_what_they_say_through_the_table_plugin() {
    let plugins = Plugins::new(env!("CARGO_TARGET_TMPDIR")).unwrap();
    let mut pages = 0;
    let mut wrong = Vec::new();
    for check in registry::all() {
        let (id, page) = (check.info.id, check.info.explanation);
        let calibration = block(page, "lens");
        let faulty = block(page, "fires").unwrap_or_else(|| panic!("{id}: no faulty example"));
        let repaired = block(page, "clean").unwrap_or_else(|| panic!("{id}: no repaired example"));
        let found = findings(&plugins, faulty, calibration);
        if !found.iter().any(|finding| finding.check == id) {
            wrong.push(format!("{id} does not fire: {found:?}"));
        }
        for finding in findings(&plugins, repaired, calibration) {
            wrong.push(format!(
                "{id}: the repaired example gives {}: {}",
                finding.check, finding.message
            ));
        }
        pages += 1;
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(pages > 20, "only {pages} pages");
}
