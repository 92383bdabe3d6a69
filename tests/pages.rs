//! The examples on the explanation pages, read by the real table plugin: the faulty one is found
//! by its own check, the repaired one gives no finding.
#![allow(missing_docs, clippy::unwrap_used)]

use std::sync::Arc;

use ringmark::profile::Profile;
use ringmark_checks::{Checker, Record, RecordBuilder, Show, registry};
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

/// The other record of the take on a page that has one.
fn other(plugins: &Plugins, page: &str) -> Option<Arc<Record>> {
    let mut builder = None;
    for piece in read(plugins, block(page, "other")?) {
        match (&piece, &mut builder) {
            (Piece::Take(take), _) => {
                builder = Some(RecordBuilder::new(take, "other.csv", Vec::new()));
            }
            (Piece::Frames(batch), Some(builder)) => builder.frames(batch),
            _ => {}
        }
    }
    Some(Arc::new(builder?.finish()))
}

fn findings(plugins: &Plugins, page: &str, text: &str, calibration: Option<&str>) -> Vec<Finding> {
    let profile = page.split_once("```toml profile\n");
    let profile = profile.and_then(|(_, rest)| rest.split("```").next());
    let settings = Profile::parse(profile.unwrap_or_default(), "ringmark.toml")
        .unwrap()
        .settings("table");
    let calibration: Option<Lens> = calibration.map(|text| {
        let mut lenses = read(plugins, text)
            .into_iter()
            .filter_map(|piece| match piece {
                Piece::Lens(lens) => Some(lens),
                _ => None,
            });
        lenses.next().unwrap()
    });
    let mut show = Show::default();
    if let Some(before) = block(page, "before") {
        let mut checker = Checker::new(&settings);
        for piece in read(plugins, before) {
            checker.piece(&piece);
        }
        show.document("before.csv", &checker.takes(), &settings);
    }
    let mut checker = Checker::with_calibration(&settings, calibration);
    let other = other(plugins, page);
    for piece in read(plugins, text) {
        if let (Piece::Take(_), Some(other)) = (&piece, &other) {
            checker.compare_next(Arc::clone(other), Vec::new());
        }
        checker.piece(&piece);
    }
    let between = show.document("example.csv", &checker.takes(), &settings);
    checker.finish().into_iter().chain(between).collect()
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
        let found = findings(&plugins, page, faulty, calibration);
        if !found.iter().any(|finding| finding.check == id) {
            wrong.push(format!("{id} does not fire: {found:?}"));
        }
        for finding in findings(&plugins, page, repaired, calibration) {
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
