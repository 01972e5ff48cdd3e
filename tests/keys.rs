//! What keys do, and that a key held down or pressed twice does nothing harmful.

mod stage;

use abeam::live::{Event, Halt, Mark, MarkKind, Mode, Session, What};
use abeam::screens::{Page, Panel, PracticeWish, Theme, Wish};
use abeam::show::Name;
use abeam::units::{Instant, Span};
use proptest::prelude::*;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use stage::*;

use KeyCode::Char;

fn name(text: &str) -> Name {
    text.into()
}

/// What one key wishes for, from an interface past its cautions.
fn wish(session: &Session, key: KeyCode) -> Vec<Wish> {
    press(&mut panel(session, Theme::Dark), session, key)
}

/// What the last of some keys wishes for, a second between them; none before it wishes for anything.
fn wish_after(session: &mut Session, keys: &[KeyCode]) -> Vec<Wish> {
    let mut panel = panel(session, Theme::Dark);
    let (last, before) = keys.split_last().expect("a key");
    for key in before {
        let now = session.now().s();
        wait(session, now + 1.0);
        assert_eq!(press(&mut panel, session, *key), [], "{key:?}");
    }
    let now = session.now().s();
    wait(session, now + 1.0);
    press(&mut panel, session, *last)
}

fn happen_all(session: &mut Session, wishes: &[Wish]) {
    for wish in wishes {
        if let Wish::Happen(what) = wish {
            let at = session.now();
            session.apply(&Event {
                at,
                what: what.clone(),
            });
        }
    }
}

/// Holds a key down for two seconds as a terminal tells it, everything it wishes for happening.
fn hold(panel: &mut Panel, session: &mut Session, key: KeyCode) -> Vec<Wish> {
    let mut all = Vec::new();
    for repeat in 0..50 {
        let wishes = press(panel, session, key);
        happen_all(session, &wishes);
        all.extend(wishes);
        let pause = if repeat == 0 { 0.5 } else { 0.033 };
        let now = session.now().s();
        wait(session, now + pause);
    }
    all
}

fn mark_of(kind: MarkKind, observed: Instant) -> What {
    What::Mark(Mark {
        kind,
        observed,
        point: None,
    })
}

#[test]
fn each_key_wishes_for_what_the_help_says() {
    let session = run_in();
    let now = session.now();
    let half = Span::from_ms(500);
    for (key, what) in [
        (Char('a'), mark_of(MarkKind::Abeam, now)),
        (Char('g'), mark_of(MarkKind::Gate, now)),
        (Char('n'), mark_of(MarkKind::Inbound, now)),
        (Char('u'), What::UndoMark),
        (KeyCode::Left, What::ShiftMark { by: -half }),
        (KeyCode::Right, What::ShiftMark { by: half }),
        (Char('t'), What::Audible),
        (Char('w'), What::Delay),
        (Char('c'), What::Resume),
        (Char('k'), What::KnockItOff),
        (Char('x'), What::Arm { armed: false }),
        (Char('r'), What::Arm { armed: true }),
        (Char('d'), What::Duck { latched: true }),
        (KeyCode::PageDown, What::Read { phrase: 6 }),
        (KeyCode::PageUp, What::Read { phrase: 4 }),
        (Char('e'), What::EndBlock),
    ] {
        assert_eq!(wish(&session, key), [Wish::Happen(what)], "{key:?}");
    }
}

#[test]
fn keys_of_practice_are_there_while_practising_whatever_the_show_clock_does() {
    let session = run_in();
    let mut practising = Panel::practising(Theme::Dark);
    let mut pressed = 0.0;
    let mut press_after = |s: f64, key: KeyCode| {
        pressed += s;
        let key = KeyEvent::new(key, KeyModifiers::NONE);
        practising.key_at(key, Span::from_s(pressed), &session)
    };
    assert_eq!(press_after(1.0, KeyCode::Enter), []);
    for (key, wish) in [
        (Char(' '), PracticeWish::Pause),
        (Char('.'), PracticeWish::Faster),
        (Char(','), PracticeWish::Slower),
        (Char('l'), PracticeWish::OnceMore),
        (Char('i'), PracticeWish::Narrator),
    ] {
        let wish = [Wish::Practise(wish)];
        assert_eq!(press_after(1.0, key), wish, "{key:?}");
        // The show clock stands still, and the key is not held for that; sooner it is.
        assert_eq!(press_after(1.0, key), wish, "{key:?}");
        assert_eq!(press_after(0.3, key), [], "{key:?}");
    }
    assert_eq!(press_after(1.0, Char('j')), []);
    assert_eq!(press_after(1.0, KeyCode::Up), []);
    let before = session.programme().iter().rev();
    let running = before
        .skip_while(|flying| flying.entry.key != "memorial")
        .nth(1);
    let key = running.expect("a figure before").entry.key.clone();
    let chosen = [Wish::Practise(PracticeWish::Figure(key))];
    assert_eq!(press_after(1.0, KeyCode::Enter), chosen);
}

