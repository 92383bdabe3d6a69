//! The three exit statuses, in one place.

use std::process::ExitCode;

/// How a command ended; the worst of several counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Exit {
    /// Done and clean.
    Clean,
    /// Findings at or above the chosen severity.
    Findings,
    /// It could not be done.
    Failed,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(match exit {
            Exit::Clean => 0,
            Exit::Findings => 1,
            Exit::Failed => 2,
        })
    }
}
