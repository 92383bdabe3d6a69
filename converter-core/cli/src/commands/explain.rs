//! `ringmark explain`

use std::fmt::Write;

use anyhow::{Result, bail};
use ringmark_checks::{Check, registry};
use ringmark_outputs::{ShowOptions, write_explanation};

use crate::args::Explain;
use crate::exit::Exit;
use crate::screen::Screen;

/// Explains one check, or lists them all.
pub fn explain(args: &Explain, screen: &Screen) -> Result<Exit> {
    let checks: Vec<&Check> = match &args.check {
        None => registry::all().collect(),
        Some(id) => match registry::find(id) {
            Some(check) => vec![check],
            None => match registry::nearest(id) {
                Some(nearest) => bail!("there is no check '{id}'; did you mean {nearest}?"),
                None => bail!("there is no check '{id}'; `ringmark explain` lists them all"),
            },
        },
    };
    if args.json {
        let list: Vec<serde_json::Value> = checks.iter().map(|check| json(check)).collect();
        let text = serde_json::to_string_pretty(&serde_json::json!({ "checks": list }))?;
        screen.result(&(text + "\n"))?;
        return Ok(Exit::Clean);
    }
    let mut text = String::new();
    if args.check.is_some() {
        for check in &checks {
            page(check, screen, &mut text)?;
        }
    } else {
        list(&checks, &mut text)?;
    }
    screen.result(&text)?;
    Ok(Exit::Clean)
}

fn page(check: &Check, screen: &Screen, text: &mut String) -> Result<()> {
    let info = &check.info;
    let options = ShowOptions {
        colour: screen.colour(),
        width: screen.width(),
    };
    write_explanation(text, info.explanation, options)?;
    writeln!(
        text,
        "\n{}, family {}, since {}",
        info.severity.name(),
        info.family.name(),
        info.since
    )?;
    Ok(())
}

fn list(checks: &[&Check], text: &mut String) -> Result<()> {
    let width = checks.iter().map(|c| c.info.id.len()).max().unwrap_or(0);
    let mut family = None;
    for check in checks {
        let info = &check.info;
        if family != Some(info.family) {
            if family.is_some() {
                writeln!(text)?;
            }
            writeln!(text, "{}", info.family.name())?;
            family = Some(info.family);
        }
        writeln!(
            text,
            "  {:width$}  {:7}  {}",
            info.id,
            info.severity.name(),
            info.title
        )?;
    }
    Ok(())
}

fn json(check: &Check) -> serde_json::Value {
    let info = &check.info;
    serde_json::json!({
        "id": info.id,
        "title": info.title,
        "severity": info.severity.name(),
        "family": info.family.name(),
        "since": info.since,
        "explanation": info.explanation,
        "thresholds": info.thresholds.iter().map(|t| serde_json::json!({
            "name": t.name,
            "default": t.default,
            "unit": t.unit,
            "why": t.why,
        })).collect::<Vec<_>>(),
    })
}
