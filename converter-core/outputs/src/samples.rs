//! One set of findings on which every renderer is tested. Production, lenses and maker are invented.

use ringmark_model::{Axis, Change, Edit, Finding, FrameRange, Place, Repair, Severity, Subject};
use ringmark_quantity::{DistanceReference, Unit};

use crate::report::{Failure, FileReport, Report};
use crate::rule::RuleText;
use crate::sources::SourceFiles;

/// With CRLF, a tab, an escape sequence and a character that turns the direction of writing.
pub(crate) const TAKE: &str = "# clip: A003C012\r\n# frame rate: 30000/1001\r\n\
frame,timecode,focus ring [0..1],focus distance [m],T-stop,lens\r\n\
1001,10:00:59;28,0.4520,3.20,2.8,Halden 50\r\n\
1002,10:00:59;29,0.4521,3.20,2.8,Halden 50\r\n\
1003,10:01:00;00,0.4523,0.31,2.8,\tHalden \u{1b}[31m50\r\n\
1004,10:01:00;03,0.4530,3.20,2.8,Halden \u{202e}75\r\n";

pub(crate) const LENS: &str = "# maker: Halden Optikk\n# serial: H-1008\nring,position [0..1],mark [ft-in]\n\
focus,0.0,\"2'\"\nfocus,0.31,\"5'6\"\"\"\nfocus,0.29,\"6'\"\nfocus,1.0,∞";

pub(crate) fn at(text: &str, wanted: &str, length: usize) -> Place {
    Place {
        input: 0,
        offset: text.find(wanted).unwrap() as u64,
        length: length as u64,
        field: None,
    }
}

fn frames(first: u64, last: u64, count: u64, labels: (&str, &str)) -> Option<FrameRange> {
    Some(FrameRange {
        first,
        last,
        count,
        first_number: Some(1001 + first as i64),
        last_number: Some(1001 + last as i64),
        first_label: Some(labels.0.to_owned()),
        last_label: Some(labels.1.to_owned()),
    })
}

fn take() -> FileReport {
    let mut sources = SourceFiles::new();
    sources.add_memory("A003C012.csv", TAKE.as_bytes());
    let subject = || Subject::Take(0);
    let mut dropped = Finding::new(
        "illegal-label",
        Severity::Error,
        subject(),
        "10:01:00;00 does not exist in drop-frame counting",
    )
    .at(Some(at(TAKE, "10:01:00;00", 11)))
    .help("write 10:01:00;02, the first label of that minute");
    dropped.frames = frames(2, 2, 1, ("10:01:00;00", "10:01:00;00"));
    let mut close = Finding::new(
        "below-close-focus",
        Severity::Error,
        subject(),
        "focus distance 0.31 m is below close focus, 0.5 m",
    )
    .at(Some(at(TAKE, "0.31", 4)))
    .value("recorded", 0.31, "m")
    .value("close focus", 0.5, "m");
    close.frames = frames(2, 2, 1, ("10:01:00;00", "10:01:00;00"));
    let mut mismatch = Finding::new(
        "ring-distance-mismatch",
        Severity::Warning,
        subject(),
        "recorded distance is 3.2 m, the ring position gives 2.1 m",
    )
    .at(Some(at(TAKE, "1001,", 0)))
    .value("recorded", 3.2, "m")
    .value("from the ring", 2.1, "m")
    .value("deviation", f64::INFINITY, "%");
    mismatch.frames = frames(0, 3, 3, ("10:00:59;28", "10:01:00;03"));
    let mut identity = Finding::new(
        "lens-changes",
        Severity::Warning,
        subject(),
        "the lens changes from 'Halden \u{1b}[31m50' to 'Halden \u{202e}75'",
    )
    .at(Some(at(TAKE, "Halden \u{202e}75", 13)));
    identity
        .also
        .push((at(TAKE, "Halden \u{1b}", 14), "before".to_owned()));
    identity
        .also
        .push((at(TAKE, "# clip", 16), "of this clip".to_owned()));
    identity.frames = Some(FrameRange {
        first: 3,
        last: 3,
        count: 1,
        first_number: None,
        last_number: None,
        first_label: None,
        last_label: None,
    });
    let no_lens = Finding::new(
        "no-calibration",
        Severity::Note,
        subject(),
        "no lens document was given: ring positions are not compared",
    )
    .help("give one with --lens");
    FileReport {
        file: "A003C012.csv".to_owned(),
        findings: vec![mismatch, no_lens, close, identity, dropped],
        takes: vec!["A003C012".to_owned()],
        sources,
        ..FileReport::default()
    }
}

fn clean() -> FileReport {
    FileReport {
        file: "A003C013.csv".to_owned(),
        ran: vec!["below-close-focus".into(), "illegal-label".into()],
        seconds: 0.25,
        ..FileReport::default()
    }
}

