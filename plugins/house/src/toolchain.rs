//! Finds a compiler that can build for `wasm32-unknown-unknown`.

use std::path::Path;
use std::process::Command;

use anyhow::{Context, Result, bail};

/// A way to call cargo for the wasm target.
pub struct Toolchain {
    cargo: String,
    rustc: String,
    /// Whether the standard library is built from source.
    build_std: bool,
    /// First line of `rustc --version`.
    pub version: String,
}

/// The rustup toolchain with the target installed, else Debian's `rustc-web`.
pub fn find() -> Result<Toolchain> {
    if let Ok(found) = usable("rustc", "cargo", false) {
        return Ok(found);
    }
    if let Ok(found) = usable("/usr/bin/rustc", "/usr/bin/cargo", true) {
        return Ok(found);
    }
    bail!(
        "no compiler here can build for wasm32-unknown-unknown\n\
         with rustup:  rustup target add wasm32-unknown-unknown\n\
         on Debian:    apt-get install --no-install-recommends rustc-web cargo-web rust-web-src rust-web-llvm lld"
    )
}

fn usable(rustc: &str, cargo: &str, build_std: bool) -> Result<Toolchain> {
    let sysroot = output(rustc, &["--print", "sysroot"])?;
    let version = output(rustc, &["--version"])?;
    let sysroot = Path::new(&sysroot);
    let needed = if build_std {
        "lib/rustlib/src/rust/library/std"
    } else {
        "lib/rustlib/wasm32-unknown-unknown/lib"
    };
    if !sysroot.join(needed).exists() {
        bail!("{rustc} has no {needed}");
    }
    Ok(Toolchain {
        cargo: cargo.to_owned(),
        rustc: rustc.to_owned(),
        build_std,
        version,
    })
}

fn output(program: &str, args: &[&str]) -> Result<String> {
    let output = Command::new(program)
        .args(args)
        .env_remove("RUSTUP_TOOLCHAIN")
        .output()
        .with_context(|| format!("cannot run {program}"))?;
    Ok(String::from_utf8_lossy(&output.stdout).trim().to_owned())
}

impl Toolchain {
    /// A cargo call for the wasm target with paths taken out of the binary.
    pub fn cargo(&self, root: &Path) -> Command {
        let mut command = Command::new(&self.cargo);
        let home = std::env::var("CARGO_HOME")
            .unwrap_or_else(|_| format!("{}/.cargo", std::env::var("HOME").unwrap_or_default()));
        let flags = [
            format!("--remap-path-prefix={}=/ringmark", root.display()),
            format!("--remap-path-prefix={home}=/cargo"),
        ];
        command
            .env("RUSTC", &self.rustc)
            .env("CARGO_ENCODED_RUSTFLAGS", flags.join("\x1f"))
            .env_remove("CARGO_TARGET_DIR")
            .env_remove("RUSTFLAGS")
            .current_dir(root);
        if self.build_std {
            // Debian's compiler ships the library's source but not its build for this target;
            // the standard library can be built by a stable compiler only with this switch.
            command
                .env("PATH", "/usr/bin:/bin")
                .env("RUSTC_BOOTSTRAP", "1")
                .env("CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER", "wasm-ld");
        }
        command
    }

    /// Arguments that follow the cargo command.
    pub fn arguments(&self) -> &'static [&'static str] {
        if self.build_std {
            &["-Zbuild-std=std,panic_abort"]
        } else {
            &[]
        }
    }
}
