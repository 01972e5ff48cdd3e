//! A track close up, in a terminal: what is set by ear is written into the document, and nothing else in it changes;
//! while something is flown the document waits, and a full disk loses nothing.

mod live;
mod pty;

mod desk;

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use live::{past_the_cautions, path_text};
use pty::{Ended, Program};

const ABEAM: &str = env!("CARGO_BIN_EXE_abeam");
const SIZE: (u16, u16) = (120, 40);
const CTRL_S: &str = "\x13";
const HOME: &str = "\x1b[H";
const RIGHT: &str = "\x1b[C";

const SHOW: &str = r#"# the whole evening
[show]
title = "One hymn"       # working title
[profile.high]
order = ["pass"]
[site]
elevation = "0 m"
line_bearing = 90
line_distance = "230 m"
[aircraft.solo]
name = "Lantern One"
[[figure]]
id = "pass"
name = "Pass"
aircraft = "solo"
takes = "2 min"

[[track]]
id     = "hymn"
file   = "hymn.flac"     # bars of 3 s
bar    = "3 s"
hits   = { verse = "0:48.000" }   # by the score
starts = "pass.start + 1:00"      # not before
"#;

/// The line of the hits once another has been set, nudged and brought to a bar.
const HITS: &str = "hits   = { verse = \"0:48.000\", bell = \"0:33.000\" }   # by the score";

/// The show in a folder of its own, with whatever is said behind it.
struct Folder {
    folder: tempfile::TempDir,
}

impl Folder {
    fn new(more: &str) -> Folder {
        let folder = tempfile::tempdir().expect("a folder");
        let hymn = Path::new(env!("CARGO_MANIFEST_DIR")).join("media/hymn.flac");
        std::fs::copy(hymn, folder.path().join("hymn.flac")).expect("the hymn");
        std::fs::write(folder.path().join("hymn.toml"), format!("{SHOW}{more}")).expect("written");
        Folder { folder }
    }

    fn document(&self) -> PathBuf {
        self.folder.path().join("hymn.toml")
    }

    fn text(&self) -> String {
        std::fs::read_to_string(self.document()).expect("the document")
    }

    /// Begins the show at a time of it and opens the hymn close up, once what begins in it was found.
    fn close_up(&self, from: &str, shell: Option<&str>) -> Program {
        let home = self.folder.path().display().to_string();
        let env: Vec<_> = ["HOME", "XDG_STATE_HOME", "XDG_CONFIG_HOME"]
            .map(|name| (name.to_owned(), home.clone()))
            .into();
        let document = self.document();
        let show = ["show", path_text(&document), "--silent", "--from", from];
        let mut program = match shell {
            None => Program::start(ABEAM, &show, &env, SIZE),
            Some(script) => {
                let script = format!("{script}; exec \"$0\" \"$@\"");
                let arguments: Vec<&str> = ["-c", &script, ABEAM].into_iter().chain(show).collect();
                Program::start("sh", &arguments, &env, SIZE)
            }
        };
        past_the_cautions(&mut program);
        program.key("\t");
        program.until("the hymn, decoded", |screen| {
            (screen.contains("hymn") && !screen.contains('%')).then_some(())
        });
        program.key("v");
        program.until_shown("hymn, written");
        program.until_shown("beats a minute by ear");
        program
    }
}

/// Sets a hit in the eleventh bar, moves it by every step and brings it to the next bar line.
fn set_the_bell(program: &mut Program, typed: bool) {
    program.key(HOME);
    program.key("4");
    for _ in 0..10 {
        program.key(RIGHT);
    }
    program.key("h");
    if typed {
        program.until_shown("type a name");
        for key in ["b", "e", "l", "l", "\r"] {
            program.key(key);
        }
        program.until_shown("hit bell 0:30.000");
    }
}

fn leave(mut program: Program) -> Ended {
    program.key("q");
    program.until_shown("leave the program?");
    program.key("\r");
    let ended = program.end();
    ended.assert_restored();
    ended
}

