//! The narrator's words: where the reader is, what the two keys of a remote do, how hard names are shown.

mod hack;
mod late;
mod script;

use abeam::live::session::StopFor;
use abeam::live::{CueState, Session, What};
use abeam::screens::{Panel, Theme, Wish};
use abeam::units::Span;
use ratatui::crossterm::event::KeyCode;
use ratatui::style::Modifier;

use crate::stage::*;

/// A show whose first words are these, begun at -50 s.
fn saying(text: &str) -> Session {
    let mut document = include_str!("../stage/show.toml").replace(
        "Good evening, and welcome to Lantern Lake. From your right, at nearly four hundred miles an hour, the Heron.",
        text,
    );
    document = document.replace("arrival.abeam - 6 s", "show - 40 s");
    document = document.replace("[words]", "[words]\nsay = { \"Ysolde\" = \"ee-ZOLD\" }");
    let mut session = of_text(&document);
    let block = "welcome".into();
    happen(&mut session, -50.0, What::BeginBlock { block });
    session
}

fn place(session: &Session) -> usize {
    session.place().expect("somebody reads").phrase
}

/// Presses a key and lets happen what it wishes for.
fn pressed(session: &mut Session, key: KeyCode) -> Vec<Wish> {
    let wishes = press(&mut panel(session, Theme::Dark), session, key);
    for wish in &wishes {
        if let Wish::Happen(what) = wish {
            let now = session.now().s();
            happen(session, now, what.clone());
        }
    }
    wishes
}

/// A phrase is out when the time of its words, and of the rests before it, has gone: by `speaking_time`, which
/// is checked elsewhere.
#[test]
fn the_words_go_on_at_the_set_rate() {
    let mut session = saying("One two three four. Five six, seven eight. Nine ten.");
    let narrator = session.show().narrator.clone();
    let outs: Vec<f64> = [
        "One two three four.",
        "One two three four. Five six,",
        "One two three four. Five six, seven eight.",
    ]
    .map(|text| -50.0 + abeam::script::speaking_time(text, &narrator).s())
    .into();
    for (i, out) in outs.iter().enumerate() {
        wait(&mut session, out - 0.02);
        assert_eq!(place(&session), i);
        wait(&mut session, out + 0.02);
        assert_eq!(place(&session), i + 1);
    }
    let ends = session
        .place()
        .and_then(|place| place.ends)
        .expect("an end");
    // Whole texts are laid in tenths of a second.
    let laid = session.layout().blocks[0].ends.expect("an end");
    assert!((ends - laid).abs() <= Span::from_ms(50), "{ends}: {laid}");
    wait(&mut session, -20.0);
    assert_eq!(place(&session), 3, "the last phrase stays");
}

#[test]
fn a_key_takes_the_reader_on_or_back_and_the_rate_goes_on_from_there() {
    let mut session = saying("One two three four. Five six, seven eight. Nine ten. Eleven.");
    wait(&mut session, -47.95);
    let on = pressed(&mut session, KeyCode::PageDown);
    assert_eq!(on, [Wish::Happen(What::Read { phrase: 1 })]);
    let ends = session
        .place()
        .and_then(|place| place.ends)
        .expect("an end");
    let laid = session.layout().blocks[0].ends.expect("an end");
    assert!(ends != laid, "the reader is not where the rate had him");
    let back = pressed(&mut session, KeyCode::PageUp);
    assert_eq!(back, [Wish::Happen(What::Read { phrase: 0 })]);
    let narrator = session.show().narrator.clone();
    let first = abeam::script::speaking_time("One two three four.", &narrator).s();
    wait(&mut session, -47.95 + first - 0.02);
    assert_eq!(place(&session), 0);
    wait(&mut session, -47.95 + first + 0.02);
    assert_eq!(place(&session), 1);
    // The screen has just moved by itself: the key is for that move, and takes nobody past it.
    let same = pressed(&mut session, KeyCode::PageDown);
    assert_eq!(same, [Wish::Happen(What::Read { phrase: 1 })]);
    assert_eq!(
        pressed(&mut session, KeyCode::PageDown),
        [Wish::Happen(What::Read { phrase: 2 })]
    );
}

#[test]
fn the_last_phrase_ends_by_the_key_that_goes_on() {
    let mut session = saying("Eleven hundred and twelve seventeens. Five six. Seven.");
    wait(&mut session, -47.5);
    for wanted in [
        What::Read { phrase: 1 },
        What::Read { phrase: 2 },
        What::EndBlock,
    ] {
        assert_eq!(
            pressed(&mut session, KeyCode::PageDown),
            [Wish::Happen(wanted)]
        );
    }
    assert_eq!(session.blocks()[0].state, CueState::Done);
    assert_eq!(pressed(&mut session, KeyCode::PageUp), [], "nobody reads");
}

