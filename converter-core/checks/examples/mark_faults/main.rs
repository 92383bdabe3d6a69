//! Faults put into invented lenses, and what the checks make of them:
//! `cargo run --release -p ringmark-checks --example mark_faults [-- SEED COUNT]`.
//!
//! Named: a finding of the right check at the right mark. Repair: the first finding with edits restores the scale as it
//! was (positions to half a per cent of travel for a slip and for infinity).
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::print_stdout,
    missing_docs
)]

mod faults;
mod lens;

use std::collections::BTreeMap;

use faults::{CLASSES, Faulty};
use lens::{DRIVES, Dice, make};
use ringmark_checks::{Checker, Settings};
use ringmark_model::{Finding, Lens, Piece, Place, Severity, edit};

fn check(lens: &Lens) -> Vec<Finding> {
    let mut lens = lens.clone();
    for (at, mark) in lens.rings[0].marks.iter_mut().enumerate() {
        mark.place = Some(Place::record(0, at as u64));
    }
    let mut checker = Checker::new(&Settings::default());
    checker.piece(&Piece::Lens(lens));
    let findings = checker.finish();
    findings
        .into_iter()
        .filter(|f| f.severity >= Severity::Warning)
        .collect()
}

#[derive(Default)]
struct Row {
    made: u32,
    found: u32,
    named: u32,
    repairable: u32,
    repaired: u32,
    wrong: u32,
}

fn main() {
    let arguments: Vec<u64> = std::env::args()
        .skip(1)
        .filter_map(|a| a.parse().ok())
        .collect();
    let (seed, count) = (
        arguments.first().copied().unwrap_or(1),
        arguments.get(1).copied().unwrap_or(60),
    );
    let told = std::env::var("TELL").ok();
    println!("seed {seed}, {count} of each class\n");
    println!(
        "{:32} {:>5} {:>7} {:>7} {:>8} {:>8}",
        "fault", "made", "found %", "named %", "repair %", "wrong"
    );
    let mut all = Row::default();
    for (name, fault) in CLASSES {
        let mut dice = Dice(
            seed.wrapping_mul(1_000_003)
                .wrapping_add(name.len() as u64 * 77),
        );
        let mut row = Row::default();
        for _ in 0..count * 400 {
            if u64::from(row.made) == count {
                break;
            }
            let made = make(&mut dice);
            let Some(faulty) = fault(&made, &mut dice) else {
                continue;
            };
            let findings = check(&faulty.lens);
            let before = (row.named, row.repaired);
            judge(&faulty, &findings, &mut row);
            let missed =
                row.named == before.0 || faulty.truth.is_some() && row.repaired == before.1;
            if missed && told.as_deref() == Some(*name) {
                tell(&faulty, &findings, &format!("{:?}", made.drive));
            }
        }
        print(name, &row);
        for (sum, part) in [
            (&mut all.made, row.made),
            (&mut all.found, row.found),
            (&mut all.named, row.named),
            (&mut all.repairable, row.repairable),
            (&mut all.repaired, row.repaired),
            (&mut all.wrong, row.wrong),
        ] {
            *sum += part;
        }
    }
    print("all", &all);
    clean(seed, count * 10, told.as_deref() == Some("clean"));
}

fn print(name: &str, row: &Row) {
    let share = |part: u32, of: u32| {
        if of == 0 {
            "-".to_owned()
        } else {
            format!("{:.1}", 100.0 * f64::from(part) / f64::from(of))
        }
    };
    println!(
        "{name:32} {:>5} {:>7} {:>7} {:>8} {:>8}",
        row.made,
        share(row.found, row.made),
        share(row.named, row.made),
        share(row.repaired, row.repairable),
        row.wrong
    );
}

fn judge(faulty: &Faulty, findings: &[Finding], row: &mut Row) {
    row.made += 1;
    let at = |finding: &Finding| {
        let here = finding.place.as_ref().map(|p| p.offset as usize);
        let also = finding.also.iter().map(|(p, _)| p.offset as usize);
        faulty.marks.is_empty()
            || here
                .into_iter()
                .chain(also)
                .any(|mark| faulty.marks.contains(&mark))
    };
    row.found += u32::from(findings.iter().any(at));
    row.named += u32::from(
        findings
            .iter()
            .any(|f| faulty.named.contains(&f.check.as_ref()) && at(f)),
    );
    let first = findings
        .iter()
        .find_map(|f| f.repair.as_ref().filter(|r| !r.edits.is_empty()));
    let right = first.is_some_and(|repair| {
        let mut lenses = [faulty.lens.clone()];
        edit::apply(&mut lenses, &repair.edits).unwrap();
        let ring = &lenses[0].rings[0];
        let near = |a: f64, b: f64| a == b || (a / b - 1.0).abs() < 0.012;
        faulty.truth.as_ref().is_some_and(|truth| {
            ring.marks.len() == truth.len()
                && ring
                    .marks
                    .iter()
                    .zip(truth)
                    .all(|(m, t)| (m.position - t.0).abs() < 0.006 && near(m.value, t.1))
        })
    });
    row.repairable += u32::from(faulty.truth.is_some());
    row.repaired += u32::from(right && faulty.truth.is_some());
    let slip = faulty.named == ["marks-shifted"] || faulty.named == ["labels-shifted"];
    row.wrong += u32::from(first.is_some() && !right && !slip);
}

fn tell(faulty: &Faulty, findings: &[Finding], drive: &str) {
    println!(
        "--- {drive} {:?} {:?} {:?} at {:?}",
        faulty.lens.focal_length.map(|f| f.0.mm()),
        faulty.lens.close_focus.map(|c| c.metres()),
        faulty.lens.rings[0].source_unit,
        faulty.marks
    );
    for mark in &faulty.lens.rings[0].marks {
        print!(
            "{:.4}:{} ",
            mark.position,
            mark.engraved.as_deref().unwrap_or("")
        );
    }
    println!();
    for f in findings {
        println!(
            "   {:?} {} {} | {} | {:?}",
            f.severity,
            f.check,
            f.message,
            f.repair.as_ref().map_or("", |r| &r.action),
            f.help
        );
    }
}

fn clean(seed: u64, count: u64, told: bool) {
    let mut dice = Dice(seed.wrapping_mul(7_777_777).wrapping_add(5));
    let mut rows: BTreeMap<_, (u32, u32, u32)> =
        DRIVES.into_iter().map(|drive| (drive, (0, 0, 0))).collect();
    for _ in 0..count {
        let made = make(&mut dice);
        let findings = check(&made.lens);
        let any = |severity| u32::from(findings.iter().any(|f| f.severity == severity));
        let row = rows.get_mut(&made.drive).unwrap();
        *row = (
            row.0 + 1,
            row.1 + any(Severity::Error),
            row.2 + any(Severity::Warning),
        );
        if told && !findings.is_empty() {
            tell(
                &Faulty {
                    lens: made.lens.clone(),
                    named: &[],
                    marks: vec![],
                    truth: None,
                },
                &findings,
                &format!("{:?}", made.drive),
            );
        }
    }
    println!(
        "\n{:32} {:>5} {:>7} {:>8}",
        "clean", "made", "errors", "warnings"
    );
    for (drive, (made, errors, warnings)) in rows {
        println!(
            "{:32} {made:>5} {errors:>7} {warnings:>8}",
            format!("{drive:?}")
        );
    }
}
