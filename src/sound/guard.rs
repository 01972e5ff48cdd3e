//! A decoder that panics on a broken file must not take the show with it.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook, take_hook};
use std::sync::Once;

use super::fault::Problem;

thread_local! {
    static GUARDED: Cell<bool> = const { Cell::new(false) };
}

/// Does `work` in a decoder; a panic in it is damage to the file, and nothing is printed.
/// What `work` was at is in no known state afterwards and must not be used again.
pub(super) fn guarded<T>(work: impl FnOnce() -> T) -> Result<T, Problem> {
    static QUIET: Once = Once::new();
    QUIET.call_once(|| {
        let loud = take_hook();
        set_hook(Box::new(move |panic| {
            if !panic_is_caught() {
                loud(panic);
            }
        }));
    });
    let outer = GUARDED.replace(true);
    let done = catch_unwind(AssertUnwindSafe(work));
    GUARDED.set(outer);
    done.map_err(|_| Problem::Damaged("the decoder failed on it".into()))
}

/// Whether a panic on this thread, now, is caught: no reason to leave the screen.
pub(crate) fn panic_is_caught() -> bool {
    GUARDED.get()
}
