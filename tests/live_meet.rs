//! The music waits for the aircraft: a show run live whose pass turns out, by a mark in its run-in, to be four
//! seconds later than planned, and another three seconds earlier. The hit of the track that plays already is
//! heard at the instant the pass is expected after that mark, with no click and nothing run dry.
//!
//! How what is heard is given an instant is told in `desk`. When the pass is expected after the mark, the
//! journal says, folded by the library.

mod desk;
mod live;
mod pty;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use abeam::live::journal::Record;
use abeam::live::{Event, Mark, MarkKind, Session, What};
use abeam::show::load::load;
use abeam::show::{PointName, Show};
use abeam::timeline::meet::COMMIT;
use abeam::timeline::{Facts, Meeting, Plan};
use abeam::units::{Instant, Span};
use desk::{NullSink, RATE, Recording, write_wav};
use live::{
    MS, alone, monotonic_of, past_the_cautions, path_text, read, underruns, undisturbed, wait_until,
};
use pty::Program;

/// Inbound at show zero, abeam at 22 s, a gate 11.5 s before it. Bars of 0.6 s from 2 to 8 s of the track, six of
/// them planned to come again, the hit at 12 s: it starts 15.6 s before the pass.
const SHOW: &str = r#"
[show]
title = "A pass and its bell"
zero = "pass.inbound"
[profile.high]
order = ["pass"]
[site]
elevation = "0 m"
line_bearing = 90
line_distance = "230 m"
[day]
qnh = "1013.25 hPa"
temperature = "15 C"
wind = [{ height = "0 ft", from = 270, speed = "0 kt" }]
[aircraft.solo]
name = "Lantern One"
[[figure]]
id = "pass"
name = "Pass"
from = "left"
gates = ["1150 m"]
spread = "1 s"
legs = [
  { hold = "2200 m", expect = "20 s", spread = "5 s" },
  { run = "to centre", speed = "100 m/s tas", height = "100 m", pass = true },
  { run = "for 1 km" },
]
[[track]]
id = "tones"
file = "tones.wav"
hits = { bell = "0:12" }
tempo = "100 bpm"
bar = "1 beat"
vamp = { from = "0:02", to = "0:08", step = "bar", planned = 6 }
first_bar = "0:00.200"
stretch = "4 %"
meets = { hit = "bell", on = "pass.abeam", within = "1 s" }
"#;

const TRACK_S: f64 = 20.0;
const BELL_S: f64 = 12.0;
/// How loud the tones are before the bell, and the bell.
const TONES: f64 = 0.15;
const BELL: f64 = 0.6;

/// Two tones, and from the bell on a third, much louder, that comes in over 10 ms.
fn sample(second: f64) -> f64 {
    let sine = |hz: f64| (std::f64::consts::TAU * hz * second).sin();
    let in_by = ((second - BELL_S) / 0.010).clamp(0.0, 1.0);
    let rise = 0.5 - 0.5 * (std::f64::consts::PI * in_by).cos();
    TONES * (sine(220.0) + sine(280.0)) / 2.0 + BELL * rise * sine(1_000.0)
}

fn write_track(path: &Path) {
    let frames = 0..(TRACK_S * f64::from(RATE)) as u32;
    write_wav(
        path,
        frames.map(|i| [sample(f64::from(i) / f64::from(RATE))]),
    );
}

struct Stage {
    folder: tempfile::TempDir,
    show: Arc<Show>,
    plan: Arc<Plan>,
}

