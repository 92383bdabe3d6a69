//! Reports of a check: where they go, and that none of them is there before it is whole.

use serde_json::Value;

use crate::{names, program, run_in};

#[test]
fn a_place_that_is_taken_is_told_before_anything_is_checked() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let run = |arguments: &str| run_in(&program, folder.path(), arguments);
    std::fs::write(folder.path().join("taken"), "mine").unwrap();
    for (reports, told) in [
        ("--report json={}/taken", "--force"),
        ("--report text=- --report json={}/taken", "--force"),
        (
            "--report json={}/new --report jsonl={}/./new",
            "cannot share",
        ),
        ("--report json --report concise", "standard output"),
        ("--report json={}/no/such/folder", "there is no such folder"),
        ("--report prose", "text, concise"),
    ] {
        let ran = run(&format!("check samples/faulty {reports}"));
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{reports}");
        assert!(ran.err.contains(told), "{reports}: {}", ran.err);
        assert_eq!(names(folder.path()), ["taken"], "{reports}");
    }
    assert_eq!(std::fs::read(folder.path().join("taken")).unwrap(), b"mine");
}

#[test]
fn all_reports_of_one_run_tell_the_same() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let kinds = ["concise", "json", "jsonl", "sarif", "junit", "html"];
    let asked: Vec<String> = kinds
        .iter()
        .map(|kind| format!("--report {kind}={{}}/{kind}"))
        .collect();
    let arguments = format!("check samples/faulty {}", asked.join(" "));
    let ran = run_in(&program, folder.path(), &arguments);
    assert_eq!(ran.status, 1, "{}", ran.err);
    let read = |kind: &str| std::fs::read_to_string(folder.path().join(kind)).unwrap();
    let json: Value = serde_json::from_str(&read("json")).unwrap();
    let findings = json["findings"].as_array().unwrap();
    assert!(findings.len() > 10);
    assert_eq!(read("concise").lines().count(), findings.len() + 1);
    let lines = read("jsonl").lines().count();
    assert_eq!(lines, findings.len() + 2 + 2, "a head, two files, an end");
    let sarif: Value = serde_json::from_str(&read("sarif")).unwrap();
    let run = &sarif["runs"][0];
    let results = run["results"].as_array().unwrap();
    let of = |list: &[Value], key: &str| -> Vec<String> {
        list.iter().map(|v| v[key].to_string()).collect()
    };
    assert_eq!(of(results, "ruleId"), of(findings, "check"));
    let explained = run["tool"]["driver"]["rules"].as_array().unwrap();
    assert_eq!(explained.len(), ringmark_checks::registry::all().count());
    let place = &results[0]["locations"][0]["physicalLocation"];
    assert_eq!(
        place["artifactLocation"]["uri"],
        "samples/faulty/A013C001.csv"
    );
    let page = read("html");
    assert_eq!(page.matches("<tr id=\"r").count(), 2);
    assert!(page.contains("\"name\":\"focus-distance\""));
    // A case a check, however many findings it has; and the checks that found nothing are there too.
    let junit = read("junit");
    let mut failing: Vec<(String, String)> = findings
        .iter()
        .filter(|f| f["severity"] == "error")
        .map(|f| (f["file"].to_string(), f["check"].to_string()))
        .collect();
    failing.sort();
    failing.dedup();
    assert_eq!(junit.matches("<failure ").count(), failing.len());
    assert!(junit.contains("<testcase name=\"ring-frozen\""), "{junit}");
}

#[test]
fn a_page_of_recalled_results_is_the_same_page() {
    let program = program().without_results().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let page = |name: &str| {
        let arguments =
            format!("check samples/faulty samples/orrin-28-76.csv --changed-only --report {name}");
        let ran = run_in(&program, folder.path(), &arguments);
        assert_eq!(ran.status, 1, "{}", ran.err);
        (
            std::fs::read_to_string(folder.path().join("page")).unwrap(),
            ran.err,
        )
    };
    // A result that was kept without pictures does not serve a report that draws.
    page("json={}/page");
    let (first, said) = page("html={}/page --force");
    assert!(said.contains("earlier check: 0 of 3 files"), "{said}");
    assert!(first.contains("\"channels\":[{\"name\":\"focus-distance\""));
    let (second, said) = page("html={}/page --force");
    assert!(said.contains("earlier check: 3 of 3 files"), "{said}");
    assert!(first == second, "the pages differ");
}
