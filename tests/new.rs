//! `abeam new` writes a show that runs as it is, and never writes over anything.

use std::fs;
use std::path::Path;

use abeam::show::load;
use assert_cmd::Command;
use serde_json::Value;
use tempfile::{TempDir, tempdir};

fn abeam(args: &[&str]) -> Command {
    let mut command = Command::cargo_bin("abeam").expect("the program");
    command.args(args);
    command
}

fn text(path: &Path) -> &str {
    path.to_str().expect("a path of plain characters")
}

/// A new show in a folder that was not there, and what was said.
fn new_show() -> (TempDir, String) {
    let dir = tempdir().expect("a folder");
    let folder = dir.path().join("shows/first");
    let output = abeam(&["new", text(&folder)]).output().expect("run");
    assert!(output.status.success(), "{output:?}");
    assert!(output.stderr.is_empty(), "{output:?}");
    let said = String::from_utf8(output.stdout).expect("text");
    (dir, said)
}

fn document(dir: &TempDir) -> std::path::PathBuf {
    dir.path().join("shows/first/cues/first-show.toml")
}

/// Every file below a folder and what is in it.
fn contents(folder: &Path) -> Vec<(std::path::PathBuf, Vec<u8>)> {
    let mut all = Vec::new();
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            all.extend(contents(&path));
        } else {
            let bytes = fs::read(&path).expect("a file");
            all.push((path, bytes));
        }
    }
    all.sort();
    all
}

#[test]
fn the_written_show_is_without_fault_in_each_profile() {
    let (dir, _) = new_show();
    let loaded = load(&document(&dir)).unwrap_or_else(|_| panic!("it does not load"));
    assert_eq!(loaded.advice.len(), 0);
    assert_eq!(loaded.show.profiles.len(), 2);
    for profile in &loaded.show.profiles {
        let file = document(&dir);
        let check = ["check", text(&file), "--profile", profile.name.as_str()];
        let output = abeam(&check).output().expect("run");
        assert!(
            output.status.success() && output.stderr.is_empty(),
            "{output:?}"
        );
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(said.contains("no errors, no pieces of advice"), "{said}");
    }
}

#[test]
fn its_bell_meets_the_salute_within_a_millisecond() {
    let (dir, _) = new_show();
    let output = abeam(&["times", text(&document(&dir)), "--json"])
        .output()
        .expect("run");
    assert!(output.status.success(), "{output:?}");
    let times: Value = serde_json::from_slice(&output.stdout).expect("one object");
    let number = |value: &Value| {
        value
            .as_f64()
            .unwrap_or_else(|| panic!("{value}: no number"))
    };
    let bell = &times["tracks"][0];
    assert!(number(&bell["meet"]["miss_s"]).abs() < 1e-3, "{bell}");
    let salute = times["figures"]
        .as_array()
        .and_then(|figures| figures.iter().find(|figure| figure["id"] == "salute"))
        .expect("the salute");
    let between = number(&bell["hit_s"]) - number(&salute["abeam_s"][0]);
    assert!(between.abs() < 1e-3, "{between} s");
    // The bell is at 0:10.000 in the track.
    let played = number(&bell["hit_s"]) - number(&bell["start_s"]);
    assert!((played - 10.0).abs() < 1e-3, "{played} s");
}

#[test]
fn what_it_says_to_run_next_runs() {
    let (dir, said) = new_show();
    let next: Vec<&str> = said
        .lines()
        .filter_map(|line| line.trim().strip_prefix("abeam "))
        .collect();
    let file = document(&dir);
    let file = text(&file);
    assert_eq!(
        next,
        [
            format!("check {file}"),
            format!("times {file}"),
            format!("show {file} --from \"-20 s\""),
        ]
    );
    for line in &next[..2] {
        abeam(&line.split(' ').collect::<Vec<_>>())
            .assert()
            .success();
    }
}

#[test]
fn a_second_run_refuses_and_changes_nothing() {
    let (dir, _) = new_show();
    fs::write(document(&dir), "mine").expect("a file");
    let before = contents(dir.path());
    let folder = dir.path().join("shows/first");
    let output = abeam(&["new", text(&folder)]).output().expect("run");
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    let instead = format!("abeam new {}-2", text(&folder));
    assert!(said.contains(&instead), "{said}");
    assert_eq!(contents(dir.path()), before);
    // One of its files is enough to refuse.
    fs::remove_file(folder.join("media/first-show.flac")).expect("removed");
    let before = contents(dir.path());
    abeam(&["new", text(&folder)]).assert().code(2);
    assert_eq!(contents(dir.path()), before);
}

#[test]
fn a_place_that_cannot_be_written_is_named_and_left_as_it_was() {
    let dir = tempdir().expect("a folder");
    // Not even the superuser makes a folder below a file.
    let file = dir.path().join("file");
    fs::write(&file, "mine").expect("a file");
    let output = abeam(&["new", text(&file.join("show"))])
        .output()
        .expect("run");
    assert_eq!(output.status.code(), Some(3), "{output:?}");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains(text(&file)), "{said}");
    assert_eq!(contents(dir.path()), [(file, b"mine".to_vec())]);
}

#[test]
fn a_show_that_cannot_be_written_whole_is_not_written_at_all() {
    let dir = tempdir().expect("a folder");
    // A file where the document's folder must be: the track could be written, the document cannot.
    let in_the_way = dir.path().join("cues");
    fs::write(&in_the_way, "mine").expect("a file");
    abeam(&["new", text(dir.path())]).assert().code(3);
    assert_eq!(
        contents(dir.path()),
        [(in_the_way.clone(), b"mine".to_vec())]
    );
    fs::remove_file(in_the_way).expect("removed");
    abeam(&["new", text(dir.path())]).assert().success();
}
