#![allow(clippy::unwrap_used, missing_docs)]
use ringmark_model::Severity;
use serde_json::Value;

use super::*;
use crate::report::Accepted;
use crate::samples;

const FAIL: FailsFrom = FailsFrom(Some(Severity::Error));

fn report() -> SarifReport {
    SarifReport::new("0.1.0", samples::RULES.to_vec(), FAIL, None)
}

fn log(files: &[FileReport]) -> Value {
    serde_json::from_str(&samples::made_of(&mut report(), files)).unwrap()
}

/// The schema that OASIS publishes; tests/standards/sarif says where this copy is from.
fn validator() -> jsonschema::Validator {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../tests/standards/sarif/sarif-schema-2.1.0.json"
    );
    let mut schema: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    // The pattern of a key that reports do not use has a bracket too many, which this library refuses.
    for owner in ["run", "toolComponent"] {
        let language = &mut schema["definitions"][owner]["properties"]["language"];
        let pattern = language.as_object_mut().unwrap().remove("pattern");
        assert!(pattern.is_some());
    }
    jsonschema::validator_for(&schema).unwrap()
}

#[test]
fn snapshot() {
    insta::assert_snapshot!(samples::made(&mut report()));
}

#[test]
fn validates_against_the_published_schema() {
    let validator = validator();
    let mut accepted = samples::reports().remove(0);
    let finding = accepted.findings.remove(0);
    accepted.accepted.push(Accepted {
        finding,
        reason: "the slate says so".to_owned(),
        until: None,
    });
    for files in [
        samples::reports(),
        vec![accepted, samples::wrong_mark()],
        Vec::new(),
    ] {
        let log = log(&files);
        let errors: Vec<String> = validator
            .iter_errors(&log)
            .map(|e| format!("{}: {e}", e.instance_path()))
            .collect();
        assert!(errors.is_empty(), "{errors:#?}");
    }
    let mut wrong = log(&samples::reports());
    wrong["runs"][0]["results"][0]["level"] = "grave".into();
    assert!(
        !validator.is_valid(&wrong),
        "the schema tells right from wrong"
    );
}

#[test]
fn rules_are_found_by_their_index() {
    let log = log(&samples::reports());
    let run = &log["runs"][0];
    let mut indexed = 0;
    for result in run["results"].as_array().unwrap() {
        if let Some(index) = result["ruleIndex"].as_u64() {
            let rule = &run["tool"]["driver"]["rules"][index as usize];
            assert_eq!(rule["id"], result["ruleId"]);
            indexed += 1;
        }
    }
    assert!(indexed >= 2);
}

#[test]
fn the_end_tells_how_the_run_went() {
    let invocation = |files: &[FileReport]| log(files)["runs"][0]["invocations"][0].clone();
    let whole = invocation(&samples::reports());
    assert_eq!(
        (&whole["executionSuccessful"], &whole["exitCode"]),
        (&false.into(), &2.into())
    );
    let told = &whole["toolExecutionNotifications"][0];
    let place = &told["locations"][0]["physicalLocation"];
    assert_eq!(place["artifactLocation"]["uri"], "A003C014.1002.exr");
    assert_eq!(place["region"]["byteOffset"], 50);
    let found = invocation(&samples::reports()[..1]);
    assert_eq!(
        (&found["executionSuccessful"], &found["exitCode"]),
        (&true.into(), &1.into())
    );
    let clean = invocation(&samples::reports()[1..2]);
    assert_eq!(clean["exitCode"], 0);
}

#[test]
fn fingerprints_stay_when_lines_move_and_are_never_shared() {
    let of = |files: &[FileReport]| -> Vec<String> {
        log(files)["runs"][0]["results"]
            .as_array()
            .unwrap()
            .iter()
            .map(|r| r["partialFingerprints"]["ringmarkFinding/v1"].to_string())
            .collect()
    };
    let files = samples::reports();
    let before = of(&files);
    let mut distinct = before.clone();
    distinct.sort();
    distinct.dedup();
    assert_eq!(distinct.len(), before.len());

    let mut moved = samples::reports();
    let mut sources = crate::SourceFiles::new();
    sources.add_memory(
        "A003C012.csv",
        format!("# slate: 12\r\n{}", samples::TAKE).as_bytes(),
    );
    moved[0].sources = sources;
    for finding in &mut moved[0].findings {
        let also = finding.also.iter_mut().map(|(place, _)| place);
        for place in finding.place.iter_mut().chain(also) {
            place.offset += 13;
        }
    }
    assert_eq!(of(&moved), before);

    let mut twice = samples::reports().remove(0);
    twice.findings.push(twice.findings[0].clone());
    let twice = of(&[twice]);
    let mut distinct = twice.clone();
    distinct.sort();
    distinct.dedup();
    assert_eq!(distinct.len(), twice.len());
}

#[test]
fn a_repair_is_a_fix_only_where_the_text_is_the_number() {
    let fixes = |file: FileReport| log(&[file])["runs"][0]["results"][0]["fixes"].clone();
    let fix = fixes(samples::wrong_mark());
    let change = &fix[0]["artifactChanges"][0]["replacements"][0];
    assert_eq!(change["insertedContent"]["text"], "0.7");
    assert_eq!(
        change["deletedRegion"],
        serde_json::json!({"startLine": 5, "startColumn": 14, "endLine": 5, "endColumn": 17})
    );
    assert!(
        fix[0]["description"]["text"]
            .as_str()
            .unwrap()
            .contains("barrel")
    );
    // The same value in another unit: the text is not the number.
    let mut feet = samples::wrong_mark();
    feet.findings[0].values[0].value = 7.0 * 0.3048;
    assert_eq!(fixes(feet), Value::Null);
    // A repair of several things at once.
    assert_eq!(fixes(samples::reports().remove(3)), Value::Null);
}

#[test]
fn what_is_accepted_is_there_and_suppressed() {
    let mut file = samples::reports().remove(0);
    let finding = file.findings.remove(2);
    file.accepted.push(Accepted {
        finding,
        reason: "close focus \u{1b}was lowered".to_owned(),
        until: None,
    });
    let log = log(&[file]);
    let results = log["runs"][0]["results"].as_array().unwrap();
    let suppressed: Vec<&Value> = results
        .iter()
        .filter(|r| r["suppressions"].is_array())
        .collect();
    assert_eq!(suppressed.len(), 1);
    assert_eq!(suppressed[0]["ruleId"], "below-close-focus");
    assert_eq!(
        suppressed[0]["suppressions"][0]["justification"],
        "close focus ␛was lowered"
    );
}

#[test]
fn texts_from_files_make_no_links() {
    let mut file = samples::reports().remove(0);
    file.findings.truncate(1);
    file.findings[0].message = "lens [x](http://example.org)".to_owned();
    let log = log(&[file]);
    let text = &log["runs"][0]["results"][0]["message"]["text"];
    assert_eq!(text, "lens [x] (http://example.org)");
}
