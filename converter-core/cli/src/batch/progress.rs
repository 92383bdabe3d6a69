//! How far a run is: a bar on a terminal, a line now and then elsewhere, nothing for runs that are over at once.

use std::io::{IsTerminal, Write};
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use indicatif::{HumanDuration, ProgressBar, ProgressDrawTarget, ProgressStyle};
use ringmark_outputs::safe;

/// A run that is over before says nothing.
const BEFORE_THE_BAR: Duration = Duration::from_millis(500);

/// Between two lines where there is no terminal: a log of an hour stays readable.
const BETWEEN_LINES: Duration = Duration::from_secs(10);

/// Between two looks at the counters for the bar.
const BETWEEN_DRAWINGS: Duration = Duration::from_millis(100);

/// Columns that the name of the current take may fill, and that a terminal surely has.
const NAME_COLUMNS: usize = 40;

const TEMPLATE: &str = "{bar:24} {pos}/{len} {msg}";

/// The progress of a run. Cheap to tell about from any thread.
pub struct Progress {
    counters: Arc<Counters>,
    bar: Option<ProgressBar>,
    ticker: Option<(Sender<()>, JoinHandle<()>)>,
}

struct Counters {
    /// What is done to documents: `checked`.
    what: &'static str,
    begun: Instant,
    total: usize,
    done: AtomicUsize,
    frames: AtomicU64,
    current: Mutex<String>,
}

impl Progress {
    /// Of a run in which `total` documents are `checked`, or `opened`; a `quiet` one shows nothing.
    pub fn new(what: &'static str, total: usize, quiet: bool) -> Progress {
        let counters = Arc::new(Counters {
            what,
            begun: Instant::now(),
            total,
            done: AtomicUsize::new(0),
            frames: AtomicU64::new(0),
            current: Mutex::default(),
        });
        let mut progress = Progress {
            counters: counters.clone(),
            bar: None,
            ticker: None,
        };
        if quiet {
            return progress;
        }
        if std::io::stderr().is_terminal() {
            let bar =
                ProgressBar::with_draw_target(Some(total as u64), ProgressDrawTarget::hidden());
            bar.set_style(style());
            progress.bar = Some(bar.clone());
            progress.ticker = ticker(BEFORE_THE_BAR, BETWEEN_DRAWINGS, move || {
                if bar.is_hidden() {
                    bar.set_draw_target(ProgressDrawTarget::stderr());
                }
                bar.set_position(counters.done.load(Ordering::Relaxed) as u64);
                bar.set_message(counters.around());
                bar.tick();
            });
        } else {
            progress.ticker = ticker(BETWEEN_LINES, BETWEEN_LINES, move || {
                // Nothing is left to say it on if stderr is gone.
                let _ = writeln!(std::io::stderr().lock(), "{}", counters.line());
            });
        }
        progress
    }

    /// A document is begun.
    pub fn begin(&self, name: &str) {
        if self.ticker.is_some() {
            let mut current = self.counters.current();
            current.clear();
            current.push_str(name);
        }
    }

    /// Frames were read.
    pub fn frames(&self, count: u64) {
        self.counters.frames.fetch_add(count, Ordering::Relaxed);
    }

    /// A document is done.
    pub fn done(&self) {
        self.counters.done.fetch_add(1, Ordering::Relaxed);
    }

