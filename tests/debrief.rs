//! What really happened, beside the plan: journals of scripted shows whose lateness is known.

mod rehearsal;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use abeam::debrief::fold::fold;
use abeam::debrief::music::Source;
use abeam::debrief::seen::How;
use abeam::debrief::stretch::{PartOf, took};
use abeam::debrief::{Lessons, Went};
use abeam::live::clock::{Reading, ShowClock};
use abeam::live::event::{Event, Mark, MarkKind, What};
use abeam::live::journal::{self, Header, Heard, Line, OutputCounts, Record, Stamped};
use abeam::position::{Ground, Place, Spot};
use abeam::show::{Name, PointName, Show};
use abeam::timeline::Plan;
use abeam::units::{Angle, Instant, Length, Span};
use assert_cmd::Command;
use rehearsal::{DISPLAY, mark, plan_of};
use roxmltree::{Document, Node};
use tempfile::{TempDir, tempdir};

/// A wall clock to begin at: 2026-06-20 17:38 UTC.
const WALL_US: i64 = 1_781_977_080_000_000;

/// A journal being made, of a show planned.
struct Made {
    show: Arc<Show>,
    plan: Arc<Plan>,
    begins: Instant,
    record: Record,
}

impl Made {
    /// A journal that begins half a minute before the first figure of a display.
    fn of(display: &str) -> Made {
        let (show, plan) = plan_of(display, "high");
        Made::planned(show, plan)
    }

