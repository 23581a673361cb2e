//! Plants side by side: so many at once, each behind a boundary that holds whatever goes wrong in it.
//!
//! Workers are threads of their own and not of rayon's pool: a thread of the pool that waits inside one plant would begin another
//! one meanwhile, and so on, and memory would no longer be bounded by the plants at work. What a plant spreads over threads goes to the
//! pool that all share, so that the last plants still have every processor.

use std::{
    fmt,
    panic::{AssertUnwindSafe, catch_unwind},
    sync::{
        Mutex, PoisonError,
        atomic::{AtomicUsize, Ordering},
    },
};

/// Stack of a worker [bytes]: as much as a program's main thread has.
const STACK: usize = 8 << 20;

/// Why a plant was not reviewed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stopped {
    /// The data, the plant file, the disk.
    Refused(String),
    /// A defect of this program.
    Defect(String),
}

impl fmt::Display for Stopped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Refused(why) => f.write_str(why),
            Self::Defect(what) => write!(
                f,
                "the review stopped at a defect of offcurve ({what})\nhint: this is not your data's fault; please report it, with the plant file"
            ),
        }
    }
}

/// Does the work for each item, `at_once` at a time, and gives the results in the items' order. `done` counts those that are over.
pub fn each<T: Sync, R: Send>(
    items: &[T],
    at_once: usize,
    done: &AtomicUsize,
    work: impl Fn(&T) -> Result<R, String> + Sync,
) -> Vec<Result<R, Stopped>> {
    let next = AtomicUsize::new(0);
    let results: Mutex<Vec<Option<Result<R, Stopped>>>> = Mutex::new(items.iter().map(|_| None).collect());
    let take = || {
        while let Some((at, item)) =
            Some(next.fetch_add(1, Ordering::Relaxed)).and_then(|at| Some((at, items.get(at)?)))
        {
            let result = held(|| work(item));
            results.lock().unwrap_or_else(PoisonError::into_inner)[at] = Some(result);
            done.fetch_add(1, Ordering::Relaxed);
        }
    };
    std::thread::scope(|scope| {
        let others = (1..at_once.min(items.len()))
            .map(|_| std::thread::Builder::new().name("plant".to_owned()).stack_size(STACK).spawn_scoped(scope, take));
        // A system that gives no more threads leaves the work to those there are.
        let _others: Vec<_> = others.filter_map(Result::ok).collect();
        take();
    });
    let results = results.into_inner().unwrap_or_else(PoisonError::into_inner);
    results.into_iter().map(|r| r.expect("the workers took every item")).collect()
}

/// The boundary.
fn held<R>(work: impl FnOnce() -> Result<R, String>) -> Result<R, Stopped> {
    match catch_unwind(AssertUnwindSafe(work)) {
        Ok(result) => result.map_err(Stopped::Refused),
        Err(panic) => {
            let text = panic.downcast_ref::<&str>().map(|s| (*s).to_owned());
            let text = text.or_else(|| panic.downcast_ref::<String>().cloned());
            Err(Stopped::Defect(text.unwrap_or_else(|| "no message".to_owned())))
        }
    }
}