#[test]
fn one_key_ends_words_wherever_the_reader_is() {
    let mut session = saying("Eleven hundred and twelve seventeens. Five six. Seven.");
    wait(&mut session, -47.5);
    let end = pressed(&mut session, KeyCode::Char('e'));
    assert_eq!(end, [Wish::Happen(What::EndBlock)]);
    assert_eq!(pressed(&mut session, KeyCode::Char('e')), []);
}

#[test]
fn who_must_stop_ends_his_words_with_one_key() {
    let mut session = saying("One two three four. Five six. Seven eight nine ten eleven twelve.");
    let by = -40.0;
    wait(&mut session, by - 3.0);
    happen(&mut session, by - 3.0, What::Read { phrase: 0 });
    let stop = session.stop().expect("a stop");
    assert_eq!((stop.0.s(), stop.1), (by, StopFor::EndsBy));
    wait(&mut session, by + 0.1);
    assert_eq!(
        pressed(&mut session, KeyCode::PageDown),
        [Wish::Happen(What::EndBlock)]
    );
}

#[test]
fn words_that_wait_stand_at_what_comes_after_the_wait() {
    let mut session = saying("One two three. [wait show - 41 s] Four five. Six.");
    wait(&mut session, -45.0);
    let waiting = session.place().expect("somebody reads");
    assert_eq!((waiting.phrase, waiting.share), (1, None));
    let goes_on = -41.0;
    wait(&mut session, goes_on - 0.1);
    assert_eq!(place(&session), 1);
    wait(&mut session, goes_on + 5.0);
    assert_eq!(place(&session), 2);
}

/// What is underlined, and the row that tells how the words go.
fn shown_of(panel: &mut Panel, session: &Session) -> (String, String) {
    let buffer = drawn(panel, session, &desk(), (80, 24));
    let underlined = buffer.content().iter();
    let underlined = underlined.filter(|cell| cell.modifier.contains(Modifier::UNDERLINED));
    let underlined = underlined.map(|cell| cell.symbol()).collect();
    let shown = text(&buffer);
    let mut rows = shown.lines();
    let told = rows.find(|row| row.contains("PAGE DOWN TWICE") || row.contains("PAUSE 0:"));
    (underlined, told.unwrap_or_default().trim().to_owned())
}

/// The key of a presenter's remote goes on before a wait is over only where it is meant: where it comes twice.
#[test]
fn the_reader_is_held_until_what_is_waited_for_comes() {
    let mut session = saying("One two three. [wait show - 41 s] Four five. Six.");
    wait(&mut session, -45.0);
    let mut panel = panel(&session, Theme::Dark);
    let (underlined, told) = shown_of(&mut panel, &session);
    assert_eq!(underlined, "[wait for show zero − 41 s]");
    assert_eq!(
        told,
        "WAIT 0:04 for show zero − 41 s; PAGE DOWN TWICE goes on at once"
    );
    assert_eq!(press(&mut panel, &session, KeyCode::PageDown), []);
    wait(&mut session, -44.7);
    assert_eq!(
        press(&mut panel, &session, KeyCode::PageDown),
        [],
        "a key that bounces"
    );
    wait(&mut session, -43.5);
    let begins = [Wish::Happen(What::Read { phrase: 1 })];
    assert_eq!(press(&mut panel, &session, KeyCode::PageDown), begins);
    happen(&mut session, -43.5, What::Read { phrase: 1 });
    assert_eq!(shown_of(&mut panel, &session).0, "Four five.");
    wait(&mut session, -42.0);
    assert_eq!(place(&session), 2);
}

/// Nor does the key that ends the phrase before take the reader past a wait.
#[test]
fn the_key_before_a_wait_takes_the_reader_to_it() {
    let mut session =
        saying("One two three four five six seven. [wait show - 41 s] Four five. Six.");
    wait(&mut session, -47.5);
    let next = What::Read { phrase: 1 };
    assert_eq!(
        pressed(&mut session, KeyCode::PageDown),
        [Wish::Happen(next)]
    );
    let held = session.place().expect("somebody reads");
    assert_eq!((held.phrase, held.share), (1, None));
    wait(&mut session, -40.9);
    let goes_on = session.place().expect("somebody reads");
    assert!(goes_on.phrase == 1 && goes_on.share.is_some());
}

