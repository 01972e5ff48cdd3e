//! Words for a gap nobody planned, and words changed while the show runs.

use std::sync::Arc;

use abeam::live::{CueState, Event, Session, What};
use abeam::screens::{Theme, Wish};
use abeam::script::readings;
use abeam::timeline::Version;
use abeam::units::Instant;
use ratatui::crossterm::event::KeyCode::{self, Char, Enter, Esc};

use crate::stage::*;

/// Presses keys a second apart on one interface; what the last wishes for happens.
fn pressed(session: &mut Session, keys: &[KeyCode]) -> (String, Vec<Wish>) {
    let mut panel = panel(session, Theme::Dark);
    let mut wishes = Vec::new();
    for key in keys {
        let now = session.now().s();
        wait(session, now + 1.0);
        wishes = press(&mut panel, session, *key);
        for wish in &wishes {
            if let Wish::Happen(what) = wish {
                let at = session.now();
                let what = what.clone();
                session.apply(&Event { at, what });
            }
        }
    }
    let shown = text(&drawn(&mut panel, session, &desk(), (120, 40)));
    (shown, wishes)
}

/// Lets something happen so many seconds from now.
fn later(session: &mut Session, s: f64, what: What) {
    let now = session.now().s();
    happen(session, now + s, what);
}

fn typed(text: &str) -> impl Iterator<Item = KeyCode> {
    text.chars().map(Char)
}

/// A show with three fillers: of 4 s or so, of half a minute, and one with a short text.
fn with_fillers() -> Session {
    let long = "one two three four five six seven eight nine ten ".repeat(6);
    let document = include_str!("../stage/show.toml").to_owned()
        + &format!("[[block]]\nid = \"long\"\ntext = \"{long}\"\n")
        + &format!("[[block]]\nid = \"both\"\ntext = \"{long}\"\nshort = \"Both of them.\"\n");
    of_text(&document)
}

#[test]
fn the_pool_offers_what_fits_the_gap() {
    let mut session = with_fillers();
    fly_until(&mut session, ("slow-pass", "abeam"));
    let gap = session.gap().expect("words follow").s();
    let next = session.layout().blocks[1]
        .starts
        .instant()
        .expect("a start");
    assert!(
        gap <= (next - session.now()).s() + 1e-6,
        "slow-words begin then, if no hush comes before"
    );
    // With a moment left only what takes no longer is offered, the longest first; then the short text.
    wait(&mut session, next.s() - 5.0);
    let offered: Vec<_> = session
        .fillers()
        .into_iter()
        .map(|filler| {
            (
                session.show().blocks[filler.block].id.to_string(),
                filler.version,
                filler.fits,
            )
        })
        .collect();
    let row = |id: &str, version, fits| (id.to_owned(), version, fits);
    assert_eq!(
        offered,
        [
            row("lake-facts", Version::Full, true),
            row("both", Version::Short, true),
            row("long", Version::Full, false)
        ]
    );
    let (shown, wishes) = pressed(&mut session, &[Char('o')]);
    assert_eq!(wishes, []);
    for words in [
        "fillers: 0:0",
        "1  lake-facts",
        "2  both, 0:0",
        ", short",
        "-  long",
        "TOO LONG",
    ] {
        assert!(shown.contains(words), "{words}: {shown}");
    }
    let (_, none) = pressed(&mut session, &[Char('o'), Char('3')]);
    assert_eq!(none, [], "what does not fit is not begun");
}

#[test]
fn what_is_picked_is_being_said_and_is_marked_as_said_afterwards() {
    let mut session = with_fillers();
    wait(&mut session, 5.0);
    fly_until(&mut session, ("memorial", "inbound"));
    later(
        &mut session,
        0.5,
        What::SkipBlock {
            block: "memorial-words".into(),
        },
    );
    let first = session.fillers()[0];
    let block = session.show().blocks[first.block].id.clone();
    let (_, wishes) = pressed(&mut session, &[Char('o'), Char('1')]);
    assert_eq!(
        wishes,
        [Wish::Happen(What::BeginBlock {
            block: block.clone()
        })]
    );
    assert_eq!(session.speaking(), Some(first.block));
    let (_, none) = pressed(&mut session, &[Char('o'), Char('1')]);
    assert_eq!(none, [], "one is being said");
    later(&mut session, 1.0, What::EndBlock);
    let (shown, _) = pressed(&mut session, &[Char('o')]);
    assert!(shown.contains(", SAID 19:"), "{shown}");
    assert!(
        session.fillers()[0].said.is_none(),
        "what has not been said comes first"
    );
    // Said once more, it runs like the first time.
    later(&mut session, 1.0, What::BeginBlock { block });
    assert_eq!(session.blocks()[first.block].state, CueState::Running);
    assert!(session.place().is_some());
}

