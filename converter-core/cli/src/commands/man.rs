//! `ringmark man`

use std::io::Write;

use anyhow::{Context, Result};
use clap::CommandFactory;

use crate::args::{Cli, Man};
use crate::exit::Exit;
use crate::save::Output;
use crate::screen::Screen;

/// Writes a page for the program and one for each command.
pub fn man(cli: &Cli, args: &Man, screen: &Screen) -> Result<Exit> {
    let folder = &args.folder;
    std::fs::create_dir_all(folder)
        .with_context(|| format!("{}: cannot make this folder", folder.display()))?;
    let mut program = Cli::command();
    // Names such as `ringmark-plugin-add` are known once it is built.
    program.build();
    let mut pages = Vec::new();
    collect(&program, &mut pages);
    for page in &pages {
        let page = clap_mangen::Man::new(page.clone());
        let mut output = Output::create(&folder.join(page.get_filename()), args.force, &[])?;
        page.render(&mut output)?;
        output.flush()?;
        output.finish()?;
    }
    if !cli.quiet {
        screen.talk(&format!(
            "{} man pages → {}\n",
            pages.len(),
            folder.display()
        ));
    }
    Ok(Exit::Clean)
}

/// A command and those under it; `help` only repeats the others.
fn collect(command: &clap::Command, pages: &mut Vec<clap::Command>) {
    pages.push(command.clone());
    for below in command.get_subcommands() {
        if below.get_name() != "help" {
            collect(below, pages);
        }
    }
}
