//! A small display to rehearse with, and a session of it driven event by event.

#![allow(dead_code)] // each test file uses its part

use std::sync::Arc;

use abeam::live::{Act, CueState, Effect, Event, Mark, MarkKind, Session, What};
use abeam::script::readings;
use abeam::show::load::read;
use abeam::show::{Name, Show};
use abeam::timeline::{Facts, Plan};
use abeam::units::{Instant, Span};

/// An invented display: arrival, slow pass, memorial pass from a hold, departure; tracks of two minutes.
pub const DISPLAY: &str = r#"
[show]
title = "Rehearsal"
start = "19:40:00"
zero = "arrival.abeam"
profile = "high"

[profile.high]
order = ["arrival", "back-one", "slow-pass", "back-two", "memorial", "departure"]
[profile.low]
order = ["arrival", "back-one", "memorial", "departure"]

[site]
elevation = "100 m"
line_bearing = 90
line_distance = "230 m"
stand = "40 m left"

[day]
qnh = "1013.25 hPa"
temperature = "15 C"
wind = [{ height = "0 ft", from = 270, speed = "0 kt" }]

[aircraft.solo]
name = "Lantern One"

[[figure]]
id = "arrival"
name = "Arrival"
aircraft = "solo"
from = "left"
spread = "1 s"
legs = [
  { hold = "4 nmi", expect = "30 s", spread = "5 s" },
  { run = "to centre", speed = "240 kt tas", height = "500 ft", pass = true },
  { run = "for 1 nmi" },
]

[[figure]]
id = "back-one"
name = "Reposition"
aircraft = "solo"
from = "right"
spread = "2 s"
takes = "40 s"

[[figure]]
id = "slow-pass"
name = "Slow pass"
aircraft = "solo"
from = "right"
gates = ["1 nmi"]
spread = "2 s"
legs = [
  { run = "to centre", speed = "120 kt tas", height = "300 ft", pass = true },
  { run = "for 1 nmi" },
]

[[figure]]
id = "back-two"
name = "Reposition"
aircraft = "solo"
from = "left"
spread = "2 s"
takes = "40 s"

[[figure]]
id = "memorial"
name = "Memorial pass"
aircraft = "solo"
from = "left"
gates = ["2 nmi", "1 nmi"]
spread = "1.5 s"
legs = [
  { hold = "4 nmi", expect = "60 s", spread = "15 s" },
  { run = "to centre", speed = "240 kt tas", height = "500 ft", pass = true },
  { run = "for 1 nmi" },
]

[[figure]]
id = "departure"
name = "Departure"
aircraft = "solo"
from = "right"
spread = "1 s"
takes = "30 s"

[[block]]
id = "welcome"
text = "Good evening, and welcome to the lake."
starts = "arrival.abeam + 12 s"

[[block]]
id = "slow-words"
text = "Slow and low."
starts = "slow-pass.abeam - 20 s"

[[block]]
id = "memorial-words"
text = "This pass is flown for those who went out and did not come home."
starts = "memorial.inbound + 2 s"
ends_by = "memorial.abeam - 4 s"
keep = "must"

[[silence]]
from = "memorial.abeam - 3 s"
until = "memorial.abeam + 8 s"

[[call]]
id = "smoke"
who = "coordinator"
at = "memorial.abeam - 10 s"
text = "Smoke on"

[[call]]
id = "half-past"
who = "coordinator"
at = "clock 19:45:00"
text = "Five minutes"

[[track]]
id = "overture"
file = "overture.flac"
starts = "show - 10 s"
ends = "slow-pass.abeam - 30 s"
fade_out = "4 s"

[[track]]
id = "hymn"
file = "hymn.flac"
fade_out = "4 s"
hits = { last_verse = "0:48.000" }
bar = "3 s"
vamp = { from = "0:12.000", to = "0:24.000" }
stretch = "3 %"
meets = { hit = "last_verse", on = "memorial.abeam", within = "1 s", if_missed = "late" }

[[track]]
id = "sting"
file = "sting.flac"
go = "hand"
under = true
"#;

/// The rehearsal display, planned in a profile.
pub fn plan(profile: &str) -> (Arc<Show>, Arc<Plan>) {
    plan_of(DISPLAY, profile)
}

/// A display, planned in a profile.
pub fn plan_of(display: &str, profile: &str) -> (Arc<Show>, Arc<Plan>) {
    let (show, faults) = read("rehearsal.toml", display);
    let show = show.unwrap_or_else(|| panic!("the rehearsal display has faults: {faults:#?}"));
    let facts = Facts {
        readings: readings(&show),
        track_lengths: vec![Span::from_s(120.0); show.tracks.len()],
    };
    let plan = Plan::new(&show, &Name::from(profile), &show.day, facts);
    (Arc::new(show), Arc::new(plan))
}

