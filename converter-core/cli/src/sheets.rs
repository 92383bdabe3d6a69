//! A result on paper, in a file for programs and on the screen: each in the form its ending or an option asks for.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use crate::save::Output;
use crate::screen::Screen;

/// The form of a result.
#[derive(Clone, Copy)]
pub enum Form {
    /// For programs.
    Json,
    /// To print.
    Svg,
    /// For people.
    Text,
}

impl Form {
    fn of(path: &Path) -> Result<Form> {
        match path.extension().and_then(|ending| ending.to_str()) {
            Some("json") => Ok(Form::Json),
            Some("svg") => Ok(Form::Svg),
            Some("txt") => Ok(Form::Text),
            _ => bail!("{}: outputs end in .svg, .txt or .json", path.display()),
        }
    }
}

/// Files that a person asked for.
pub struct Sheets<'a>(Vec<(&'a Path, Form)>);

impl<'a> Sheets<'a> {
    /// Their forms follow from their endings.
    pub fn of(paths: &'a [PathBuf]) -> Result<Self> {
        let forms = paths.iter().map(|path| Ok((&**path, Form::of(path)?)));
        Ok(Sheets(forms.collect::<Result<_>>()?))
    }

    /// Writes all files, and never onto one of `inputs`.
    pub fn write(
        &self,
        force: bool,
        inputs: &[PathBuf],
        made: impl Fn(Form) -> Result<Vec<u8>>,
    ) -> Result<()> {
        // All or none: none stands under its name before the last one is written.
        let mut written = Vec::new();
        for (path, form) in &self.0 {
            let mut output = Output::create(path, force, inputs)?;
            output
                .write_all(&made(*form)?)
                .with_context(|| format!("{}: cannot write", path.display()))?;
            written.push(output);
        }
        written.into_iter().try_for_each(Output::finish)
    }
}

/// Shows a result, as JSON or for people.
pub fn show(json: bool, screen: &Screen, made: impl Fn(Form) -> Result<Vec<u8>>) -> Result<()> {
    screen.result(&made(if json { Form::Json } else { Form::Text })?)
}
