//! What the whole-program tests share: calling the program, finding its files, and the bundled
//! plugins without the program around them.

pub mod direct;
pub mod inject;
pub mod plate;

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// The top folder of the repository.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .map(Path::to_path_buf)
        .unwrap_or_default()
}

/// A file under `samples/`.
pub fn sample(name: &str) -> PathBuf {
    root().join("samples").join(name)
}

/// The program, with folders of its own for compiled code and settings, so that neither the
/// person's settings nor the order of tests matter.
pub struct Program {
    path: PathBuf,
    home: tempfile::TempDir,
    cache: PathBuf,
}

/// What a run of the program gave.
#[derive(Debug)]
pub struct Ran {
    /// Exit status; -1 if a signal ended it.
    pub status: i32,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Program {
    /// `path` is the built program: `env!("CARGO_BIN_EXE_ringmark-under-test")`; `tmp` is
    /// `env!("CARGO_TARGET_TMPDIR")`, where compiled plugins are kept between tests.
    pub fn new(path: &str, tmp: &str) -> std::io::Result<Program> {
        Ok(Program {
            path: PathBuf::from(path),
            home: tempfile::tempdir()?,
            cache: Path::new(tmp).join("compiled-plugins"),
        })
    }

    /// The same program with no results of earlier runs. The shared cache may hold some, of an earlier run of the tests too;
    /// its compiled plugins are copied, so that nothing is compiled anew.
    pub fn without_results(mut self) -> std::io::Result<Program> {
        let shared = self.cache.join("compiled");
        // Whatever compiles the plugins first fills the shared one.
        self.run(["check", "samples/A012C003.csv"])?;
        self.cache = self.home.path().join("cache");
        std::fs::create_dir(&self.cache)?;
        let mut copy = Command::new("cp");
        match copy
            .arg("-a")
            .args([&shared, &self.cache])
            .status()?
            .success()
        {
            true => Ok(self),
            false => Err(std::io::Error::other("cannot copy the compiled plugins")),
        }
    }

    /// A call of the program that was not started yet.
    pub fn command(&self) -> Command {
        let mut command = Command::new(&self.path);
        // Help texts show the name by which a person calls it.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::arg0(&mut command, "ringmark");
        command
            .current_dir(root())
            .env("RINGMARK_CACHE", &self.cache)
            .env("RINGMARK_CONFIG", self.home.path())
            .env("NO_COLOR", "1")
            .env_remove("COLUMNS")
            .stdin(Stdio::null());
        command
    }

    /// Folder of compiled plugins and results.
    pub fn cache(&self) -> &Path {
        &self.cache
    }

    /// Folder of added plugins and settings.
    pub fn config(&self) -> &Path {
        self.home.path()
    }

    /// Runs the program to its end.
    pub fn run<A: AsRef<OsStr>>(&self, args: impl IntoIterator<Item = A>) -> std::io::Result<Ran> {
        Ok(ran(self.command().args(args).output()?))
    }
}

/// The parts of a finished run.
pub fn ran(output: Output) -> Ran {
    Ran {
        status: output.status.code().unwrap_or(-1),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}
