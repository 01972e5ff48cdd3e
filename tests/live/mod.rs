//! A show run live: one at a time, its clock, its journal, what its screen says.
#![allow(dead_code, reason = "each test uses its own part")]

use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use abeam::live::clock::ShowClock;
use abeam::live::journal::{self, Line, Record};
use abeam::units::Instant;
use rustix::time::{ClockId, clock_gettime};

use crate::desk::monotonic_ns;
use crate::pty::Program;

pub const MS: i64 = 1_000_000;

/// One show at a time: two would disturb each other's clocks.
pub fn alone() -> MutexGuard<'static, ()> {
    static ALONE: Mutex<()> = Mutex::new(());
    ALONE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What came of the first attempt the machine did not disturb: keys pressed in time, no underrun, no frame
/// lost by the recorder. A disturbed one says nothing about the program.
pub fn undisturbed<T>(mut attempt: impl FnMut(usize) -> Option<T>) -> T {
    for number in 0..5 {
        if let Some(result) = attempt(number) {
            return result;
        }
        println!("  disturbed: once more");
    }
    panic!("this machine is too busy: five attempts were late, ran dry or lost frames");
}

pub fn past_the_cautions(program: &mut Program) {
    program.until_shown("It is no flight instrument");
    program.key(" ");
    program.until("the Stand", |screen| {
        let up = screen.contains("RUNNING") && !screen.contains("It is no flight instrument");
        up.then_some(())
    });
}

pub fn read(path: &Path) -> Record {
    journal::read(path).expect("the journal")
}

pub fn path_text(path: &Path) -> &str {
    path.to_str().expect("a path of plain characters")
}

/// The monotonic clock at an instant of the show, in nanoseconds.
pub fn monotonic_of(clock: &ShowClock, at: Instant) -> i64 {
    let now = clock_gettime(ClockId::Boottime);
    let ahead = now.tv_sec * 1_000_000_000 + now.tv_nsec - monotonic_ns();
    clock.reading.boot_us * 1_000 + (at - clock.at).us() * 1_000 - ahead
}

/// Waits for an instant of the show; `None` if it is past, or was slept through.
pub fn wait_until(clock: &ShowClock, at: Instant) -> Option<()> {
    let at = monotonic_of(clock, at);
    let left = at - monotonic_ns();
    std::thread::sleep(Duration::from_nanos(left.max(0) as u64));
    (left > 0 && monotonic_ns() - at < 100 * MS).then_some(())
}

/// How often the output ran dry, as the Desk says it.
pub fn underruns(screen: &str) -> Option<u64> {
    if screen.contains("no underruns") {
        return Some(0);
    }
    let (before, _) = screen.split_once(" underrun")?;
    before.rsplit(' ').next()?.parse().ok()
}

/// When the show was closed: what the last line of its journal says.
pub fn closed_at(record: &Record) -> Instant {
    let clock = record.first_clock().expect("the show clock");
    match record.lines.last() {
        Some(Line::Closed(closed)) => clock.at(closed),
        last => panic!("the last line closes the journal, not {last:?}"),
    }
}
