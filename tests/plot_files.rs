//! `abeam times --plot DIR`: which files it writes, and which it leaves alone.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use tempfile::tempdir;

/// Exit code, standard output, standard error.
fn plot(folder: &Path, more: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::cargo_bin("abeam")
        .expect("the program")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["times", "cues/first-show.toml", "--plot"])
        .arg(folder)
        .args(more)
        .output()
        .expect("run");
    let text = |bytes| String::from_utf8(bytes).expect("text");
    (
        output.status.code(),
        text(output.stdout),
        text(output.stderr),
    )
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    let name = |entry: std::io::Result<fs::DirEntry>| {
        let name = entry.expect("an entry").file_name();
        name.into_string().expect("a name")
    };
    let mut names: Vec<String> = entries.map(name).collect();
    names.sort();
    names
}

const DRAWN: [&str; 7] = [
    "arrivals.svg",
    "figures.svg",
    "heights.svg",
    "plan-arrival.svg",
    "plan-salute.svg",
    "plan-turn-back.svg",
    "plan.svg",
];

#[test]
fn a_folder_is_made_and_drawn_into_again() {
    let dir = tempdir().expect("a folder");
    let folder = dir.path().join("new/pictures");
    let (code, printed, told) = plot(&folder, &[]);
    assert_eq!(code, Some(0), "{told}");
    assert!(
        printed.starts_with("First show, profile high\n"),
        "{printed}"
    );
    assert_eq!(told.lines().count(), 1, "{told}");
    assert!(
        told.starts_with("Drew plan.svg, figures.svg, plan-arrival.svg"),
        "{told}"
    );
    assert_eq!(names(&folder), DRAWN);

    let calm = fs::read(folder.join("plan.svg")).expect("a picture");
    let (code, ..) = plot(&folder, &["--wind", "180/20kt"]);
    assert_eq!(code, Some(0));
    assert_eq!(names(&folder), DRAWN);
    assert_ne!(fs::read(folder.join("plan.svg")).expect("a picture"), calm);
    let (code, ..) = plot(&folder, &[]);
    assert_eq!(code, Some(0));
    assert_eq!(fs::read(folder.join("plan.svg")).expect("a picture"), calm);
}

#[test]
fn the_object_stays_alone_on_standard_output() {
    let dir = tempdir().expect("a folder");
    let (code, printed, _) = plot(dir.path(), &["--json"]);
    assert_eq!(code, Some(0));
    let object: serde_json::Value = serde_json::from_str(&printed).expect("one object");
    assert_eq!(object["title"], "First show");
    assert_eq!(names(dir.path()), DRAWN);
}

#[test]
fn files_of_others_are_left_alone() {
    let dir = tempdir().expect("a folder");
    let theirs = dir.path().join("heights.svg");
    fs::write(&theirs, "<svg>of somebody else</svg>").expect("a file");
    for name in ["notes.txt", "plan.svg.part"] {
        fs::write(dir.path().join(name), "notes").expect("a file");
    }
    let (code, printed, told) = plot(dir.path(), &[]);
    assert_eq!((code, printed.as_str()), (Some(2), ""));
    assert!(
        told.contains("heights.svg is there already and was not drawn by abeam"),
        "{told}"
    );
    // Not even the others are drawn: half a set would be taken for a whole one.
    assert_eq!(
        names(dir.path()),
        ["heights.svg", "notes.txt", "plan.svg.part"]
    );

    fs::remove_file(&theirs).expect("it goes");
    let (code, ..) = plot(dir.path(), &[]);
    assert_eq!(code, Some(0));
    for name in ["notes.txt", "plan.svg.part"] {
        let notes = fs::read_to_string(dir.path().join(name));
        assert_eq!(notes.expect("a file"), "notes");
    }
}

#[test]
fn a_folder_that_cannot_be_written_is_named() {
    let dir = tempdir().expect("a folder");
    let file = dir.path().join("file");
    fs::write(&file, "no folder").expect("a file");
    let (code, printed, told) = plot(&file, &[]);
    assert_eq!((code, printed.as_str()), (Some(3), ""));
    assert!(
        told.starts_with("abeam: ") && told.contains("file/plan.svg"),
        "{told}"
    );
    assert_eq!(fs::read_to_string(&file).expect("a file"), "no folder");
}
