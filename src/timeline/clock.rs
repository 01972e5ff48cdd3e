//! Times of day on the show clock, and how times are told to people.

use jiff::civil;

use crate::show::Show;
use crate::units::{Instant, Span};

const DAY: i64 = 86_400;

/// A time of day on the show clock as planned, taken as the one nearest to show zero; `None` without a start time.
pub fn clock_instant(show: &Show, clock: civil::Time) -> Option<Instant> {
    Some(Instant::ZERO + clock_after_zero(show, clock)?)
}

/// How long after show zero a time of day is, taken as the one nearest to it; `None` without a start time.
pub fn clock_after_zero(show: &Show, clock: civil::Time) -> Option<Span> {
    let mut apart = (seconds(clock) - seconds(show.start?)).rem_euclid(DAY);
    if apart > DAY / 2 {
        apart -= DAY;
    }
    Some(Span::from_us(apart * 1_000_000))
}

/// An instant as people at the show say it: `19:52:05` where show zero has a time of day, else the time
/// of the show, `12:05.0`.
pub fn told(show: &Show, at: Instant) -> String {
    let whole = |start| {
        let [hour, minute, second, _] = time_of_day(start, at, 1);
        format!("{hour:02}:{minute:02}:{second:02}")
    };
    show.start.map_or_else(|| at.to_string(), whole)
}

/// The same to a tenth of a second: `19:52:05.3`.
pub fn told_finely(show: &Show, at: Instant) -> String {
    let tenths = |start| {
        let [hour, minute, second, tenth] = time_of_day(start, at, 10);
        format!("{hour:02}:{minute:02}:{second:02}.{tenth}")
    };
    show.start.map_or_else(|| at.to_string(), tenths)
}

/// Hour, minute, second and what is left of a second in parts of it, of which a second has `parts`.
fn time_of_day(start: civil::Time, at: Instant, parts: i64) -> [i64; 4] {
    let after = (at.s() * parts as f64).round() as i64;
    let all = (seconds(start) * parts + after).rem_euclid(DAY * parts);
    let second = all / parts;
    [second / 3_600, second / 60 % 60, second % 60, all % parts]
}

/// How much too long something is, as people say it: to the next tenth of a second, so that taking off
/// what is said is enough.
pub(super) fn excess(span: Span) -> Span {
    const TENTH: i64 = 100_000;
    let tenths = span.us().saturating_add(TENTH - 1).div_euclid(TENTH);
    Span::from_us(tenths.saturating_mul(TENTH))
}

fn seconds(time: civil::Time) -> i64 {
    i64::from(time.hour()) * 3_600 + i64::from(time.minute()) * 60 + i64::from(time.second())
}
