//! Journals made event by event, and the program run on them.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use abeam::debrief::Went;
use abeam::debrief::fold::fold;
use abeam::live::clock::{Reading, ShowClock};
use abeam::live::event::{Event, Mark, MarkKind, What};
use abeam::live::journal::{self, Header, Heard, Line, Record, Stamped};
use abeam::show::{Name, PointName, Show};
use abeam::timeline::Plan;
use abeam::units::{Instant, Span};
use assert_cmd::Command;
use tempfile::{TempDir, tempdir};

use crate::rehearsal::{DISPLAY, mark, plan_of};

/// A wall clock to begin at: 2026-06-20 17:38 UTC.
pub const WALL_US: i64 = 1_781_977_080_000_000;

/// A journal being made, of a show planned.
pub struct Made {
    pub show: Arc<Show>,
    pub plan: Arc<Plan>,
    pub begins: Instant,
    /// The wall clock then.
    wall_us: i64,
    pub record: Record,
}

impl Made {
    /// A journal that begins half a minute before the first figure of a display.
    pub fn of(display: &str) -> Made {
        let (show, plan) = plan_of(display, "high");
        Made::planned(show, plan)
    }

    pub fn planned(show: Arc<Show>, plan: Arc<Plan>) -> Made {
        Made::opened(show, plan, WALL_US)
    }

    /// The same, begun at another time of the wall clock.
    pub fn opened(show: Arc<Show>, plan: Arc<Plan>, wall_us: i64) -> Made {
        let begins = plan.moments.figures[0].start() - Span::from_s(30.0);
        let header = Header {
            abeam_journal: journal::FORMAT,
            title: show.title.clone(),
            profile: "high".into(),
            show_blake3: blake3::hash(show.source.text.as_bytes()).to_string(),
            wind: None,
            temperature: None,
            mirrored: false,
            practice: false,
            tracks_blake3: BTreeMap::new(),
        };
        let mut made = Made {
            show,
            plan,
            begins,
            wall_us,
            record: Record {
                header,
                lines: Vec::new(),
                torn: 0,
            },
        };
        let opened = ShowClock::new(made.reading(begins.s()), begins, 1.0);
        made.record.lines.push(Line::Opened(opened));
        made
    }

    pub fn reading(&self, s: f64) -> Reading {
        let since = (Instant::from_s(s) - self.begins).us();
        Reading {
            boot_id: "boot".into(),
            boot_us: 1_000_000 + since,
            wall_us: self.wall_us + since,
        }
    }

    /// Something happens at `s` seconds of the show.
    pub fn at(&mut self, s: f64, what: What) -> &mut Made {
        let reading = self.reading(s);
        let at = Instant::from_s(s);
        let event = Event { at, what };
        self.record
            .lines
            .push(Line::Event(Stamped { reading, event }));
        self
    }

    /// A mark keyed at a point, `late` seconds after the plan has it.
    pub fn marked(&mut self, key: &str, point: &str, late: f64) -> &mut Made {
        let kind = MarkKind::of(&PointName::read(point)).expect("a point that is marked");
        let s = self.plan_s(key, point) + self.parallax(key, kind) + late;
        self.at(s, mark(kind, s))
    }

    /// A mark of a point that is named, `late` seconds after the plan has it.
    pub fn marked_as(&mut self, key: &str, point: &str, late: f64) -> &mut Made {
        let s = self.plan_s(key, point) + late;
        self.at(s, named(key, point, s))
    }

    /// When the plan has a point, in seconds.
    pub fn plan_s(&self, key: &str, point: &str) -> f64 {
        let figures = &self.plan.moments.figures;
        let times = figures
            .iter()
            .find(|times| times.key == key)
            .expect("a figure");
        times
            .expected(&PointName::read(point))
            .expect("a point")
            .at
            .s()
    }

    /// The stand is 40 m left of centre: what is seen passing it passes centre earlier or later.
    pub fn parallax(&self, key: &str, kind: MarkKind) -> f64 {
        let figures = &self.plan.flight.figures;
        let flown = figures
            .iter()
            .find(|flown| flown.key == key)
            .expect("a figure");
        let abeam = flown
            .points
            .iter()
            .find(|point| point.point == PointName::Abeam(1));
        match (kind, abeam) {
            (MarkKind::Abeam, Some(abeam)) => self.show.site.stand.0.m() / abeam.along.mps(),
            _ => 0.0,
        }
    }

