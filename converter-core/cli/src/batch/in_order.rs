//! Work on all cores whose results come out in the order of the inputs, few of them waiting at any time.

use std::any::Any;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;

use anyhow::{Context, Result};

use super::interrupt::Interrupt;

/// Results that may wait for an earlier one, for each worker. It bounds memory however many inputs there are, and is
/// enough that one long take does not leave the other cores without work for long.
const WAITING: usize = 32;

/// A plugin runs on the stack of the thread that calls it.
const STACK: usize = 12 << 20;

/// What is to be done.
pub struct Work<'a> {
    /// How many inputs there are.
    pub inputs: usize,
    /// How many of them are worked on at the same time.
    pub jobs: usize,
    /// Asked to end: no further input is begun.
    pub interrupt: &'a Interrupt,
}

struct State<R> {
    /// The input that is begun next.
    next: usize,
    /// How many results were delivered.
    delivered: usize,
    /// Workers that have not left.
    working: usize,
    /// Workers that wait for room.
    waiting: usize,
    /// Nobody takes results any more.
    closed: bool,
    /// Results that wait for earlier ones.
    ready: BTreeMap<usize, Result<R, String>>,
}

struct Shared<R> {
    state: Mutex<State<R>>,
    /// A result is there, or a worker has left.
    news: Condvar,
    /// There is room for another result.
    room: Condvar,
}

impl<R> Shared<R> {
    fn lock(&self) -> MutexGuard<'_, State<R>> {
        // The state is changed in single steps, so a panic leaves it whole.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Calls `work` for the inputs 0, 1, ... on several threads and `deliver` with each result, in this order, on the thread of
/// the caller. A panic of `work` is its result, as text. An error of `deliver` ends the run. Returns how many results were
/// delivered: all, or fewer after an interrupt.
pub fn in_order<R: Send>(
    what: &Work<'_>,
    work: impl Fn(usize) -> R + Sync,
    mut deliver: impl FnMut(usize, Result<R, String>) -> Result<()>,
) -> Result<usize> {
    let jobs = what.jobs.min(what.inputs).max(1);
    let shared = Shared {
        state: Mutex::new(State {
            next: 0,
            delivered: 0,
            working: jobs,
            waiting: 0,
            closed: false,
            ready: BTreeMap::new(),
        }),
        news: Condvar::new(),
        room: Condvar::new(),
    };
    thread::scope(|scope| {
        // Whatever ends this scope ends the workers.
        let _close = Close(&shared);
        for number in 0..jobs {
            let leave = Leave(&shared);
            let (shared, work) = (&shared, &work);
            let worker = thread::Builder::new()
                .name(format!("worker {number}"))
                .stack_size(STACK);
            worker
                .spawn_scoped(scope, move || {
                    let _leave = leave;
                    while let Some(input) = begin(shared, what, jobs) {
                        let result = guarded(|| work(input));
                        let mut state = shared.lock();
                        state.ready.insert(input, result);
                        // Waking somebody is a call of the system: not for a result whose turn has not come.
                        if input == state.delivered {
                            shared.news.notify_one();
                        }
                    }
                })
                .context("cannot start a thread")?;
        }
        let mut state = shared.lock();
        loop {
            let first = state.delivered;
            let due: Vec<_> = (first..)
                .map_while(|input| Some((input, state.ready.remove(&input)?)))
                .collect();
            if !due.is_empty() {
                drop(state);
                let count = due.len();
                for (input, result) in due {
                    deliver(input, result)?;
                }
                state = shared.lock();
                state.delivered += count;
                if state.waiting > 0 {
                    shared.room.notify_all();
                }
            } else if state.working == 0 {
                return Ok(first);
            } else {
                state = shared
                    .news
                    .wait(state)
                    .unwrap_or_else(PoisonError::into_inner);
            }
        }
    })
}

/// The input that a worker begins next; `None` when there is none for it.
fn begin<R>(shared: &Shared<R>, what: &Work<'_>, jobs: usize) -> Option<usize> {
    let mut state = shared.lock();
    while !state.closed && state.next >= state.delivered + WAITING * jobs {
        state.waiting += 1;
        state = shared
            .room
            .wait(state)
            .unwrap_or_else(PoisonError::into_inner);
        state.waiting -= 1;
    }
    if state.closed || state.next >= what.inputs || what.interrupt.asked() {
        return None;
    }
    state.next += 1;
    Some(state.next - 1)
}

struct Close<'a, R>(&'a Shared<R>);

impl<R> Drop for Close<'_, R> {
    fn drop(&mut self) {
        self.0.lock().closed = true;
        self.0.room.notify_all();
    }
}

struct Leave<'a, R>(&'a Shared<R>);

impl<R> Drop for Leave<'_, R> {
    fn drop(&mut self) {
        self.0.lock().working -= 1;
        self.0.news.notify_one();
    }
}

thread_local! {
    /// Where the last panic of a worker came from; `None` on threads whose panics are told as usual.
    static PANICKED: RefCell<Option<String>> = const { RefCell::new(None) };
}

