//! What every bundled plugin must hold to, whatever its format.
#![allow(missing_docs, clippy::unwrap_used)]

use std::fmt::Write;
use std::path::PathBuf;
use std::sync::LazyLock;

use ringmark_host::{FileSource, HostError, Plugin, Source, at_once};
use ringmark_model::Manifest;
use ringmark_tests::direct::{Plugins, bundled_entries, items, source};
use ringmark_tests::root;
use serde_json::Value;
use sha2::{Digest, Sha256};

static PLUGINS: LazyLock<Plugins> =
    LazyLock::new(|| Plugins::new(env!("CARGO_TARGET_TMPDIR")).unwrap());

/// Files that a plugin's manifest claims, from the demo production and from its own folder.
fn samples(manifest: &Manifest) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![root().join("samples")];
    for own in ["samples", "tests/data"] {
        folders.push(root().join("plugins").join(&manifest.name).join(own));
    }
    if manifest.name == "opentrackio" {
        for name in ["rack_48.jsonl", "single_sample.json"] {
            found.push(root().join("tests/standards/opentrackio").join(name));
        }
    }
    while let Some(folder) = folders.pop() {
        let Ok(entries) = std::fs::read_dir(folder) else {
            continue;
        };
        for entry in entries {
            let path = entry.unwrap().path();
            let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
            if path.is_dir() {
                // Files made to be refused, and descriptions of pre-marked rings, which no plugin reads.
                if !path.ends_with("malformed") && path != root().join("samples/rings") {
                    folders.push(path);
                }
            } else if ending.is_some_and(|e| manifest.files.extensions.contains(&e)) {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

/// A sample, its options, and what the plugin says to it.
fn read(plugin: &Plugin, path: &std::path::Path, bytes: &[u8]) -> Result<String, HostError> {
    let name = path.file_name().unwrap().to_string_lossy().into_owned();
    items(plugin, source(&name, bytes), &options(path)).map(|items| format!("{items:#?}"))
}

fn options(path: &std::path::Path) -> String {
    let Ok(mapping) = std::fs::read_to_string(path.with_extension("mapping.toml")) else {
        return "{}".to_owned();
    };
    let mapping: Value = toml::from_str(&mapping).unwrap();
    serde_json::json!({ "mapping": mapping }).to_string()
}

fn readers() -> impl Iterator<Item = &'static Plugin> {
    PLUGINS.all().iter().filter(|p| p.manifest().reads)
}

#[test]
fn each_is_what_the_list_says() {
    for (entry, plugin) in bundled_entries().unwrap().iter().zip(PLUGINS.all()) {
        let name = &entry.manifest.name;
        let mut digest = String::new();
        for byte in Sha256::digest(std::fs::read(&entry.path).unwrap()) {
            write!(digest, "{byte:02x}").unwrap();
        }
        assert_eq!(digest, entry.sha256, "{name}: the component is another one");
        let said: Value = serde_json::from_str(&plugin.describe().unwrap()).unwrap();
        assert_eq!(said, entry.manifest_json, "{name}: what it says of itself");
        let path = root().join("plugins").join(name).join("manifest.json");
        let source: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
        assert_eq!(source, entry.manifest_json, "{name}: manifest.json");
        // A stranger's plugin is looked at first; these must pass as well.
        ringmark_host::Host::inspect(&std::fs::read(&entry.path).unwrap(), &Default::default())
            .unwrap();
    }
}

#[test]
fn each_has_samples_and_recognises_them() {
    for plugin in readers() {
        let name = &plugin.manifest().name;
        let samples = samples(plugin.manifest());
        assert!(!samples.is_empty(), "{name}: {samples:?}");
        for path in samples {
            let bytes = std::fs::read(&path).unwrap();
            let file = path.file_name().unwrap().to_string_lossy().into_owned();
            let head = &bytes[..bytes.len().min(64 << 10)];
            let sure = plugin.recognise(&file, head).unwrap();
            let mapped = options(&path) != "{}";
            assert!(
                sure > 0 || mapped,
                "{name} does not know {}",
                path.display()
            );
            let empty = plugin.recognise(&file, b"").unwrap();
            assert!(
                empty < sure.max(1),
                "{name}: {empty} % sure of an empty {file}"
            );
        }
        for other in PLUGINS.all().iter().filter(|p| p.manifest().name != *name) {
            for path in self::samples(other.manifest()) {
                if plugin.manifest().files.magic.is_empty() {
                    continue;
                }
                let bytes = std::fs::read(&path).unwrap();
                let file = path.file_name().unwrap().to_string_lossy().into_owned();
                let sure = plugin
                    .recognise(&file, &bytes[..bytes.len().min(64 << 10)])
                    .unwrap();
                assert_eq!(sure, 0, "{name} takes {} for its own", path.display());
            }
        }
    }
}

#[test]
fn reading_twice_and_from_disk_gives_the_same() {
    for plugin in readers() {
        for path in samples(plugin.manifest()) {
            let bytes = std::fs::read(&path).unwrap();
            let once =
                read(plugin, &path, &bytes).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
            let twice = read(plugin, &path, &bytes).unwrap();
            assert_eq!(once, twice, "{}", path.display());
            let file: Vec<Box<dyn Source>> = vec![Box::new(FileSource::new(&path))];
            let on_disk = items(plugin, file, &options(&path)).unwrap();
            assert_eq!(once, format!("{on_disk:#?}"), "{}", path.display());
        }
    }
}

#[test]
fn cut_samples_are_read_or_refused_with_a_place() {
    for plugin in readers() {
        for path in samples(plugin.manifest()) {
            let bytes = std::fs::read(&path).unwrap();
            // Headers are short beside their pixels: half of the cuts go there.
            let near = bytes.len().min(4096);
            let cuts = (0..20)
                .map(|n| near * n / 20)
                .chain((0..20).map(|n| bytes.len() * n / 20));
            for cut in cuts {
                sound(plugin, &path, &bytes[..cut], &format!("cut at {cut}"));
            }
        }
    }
}

/// The plugin either reads the bytes or says where they are wrong.
fn sound(plugin: &Plugin, path: &std::path::Path, bytes: &[u8], what: &str) {
    match read(plugin, path, bytes) {
        Ok(_) => {}
        Err(HostError::Input(failure)) => {
            match failure.place {
                Some(place) => assert!(
                    place.offset <= bytes.len() as u64,
                    "{} {what}: {place:?}",
                    path.display()
                ),
                // What a mapping says stands in no input.
                None => assert!(
                    failure.message.starts_with("mapping: "),
                    "{} {what}: no place: {}",
                    path.display(),
                    failure.message
                ),
            }
        }
        Err(error) => panic!("{} {what}: {error}", path.display()),
    }
}

#[test]
fn flipped_bytes_are_read_or_refused_with_a_place() {
    for plugin in readers() {
        for path in samples(plugin.manifest()) {
            let mut bytes = std::fs::read(&path).unwrap();
            let reach = bytes.len().min(4096);
            for n in 0..24 {
                let at = reach * n / 24;
                let was = bytes[at];
                for flip in [0x01, 0x80, 0xff] {
                    bytes[at] = was ^ flip;
                    sound(plugin, &path, &bytes, &format!("byte {at} ^ {flip:#x}"));
                }
                bytes[at] = was;
            }
        }
    }
}

#[test]
fn wrong_options_are_refused() {
    for plugin in readers().filter(|p| p.manifest().options.is_some()) {
        let path = &samples(plugin.manifest())[0];
        let bytes = std::fs::read(path).unwrap();
        for options in [
            "{",
            "1",
            "{\"no such option\": 1}",
            "{\"mapping\": 3}",
            "\u{0}",
        ] {
            match items(plugin, source("sample", bytes.as_slice()), options) {
                Ok(_) => panic!("{} takes the options {options:?}", plugin.manifest().name),
                Err(HostError::Input(failure)) => assert!(!failure.message.is_empty()),
                Err(error) => panic!("{} and {options:?}: {error}", plugin.manifest().name),
            }
        }
    }
}

#[test]
fn no_input_at_all_is_refused() {
    for plugin in readers() {
        match items(plugin, Vec::new(), "{}") {
            Err(HostError::Input(failure)) => assert!(!failure.message.is_empty()),
            other => panic!("{}: {other:?}", plugin.manifest().name),
        }
    }
}

#[test]
fn one_file_more_than_can_be_open_at_once_is_no_fault_of_the_plugin() {
    // A pool of its own: the other tests need theirs.
    let plugins = Plugins::new(env!("CARGO_TARGET_TMPDIR")).unwrap();
    let table = plugins.named("table").unwrap();
    let read = || table.read(source("a.csv", *b"frame,T-stop\n1,2.8\n"), "{}");
    let mut open: Vec<_> = (0..at_once()).map(|_| read().unwrap()).collect();
    let error = read().err().unwrap();
    assert!(matches!(error, HostError::Machine { .. }), "{error:?}");
    assert!(error.to_string().contains("are open already"), "{error}");
    open.pop();
    assert!(read().is_ok());
}