    fn planned(show: Arc<Show>, plan: Arc<Plan>) -> Made {
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

    fn reading(&self, s: f64) -> Reading {
        let since = (Instant::from_s(s) - self.begins).us();
        Reading {
            boot_id: "boot".into(),
            boot_us: 1_000_000 + since,
            wall_us: WALL_US + since,
        }
    }

    /// Something happens at `s` seconds of the show.
    fn at(&mut self, s: f64, what: What) -> &mut Made {
        let reading = self.reading(s);
        let at = Instant::from_s(s);
        let event = Event { at, what };
        self.record
            .lines
            .push(Line::Event(Stamped { reading, event }));
        self
    }

    /// A mark keyed at a point, `late` seconds after the plan has it.
    fn marked(&mut self, key: &str, point: &str, late: f64) -> &mut Made {
        let kind = MarkKind::of(&PointName::read(point)).expect("a point that is marked");
        let s = self.plan_s(key, point) + self.parallax(key, kind) + late;
        self.at(s, mark(kind, s))
    }

    /// When the plan has a point, in seconds.
    fn plan_s(&self, key: &str, point: &str) -> f64 {
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
    fn parallax(&self, key: &str, kind: MarkKind) -> f64 {
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
    fn said(&mut self, block: &str, from: f64, until: f64) -> &mut Made {
        let block = Name::from(block);
        self.at(from, What::BeginBlock { block });
        self.at(until, What::EndBlock)
    }

    fn heard(&mut self, track: &str, hit: Option<&str>, s: f64) -> &mut Made {
        self.record.lines.push(Line::Heard(Heard {
            track: track.into(),
            hit: hit.map(Name::from),
            at: Instant::from_s(s),
            place: Span::ZERO,
        }));
        self
    }

    fn closed(&mut self, s: f64) -> &mut Made {
        let reading = self.reading(s);
        self.record.lines.push(Line::Closed(reading));
        self
    }

    fn went(&self) -> Went {
        Went::of(
            fold(&self.show, &self.plan, &self.record),
            &self.record,
            &[],
        )
    }

    /// Writes the journal as a file, as the program does.
    fn write(&self, path: &Path) {
        let mut text = serde_json::to_string(&self.record.header).expect("a header") + "\n";
        for line in &self.record.lines {
            text += &(serde_json::to_string(line).expect("a line") + "\n");
        }
        fs::write(path, text).expect("a journal");
    }
}

/// The rehearsal flown with every pass marked, each so many seconds late.
fn flown(display: &str, late: [f64; 5]) -> Made {
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

fn close(a: f64, b: f64, within: f64, what: &str) {
    assert!((a - b).abs() <= within, "{what}: {a} is not {b}");
}

#[test]
fn every_mark_is_told_as_late_as_it_was() {
    let lates = [1.0, 1.5, -2.0, 3.25, 4.5];
    let made = flown(DISPLAY, lates);
    let went = made.went();
    let marked: Vec<_> = went
        .points
        .iter()
        .filter(|flown| flown.how == How::Marked)
        .collect();
    assert_eq!(marked.len(), 5);
    for (flown, late) in marked.iter().zip(lates) {
        let told = flown.late().expect("a plan").s();
        close(told, late, 2e-6, &format!("{} {}", flown.key, flown.point));
    }
    // The gates that nobody keyed lie between what was seen.
    let gate = went
        .points
        .iter()
        .find(|flown| flown.point == PointName::Gate(2))
        .expect("a gate");
    assert_eq!(gate.how, How::Estimated);
    let late = gate.late().expect("a plan").s();
    assert!((3.0..4.6).contains(&late), "{late}");
    // What a figure gained is what the show was later for it; figures follow one another.
    for pair in went.drift.windows(2) {
        assert_eq!(pair[0].late[1], pair[1].late[0]);
    }
    let first = went.drift.first().expect("a figure");
    let last = went.drift.last().expect("a figure");
    let gained: Span = went.drift.iter().map(|drift| drift.gained()).sum();
    assert_eq!(gained, last.late[1] - first.late[0]);
}

/// By hand: from the arrival's abeam to the slow pass's, 6 s longer than planned, go through the rest of the arrival
/// (1 s of spread for all that is flown of it), the reposition (2 s) and the run-in of the slow pass (2 s for all of
/// it). What is longer is shared by variance.
#[test]
fn what_a_stretch_takes_longer_is_shared_by_variance() {
    let made = flown(DISPLAY, [0.0, 0.0, 6.0, 6.0, 6.0]);
    let went = made.went();
    let took = took(&went.folded, &went.points);
    let of = |figure: &str, part| {
        let found = took
            .iter()
            .find(|took| took.figure == figure && took.part == part);
        found.unwrap_or_else(|| panic!("{figure}: {took:?}"))
    };
    let s = |key: &str, point: &str| made.plan_s(key, point);
    let arrival = s("arrival", "end") - s("arrival", "inbound");
    let out = s("arrival", "end") - s("arrival", "abeam");
    let slow = s("slow-pass", "end") - s("slow-pass", "start");
    let run_in = s("slow-pass", "abeam") - s("slow-pass", "start");
    let variances = [out / arrival, 4.0, 4.0 * run_in / slow];
    let all: f64 = variances.iter().sum();
    // All of the arrival lies between things that were seen, so its share is its own.
    close(
        of("arrival", PartOf::Flight).longer,
        6.0 * variances[0] / all,
        1e-4,
        "arrival",
    );
    close(
        of("back-one", PartOf::Flight).longer,
        6.0 * variances[1] / all,
        1e-4,
        "back-one",
    );
    // The slow pass's own way out took as long as planned, so all of it has what its run-in had.
    close(
        of("slow-pass", PartOf::Flight).longer,
        6.0 * variances[2] / all,
        1e-4,
        "slow pass",
    );
    // Nothing of what came after was longer; the departure was never seen to end.
    close(of("memorial", PartOf::Hold).longer, 0.0, 1e-4, "hold");
    assert!(took.iter().all(|took| took.figure != "departure"));
}

#[test]
fn nothing_is_learned_across_a_hold_up_or_from_what_nobody_saw() {
    let mut made = Made::of(DISPLAY);
    let held = made.plan_s("arrival", "abeam") + 5.0;
    made.marked("arrival", "inbound", 0.0)
        .marked("arrival", "abeam", 0.0);
    made.at(held, What::Delay).at(held + 60.0, What::Resume);
    let abeam = made.plan_s("slow-pass", "abeam") + 60.0;
    made.at(abeam, mark(MarkKind::Abeam, abeam))
        .closed(abeam + 5.0);
    let went = made.went();
    assert_eq!(went.folded.changes.len(), 2);
    let took = took(&went.folded, &went.points);
    assert!(took.iter().all(|took| took.figure == "arrival"), "{took:?}");
}

#[test]
fn several_journals_teach_more_than_one_and_correct_the_plan_in_words() {
    // The reposition takes about six seconds longer each time, as in the test above.
    let journals: Vec<Made> = [5.5, 6.0, 6.5, 6.0]
        .iter()
        .map(|late| flown(DISPLAY, [0.0, 0.0, *late, *late, *late]))
        .collect();
    let all: Vec<Went> = journals.iter().map(Made::went).collect();
    let of = |count: usize| {
        let went: Vec<&Went> = all.iter().take(count).collect();
        Lessons::of(&journals[0].show, &Name::from("high"), &went)
    };
    let (one, four) = (of(1), of(4));
    let back = |lessons: &Lessons| {
        let habit = lessons
            .habits
            .iter()
            .find(|habit| habit.figure == "back-one");
        habit.expect("the reposition").clone()
    };
    assert_eq!((back(&one).times, back(&four).times), (1, 4));
    assert!(back(&four).drawn < back(&one).drawn);
    assert!(back(&four).bias > back(&one).bias && back(&four).bias <= back(&four).longer);
    assert!(back(&four).bias_spread < back(&one).bias_spread);
    // Steadier than stated, four times: its spread comes down; that of one flying is as stated.
    assert!(back(&four).spread < back(&four).stated);
    let told: Vec<String> = four
        .corrections
        .iter()
        .map(|one| one.place.to_string())
        .collect();
    assert!(told.contains(&"back-one: takes".to_owned()), "{told:?}");
    let takes = four
        .corrections
        .iter()
        .find(|one| one.place.to_string() == "back-one: takes");
    let takes = takes.expect("it");
    let becomes = (40.0 + back(&four).bias.s()) * 10.0;
    assert_eq!(
        takes.becomes.to_string(),
        format!("\"{} s\"", becomes.round() / 10.0)
    );
    assert!(takes.because.contains("4 flyings"), "{}", takes.because);
}

#[test]
fn words_are_timed_from_key_to_key() {
    let mut made = Made::of(DISPLAY);
    let from = made.plan_s("arrival", "abeam") + 12.0;
    let (reading, _) = made.plan.facts.readings[0].clone();
    let took = reading.lasts().s() * 1.25;
    made.said("welcome", from, from + took).closed(from + 20.0);
    let went = made.went();
    let [pace] = &went.paces[..] else {
        panic!("{:?}", went.paces);
    };
    close(pace.took.s(), took, 2e-6, "took");
    let rate = reading.words / (took - reading.rests.s()) * 60.0;
    close(
        pace.words_per_minute().expect("a rate"),
        rate,
        1e-3,
        "words a minute",
    );
    let begun = went
        .done
        .iter()
        .find(|done| done.what == "welcome begun")
        .expect("begun");
    close(
        (begun.at - begun.planned.expect("a plan")).s(),
        0.0,
        2e-6,
        "begun",
    );
    let lessons = Lessons::of(&made.show, &Name::from("high"), &[&went]);
    let voice = lessons.voice.expect("a narrator");
    // Slower than stated, but one block does not say by how much.
    assert!(voice.learned.words_per_minute < voice.stated.words_per_minute);
    assert!(voice.learned.words_per_minute > rate);
}

/// The hymn's hit is heard 0.3 s after the aircraft was abeam: by the frame log, not by what was sent.
#[test]
fn a_hit_is_told_by_the_frame_log_where_there_is_one() {
    let mut made = flown(DISPLAY, [0.0, 0.0, 0.0, 0.0, 0.0]);
    let sent = made.went();
    let hit = sent.hits.first().expect("a hit");
    assert_eq!((hit.source, hit.how), (Source::Sent, How::Marked));
    assert!(hit.met() && hit.miss().abs().s() < 0.2, "{hit:?}");
    assert!(
        sent.sounded
            .iter()
            .all(|sounded| sounded.source == Source::Sent)
    );

    let abeam = made.plan_s("memorial", "abeam");
    let begun = sent
        .folded
        .playings
        .iter()
        .find(|playing| playing.track == 1)
        .expect("the hymn")
        .start
        .s();
    made.heard("hymn", None, begun + 0.001)
        .heard("hymn", Some("last_verse"), abeam + 0.3);
    let went = made.went();
    let hit = went.hits.first().expect("a hit");
    assert_eq!(hit.source, Source::Frames);
    close(hit.miss().s(), 0.3, 2e-6, "miss");
    // With a frame log what nobody heard was not played.
    let [hymn] = &went.sounded[..] else {
        panic!("{:?}", went.sounded);
    };
    let playing = went
        .folded
        .playings
        .iter()
        .find(|playing| playing.track == 1)
        .expect("the hymn");
    close(
        hymn.lasted.s(),
        (playing.end - playing.start).s() - 0.001,
        1e-5,
        "lasted",
    );
}

/// The program dies for 20 s while the overture plays: that long nothing was heard of it.
#[test]
fn what_was_silent_while_the_program_was_down_was_not_played() {
    let mut made = Made::of(DISPLAY);
    let died = made.plan_s("arrival", "abeam");
    made.heard("overture", None, -10.0);
    made.marked("arrival", "abeam", 0.0);
    let again = died + 20.0;
    let opened = ShowClock::new(made.reading(again), Instant::from_s(again), 1.0);
    made.record.lines.push(Line::Opened(opened));
    made.heard("overture", None, again + 0.5);
    made.closed(60.0);
    let went = made.went();
    let played = went
        .sounded
        .iter()
        .find(|sounded| sounded.track == 0)
        .expect("the overture");
    let playing = went
        .folded
        .playings
        .iter()
        .find(|playing| playing.track == 0)
        .expect("it");
    // The last that was done was to key the pass, seen from a stand 40 m before centre.
    let last = went.folded.dead[0].0.s();
    close(
        last,
        died - 40.0 / (240.0 * 1852.0 / 3600.0),
        1e-3,
        "the last key",
    );
    let dead = (last, again + 0.5);
    let silent = dead.1 - dead.0;
    close(
        played.lasted.s(),
        playing.end.s() + 10.0 - silent,
        1e-5,
        "lasted",
    );
    assert_eq!(went.folded.dead.len(), 1);
}

#[test]
fn underruns_are_added_up_over_every_run_of_the_program() {
    let mut made = Made::of(DISPLAY);
    assert_eq!(made.record.output(), None);
    let counts = |underruns, reopened| {
        Line::Output(OutputCounts {
            underruns,
            reopened,
            refused: 0,
        })
    };
    let again = made.record.lines[0].clone();
    made.record
        .lines
        .extend([counts(1, 0), counts(3, 1), again, counts(2, 0)]);
    let output = made.record.output().expect("counts");
    assert_eq!((output.underruns, output.reopened), (5, 1));
}

#[test]
fn a_show_begun_in_the_middle_teaches_nothing_of_what_was_before() {
    let mut made = Made::of(DISPLAY);
    let opened = made.record.lines.remove(0);
    made.marked("arrival", "inbound", 0.0)
        .marked("arrival", "abeam", 0.0);
    made.record.lines.push(opened);
    let closed = made.plan_s("slow-pass", "abeam") + 20.0;
    made.marked("slow-pass", "abeam", 9.0).closed(closed);
    let went = made.went();
    let assumed = went
        .points
        .iter()
        .filter(|flown| flown.how == How::Assumed)
        .count();
    assert_eq!(assumed, 2);
    assert!(took(&went.folded, &went.points).is_empty());
}

/// `late` is how corrections are written for what is flown leg by leg: shared by time, so that the pass of a run-in
/// that is 70 % of the flown time comes 70 % of it later.
#[test]
fn late_is_shared_among_what_is_flown_by_time() {
    let late = DISPLAY.replace("gates = [\"1 nmi\"]", "gates = [\"1 nmi\"]\nlate = \"5 s\"");
    let (before, after) = (Made::of(DISPLAY), Made::of(&late));
    let took =
        |made: &Made, to: &str| made.plan_s("slow-pass", to) - made.plan_s("slow-pass", "start");
    close(
        took(&after, "end") - took(&before, "end"),
        5.0,
        1e-5,
        "all of it",
    );
    let share = took(&before, "abeam") / took(&before, "end");
    close(
        took(&after, "abeam") - took(&before, "abeam"),
        5.0 * share,
        1e-5,
        "its run-in",
    );
    // What was late and is planned so is no longer late.
    let mut made = Made::of(&late);
    let closed = made.plan_s("slow-pass", "end") + 60.0;
    made.marked("arrival", "abeam", 0.0)
        .marked("slow-pass", "abeam", 0.0)
        .closed(closed);
    let took = abeam::debrief::stretch::took(&made.went().folded, &made.went().points);
    assert!(took.iter().all(|took| took.longer.abs() < 1e-4), "{took:?}");
}

/// A folder with the rehearsal's document and a journal of it beside the folder of documents.
fn folder(made: &Made) -> (TempDir, PathBuf) {
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

fn abeam(dir: &Path, arguments: &[&str]) -> (i32, String, String) {
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
fn evening() -> Made {
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

#[test]
fn the_document_is_found_beside_the_journal_and_a_changed_one_is_said_so() {
    let made = evening();
    let (dir, journal) = folder(&made);
    let (code, out, err) = abeam(dir.path(), &["debrief", "evening.journal"]);
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("memorial abeam"), "{out}");
    assert!(!err.contains("not as it was flown"), "{err}");
    assert!(out.contains("+0.12 s"), "{out}");
    assert!(out.contains("never how anything is flown"), "{out}");
    let document = dir.path().join("cues/rehearsal.toml");
    let text = fs::read_to_string(&document).expect("it") + "\n# later\n";
    fs::write(&document, text).expect("it");
    let (code, _, err) = abeam(dir.path(), &["debrief", journal.to_str().expect("a path")]);
    assert_eq!(code, 0);
    assert!(err.contains("not as it was flown"), "{err}");
    fs::remove_file(&document).expect("it");
    let (code, _, err) = abeam(dir.path(), &["debrief", "evening.journal"]);
    assert_eq!(code, 2);
    assert!(err.contains("--show"), "{err}");
}

#[test]
fn rights_returns_name_what_was_heard_and_for_how_long() {
    let made = evening();
    let (dir, _) = folder(&made);
    let (code, _, err) = abeam(
        dir.path(),
        &["debrief", "evening.journal", "--rights", "rights.csv"],
    );
    assert_eq!(code, 0, "{err}");
    let csv = fs::read_to_string(dir.path().join("rights.csv")).expect("returns");
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(
        lines[0],
        "show,date,track,title,composer,publisher,begun,seconds,known by"
    );
    assert_eq!(lines.len(), 2, "{csv}");
    let begins = "Rehearsal,2026-06-20 17:38 UTC,hymn,\"Evening, \"\"by the lake\"\"\",A. Nobody,Nowhere Press,";
    assert!(lines[1].starts_with(begins), "{}", lines[1]);
    assert!(lines[1].ends_with(",frame log"), "{}", lines[1]);
}

#[test]
fn json_has_every_figure_in_seconds() {
    let made = evening();
    let (dir, _) = folder(&made);
    let (code, out, err) = abeam(dir.path(), &["debrief", "evening.journal", "--json"]);
    assert_eq!((code, err.as_str()), (0, ""));
    let report: serde_json::Value = serde_json::from_str(&out).expect("one object");
    let show = &report["shows"][0];
    let points = show["points"].as_array().expect("points");
    let memorial = points
        .iter()
        .find(|row| row["figure"] == "memorial" && row["point"] == "abeam")
        .expect("it");
    close(
        memorial["late_s"].as_f64().expect("a number"),
        5.5,
        2e-6,
        "late",
    );
    assert_eq!(memorial["known"], "marked");
    close(
        show["hits"][0]["miss_s"].as_f64().expect("a number"),
        0.12,
        2e-6,
        "miss",
    );
    assert!(
        report["corrections"].is_array()
            && report["figures"]
                .as_array()
                .is_some_and(|all| !all.is_empty())
    );
}

fn of_kind<'a>(document: &'a Document, tag: &'a str) -> Vec<Node<'a, 'a>> {
    document
        .descendants()
        .filter(|node| node.has_tag_name(tag) || node.tag_name().name() == tag)
        .collect()
}

/// What a screen reader goes by (W3C, WCAG 2.2, techniques H42, H39, H63, H57, H88; SVG 2, 5.8): headings in order,
/// tables with captions and heads, pictures with a title and a description, a language, no name given twice.
#[test]
fn the_page_stands_alone_and_can_be_read_out() {
    let made = evening();
    let (dir, _) = folder(&made);
    made.write(&dir.path().join("another.journal"));
    let arguments = [
        "debrief",
        "evening.journal",
        "another.journal",
        "--html",
        "evening.html",
    ];
    let (code, _, err) = abeam(dir.path(), &arguments);
    assert_eq!(code, 0, "{err}");
    let html = fs::read_to_string(dir.path().join("evening.html")).expect("a page");
    let body = html.split_once('\n').expect("a doctype").1;
    let plain = body.replace("<meta charset=\"utf-8\">", "").replace(
        "<meta name=\"viewport\" content=\"width=device-width\">",
        "",
    );
    let page = Document::parse(&plain).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(page.root_element().attribute("lang"), Some("en"));
    let levels: Vec<u32> = page
        .descendants()
        .filter_map(|node| node.tag_name().name().strip_prefix('h')?.parse().ok())
        .collect();
    assert_eq!(levels.iter().filter(|level| **level == 1).count(), 1);
    assert!(
        levels.windows(2).all(|pair| pair[1] <= pair[0] + 1),
        "{levels:?}"
    );
    for table in of_kind(&page, "table") {
        let has = |tag: &str| table.children().any(|node| node.has_tag_name(tag));
        assert!(has("caption") && has("thead"), "{:?}", table.tag_name());
        let columns = table
            .descendants()
            .filter(|node| node.attribute("scope") == Some("col"))
            .count();
        for row in table
            .descendants()
            .filter(|node| node.attribute("scope") == Some("row"))
        {
            let cells = row
                .parent()
                .expect("a row")
                .children()
                .filter(Node::is_element)
                .count();
            assert_eq!(cells, columns);
        }
    }
    let pictures = of_kind(&page, "svg");
    // Timeline, drift, the pass from above, its heights, the hit; twice.
    assert_eq!(pictures.len(), 10);
    for picture in pictures {
        let said = |tag: &str| {
            let node = picture
                .children()
                .find(|node| node.tag_name().name() == tag)
                .expect("a text");
            (
                node.attribute("id").expect("a name").to_owned(),
                node.text().unwrap_or("").len(),
            )
        };
        let ((title, long), (description, longer)) = (said("title"), said("desc"));
        assert!(long > 4 && longer > 40);
        assert_eq!(picture.attribute("role"), Some("img"));
        assert_eq!(
            picture.attribute("aria-labelledby"),
            Some(format!("{title} {description}").as_str())
        );
        // Beside each picture its table.
        let figure = picture.parent().expect("a figure");
        let after = figure.next_siblings().filter(Node::is_element).skip(1);
        let mut until = after.take_while(|node| !["h1", "h2"].contains(&node.tag_name().name()));
        assert!(until.any(|node| node.has_tag_name("table")));
    }
    let mut ids: Vec<&str> = page
        .descendants()
        .filter_map(|node| node.attribute("id"))
        .collect();
    let count = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), count, "names given twice");
    for outside in ["http:", "https:", "src=", "@import", "<script", "<link"] {
        let found = html.replace("http://www.w3.org/2000/svg", "");
        assert!(!found.contains(outside), "{outside}");
    }
    // Another's page is not written over.
    fs::write(dir.path().join("evening.html"), "mine").expect("it");
    let (code, _, err) = abeam(dir.path(), &arguments);
    assert_eq!(
        (code, err.contains("no debrief by abeam")),
        (2, true),
        "{err}"
    );
}

#[test]
fn a_journal_of_before_that_has_no_frame_log_is_read() {
    let made = flown(DISPLAY, [0.0; 5]);
    let (dir, _) = folder(&made);
    let (code, _, err) = abeam(dir.path(), &["debrief", "evening.journal"]);
    assert_eq!(code, 0);
    assert!(err.contains("nothing says what was heard"), "{err}");
}

/// Marks of somebody who named the point.
fn named(key: &str, point: &str, s: f64) -> What {
    What::Mark(Mark {
        kind: MarkKind::of(&PointName::read(point)).expect("a point that is marked"),
        observed: Instant::from_s(s),
        point: Some(abeam::live::PointOf {
            key: key.into(),
            point: PointName::read(point),
        }),
    })
}

/// Two keyboards that marked one pass saw one pass, between the two.
#[test]
fn two_marks_of_one_point_are_one_sighting() {
    let mut made = Made::of(DISPLAY);
    let abeam = made.plan_s("arrival", "abeam") + made.parallax("arrival", MarkKind::Abeam);
    made.at(abeam + 0.2, named("arrival", "abeam", abeam + 0.2));
    made.at(abeam + 0.6, named("arrival", "abeam", abeam + 0.6))
        .closed(abeam + 5.0);
    let went = made.went();
    let arrival = went
        .points
        .iter()
        .find(|flown| flown.point == PointName::Abeam(1))
        .expect("it");
    close(arrival.late().expect("a plan").s(), 0.4, 2e-6, "late");
}

/// An aircraft flies its memorial pass straight and steady, 3 s late, with a receiver that fixes it once a second:
/// the log says when it was abeam, by the closed form to 10 ms, whatever was keyed.
#[test]
fn a_position_log_says_when_an_aircraft_passed_and_wins_over_marks() {
    let placed = DISPLAY.replace(
        "stand = \"40 m left\"",
        "centre = { lat = 61.0, lon = 9.5 }   # where the flag stands\nstand = \"40 m left\"",
    );
    let made = flown(&placed, [0.5, 0.5, 4.0, 5.0, 5.5]);
    let (dir, journal) = folder(&made);
    let abeam_s = made.plan_s("memorial", "abeam") + 3.0;
    let centre = Place::from_deg(61.0, 9.5).expect("a place");
    let ground = Ground::new(centre, Angle::from_deg(90.0));
    let mut csv = "time,lat,lon\n".to_owned();
    for second in -40..40 {
        let s = f64::from(second) + 0.37;
        let spot = Spot {
            along: Length::from_m(120.0 * s),
            across: Length::from_m(230.0),
        };
        let place = ground.place(spot).expect("a place");
        let at =
            jiff::Timestamp::from_microsecond(made.reading(abeam_s + s).wall_us).expect("a time");
        csv += &format!("{at},{:.9},{:.9}\n", place.lat().deg(), place.lon().deg());
    }
    let log = dir.path().join("solo.csv");
    fs::write(&log, csv).expect("a log");
    let log = log.to_str().expect("a path");
    let journal = journal.to_str().expect("a path");
    let (code, out, err) = abeam(dir.path(), &["debrief", journal, "--track", log, "--json"]);
    assert_eq!(code, 0, "{err}");
    let report: serde_json::Value = serde_json::from_str(&out).expect("JSON");
    let passes = report["shows"][0]["passes"].as_array().expect("passes");
    let [pass] = &passes[..] else {
        panic!("one pass: {passes:?}");
    };
    assert_eq!(
        (&pass["aircraft"], &pass["figure"]),
        (&"solo".into(), &"memorial".into())
    );
    let number = |key: &str| pass[key].as_f64().expect("a number");
    close(number("late_s"), 3.0, 0.01, "late");
    close(number("ground_speed_mps"), 120.0, 0.1, "ground speed");
    close(number("nearest_to_centre_m"), 230.0, 0.1, "nearest");
    let points = report["shows"][0]["points"].as_array().expect("points");
    let abeam_point = points
        .iter()
        .find(|point| point["figure"] == "memorial" && point["point"] == "abeam")
        .expect("the pass");
    assert_eq!(abeam_point["known"], "logged");
    close(
        abeam_point["late_s"].as_f64().expect("it"),
        3.0,
        0.01,
        "late in the table",
    );
    let (code, _, err) = abeam(
        dir.path(),
        &["debrief", journal, "--track", &format!("nobody={log}")],
    );
    assert_eq!(code, 2);
    assert!(err.contains("solo"), "{err}");
}

#[test]
fn corrections_are_written_only_when_asked_for_and_comments_stay() {
    let commented = DISPLAY.replace("[aircraft.solo]", "# who flies\n[aircraft.solo]");
    let made = flown(&commented, [0.5, 0.5, 16.0, 16.5, 17.0]);
    let (dir, journal) = folder(&made);
    let document = dir.path().join("cues/rehearsal.toml");
    let before = fs::read_to_string(&document).expect("it");
    let names = [
        "evening.journal",
        "two.journal",
        "three.journal",
        "four.journal",
    ];
    for name in &names[1..] {
        fs::copy(&journal, dir.path().join(name)).expect("a journal");
    }
    let debrief = |more: &str| {
        let arguments = [&["debrief"], &names[..], &[more]].concat();
        abeam(dir.path(), &arguments)
    };
    let (code, out, err) = debrief("--json");
    assert_eq!(code, 0, "{err}");
    assert_eq!(fs::read_to_string(&document).expect("it"), before);
    let report: serde_json::Value = serde_json::from_str(&out).expect("JSON");
    let corrections = report["corrections"].as_array().expect("corrections");
    assert!(!corrections.is_empty(), "{out}");
    let (code, _, err) = debrief("--write");
    assert_eq!(code, 0, "{err}");
    assert!(err.contains("Wrote"), "{err}");
    let after = fs::read_to_string(&document).expect("it");
    assert!(after.contains("# who flies\n[aircraft.solo]"));
    let taken = before.lines().filter(|line| !after.contains(line));
    assert!(taken.count() <= corrections.len(), "{after}");
    let (show, faults) = abeam::show::load::read("rehearsal.toml", &after);
    assert!(show.is_some(), "{faults:?}");
    assert_ne!(after, before);
}
