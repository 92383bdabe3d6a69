//! Texts as they stand on the screen. Review changes with `cargo insta review`.

use insta::assert_snapshot;

use crate::run;

fn printed(arguments: &str, status: i32) -> String {
    let ran = run(arguments);
    assert_eq!(ran.status, status, "{arguments}: {}", ran.err);
    assert_eq!(ran.err, "", "{arguments}");
    // Lines end where their text ends.
    ran.out
        .lines()
        .flat_map(|line| [line.trim_end(), "\n"])
        .collect()
}

#[test]
fn help() {
    for command in [
        "",
        "convert",
        "check",
        "show",
        "st-map",
        "drift",
        "plan",
        "transfer",
        "ring",
        "formats",
        "explain",
        "plugin",
        "plugin add",
        "plugin list",
        "plugin remove",
        "completions",
        "man",
    ] {
        let name = format!("help {command}").trim_end().replace(' ', "_");
        assert_snapshot!(name, printed(&format!("{command} --help"), 0));
    }
}

#[test]
fn lists() {
    assert_snapshot!("formats", printed("formats", 0));
    assert_snapshot!("formats_table", printed("formats --table", 0));
    assert_snapshot!("explain_list", printed("explain", 0));
    assert_snapshot!(
        "explain_page",
        printed("explain distance-below-close-focus", 0)
    );
}

#[test]
fn reports_on_the_faulty_samples() {
    assert_snapshot!("faulty_text", printed("check samples/faulty", 1));
    assert_snapshot!(
        "faulty_concise",
        printed("check samples/faulty --report concise", 1)
    );
}

#[test]
fn what_is_in_a_file() {
    for name in ["brannvik-40", "orrin-28-76", "A012C003", "B007C001"] {
        assert_snapshot!(
            format!("show_{name}"),
            printed(&format!("show samples/{name}.csv"), 0)
        );
    }
    assert_snapshot!("show_plates", printed("show samples/plates", 0));
}

#[test]
fn every_check_has_a_page() {
    let list = printed("explain", 0);
    let ids: Vec<&str> = list
        .lines()
        .filter(|line| line.starts_with("  "))
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert!(ids.len() > 30, "{list}");
    for id in ids {
        let page = printed(&format!("explain {id}"), 0);
        assert!(page.starts_with(&format!("{id}\n")), "{page}");
        for title in ["Why it matters", "Where it comes from"] {
            assert!(page.contains(title), "{id} without '{title}'");
        }
    }
    let json = run("explain --json").out;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert!(json["checks"].as_array().unwrap().len() > 30);
}