fn sequence() -> FileReport {
    let mut sources = SourceFiles::new();
    let header: Vec<u8> = (0..96).map(|n: u8| n.wrapping_mul(37)).collect();
    sources.add_memory("A003C014.1001.exr", header.as_slice());
    sources.add_memory("A003C014.1002.exr", &header[..50]);
    let mut stop = Finding::new(
        "stop-out-of-range",
        Severity::Error,
        Subject::Take(0),
        "T-stop 0.5 is wider than the lens opens, T1.4",
    )
    .at(Some(Place {
        input: 0,
        offset: 42,
        length: 4,
        field: Some("part 0, attribute aperture".to_owned()),
    }))
    .value("recorded", 0.5, "T");
    stop.frames = frames(0, 1, 2, ("10:00:00:00", "10:00:00:01"));
    FileReport {
        file: "A003C014.####.exr".to_owned(),
        failure: Some(Failure {
            message: "the header ends in the middle of an attribute\nexpected 12 bytes more"
                .to_owned(),
            place: Some(Place {
                input: 1,
                offset: 50,
                length: 0,
                field: None,
            }),
            help: Some("copy the file again: it is cut off".to_owned()),
        }),
        findings: vec![stop],
        takes: vec!["A003C014".to_owned()],
        sources,
        ..FileReport::default()
    }
}

fn lens() -> FileReport {
    let mut sources = SourceFiles::new();
    sources.add_memory("halden-50.csv", LENS.as_bytes());
    let long = format!("{{\"marks\": [{}0.5, ∞]}}", "0.123456, ".repeat(300));
    sources.add_memory("halden-50.lens.json", long.as_bytes());
    let mut order = Finding::new(
        "marks-not-in-order",
        Severity::Error,
        Subject::Lens(0),
        "the mark 6' stands at 0.29, before 5'6\" at 0.31",
    )
    .at(Some(at(LENS, "0.29", 4)));
    order
        .also
        .push((at(LENS, "0.31", 4), "5'6\" stands here".to_owned()));
    order.repair = Some(Repair {
        action: "write 0.34".to_owned(),
        evidence: "the residual falls from 11 % to 0.2 % of ring travel".to_owned(),
        edits: [
            Change::Position {
                mark: 3,
                position: 0.34,
            },
            Change::Value {
                mark: 4,
                value: f64::INFINITY,
                engraved: Some("∞".to_owned()),
            },
            Change::Remove { mark: 5 },
            Change::Unit(Unit::FeetInches),
            Change::Reference(DistanceReference::FrontVertex),
        ]
        .into_iter()
        .map(|change| Edit {
            lens: 0,
            axis: Axis::Focus,
            change,
        })
        .collect(),
    });
    let end = Finding::new(
        "no-infinity-mark",
        Severity::Error,
        Subject::Lens(0),
        "position 0.5 in a long line has no mark",
    )
    .at(Some(Place {
        input: 1,
        offset: long.find("0.5,").unwrap() as u64,
        length: 3,
        field: Some("marks[300]".to_owned()),
    }));
    FileReport {
        file: "halden-50.csv".to_owned(),
        findings: vec![order, end],
        left_out: 12,
        lenses: vec!["Halden Optikk Halden 50 #H-1008".to_owned()],
        sources,
        ..FileReport::default()
    }
}

/// A lens whose mark of 0.7 m was written as 7.0 m.
pub(crate) fn wrong_mark() -> FileReport {
    let text = "# maker: Halden Optikk\n# serial: H-1008\nring,position [0..1],mark [m]\nfocus,0.0,0.5\nfocus,0.4752,7.0\nfocus,1.0,inf\n";
    let mut sources = SourceFiles::new();
    sources.add_memory("halden-50.csv", text.as_bytes());
    let mut finding = Finding::new(
        "mark-off-the-curve",
        Severity::Error,
        Subject::Lens(0),
        "mark 7.0 m at 0.4752 is 45.1 % of travel from where the other marks put it",
    )
    .at(Some(at(text, "7.0", 3)))
    .value("value", 7.0, "m");
    finding.repair = Some(Repair {
        action: "write 0.7 m (digits swapped)".to_owned(),
        evidence: "so read, the marks are off by 5.94 % of travel at most".to_owned(),
        edits: vec![Edit {
            lens: 0,
            axis: Axis::Focus,
            change: Change::Value {
                mark: 1,
                value: 0.7,
                engraved: None,
            },
        }],
    });
    FileReport {
        file: "halden-50.csv".to_owned(),
        findings: vec![finding],
        lenses: vec!["Halden Optikk Halden 50 #H-1008".to_owned()],
        sources,
        ..FileReport::default()
    }
}

/// Rules as a program with two checks has them.
pub(crate) const RULES: [RuleText; 2] = [
    RuleText {
        id: "below-close-focus",
        title: "A distance below close focus",
        severity: Severity::Error,
        family: "optics",
        since: "0.1.0",
        explanation: "# below-close-focus\n\n## What it means\n\nThe recorded distance is one\nthe lens cannot focus at.\n\n## Why it matters\n\nDefocus is wrong.\n",
    },
    RuleText {
        id: "illegal-label",
        title: "A time code label that is skipped",
        severity: Severity::Error,
        family: "time",
        since: "0.1.0",
        explanation: "# illegal-label\n\n## What it means\n\nDrop-frame counting has no such label.\n",
    },
];

/// Files of every status: findings in text, none, binary and cut off, findings with a repair.
pub(crate) fn reports() -> Vec<FileReport> {
    vec![take(), clean(), sequence(), lens()]
}

/// The report on all of them.
pub(crate) fn made(report: &mut dyn Report) -> String {
    made_of(report, &reports())
}

/// The report on `files`.
pub(crate) fn made_of(report: &mut dyn Report, files: &[FileReport]) -> String {
    let mut out = Vec::new();
    report.start(&mut out).unwrap();
    for file in files {
        report.file(&mut out, file).unwrap();
    }
    report.end(&mut out).unwrap();
    String::from_utf8(out).unwrap()
}