#[test]
fn a_name_is_changed_by_typing_and_the_fit_with_it() {
    let mut session = opening();
    let before = session.layout().blocks[3].slack;
    // The list begins with the words that come next: welcome, slow-words, memorial-words and its short text.
    let down = std::iter::repeat_n(KeyCode::Down, 4);
    let mut keys = vec![Char('m')];
    keys.extend(down);
    keys.push(Enter);
    keys.extend(typed(" And thanks to the Reed Street bakery, of Oakville."));
    let (shown, _) = pressed(&mut session, &keys);
    assert!(
        shown.contains("other words for goodbye") && shown.contains("Ctrl+K"),
        "{shown}"
    );
    keys.push(Enter);
    let (shown, wishes) = pressed(&mut session, &keys);
    let text = "The Heron, for the last time this evening. Good night, and drive home safely. And thanks to the Reed Street bakery, of Oakville.";
    let what = What::Reword {
        block: "goodbye".into(),
        short: false,
        text: text.into(),
    };
    assert_eq!(wishes, [Wish::Happen(what)]);
    assert_eq!(session.show().blocks[3].text.text, text);
    assert!(shown.contains("\"goodbye\" has new words: "), "{shown}");
    assert!(shown.contains(" s longer"), "{shown}");
    let read = readings(session.show())[3].0.lasts();
    let laid = &session.layout().blocks[3];
    assert_eq!(laid.ends, laid.starts.instant().map(|start| start + read));
    assert_ne!(laid.slack.or(Some(read)), before);
}

#[test]
fn words_being_said_and_brackets_stay() {
    let mut session = opening();
    let block = || "welcome".into();
    let reword = |text: &str| What::Reword {
        block: block(),
        short: false,
        text: text.into(),
    };
    happen(&mut session, -58.0, reword("Welcome. [wait show]"));
    happen(&mut session, -57.5, reword("  "));
    happen(&mut session, -57.0, reword("From your {left}."));
    assert!(
        session.show().blocks[0]
            .text
            .text
            .starts_with("Good evening")
    );
    happen(
        &mut session,
        -56.0,
        reword("Good evening from your {side}."),
    );
    assert_eq!(
        session.show().blocks[0].text.text,
        "Good evening from your {side}."
    );
    happen(&mut session, -55.0, What::BeginBlock { block: block() });
    happen(&mut session, -54.0, reword("Good night."));
    happen(&mut session, -50.0, What::EndBlock);
    happen(&mut session, -49.0, reword("Good night."));
    assert_eq!(
        session.show().blocks[0].text.text,
        "Good evening from your {side}."
    );
    let (_, said) = session.notices().last().expect("a word about it");
    assert!(said.contains("stay as they are: they are over"), "{said}");
}

#[test]
fn the_same_events_give_the_same_words() {
    let events = [
        What::Reword {
            block: "memorial-words".into(),
            short: true,
            text: "For Ysolde. Please keep silence with us as she passes.".into(),
        },
        What::Tick,
    ];
    let fold = || {
        let mut session = opening();
        for (i, what) in events.iter().enumerate() {
            let line = serde_json::to_string(what).expect("a line");
            let what: What = serde_json::from_str(&line).expect("an event");
            session.apply(&Event {
                at: Instant::from_s(i as f64 * 100.0 - 50.0),
                what,
            });
        }
        session
    };
    let (one, other) = (fold(), fold());
    assert_eq!(one.layout().blocks, other.layout().blocks);
    let words = Arc::new(one.block_words(2, Version::Short).text.clone());
    assert_eq!(*words, other.block_words(2, Version::Short).text);
    assert!(words.starts_with("For Ysolde."));
    // The document the show was planned from stays as it was.
    assert_ne!(one.layout().blocks[2], one.plan().layout.blocks[2]);
}

#[test]
fn letters_are_text_while_words_are_typed_and_one_chord_still_knocks_off() {
    let mut session = opening();
    let (_, wishes) = pressed(
        &mut session,
        &[Char('m'), Enter, Char('k'), Char('k'), Char('!')],
    );
    assert_eq!(wishes, []);
    assert_eq!(session.mode(), abeam::live::Mode::Running);
    let (_, wishes) = pressed(&mut session, &[Char('m'), Enter, Char('z'), Esc, Char('a')]);
    assert!(
        matches!(wishes[..], [Wish::Happen(What::Mark(_))]),
        "{wishes:?}"
    );
    assert!(!session.show().blocks[0].text.text.contains('z'));
    let mut panel = panel(&session, Theme::Dark);
    press(&mut panel, &session, Char('m'));
    press(&mut panel, &session, Enter);
    let chord = ratatui::crossterm::event::KeyEvent::new(
        Char('k'),
        ratatui::crossterm::event::KeyModifiers::CONTROL,
    );
    assert_eq!(panel.key(chord, &session), [Wish::Happen(What::KnockItOff)]);
}
