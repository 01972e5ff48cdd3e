//! What the README shows is what the program does.

mod stage;

use std::os::unix::fs::symlink;
use std::path::Path;

use abeam::commands::CommandLine;
use abeam::screens::{Panel, Theme};
use assert_cmd::Command;
use clap::Parser;
use ratatui::crossterm::event::KeyCode;
use stage::{desk, drawn, opening, panel, press, text};
use tempfile::{TempDir, tempdir};

const README: &str = include_str!("../README.md");

/// The fenced blocks of a kind.
fn blocks(kind: &str) -> Vec<&'static str> {
    README
        .split("\n```")
        .skip(1)
        .step_by(2)
        .filter_map(|block| block.strip_prefix(kind)?.strip_prefix('\n'))
        .collect()
}

/// The words of a command line; double quotes keep words together.
fn words(line: &str) -> Vec<String> {
    let parts = line.split('"').enumerate();
    parts
        .flat_map(|(i, part)| match i % 2 {
            0 => part.split_whitespace().map(str::to_owned).collect(),
            _ => vec![part.to_owned()],
        })
        .collect()
}

/// Every command line of the program: what comes after its name.
fn command_lines() -> Vec<&'static str> {
    let typed = blocks("sh").into_iter().flat_map(str::lines);
    let shown = blocks("console")
        .into_iter()
        .flat_map(str::lines)
        .filter_map(|line| line.strip_prefix("$ "));
    typed
        .chain(shown)
        .filter_map(|line| {
            let run = line.split_once("cargo run --release -- ");
            line.strip_prefix("abeam ").or(run.map(|(_, line)| line))
        })
        .collect()
}

/// A folder with the repository's shows in it, for commands that write.
fn folder() -> TempDir {
    let dir = tempdir().expect("a folder");
    for name in ["cues", "media"] {
        let here = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
        symlink(here, dir.path().join(name)).expect("a link");
    }
    dir
}

/// Words apart by one space: what is left of a text when its lines are broken anew.
fn flowing(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn every_command_line_is_understood() {
    let lines = command_lines();
    assert!(lines.len() >= 10, "{lines:?}");
    for line in lines {
        let words = words(line);
        let parsed = CommandLine::try_parse_from([vec!["abeam".into()], words].concat());
        assert!(parsed.is_ok(), "abeam {line}: {}", parsed.unwrap_err());
    }
}

#[test]
fn every_example_prints_what_is_shown() {
    let dir = folder();
    let examples = blocks("console");
    assert!(examples.len() >= 6);
    for example in examples {
        let (line, shown) = example.split_once('\n').expect("a command and its output");
        let line = line.strip_prefix("$ abeam ").expect("a command");
        let (shown, code) = match shown.split_once("\n[exit ") {
            Some((shown, code)) => (shown, code.trim_end_matches(']').parse().expect("a code")),
            None => (shown, 0),
        };
        let output = Command::cargo_bin("abeam")
            .expect("the program")
            .args(words(line))
            .env("XDG_CACHE_HOME", dir.path().join("cache"))
            .current_dir(dir.path())
            .output()
            .expect("run");
        assert_eq!(output.status.code(), Some(code), "abeam {line}");
        let printed = [output.stderr, output.stdout].concat();
        let printed = String::from_utf8(printed).expect("text");
        assert_eq!(printed.trim_end(), shown.trim_end(), "abeam {line}");
    }
}

#[test]
fn the_cautions_are_those_the_program_shows() {
    let output = Command::cargo_bin("abeam")
        .expect("the program")
        .args(["show", "--help"])
        .output()
        .expect("run");
    let help = flowing(&String::from_utf8(output.stdout).expect("text"));
    let (_, cautions) = help.split_once("CAUTIONS ").expect("cautions");
    assert!(cautions.len() > 300, "{cautions}");
    assert!(flowing(README).contains(cautions), "{cautions}");
}

#[test]
fn the_keys_are_those_of_the_help_screen() {
    let session = opening();
    let mut panel = panel(&session, Theme::Dark);
    press(&mut panel, &session, KeyCode::Char('?'));
    let help = text(&drawn(&mut panel, &session, &desk(), (200, 60)));
    let keys = blocks("text")[1];
    for line in keys.lines() {
        assert!(help.contains(line), "{line}: {help}");
    }
    let mut practising = Panel::practising(Theme::Dark);
    for key in [KeyCode::Null, KeyCode::Char('?')] {
        press(&mut practising, &session, key);
    }
    let more = text(&drawn(&mut practising, &session, &desk(), (200, 60)));
    for line in blocks("text")[0].lines() {
        assert!(
            more.contains(line) && !help.contains(line),
            "{line}: {more}"
        );
    }
    // Nothing is left out: the help screen ends with the key that leaves.
    assert!(keys.lines().count() >= 25 && keys.contains("q         leave the program"));
}

#[test]
fn every_picture_and_file_it_links_to_is_there() {
    let links: Vec<&str> = README
        .split("](")
        .skip(1)
        .filter_map(|rest| Some(rest.split_once(')')?.0))
        .collect();
    assert!(links.len() >= 7);
    for link in links {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(link);
        assert!(file.is_file(), "{link}");
    }
}

/// The test command has one text, which `.ci/run` runs.
#[test]
fn the_tests_are_run_as_shown() {
    assert!(
        blocks("sh")
            .iter()
            .any(|block| block.trim() == "bash .ci/test")
    );
}
