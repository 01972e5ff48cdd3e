//! Practice as it is heard: what leaves the output while aircraft are simulated, recorded from the monitor of a null
//! sink. How the recording knows the time is told in `desk`.
//!
//! The simulator keys, and the test does nothing but look at the screen and the journal: however slow the machine
//! is, no key comes too late.

mod desk;
mod live;
mod pty;

use std::path::PathBuf;
use std::sync::Arc;

use abeam::live::clock::ShowClock;
use abeam::live::journal::{Line, Record};
use abeam::live::{MarkKind, What};
use abeam::practice::{Errors, Sky};
use abeam::show::PointName;
use abeam::show::load::load;
use abeam::timeline::{Facts, Plan};
use abeam::units::{Instant, Span};
use desk::{NullSink, RATE, Recorder, Recording, write_wav};
use live::{MS, alone, monotonic_of, path_text, read, undisturbed};
use pty::{LEAVE, Program};

const ABEAM: &str = env!("CARGO_BIN_EXE_abeam");
/// Where the tone of the track begins, which is its only hit.
const HIT_S: u32 = 5;
/// A hit and a pass nearer than this, in nanoseconds, are one.
const CLOSE: i64 = 20 * MS;
/// How much later than planned the aircraft leaves its hold.
const LATE: Span = Span::from_ms(3_000);

const DOCUMENT: &str = r#"
[show]
title = "One pass"
zero = "pass.abeam"
[profile.high]
order = ["pass"]
[site]
elevation = "0 m"
line_bearing = 90
line_distance = "230 m"
[aircraft.solo]
[[figure]]
id = "pass"
aircraft = "solo"
from = "left"
gates = ["0.5 nmi"]
spread = "0.5 s"
legs = [
  { hold = "1 nmi", expect = "6 s", spread = "10 s" },
  { run = "to centre", speed = "240 kt tas", height = "500 ft", pass = true },
  { run = "for 0.3 nmi" },
]
[[track]]
id = "bell"
file = "bell.wav"
hits = { stroke = "0:05.000" }
meets = { hit = "stroke", on = "pass.abeam", within = "0.2 s", if_missed = "late" }
"#;

/// A show of one pass, and a home of its own.
struct Part(tempfile::TempDir);

impl Part {
    fn new() -> Part {
        let part = Part(tempfile::tempdir().expect("a folder"));
        for folder in ["cues", "media"] {
            std::fs::create_dir(part.path(folder)).expect("a folder");
        }
        std::fs::write(part.path("cues/pass.toml"), DOCUMENT).expect("the document");
        part.write_bell();
        part
    }