    /// Words begun at one time and ended at another.
    pub fn said(&mut self, block: &str, from: f64, until: f64) -> &mut Made {
        let block = Name::from(block);
        self.at(from, What::BeginBlock { block });
        self.at(until, What::EndBlock)
    }

    pub fn heard(&mut self, track: &str, hit: Option<&str>, s: f64) -> &mut Made {
        self.record.lines.push(Line::Heard(Heard {
            track: track.into(),
            hit: hit.map(Name::from),
            at: Instant::from_s(s),
            place: Span::ZERO,
        }));
        self
    }

    pub fn closed(&mut self, s: f64) -> &mut Made {
        let reading = self.reading(s);
        self.record.lines.push(Line::Closed(reading));
        self
    }

    pub fn went(&self) -> Went {
        Went::of(
            fold(&self.show, &self.plan, &self.record),
            &self.record,
            &[],
        )
    }

    /// The journal as the program writes it.
    pub fn text(&self) -> String {
        let mut text = serde_json::to_string(&self.record.header).expect("a header") + "\n";
        for line in &self.record.lines {
            text += &(serde_json::to_string(line).expect("a line") + "\n");
        }
        text
    }

    /// Writes it to a file.
    pub fn write(&self, path: &Path) {
        fs::write(path, self.text()).expect("a journal");
    }
}

/// The rehearsal flown with every pass marked, each so many seconds late.
pub fn flown(display: &str, late: [f64; 5]) -> Made {
    let mut made = Made::of(display);
    made.marked("arrival", "inbound", late[0])
        .marked("arrival", "abeam", late[1])
        .marked("slow-pass", "abeam", late[2])
        .marked("memorial", "inbound", late[3])
        .marked("memorial", "abeam", late[4]);
    let end = made.plan_s("departure", "end") + 30.0;
    made.closed(end);
    made
}

/// Marks of somebody who named the point.
pub fn named(key: &str, point: &str, s: f64) -> What {
    What::Mark(Mark {
        kind: MarkKind::of(&PointName::read(point)).expect("a point that is marked"),
        observed: Instant::from_s(s),
        point: Some(abeam::live::PointOf {
            key: key.into(),
            point: PointName::read(point),
        }),
    })
}

/// A folder with the rehearsal's document and a journal of it beside the folder of documents.
pub fn folder(made: &Made) -> (TempDir, PathBuf) {
    let dir = tempdir().expect("a folder");
    fs::create_dir(dir.path().join("cues")).expect("a folder");
    fs::write(
        dir.path().join("cues/rehearsal.toml"),
        &made.show.source.text[..],
    )
    .expect("a document");
    let journal = dir.path().join("evening.journal");
    made.write(&journal);
    (dir, journal)
}

pub fn abeam(dir: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("abeam")
        .expect("the program")
        .args(arguments)
        .current_dir(dir)
        .output()
        .expect("run");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text");
    (
        output.status.code().unwrap_or(-1),
        text(output.stdout),
        text(output.stderr),
    )
}

/// The rehearsal with credits for the hymn, flown late and heard.
pub fn evening() -> Made {
    let credited = DISPLAY.replace(
        "file = \"hymn.flac\"",
        "file = \"hymn.flac\"\ntitle = \"Evening, \\\"by the lake\\\"\"\ncomposer = \"A. Nobody\"\npublisher = \"Nowhere Press\"",
    );
    let mut made = flown(&credited, [0.5, 0.5, 4.0, 5.0, 5.5]);
    let begun = made
        .went()
        .folded
        .playings
        .iter()
        .find(|playing| playing.track == 1)
        .expect("it")
        .start
        .s();
    let abeam = made.plan_s("memorial", "abeam") + 5.5;
    made.heard("hymn", None, begun)
        .heard("hymn", Some("last_verse"), abeam + 0.12);
    made
}
