//! A stage with its journal: gone on with, on a full disk, without one.

use std::path::Path;

use abeam::live::What;
use abeam::live::clock::{Reading, ShowClock};
use abeam::live::journal::{self, Journal, Line, Stamped};
use abeam::live::stage::{From, Stage};
use abeam::units::Instant;

use crate::{cut_short, header, on_disk, rehearsal, resumed};

#[test]
fn a_stage_goes_on_where_the_show_is_and_says_what_was_torn() {
    let mut record = cut_short(-100.0, 90.0, &[(-30.0, What::Duck { latched: true })]);
    record.torn = 1;
    let (_folder, path) = on_disk(&record);
    let stage = resumed(&path, record);
    // Ninety seconds on, and however long this machine took.
    assert!(stage.clock().at >= Instant::from_s(-10.0));
    assert!(stage.session().is_duck_latched());
    let said: Vec<&str> = stage.warnings().collect();
    assert!(
        said.iter().any(|said| said.contains("1 torn line")),
        "{said:?}"
    );
    drop(stage);
    let after = journal::read(&path).expect("a journal");
    // The duck of −30 s, whose name the kill had swallowed.
    assert_eq!(
        after.lines[2..]
            .iter()
            .filter(|line| matches!(line, Line::Sent(1)))
            .count(),
        1
    );
    assert!(matches!(after.lines[2], Line::Opened(_)));
}

/// Or a kill between the two would leave an effect nobody knows the cause of.
#[test]
fn an_event_is_written_before_its_effects_are_named() {
    let record = cut_short(-100.0, 1.0, &[]);
    let (_folder, path) = on_disk(&record);
    let mut stage = resumed(&path, record);
    let mut keyed = vec![
        What::Duck { latched: true },
        What::KnockItOff,
        What::Level {
            track: "hymn".into(),
            gain_db: -1.0,
        },
    ];
    for what in &keyed {
        stage.happen(what.clone());
    }
    drop(stage);
    let after = journal::read(&path).expect("a journal");
    let (ids, events): (Vec<&Line>, Vec<&Line>) = after.lines[2..]
        .iter()
        .partition(|line| matches!(line, Line::Sent(_)));
    assert_eq!(ids, [&Line::Sent(1), &Line::Sent(2), &Line::Sent(3)]);
    assert_eq!(events.len(), 3);
    for pair in after.lines[2..].chunks(2) {
        let [Line::Event(stamped), Line::Sent(_)] = pair else {
            panic!("{pair:?}");
        };
        assert_eq!(stamped.event.what, keyed.remove(0));
    }
}

#[test]
fn a_machine_whose_clock_went_back_goes_on_from_the_last_event() {
    let mut record = cut_short(-100.0, 90.0, &[(-30.0, What::Audible)]);
    // The machine has been restarted, and its wall clock stands where it stood an hour before.
    for line in &mut record.lines {
        if let Line::Opened(ShowClock { reading, .. }) | Line::Event(Stamped { reading, .. }) = line
        {
            reading.boot_id = "another".into();
            reading.wall_us += 3_600_000_000;
        }
    }
    let (_folder, path) = on_disk(&record);
    let mut stage = resumed(&path, record);
    assert_eq!(stage.clock().at, Instant::from_s(-30.0));
    assert!(
        stage
            .warnings()
            .any(|said| said.contains("clock is behind"))
    );
    let before = stage.session().now();
    std::thread::sleep(std::time::Duration::from_millis(20));
    stage.tick();
    assert!(stage.session().now() > before, "the show stands still");
}

#[cfg(target_os = "linux")]
#[test]
fn on_a_full_disk_a_warning_is_given_and_the_show_goes_on() {
    let record = cut_short(-100.0, 1.0, &[]);
    let mut stage = resumed(Path::new("/dev/full"), record);
    stage.happen(What::Duck { latched: true });
    stage.happen(What::KnockItOff);
    stage.tick();
    assert!(stage.session().is_ducked());
    assert!(!stage.session().is_armed());
    let said = stage
        .warnings()
        .filter(|said| said.contains("cannot be written"));
    let said: Vec<&str> = said.collect();
    assert_eq!(said.len(), 1, "said once: {said:?}");
    assert!(said[0].contains("goes on"), "{said:?}");
}

/// Nothing is written to a device that cannot be synced; that it was not is told at the next line, once.
#[cfg(target_os = "linux")]
#[test]
fn what_could_not_be_synced_is_told_at_the_next_line() {
    let mut journal = Journal::reopen(Path::new("/dev/null")).expect("a device");
    journal
        .append(&Line::Sent(1))
        .expect("nothing has been synced yet");
    let begun = std::time::Instant::now();
    let mut told = None;
    while told.is_none() && begun.elapsed().as_secs() < 60 {
        told = journal.append(&Line::Sent(2)).err();
    }
    // Linux cannot sync a device of characters (fsync(2): EINVAL).
    let told = told.expect("an error").kind();
    assert_eq!(told, std::io::ErrorKind::InvalidInput);
}

#[test]
fn no_journal_is_a_warning() {
    let folder = tempfile::tempdir().expect("a folder");
    let (show, plan) = rehearsal::plan("high");
    let clock = ShowClock::new(Reading::now(), Instant::from_s(-100.0), 1.0);
    let path = folder.path().join("no such folder").join("show.journal");
    let begin = From::Beginning(clock, path, header());
    let mut stage = Stage::new(&show, &plan, begin, None, vec![None; show.tracks.len()]);
    stage.happen(What::Duck { latched: true });
    assert!(stage.session().is_ducked());
    assert!(
        stage
            .warnings()
            .any(|said| said.contains("cannot be resumed"))
    );
}
