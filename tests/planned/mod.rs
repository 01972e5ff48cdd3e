//! Small shows whose every time can be worked by hand: still standard air, true airspeeds, words and
//! tracks that last as long as their text says.

#![allow(dead_code)] // each test file uses its part

use abeam::script::Reading;
use abeam::show::load::read;
use abeam::show::{Name, PointName, Severity, Show, Wording};
use abeam::timeline::{Facts, Plan, PlayedTrack, SpokenBlock};
use abeam::units::{Instant, Span};

/// Crowd line to display line 240 m; nothing is too loud at 260 m unless a figure says so.
const PLACE: &str = r#"
[site]
elevation = "0 m"
line_bearing = 90
line_distance = "240 m"
[day]
qnh = "1013.25 hPa"
temperature = "15 C"
wind = [{ height = "0 ft", from = 270, speed = "0 kt" }]
[aircraft.solo]
name = "Lantern One"
[aircraft.pair]
name = "Lantern Two and Three"
"#;

/// A pass at 100 m/s, 100 m up: 60 s of hold 4 km out, 40 s to centre, 20 s after it.
/// Its points after its start: inbound 60, gates 80 and 90, abeam 100, end 120. At 240 m and 100 m it is
/// 260 m away abeam (5-12-13).
pub const PASS: &str = r#"
[[figure]]
id = "pass"
name = "Pass"
aircraft = "solo"
from = "left"
gates = ["2 km", "1 km"]
legs = [
  { hold = "4 km", expect = "60 s", spread = "10 s" },
  { run = "to centre", speed = "100 m/s tas", height = "100 m", pass = true },
  { run = "for 2 km" },
]
"#;

/// A figure nobody modelled, flown by the solo, `takes` seconds long.
pub fn timed(id: &str, takes: f64, more: &str) -> String {
    format!(
        "[[figure]]\nid = \"{id}\"\nname = \"{id}\"\naircraft = \"solo\"\ntakes = \"{takes} s\"\n{more}\n"
    )
}

pub struct Planned {
    pub show: Show,
    pub plan: Plan,
}

/// A document: `show` goes into `[show]`; the order is of the only profile.
pub fn document(show: &str, order: &[&str], body: &str) -> String {
    format!(
        "[show]\ntitle = \"Lake\"\nhush_above = \"0 dB\"\n{show}\n[profile.high]\norder = {order:?}\n{PLACE}\n{body}"
    )
}

pub fn planned(show: &str, order: &[&str], body: &str) -> Planned {
    of_text(&document(show, order, body))
}

pub fn of_text(text: &str) -> Planned {
    let (show, faults) = read("lake.toml", text);
    let show = show.unwrap_or_else(|| panic!("{faults:#?}"));
    let plan = Plan::new(&show, &show.profile, &show.day, facts(&show));
    Planned { show, plan }
}

/// A text of `"7 s"` takes 7 s to say, and the file `30 s.flac` lasts 30 s.
pub fn facts(show: &Show) -> Facts {
    let lasts = |text: &str| {
        text.parse::<Span>()
            .expect("a text that says how long it is")
    };
    let reading = |words: &Wording| Reading::from(lasts(&words.text));
    Facts {
        readings: show
            .blocks
            .iter()
            .map(|block| (reading(&block.text), block.short.as_ref().map(reading)))
            .collect(),
        track_lengths: show
            .tracks
            .iter()
            .map(|track| lasts(track.file.trim_end_matches(".flac")))
            .collect(),
    }
}

impl Planned {
    pub fn block(&self, id: &str) -> SpokenBlock {
        let i = self.show.blocks.iter().position(|b| b.id == id);
        self.plan.layout.blocks[i.expect("a block")]
    }

    pub fn track(&self, id: &str) -> PlayedTrack {
        let i = self.show.tracks.iter().position(|t| t.id == id);
        self.plan.layout.tracks[i.expect("a track")].clone()
    }

    pub fn call(&self, id: &str) -> f64 {
        let i = self.show.calls.iter().position(|c| c.id == id);
        let at = self.plan.layout.calls[i.expect("a call")].instant();
        seconds(at.expect("a time"))
    }

    /// A point of a figure, in seconds of the show.
    pub fn point(&self, figure: &str, point: &str) -> f64 {
        let times = self.plan.moments.figure(&Name::from(figure), 0);
        let expected = times
            .expect("a figure")
            .expected(&PointName::read(point))
            .expect("a point");
        seconds(expected.at)
    }

    pub fn start(&self, id: &str) -> Option<f64> {
        self.block(id).starts.instant().map(seconds)
    }

    pub fn slack(&self, id: &str) -> Option<f64> {
        self.block(id).slack.map(Span::s)
    }

    /// What does not fit: severity, message, help.
    pub fn faults(&self) -> Vec<(Severity, &str, &str)> {
        self.plan
            .faults
            .iter()
            .map(|fault| (fault.severity, fault.message.as_str(), fault.help.as_str()))
            .collect()
    }

    /// The messages of what does not fit.
    pub fn messages(&self) -> Vec<&str> {
        self.faults().iter().map(|fault| fault.1).collect()
    }
}

/// Seconds after show zero.
pub fn seconds(at: Instant) -> f64 {
    at.s()
}

/// Whether two times are the same to a millisecond.
pub fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-3
}
