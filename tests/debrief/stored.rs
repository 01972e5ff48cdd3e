//! The journal kept beside the first show: an afternoon with a crew a little late and a narrator a little slow.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use abeam::live::journal::{Line, OutputCounts};
use abeam::script::readings;
use abeam::show::load::read;
use abeam::timeline::{Facts, Plan};
use abeam::units::Span;

use crate::made::*;

/// 2026-06-20 12:29 UTC, where summer time is two hours ahead of it.
const WALL_US: i64 = 1_781_958_556_000_000;

fn kept(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("cues")
        .join(name)
}

/// The afternoon, keyed and heard.
fn afternoon() -> Made {
    let text = fs::read_to_string(kept("first-show.toml")).expect("the first show");
    let (show, faults) = read("first-show.toml", &text);
    let show = show.unwrap_or_else(|| panic!("{faults:?}"));
    let facts = Facts {
        readings: readings(&show),
        track_lengths: vec![Span::from_s(16.0); show.tracks.len()],
    };
    let plan = Plan::new(&show, &show.profile, &show.day, facts);
    let mut made = Made::opened(Arc::new(show), Arc::new(plan), WALL_US);
    made.said("welcome", -11.2, -6.4)
        .marked("arrival", "abeam", 1.6)
        .marked("salute", "inbound", 7.9);
    let inbound = made.plan_s("salute", "inbound") + 7.9;
    made.said("salute-words", inbound + 3.4, inbound + 17.5)
        .marked("salute", "gate.1", 8.4)
        .marked("salute", "abeam", 8.8);
    let playing = &made.went().folded.playings[0];
    let begun = playing.start.s() + 0.004;
    made.heard("bell", None, begun)
        .heard("bell", Some("bell"), begun + 10.0);
    made.record.lines.push(Line::Output(OutputCounts {
        underruns: 1,
        reopened: 0,
        refused: 0,
    }));
    let end = made.plan_s("salute", "end") + 20.0;
    made.closed(end);
    made
}

#[test]
fn the_journal_kept_beside_the_first_show_is_of_that_show() {
    let kept = fs::read_to_string(kept("first-show.journal")).expect("the journal");
    assert!(
        kept == afternoon().text(),
        "after a change of the first show: cargo test --test debrief -- --ignored"
    );
}

#[test]
#[ignore = "writes the journal kept beside the first show anew"]
fn the_journal_beside_the_first_show_is_written_anew() {
    afternoon().write(&kept("first-show.journal"));
}
