//! Where the program keeps things between runs.

use std::path::PathBuf;

use anyhow::{Context, Result};
use etcetera::BaseStrategy;

/// Folder of added plugins and settings. `RINGMARK_CONFIG` names another one.
pub fn config() -> Result<PathBuf> {
    match std::env::var_os("RINGMARK_CONFIG") {
        Some(folder) => Ok(folder.into()),
        None => Ok(base()?.config_dir().join("ringmark")),
    }
}

/// Folder of what can be made again. `RINGMARK_CACHE` names another one.
pub fn cache() -> Result<PathBuf> {
    match std::env::var_os("RINGMARK_CACHE") {
        Some(folder) => Ok(folder.into()),
        None => Ok(base()?.cache_dir().join("ringmark")),
    }
}

fn base() -> Result<impl BaseStrategy> {
    etcetera::choose_base_strategy().context("this account has no home folder")
}
