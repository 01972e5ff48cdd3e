//! Which date a time of day belongs to.

use jiff::civil::{Date, Time};
use jiff::tz::Offset;
use jiff::{Span, Timestamp};

/// Half a day: a time of day is on the date that brings it nearer than this to the last one known.
const HALF_A_DAY_S: i64 = 12 * 3_600;
const DAY_S: i64 = 24 * 3_600;

/// Dates times of day, over midnight in both directions.
#[derive(Debug, Clone, Copy)]
pub struct Calendar {
    day: Option<Date>,
    last: Option<Timestamp>,
}

impl Calendar {
    /// With the date (UTC) of the first time of day, where that is known.
    pub fn new(day: Option<Date>) -> Calendar {
        Calendar { day, last: None }
    }

    /// The instant of a time and a date that stands beside it.
    pub fn dated(&mut self, date: Date, time: Time) -> Option<Timestamp> {
        let at = utc(date, time)?;
        self.last = Some(at);
        Some(at)
    }

    /// The instant of a time of day: the one nearest to the last; `None` where no date is known.
    pub fn undated(&mut self, time: Time) -> Option<Timestamp> {
        let at = match self.last {
            Some(last) => {
                let at = utc(Offset::UTC.to_datetime(last).date(), time)?;
                let after_s = at.as_second() - last.as_second();
                let days = (after_s + HALF_A_DAY_S).div_euclid(DAY_S);
                at.checked_sub(Span::new().try_seconds(days * DAY_S).ok()?)
                    .ok()?
            }
            None => utc(self.day?, time)?,
        };
        self.last = Some(at);
        Some(at)
    }
}

fn utc(date: Date, time: Time) -> Option<Timestamp> {
    Offset::UTC.to_timestamp(date.to_datetime(time)).ok()
}

#[cfg(test)]
mod tests {
    use jiff::civil::{date, time};

    use super::*;

    #[test]
    fn times_of_day_go_on_over_midnight_in_both_directions() {
        let mut calendar = Calendar::new(Some(date(2024, 2, 28)));
        let mut read = |time| calendar.undated(time).map(|at| at.to_string());
        let texts = [
            (time(23, 59, 59, 0), "2024-02-28T23:59:59Z"),
            (time(0, 0, 0, 500_000_000), "2024-02-29T00:00:00.5Z"),
            (time(23, 59, 58, 0), "2024-02-28T23:59:58Z"),
            (time(0, 0, 1, 0), "2024-02-29T00:00:01Z"),
            (time(11, 0, 0, 0), "2024-02-29T11:00:00Z"),
        ];
        for (time, text) in texts {
            assert_eq!(read(time).as_deref(), Some(text));
        }
    }

    #[test]
    fn a_time_of_day_with_no_date_known_is_none() {
        assert_eq!(Calendar::new(None).undated(time(1, 2, 3, 0)), None);
    }
}
