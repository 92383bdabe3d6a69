//! Everything that is written, and every sample, fits its schema.
#![allow(missing_docs, clippy::unwrap_used)]

use std::path::{Path, PathBuf};

use jsonschema::Validator;
use ringmark_model::facts::{FactKind, fact_info};
use ringmark_model::manifest::References;
use ringmark_model::{Channel, Manifest};
use ringmark_quantity::{Conversion, Unit};
use ringmark_tests::direct::bundled_entries;
use ringmark_tests::{Program, root};
use serde_json::Value;

fn schema(name: &str) -> Value {
    let path = root().join(format!("schemas/{name}.schema.json"));
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

fn validator(name: &str) -> Validator {
    jsonschema::validator_for(&schema(name)).unwrap()
}

fn assert_fits(validator: &Validator, document: &Value, what: &str) {
    let errors: Vec<String> = validator
        .iter_errors(document)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{what}:\n{}", errors.join("\n"));
}

fn program() -> Program {
    Program::new(
        env!("CARGO_BIN_EXE_ringmark-under-test"),
        env!("CARGO_TARGET_TMPDIR"),
    )
    .unwrap()
}

/// All inputs of the demo production, good and faulty, as the program names them.
fn inputs() -> Vec<String> {
    let mut inputs = vec!["samples/plates/A012C003.####.exr".to_owned()];
    for folder in ["samples", "samples/faulty"] {
        for entry in std::fs::read_dir(root().join(folder)).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            if name.ends_with(".csv") {
                inputs.push(format!("{folder}/{name}"));
            }
        }
    }
    assert!(inputs.len() >= 7, "{inputs:?}");
    inputs
}

fn converted(program: &Program, input: &str, to: &str, folder: &Path) -> PathBuf {
    let output = folder.join(format!("{}.{to}", input.replace(['/', '#'], "_")));
    let ran = program
        .run(["convert", input, "--to", to, "-o", output.to_str().unwrap()])
        .unwrap();
    assert!(ran.status < 2, "{input} to {to}: {}", ran.err);
    output
}

fn json(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

#[test]
fn all_neutral_documents_of_all_samples() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let (lens, take, line) = (validator("lens"), validator("take"), validator("take-line"));
    for input in inputs() {
        let document = json(&converted(&program, &input, "lens.json", folder.path()));
        assert_fits(&lens, &document, &input);
        let document = json(&converted(&program, &input, "take.json", folder.path()));
        assert_fits(&take, &document, &input);
        let lines = converted(&program, &input, "take.jsonl", folder.path());
        let text = std::fs::read_to_string(lines).unwrap();
        for (number, text) in text.lines().enumerate() {
            let document = serde_json::from_str(text).unwrap();
            assert_fits(&line, &document, &format!("{input}, line {}", number + 1));
        }
    }
}

#[test]
fn documents_with_interpolated_channels() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let lens = converted(
        &program,
        "samples/brannvik-40.csv",
        "lens.json",
        folder.path(),
    );
    let output = folder.path().join("out.take.json");
    let take = folder.path().join("bare.csv");
    std::fs::write(
        &take,
        "# document: take\nframe,focus ring [0..1],iris ring [0..1]\n1,0.5,0.2\n2,0.97,\n",
    )
    .unwrap();
    let ran = program
        .run([
            "convert".as_ref(),
            take.as_os_str(),
            "--lens".as_ref(),
            lens.as_os_str(),
            "-o".as_ref(),
            output.as_os_str(),
        ])
        .unwrap();
    assert_eq!(ran.status, 0, "{}", ran.err);
    let document = json(&output);
    assert_fits(&validator("take"), &document, "with --lens");
    assert!(
        document.to_string().contains("\"interpolated\""),
        "{document}"
    );
}

#[test]
fn reports_on_all_samples() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let path = |name: &str| folder.path().join(name).display().to_string();
    let broken = path("broken.csv");
    std::fs::write(
        &broken,
        "# document: take\nframe,focus distance [m]\n1,near\n",
    )
    .unwrap();
    let mut args = vec![
        "check".to_owned(),
        broken,
        format!("--report=json={}", path("report.json")),
        format!("--report=jsonl={}", path("report.jsonl")),
    ];
    args.extend(inputs());
    assert_eq!(program.run(args).unwrap().status, 2);

    let whole = validator("findings");
    let report = json(Path::new(&path("report.json")));
    assert_fits(&whole, &report, "report.json");
    assert!(report["findings"].as_array().unwrap().len() > 10);

    // Lines hold the same objects as the whole document.
    let text = std::fs::read_to_string(path("report.jsonl")).unwrap();
    let lines: Vec<Value> = text
        .lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect();
    let all = |key: &str| -> Vec<Value> {
        lines
            .iter()
            .filter_map(|line| line.get(key))
            .cloned()
            .collect()
    };
    assert_eq!(report["findings"], Value::Array(all("finding")));
    assert_eq!(report["inputs"], Value::Array(all("input")));
    assert_eq!(
        Value::Array(vec![report["counts"].clone()]),
        Value::Array(all("counts"))
    );
}

