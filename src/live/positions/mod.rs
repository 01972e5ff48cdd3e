//! Live positions: a feed of NMEA 0183 RMC sentences of one aircraft, from the network, a device or a file.
//!
//! * [`Source`]: where they come from, as people write it. [`Feed`]: a thread that reads them.
//! * [`Heard`]: what of them is believed, and when: positions for the session, and what to say of the feed.
//! * [`Positions`]: both together.

mod feed;
mod heard;
mod source;

pub use feed::{Feed, Received, Said};
pub use heard::Heard;
pub use source::Source;

use super::clock::ShowClock;
use super::event::What;
use crate::position::{Ground, Place};
use crate::show::{Name, Show};
use crate::units::Span;

/// A feed and what is believed of it.
#[derive(Debug)]
pub struct Positions {
    feed: Feed,
    heard: Heard,
    /// Whether it is a log, which can be played back at any pace.
    is_log: bool,
    /// Whether it was said that positions are not followed at this pace.
    told: bool,
}

impl Positions {
    /// Follows `aircraft` by a feed; the show clock runs `rate` times as fast as the machine's. An error
    /// says what to do.
    pub fn open(
        source: Source,
        show: &Show,
        aircraft: Name,
        rate: f64,
    ) -> Result<Positions, String> {
        let centre = show.site.centre;
        let centre = centre.and_then(|(lat, lon)| Place::from_deg(lat.deg(), lon.deg()));
        let centre = centre.ok_or(
            "positions need the place of crowd centre: write centre = { lat = 61.0, lon = 9.5 } in [site]",
        )?;
        let bearing = show.site.line_bearing;
        let name = source.to_string();
        let is_log = matches!(&source, Source::File(path) if path.is_file());
        let feed = Feed::open(source, rate).map_err(|error| format!("{name}: {error}"))?;
        let heard = Heard::new(aircraft, Ground::new(centre, bearing), bearing, rate);
        Ok(Positions {
            feed,
            heard,
            is_log,
            told: false,
        })
    }

    /// The show clock was set, or runs at another rate from now on.
    pub fn follow_clock(&mut self, clock: &ShowClock) {
        self.feed.play_at(clock.rate);
        self.heard.begin_anew(clock.rate);
        self.told = false;
    }

    /// What has happened since, by the show clock. What really flies flies at real speed: at any other only a log
    /// is followed.
    pub fn poll(&mut self, clock: &ShowClock) -> Vec<What> {
        let now = clock.now();
        if clock.rate != 1.0 && !self.is_log {
            self.feed.take().for_each(drop);
            let told = std::mem::replace(&mut self.told, true);
            let says = || What::Feed {
                says: "positions are followed at real speed only".into(),
            };
            return (!told && clock.rate != 0.0)
                .then(says)
                .into_iter()
                .collect();
        }
        let mut happened = Vec::new();
        for received in self.feed.take() {
            let age = Span::from_s(received.at.elapsed().as_secs_f64()) * clock.rate;
            happened.extend(self.heard.take(&received.said, now - age));
        }
        happened.extend(self.heard.look(now));
        happened
    }
}