    /// Silence, then 440 Hz from its crest on: its first frame is louder than half of full scale.
    fn write_bell(&self) {
        let sample = |frame: u32| {
            let since = frame.checked_sub(RATE * HIT_S);
            since.map_or(0.0, |since| {
                let turns = f64::from(since) * 440.0 / f64::from(RATE);
                0.6 * (turns * std::f64::consts::TAU).cos()
            })
        };
        let frames = (0..RATE * (HIT_S + 3)).map(|frame| [sample(frame)]);
        write_wav(&self.path("media/bell.wav"), frames);
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// Starts practising the pass on a sound desk, the simulator keying; the clock stands until the cautions have
    /// been read.
    fn practise(&self, sink: &NullSink, speed: &str, journal: &str) -> Program {
        let mut env = sink.env();
        for (name, folder) in [("XDG_STATE_HOME", "state"), ("XDG_CACHE_HOME", "cache")] {
            env.push((name.into(), self.path(folder).display().to_string()));
        }
        let (document, journal) = (self.path("cues/pass.toml"), self.path(journal));
        let late = format!("pass={} s", LATE.s());
        let arguments = [
            "practice",
            path_text(&document),
            "--figure",
            "pass",
            "--as-planned",
            "--late",
            &late,
            "--marks",
            "auto",
            "--speed",
            speed,
            "--journal",
            path_text(&journal),
        ];
        Program::start(ABEAM, &arguments, &env, (120, 40))
    }

    /// When the run that is flown passes crowd centre.
    fn flown(&self) -> Instant {
        let loaded = load(&self.path("cues/pass.toml")).unwrap_or_else(|e| panic!("{e:?}"));
        let show = Arc::new(loaded.show);
        let facts = Facts {
            track_lengths: vec![Span::from_s(f64::from(HIT_S + 3))],
            ..Facts::default()
        };
        let plan = Arc::new(Plan::new(&show, &show.profile, &show.day, facts));
        let errors = Errors {
            late: vec![("pass".into(), LATE)],
            ..Errors::none()
        };
        let sky = Sky::new(&show, &plan, errors, plan.day.clone(), Some("pass".into()));
        let abeam = sky.flown().at(&"pass".into(), &PointName::Abeam(1));
        abeam.expect("a pass")
    }
}

/// Past the cautions: the clock runs from here on.
fn begin(program: &mut Program) {
    program.until_shown("It is no flight instrument");
    program.key(" ");
}

/// Leaves the practice; what it then prints.
fn leave(mut program: Program) -> String {
    program.key("q");
    // It asks as long as anything is to come.
    let asks = program.until("the question, or the report", |screen| {
        let said = ["leave the program?", "What differed from the plan"];
        said.iter().position(|words| screen.contains(words))
    });
    if asks == 0 {
        program.key("\r");
    }
    let ended = program.end();
    ended.assert_restored();
    assert!(ended.success);
    let (_, report) = ended.bytes.rsplit_once(LEAVE).expect("it leaves");
    report.to_owned()
}

/// The show clock as it ran at real speed.
fn real_clock(record: &Record) -> ShowClock {
    let mut clocks = record.lines.iter().filter_map(|line| match line {
        Line::Opened(clock) if clock.rate == 1.0 => Some(clock),
        _ => None,
    });
    clocks.next().expect("a clock at real speed").clone()
}

/// When the pass was keyed.
fn keyed(record: &Record) -> Instant {
    let mut marks = record.events().filter_map(|event| match &event.what {
        What::Mark(mark) if mark.kind == MarkKind::Abeam => Some(mark.observed),
        _ => None,
    });
    marks.next().expect("a mark")
}

/// How often the output ran dry once the track had begun: what did before, while tracks were decoded, playout has
/// made good.
fn ran_dry(record: &Record) -> u64 {
    let underruns = |lines: &[Line]| {
        let mut counts = lines.iter().filter_map(|line| match line {
            Line::Output(counts) => Some(counts.underruns),
            _ => None,
        });
        counts.next_back().unwrap_or(0)
    };
    let began = record
        .lines
        .iter()
        .position(|line| matches!(line, Line::Heard(_)));
    let before = underruns(&record.lines[..began.expect("the track, begun")]);
    underruns(&record.lines) - before
}

#[test]
fn at_real_speed_the_hit_is_heard_as_the_simulated_aircraft_is_abeam() {
    let _alone = alone();
    let (sink, part) = (NullSink::start(), Part::new());
    let abeam = part.flown();
    assert_eq!(abeam, Instant::ZERO + LATE);
    let (late, record, report) = undisturbed(|attempt| {
        let journal = format!("attempt-{attempt}.journal");
        let recorder = sink.record();
        let mut program = part.practise(&sink, "1", &journal);
        begin(&mut program);
        program.until_shown("pass abeam marked");
        let path = part.path(&journal);
        program.until("the stroke, heard", |_| {
            let record = read(&path);
            record
                .heard()
                .any(|heard| heard.hit.is_some())
                .then_some(())
        });
        let report = leave(program);
        let (recording, record) = (recorder.finish(), read(&path));
        let dry = ran_dry(&record);
        let steady = recording.unsteady_ns < MS / 2;
        let wanted = monotonic_of(&real_clock(&record), abeam);
        let late = stroke(&recording).map(|heard| heard - wanted);
        println!("  ran dry {dry} times, recorder steady: {steady}; {late:?} ns after abeam");
        // Only what went wrong on a machine that disturbed it says nothing.
        let well = late.is_some_and(|late| late.abs() < CLOSE) || dry == 0 && steady;
        well.then_some((late, record, report))
    });
    assert!((keyed(&record) - abeam).abs() < Span::from_ms(1));
    let late = late.expect("the stroke, in the recording");
    assert!(late.abs() < CLOSE, "{late} ns");
    assert!(report.contains("bell: stroke fell "), "{report}");
}

/// When the tone began, in nanoseconds of the monotonic clock.
fn stroke(recording: &Recording) -> Option<i64> {
    let mut frames = recording.samples.iter();
    let onset = frames.position(|frame| frame[0].abs() > 0.1)?;
    Some(recording.at(onset))
}

#[test]
fn at_another_speed_nothing_is_heard() {
    let _alone = alone();
    let (sink, part) = (NullSink::start(), Part::new());
    let recorder = sink.record_all();
    let mut program = part.practise(&sink, "5", "fast.journal");
    begin(&mut program);
    program.until_shown("5 times as fast");
    program.until_shown("how it went");
    let report = leave(program);
    // The music had its meet all the same.
    assert!(report.contains("bell: stroke fell "), "{report}");
    let record = read(&part.path("fast.journal"));
    assert_eq!(record.heard().count(), 0);
    assert!(keyed(&record) > Instant::ZERO);
    assert_silent(recorder);
}

fn assert_silent(recorder: Recorder) {
    let frames = recorder.frames::<2>();
    assert!(frames.len() > 5 * RATE as usize, "{}", frames.len());
    let loudest = frames
        .iter()
        .flatten()
        .fold(0.0, |a: f32, b| a.max(b.abs()));
    assert!(loudest < 1e-6, "{loudest}");
}
