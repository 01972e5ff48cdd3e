//! Journals that are not gone on with, and what to type instead.

use std::path::Path;

use abeam::live::journal::{self, Journal, Line};
use assert_cmd::Command;

/// It gets no further than its terminal, which it has none of.
fn refusal(folder: &Path, journal: &str, more: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_abeam"));
    command
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("XDG_STATE_HOME", folder)
        .args(["show", "cues/lantern-lake.toml", "--journal", journal])
        .args(more);
    let output = command.output().expect("the program");
    assert!(!output.status.success());
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// A journal of the display at Lantern Lake, as the program begins it; its text.
fn lantern_lake(folder: &Path, more: &[&str]) -> (String, String) {
    let path = folder.join("lake.journal");
    let name = path.display().to_string();
    let arguments = [&["--silent", "--from", "-2 min"], more].concat();
    // It ends because there is no terminal, which is as good as a kill.
    let said = refusal(folder, &name, &arguments);
    assert!(said.contains("terminal"), "{said}");
    let text = std::fs::read_to_string(&path).expect("a journal");
    (name, text)
}

#[test]
fn a_journal_of_something_else_is_refused_with_what_to_type() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    let (name, text) = lantern_lake(folder, &[]);
    let hash = {
        let record = journal::read(Path::new(&name)).expect("a journal");
        record.header.show_blake3
    };
    for (from, to, more, says) in [
        (&*hash, "00", &[][..], "another version of the document"),
        ("\"high\"", "\"low\"", &[], "another profile"),
        (
            "\"abeam_journal\":1",
            "\"abeam_journal\":2",
            &[],
            "another version of this program",
        ),
        ("\"title\"", "\"tilte\"", &[], "does not say which show"),
        ("", "", &["--profile", "low"], "another profile"),
        ("", "", &["--wind", "240/15kt"], "another day"),
        ("", "", &["--temperature", "9 C"], "another day"),
        ("", "", &["--fast", "60"], "leave --fast out"),
        ("\"rate\":1.0", "\"rate\":60.0", &[], "say --fast 60 "),
        // Begun by hand, it is no show that follows the clock on the wall.
        ("", "", &[], "did not follow the clock"),
    ] {
        let altered = text.replace(from, to);
        std::fs::write(&name, &altered).expect("the journal");
        let said = refusal(folder, &name, more);
        assert!(
            said.contains(says) && said.contains("--fresh"),
            "{from} {more:?}: {said}"
        );
        assert_eq!(
            std::fs::read_to_string(&name).expect("the journal"),
            altered
        );
    }
    // As it was, it is gone on with by the very command that began it; with `--fresh` whatever it was it is kept beside the new one.
    std::fs::write(&name, &text).expect("the journal");
    let said = refusal(folder, &name, &["--silent", "--from", "-2 min"]);
    assert!(said.contains("terminal"), "{said}");
    let record = journal::read(Path::new(&name)).expect("a journal");
    let times = record
        .lines
        .iter()
        .filter(|line| matches!(line, Line::Opened(_)));
    assert_eq!(times.count(), 2);
    let altered = "no journal at all\n";
    std::fs::write(&name, altered).expect("the journal");
    refusal(folder, &name, &["--silent", "--fresh", "--from", "-2 min"]);
    let kept = std::fs::read_dir(folder)
        .expect("the folder")
        .filter_map(|entry| std::fs::read_to_string(entry.expect("a file").path()).ok());
    assert!(kept.into_iter().any(|text| text == altered));
}

#[test]
fn a_journal_killed_before_its_first_line_was_out_is_begun_anew() {
    let folder = tempfile::tempdir().expect("a folder");
    let (name, text) = lantern_lake(folder.path(), &[]);
    let first = text.find('\n').expect("a line");
    for cut in [0, 1, first / 2, first, first + 1] {
        std::fs::write(&name, &text[..cut]).expect("the journal");
        let said = refusal(folder.path(), &name, &["--silent", "--from", "-2 min"]);
        assert!(said.contains("terminal"), "cut at {cut}: {said}");
        let record = journal::read(Path::new(&name)).expect("a journal");
        assert!(record.first_clock().is_some(), "cut at {cut}");
    }
}

#[test]
fn yesterdays_journal_is_not_gone_on_with_unasked() {
    let folder = tempfile::tempdir().expect("a folder");
    let (name, text) = lantern_lake(folder.path(), &[]);
    let record = journal::read(Path::new(&name)).expect("a journal");
    let written = record.last_wall_us().expect("an opened journal");
    let old = text.replace(
        &written.to_string(),
        &(written - 24 * 3_600_000_000).to_string(),
    );
    let default = folder.path().join("abeam").join(format!(
        "lantern-lake-{}.journal",
        &record.header.show_blake3[..8]
    ));
    std::fs::write(&default, old).expect("the journal");
    let mut command = Command::new(env!("CARGO_BIN_EXE_abeam"));
    command
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("XDG_STATE_HOME", folder.path())
        .args(["show", "cues/lantern-lake.toml", "--silent"]);
    let output = command.output().expect("the program");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        said.contains("1440:0") && said.contains("--fresh"),
        "{said}"
    );
    assert!(
        said.contains(&format!("say --journal {}", default.display())),
        "{said}"
    );
}

#[cfg(target_os = "linux")]
#[test]
fn devices_and_running_shows_keep_their_files() {
    let folder = tempfile::tempdir().expect("a folder");
    let said = refusal(folder.path(), "/dev/full", &["--fresh", "--from", "0 s"]);
    assert!(said.contains("the name of a file"), "{said}");
    assert!(Path::new("/dev/full").exists());
    let (name, _) = lantern_lake(folder.path(), &[]);
    let running = Journal::reopen(Path::new(&name)).expect("the journal");
    let said = refusal(folder.path(), &name, &["--fresh", "--from", "0 s"]);
    assert!(said.contains("a --journal of its own"), "{said}");
    drop(running);
}
