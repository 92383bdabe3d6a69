//! Copies of files with attributes: every way in which pixels are stored, and pixels untouched.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use common::{Layout, Parts, TakeOf, bytes, data, data_files, exr_files, items, write, write_one};

/// A value that is in no file, one that replaces another, and a text that makes the header longer.
fn take() -> TakeOf {
    TakeOf::default()
        .number("frame", "", &[1001.0])
        .number("t-stop", "T", &[2.8])
        .number("focus-distance", "m", &[4.25])
        .text("extra/halden.note", &"longer than before ".repeat(9))
        .lens_fact("lens-model", "Brannvik 40")
}

/// What a copy must have in common with its template, whatever its header says.
fn check_copy(name: &str, template: &[u8], copy: &[u8]) {
    let (old, new) = (Layout::of(template), Layout::of(copy));
    assert_eq!(old.chunks, new.chunks, "{name}: pixels");
    assert_eq!(old.offsets.len(), new.offsets.len(), "{name}: tables");
    for (before, after) in old.offsets.iter().zip(&new.offsets) {
        if *before == 0 {
            assert_eq!(*after, 0, "{name}: a chunk that was never written");
        } else {
            assert_eq!(after - new.end, before - old.end, "{name}: a chunk moved");
            // The chunk starts with the same bytes: its part or line, and its size.
            let chunk = |file: &[u8], at: u64| file[at as usize..at as usize + 8].to_vec();
            assert_eq!(chunk(copy, *after), chunk(template, *before));
        }
    }
}

/// Files of PyPI OpenEXR 3.5.3 and of `exrmaketiled`: the tables end where the first chunk begins.
#[test]
fn every_way_of_storing_pixels() {
    for name in data_files() {
        let template = data(&name);
        let copy = write_one(&template, take().alone()).unwrap_or_else(|e| panic!("{name}: {e:?}"));
        check_copy(&name, &template, &copy);
        let (old, new) = (Layout::of(&template), Layout::of(&copy));
        for part in 0..old.parts.len() {
            assert_eq!(new.float(part, "focus"), Some(4.25), "{name}");
            assert_eq!(new.float(part, "tStop"), Some(2.8), "{name}");
            assert_eq!(new.text(part, "lensModel").unwrap(), "Brannvik 40");
            // All others as they were, in their order; the new one behind them.
            let ours = ["focus", "halden.note", "lensModel"];
            for (before, after) in old.parts[part].iter().zip(&new.parts[part]) {
                assert_eq!(before.0, after.0, "{name}: order");
                if !ours.contains(&before.0.as_str()) {
                    assert_eq!(before, after, "{name}");
                }
            }
            let behind = &new.parts[part][old.parts[part].len()..];
            let behind: Vec<_> = behind.iter().map(|a| a.0.as_str()).collect();
            assert_eq!(behind, ["tStop"], "{name}");
        }
    }
}

#[test]
fn a_shorter_header_moves_chunks_forward() {
    let template = data("scan_zip.exr");
    let take = TakeOf::default()
        .number("frame", "", &[1001.0])
        .text("extra/halden.note", "k");
    let copy = write_one(&template, take.alone()).unwrap();
    assert!(copy.len() < template.len());
    check_copy("scan_zip.exr", &template, &copy);
}

#[test]
fn what_is_read_from_a_file_changes_nothing_in_it() {
    let mut names = exr_files("");
    names.push("rack_df2997/rack_df2997.1001.exr".to_owned());
    let files = names.iter().map(|name| (name.clone(), bytes(name)));
    let own = data_files()
        .into_iter()
        .map(|name| (name.clone(), data(&name)));
    for (name, file) in files.chain(own) {
        let name = name.rsplit('/').next().unwrap();
        let list = [(name, file.as_slice())];
        let written = write(&list, items(&list)).unwrap_or_else(|e| panic!("{name}: {e:?}"));
        assert!(written[0] == file, "{name} is changed");
    }
}

