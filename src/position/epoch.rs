//! Joins the sentences of one epoch to one fix.

use jiff::civil::{Date, Time};

use super::calendar::Calendar;
use super::nmea::{Gga, Rmc, Sentence};
use super::{DoubtKind, Fix};

/// Joins RMC and GGA sentences of the same time of day.
#[derive(Debug)]
pub struct Joiner {
    calendar: Calendar,
    open: Option<Epoch>,
}

/// The sentences of one time of day, and the line of the first.
#[derive(Debug)]
struct Epoch {
    time: Time,
    rmc: Option<Rmc>,
    gga: Option<Gga>,
    line: u64,
}

/// What an epoch came to: a fix or why it is none, and its line.
pub type Joined = (Result<Fix, DoubtKind>, u64);

impl Joiner {
    /// `day` (UTC) is the date of the first epoch, for logs that state none.
    pub fn new(day: Option<Date>) -> Joiner {
        Joiner {
            calendar: Calendar::new(day),
            open: None,
        }
    }

    /// Takes the sentence of a line; gives the epoch before it if this begins another.
    pub fn take(&mut self, sentence: Sentence, line: u64) -> Option<Joined> {
        let (time, rmc, gga) = match sentence {
            Sentence::Rmc(rmc) => (rmc.time, Some(rmc), None),
            Sentence::Gga(gga) => (gga.time, None, Some(gga)),
            Sentence::Other => return None,
        };
        let Some(time) = time else {
            return Some((Err(DoubtKind::Incomplete), line));
        };
        if let Some(open) = self.open.as_mut().filter(|open| open.time == time) {
            // A second of its kind, from another receiver in the same log, changes nothing.
            open.rmc = open.rmc.or(rmc);
            open.gga = open.gga.or(gga);
            return None;
        }
        let before = self.finish();
        self.open = Some(Epoch {
            time,
            rmc,
            gga,
            line,
        });
        before
    }

    /// The last epoch.
    pub fn finish(&mut self) -> Option<Joined> {
        let epoch = self.open.take()?;
        Some((self.fix(&epoch), epoch.line))
    }

    /// The fix an RMC sentence is by itself, at once.
    pub fn alone(&mut self, rmc: Rmc) -> Result<Fix, DoubtKind> {
        let time = rmc.time.ok_or(DoubtKind::Incomplete)?;
        self.fix(&Epoch {
            time,
            rmc: Some(rmc),
            gga: None,
            line: 0,
        })
    }

    fn fix(&mut self, epoch: &Epoch) -> Result<Fix, DoubtKind> {
        // A date counts even where the position does not.
        let date = epoch.rmc.and_then(|rmc| rmc.date);
        let at = match date {
            Some(date) => self.calendar.dated(date, epoch.time),
            None => self.calendar.undated(epoch.time),
        };
        let rmc = epoch.rmc.filter(|rmc| rmc.measured);
        let gga = epoch.gga.filter(|gga| gga.measured);
        if rmc.is_none() && gga.is_none() {
            return Err(DoubtKind::Unmeasured);
        }
        let place = rmc.and_then(|rmc| rmc.place);
        let place = place
            .or(gga.and_then(|gga| gga.place))
            .ok_or(DoubtKind::Incomplete)?;
        Ok(Fix {
            at: at.ok_or(DoubtKind::Dateless)?,
            place,
            height: gga.and_then(|gga| gga.height),
            ground_speed: rmc.and_then(|rmc| rmc.ground_speed),
            track: rmc.and_then(|rmc| rmc.track),
        })
    }
}