    /// Writes on the terminal where the bar is not in the way.
    pub fn beside<T>(&self, write: impl FnOnce() -> T) -> T {
        match &self.bar {
            Some(bar) if !bar.is_hidden() => bar.suspend(write),
            _ => write(),
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some((end, thread)) = self.ticker.take() {
            drop(end);
            let _ = thread.join();
        }
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}

/// Calls `tick` first after `before`, then again and again, until the sender is dropped.
fn ticker(
    before: Duration,
    between: Duration,
    mut tick: impl FnMut() + Send + 'static,
) -> Option<(Sender<()>, JoinHandle<()>)> {
    let (send, receive) = channel::<()>();
    let thread = std::thread::Builder::new().name("progress".to_owned());
    let thread = thread.spawn(move || {
        let mut wait = before;
        while receive.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
            tick();
            wait = between;
        }
    });
    // A run without progress is better than none.
    Some((send, thread.ok()?))
}

fn style() -> ProgressStyle {
    // A test proves that the template is one; here the default is the fallback, not a panic.
    ProgressStyle::with_template(TEMPLATE)
        .unwrap_or_else(|_| ProgressStyle::default_bar())
        .progress_chars("=> ")
}

impl Counters {
    fn current(&self) -> std::sync::MutexGuard<'_, String> {
        self.current.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Rates, what remains, and the current take.
    fn around(&self) -> String {
        let seconds = self.begun.elapsed().as_secs_f64().max(1e-3);
        let done = self.done.load(Ordering::Relaxed);
        let frames = self.frames.load(Ordering::Relaxed) as f64;
        let mut text = format!("{}: {:.1} files/s", self.what, done as f64 / seconds);
        if frames > 0.0 {
            text += &format!(", {} frames/s", thousands(frames / seconds));
        }
        if done > 0 && done < self.total {
            let left = seconds / done as f64 * (self.total - done) as f64;
            let left = HumanDuration(Duration::from_secs_f64(left.min(1e9)));
            text += &format!(", about {left:#} left");
        }
        let name = last_columns(&safe(&self.current()));
        if !name.is_empty() {
            text += &format!("; {name}");
        }
        text
    }

    fn line(&self) -> String {
        let done = self.done.load(Ordering::Relaxed);
        format!("{done} of {} {}", self.total, self.around())
    }
}

/// `812`, `45 k`, `1.2 M`.
fn thousands(number: f64) -> String {
    if number < 10_000.0 {
        format!("{number:.0}")
    } else if number < 999_500.0 {
        format!("{:.0} k", number / 1e3)
    } else {
        format!("{:.1} M", number / 1e6)
    }
}

/// The end of a name, where the file is.
fn last_columns(name: &str) -> String {
    let count = name.chars().count();
    if count <= NAME_COLUMNS {
        return name.to_owned();
    }
    let rest: String = name.chars().skip(count - NAME_COLUMNS + 1).collect();
    format!("…{rest}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_say_how_far_how_fast_how_long_and_where() {
        let begun = Instant::now().checked_sub(Duration::from_secs(20));
        let counters = Counters {
            what: "checked",
            begun: begun.unwrap_or_else(Instant::now),
            total: 300,
            done: AtomicUsize::new(100),
            frames: AtomicU64::new(30_000_000),
            current: Mutex::new("cards/day 12/A\u{1b}[0m012C003.csv".to_owned()),
        };
        let line = counters.line();
        assert!(
            line.starts_with("100 of 300 checked: 5.0 files/s, 1.5 M frames/s, about 40s left; "),
            "{line}"
        );
        assert!(
            line.ends_with("012C003.csv") && !line.contains('\u{1b}'),
            "{line}"
        );
    }

    #[test]
    fn long_names_keep_their_end_and_numbers_stay_short() {
        let long = format!("{}/A012C003.csv", "cards".repeat(20));
        assert_eq!(last_columns(&long).chars().count(), NAME_COLUMNS);
        assert!(last_columns(&long).ends_with("/A012C003.csv"));
        let said: Vec<_> = [812.4, 45_400.0, 999_600.0].map(thousands).into();
        assert_eq!(said, ["812", "45 k", "1.0 M"]);
    }

    #[test]
    fn the_bar_has_a_template_that_can_be_drawn() {
        assert!(ProgressStyle::with_template(TEMPLATE).is_ok());
        let quiet = Progress::new("checked", 3, true);
        quiet.begin("a.csv");
        quiet.done();
        assert_eq!(quiet.beside(|| 5), 5);
        assert!(quiet.ticker.is_none());
    }
}