#[test]
fn caps_lock_loses_no_mark() {
    let session = run_in();
    let what = mark_of(MarkKind::Abeam, session.now());
    assert_eq!(wish(&session, Char('A')), [Wish::Happen(what)]);
}

#[test]
fn keys_that_mean_nothing_do_nothing() {
    let session = run_in();
    for key in [Char('i'), Char('j'), Char('l'), Char(' '), Char('7')] {
        assert_eq!(wish(&session, key), [], "{key:?}");
    }
    for key in [KeyCode::Enter, KeyCode::Esc, KeyCode::F(5), KeyCode::Up] {
        assert_eq!(wish(&session, key), [], "{key:?}");
    }
}

#[test]
fn desk_keys_act_on_the_chosen_track() {
    let mut session = run_in();
    let tab = KeyCode::Tab;
    let track = || name("hymn");
    let keys = |last| [tab, KeyCode::Down, last];
    for (key, what) in [
        (KeyCode::Enter, What::StartTrack { track: track() }),
        (Char('f'), What::FadeTrack { track: track() }),
        (
            Char('+'),
            What::Level {
                track: track(),
                gain_db: 1.0,
            },
        ),
        (
            Char('='),
            What::Level {
                track: track(),
                gain_db: 1.0,
            },
        ),
        (
            Char('-'),
            What::Level {
                track: track(),
                gain_db: -1.0,
            },
        ),
    ] {
        let wishes = wish_after(&mut session, &keys(key));
        assert_eq!(wishes, [Wish::Happen(what)], "{key:?}");
    }
    let last = [
        tab,
        KeyCode::Down,
        KeyCode::Down,
        KeyCode::Down,
        KeyCode::Down,
        Char('f'),
    ];
    let what = What::FadeTrack {
        track: name("evening"),
    };
    assert_eq!(wish_after(&mut session, &last), [Wish::Happen(what)]);
    assert_eq!(wish(&session, Char('f')), [], "the Stand fades no track");
}

#[test]
fn a_key_held_down_happens_once() {
    for key in "agnutwckxrds!pqb?ehomz/".chars().map(Char) {
        let mut session = run_in();
        let mut panel = panel(&session, Theme::Dark);
        let wishes = hold(&mut panel, &mut session, key);
        assert!(wishes.len() <= 1, "{key:?} {wishes:?}");
        assert!(!wishes.contains(&Wish::Quit) && !wishes.contains(&Wish::Happen(What::Accident)));
    }
    for key in [
        KeyCode::PageDown,
        KeyCode::PageUp,
        KeyCode::Enter,
        KeyCode::Tab,
    ] {
        let mut session = run_in();
        let mut panel = panel(&session, Theme::Dark);
        assert!(hold(&mut panel, &mut session, key).len() <= 1, "{key:?}");
    }
}

#[test]
fn a_fader_follows_its_key_as_long_as_it_is_held() {
    let mut session = run_in();
    let mut panel = panel(&session, Theme::Dark);
    press(&mut panel, &session, KeyCode::Tab);
    hold(&mut panel, &mut session, Char('-'));
    assert_eq!(session.tracks()[0].gain.db(), -50.0);
}

#[test]
fn told_repeats_and_releases_do_nothing() {
    let session = run_in();
    let mut panel = panel(&session, Theme::Dark);
    for kind in [KeyEventKind::Repeat, KeyEventKind::Release] {
        let key = KeyEvent::new_with_kind(Char('k'), KeyModifiers::NONE, kind);
        assert_eq!(panel.key(key, &session), []);
    }
}

#[test]
fn a_remote_that_bounces_ends_no_words() {
    let mut session = opening();
    let mut panel = panel(&session, Theme::Dark);
    wait(&mut session, -50.0);
    let begin = press(&mut panel, &session, KeyCode::PageDown);
    let block = name("welcome");
    assert_eq!(begin, [Wish::Happen(What::BeginBlock { block })]);
    happen_all(&mut session, &begin);
    wait(&mut session, -49.0);
    assert_eq!(press(&mut panel, &session, KeyCode::PageDown), []);
    wait(&mut session, -47.0);
    let on = press(&mut panel, &session, KeyCode::PageDown);
    assert_eq!(on, [Wish::Happen(What::Read { phrase: 2 })]);
}

