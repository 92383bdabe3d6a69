//! `ringmark.toml` at work.

use ringmark_tests::root;

use crate::{program, run, run_in};

const TAKE: &str = "samples/faulty/A013C001.csv";

fn with(profile: &str, arguments: &str) -> ringmark_tests::Ran {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("show.toml"), profile).unwrap();
    run_in(
        &program(),
        folder.path(),
        &format!("check {arguments} --profile {{}}/show.toml"),
    )
}

#[test]
fn severities_and_thresholds_are_those_of_the_profile() {
    let ran = with(
        "[checks.t-stop-below-f-number]\nseverity = \"note\"\n[checks.frame-number-gap]\nseverity = \"off\"\n\
         [format.table.checks.timecode-gap]\nseverity = \"warning\"\n\
         [[lens]]\nmodel = \"Brannvik 40\"\n[lens.checks.focal-length-changes-on-prime]\nnominal-change = 0.3\n",
        &format!("{TAKE} --report concise"),
    );
    let said = |text: &str| ran.out.lines().filter(|l| l.contains(text)).count();
    assert_eq!(said("note: T2.2 is smaller than"), 1, "{}", ran.out);
    assert_eq!(said("(frame-number-gap)"), 0);
    assert_eq!(said("warning: timecode jumps"), 1);
    assert_eq!(said("(focal-length-changes-on-prime)"), 0, "{}", ran.out);
    assert_eq!(said("(ring-jump)"), 1);
}

#[test]
fn accepted_findings_are_told_and_do_not_count() {
    let everything = run(&format!("check {TAKE} --report json --profile none"));
    let report: serde_json::Value = serde_json::from_str(&everything.out).unwrap();
    let mut ids: Vec<&str> = report["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| f["check"].as_str().unwrap())
        .collect();
    ids.dedup();
    let accept = |id: &&str| {
        format!(
            "[[accept]]\ncheck = \"{id}\"\nfiles = \"A013*\"\nreason = \"planted\"\nuntil = 9999-12-31\n"
        )
    };
    let mut profile: String = ids.iter().map(accept).collect();
    let ran = with(&profile, &format!("{TAKE} --report concise"));
    assert_eq!(ran.status, 0, "{}", ran.out);
    assert!(
        ran.out
            .contains("samples/faulty/A013C001.csv: 1 accepted finding of ring-jump: planted"),
        "{}",
        ran.out
    );
    assert!(
        ran.out.ends_with("no findings in 1 file (12 accepted)\n"),
        "{}",
        ran.out
    );

    profile += "[[accept]]\ncheck = \"mark-repeated\"\nreason = \"not there\"\n";
    let ran = with(&profile, &format!("{TAKE} --report json"));
    assert!(
        ran.err
            .contains("accepted mark-repeated was not found: take it out of the profile"),
        "{}",
        ran.err
    );
    let report: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(
        report["inputs"][0]["accepted"].as_array().unwrap().len(),
        12
    );
    assert_eq!(report["counts"]["error"], 0);
    let schema = std::fs::read_to_string(root().join("schemas/findings.schema.json")).unwrap();
    let schema: serde_json::Value = serde_json::from_str(&schema).unwrap();
    assert!(jsonschema::is_valid(&schema, &report));
}

#[test]
fn an_acceptance_that_is_over_is_none() {
    let ran = with(
        "[[accept]]\ncheck = \"ring-jump\"\nreason = \"to be homed\"\nuntil = 2026-01-01\n",
        TAKE,
    );
    assert_eq!(ran.status, 1);
    assert!(
        ran.out
            .contains("was accepted until 2026-01-01 (to be homed): repair it, or give a new date"),
        "{}",
        ran.out
    );
}

#[test]
fn lenses_and_cameras_that_nobody_prepared_are_found() {
    let ran = with(
        "[[expected.lens]]\nmodel = \"Orrin 28-76\"\n",
        "samples/A012C003.csv --report concise --fail-on warning",
    );
    assert_eq!(ran.status, 1);
    assert!(
        ran.out
            .contains("which is not the one lens expected (lens-not-expected)"),
        "{}",
        ran.out
    );
    let ran = with(
        "[[expected.lens]]\nmodel = \"Brannvik 40\"\n",
        "samples/A012C003.csv --fail-on warning",
    );
    assert_eq!(ran.status, 0, "{}", ran.out);
}

#[test]
fn a_profile_that_says_nothing_sensible_is_refused_before_anything_is_read() {
    let ran = with("[checks.ring-jump]\nsevrity = \"off\"\n", TAKE);
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    assert!(ran.err.contains("show.toml:2:"), "{}", ran.err);
    assert!(ran.err.contains("severity"), "{}", ran.err);
}

#[test]
fn the_nearest_profile_above_the_working_folder_counts() {
    let folder = tempfile::tempdir().unwrap();
    let deep = folder.path().join("day1/cards");
    std::fs::create_dir_all(&deep).unwrap();
    let profile = "[checks.ring-jump]\nseverity = \"off\"\n";
    std::fs::write(folder.path().join("ringmark.toml"), profile).unwrap();
    let check = |extra: &[&str]| {
        let mut command = program().command();
        command
            .current_dir(&deep)
            .arg("check")
            .arg(root().join(TAKE));
        let output = command.args(extra).output().unwrap();
        String::from_utf8(output.stdout).unwrap()
    };
    assert!(!check(&[]).contains("ring-jump"));
    assert!(check(&["--profile", "none"]).contains("ring-jump"));
}
