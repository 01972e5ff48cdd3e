//! Journals cut short, and clocks that were set meanwhile.

use std::io::Write;

use abeam::live::What;
use abeam::live::clock::ShowClock;
use abeam::live::journal::{self, Journal, Line, Record, Stamped};
use abeam::units::Instant;

use crate::{event, header, line, opened, reading, written};

#[test]
fn a_torn_last_line_is_dropped_and_counted() {
    let lines = [
        opened(-120.0),
        line(event(1.0, What::Duck { latched: true })),
        Line::Sent(1),
        line(event(2.0, What::KnockItOff)),
    ];
    let (_folder, path) = written(&lines);
    let whole = std::fs::read(&path).expect("the journal");
    let last = whole[..whole.len() - 1]
        .iter()
        .rposition(|&byte| byte == b'\n')
        .expect("a line")
        + 1;
    for cut in last + 1..whole.len() - 1 {
        std::fs::write(&path, &whole[..cut]).expect("the journal");
        let record = journal::read(&path).expect("a journal");
        assert_eq!(record.lines, lines[..3], "cut at {cut}");
        assert_eq!(record.torn, 1, "cut at {cut}");
    }
    // Without its line break alone the line is whole.
    std::fs::write(&path, &whole[..whole.len() - 1]).expect("the journal");
    let record = journal::read(&path).expect("a journal");
    assert_eq!((&record.lines[..], record.torn), (&lines[..], 0));
}

#[test]
fn a_torn_line_does_not_swallow_the_next() {
    let first = [opened(-120.0), line(event(1.0, What::Delay))];
    let (_folder, path) = written(&first);
    let mut file = std::fs::OpenOptions::new()
        .append(true)
        .open(&path)
        .expect("the journal");
    file.write_all(b"{\"event\":{\"boot_id\":\"a\",\"boo")
        .expect("room");
    let next = [line(event(2.0, What::Resume)), Line::Sent(3)];
    let mut journal = Journal::reopen(&path).expect("the journal");
    for line in &next {
        journal.append(line).expect("room");
    }
    drop(journal);
    let record = journal::read(&path).expect("a journal");
    assert_eq!(record.lines, [first, next].concat());
    assert_eq!(record.torn, 1);
}

#[test]
fn a_line_is_with_the_system_before_append_returns() {
    let (_folder, path) = written(&[]);
    let mut journal = Journal::reopen(&path).expect("the journal");
    for id in 1..20 {
        journal.append(&Line::Sent(id)).expect("room");
        assert_eq!(journal::read(&path).expect("a journal").last_sent(), id);
    }
}

#[test]
fn a_running_shows_journal_is_its_own() {
    let (_folder, path) = written(&[opened(-120.0)]);
    assert!(!journal::is_in_use(&path).expect("a file"));
    let journal = Journal::reopen(&path).expect("the journal");
    assert!(journal::is_in_use(&path).expect("a file"));
    assert!(Journal::reopen(&path).is_err());
    drop(journal);
    assert!(!journal::is_in_use(&path).expect("a file"));
}

#[test]
fn after_a_restart_of_the_machine_the_wall_clock_finds_the_show() {
    let record = Record {
        header: header(),
        lines: vec![
            Line::Opened(ShowClock::new(
                reading("a", 1_000, 50_000),
                Instant::from_s(-60.0),
                1.0,
            )),
            // The wall clock was set by half an hour meanwhile; the boot-time clock was not.
            Line::Event(Stamped {
                reading: reading("a", 1_100, 51_900),
                event: event(40.0, What::Delay),
            }),
            Line::Sent(1),
        ],
        torn: 0,
    };
    let now = reading("b", 20, 51_990);
    let clock = record.clock(&now).expect("an opened journal");
    assert_eq!(clock.at(&now), Instant::from_s(130.0));
    // Without a restart it is the boot-time clock alone.
    let now = reading("a", 1_200, 7);
    let clock = record.clock(&now).expect("an opened journal");
    assert_eq!(clock.at(&now), Instant::from_s(140.0));
}
