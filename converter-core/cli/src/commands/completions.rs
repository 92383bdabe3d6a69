//! `ringmark completions`

use anyhow::Result;
use clap::CommandFactory;

use crate::args::{Cli, Completions};
use crate::exit::Exit;
use crate::screen::Screen;

/// Prints the completions of one shell.
pub fn completions(args: &Completions, screen: &Screen) -> Result<Exit> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "ringmark", &mut script);
    screen.result(&script)?;
    Ok(Exit::Clean)
}