#[test]
fn pre_marked_rings_and_what_a_lens_is_on_them() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let (rings, transfer) = (validator("pre-marked-ring"), validator("transfer"));
    let made = program
        .run([
            "ring",
            "--from",
            "2'",
            "--unit",
            "ft-in",
            "--maker",
            "Sund",
            "--rotation",
            "280deg",
        ])
        .unwrap();
    assert_fits(&rings, &serde_json::from_str(&made.out).unwrap(), "ring");
    let mut documents = Vec::new();
    for entry in std::fs::read_dir(root().join("samples/rings")).unwrap() {
        let path = entry.unwrap().path();
        assert_fits(&rings, &json(&path), &path.display().to_string());
        documents.extend(["--to".to_owned(), path.display().to_string()]);
    }
    assert!(documents.len() >= 4, "{documents:?}");
    for lens in ["samples/brannvik-40.csv", "samples/orrin-28-76.csv"] {
        let lens = converted(&program, lens, "lens.json", folder.path());
        for more in ["--f-number=2.8", "--circle-of-confusion=0.02"] {
            let mut args = vec!["transfer".to_owned(), lens.display().to_string()];
            args.extend(documents.clone());
            args.extend(["--json".to_owned(), more.to_owned()]);
            let ran = program.run(args).unwrap();
            let document = serde_json::from_str(&ran.out).unwrap();
            assert_fits(
                &transfer,
                &document,
                &format!("transfer of {}", lens.display()),
            );
        }
    }
}

#[test]
fn plans() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let plan = validator("plan");
    let lens = converted(
        &program,
        "samples/sparse/halden-85.csv",
        "lens.json",
        folder.path(),
    );
    for arguments in [
        "--target=1/4",
        "--f-number=4 --marks=2",
        "--f-number=1.4 --target=1/50",
    ] {
        let mut args = vec!["plan", lens.to_str().unwrap(), "--json"];
        args.extend(arguments.split(' '));
        let ran = program.run(args).unwrap();
        assert_eq!(ran.status, 0, "{arguments}: {}", ran.err);
        assert_fits(&plan, &serde_json::from_str(&ran.out).unwrap(), arguments);
    }
}

#[test]
fn mappings_of_the_samples() {
    let mapping = validator("mapping");
    let text = std::fs::read_to_string(root().join("samples/B007C001.mapping.toml")).unwrap();
    assert_fits(
        &mapping,
        &toml::from_str(&text).unwrap(),
        "B007C001.mapping.toml",
    );
    let readme = std::fs::read_to_string(root().join("plugins/table/README.md")).unwrap();
    let (_, example) = readme.split_once("```toml\n").unwrap();
    let example = example.split("```").next().unwrap();
    assert_fits(
        &mapping,
        &toml::from_str(example).unwrap(),
        "plugins/table/README.md",
    );
}

#[test]
fn manifests_say_only_what_the_registries_know() {
    let manifest = validator("manifest");
    for entry in bundled_entries().unwrap() {
        assert_fits(&manifest, &entry.manifest_json, &entry.manifest.name);
        registered(&entry.manifest);
    }
}

/// Channels and facts are those of the registries, in units of their kind.
fn registered(manifest: &Manifest) {
    let name = &manifest.name;
    let convertible = |from: Unit, to: &str, what: &str| {
        if to.is_empty() {
            return;
        }
        let to = Unit::from_symbol(to).unwrap_or_else(|| panic!("{name}: {what} in '{to}'"));
        Conversion::between(from, to).unwrap_or_else(|e| panic!("{name}: {what}: {e}"));
    };
    for carried in &manifest.carries.channels {
        let channel = Channel::from_name(&carried.name)
            .unwrap_or_else(|| panic!("{name}: no channel '{}'", carried.name));
        match channel.unit() {
            Some(unit) => convertible(unit, &carried.unit, &carried.name),
            None => assert_eq!(carried.unit, "", "{name}: {} holds texts", carried.name),
        }
        assert!(
            carried.reference == References::Any(false) || channel.is_distance(),
            "{name}: {}",
            carried.name
        );
    }
    for carried in &manifest.carries.facts {
        let fact = fact_info(&carried.name)
            .unwrap_or_else(|| panic!("{name}: no fact '{}'", carried.name));
        match fact.kind {
            FactKind::Number(unit) => convertible(unit, &carried.unit, &carried.name),
            FactKind::Text | FactKind::Rate => {
                assert_eq!(carried.unit, "", "{name}: {}", carried.name)
            }
        }
    }
    let mut names: Vec<&str> = manifest
        .carries
        .channels
        .iter()
        .map(|c| c.name.as_str())
        .collect();
    names.extend(manifest.carries.facts.iter().map(|f| f.name.as_str()));
    let count = names.len();
    let facts_too = |n: &&str| Channel::from_name(n).is_some() && fact_info(n).is_some();
    // Some names are both a channel and a fact, as the lens of a take and of each frame.
    let both = names.iter().filter(|n| facts_too(n)).count();
    names.sort_unstable();
    names.dedup();
    assert!(names.len() + both >= count, "{name}: listed twice");
}
