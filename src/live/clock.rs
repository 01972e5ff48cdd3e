//! The show clock: which instant of the show it is now.
//!
//! It runs on the boot-time clock, which counts through sleep and is never set. The wall clock is only used
//! to find the show again after the machine itself has been restarted.

use rustix::time::{ClockId, clock_gettime};
use serde::{Deserialize, Serialize};

use crate::units::{Instant, Span};

/// The machine's clocks, read together.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reading {
    /// Which boot of the machine this is.
    pub boot_id: String,
    /// Microseconds since then.
    pub boot_us: i64,
    /// Microseconds since 1970, UTC.
    pub wall_us: i64,
}

/// Where the show clock stood at a reading, and how fast it runs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShowClock {
    /// The machine's clocks then.
    #[serde(flatten)]
    pub reading: Reading,
    /// The show clock then.
    #[serde(rename = "at_us")]
    pub at: Instant,
    /// Show seconds in a second; 1 but for rehearsals.
    pub rate: f64,
}

impl Reading {
    /// Reads the clocks now.
    pub fn now() -> Reading {
        Reading {
            boot_id: boot_id(),
            boot_us: clock_us(ClockId::Boottime),
            wall_us: clock_us(ClockId::Realtime),
        }
    }
}

impl ShowClock {
    /// A show clock that stands at `at` at `reading`.
    pub fn new(reading: Reading, at: Instant, rate: f64) -> ShowClock {
        ShowClock { reading, at, rate }
    }

    /// The show clock at a later reading: by the boot-time clock, or by the wall clock after a restart of
    /// the machine.
    pub fn at(&self, reading: &Reading) -> Instant {
        if reading.boot_id == self.reading.boot_id {
            self.at + Span::from_us(reading.boot_us - self.reading.boot_us) * self.rate
        } else {
            self.at_wall(reading.wall_us)
        }
    }

    /// The show clock when the wall clock says so, in microseconds since 1970.
    pub fn at_wall(&self, us: i64) -> Instant {
        self.at + Span::from_us(us.saturating_sub(self.reading.wall_us)) * self.rate
    }

    /// The show clock now.
    pub fn now(&self) -> Instant {
        let elapsed = clock_us(ClockId::Boottime) - self.reading.boot_us;
        self.at + Span::from_us(elapsed) * self.rate
    }

    /// The instant of the show at a moment of the monotonic clock near now, in nanoseconds.
    pub fn at_monotonic(&self, ns: i64) -> Instant {
        let ahead = ns.saturating_div(1_000) - clock_us(ClockId::Monotonic);
        self.now() + Span::from_us(ahead) * self.rate
    }

    /// The monotonic clock, in nanoseconds, at an instant of the show near now.
    pub fn monotonic_ns(&self, at: Instant) -> i64 {
        let ahead = (at - self.now()) / self.rate;
        clock_us(ClockId::Monotonic)
            .saturating_add(ahead.us())
            .saturating_mul(1_000)
    }
}

fn clock_us(id: ClockId) -> i64 {
    let time = clock_gettime(id);
    time.tv_sec * 1_000_000 + time.tv_nsec / 1_000
}

/// Which boot this is: from the kernel; one word for every boot where it does not say.
fn boot_id() -> String {
    std::fs::read_to_string("/proc/sys/kernel/random/boot_id")
        .map_or_else(|_| "unknown".into(), |id| id.trim().to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(boot_id: &str, boot_s: i64, wall_s: i64) -> Reading {
        Reading {
            boot_id: boot_id.into(),
            boot_us: boot_s * 1_000_000,
            wall_us: wall_s * 1_000_000,
        }
    }

    #[test]
    fn the_same_boot_counts_by_boot_time_even_when_the_wall_clock_is_set() {
        let clock = ShowClock::new(reading("a", 100, 5_000), Instant::from_s(-20.0), 1.0);
        assert_eq!(clock.at(&reading("a", 130, 9_999)), Instant::from_s(10.0));
    }

    #[test]
    fn another_boot_counts_by_the_wall_clock() {
        let clock = ShowClock::new(reading("a", 100, 5_000), Instant::from_s(-20.0), 1.0);
        assert_eq!(clock.at(&reading("b", 3, 5_060)), Instant::from_s(40.0));
    }
}
