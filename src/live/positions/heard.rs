//! What is believed of a feed. Pure: it is told the show clock.

use jiff::Timestamp;

use super::feed::Said;
use crate::live::event::{Position, What};
use crate::position::{Fix, Ground, Lie, Spot, Watch};
use crate::show::Name;
use crate::units::{Angle, Instant, Span};

/// From one position of the session to the next, in the feed's time: what comes in between is watched only.
const EVERY: Span = Span::from_ms(950);
/// A feed that says nothing for so long has stopped.
const SILENT: Span = Span::from_ms(5_000);
/// What is said of a feed is said again only after this.
const SAID_AGAIN: Span = Span::from_ms(30_000);
/// A fix so much later than the feed's earliest ones is old news.
const LATE: Span = Span::from_ms(2_000);
/// So many late ones in a row are not late: the feed's clock was set.
const CLOCK_SET: usize = 5;
/// The furthest from crowd centre that is looked at.
const FURTHEST_M: f64 = 60_000.0;

/// Listens to a feed of one aircraft.
#[derive(Debug)]
pub struct Heard {
    aircraft: Name,
    ground: Ground,
    line_bearing: Angle,
    /// Show seconds in a second: at a fast pace all that arrives is later, by the show clock.
    rate: f64,
    watch: Watch,
    /// The last fix that was believed, where that is, and when it was there.
    last: Option<(Fix, Spot)>,
    told: Option<Timestamp>,
    clock: Option<Clock>,
    late: usize,
    /// When anything believable was last heard; from when nothing was, at first.
    heard: Option<Instant>,
    stopped: bool,
    /// What was last said of the feed, and when.
    said: Option<(String, Instant)>,
    why_useless: Option<&'static str>,
}

/// How the feed's clock stands to the show clock: a fix and the least time any took to arrive.
#[derive(Debug, Clone, Copy)]
struct Clock {
    feed: Timestamp,
    show: Instant,
}

impl Heard {
    /// Listens to `aircraft`, over `ground` with its display line at `line_bearing`; the show clock, and with it
    /// a log that is played back, runs `rate` times as fast as the machine's.
    pub fn new(aircraft: Name, ground: Ground, line_bearing: Angle, rate: f64) -> Heard {
        Heard {
            aircraft,
            ground,
            line_bearing,
            rate,
            watch: Watch::default(),
            last: None,
            told: None,
            clock: None,
            late: 0,
            heard: None,
            stopped: false,
            said: None,
            why_useless: None,
        }
    }

    /// Listens anew: the show clock was set, or runs at another rate.
    pub fn begin_anew(&mut self, rate: f64) {
        self.rate = rate;
        self.watch = Watch::default();
        (self.last, self.told, self.clock, self.late) = (None, None, None, 0);
        (self.heard, self.stopped, self.said, self.why_useless) = (None, false, None, None);
    }

    /// Takes what the feed said; it arrived when the show clock stood at `arrived`. Gives what happened.
    pub fn take(&mut self, said: &Said, arrived: Instant) -> Vec<What> {
        match said {
            Said::Fix(fix) => self.take_fix(fix, arrived),
            Said::Useless(why) => {
                self.why_useless = Some(why);
                Vec::new()
            }
            Said::Broken(why) => self.say(format!("the feed is cut off: {why}"), arrived),
        }
    }

    /// Looks whether the feed has stopped.
    pub fn look(&mut self, now: Instant) -> Vec<What> {
        let since = *self.heard.get_or_insert(now);
        if self.stopped || now - since < SILENT * self.rate.max(1.0) {
            return Vec::new();
        }
        self.stopped = true;
        let why = self.why_useless.take();
        let why = why.map_or(String::new(), |why| format!(", {why}"));
        let text = format!("nothing of {} for {}{why}", self.aircraft, SILENT);
        self.say(text, now)
    }

    fn take_fix(&mut self, fix: &Fix, arrived: Instant) -> Vec<What> {
        if let Err(lie) = self.watch.take(fix) {
            return match lie {
                // A sentence sent twice is nothing to speak of.
                Lie::Twice => Vec::new(),
                lie => self.say(format!("a fix is not used, {lie}"), arrived),
            };
        }
        let Some(observed) = self.observed(fix, arrived) else {
            return self.say("fixes come late and are not used".into(), arrived);
        };
        let spot = self.ground.spot(fix.place);
        let before = self.last.replace((*fix, spot));
        let mut happened = Vec::new();
        self.heard = Some(arrived);
        self.why_useless = None;
        if std::mem::take(&mut self.stopped) {
            self.said = None;
            happened.extend(self.say(format!("{} is seen again", self.aircraft), arrived));
        }
        if spot.from_centre().m() > FURTHEST_M {
            happened.extend(self.say(
                format!(
                    "{} is {} from crowd centre: is this the right feed and site?",
                    self.aircraft,
                    far(spot)
                ),
                arrived,
            ));
            return happened;
        }
        let enough = |told: Timestamp| {
            let since = fix.at.duration_since(told).as_secs_f64();
            !(0.0..EVERY.s()).contains(&since)
        };
        if self.told.is_none_or(enough) {
            self.told = Some(fix.at);
            happened.push(What::Position(Position {
                observed,
                aircraft: self.aircraft.clone(),
                along_m: spot.along.m(),
                across_m: spot.across.m(),
                along_mps: self.along(fix, spot, before),
            }));
        }
        happened
    }

    /// Speed along the line: as the receiver says, else from the last fix.
    fn along(&self, fix: &Fix, spot: Spot, before: Option<(Fix, Spot)>) -> Option<f64> {
        if let (Some(speed), Some(track)) = (fix.ground_speed, fix.track) {
            return Some(speed.mps() * (track - self.line_bearing).rad().cos());
        }
        let (earlier, from) = before?;
        let took = fix.at.duration_since(earlier.at).as_secs_f64();
        (0.5..5.0)
            .contains(&took)
            .then(|| (spot.along - from.along).m() / took)
    }

    /// When a fix was, on the show clock: what arrives fastest tells how the clocks stand. `None` if it is
    /// old news.
    fn observed(&mut self, fix: &Fix, arrived: Instant) -> Option<Instant> {
        let clock = *self.clock.get_or_insert(Clock {
            feed: fix.at,
            show: arrived,
        });
        let after = fix.at.duration_since(clock.feed).as_secs_f64();
        let expected = clock.show + Span::from_s(after);
        let late = arrived - expected;
        if late > LATE * self.rate.max(1.0) && self.late < CLOCK_SET {
            self.late += 1;
            return None;
        }
        let was_set = self.late >= CLOCK_SET;
        self.late = 0;
        if late < Span::ZERO || was_set {
            self.clock = Some(Clock {
                feed: fix.at,
                show: arrived,
            });
            return Some(arrived);
        }
        Some(expected)
    }

    /// Says something of the feed, but not the same again and again.
    fn say(&mut self, says: String, now: Instant) -> Vec<What> {
        // What comes after a comma is detail: how fast a jump was.
        let kind = says.split(',').next().unwrap_or_default().to_owned();
        let again = self
            .said
            .as_ref()
            .is_some_and(|(said, at)| *said == kind && now - *at < SAID_AGAIN * self.rate.max(1.0));
        if again {
            return Vec::new();
        }
        self.said = Some((kind, now));
        vec![What::Feed { says }]
    }
}

fn far(spot: Spot) -> String {
    format!("{:.0} km", spot.from_centre().m() / 1_000.0)
}
