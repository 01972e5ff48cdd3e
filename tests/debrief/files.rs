//! The program run on journals: which document it takes, what it writes.

use std::fs;

use abeam::live::event::What;
use abeam::live::journal::Journal;

use crate::close;
use crate::made::*;
use crate::rehearsal::DISPLAY;

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

#[test]
fn a_journal_of_before_that_has_no_frame_log_is_read() {
    let made = flown(DISPLAY, [0.0; 5]);
    let (dir, _) = folder(&made);
    let (code, _, err) = abeam(dir.path(), &["debrief", "evening.journal"]);
    assert_eq!(code, 0);
    assert!(err.contains("nothing says what was heard"), "{err}");
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

/// An accident seals the journal, and the show goes on in another file: both are told of as one show, whichever is
/// the sealed one; one that was changed since is said so.
#[test]
fn a_journal_sealed_at_an_accident_is_told_of_with_what_came_after() {
    let mut made = Made::of(DISPLAY);
    made.marked("arrival", "inbound", 0.0)
        .marked("arrival", "abeam", 1.5);
    let accident = made.plan_s("arrival", "end") + 10.0;
    made.at(accident, What::Accident);
    let sealed = made.record.lines.len();
    made.at(accident + 60.0, What::Release)
        .at(accident + 62.0, What::Release)
        .closed(accident + 70.0);
    let (dir, journal) = folder(&made);
    fs::remove_file(&journal).expect("it");
    let mut writing = Journal::create(&journal, &made.record.header).expect("a journal");
    for (i, line) in made.record.lines.iter().enumerate() {
        if i == sealed {
            writing.seal(&journal, &made.record.header).expect("sealed");
        }
        writing.append(line).expect("a line");
    }
    drop(writing);
    assert!(dir.path().join("evening.after-1.journal").is_file());
    let (code, out, err) = abeam(dir.path(), &["debrief", "evening.journal", "--json"]);
    assert_eq!(code, 0, "{err}");
    let report: serde_json::Value = serde_json::from_str(&out).expect("one object");
    let show = &report["shows"][0];
    let changes: Vec<&str> = show["changes"]
        .as_array()
        .expect("changes")
        .iter()
        .filter_map(|change| change["what"].as_str())
        .collect();
    assert_eq!(changes, ["accident", "released"]);
    let points = show["points"].as_array().expect("points");
    let arrival = points
        .iter()
        .find(|row| row["point"] == "abeam")
        .expect("a pass");
    close(arrival["late_s"].as_f64().expect("it"), 1.5, 2e-6, "late");
    assert!(!show["notes"].to_string().contains("sealed"), "{show}");

    let text = fs::read_to_string(&journal).expect("it");
    let mut permissions = fs::metadata(&journal).expect("it").permissions();
    std::os::unix::fs::PermissionsExt::set_mode(&mut permissions, 0o644);
    fs::set_permissions(&journal, permissions).expect("it");
    fs::write(
        &journal,
        text.replacen("\"wall_us\":17", "\"wall_us\":16", 1),
    )
    .expect("it");
    let (code, _, err) = abeam(dir.path(), &["debrief", "evening.journal"]);
    assert_eq!(code, 0, "{err}");
    assert!(
        err.contains("1 of its files was changed after it was sealed"),
        "{err}"
    );
}
