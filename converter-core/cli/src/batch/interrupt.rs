//! Ctrl-C, and the request of the system to end: what is done so far is still reported.

use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};

use anyhow::{Context, Result};

/// How often somebody asked the run to end.
#[derive(Debug, Clone, Default)]
pub struct Interrupt(Arc<AtomicU8>);

impl Interrupt {
    /// Listens from now on. Once in the life of the program.
    pub fn listen() -> Result<Interrupt> {
        let interrupt = Interrupt::default();
        let heard = interrupt.clone();
        ctrlc::set_handler(move || heard.hear()).context("cannot listen for Ctrl-C")?;
        Ok(interrupt)
    }

    fn hear(&self) {
        self.ask();
        let said = match self.0.load(Ordering::Relaxed) {
            1 => "ending; what has begun is finished, once more gives it up",
            2 => "giving up what has begun",
            // Something waits that cannot be woken, as for more of standard input.
            _ => std::process::exit(2),
        };
        // Nothing is left to say it on if stderr is gone.
        let _ = writeln!(std::io::stderr().lock(), "ringmark: {said}");
    }

    /// Asks the run to end.
    pub fn ask(&self) {
        let _ = self
            .0
            .fetch_update(Ordering::Relaxed, Ordering::Relaxed, |times| {
                Some(times.saturating_add(1))
            });
    }

    /// Asked once: no further document is begun; those that have begun are finished.
    pub fn asked(&self) -> bool {
        self.0.load(Ordering::Relaxed) > 0
    }

    /// Asked again: those that have begun are given up too.
    pub fn insisted(&self) -> bool {
        self.0.load(Ordering::Relaxed) > 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_second_time_is_more_urgent() {
        let interrupt = Interrupt::default();
        assert!(!interrupt.asked());
        interrupt.clone().ask();
        assert!(interrupt.asked() && !interrupt.insisted());
        for _ in 0..600 {
            interrupt.ask();
        }
        assert!(interrupt.insisted(), "it never turns over");
    }
}
