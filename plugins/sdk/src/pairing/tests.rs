#![allow(clippy::unwrap_used, missing_docs)]

use super::*;
use crate::batch::{LabelColumn, NumberColumn};
use proptest::prelude::*;

#[derive(Clone, Copy, Default)]
struct Row<'a> {
    number: Option<f64>,
    code: Option<&'a str>,
    source: Option<&'a str>,
}

fn number(number: f64) -> Row<'static> {
    Row {
        number: Some(number),
        ..Row::default()
    }
}

fn frames(take: u32, first: u64, rows: &[Row<'_>]) -> Frames {
    let mut numbers = NumberColumn::new("frame", "", "");
    let mut codes = LabelColumn::text("timecode");
    let mut sources = LabelColumn::text("source-file");
    for row in rows {
        numbers.values.push(row.number.unwrap_or(f64::NAN));
        for (column, text) in [(&mut codes, row.code), (&mut sources, row.source)] {
            match text {
                Some(text) => column.push(text),
                None => column.push_absent(),
            }
        }
    }
    Frames {
        take,
        first,
        count: rows.len() as u32,
        columns: vec![numbers.take()],
        labels: vec![codes.take(), sources.take()],
        inputs: Vec::new(),
        offsets: Vec::new(),
    }
}

fn labelled(name: &str, label: &str) -> FileKey {
    FileKey {
        label: Some(Timecode::parse(label).unwrap()),
        ..FileKey::named(name)
    }
}

#[test]
fn numbers_in_names() {
    for (name, number) in [
        ("take_a.1001.exr", Some(1001)),
        ("take_a_0007.EXR", Some(7)),
        ("still", None),
        ("plate.0042", Some(42)),
        ("DSC_0300.JPG", Some(300)),
        ("a12b.exr", Some(12)),
        ("é.12.tif", Some(12)),
        ("x1234567890123456.exr", None),
        ("shot.mp4", None),
        (".exr", None),
        ("", None),
    ] {
        assert_eq!(number_in_name(name), number, "{name}");
    }
}

#[test]
fn the_time_code_goes_before_the_number() {
    let files = [
        labelled("x.1.exr", "01:00:00:02"),
        labelled("x.2.exr", "01:00:00:01"),
    ];
    let mut pairing = Pairing::new(files);
    let row = |number, code| Row {
        number: Some(number),
        code: Some(code),
        source: None,
    };
    let batch = frames(0, 0, &[row(1.0, "01:00:00:01"), row(2.0, "01:00:00:02")]);
    assert_eq!(pairing.pair(&batch).unwrap(), [Some(1), Some(0)]);
    assert!(pairing.finish().is_ok());
}

#[test]
fn another_time_code_is_another_frame_whatever_the_number() {
    let mut pairing = Pairing::new([labelled("x.1.exr", "01:00:00;02")]);
    let row = Row {
        number: Some(1.0),
        code: Some("01:00:00:02"),
        source: Some("x.1.exr"),
    };
    assert_eq!(pairing.pair(&frames(0, 0, &[row])).unwrap(), [None]);
    assert!(pairing.is_broken());
    let message = pairing.finish().unwrap_err().message;
    assert_eq!(message, "1 frame has no file: 1; 1 file has no frame: 1");
}

#[test]
fn labels_that_stand_in_two_files_pair_nothing() {
    let files = [
        labelled("x.1.exr", "01:00:00:00"),
        labelled("x.2.exr", "01:00:00:00"),
    ];
    let mut pairing = Pairing::new(files);
    let row = |number| Row {
        number: Some(number),
        code: Some("01:00:00:00"),
        source: None,
    };
    let batch = frames(0, 0, &[row(2.0), row(1.0)]);
    assert_eq!(pairing.pair(&batch).unwrap(), [Some(1), Some(0)]);
}

#[test]
fn names_pair_where_there_are_no_numbers() {
    let files = ["left.jpg", "right.jpg"].map(FileKey::named);
    let mut pairing = Pairing::new(files);
    let row = |source| Row {
        source: Some(source),
        ..Row::default()
    };
    let batch = frames(0, 0, &[row("stills/right.jpg"), row("left.jpg")]);
    assert_eq!(pairing.pair(&batch).unwrap(), [Some(1), Some(0)]);
    assert!(pairing.finish().is_ok());
}

#[test]
fn one_number_in_two_files_needs_the_name() {
    let names = ["left.0001.jpg", "right.0001.jpg"];
    let mut pairing = Pairing::new(names.map(FileKey::named));
    let row = Row {
        number: Some(1.0),
        source: Some("right.0001.jpg"),
        ..Row::default()
    };
    assert_eq!(pairing.pair(&frames(0, 0, &[row])).unwrap(), [Some(1)]);
    let failure = pairing.pair(&frames(0, 1, &[number(1.0)])).unwrap_err();
    assert!(
        failure
            .message
            .contains("'left.0001.jpg' and 'right.0001.jpg'"),
        "{}",
        failure.message
    );
}

#[test]
fn what_has_no_partner_is_named_in_ranges() {
    let files = (1001..=1024).map(|n| FileKey::named(format!("p.{n}.exr")));
    let mut pairing = Pairing::new(files.chain([FileKey::named("note.exr")]));
    let rows: Vec<_> = (990..=1012).map(|n| number(f64::from(n))).collect();
    let found = pairing.pair(&frames(0, 0, &rows)).unwrap();
    assert_eq!((found[10], found[11]), (None, Some(0)));
    let rows = [Row::default(), number(f64::INFINITY)];
    assert_eq!(pairing.pair(&frames(0, 23, &rows)).unwrap(), [None, None]);
    assert_eq!(
        pairing.finish().unwrap_err().message,
        "11 frames have no file: 990-1000; 2 frames without a number have no file, first frame 24 of the take \
         (counted from 1); 12 files have no frame: 1013-1024; 1 file without a number has no frame, first 'note.exr'"
    );
}

#[test]
fn two_frames_for_one_file_are_refused() {
    let mut pairing = Pairing::new([FileKey::named("p.7.exr")]);
    pairing.pair(&frames(0, 0, &[number(7.0)])).unwrap();
    let failure = pairing.pair(&frames(1, 0, &[number(7.0)])).unwrap_err();
    assert!(
        failure
            .message
            .contains("two frames for the file 'p.7.exr'"),
        "{}",
        failure.message
    );
    let mut pairing = Pairing::new([FileKey::named("p.7.exr")]).shared_by_takes();
    assert_eq!(
        pairing.pair(&frames(0, 0, &[number(7.0)])).unwrap(),
        [Some(0)]
    );
    assert_eq!(
        pairing.pair(&frames(1, 0, &[number(7.0)])).unwrap(),
        [Some(0)]
    );
    assert!(pairing.pair(&frames(1, 1, &[number(7.0)])).is_err());
}

#[test]
fn a_batch_that_is_shorter_than_it_says_pairs_nothing() {
    let mut pairing = Pairing::new([FileKey::named("p.7.exr")]);
    let mut batch = frames(0, 0, &[number(7.0)]);
    batch.count = 3;
    assert_eq!(pairing.pair(&batch).unwrap(), [Some(0), None, None]);
}

proptest! {
    /// However frames are cut into batches and ordered, each gets the file of its number.
    #[test]
    fn any_order_and_any_batches(order in Just((0..60u32).collect::<Vec<_>>()).prop_shuffle(), size in 1..61usize) {
        let mut pairing = Pairing::new((0..60).map(|n| FileKey::named(format!("p.{n:04}.exr"))));
        for (index, chunk) in order.chunks(size).enumerate() {
            let rows: Vec<_> = chunk.iter().map(|&n| number(f64::from(n))).collect();
            let found = pairing.pair(&frames(0, (index * size) as u64, &rows)).unwrap();
            let wanted: Vec<_> = chunk.iter().map(|&n| Some(n as usize)).collect();
            prop_assert_eq!(found, wanted);
        }
        prop_assert!(pairing.finish().is_ok());
    }
}
