//! Foreign decoders that meet whatever stands in a file: a panic in one becomes an error.

use super::fault::{Fault, of_decoder, within};
use std::cell::Cell;
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Once;

thread_local! {
    static GUARDED: Cell<bool> = const { Cell::new(false) };
}

/// Runs a foreign decoder: a panic in it becomes a fault of the file, and nothing is printed.
pub(super) fn guarded<T>(what: &'static str, run: impl FnOnce() -> io::Result<T>) -> io::Result<T> {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            if !GUARDED.get() {
                before(panic);
            }
        }));
    });
    let outer = GUARDED.replace(true);
    let done = catch_unwind(AssertUnwindSafe(run));
    GUARDED.set(outer);
    let broken = || Fault::Damaged { what, at: 0, why: "its parts contradict each other".to_string() }.into();
    done.unwrap_or_else(|_| Err(broken())).map_err(|e| if within(&e).is_some() { e } else { of_decoder(e, what, 0) })
}
