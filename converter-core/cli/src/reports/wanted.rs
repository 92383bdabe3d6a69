//! Which reports a person asked for.

use std::path::{Path, PathBuf};

use anyhow::{Result, bail};
use ringmark_checks::registry;
use ringmark_outputs::{
    ConciseReport, FailsFrom, HtmlReport, JsonReport, JsonlReport, JunitReport, Report, RuleText,
    SarifReport, TextOptions, TextReport, safe,
};

use crate::pipeline::program;

/// A kind of report.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// For people, in full.
    Text,
    /// For people and editors, a line a finding.
    Concise,
    /// One JSON document.
    Json,
    /// JSON lines.
    Jsonl,
    /// For programs that show findings beside their place.
    Sarif,
    /// For programs that show which checks passed.
    Junit,
    /// For people who look at traces: one page.
    Html,
}

impl Kind {
    const ALL: [(&str, Kind); 7] = [
        ("text", Kind::Text),
        ("concise", Kind::Concise),
        ("json", Kind::Json),
        ("jsonl", Kind::Jsonl),
        ("sarif", Kind::Sarif),
        ("junit", Kind::Junit),
        ("html", Kind::Html),
    ];

    fn named(name: &str) -> Result<Kind> {
        if let Some((_, kind)) = Kind::ALL.iter().find(|(known, _)| *known == name) {
            return Ok(*kind);
        }
        let known: Vec<&str> = Kind::ALL.iter().map(|(known, _)| *known).collect();
        bail!(
            "there is no report '{}'; there are {}",
            safe(name),
            known.join(", ")
        )
    }

    /// The report, of no files yet.
    pub(super) fn report(self, colour: bool, fails_from: FailsFrom) -> Box<dyn Report> {
        let options = TextOptions {
            colour,
            ..TextOptions::default()
        };
        match self {
            Kind::Text => Box::new(TextReport::new(options)),
            Kind::Concise => Box::new(ConciseReport::new(options)),
            Kind::Json => Box::new(JsonReport::new(program())),
            Kind::Jsonl => Box::new(JsonlReport::new(program())),
            Kind::Sarif => Box::new(SarifReport::new(
                env!("CARGO_PKG_VERSION"),
                rules(),
                fails_from,
                // Without a folder to stand in, names stay as they are.
                std::env::current_dir()
                    .ok()
                    .map(|folder| folder.display().to_string()),
            )),
            Kind::Junit => Box::new(JunitReport::new(fails_from)),
            Kind::Html => Box::new(HtmlReport::new(program(), rules())),
        }
    }
}

/// What every check says about itself.
fn rules() -> Vec<RuleText> {
    registry::all()
        .map(|check| RuleText {
            id: check.info.id,
            title: check.info.title,
            severity: check.info.severity,
            family: check.info.family.name(),
            since: check.info.since,
            explanation: check.info.explanation,
        })
        .collect()
}

/// A report that is to be made.
#[derive(Debug, PartialEq, Eq)]
pub struct Wanted {
    /// What it is.
    pub kind: Kind,
    /// Where it goes; `None` is standard output.
    path: Option<PathBuf>,
}

impl Wanted {
    /// Where it goes, `-` for standard output.
    pub(super) fn place(&self) -> &Path {
        self.path.as_deref().unwrap_or(Path::new("-"))
    }
}

/// The reports that `--report KIND[=PATH]` ask for, and text on standard output if all others go into files.
pub fn wanted(asked: &[String]) -> Result<Vec<Wanted>> {
    let mut all: Vec<Wanted> = Vec::new();
    for text in asked {
        let (kind, path) = match text.split_once('=') {
            Some((_, "")) => bail!("--report {}: no path after =", safe(text)),
            None | Some((_, "-")) => (text.split('=').next().unwrap_or(text), None),
            Some((kind, path)) => (kind, Some(PathBuf::from(path))),
        };
        let kind = Kind::named(kind)?;
        let place = path.as_deref().map(one_name);
        if all
            .iter()
            .any(|other| other.path.as_deref().map(one_name) == place)
        {
            match &path {
                None => bail!("two reports for standard output; say --report KIND=PATH for one"),
                Some(path) => bail!("{}: two reports cannot share a file", path.display()),
            }
        }
        all.push(Wanted { kind, path });
    }
    if all.iter().all(|wanted| wanted.path.is_some()) {
        all.push(Wanted {
            kind: Kind::Text,
            path: None,
        });
    }
    Ok(all)
}

/// One name for a file that is there or not yet, however its folder is spelled.
fn one_name(path: &Path) -> PathBuf {
    if let Ok(path) = path.canonicalize() {
        return path;
    }
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    match (folder.canonicalize(), path.file_name()) {
        (Ok(folder), Some(name)) => folder.join(name),
        _ => path.to_path_buf(),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn of(asked: &[&str]) -> Result<Vec<(Kind, String)>> {
        let asked: Vec<String> = asked.iter().map(|&a| a.to_owned()).collect();
        let all = wanted(&asked)?;
        let told = all
            .iter()
            .map(|w| (w.kind, w.place().display().to_string()));
        Ok(told.collect())
    }

    #[test]
    fn text_is_on_the_screen_unless_something_else_is() {
        let text = || (Kind::Text, "-".to_owned());
        assert_eq!(of(&[]).unwrap(), [text()]);
        let file = (Kind::Json, "a=b.json".to_owned());
        assert_eq!(of(&["json=a=b.json"]).unwrap(), [file.clone(), text()]);
        let concise = (Kind::Concise, "-".to_owned());
        assert_eq!(
            of(&["json=a=b.json", "concise=-"]).unwrap(),
            [file, concise]
        );
    }

    #[test]
    fn two_reports_never_share_a_place() {
        let folder = tempfile::tempdir().unwrap();
        let path = |name: &str| format!("{}/{name}", folder.path().display());
        let twice = |a: &str, b: &str| {
            of(&[&format!("json={}", path(a)), &format!("jsonl={}", path(b))])
                .err()
                .map(|e| e.to_string())
        };
        assert_eq!(twice("a", "b"), None);
        assert!(twice("a", "a").unwrap().contains("cannot share"));
        assert!(twice("a", "./a").unwrap().contains("cannot share"));
        let screen = of(&["json", "text=-"]).unwrap_err().to_string();
        assert!(screen.contains("standard output"), "{screen}");
    }

    #[test]
    fn what_there_is_is_said() {
        let error = of(&["jsonn"]).unwrap_err().to_string();
        assert_eq!(
            error,
            "there is no report 'jsonn'; there are text, concise, json, jsonl, sarif, junit, html"
        );
        assert!(of(&["json="]).is_err());
    }
}
