//! What was played: hits by the frame log, seconds for rights returns, how the output did.

use std::fs;
use std::path::Path;

use abeam::debrief::music::Source;
use abeam::debrief::seen::How;
use abeam::live::clock::ShowClock;
use abeam::live::event::What;
use abeam::live::journal::{Line, OutputCounts};
use abeam::units::Instant;

use crate::close;
use crate::made::*;
use crate::rehearsal::DISPLAY;

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

/// What is returned of each track: seconds, by track.
fn returned(made: &Made) -> Vec<(String, f64)> {
    let (dir, _) = folder(made);
    fs::create_dir(dir.path().join("media")).expect("a folder");
    for name in ["overture.wav", "hymn.wav"] {
        silence(&dir.path().join("media").join(name));
    }
    let arguments = ["debrief", "evening.journal", "--rights", "rights.csv"];
    let (code, _, err) = abeam(dir.path(), &arguments);
    assert_eq!(code, 0, "{err}");
    let csv = fs::read_to_string(dir.path().join("rights.csv")).expect("returns");
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let rows = reader.records().map(|row| row.expect("a row"));
    rows.map(|row| (row[2].to_owned(), row[7].parse().expect("seconds")))
        .collect()
}

/// Two minutes of silence: mono, 16 bit, 8 kHz.
fn silence(path: &Path) {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 8_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut file = hound::WavWriter::create(path, spec).expect("a track");
    (0..120 * 8_000).for_each(|_| file.write_sample(0_i16).expect("a sample"));
    file.finalize().expect("a track");
}

/// When the show sent a track, s.
fn sent(made: &Made, track: usize) -> f64 {
    let playings = made.went().folded.playings;
    let found = playings.iter().find(|playing| playing.track == track);
    found.expect("it was played").start.s()
}

/// By hand: a track counts from when it is heard to begin until it is silent, its fade out with it, and no more of it
/// than it is long.
#[test]
fn seconds_for_rights_returns_end_where_the_music_did() {
    let display = DISPLAY.replace(".flac", ".wav");
    // As planned: the overture is silent half a minute before the slow pass; the hymn runs to its end, two minutes.
    let mut made = flown(&display, [0.0; 5]);
    let hymn = sent(&made, 1);
    made.heard("overture", None, -10.0)
        .heard("hymn", None, hymn);
    let overture = made.plan_s("slow-pass", "abeam") - 30.0 + 10.0;
    let [(first, a), (second, b)] = &returned(&made)[..] else {
        panic!("two tracks were heard");
    };
    assert_eq!((first.as_str(), second.as_str()), ("overture", "hymn"));
    close(*a, overture, 0.5, "the overture");
    let closed = made.plan_s("departure", "end") + 30.0;
    close(
        *b,
        (closed - hymn).min(120.0 - made.went().folded.playings[1].course.entry.s()),
        0.5,
        "the hymn",
    );

    // Faded by hand, over the 4 s the document gives it, 20 s in.
    let mut made = flown(&display, [0.0; 5]);
    made.record.lines.pop();
    made.heard("hymn", None, hymn).at(
        hymn + 20.0,
        What::FadeTrack {
            track: "hymn".into(),
        },
    );
    made.record.lines.sort_by_key(|line| match line {
        Line::Event(stamped) => stamped.event.at,
        Line::Heard(heard) => heard.at,
        _ => Instant::from_s(-1e6),
    });
    made.closed(closed);
    assert_eq!(returned(&made), [("hymn".to_owned(), 24.0)]);

    // Knocked off 30 s in: everything is silent two seconds later.
    let mut made = Made::of(&display);
    made.marked("arrival", "inbound", 0.0)
        .heard("overture", None, -9.8)
        .at(20.0, What::KnockItOff)
        .closed(60.0);
    assert_eq!(returned(&made), [("overture".to_owned(), 32.0)]);

    // Nothing heard of a track that was sent: nothing is returned of it.
    let mut made = flown(&display, [0.0; 5]);
    made.heard("hymn", None, hymn);
    assert!(returned(&made).iter().all(|(track, _)| track == "hymn"));
}

#[test]
fn underruns_are_told_in_words_on_the_page_and_in_json() {
    let mut made = flown(DISPLAY, [0.0; 5]);
    made.record.lines.push(Line::Output(OutputCounts {
        underruns: 3,
        reopened: 1,
        refused: 0,
    }));
    let (dir, _) = folder(&made);
    let (code, out, err) = abeam(
        dir.path(),
        &["debrief", "evening.journal", "--html", "evening.html"],
    );
    assert_eq!(code, 0, "{err}");
    assert!(
        out.contains("Output: 3 underrun(s), opened again 1 time(s), 0 start(s) refused"),
        "{out}"
    );
    let page = fs::read_to_string(dir.path().join("evening.html")).expect("a page");
    assert!(page.contains("The output ran dry 3 time(s), was opened again 1 time(s)"));
    let (_, out, _) = abeam(dir.path(), &["debrief", "evening.journal", "--json"]);
    let report: serde_json::Value = serde_json::from_str(&out).expect("one object");
    assert_eq!(report["shows"][0]["output"]["underruns"], 3);
}