#[test]
fn knock_it_off_is_at_once_even_on_the_first_screen() {
    let session = run_in();
    let mut panel = Panel::new(Theme::Dark);
    let wishes = press(&mut panel, &session, Char('k'));
    assert_eq!(wishes, [Wish::Happen(What::KnockItOff)]);
    let mut panel = Panel::new(Theme::Dark);
    assert_eq!(
        press(&mut panel, &session, Char('w')),
        [],
        "any other key only goes on"
    );
}

#[test]
fn knocked_off_only_marks_and_ways_out_work() {
    let mut session = run_in();
    let now = session.now().s();
    happen(&mut session, now + 1.0, What::KnockItOff);
    wait(&mut session, now + 3.0);
    assert_eq!(wish(&session, Char('c')), [Wish::Happen(What::Release)]);
    let mark = mark_of(MarkKind::Abeam, session.now());
    assert_eq!(wish(&session, Char('a')), [Wish::Happen(mark)]);
    for key in [
        Char('k'),
        Char('r'),
        Char('w'),
        Char('d'),
        KeyCode::PageDown,
        KeyCode::Enter,
    ] {
        assert_eq!(wish(&session, key), [], "{key:?}");
    }
}

#[test]
fn an_accident_takes_two_keys_to_enter_and_two_to_leave() {
    let mut session = run_in();
    assert_eq!(
        wish_after(&mut session, &[Char('!'), Char('!'), Char('!')]),
        []
    );
    assert_eq!(
        wish_after(&mut session, &[Char('!'), KeyCode::Esc, KeyCode::Enter]),
        []
    );
    let wishes = wish_after(&mut session, &[Char('!'), KeyCode::Enter]);
    assert_eq!(wishes, [Wish::Happen(What::Accident)]);
    happen_all(&mut session, &wishes);

    let mut panel = panel(&session, Theme::Dark);
    for key in "agnutwkxrds!pqb?".chars().map(Char) {
        assert_eq!(press(&mut panel, &session, key), [], "{key:?}");
    }
    assert_eq!(press(&mut panel, &session, KeyCode::Enter), []);
    let held = hold(&mut panel, &mut session, Char('c'));
    assert_eq!(held, [Wish::Happen(What::Release)]);
    assert!(matches!(
        session.mode(),
        Mode::Accident {
            release: Some(_),
            ..
        }
    ));
    let second = press(&mut panel, &session, KeyCode::Enter);
    assert_eq!(second, [Wish::Happen(What::Release)]);
    happen_all(&mut session, &second);
    assert!(
        matches!(session.mode(), Mode::Delayed(_)),
        "held up until somebody carries on"
    );
    assert!(!session.is_armed());
}

#[test]
fn the_second_key_out_of_an_accident_comes_within_ten_seconds() {
    let mut session = run_in();
    let now = session.now().s();
    happen(&mut session, now, What::Accident);
    happen(&mut session, now + 5.0, What::Release);
    wait(&mut session, now + 15.5);
    assert_eq!(wish(&session, KeyCode::Enter), []);
    assert_eq!(wish(&session, Char('c')), [Wish::Happen(What::Release)]);
}

#[test]
fn leaving_asks_while_the_show_runs() {
    let mut session = run_in();
    assert_eq!(wish_after(&mut session, &[Char('q'), Char('q')]), []);
    assert_eq!(
        wish_after(&mut session, &[Char('q'), KeyCode::Enter]),
        [Wish::Quit]
    );
    let mut panel = panel(&session, Theme::Dark);
    let interrupt = KeyEvent::new(Char('c'), KeyModifiers::CONTROL);
    assert_eq!(
        panel.key(interrupt, &session),
        [],
        "an interrupt asks as well"
    );
    assert_eq!(press(&mut panel, &session, KeyCode::Enter), [Wish::Quit]);

    let rest: Vec<Name> = session
        .programme()
        .iter()
        .map(|f| f.entry.key.clone())
        .collect();
    for key in rest {
        let at = session.now();
        session.apply(&Event {
            at,
            what: What::Drop { key },
        });
    }
    let now = session.now().s();
    wait(&mut session, now + 600.0);
    assert_eq!(
        wish(&session, Char('q')),
        [Wish::Quit],
        "nothing runs any more"
    );
}

#[test]
fn words_are_left_out_after_a_second_key() {
    let mut session = run_in();
    let block = name("goodbye");
    let wishes = wish_after(&mut session, &[Char('s'), KeyCode::Enter]);
    assert_eq!(wishes, [Wish::Happen(What::SkipBlock { block })]);
}