#[test]
fn words_that_begin_with_a_wait_wait_before_their_first() {
    let mut session = saying("[wait show - 41 s] One two three. Four five.");
    wait(&mut session, -45.0);
    let mut panel = panel(&session, Theme::Dark);
    let (underlined, told) = shown_of(&mut panel, &session);
    assert_eq!(underlined, "[wait for show zero − 41 s]");
    assert!(told.starts_with("WAIT 0:04"), "{told}");
    wait(&mut session, -40.9);
    assert_eq!(shown_of(&mut panel, &session).0, "One two three.");
}

#[test]
fn a_pause_is_counted_down_and_given_up_by_one_key() {
    let mut session = saying("One two three. [pause 6 s] Four five. Six.");
    wait(&mut session, -47.0);
    let mut panel = panel(&session, Theme::Dark);
    let (underlined, told) = shown_of(&mut panel, &session);
    assert_eq!(underlined, "[pause 6 s]");
    assert!(told.contains("PAUSE 0:0"), "{told}");
    let begins = [Wish::Happen(What::Read { phrase: 1 })];
    assert_eq!(press(&mut panel, &session, KeyCode::PageDown), begins);
}

#[test]
fn the_same_events_put_the_reader_at_the_same_place() {
    let mut session = saying("One two three four. Five six, seven eight. Nine ten. Eleven.");
    let mut again = session.clone();
    happen(&mut session, -46.0, What::Read { phrase: 2 });
    happen(&mut again, -46.0, What::Read { phrase: 2 });
    for at in [-45.5, -45.0, -44.1] {
        wait(&mut session, at);
    }
    wait(&mut again, -44.1);
    assert_eq!(session.place(), again.place());
    happen(&mut again, -44.0, What::Read { phrase: 99 });
    wait(&mut session, -44.0);
    assert_eq!(session.place(), again.place(), "there is no such phrase");
}

#[test]
fn a_hard_name_is_told_where_it_occurs() {
    let mut session = saying("Here is Ysolde's boat, for Ysolde.");
    wait(&mut session, -49.0);
    for size in [(80, 24), (120, 24)] {
        let mut panel = panel(&session, Theme::Dark);
        let buffer = drawn(&mut panel, &session, &desk(), size);
        let shown = text(&buffer);
        assert!(
            shown.contains("Here is Ysolde's /ee-ZOLD's/ boat, for Ysolde /ee-ZOLD/."),
            "{shown}"
        );
        let slanted: String = buffer
            .content()
            .iter()
            .filter(|cell| cell.modifier.contains(Modifier::ITALIC))
            .map(|cell| cell.symbol())
            .collect();
        assert_eq!(slanted, "/ee-ZOLD's//ee-ZOLD/");
    }
}

/// Large letters are four cells wide and four high; the rule below the phrase is as long as the phrase.
#[test]
fn words_are_large_where_there_is_room_and_the_phrase_has_a_rule_below_it() {
    let mut session = saying("One two three four. Five six, seven eight. Nine ten.");
    for size in [(120, 40), (200, 60)] {
        let mut panel = panel(&session, Theme::Plain);
        let shown = text(&drawn(&mut panel, &session, &desk(), size));
        assert!(!shown.contains("Five six"), "{shown}");
        let rule = "━".repeat(4 * "One two three four.".len());
        assert!(
            shown.lines().any(|line| line == format!("  {rule}")),
            "{shown}"
        );
    }
    // Letters there are no large ones of are shown as they are.
    session = saying("Willkommen, добрый вечер. Five six.");
    let mut panel = panel(&session, Theme::Plain);
    let shown = text(&drawn(&mut panel, &session, &desk(), (120, 40)));
    assert!(
        shown.contains("Willkommen, добрый вечер. Five six."),
        "{shown}"
    );
}

#[test]
fn the_first_words_of_the_next_block_are_always_in_view() {
    let mut session = opening();
    fly_until(&mut session, ("memorial", "inbound"));
    let from = session.now().s();
    for step in 0..60 {
        wait(&mut session, from - 0.1 + f64::from(step));
        if step == 5 {
            let block = "memorial-words".into();
            happen(&mut session, from + 4.9, What::BeginBlock { block });
        }
        for size in [(80, 24), (120, 40), (200, 60)] {
            let mut panel = panel(&session, Theme::Dark);
            let shown = text(&drawn(&mut panel, &session, &desk(), size));
            let next = if session.speaking().is_some() {
                "The Heron, for the last time this"
            } else {
                "Ladies and gentlemen, in a moment the"
            };
            let due = session.blocks()[2].state == CueState::Due;
            assert!(shown.contains(next) || due, "{size:?} {shown}");
        }
    }
}
