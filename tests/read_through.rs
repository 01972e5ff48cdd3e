//! A whole show read through by its keys, in a terminal, as a narrator with a presenter's remote reads it.

mod pty;

use std::path::Path;
use std::time::Duration;

use pty::{PAGE_DOWN, PAGE_UP, Program};

/// Invented: words that go on at the narrator's rate, with a hard name; words that wait, so that only the key that
/// comes twice takes them on; and one phrase by itself.
const SHOW: &str = r#"
[show]
title = "Read through"
profile = "only"
[profile.only]
order = ["pass"]
[site]
elevation = "0 ft"
line_bearing = 90
line_distance = "230 m"
[day]
qnh = "1013 hPa"
temperature = "15 C"
wind = [{ height = "0 ft", from = 270, speed = "0 kt" }]
[aircraft.solo]
name = "Solo"
[narrator]
words_per_minute = 40
[words]
say = { "Ysolde" = "ee-ZOLD" }
[[figure]]
id = "pass"
name = "Pass"
aircraft = "solo"
from = "left"
takes = "60 min"
[[block]]
id = "first"
text = "Good evening and welcome to the lake of many lanterns, where Ysolde comes from the other shore."
starts = "show + 5 s"
[[block]]
id = "second"
text = """
Now a slow and wide turn over the reeds and the boats. [wait show + 55 min]
Now along the far shore of the lake and past the lanterns. [wait show + 55 min]
And back to where all of us stand and wait this evening."""
starts = "show + 60 s"
[[block]]
id = "third"
text = "Good night."
starts = "show + 150 s"
"#;

/// Which of them only the key takes on.
const BY_KEY: usize = 1;

/// Every phrase, in order, as it stands on the screen.
const PHRASES: [&[&str]; 3] = [
    &[
        "Good evening and welcome to the lake of many lanterns,",
        "where Ysolde /ee-ZOLD/ comes from the other shore.",
    ],
    &[
        "Now a slow and wide turn over the reeds and the boats.",
        "Now along the far shore of the lake and past the lanterns.",
        "And back to where all of us stand and wait this evening.",
    ],
    &["Good night."],
];

/// What the words wait for, as it is said.
const WAIT: &str = "[wait for show zero + 55:00]";

fn start(folder: &Path) -> Program {
    let file = folder.join("show.toml");
    std::fs::write(&file, SHOW).expect("a document");
    let path = |name: &str| folder.join(name).to_string_lossy().into_owned();
    let (show, journal, state) = (path("show.toml"), path("journal"), path("state"));
    std::fs::create_dir(&state).expect("a folder");
    let env = [
        ("HOME".to_owned(), state.clone()),
        ("XDG_STATE_HOME".to_owned(), state),
    ];
    let arguments = [
        "show",
        &show,
        "--from",
        "-10 s",
        "--fast",
        "20",
        "--journal",
        &journal,
    ];
    Program::start(env!("CARGO_BIN_EXE_abeam"), &arguments, &env, (100, 30))
}

/// At twenty times the speed: longer than a key that bounces, or that comes with a move of the words' own, is
/// taken for the same.
const PAUSE: Duration = Duration::from_millis(150);

fn press(program: &mut Program, key: &str) {
    std::thread::sleep(PAUSE);
    program.key(key);
}

/// Presses the key of a remote until words that waited go on.
fn go_on(program: &mut Program, words: &str) {
    for _ in 0..40 {
        press(program, PAGE_DOWN);
        std::thread::sleep(PAUSE / 3);
        if program.underlined() == words {
            return;
        }
    }
    program.until_underlined(words);
}

#[test]
fn a_whole_show_is_read_through_by_the_keys_of_a_remote() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut program = start(folder.path());
    program.until_shown("before you begin");
    program.key(" ");
    for (i, phrases) in PHRASES.iter().enumerate() {
        program.until_shown("BEGIN WITH PAGE DOWN");
        program.until_shown(phrases[0]);
        assert_eq!(program.underlined(), "", "nobody reads yet");
        program.key(PAGE_DOWN);
        program.until_shown("say now");
        if let Some(next) = PHRASES.get(i + 1) {
            program.until_shown(next[0]);
        }
        if i == BY_KEY {
            program.until_underlined(WAIT);
            program.until_shown("WAIT 5");
            go_on(&mut program, phrases[1]);
            program.until_underlined(WAIT);
            press(&mut program, PAGE_UP);
            program.until_underlined(phrases[1]);
            program.until_underlined(WAIT);
            go_on(&mut program, phrases[2]);
        } else {
            for phrase in *phrases {
                program.until_underlined(phrase);
            }
            std::thread::sleep(PAUSE);
        }
        press(&mut program, PAGE_DOWN);
        program.until_shown("not ducked");
    }
    program.until_shown("no more words");
    program.key("q");
    program.until_shown("leave the program?");
    press(&mut program, "\r");
    assert!(program.end().success);
}
