//! The journal: what is written is read back, whatever happened while it was written, and folding it gives
//! the show that was.

#[path = "../rehearsal/mod.rs"]
mod rehearsal;

mod anything;
mod laws;
mod refused;
mod sealed;
mod stage;
mod torn;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use abeam::live::clock::{Reading, ShowClock};
use abeam::live::journal::{self, Header, Journal, Line, Record, Stamped};
use abeam::live::stage::{From, Stage};
use abeam::live::{Event, What};
use abeam::units::Instant;
use tempfile::TempDir;

fn header() -> Header {
    Header {
        abeam_journal: journal::FORMAT,
        title: "Rehearsal".into(),
        profile: "high".into(),
        show_blake3: "00".into(),
        wind: None,
        temperature: None,
        mirrored: false,
        practice: false,
        tracks_blake3: BTreeMap::from([("hymn".into(), "11".into())]),
    }
}

fn reading(boot_id: &str, boot_s: i64, wall_s: i64) -> Reading {
    Reading {
        boot_id: boot_id.into(),
        boot_us: boot_s * 1_000_000,
        wall_us: wall_s * 1_000_000,
    }
}

fn event(s: f64, what: What) -> Event {
    Event {
        at: Instant::from_s(s),
        what,
    }
}

/// A line of an event at a second of a show whose clock stood at zero at `reading("a", 0, 0)`.
fn line(event: Event) -> Line {
    Line::Event(Stamped {
        reading: Reading {
            boot_id: "a".into(),
            boot_us: event.at.us(),
            wall_us: event.at.us(),
        },
        event,
    })
}

fn opened(s: f64) -> Line {
    let clock = ShowClock::new(reading("a", 0, 0), Instant::ZERO, 1.0);
    let at = Instant::from_s(s);
    Line::Opened(ShowClock::new(
        Reading {
            boot_us: at.us(),
            wall_us: at.us(),
            ..clock.reading
        },
        at,
        1.0,
    ))
}

/// A journal of `lines` in a folder of its own.
fn written(lines: &[Line]) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("show.journal");
    let mut journal = Journal::create(&path, &header()).expect("a journal");
    for line in lines {
        journal.append(line).expect("room");
    }
    (folder, path)
}

/// A stage with nothing to be heard, resumed from `record` at `path`.
fn resumed(path: &Path, record: Record) -> Stage {
    let (show, plan) = rehearsal::plan("high");
    let media = vec![None; show.tracks.len()];
    Stage::new(
        &show,
        &plan,
        From::Journal(path.into(), record),
        None,
        media,
    )
}

/// A record of a show that began `ago` seconds ago at `from` seconds, with `events`.
fn cut_short(from: f64, ago: f64, events: &[(f64, What)]) -> Record {
    let mut then = Reading::now();
    then.boot_us -= (ago * 1e6) as i64;
    then.wall_us -= (ago * 1e6) as i64;
    let clock = ShowClock::new(then, Instant::from_s(from), 1.0);
    let mut lines = vec![Line::Opened(clock.clone())];
    for (s, what) in events {
        let mut reading = clock.reading.clone();
        reading.boot_us += ((s - from) * 1e6) as i64;
        reading.wall_us += ((s - from) * 1e6) as i64;
        lines.push(Line::Event(Stamped {
            reading,
            event: event(*s, what.clone()),
        }));
    }
    Record {
        header: header(),
        lines,
        torn: 0,
    }
}

/// A journal on disk with the lines of `record`.
fn on_disk(record: &Record) -> (TempDir, PathBuf) {
    written(&record.lines)
}
