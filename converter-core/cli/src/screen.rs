//! Results go to stdout, talk goes to stderr; colour only where a terminal takes it.

use std::io::{IsTerminal, Write};

use crate::args::{Cli, Colour};

/// What the terminal can take.
pub struct Screen {
    colour_out: bool,
    colour_err: bool,
}

impl Screen {
    /// As the terminal, `--colour` and the usual environment variables say.
    pub fn new(cli: &Cli) -> Screen {
        let auto = |terminal: bool| match cli.colour {
            Colour::Always => true,
            Colour::Never => false,
            Colour::Auto => {
                let off = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
                let forced = std::env::var_os("CLICOLOR_FORCE").is_some_and(|v| v != "0");
                !off && (terminal || forced)
            }
        };
        Screen {
            colour_out: auto(std::io::stdout().is_terminal()),
            colour_err: auto(std::io::stderr().is_terminal()),
        }
    }

    /// Whether results are coloured.
    pub fn colour(&self) -> bool {
        self.colour_out
    }

    /// Whether talk is coloured.
    pub fn colour_on_stderr(&self) -> bool {
        self.colour_err
    }

    /// Columns that results may fill: what `COLUMNS` says, else those of the terminal, else 100.
    pub fn width(&self) -> usize {
        std::env::var("COLUMNS")
            .ok()
            .and_then(|columns| columns.parse().ok())
            .or_else(|| {
                let (width, _) = terminal_size::terminal_size_of(std::io::stdout())?;
                Some(usize::from(width.0))
            })
            .unwrap_or(100)
    }

    /// Writes a result. A reader that has seen enough (`| head`) is no error.
    pub fn result(&self, text: impl AsRef<[u8]>) -> anyhow::Result<()> {
        match std::io::stdout().lock().write_all(text.as_ref()) {
            Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
            other => Ok(other?),
        }
    }

    /// Says something that is no result.
    pub fn talk(&self, text: &str) {
        // Nothing is left to say it on if stderr is gone.
        let _ = std::io::stderr().lock().write_all(text.as_bytes());
    }
}