#[test]
fn a_sequence_that_is_read_changes_nothing() {
    for folder in ["rack_df2997/", ""] {
        let names: Vec<_> = match folder {
            "" => (1001..1004).map(|n| format!("stereo.{n}.exr")).collect(),
            folder => exr_files(folder),
        };
        let contents: Vec<_> = names.iter().map(|name| bytes(name)).collect();
        let list: Vec<_> = names
            .iter()
            .zip(&contents)
            .map(|(name, bytes)| (name.rsplit('/').next().unwrap(), bytes.as_slice()))
            .collect();
        let written = write(&list, items(&list)).unwrap();
        assert!(written == contents, "{folder}");
        // In another order of files too.
        let turned: Vec<_> = list.iter().rev().copied().collect();
        let written = write(&turned, items(&list)).unwrap();
        assert!(written.iter().rev().eq(&contents));
    }
}

/// Names over 31 bytes need a flag, and only they.
#[test]
fn the_flag_for_long_names() {
    let template = data("scan_no.exr");
    let flag = |file: &[u8]| file[5] & 4 != 0;
    let take = |name: &str| {
        TakeOf::default().number("frame", "", &[1001.0]).number(
            &format!("extra/{name}"),
            "",
            &[1.5],
        )
    };
    let short = write_one(&template, take(&"n".repeat(31)).alone()).unwrap();
    assert!(!flag(&template) && !flag(&short));
    let long = write_one(&template, take(&"n".repeat(32)).alone()).unwrap();
    assert!(flag(&long));
    let flagged = data("long_names.exr");
    assert!(flag(&flagged) && flag(&write_one(&flagged, take("n").alone()).unwrap()));
}

/// A file with one more attribute in its only part, and chunks that come later by its length.
fn with_attribute(file: &[u8], name: &str, kind: &str, value: &[u8]) -> Vec<u8> {
    let parts = Parts::of(file);
    let before = parts.build().len();
    let longer = parts.also(name, kind, value).build();
    let shift = (longer.len() - before) as u64;
    let layout = Layout::of(file);
    let tables = layout.end as usize + shift as usize - 8 * layout.offsets.len();
    let mut out = longer;
    for (index, offset) in layout.offsets.iter().enumerate() {
        let at = tables + 8 * index;
        out[at..at + 8].copy_from_slice(&(offset + shift).to_le_bytes());
    }
    out
}

#[test]
fn the_last_of_two_attributes_of_one_name_is_replaced() {
    let file = with_attribute(
        &data("scan_no.exr"),
        "focus",
        "float",
        &9.0f32.to_le_bytes(),
    );
    let focus = |file: &[u8]| -> Vec<f32> {
        let layout = Layout::of(file);
        let found = layout.parts[0].iter().filter(|(name, ..)| name == "focus");
        found
            .map(|(_, _, value)| f32::from_le_bytes(value[..].try_into().unwrap()))
            .collect()
    };
    assert_eq!(focus(&file), [2.5, 9.0]);
    let take = |focus: f64| {
        TakeOf::default()
            .number("frame", "", &[1001.0])
            .number("focus-distance", "m", &[focus])
    };
    let copy = write_one(&file, take(3.0).alone()).unwrap();
    assert_eq!(focus(&copy), [2.5, 3.0]);
    check_copy("focus twice", &file, &copy);
    // The last one counts: it reads as 9 already.
    assert!(write_one(&file, take(9.0).alone()).unwrap() == file);
}

/// A standard name with another type is read as nothing, and replaced.
#[test]
fn an_attribute_of_the_wrong_type_is_replaced() {
    let file = with_attribute(&data("scan_no.exr"), "tStop", "string", b"2.8");
    let take = TakeOf::default()
        .number("frame", "", &[1001.0])
        .number("t-stop", "T", &[2.0]);
    let copy = write_one(&file, take.alone()).unwrap();
    assert_eq!(Layout::of(&copy).float(0, "tStop"), Some(2.0));
    check_copy("wrong type", &file, &copy);
}