#[test]
fn another_key_takes_a_question_away_and_does_its_own_work() {
    let mut session = run_in();
    let wishes = wish_after(&mut session, &[Char('!'), Char('d')]);
    assert_eq!(wishes, [Wish::Happen(What::Duck { latched: true })]);
    assert_eq!(
        wish_after(&mut session, &[Char('!'), KeyCode::Tab, Char('b')]),
        []
    );
}

#[test]
fn a_mark_asked_about_is_answered_with_a_number_or_dismissed() {
    let mut session = run_in();
    let now = session.now();
    mark(&mut session, MarkKind::Abeam, now.s());
    let offered = session.ask().expect("a question").offered.clone();
    let mark = Mark {
        kind: MarkKind::Abeam,
        observed: now,
        point: offered.first().cloned(),
    };
    assert_eq!(wish(&session, Char('1')), [Wish::Happen(What::Mark(mark))]);
    assert_eq!(wish(&session, Char('9')), [], "nothing is offered there");
    assert_eq!(wish(&session, KeyCode::Esc), [Wish::Happen(What::Dismiss)]);
    let next = mark_of(MarkKind::Gate, session.now());
    assert_eq!(
        wish(&session, Char('g')),
        [Wish::Happen(next)],
        "marks go on"
    );
}

#[test]
fn the_programme_is_changed_after_a_second_key() {
    let mut session = opening();
    let list = Char('p');
    let (down, enter) = (KeyCode::Down, KeyCode::Enter);
    // The first figure still to be flown is chosen: the slow pass.
    for (keys, what) in [
        (
            vec![list, Char('d')],
            What::Drop {
                key: name("slow-pass"),
            },
        ),
        (
            vec![list, down, Char('d')],
            What::Drop {
                key: name("mirror"),
            },
        ),
        (
            vec![list, Char('e')],
            What::Repeat {
                figure: name("slow-pass"),
            },
        ),
        (
            vec![list, Char('m')],
            What::Mirror {
                key: name("slow-pass"),
            },
        ),
        (
            vec![list, Char('s')],
            What::Swap {
                first: name("slow-pass"),
                second: name("mirror"),
            },
        ),
        (
            vec![list, Char('i'), down, down, down, down, down, enter],
            What::Insert {
                figure: name("encore"),
                before: Some(name("slow-pass")),
            },
        ),
        (
            vec![list, Char('v'), down, enter],
            What::Profile { name: name("low") },
        ),
    ] {
        let mut all = keys.clone();
        all.push(enter);
        // The key before Enter may be Enter itself: it is let go in between.
        assert_eq!(
            wish_after(&mut session, &all),
            [Wish::Happen(what)],
            "{keys:?}"
        );
        let mut no = keys.clone();
        no.extend([KeyCode::Esc, enter]);
        assert_eq!(wish_after(&mut session, &no), [], "{keys:?} and then no");
    }
    let key = name("mirror");
    let now = session.now().s();
    happen(&mut session, now, What::Drop { key: key.clone() });
    let wishes = wish_after(&mut session, &[list, down, Char('d'), enter]);
    assert_eq!(wishes, [Wish::Happen(What::Reinstate { key })]);
}

#[test]
fn marks_and_emergencies_work_over_the_programme_and_the_help() {
    let mut session = run_in();
    for open in [Char('p'), Char('?')] {
        let wishes = wish_after(&mut session, &[open, Char('a')]);
        assert_eq!(
            wishes,
            [Wish::Happen(mark_of(MarkKind::Abeam, session.now()))]
        );
        let wishes = wish_after(&mut session, &[open, Char('k')]);
        assert_eq!(wishes, [Wish::Happen(What::KnockItOff)]);
        let wishes = wish_after(&mut session, &[open, KeyCode::PageDown]);
        assert!(matches!(
            wishes[..],
            [Wish::Happen(What::Read { .. } | What::EndBlock)]
        ));
    }
    let under = [KeyCode::Tab, Char('p'), KeyCode::Enter];
    assert_eq!(
        wish_after(&mut session, &under),
        [],
        "no track starts from under the list"
    );
}

#[test]
fn tab_turns_to_the_desk_and_back() {
    let session = run_in();
    let mut panel = panel(&session, Theme::Dark);
    assert_eq!(panel.page(), Page::Stand);
    press(&mut panel, &session, KeyCode::Tab);
    assert_eq!(panel.page(), Page::Desk);
    press(&mut panel, &session, KeyCode::BackTab);
    assert_eq!(panel.page(), Page::Stand);
}

