//! The build helper: `cargo house plugins` builds the bundled components from source,
//! `cargo house plugins --check` proves that the committed ones match it.

mod component;
mod digest;
mod lock;
mod toolchain;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, Result};
use clap::{Parser, Subcommand};

#[derive(Parser)]
#[command(about = "Builds and checks the generated files of this repository")]
struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Build the bundled plugins into plugins/bundled
    Plugins {
        /// Write nothing: fail if a committed component does not match its source
        #[arg(long)]
        check: bool,
        /// Compare digests of the sources only, without a wasm compiler
        #[arg(long, requires = "check")]
        sources_only: bool,
        /// Only these plugins
        names: Vec<String>,
    },
    /// Build one plugin's folder into a component, for trying it out
    Build {
        /// Folder of the plugin's crate
        folder: PathBuf,
        /// Where to write the component
        #[arg(short, long)]
        output: PathBuf,
    },
}

fn main() -> ExitCode {
    match run(&Args::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("house: {error:#}");
            ExitCode::from(2)
        }
    }
}

fn run(args: &Args) -> Result<()> {
    let root = root()?;
    match &args.command {
        Command::Plugins {
            check,
            sources_only,
            names,
        } => plugins(&root, *check, *sources_only, names),
        Command::Build { folder, output } => {
            let toolchain = toolchain::find()?;
            let wasm = component::build(&root, folder, &toolchain, false)?;
            std::fs::write(output, &wasm)
                .with_context(|| format!("cannot write {}", output.display()))?;
            println!("{}: {} bytes", output.display(), wasm.len());
            Ok(())
        }
    }
}

/// The workspace folder: this crate lies two levels below it.
fn root() -> Result<PathBuf> {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .ancestors()
        .nth(2)
        .map(Path::to_path_buf)
        .context("the build helper has been moved out of plugins/")
}

/// Folders under plugins/ that hold a format: those with a manifest.
fn format_folders(root: &Path) -> Result<Vec<PathBuf>> {
    let plugins = root.join("plugins");
    let mut folders = Vec::new();
    for entry in std::fs::read_dir(&plugins).context("cannot list plugins/")? {
        let path = entry?.path();
        if path.join("manifest.json").is_file() && path.join("Cargo.toml").is_file() {
            folders.push(path);
        }
    }
    folders.sort();
    Ok(folders)
}

fn plugins(root: &Path, check: bool, sources_only: bool, names: &[String]) -> Result<()> {
    let toolchain = if sources_only {
        None
    } else {
        Some(toolchain::find()?)
    };
    let mut lock = lock::Lock::read(root)?;
    let mut stale = Vec::new();
    for folder in format_folders(root)? {
        let name = folder
            .file_name()
            .and_then(|n| n.to_str())
            .context("a plugin folder has a name that is not UTF-8")?
            .to_owned();
        if !names.is_empty() && !names.contains(&name) {
            continue;
        }
        let sources = digest::sources(root, &folder)?;
        let committed = lock.entry(&name).cloned();
        if check {
            stale.extend(lock::compare(root, &name, &sources, committed.as_ref())?);
        }
        let Some(toolchain) = &toolchain else {
            continue;
        };
        let wasm = component::build(root, &folder, toolchain, true)?;
        let fresh = lock::Entry::new(&name, &folder, &wasm, sources, toolchain)?;
        if check {
            match committed {
                Some(old) if old.compiler == fresh.compiler && old.sha256 != fresh.sha256 => {
                    stale.push(format!(
                        "{name}: built anew with the recorded compiler, the bytes differ"
                    ));
                }
                Some(old) if old.compiler != fresh.compiler => {
                    println!(
                        "{name}: sources match; bytes not compared, built with '{}', here is '{}'",
                        old.compiler, fresh.compiler
                    );
                }
                _ => println!("{name}: matches its source, {} bytes", wasm.len()),
            }
        } else {
            std::fs::write(lock::component_path(root, &name), &wasm)?;
            println!("{name}: {} bytes, sha256 {}", wasm.len(), fresh.sha256);
            lock.set(fresh);
        }
    }
    if check {
        anyhow::ensure!(
            stale.is_empty(),
            "{}\nrun `cargo house plugins` and commit plugins/bundled",
            stale.join("\n")
        );
        Ok(())
    } else {
        lock.write(root)
    }
}
