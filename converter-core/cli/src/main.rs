//! Parses, dispatches and sets the exit status: nothing else.

use std::process::ExitCode;

use clap::Parser;
use ringmark::args::{Cli, Command};
use ringmark::commands;
use ringmark::exit::Exit;
use ringmark::screen::Screen;

fn main() -> ExitCode {
    let cli = Cli::parse();
    let screen = Screen::new(&cli);
    let done = match &cli.command {
        Command::Convert(args) => commands::convert::convert(&cli, args, &screen),
        Command::Check(args) => commands::check::check(&cli, args, &screen),
        Command::Show(args) => commands::show::show(&cli, args, &screen),
        Command::StMap(args) => commands::st_map::st_map(&cli, args, &screen),
        Command::Formats(args) => commands::formats::formats(&cli, args, &screen),
        Command::Drift(args) => commands::drift::drift(&cli, args, &screen),
        Command::Plan(args) => commands::plan::plan(args, &screen),
        Command::Transfer(args) => commands::transfer::transfer(args, &screen),
        Command::Ring(args) => commands::ring::ring(args, &screen),
        Command::Explain(args) => commands::explain::explain(args, &screen),
        Command::Plugin(args) => commands::plugin::plugin(&cli, args, &screen),
        Command::Completions(args) => commands::completions::completions(args, &screen),
        Command::Man(args) => commands::man::man(&cli, args, &screen),
    };
    let exit = done.unwrap_or_else(|error| {
        let text = ringmark_outputs::safe_lines(&format!("{error:#}"));
        screen.talk(&format!("ringmark: {text}\n"));
        Exit::Failed
    });
    exit.into()
}
