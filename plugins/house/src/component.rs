//! Builds a plugin's crate and encodes the module as a component.

use std::path::Path;

use anyhow::{Context, Result, ensure};
use wasm_encoder::{CustomSection, Encode, Section};

use crate::digest;
use crate::toolchain::Toolchain;

/// Name of the custom section with the digest of the sources and the compiler's version.
pub const ORIGIN_SECTION: &str = "ringmark-origin";

/// The component of the plugin whose crate lies in `folder`. A new plugin is not in the lock
/// file yet; bundled ones are built from it as it is.
pub fn build(root: &Path, folder: &Path, toolchain: &Toolchain, locked: bool) -> Result<Vec<u8>> {
    let manifest = folder.join("Cargo.toml");
    let package = digest::package_name(&manifest)?;
    let target = root.join("target/plugins");
    let status = toolchain
        .cargo(root)
        .args(["rustc", "--quiet", "--profile", "plugin"])
        .args(locked.then_some("--locked"))
        .args(["--target", "wasm32-unknown-unknown", "--lib"])
        .args(["--crate-type", "cdylib", "--package", &package])
        .arg("--target-dir")
        .arg(&target)
        .args(toolchain.arguments())
        .status()
        .context("cannot start cargo")?;
    ensure!(status.success(), "building {package} for wasm failed");
    let module = target
        .join("wasm32-unknown-unknown/plugin")
        .join(format!("{}.wasm", package.replace('-', "_")));
    let module =
        std::fs::read(&module).with_context(|| format!("cannot read {}", module.display()))?;
    let mut component = wit_component::ComponentEncoder::default()
        .validate(true)
        .module(&module)?
        .encode()
        .with_context(|| format!("{package} does not fit the contract"))?;
    let origin = serde_json::json!({
        "sources": digest::sources(root, folder)?,
        "compiler": toolchain.version,
    })
    .to_string();
    append_section(&mut component, ORIGIN_SECTION, origin.as_bytes());
    Ok(component)
}

fn append_section(component: &mut Vec<u8>, name: &str, data: &[u8]) {
    let section = CustomSection {
        name: name.into(),
        data: data.into(),
    };
    component.push(section.id());
    section.encode(component);
}