impl Stage {
    fn new() -> Stage {
        let folder = tempfile::tempdir().expect("a folder");
        for name in ["cues", "media"] {
            std::fs::create_dir(folder.path().join(name)).expect("a folder");
        }
        std::fs::write(folder.path().join("cues/pass.toml"), SHOW).expect("the document");
        write_track(&folder.path().join("media/tones.wav"));
        let loaded = load(&folder.path().join("cues/pass.toml"));
        let show = Arc::new(loaded.unwrap_or_else(|error| panic!("{error:?}")).show);
        let facts = Facts {
            readings: Vec::new(),
            track_lengths: vec![Span::from_s(TRACK_S)],
        };
        let plan = Plan::new(&show, &show.profile, &show.day, facts);
        Stage {
            folder,
            show,
            plan: Arc::new(plan),
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn env(&self, sink: &NullSink) -> Vec<(String, String)> {
        let home = self.folder.path().display().to_string();
        let mut env: Vec<(String, String)> = ["HOME", "XDG_STATE_HOME", "XDG_DATA_HOME"]
            .map(|name| (name.to_owned(), home.clone()))
            .into();
        env.extend(sink.env());
        env
    }

    fn session(&self) -> Session {
        Session::new(self.show.clone(), self.plan.clone(), Instant::from_s(-60.0))
    }

    /// What a journal makes of the show by an instant.
    fn fold(&self, record: &Record, until: Instant) -> Session {
        let mut session = self.session();
        for event in record.events().filter(|event| event.at <= until) {
            session.apply(event);
        }
        session.apply(&tick(until));
        session
    }

    /// How late the gate must be marked for the pass to be expected so much later than planned.
    fn gate_late(&self, later: f64) -> Instant {
        let gate = expected(&self.session(), "gate.1");
        let moved = |late: f64| {
            let mut session = self.session();
            let at = gate + Span::from_s(late);
            session.apply(&marked(MarkKind::Inbound, Instant::ZERO));
            session.apply(&marked(MarkKind::Gate, at));
            (expected(&session, "abeam") - expected(&self.session(), "abeam")).s()
        };
        let lates = (-500..=500).map(|hundredth| f64::from(hundredth) / 100.0);
        let nearest = lates.min_by(|a, b| {
            let off = |late: &f64| (moved(*late) - later).abs();
            off(a).total_cmp(&off(b))
        });
        gate + Span::from_s(nearest.expect("a time"))
    }
}

fn tick(at: Instant) -> Event {
    Event {
        at,
        what: What::Tick,
    }
}

fn marked(kind: MarkKind, at: Instant) -> Event {
    let mark = Mark {
        kind,
        observed: at,
        point: None,
    };
    Event {
        at,
        what: What::Mark(mark),
    }
}

fn expected(session: &Session, point: &str) -> Instant {
    let times = session.times_of(&"pass".into()).expect("the pass");
    times
        .expected(&PointName::read(point))
        .expect("its point")
        .at
}

fn meeting(session: &Session) -> Meeting {
    session.layout().tracks[0].meeting.expect("a meet")
}

struct Run {
    recording: Recording,
    record: Record,
}

/// Runs the show with inbound as planned and the gate marked at `gate`; `None` when the machine did not let it.
fn fly(stage: &Stage, sink: &NullSink, gate: Instant, journal: &str) -> Option<Run> {
    let path = stage.path(journal);
    let env = stage.env(sink);
    let document = stage.path("cues/pass.toml");
    let recorder = sink.record();
    let arguments = [
        "show",
        path_text(&document),
        "--from",
        "-4 s",
        "--journal",
        path_text(&path),
    ];
    let mut program = Program::start(env!("CARGO_BIN_EXE_abeam"), &arguments, &env, (120, 40));
    past_the_cautions(&mut program);
    let clock = read(&path).first_clock().expect("the show clock").clone();
    wait_until(&clock, Instant::ZERO)?;
    program.key("n");
    program.until_shown("pass inbound marked");
    program.key("\t");
    wait_until(&clock, gate)?;
    let dry = program.until("the underruns so far", underruns);
    program.key("g");
    program.until_shown("pass gate.1 marked");
    let abeam = expected(&stage.fold(&read(&path), clock.now()), "abeam");
    program.until("what will happen", |screen| {
        // Wherever its lines break.
        let screen = screen.split_whitespace().collect::<Vec<_>>().join(" ");
        let said = [
            "hit bell meets Pass abeam",
            "more bar",
            "bars fixed",
            "fixed from",
        ];
        said.iter()
            .all(|words| screen.contains(words))
            .then_some(())
    });
    wait_until(&clock, abeam + Span::from_s(1.0))?;
    let dry = program.until("the underruns", underruns) - dry;
    program.key("q");
    program.until_shown("leave the program?");
    program.key("\r");
    program.end().assert_restored();
    let run = Run {
        recording: recorder.finish(),
        record: read(&path),
    };
    // Where the server ran dry for a moment it has put in exact silence, which the tones never have; where the
    // program does, that is counted.
    let frame = |at: Instant| run.recording.frame(monotonic_of(&clock, at));
    let sounding = &run.recording.samples[frame(gate)..frame(abeam)];
    let gap = |frames: &[[f32; 2]]| frames.iter().all(|frame| *frame == [0.0; 2]);
    let steady = run.recording.unsteady_ns < MS / 2 && !sounding.windows(10).any(gap);
    println!("  ran dry {dry} times after the gate, recorder steady: {steady}");
    (dry == 0 && steady).then_some(run)
}

/// The frame near `around` at which the bell is first heard as loud as it is `BELL_S` + 5 ms into the track.
fn bell_in(recording: &Recording, around: usize) -> Option<usize> {
    let loud = (TONES + BELL * 0.5) as f32;
    let before = around.saturating_sub(RATE as usize / 2);
    let frames = recording.samples.iter().enumerate().skip(before);
    let mut near = frames.take(RATE as usize);
    near.find(|(_, frame)| frame[0].abs() > loud)
        .map(|(i, _)| i)
}

/// How long after the bell's instant the track itself is that loud, in seconds.
fn bell_rises_within() -> f64 {
    let loud = TONES + BELL * 0.5;
    let frames = 0..RATE;
    let second = |frame: u32| f64::from(frame) / f64::from(RATE);
    let first = frames.map(second).find(|s| sample(BELL_S + s).abs() > loud);
    first.expect("a bell")
}

fn met(later: f64, bars: std::ops::RangeInclusive<u32>) {
    let _alone = alone();
    let sink = NullSink::start();
    let stage = Stage::new();
    let planned = expected(&stage.session(), "abeam");
    let gate = stage.gate_late(later);
    let run = undisturbed(|attempt| fly(&stage, &sink, gate, &format!("{attempt}.journal")));

    let clock = run.record.first_clock().expect("the show clock").clone();
    let start = stage.fold(&run.record, gate - Span::from_s(0.1));
    let begun = meeting(&start).start;
    assert!(begun < gate, "the track plays when the gate is marked");
    let turned = stage.fold(&run.record, gate + COMMIT);
    let (abeam, made) = (expected(&turned, "abeam"), meeting(&turned));
    println!(
        "  abeam moved from {planned} to {:.3} s, met by {} bars at rate {:.4}",
        abeam.s(),
        made.rounds,
        made.rate
    );
    assert!(((abeam - planned).s() - later).abs() < 0.3);
    assert!(bars.contains(&made.rounds));
    assert!(made.miss.abs() < Span::from_ms(6), "{}", made.miss);

    let at = monotonic_of(&clock, abeam);
    let frame = bell_in(&run.recording, run.recording.frame(at)).expect("the bell");
    let heard = run.recording.at(frame) - (bell_rises_within() * 1e9) as i64;
    let late = (heard - at) as f64 / 1e6;
    println!("  the bell was heard {late:+.3} ms after abeam");
    assert!(late.abs() < 20.0);

    // Between the gate and the bell nothing steps further than the tones do.
    let from = run.recording.frame(monotonic_of(&clock, gate));
    let sounding = &run.recording.samples[from..frame - RATE as usize / 20];
    let steps = sounding.windows(2).enumerate();
    let (at, step) = steps
        .map(|(i, pair)| (i, (pair[1][0] - pair[0][0]).abs()))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .expect("a step");
    let hz = (220.0 + 280.0) / 2.0;
    let own = (TONES * std::f64::consts::TAU * hz / f64::from(RATE)) as f32;
    println!("  largest step {step:.5} {at} frames after the gate, the tones' own {own:.5}");
    assert!(
        step < own * 1.6,
        "{:?}",
        &sounding[at.saturating_sub(20)..at + 20]
    );
}

#[test]
fn a_pass_four_seconds_later_is_met_by_more_bars_and_a_slight_stretch() {
    met(4.0, 12..=14);
}

#[test]
fn a_pass_three_seconds_earlier_is_met_by_leaving_bars_out() {
    met(-3.0, 0..=2);
}
