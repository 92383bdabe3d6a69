//! `ringmark plugin`

use std::fmt::Write as _;
use std::path::Path;

use anyhow::{Context, Result, bail};
use ringmark_host::{CacheMode, Host, HostConfig, Limits};
use ringmark_model::Manifest;

use crate::args::{Cli, Plugin, PluginAction};
use crate::exit::Exit;
use crate::formats::{Formats, Pin, Pins, neutral_manifests};
use crate::hash;
use crate::screen::Screen;

/// Adds, lists or removes plugins.
pub fn plugin(cli: &Cli, args: &Plugin, screen: &Screen) -> Result<Exit> {
    match &args.action {
        PluginAction::Add { file, force } => add(cli, file, *force, screen),
        PluginAction::List => list(cli, screen),
        PluginAction::Remove { name } => remove(name, screen),
    }
}

fn add(cli: &Cli, file: &Path, force: bool, screen: &Screen) -> Result<Exit> {
    let name = file.display();
    let wasm = std::fs::read(file).with_context(|| format!("{name}: cannot read"))?;
    let sha256 = hash::of_bytes(&wasm);
    let host = Host::new(HostConfig {
        limits: Limits::default(),
        cache: CacheMode::Off,
    })?;
    let plugin = host
        .foreign(wasm.clone(), &sha256)
        .with_context(|| format!("{name}: not added"))?;
    let manifest = plugin.manifest().clone();
    let reserved = neutral_manifests().iter().any(|m| m.name == manifest.name);
    let formats = Formats::bundled(cli.no_cache)?;
    if reserved
        || formats
            .plugins()
            .iter()
            .any(|p| p.manifest().name == manifest.name)
    {
        bail!("'{}' is the name of a bundled format", manifest.name);
    }
    let mut pins = Pins::read()?;
    if !force
        && pins
            .plugins
            .iter()
            .any(|p| p.manifest.name == manifest.name)
    {
        bail!(
            "a plugin '{}' was added before; --force replaces it",
            manifest.name
        );
    }
    let stored = pins.store(&wasm, &sha256, manifest.clone())?;
    let mut text = describe(&manifest, &sha256);
    writeln!(text, "stored as {}", stored.display())?;
    screen.result(&text)?;
    Ok(Exit::Clean)
}

fn describe(manifest: &Manifest, sha256: &str) -> String {
    let can = match (manifest.reads, manifest.writes) {
        (true, true) => "reads and writes",
        (true, false) => "reads",
        (false, true) => "writes",
        (false, false) => "does nothing",
    };
    format!(
        "{} {}: {}\n{can} {}; contract {}\nsha256 {sha256}\n",
        manifest.name,
        manifest.version,
        manifest.title,
        manifest
            .files
            .extensions
            .iter()
            .map(|e| format!(".{e}"))
            .collect::<Vec<_>>()
            .join(", "),
        manifest.contract
    )
}

fn list(cli: &Cli, screen: &Screen) -> Result<Exit> {
    let formats = Formats::load(cli.no_cache)?;
    let mut text = String::new();
    for (index, plugin) in formats.plugins().iter().enumerate() {
        let identity = plugin.identity();
        writeln!(
            text,
            "{} {} ({}) sha256 {}",
            identity.name,
            identity.version,
            if formats.is_bundled(index) {
                "bundled"
            } else {
                "added"
            },
            identity.sha256
        )?;
    }
    screen.result(&text)?;
    Ok(Exit::Clean)
}

fn remove(name: &str, screen: &Screen) -> Result<Exit> {
    let mut pins = Pins::read()?;
    let Some(pin) = pins
        .plugins
        .iter()
        .find(|p| p.manifest.name == name)
        .cloned()
    else {
        bail!("no plugin '{name}' was added (`ringmark plugin list`)");
    };
    pins.forget(&pin)?;
    screen.result(format!("removed {name}\n"))?;
    Ok(Exit::Clean)
}

impl Pins {
    /// Stores a component under its digest and lists it.
    fn store(
        &mut self,
        wasm: &[u8],
        sha256: &str,
        manifest: Manifest,
    ) -> Result<std::path::PathBuf> {
        let folder = Pins::folder()?;
        std::fs::create_dir_all(&folder)
            .with_context(|| format!("{}: cannot make this folder", folder.display()))?;
        // The name comes from the digest: a plugin's own name never names a file.
        let file = format!("{sha256}.wasm");
        let path = folder.join(&file);
        replace(&path, wasm)?;
        self.plugins.retain(|p| p.manifest.name != manifest.name);
        self.plugins.push(Pin {
            file,
            sha256: sha256.to_owned(),
            manifest,
        });
        self.write()?;
        Ok(path)
    }

    fn forget(&mut self, pin: &Pin) -> Result<()> {
        self.plugins
            .retain(|p| p.manifest.name != pin.manifest.name);
        self.write()?;
        let path = Pins::folder()?.join(&pin.file);
        match std::fs::remove_file(&path) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                Err(error).with_context(|| format!("{}: cannot remove", path.display()))
            }
            _ => Ok(()),
        }
    }

    fn write(&self) -> Result<()> {
        let text = serde_json::to_string_pretty(self)? + "\n";
        replace(&Pins::path()?, text.as_bytes())
    }
}

fn replace(path: &Path, bytes: &[u8]) -> Result<()> {
    use std::io::Write as _;
    let mut output = crate::save::Output::create(path, true, &[])?;
    output
        .write_all(bytes)
        .with_context(|| format!("{}: cannot write", path.display()))?;
    output.finish()
}
