//! Results of earlier runs: what they may save, and that nobody can tell them from fresh ones.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use ringmark_tests::{Program, Ran, ran, sample};

use crate::batch::{cards, without_progress};
use crate::{names, program};

/// The program with a cache of its own.
struct Cache(Program);

impl Cache {
    fn new() -> Cache {
        Cache(program().without_results().unwrap())
    }

    fn command(&self) -> Command {
        self.0.command()
    }

    fn database(&self) -> PathBuf {
        let folder = self.0.cache().join("results");
        let names = names(&folder);
        assert_eq!(names.len(), 1, "{names:?}");
        folder.join(&names[0])
    }

    /// A check with all reports.
    fn check(&self, inputs: &Path, more: &[&str]) -> Said {
        let out = tempfile::tempdir().unwrap();
        let mut command = self.command();
        command.arg("check").arg(inputs).args(more);
        for kind in ["json", "jsonl", "concise"] {
            command.arg("--report");
            command.arg(format!("{kind}={}/{kind}", out.path().display()));
        }
        let Ran {
            status,
            out: text,
            err,
        } = ran(command.output().unwrap());
        let reports = names(out.path())
            .iter()
            .map(|name| std::fs::read_to_string(out.path().join(name)).unwrap())
            .chain([text])
            .collect();
        let err = without_progress(&err);
        let (unchanged, talk) = err
            .lines()
            .partition::<Vec<&str>, _>(|line| line.starts_with("unchanged since"));
        let counts = unchanged.first().and_then(|line| line.split(": ").nth(1));
        Said {
            status,
            reports,
            talk: talk.join("\n"),
            unchanged: counts.unwrap_or_default().to_owned(),
        }
    }
}

struct Said {
    status: i32,
    reports: Vec<String>,
    talk: String,
    /// `5 of 12 files`
    unchanged: String,
}

impl Said {
    #[track_caller]
    fn is(&self, other: &Said) {
        assert_eq!(self.status, other.status);
        assert_eq!(self.reports.len(), 4, "{}", self.talk);
        assert!(self.reports == other.reports, "reports differ");
        assert_eq!(self.talk, other.talk);
    }
}

#[test]
fn a_second_run_says_the_same_without_checking() {
    let (cache, folder) = (Cache::new(), cards(50));
    // The lens of one in five takes stands among them, so they are compared with it.
    std::fs::copy(
        sample("brannvik-40.csv"),
        folder.path().join("brannvik.csv"),
    )
    .unwrap();
    let run = |more: &[&str]| cache.check(folder.path(), more);
    let fresh = run(&[]);
    assert!(
        fresh.talk.contains("0000.csv: compared with the marks in "),
        "{}",
        fresh.talk
    );
    let first = run(&["--changed-only"]);
    first.is(&fresh);
    assert_eq!(first.unchanged, "0 of 52 files");
    let second = run(&["--changed-only"]);
    second.is(&fresh);
    // Ten of them cannot be read; the next run may fare better.
    assert_eq!(second.unchanged, "42 of 52 files");
    // As often as one likes, and on as many cores.
    let third = run(&["--changed-only", "--jobs", "1"]);
    third.is(&fresh);
    assert_eq!(third.unchanged, "42 of 52 files");
}

#[test]
fn what_changes_a_result_makes_it_a_new_one() {
    let (cache, folder) = (Cache::new(), cards(10));
    let at = |name: &str| folder.path().join(name);
    std::fs::copy(sample("brannvik-40.csv"), at("brannvik.csv")).unwrap();
    let run = |more: &[&str]| {
        let fresh = cache.check(folder.path(), more);
        let mut all = more.to_vec();
        all.push("--changed-only");
        let said = cache.check(folder.path(), &all);
        said.is(&fresh);
        said.unchanged
    };
    assert_eq!(run(&[]), "0 of 12 files");
    assert_eq!(run(&[]), "10 of 12 files");
    // Another time of the same content is no change; another content at the same time is one.
    let time = std::fs::metadata(at("0000.csv"))
        .unwrap()
        .modified()
        .unwrap();
    let file = std::fs::File::options()
        .write(true)
        .open(at("0005.csv"))
        .unwrap();
    file.set_modified(time - Duration::from_secs(3600)).unwrap();
    assert_eq!(run(&[]), "10 of 12 files");
    let text = std::fs::read_to_string(at("0000.csv")).unwrap();
    std::fs::write(at("0000.csv"), text.replace("0.4", "0.5")).unwrap();
    let file = std::fs::File::options()
        .write(true)
        .open(at("0000.csv"))
        .unwrap();
    file.set_modified(time).unwrap();
    assert_eq!(run(&[]), "9 of 12 files");
    assert_eq!(run(&[]), "10 of 12 files");
    // The lens of two takes: they are compared with other marks.
    let lens = std::fs::read_to_string(at("brannvik.csv")).unwrap();
    std::fs::write(at("brannvik.csv"), format!("{lens}\n")).unwrap();
    let after: usize = run(&[]).split(' ').next().unwrap().parse().unwrap();
    assert!((5..10).contains(&after), "{after}");
    assert_eq!(run(&[]), "10 of 12 files");
    // Options and profiles.
    assert_eq!(run(&["--rangefinder-offset", "120mm"]), "0 of 12 files");
    let elsewhere = tempfile::tempdir().unwrap();
    let lens = elsewhere.path().join("b.lens.json").display().to_string();
    let mut convert = cache.command();
    let made = convert
        .args(["convert", "samples/brannvik-40.csv", "-o", &lens])
        .output();
    assert!(made.unwrap().status.success());
    assert_eq!(run(&["--lens", &lens]), "0 of 12 files");
    assert_eq!(run(&["--lens", &lens]), "10 of 12 files");
    std::fs::write(
        at("one.toml"),
        "[checks.timecode-gap]\nseverity = \"note\"\n",
    )
    .unwrap();
    let profile = at("one.toml").display().to_string();
    assert_eq!(run(&["--profile", &profile]), "0 of 12 files");
    assert_eq!(run(&["--profile", &profile]), "10 of 12 files");
    // A mapping beside a take.
    std::fs::write(at("0004.mapping.toml"), "").unwrap();
    let with_mapping = run(&[]);
    assert!(
        with_mapping == "9 of 12 files" || with_mapping == "8 of 12 files",
        "{with_mapping}"
    );
    std::fs::remove_file(at("0004.mapping.toml")).unwrap();
    assert_eq!(run(&[]), "10 of 12 files");
}

