//! Music after a restart: what should sound comes back where it should be by then, what was on its way out
//! stays out, and what is about to start starts on time. Played into no device, which keeps time all the same.

mod rehearsal;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant as Wall};

use abeam::live::clock::{Reading, ShowClock};
use abeam::live::journal::{self, Header, Journal, Line, Record, Stamped};
use abeam::live::playout::{Monotonic, Output, Started};
use abeam::live::stage::{From, Loading, Stage};
use abeam::live::{Event, MarkKind, What};
use abeam::units::{Instant, Span};
use rehearsal::{Rehearsal, mark};
use tempfile::TempDir;

/// How long anything may take: what takes longer has stopped.
const PATIENCE: Duration = Duration::from_secs(60);
/// When the overture starts, in seconds of the show.
const OVERTURE: f64 = -10.0;

/// Two minutes of something to be heard.
fn overture(folder: &Path) -> PathBuf {
    let path = folder.join("overture.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 48_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut file = hound::WavWriter::create(&path, spec).expect("a file");
    for k in 0..120 * 48_000_i32 {
        let sample = (k % 100 - 50) * 200;
        file.write_sample(sample as i16).expect("room");
    }
    file.finalize().expect("room");
    path
}

/// A show that began at −20 s, `rate` times as fast, was killed and is gone on with at `s` seconds.
struct Resumed {
    stage: Stage,
    journal: PathBuf,
    _folder: TempDir,
}

impl Resumed {
    fn at(s: f64, rate: f64, events: &[(f64, What)]) -> Resumed {
        Resumed::of(rehearsal::DISPLAY, s, rate, events)
    }

    fn of(display: &str, s: f64, rate: f64, events: &[(f64, What)]) -> Resumed {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("show.journal");
        let (show, plan) = rehearsal::plan_of(display, "high");
        let media = vec![Some(overture(folder.path())), None, None];
        let begin = -20.0;
        let now = Reading::now();
        let reading = |at: f64| Reading {
            boot_us: now.boot_us - ((s - at) / rate * 1e6) as i64,
            wall_us: now.wall_us - ((s - at) / rate * 1e6) as i64,
            boot_id: now.boot_id.clone(),
        };
        let header = Header {
            abeam_journal: journal::FORMAT,
            title: "Rehearsal".into(),
            profile: "high".into(),
            show_blake3: String::new(),
            wind: None,
            temperature: None,
            mirrored: false,
            practice: false,
            tracks_blake3: BTreeMap::new(),
        };
        let clock = ShowClock::new(reading(begin), Instant::from_s(begin), rate);
        let mut lines = vec![Line::Opened(clock)];
        lines.extend(events.iter().map(|(at, what)| {
            Line::Event(Stamped {
                reading: reading(*at),
                event: Event {
                    at: Instant::from_s(*at),
                    what: what.clone(),
                },
            })
        }));
        let mut journal = Journal::create(&path, &header).expect("a journal");
        for line in &lines {
            journal.append(line).expect("room");
        }
        drop(journal);
        let record = Record {
            header,
            lines,
            torn: 0,
        };
        let output = Output {
            device: Some("no such device".into()),
            ..Output::default()
        };
        let from = From::Journal(path.clone(), record);
        Resumed {
            stage: Stage::new(&show, &plan, from, Some(output), media),
            journal: path,
            _folder: folder,
        }
    }

    /// Lets the show run until `is_so`.
    fn until(&mut self, what: &str, is_so: impl Fn(&Stage) -> bool) {
        let begun = Wall::now();
        while !is_so(&self.stage) {
            assert!(begun.elapsed() < PATIENCE, "never {what}");
            std::thread::sleep(Duration::from_millis(5));
            self.stage.tick();
        }
    }

    fn until_loaded(&mut self) {
        self.until("loaded", |stage| {
            matches!(stage.desk().tracks()[0], Loading::Ready(_))
        });
    }

    /// Everything begun by when the track is loaded, and a while after.
    fn starts(&mut self) -> Vec<Started> {
        self.until_loaded();
        for _ in 0..40 {
            std::thread::sleep(Duration::from_millis(5));
            self.stage.tick();
        }
        self.stage.desk().log().to_vec()
    }

    /// When the overture's beginning was, or would have been, heard.
    fn beginning(&self) -> i64 {
        self.stage.clock().monotonic_ns(Instant::from_s(OVERTURE))
    }

    fn sent(&self) -> Vec<u64> {
        let record = journal::read(&self.journal).expect("a journal");
        let sent = record.lines.iter().filter_map(|line| match line {
            Line::Sent(id) => Some(*id),
            _ => None,
        });
        sent.collect()
    }
}

/// Whether a voice began in step with a track whose beginning is at `beginning`: to a millisecond, for two
/// readings of the clock and a frame.
fn is_in_step(started: &Started, beginning: i64) -> bool {
    let off = started.at.ns() - started.from.us() * 1_000 - beginning;
    off.abs() < 1_000_000
}

#[test]
fn what_should_sound_comes_back_where_it_should_be() {
    let mut show = Resumed::at(5.0, 1.0, &[]);
    let starts = show.starts();
    assert_eq!(starts.len(), 1, "{starts:?}");
    assert!(is_in_step(&starts[0], show.beginning()), "{starts:?}");
    assert!(starts[0].from >= Span::from_s(15.0));
    assert_eq!(show.sent(), [1], "its start, named once");
}

/// Held up at 2 s with the overture in its vamp, from 8 to 14 s of it: at 9 s it is in its second round.
#[test]
fn what_goes_round_comes_back_in_its_round() {
    let display = rehearsal::DISPLAY
        .replacen(
            "profile = \"high\"\n",
            "profile = \"high\"\ndelay = { music = \"vamp\" }\n",
            1,
        )
        .replace(
            "starts = \"show - 10 s\"",
            "starts = \"show - 10 s\"\nbar = \"2 s\"\nvamp = { from = \"0:08\", to = \"0:14\" }",
        );
    let mut show = Resumed::of(&display, 9.0, 1.0, &[(2.0, What::Delay)]);
    let starts = show.starts();
    assert_eq!(starts.len(), 1, "{starts:?}");
    assert!(is_in_step(&starts[0], show.beginning()), "{starts:?}");
    assert!(starts[0].from >= Span::from_s(19.0));
    let cue = &show.stage.session().tracks()[0];
    assert!(cue.vamping && cue.course.bars() >= 6, "{cue:?}");
    let head = show.stage.session().playhead(0).expect("it plays");
    assert!((8.0..14.0).contains(&head.s()), "{head}");
}

#[test]
fn what_a_hand_faded_does_not_come_back() {
    let fade = What::FadeTrack {
        track: "overture".into(),
    };
    // Slow, so that the fade goes on for a minute and the track begins to be heard ten seconds ago.
    let mut show = Resumed::at(-9.5, 0.05, &[(-9.9, fade)]);
    assert_eq!(show.starts(), []);
    // The same without the hand does.
    let mut show = Resumed::at(-9.5, 0.05, &[]);
    assert_eq!(show.starts().len(), 1);
}

#[test]
fn what_a_knock_it_off_faded_does_not_come_back() {
    let mut show = Resumed::at(-9.5, 0.05, &[(-9.9, What::KnockItOff)]);
    assert_eq!(show.starts(), []);
}

#[test]
fn what_its_end_is_fading_does_not_come_back() {
    let mut flown = Rehearsal::new();
    let inbound = flown.planned("arrival", "inbound");
    let marks = [
        (-19.9, mark(MarkKind::Inbound, inbound)),
        (-0.3, mark(MarkKind::Abeam, -0.3)),
    ];
    for (s, mark) in &marks {
        flown.at(*s, mark.clone());
    }
    let mut s = 0.0;
    while flown.session.tracks()[0].fading.is_none() {
        s += 0.1;
        flown.until(s);
        assert!(s < 300.0, "the overture never fades");
    }
    let mut show = Resumed::at(s + 0.1, 1.0, &marks);
    assert_eq!(show.starts(), []);
}

#[test]
fn what_is_about_to_start_starts_on_time() {
    // Slow, so that the half second in which a start is fixed lasts ten.
    let mut show = Resumed::at(-10.4, 0.05, &[]);
    let beginning = show.beginning();
    assert_eq!(show.sent(), [1], "it is fixed already");
    show.until_loaded();
    let in_time = Monotonic::now().ns() < beginning;
    show.until("begun", |stage| !stage.desk().log().is_empty());
    let starts = show.starts();
    assert_eq!(starts.len(), 1, "{starts:?}");
    assert!(is_in_step(&starts[0], show.beginning()), "{starts:?}");
    // A machine that took ten seconds to load a track has no say in this.
    assert!(!in_time || starts[0].from == Span::ZERO, "{starts:?}");
}