/// A session of it, and everything it has done.
pub struct Rehearsal {
    pub session: Session,
    pub effects: Vec<Effect>,
}

impl Rehearsal {
    /// Begins well before the display.
    pub fn new() -> Rehearsal {
        Rehearsal::of(DISPLAY)
    }

    /// Begins well before another display.
    pub fn of(display: &str) -> Rehearsal {
        let (show, plan) = plan_of(display, "high");
        let before = plan.moments.figures[0].start() - Span::from_s(30.0);
        Rehearsal {
            session: Session::new(show, plan, before),
            effects: Vec::new(),
        }
    }

    /// Something happens at `s` seconds of the show.
    pub fn at(&mut self, s: f64, what: What) -> &mut Self {
        let event = Event {
            at: Instant::from_s(s),
            what,
        };
        self.effects.extend(self.session.apply(&event));
        self
    }

    /// Time passes until `s` seconds of the show.
    pub fn until(&mut self, s: f64) -> &mut Self {
        self.at(s, What::Tick)
    }

    /// A mark keyed and seen at `s` seconds.
    pub fn mark(&mut self, kind: MarkKind, s: f64) -> &mut Self {
        self.at(s, mark(kind, s))
    }

    /// When a point is now expected, in seconds.
    pub fn expects(&self, key: &str, point: &str) -> f64 {
        let point = abeam::show::PointName::read(point);
        let times = self
            .session
            .times_of(&key.into())
            .expect("a figure that is flown");
        times.expected(&point).expect("a point of it").at.s()
    }

    /// When a point is planned, in seconds.
    pub fn planned(&self, key: &str, point: &str) -> f64 {
        let point = abeam::show::PointName::read(point);
        self.session
            .planned_point(&key.into(), &point)
            .expect("a planned point")
            .s()
    }

    /// The starts of a track so far, in seconds.
    pub fn starts(&self, id: &str) -> Vec<f64> {
        let track = self.track(id);
        self.effects
            .iter()
            .filter(|effect| matches!(effect.act, Act::Start { track: t, .. } if t == track))
            .map(|effect| effect.at.s())
            .collect()
    }

    /// What a track is doing.
    pub fn track_state(&self, id: &str) -> CueState {
        self.session.tracks()[self.track(id)].state
    }

    /// What a block is doing.
    pub fn block_state(&self, id: &str) -> CueState {
        let i = self
            .session
            .show()
            .blocks
            .iter()
            .position(|b| b.id == id)
            .expect("a block");
        self.session.blocks()[i].state
    }

    /// What a call is doing.
    pub fn call_state(&self, id: &str) -> CueState {
        let i = self
            .session
            .show()
            .calls
            .iter()
            .position(|c| c.id == id)
            .expect("a call");
        self.session.calls()[i].state
    }

    fn track(&self, id: &str) -> usize {
        self.session
            .show()
            .tracks
            .iter()
            .position(|t| t.id == id)
            .expect("a track")
    }

    /// Flies the display exactly as planned, every pass and inbound marked, until `s` seconds.
    pub fn fly_as_planned_until(&mut self, s: f64) -> &mut Self {
        let keyed = [
            ("arrival", "inbound", MarkKind::Inbound),
            ("arrival", "abeam", MarkKind::Abeam),
            ("slow-pass", "abeam", MarkKind::Abeam),
            ("memorial", "inbound", MarkKind::Inbound),
            ("memorial", "abeam", MarkKind::Abeam),
        ];
        for (key, point, kind) in keyed {
            let at = self.planned(key, point) + self.parallax(key, kind);
            if at <= s {
                self.mark(kind, at);
            }
        }
        self.until(s)
    }

    /// How much later than at centre a pass is abeam of the stand, 40 m to the crowd's left of it.
    pub fn parallax(&self, key: &str, kind: MarkKind) -> f64 {
        let knots = if key == "slow-pass" { -120.0 } else { 240.0 };
        let along = knots * 1852.0 / 3600.0;
        if kind == MarkKind::Abeam {
            -40.0 / along
        } else {
            0.0
        }
    }
}

/// A mark seen at `s` seconds.
pub fn mark(kind: MarkKind, s: f64) -> What {
    What::Mark(Mark {
        kind,
        observed: Instant::from_s(s),
        point: None,
    })
}