#[test]
fn the_prepared_words_are_one_key_and_a_digit_away() {
    let mut session = run_in();
    let halt = |why| What::Halt { why };
    for (digit, what) in [
        ('1', halt(Halt::WeatherHold)),
        ('2', halt(Halt::TechnicalDelay)),
        ('3', What::KnockItOff),
    ] {
        let wishes = wish_after(&mut session, &[Char('h'), Char(digit)]);
        assert_eq!(wishes, [Wish::Happen(what)]);
    }
    assert_eq!(wish_after(&mut session, &[Char('h'), Char('4')]), []);
    let ends = wish_after(&mut session, &[Char('h'), Char('4'), KeyCode::Enter]);
    assert_eq!(ends, [Wish::Happen(halt(Halt::EndedEarly))]);
    let no = [Char('h'), Char('4'), KeyCode::Esc, KeyCode::Enter];
    assert_eq!(wish_after(&mut session, &no), []);
    happen_all(&mut session, &ends);
    assert_eq!(wish(&session, Char('c')), [Wish::Happen(What::Release)]);
    assert_eq!(wish(&session, Char('k')), [Wish::Happen(What::KnockItOff)]);
    assert_eq!(wish(&session, KeyCode::PageDown), []);
}

/// What cannot be undone by another key.
fn is_final(wish: &Wish) -> bool {
    match wish {
        Wish::Quit => true,
        Wish::Practise(_) | Wish::Spot(_) | Wish::Hear(_) | Wish::HearNothing | Wish::Write => {
            false
        }
        Wish::Happen(what) => matches!(
            what,
            What::Accident
                | What::SkipBlock { .. }
                | What::Halt {
                    why: Halt::EndedEarly
                }
                | What::Drop { .. }
                | What::Insert { .. }
                | What::Repeat { .. }
                | What::Profile { .. }
        ),
    }
}

const MASHED: [KeyCode; 12] = [
    KeyCode::PageDown,
    KeyCode::PageUp,
    KeyCode::Up,
    KeyCode::Down,
    KeyCode::Left,
    KeyCode::Right,
    KeyCode::Tab,
    KeyCode::Esc,
    KeyCode::Backspace,
    KeyCode::Home,
    KeyCode::Delete,
    KeyCode::F(5),
];

fn any_key() -> impl Strategy<Value = KeyCode> {
    prop_oneof![
        3 => proptest::sample::select(("agnutwckxrds!pqb?ehomz/ f+-").chars().map(Char).collect::<Vec<_>>()),
        1 => proptest::sample::select(('0'..='9').map(Char).collect::<Vec<_>>()),
        2 => proptest::sample::select(MASHED.to_vec()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever keys an elbow finds, each of them held for a while: without Enter nothing final happens.
    #[test]
    fn mashed_keys_do_nothing_final(keys in prop::collection::vec((any_key(), 1u8..50, 0.03f64..2.0), 1..24)) {
        let mut session = run_in();
        let mut panel = panel(&session, Theme::Dark);
        for (key, times, pause) in keys {
            for _ in 0..times {
                let wishes = press(&mut panel, &session, key);
                prop_assert!(!wishes.iter().any(is_final), "{key:?} {wishes:?}");
                happen_all(&mut session, &wishes);
                let now = session.now().s();
                wait(&mut session, now + 0.03);
            }
            let now = session.now().s();
            wait(&mut session, now + pause);
        }
        let accident = matches!(session.mode(), Mode::Accident { .. });
        prop_assert!(!accident);
    }

    /// With Enter among them, what is final follows a question: the key before Enter, held or not, asked it.
    #[test]
    fn nothing_final_happens_unasked(keys in prop::collection::vec(prop_oneof![4 => any_key(), 1 => Just(KeyCode::Enter)], 1..40)) {
        let mut session = run_in();
        let mut panel = panel(&session, Theme::Dark);
        let mut shown = String::new();
        for key in keys {
            let wishes = press(&mut panel, &session, key);
            if wishes.iter().any(is_final) {
                prop_assert_eq!(key, KeyCode::Enter);
                let asked = shown.contains("Enter yes") || shown.contains("Enter do it");
                prop_assert!(asked, "{wishes:?}: {shown}");
            }
            if wishes.contains(&Wish::Quit) {
                break;
            }
            happen_all(&mut session, &wishes);
            let now = session.now().s();
            wait(&mut session, now + 0.8);
            shown = text(&drawn(&mut panel, &session, &desk(), (100, 40)));
        }
    }
}