#[test]
fn an_acceptance_that_ends_is_not_outlived_by_the_result() {
    // The profile says until when: its digest stays, the day does not. A day of the past stands for tomorrow.
    let (cache, folder) = (Cache::new(), tempfile::tempdir().unwrap());
    std::fs::copy(
        sample("faulty/A013C001.csv"),
        folder.path().join("A013C001.csv"),
    )
    .unwrap();
    let profile = folder.path().join("show.toml");
    let accept = |until: &str| {
        let text = format!(
            "[[accept]]\ncheck = \"timecode-gap\"\nreason = \"restarted\"\nuntil = {until}\n"
        );
        std::fs::write(&profile, text).unwrap();
        let more = ["--changed-only", "--profile", profile.to_str().unwrap()];
        let input = folder.path().join("A013C001.csv");
        (cache.check(&input, &more), cache.check(&input, &more))
    };
    for (until, accepted) in [("2999-12-31", true), ("2001-12-31", false)] {
        let (first, second) = accept(until);
        second.is(&first);
        assert_eq!(second.unchanged, "1 of 1 file");
        let json = &second.reports[1];
        assert_eq!(
            json.contains("\"reason\": \"restarted\""),
            accepted,
            "{json}"
        );
        assert_eq!(json.contains("was accepted until 2001-12-31"), !accepted);
    }
}

#[test]
fn a_damaged_store_costs_a_line_and_no_result() {
    let (cache, folder) = (Cache::new(), cards(20));
    let fresh = cache.check(folder.path(), &[]);
    cache.check(folder.path(), &["--changed-only"]);
    let sound = std::fs::read(cache.database()).unwrap();
    let mut upside_down = sound.clone();
    upside_down.reverse();
    let half = sound[..sound.len() / 2].to_vec();
    for damaged in [b"frame,T-stop\n".to_vec(), upside_down, half] {
        std::fs::write(cache.database(), damaged).unwrap();
        let said = cache.check(folder.path(), &["--changed-only"]);
        assert_eq!((said.status, said.reports.len()), (fresh.status, 4));
        assert!(said.reports == fresh.reports);
        let about: Vec<&str> = said
            .talk
            .lines()
            .filter(|l| l.contains("store of results"))
            .collect();
        assert!(about.len() <= 1, "{}", said.talk);
        cache.check(folder.path(), &["--changed-only"]);
        let after = cache.check(folder.path(), &["--changed-only"]);
        after.is(&fresh);
        assert_eq!(after.unchanged, "17 of 21 files");
    }
    let refused = ran(cache
        .command()
        .args([
            "check",
            "samples/brannvik-40.csv",
            "--changed-only",
            "--repair",
            "x.lens.json",
        ])
        .output()
        .unwrap());
    assert_eq!(refused.status, 2);
}

#[test]
fn runs_at_the_same_time_share_the_store() {
    let (cache, folder) = (Cache::new(), cards(60));
    let fresh = cache.check(folder.path(), &[]);
    let said: Vec<Said> = std::thread::scope(|scope| {
        let run = || cache.check(folder.path(), &["--changed-only"]);
        let runs: Vec<_> = (0..4).map(|_| scope.spawn(run)).collect();
        runs.into_iter().map(|run| run.join().unwrap()).collect()
    });
    said.iter().for_each(|said| said.is(&fresh));
    let after = cache.check(folder.path(), &["--changed-only"]);
    after.is(&fresh);
    assert_eq!(after.unchanged, "49 of 61 files");
}

#[cfg(unix)]
#[test]
fn a_run_that_is_killed_leaves_a_sound_store_and_no_part_of_a_report() {
    let (cache, folder) = (Cache::new(), cards(150));
    let began = Instant::now();
    let fresh = cache.check(folder.path(), &[]);
    let long = began.elapsed();
    let out = tempfile::tempdir().unwrap();
    let report = out.path().join("report.json");
    let mut killed = 0;
    for round in 0..16_u32 {
        let mut command = cache.command();
        command
            .arg("check")
            .arg(folder.path())
            .arg("--changed-only")
            // Of no effect here but that nothing is recalled: every round writes.
            .arg(format!("--rangefinder-offset={}mm", round + 1))
            .arg("--report")
            .arg(format!("json={}", report.display()))
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        let mut child = command.spawn().unwrap();
        // Anywhere in the run: from before its first line to about its end.
        std::thread::sleep(long * (round * 7 % 16) / 16);
        child.kill().unwrap();
        let status = child.wait().unwrap();
        killed += u32::from(status.code().is_none());
        if report.exists() {
            let whole = std::fs::read_to_string(&report).unwrap();
            assert!(
                whole == fresh.reports[1],
                "round {round}: a report that is not whole"
            );
            std::fs::remove_file(&report).unwrap();
        }
    }
    assert!(killed > 4, "{killed} killed");
    let after = cache.check(folder.path(), &["--changed-only"]);
    // Nothing is said of a store that was damaged.
    after.is(&fresh);
}
