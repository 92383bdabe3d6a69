//! Findings as one page that needs nothing else: a table of takes and lenses, and for each its findings, with traces and
//! scales drawn when it is opened. The page holds the data as JSON that nothing runs; what runs is known by its digest.

mod data;
mod policy;

use std::io::{self, Write};

use askama::Template;

use crate::later::Later;
use crate::report::{FileReport, Interrupted, Report, Status, Tally};
use crate::rule::RuleText;
use crate::safe::safe;
use data::{Page, Rules, embedded};
use policy::digest;

const PLOT_SCRIPT: &str = include_str!("uplot/uPlot.iife.min.js");
const PLOT_STYLE: &str = include_str!("uplot/uPlot.min.css");
const PLOT_LICENCE: &str = include_str!("uplot/LICENSE");
const STYLE: &str = include_str!("page.css");
/// In one scope, in this order.
const SCRIPT: &str = concat!(
    "(() => {\n\"use strict\";\n",
    include_str!("words.js"),
    include_str!("plots.js"),
    include_str!("take.js"),
    include_str!("lens.js"),
    include_str!("file.js"),
    include_str!("table.js"),
    "})();\n"
);

/// What stands before the rows.
#[derive(Template)]
#[template(path = "head.html")]
struct Head<'a> {
    policy: String,
    plot_style: &'a str,
    style: &'a str,
    summary: String,
    failed: bool,
}

/// A row of the table.
#[derive(Template)]
#[template(path = "row.html")]
struct Row<'a> {
    index: u64,
    name: String,
    kind: &'static str,
    file: &'a str,
    lens: String,
    frames: Option<u64>,
    counts: [u64; 3],
    state: &'static str,
    words: &'static str,
}

/// What stands between the rows and the data, and after the data.
#[derive(Template)]
#[template(path = "middle.html")]
struct Middle<'a> {
    program: &'a str,
}

/// What stands after the data.
#[derive(Template)]
#[template(path = "foot.html")]
struct Foot<'a> {
    rules: String,
    plot_licence: &'a str,
    plot_script: &'a str,
    script: &'a str,
}

/// Findings, traces and scales as one page.
#[derive(Debug)]
pub struct HtmlReport {
    program: String,
    rules: Vec<RuleText>,
    tally: Tally,
    rows: Later,
    data: Later,
}

impl HtmlReport {
    /// Of no files yet; `program` is name and version, `rules` are all checks it has.
    pub fn new(program: impl Into<String>, rules: Vec<RuleText>) -> Self {
        HtmlReport {
            program: program.into(),
            rules,
            tally: Tally::default(),
            rows: Later::new(),
            data: Later::new(),
        }
    }
}

impl Report for HtmlReport {
    fn start(&mut self, _: &mut dyn Write) -> io::Result<()> {
        Ok(())
    }

    fn file(&mut self, _: &mut dyn Write, file: &FileReport) -> io::Result<()> {
        let index = self.tally.files;
        self.tally.add(file);
        row(index, file).write_into(&mut self.rows)?;
        let data = embedded(&Page::of(file))?;
        writeln!(
            self.data,
            "<script type=\"application/json\" id=\"d{index}\">{data}</script>"
        )
    }

    fn interrupted(&mut self, interrupted: Interrupted) {
        self.tally.interrupted = Some(interrupted);
    }

    fn end(&mut self, out: &mut dyn Write) -> io::Result<()> {
        let head = Head {
            policy: format!(
                "default-src 'none'; script-src {} {}; style-src {} {}; base-uri 'none'; form-action 'none'",
                digest(PLOT_SCRIPT),
                digest(SCRIPT),
                digest(PLOT_STYLE),
                digest(STYLE),
            ),
            plot_style: PLOT_STYLE,
            style: STYLE,
            summary: self.tally.words(),
            failed: self.tally.failed > 0 || self.tally.interrupted.is_some(),
        };
        head.write_into(out)?;
        self.rows.put(out)?;
        let middle = Middle {
            program: &self.program,
        };
        middle.write_into(out)?;
        self.data.put(out)?;
        let foot = Foot {
            rules: embedded(&Rules::of(&self.rules))?,
            plot_licence: PLOT_LICENCE,
            plot_script: PLOT_SCRIPT,
            script: SCRIPT,
        };
        foot.write_into(out)
    }
}

fn row(index: u64, file: &FileReport) -> Row<'_> {
    let mut counted = Tally::default();
    counted.add(file);
    let counts = counted.counts;
    let (takes, lenses) = (file.takes.as_slice(), file.lenses.as_slice());
    let (kind, names) = match (takes.is_empty(), lenses.is_empty()) {
        (false, _) => ("take", takes),
        (true, false) => ("lens", lenses),
        (true, true) => ("file", std::slice::from_ref(&file.file)),
    };
    let pictures = file.pictures.as_ref().map(|pictures| &pictures.takes);
    Row {
        index,
        name: safe(&names.join(", ")).into_owned(),
        kind,
        file: &file.file,
        lens: match kind {
            "take" => safe(&lenses.join(", ")).into_owned(),
            _ => String::new(),
        },
        frames: pictures
            .filter(|takes| !takes.is_empty())
            .map(|takes| takes.iter().map(|take| take.frames).sum()),
        counts: [counts.error, counts.warning, counts.note],
        state: match file.status() {
            Status::Failed => "failed",
            _ if counts.error > 0 => "error",
            _ if counts.warning > 0 => "warning",
            _ if counts.note > 0 => "note",
            _ => "clean",
        },
        words: match file.status() {
            Status::Failed => "not finished",
            Status::Findings => "findings",
            Status::Clean => "clean",
        },
    }
}

#[cfg(test)]
mod tests;
