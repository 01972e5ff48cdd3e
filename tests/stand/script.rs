//! The script searched and read through for practice.

use abeam::live::{Session, What};
use abeam::screens::{Panel, Theme, Wish};
use ratatui::crossterm::event::KeyCode::{self, Char, Down, Enter, Esc, PageDown};

use crate::stage::*;

/// Presses keys a second apart, a frame drawn after each; what the last wishes for, and what is shown.
fn pressed(panel: &mut Panel, session: &mut Session, keys: &[KeyCode]) -> (Vec<Wish>, String) {
    let (mut wishes, mut shown) = (Vec::new(), String::new());
    for key in keys {
        let now = session.now().s();
        wait(session, now + 1.0);
        wishes = press(panel, session, *key);
        shown = text(&drawn(panel, session, &desk(), (100, 40)));
    }
    (wishes, shown)
}

fn search(typed: &str) -> Vec<KeyCode> {
    std::iter::once(Char('/'))
        .chain(typed.chars().map(Char))
        .collect()
}

#[test]
fn words_are_found_by_typing_and_looked_at() {
    let mut session = opening();
    let mut panel = panel(&session, Theme::Dark);
    let (_, all) = pressed(&mut panel, &mut session, &search(""));
    for id in [
        "welcome",
        "slow-words",
        "memorial-words",
        "goodbye",
        "lake-facts",
    ] {
        assert!(all.contains(&format!("{id}, ○ ahead:")), "{id}: {all}");
    }
    let (wishes, found) = pressed(
        &mut panel,
        &mut session,
        &"HERON".chars().map(Char).collect::<Vec<_>>(),
    );
    assert_eq!(wishes, []);
    let lines = found.lines().filter(|line| line.contains(", ○ ahead: "));
    assert_eq!(lines.count(), 4, "as many phrases have it: {found}");
    let (_, shown) = pressed(&mut panel, &mut session, &[Down, Enter]);
    assert!(
        shown.contains("slow-words, ○ ahead") && shown.contains("watch the wheels"),
        "{shown}"
    );
    let (_, asked) = pressed(&mut panel, &mut session, &[PageDown]);
    assert!(asked.contains("begin slow-words now?"), "{asked}");
    let (wishes, _) = pressed(&mut panel, &mut session, &[Enter]);
    let block = "slow-words".into();
    assert_eq!(wishes, [Wish::Happen(What::BeginBlock { block })]);
}

#[test]
fn letters_are_text_while_searching() {
    let mut session = opening();
    let mut panel = panel(&session, Theme::Dark);
    let (wishes, shown) = pressed(&mut panel, &mut session, &search("kkwaq!"));
    assert_eq!(wishes, []);
    assert!(shown.contains("No phrase has these letters"), "{shown}");
    let (wishes, _) = pressed(&mut panel, &mut session, &[Esc, Char('w')]);
    assert_eq!(wishes, [Wish::Happen(What::Delay)]);
}

#[test]
fn words_are_read_through_before_show_zero_and_nothing_happens_by_it() {
    let mut session = opening();
    let mut panel = panel(&session, Theme::Dark);
    let mut keys = search("ascertain");
    keys.truncate(1);
    keys.extend([Enter, Char(' ')]);
    let (wishes, shown) = pressed(&mut panel, &mut session, &keys);
    assert_eq!(wishes, []);
    assert!(shown.contains("reading through, 0:00"), "{shown}");
    let at = session.now().s();
    wait(&mut session, at + 3.0);
    let shown = text(&drawn(&mut panel, &session, &desk(), (100, 40)));
    assert!(shown.contains("▸ "), "the phrase moves: {shown}");
    let (_, shown) = pressed(&mut panel, &mut session, &[Char(' ')]);
    assert!(shown.contains("took 4.0 s; "), "{shown}");
    assert!(session.blocks().iter().all(|cue| cue.since.is_none()));

    // Not while somebody flies.
    let mut session = run_in();
    let now = session.now().s();
    happen(&mut session, now, What::EndBlock);
    let (_, shown) = pressed(&mut panel, &mut session, &keys);
    assert!(
        shown.contains("only before show zero or held up"),
        "{shown}"
    );
}

#[test]
fn the_clock_row_has_the_time_to_the_next_figure() {
    let session = opening();
    let next = session.next_figure().expect("a figure");
    assert!(next > session.now());
    let mut panel = panel(&session, Theme::Dark);
    let shown = text(&drawn(&mut panel, &session, &desk(), (80, 24)));
    let first = shown.lines().next().expect("a row");
    for words in ["figure in ", "show -1:00", "clock 19:39:00"] {
        assert!(first.contains(words), "{words}: {first}");
    }
}