#[test]
fn a_hit_set_by_ear_is_written_and_every_comment_stays() {
    let folder = Folder::new("");
    let mut program = folder.close_up("-5:00", None);
    set_the_bell(&mut program, true);
    for (keys, shown) in [
        (["1", "."], "hit bell 0:30.000021"),
        (["2", "."], "hit bell 0:30.010021"),
        (["3", "."], "hit bell 0:30.76"),
        (["4", "."], "hit bell 0:33.76"),
        // The playhead goes to the bar line, and the hit is brought to it.
        (["l", "m"], "hit bell 0:33.000"),
        (["z", "z"], "undone: hit bell 0:33.760"),
        (["Z", "Z"], "done again: hit bell 0:33.000"),
    ] {
        for key in keys {
            program.key(key);
        }
        program.until_shown(shown);
    }
    assert_eq!(folder.text(), SHOW, "nothing is written yet");
    program.until_shown("hymn, NOT WRITTEN");
    program.key(CTRL_S);
    program.until_shown("hymn, written");
    let wanted = SHOW.replace("hits   = { verse = \"0:48.000\" }   # by the score", HITS);
    assert_eq!(folder.text(), wanted);
    assert!(leave(program).success);
    assert_eq!(folder.text(), wanted);
}

#[test]
fn while_something_is_flown_the_document_waits_until_the_program_is_left() {
    let folder = Folder::new("");
    let mut program = folder.close_up("5 s", None);
    set_the_bell(&mut program, false);
    program.until_shown("hit hit_1 set at 0:30.000");
    program.key(CTRL_S);
    program.until_shown("it is written when you leave");
    assert_eq!(folder.text(), SHOW);
    let ended = leave(program);
    assert!(
        ended.bytes.contains("hymn.toml is written"),
        "{}",
        ended.bytes
    );
    let wanted = SHOW.replace("0:48.000\" }", "0:48.000\", hit_1 = \"0:30.000\" }");
    assert_eq!(folder.text(), wanted);
}

/// A file that may not grow past a size fails in the middle of a write, as one on a full disk does; the signal that
/// comes with that is ignored.
const FULL: &str = "trap '' XFSZ; ulimit -S -f 128";

/// More than such a file can hold.
fn long() -> String {
    format!("#{}\n", "x".repeat(100_000))
}

#[test]
fn a_full_disk_is_said_and_what_was_set_is_written_when_there_is_room() {
    let folder = Folder::new(&long());
    let before = folder.text();
    let mut program = folder.close_up("-5:00", Some(FULL));
    set_the_bell(&mut program, true);
    program.key(CTRL_S);
    program.until_shown("the file is as it was; Ctrl S tries again");
    assert_eq!(folder.text(), before);
    program.until_shown("NOT WRITTEN");
    let pid = program.id().to_string();
    let roomy = Command::new("prlimit")
        .args(["--pid", &pid, "--fsize=unlimited"])
        .status();
    assert!(roomy.expect("prlimit, of util-linux").success());
    // A key that comes again too soon is one that is held.
    std::thread::sleep(Duration::from_secs(1));
    program.key(CTRL_S);
    program.until_shown("hymn, written");
    let wanted = before.replace("0:48.000\" }", "0:48.000\", bell = \"0:30.000\" }");
    assert_eq!(folder.text(), wanted);
    leave(program);
}

#[test]
fn who_leaves_while_the_disk_is_full_is_told_what_was_set() {
    let folder = Folder::new(&long());
    let before = folder.text();
    let mut program = folder.close_up("-5:00", Some(FULL));
    set_the_bell(&mut program, true);
    program.key(".");
    program.until_shown("hit bell 0:33.000");
    let ended = leave(program);
    for words in [
        "hit hit_1 set at 0:30.000",
        "hit hit_1 is called bell now",
        "hit bell 0:33.000",
    ] {
        assert!(ended.bytes.contains(words), "{words}: {}", ended.bytes);
    }
    assert_eq!(folder.text(), before);
}