/// Makes panics of workers quiet: they are told as the failure of their input, in its place. Once in the life of the program.
pub fn quiet_panics() {
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        let kept = PANICKED.try_with(|place| match &mut *place.borrow_mut() {
            Some(place) => {
                *place = info.location().map(ToString::to_string).unwrap_or_default();
                true
            }
            None => false,
        });
        if !kept.unwrap_or(false) {
            usual(info);
        }
    }));
}

/// What `work` gives, or what its panic says.
pub fn guarded<R>(work: impl FnOnce() -> R) -> Result<R, String> {
    PANICKED.with(|place| place.replace(Some(String::new())));
    // What `work` had in its hands goes with it; what it shares with others is locks and counters.
    let result = catch_unwind(AssertUnwindSafe(work));
    let place = PANICKED
        .with(|place| place.replace(None))
        .unwrap_or_default();
    result.map_err(|panic| {
        let text = panic_text(&*panic);
        if place.is_empty() {
            text
        } else {
            format!("{text} ({place})")
        }
    })
}

fn panic_text(panic: &(dyn Any + Send)) -> String {
    panic
        .downcast_ref::<String>()
        .map(String::as_str)
        .or_else(|| panic.downcast_ref::<&str>().copied())
        .unwrap_or("of an unknown kind")
        .to_owned()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    use super::*;

    fn work(inputs: usize, jobs: usize, interrupt: &Interrupt) -> Work<'_> {
        Work {
            inputs,
            jobs,
            interrupt,
        }
    }

    #[test]
    fn results_come_in_the_order_of_inputs_whatever_is_ready_first() {
        for jobs in [1, 2, 7] {
            let never = Interrupt::default();
            let mut came = Vec::new();
            let done = in_order(
                &work(40, jobs, &never),
                |input| {
                    // Later ones are faster.
                    thread::sleep(Duration::from_millis(40 - input as u64) / 8);
                    input * input
                },
                |input, result| {
                    came.push((input, result.unwrap()));
                    Ok(())
                },
            );
            assert_eq!(done.unwrap(), 40);
            let expected: Vec<_> = (0..40).map(|n| (n, n * n)).collect();
            assert_eq!(came, expected, "{jobs} jobs");
        }
    }

    #[test]
    fn few_results_wait_for_a_slow_one() {
        let never = Interrupt::default();
        let begun = AtomicUsize::new(0);
        let at_most = 2 * WAITING;
        in_order(
            &work(10 * at_most, 2, &never),
            |input| {
                begun.fetch_add(1, Ordering::SeqCst);
                if input == 0 {
                    thread::sleep(Duration::from_millis(100));
                    assert!(begun.load(Ordering::SeqCst) <= at_most);
                }
            },
            |_, result| {
                result.unwrap();
                Ok(())
            },
        )
        .unwrap();
        assert_eq!(begun.into_inner(), 10 * at_most);
    }

    #[test]
    fn a_panic_is_the_result_of_its_input_and_of_no_other() {
        quiet_panics();
        let never = Interrupt::default();
        let mut told = Vec::new();
        let done = in_order(
            &work(9, 3, &never),
            |input| assert!(input != 4, "input {input} is cursed"),
            |input, result| {
                told.extend(result.err().map(|text| (input, text)));
                Ok(())
            },
        );
        assert_eq!((done.unwrap(), told.len(), told[0].0), (9, 1, 4));
        assert!(
            told[0].1.starts_with("input 4 is cursed (") && told[0].1.contains("in_order.rs:"),
            "{told:?}"
        );
    }

    #[test]
    fn an_error_of_delivery_ends_the_run() {
        let never = Interrupt::default();
        let begun = AtomicUsize::new(0);
        let done = in_order(
            &work(100_000, 2, &never),
            |_| begun.fetch_add(1, Ordering::SeqCst),
            |input, _| match input {
                5 => anyhow::bail!("the disk is full"),
                _ => Ok(()),
            },
        );
        assert_eq!(done.unwrap_err().to_string(), "the disk is full");
        assert!(begun.into_inner() < 6 + 2 * WAITING + 2);
    }

    #[test]
    fn after_an_interrupt_what_was_begun_is_delivered_without_a_hole() {
        let interrupt = Interrupt::default();
        let mut came = Vec::new();
        let done = in_order(
            &work(1000, 2, &interrupt),
            |input| {
                if input == 20 {
                    interrupt.ask();
                }
            },
            |input, _| {
                came.push(input);
                Ok(())
            },
        )
        .unwrap();
        assert!((21..=20 + 2 * WAITING).contains(&done), "{done}");
        assert_eq!(came, (0..done).collect::<Vec<_>>());
    }

    #[test]
    fn without_inputs_there_is_nothing_to_do() {
        let never = Interrupt::default();
        let done = in_order(&work(0, 8, &never), |_| (), |_, _| Ok(()));
        assert_eq!(done.unwrap(), 0);
    }
}
