//! What the screens show, at the sizes people have, and that no fact hangs on colour.

mod stage;
mod stand;

use std::path::Path;
use std::sync::Arc;

use abeam::live::{CueState, Halt, MarkKind, Session, What};
use abeam::practice::errors::other_day;
use abeam::practice::{Errors, Sky};
use abeam::screens::{DeskFacts, Output, Page, Panel, PracticeFacts, Theme, Wish, svg};
use abeam::show::edit::Manuscript;
use abeam::sound::{Landmarks, Pulse, Vamping};
use abeam::spotting::Spotting;
use abeam::units::{Gain, Span, Speed, Tempo};
use insta::assert_snapshot;
use proptest::prelude::*;
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::style::{Color, Modifier};
use stage::*;

const SIZES: [(u16, u16); 3] = [(80, 24), (120, 40), (200, 60)];

/// The Stand of a session, dark.
fn stand(session: &Session, size: (u16, u16)) -> String {
    let mut panel = panel(session, Theme::Dark);
    text(&drawn(&mut panel, session, &desk(), size))
}

/// The Desk of a session, dark.
fn at_desk(session: &Session, desk: &DeskFacts, size: (u16, u16)) -> String {
    let mut panel = panel(session, Theme::Dark);
    press(&mut panel, session, KeyCode::Tab);
    text(&drawn(&mut panel, session, desk, size))
}

/// The Stand after some keys, none of which makes anything happen.
fn after_keys(session: &Session, keys: &[KeyCode], size: (u16, u16)) -> String {
    let mut panel = panel(session, Theme::Dark);
    for key in keys {
        assert_eq!(press(&mut panel, session, *key), [], "{key:?}");
    }
    text(&drawn(&mut panel, session, &desk(), size))
}

/// Held up for more than a minute early in the show, disarmed, the device lost.
fn held_up() -> (Session, DeskFacts) {
    let mut session = opening();
    fly_until(&mut session, ("slow-pass", "abeam"));
    let now = session.now().s();
    happen(&mut session, now + 20.0, What::Delay);
    happen(&mut session, now + 21.0, What::Arm { armed: false });
    happen(&mut session, now + 22.0, What::Duck { latched: true });
    wait(&mut session, now + 95.0);
    let mut desk = desk();
    desk.output = Output::Silent {
        why: "the device is gone, trying again".into(),
    };
    desk.underruns = 3;
    desk.warnings = vec!["the journal cannot be written".into()];
    desk.meters.clear();
    desk.tracks[1].loaded = 0.43;
    desk.tracks[2].loaded = 0.0;
    desk.tracks[2].outline = None;
    desk.tracks[2].duration = None;
    (session, desk)
}

/// An abeam keyed where none is expected: the question is open.
fn asked() -> Session {
    let mut session = run_in();
    let now = session.now().s();
    mark(&mut session, MarkKind::Abeam, now);
    assert!(
        session.ask().is_some(),
        "nothing is expected 25 s before abeam"
    );
    wait(&mut session, now + 1.0);
    session
}

/// The silence around the memorial pass.
fn in_silence() -> Session {
    let mut session = run_in();
    let abeam = expected(&session, "memorial", "abeam");
    happen(&mut session, abeam - 6.0, What::EndBlock);
    mark(&mut session, MarkKind::Abeam, abeam + 0.3);
    wait(&mut session, abeam + 2.0);
    session
}

fn knocked_off() -> Session {
    let mut session = run_in();
    let now = session.now().s();
    happen(&mut session, now + 1.0, What::KnockItOff);
    wait(&mut session, now + 8.0);
    session
}

fn halted(why: Halt) -> Session {
    let mut session = run_in();
    let now = session.now().s();
    happen(&mut session, now + 1.0, What::Halt { why });
    wait(&mut session, now + 8.0);
    session
}

fn accident() -> Session {
    let mut session = run_in();
    let now = session.now().s();
    happen(&mut session, now + 1.0, What::Accident);
    wait(&mut session, now + 8.0);
    session
}

#[test]
fn the_stand_tells_what_to_say_and_when_to_stop() {
    let session = run_in();
    for size in SIZES {
        assert_snapshot!(
            format!("stand_run_in_{}x{}", size.0, size.1),
            stand(&session, size)
        );
    }
}

#[test]
fn the_stand_before_anything_happens_counts_down_to_it() {
    assert_snapshot!("stand_opening_80x24", stand(&opening(), (80, 24)));
    assert_snapshot!("stand_opening_120x40", stand(&opening(), (120, 40)));
}

#[test]
fn words_that_are_due_are_called_for() {
    let mut session = opening();
    fly_until(&mut session, ("slow-pass", "abeam"));
    let start = expected(&session, "slow-pass", "start");
    wait(&mut session, start + 5.0);
    assert_snapshot!("stand_due_80x24", stand(&session, (80, 24)));
}

#[test]
fn in_a_silence_nobody_speaks_and_its_end_is_counted_down_to() {
    assert_snapshot!("stand_silence_120x40", stand(&in_silence(), (120, 40)));
}

#[test]
fn talking_on_into_a_silence_is_told_to_stop() {
    let mut session = run_in();
    let abeam = expected(&session, "memorial", "abeam");
    wait(&mut session, abeam - 6.0);
    let soon = stand(&session, (80, 24));
    assert!(soon.contains("STOP TALKING in 0:0"), "{soon}");
    assert!(soon.contains("too loud to talk over"), "{soon}");
    while session.silences()[0].state != CueState::Running {
        let now = session.now().s();
        wait(&mut session, now + 0.25);
    }
    let now = stand(&session, (80, 24));
    // The hush of the pass lasts longer than the silence the document asks for.
    assert!(
        now.contains("STOP TALKING: HUSH, too loud to talk over, 0:"),
        "{now}"
    );
}

#[test]
fn the_desk_tells_each_track_and_its_meet() {
    let session = run_in();
    for size in SIZES {
        let text = at_desk(&session, &desk(), size);
        assert_snapshot!(format!("desk_run_in_{}x{}", size.0, size.1), text);
    }
}

#[test]
fn the_desk_says_by_how_much_what_sounds_together_is_held() {
    let session = run_in();
    let line = |held: f64| {
        let mut desk = desk();
        desk.held = Gain::from_db(held);
        let text = at_desk(&session, &desk, (80, 24));
        text.lines().nth(1).expect("the output").to_owned()
    };
    assert!(!line(0.05).contains("held"), "{}", line(0.05));
    let told = line(2.34);
    assert!(
        told.contains(" peaks held by 2.3 dB ") && told.contains("no underruns"),
        "{told}"
    );
    assert!(told.contains("-14 dB") && told.contains("-16 dB"), "{told}");
}

/// A practice at an instant of the session: as planned but for a little more wind, the arrival keyed late.
fn practised(session: &Session, report: Option<Vec<String>>) -> PracticeFacts {
    let (show, plan) = session.shared();
    let day = other_day(&plan.day, &show.site, Speed::from_kt(-6.0));
    let sky = Sky::new(&show, &plan, Errors::none(), day, None);
    let now = session.now();
    PracticeFacts {
        pace: Some(5.0),
        simulated_narrator: false,
        aloft: sky.aloft(now),
        trails: sky.trails(now),
        seen: sky.seen(session, now),
        radio: sky.radio(now),
        report,
    }
}

fn practice_in(
    theme: Theme,
    session: &Session,
    facts: &PracticeFacts,
    keys: &[KeyCode],
    size: (u16, u16),
) -> Buffer {
    let mut panel = Panel::practising(theme);
    for key in [KeyCode::Null].iter().chain(keys) {
        assert_eq!(press(&mut panel, session, *key), [], "{key:?}");
    }
    drawn_with(&mut panel, session, &desk(), Some(facts), size)
}

fn practice(
    session: &Session,
    facts: &PracticeFacts,
    keys: &[KeyCode],
    size: (u16, u16),
) -> String {
    text(&practice_in(Theme::Dark, session, facts, keys, size))
}

#[test]
fn a_practice_is_drawn_at_any_size_and_tells_nothing_by_colour() {
    let session = run_in();
    let facts = practised(&session, None);
    for size in [
        (1, 1),
        (30, 9),
        (80, 24),
        (81, 25),
        (97, 70),
        (240, 24),
        (240, 70),
    ] {
        let plain = practice_in(Theme::Plain, &session, &facts, &[], size);
        for cell in plain.content() {
            assert_eq!((cell.fg, cell.bg), (Color::Reset, Color::Reset));
        }
        for theme in [Theme::Dark, Theme::Light] {
            let coloured = practice_in(theme, &session, &facts, &[], size);
            assert_eq!(text(&coloured), text(&plain));
        }
    }
}

#[test]
fn practice_shows_what_is_flown_beside_what_is_keyed_and_what_comes() {
    let session = run_in();
    let facts = practised(&session, None);
    for size in SIZES {
        let name = format!("practice_run_in_{}x{}", size.0, size.1);
        assert_snapshot!(name, practice(&session, &facts, &[], size));
    }
    let mut turning = opening();
    fly_until(&mut turning, ("slow-pass", "abeam"));
    let facts = practised(&turning, None);
    assert_snapshot!(
        "practice_slow_pass_120x40",
        practice(&turning, &facts, &[], (120, 40))
    );
}

#[test]
fn a_practice_says_so_on_every_screen_and_tells_its_keys() {
    let session = run_in();
    let facts = PracticeFacts {
        pace: None,
        ..practised(&session, None)
    };
    for keys in [&[][..], &[KeyCode::Tab], &[KeyCode::Tab, KeyCode::Tab]] {
        let text = practice(&session, &facts, keys, (80, 24));
        assert!(text.contains("PRACTICE"), "{text}");
    }
    let help = practice(&session, &facts, &[KeyCode::Char('?')], (80, 24));
    assert_snapshot!("practice_help_80x24", help);
    let list = practice(&session, &facts, &[KeyCode::Char('j')], (80, 24));
    assert_snapshot!("practice_figures_80x24", list);
}

#[test]
fn the_report_of_a_practice_takes_the_place_of_the_map() {
    let session = run_in();
    let lines = [
        "Music",
        "  hymn: last_verse fell 0.3 s after Memorial pass abeam, within the 1 s allowed",
        "    it began 1.2 s later than planned, 1 bar came again, 2 planned, it was 0.8 % slower in the end, as far as anybody could tell",
        "Words",
        "  memorial-words: in full, 3.1 s to spare",
    ];
    let facts = practised(&session, Some(lines.map(String::from).into()));
    assert_snapshot!(
        "practice_report_80x24",
        practice(&session, &facts, &[], (80, 24))
    );
}

#[test]
fn a_meet_still_to_come_is_provisional_until_inbound() {
    let mut session = opening();
    fly_until(&mut session, ("memorial", "inbound"));
    let text = at_desk(&session, &desk(), (200, 60));
    for words in [
        "hit last_verse meets Memorial pass abeam",
        "provisional until inbound",
        "fixed from",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
}

/// The hymn may go round bar by bar and be bent a little; the aircraft has left its hold twenty seconds late.
fn followed() -> Session {
    let document = include_str!("stage/show.toml").replace(
        "entries = [\"0:00\", \"0:16.000\", \"0:24.000\"]",
        "bar = \"3 s\"\nvamp = { from = \"0:36\", to = \"1:00\", step = \"bar\" }\nstretch = \"3 %\"",
    );
    let mut session = of_text(&document);
    fly_until(&mut session, ("memorial", "inbound"));
    let inbound = expected(&session, "memorial", "inbound");
    mark(&mut session, MarkKind::Inbound, inbound + 20.0);
    wait(&mut session, inbound + 23.0);
    session
}

#[test]
fn the_desk_and_the_stand_say_in_words_how_the_music_follows_the_aircraft() {
    let session = followed();
    for (screen, shown) in [
        ("desk", at_desk(&session, &desk(), (120, 40))),
        ("stand", stand(&session, (200, 60))),
    ] {
        let words: Vec<&str> = shown.split_whitespace().collect();
        let words = words.join(" ");
        for said in ["more bars, ", " % ", "meets ", " 19:45:", "fixed from 19:"] {
            assert!(words.contains(said), "{screen}: {said}: {shown}");
        }
        assert_snapshot!(format!("{screen}_followed"), shown);
    }
}

#[test]
fn held_up_disarmed_and_silent_are_words() {
    let (session, desk) = held_up();
    let mut panel = panel(&session, Theme::Dark);
    let stand = text(&drawn(&mut panel, &session, &desk, (80, 24)));
    assert_snapshot!("stand_held_up_80x24", stand);
    assert_snapshot!("desk_held_up_120x40", at_desk(&session, &desk, (120, 40)));
}

#[test]
fn a_warning_and_what_was_said_last_have_the_row_in_turn() {
    let (mut session, desk) = held_up();
    let mut panel = panel(&session, Theme::Dark);
    let mut seen = [false; 2];
    for _ in 0..3 {
        let now = session.now().s();
        wait(&mut session, now + 4.0);
        let text = text(&drawn(&mut panel, &session, &desk, (80, 24)));
        seen[0] |= text.contains("WARNING: the journal cannot be written");
        seen[1] |= text.contains("Automatic starts disarmed");
    }
    assert_eq!(seen, [true; 2]);
}

#[test]
fn a_knock_it_off_shows_the_prepared_words_and_how_to_leave() {
    let session = knocked_off();
    for size in [(80, 24), (120, 40), (30, 8)] {
        let name = format!("knock_it_off_{}x{}", size.0, size.1);
        assert_snapshot!(name, stand(&session, size));
    }
}

#[test]
fn a_halt_shows_its_own_words_and_how_to_put_them_away() {
    assert_snapshot!(
        "halts_80x24",
        after_keys(&run_in(), &[KeyCode::Char('h')], (80, 24))
    );
    for (why, words) in [
        (Halt::WeatherHold, "We are waiting for the weather."),
        (Halt::TechnicalDelay, "There will be a short delay."),
        (Halt::EndedEarly, "No words are prepared."),
    ] {
        // Too small for large letters.
        let shown = stand(&halted(why), (60, 5));
        assert!(
            shown.contains(words) && shown.contains("still held up"),
            "{shown}"
        );
    }
    assert_snapshot!(
        "weather_hold_80x24",
        stand(&halted(Halt::WeatherHold), (80, 24))
    );
}

#[test]
fn an_accident_shows_the_approved_statement_and_nothing_else() {
    let mut session = accident();
    for size in [(80, 24), (120, 40), (40, 10)] {
        assert_snapshot!(
            format!("accident_{}x{}", size.0, size.1),
            stand(&session, size)
        );
    }
    let now = session.now().s();
    happen(&mut session, now + 1.0, What::Release);
    wait(&mut session, now + 4.5);
    assert!(stand(&session, (80, 24)).contains("press Enter within 7 s"));
    wait(&mut session, now + 12.0);
    assert!(stand(&session, (80, 24)).contains("to leave this: c, then Enter within 10 s"));
}

#[test]
fn the_cautions_come_first_and_the_show_runs_behind_them() {
    let session = run_in();
    let mut panel = Panel::new(Theme::Dark);
    let text = text(&drawn(&mut panel, &session, &desk(), (80, 24)));
    assert_snapshot!("cautions_80x24", text);
}

#[test]
fn a_mark_that_fits_nothing_is_asked_about() {
    assert_snapshot!("ask_80x24", stand(&asked(), (80, 24)));
    assert_snapshot!("ask_120x40", stand(&asked(), (120, 40)));
}

#[test]
fn a_change_lists_what_it_orphans_before_it_is_confirmed() {
    let session = opening();
    let list = [KeyCode::Char('p')];
    assert_snapshot!("programme_80x24", after_keys(&session, &list, (80, 24)));
    let drop = [
        KeyCode::Char('p'),
        KeyCode::Down,
        KeyCode::Down,
        KeyCode::Down,
        KeyCode::Char('d'),
    ];
    assert_snapshot!(
        "programme_drop_80x24",
        after_keys(&session, &drop, (80, 24))
    );
    let profile = [KeyCode::Char('p'), KeyCode::Char('v'), KeyCode::Down];
    assert_snapshot!(
        "programme_profile_80x24",
        after_keys(&session, &profile, (80, 24))
    );
}

#[test]
fn help_lists_every_key() {
    let session = opening();
    for size in SIZES {
        let name = format!("help_{}x{}", size.0, size.1);
        let text = after_keys(&session, &[KeyCode::Char('?')], size);
        assert!(text.contains("leave the program (asks)"), "{text}");
        assert_snapshot!(name, text);
    }
}

#[test]
fn what_cannot_be_undone_asks() {
    let session = run_in();
    for (key, title) in [
        ('q', "leave the program?"),
        ('!', "accident?"),
        ('s', "leave out goodbye?"),
    ] {
        let text = after_keys(&session, &[KeyCode::Char(key)], (80, 24));
        assert!(text.contains(title) && text.contains("Enter yes"), "{text}");
    }
}

#[test]
fn a_small_terminal_is_told_the_size_needed() {
    let session = run_in();
    assert_snapshot!("too_small_60x20", stand(&session, (60, 20)));
    assert_snapshot!("too_small_80x23", stand(&session, (80, 23)));
    assert_snapshot!("too_small_20x5", stand(&session, (20, 5)));
}

#[test]
fn wide_characters_keep_their_columns() {
    let session = of_text(
        &include_str!("stage/show.toml")
            .replace("Memorial pass", "追悼の飛行 と とても 長い 名前 の 演目")
            .replace("Lantern Lake evening display", "ランタン湖の夕べ"),
    );
    assert_snapshot!("wide_80x24", stand(&session, (80, 24)));
    let programme = after_keys(&session, &[KeyCode::Char('p')], (80, 24));
    assert_snapshot!("wide_programme_80x24", programme);
}

/// Every scene worth a look, each with the keys that bring it up.
fn scenes() -> Vec<(Session, DeskFacts, Vec<KeyCode>)> {
    let (held, silent) = held_up();
    let char = KeyCode::Char;
    vec![
        (opening(), DeskFacts::default(), vec![]),
        (run_in(), desk(), vec![]),
        (run_in(), desk(), vec![KeyCode::Tab]),
        (held.clone(), silent.clone(), vec![]),
        (held, silent, vec![KeyCode::Tab]),
        (in_silence(), desk(), vec![char('?')]),
        (opening(), desk(), vec![char('p')]),
        (
            opening(),
            desk(),
            vec![char('p'), char('v'), KeyCode::Enter],
        ),
        (run_in(), desk(), vec![char('q')]),
        (asked(), desk(), vec![]),
        (knocked_off(), desk(), vec![]),
        (halted(Halt::TechnicalDelay), desk(), vec![]),
        (run_in(), desk(), vec![char('h')]),
        (opening(), desk(), vec![char('o')]),
        (opening(), desk(), vec![char('m'), KeyCode::Enter]),
        (accident(), desk(), vec![]),
    ]
}

fn scene_in(theme: Theme, scene: &(Session, DeskFacts, Vec<KeyCode>), size: (u16, u16)) -> Buffer {
    let (session, desk, keys) = scene;
    let mut panel = panel(session, theme);
    for key in keys {
        press(&mut panel, session, *key);
    }
    drawn(&mut panel, session, desk, size)
}

#[test]
fn no_fact_hangs_on_colour() {
    for scene in scenes() {
        for size in [(80, 24), (120, 40)] {
            let plain = scene_in(Theme::Plain, &scene, size);
            for cell in plain.content() {
                assert_eq!((cell.fg, cell.bg), (Color::Reset, Color::Reset));
            }
            for theme in [Theme::Dark, Theme::Light] {
                assert_eq!(text(&scene_in(theme, &scene, size)), text(&plain));
            }
        }
    }
}

/// In the terminal's own two colours: what differs in one fact differs in its words, shapes or strokes, at any
/// instant of a run-in. A warning has the last row in turn with what was said last, for four seconds.
#[test]
fn each_fact_is_told_without_colour() {
    let seen = |session: &Session, desk: &DeskFacts| -> Vec<String> {
        [KeyCode::Null, KeyCode::Tab]
            .into_iter()
            .map(|key| {
                let mut panel = panel(session, Theme::Plain);
                press(&mut panel, session, key);
                text(&drawn(&mut panel, session, desk, (120, 40)))
            })
            .collect()
    };
    let at = |later: f64| {
        let mut session = run_in();
        let now = session.now().s() + later;
        wait(&mut session, now);
        session
    };
    for later in [0.0, 1.3, 2.6, 3.9, 6.5, 9.1] {
        let usual = seen(&at(later), &desk());
        for what in [
            What::Arm { armed: false },
            What::Duck { latched: true },
            What::Delay,
            What::KnockItOff,
            What::Accident,
            What::UndoMark,
        ] {
            let mut session = at(later);
            let now = session.now().s();
            happen(&mut session, now, what.clone());
            let told = seen(&session, &desk())[0] != usual[0];
            assert!(told, "{what:?}, {later} s later");
        }
    }
    let mut dry = desk();
    dry.underruns = 1;
    let mut silent = desk();
    silent.output = Output::Silent {
        why: "no device".into(),
    };
    let mut warned = desk();
    warned.warnings = vec!["the journal cannot be written".into()];
    let is_told = |facts: &DeskFacts, later: f64| {
        let session = at(later);
        seen(&session, facts) != seen(&session, &desk())
    };
    for later in [0.0, 1.3, 2.6, 3.9] {
        assert!(is_told(&dry, later), "underrun, {later} s later");
        assert!(is_told(&silent, later), "silent, {later} s later");
        let warns = [later, later + 4.0].map(|later| is_told(&warned, later));
        assert!(warns.contains(&true), "warning, {later} s later");
    }
}

/// Relative luminance and contrast ratio as W3C's WCAG 2.1 defines them; 7 to 1 is its enhanced level
/// (success criterion 1.4.6).
#[test]
fn every_letter_stands_out_seven_to_one() {
    for scene in scenes() {
        for theme in [Theme::Dark, Theme::Light] {
            for cell in scene_in(theme, &scene, (120, 40)).content() {
                if cell.symbol().trim().is_empty() {
                    continue;
                }
                let (a, b) = (luminance(cell.fg), luminance(cell.bg));
                let ratio = (a.max(b) + 0.05) / (a.min(b) + 0.05);
                assert!(ratio >= 7.0, "{theme:?}: {cell:?} {ratio:.1}");
            }
        }
    }
}

/// The upper 240 of the terminal's 256 colours: a cube of six levels, then greys (xterm's table, from memory).
fn luminance(colour: Color) -> f64 {
    let Color::Indexed(index @ 16..) = colour else {
        panic!("{colour:?} depends on how the terminal is set up");
    };
    let [r, g, b] = if index < 232 {
        let cube = index - 16;
        [cube / 36, cube / 6 % 6, cube % 6]
            .map(|step| [0, 95, 135, 175, 215, 255][usize::from(step)])
    } else {
        [8 + 10 * (index - 232); 3]
    };
    let linear = |channel: u8| {
        let c = f64::from(channel) / 255.0;
        if c <= 0.03928 {
            c / 12.92
        } else {
            ((c + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)
}

/// The text of a buffer; below it which style each cell has, by a letter, and what each letter stands for.
fn text_and_styles(buffer: &Buffer) -> String {
    let mut styles: Vec<String> = Vec::new();
    let mut grid = String::new();
    for y in 0..buffer.area.height {
        for x in 0..buffer.area.width {
            let cell = &buffer[(x, y)];
            let style = format!("{:?} on {:?} {:?}", cell.fg, cell.bg, cell.modifier);
            let known = styles.iter().position(|known| *known == style);
            let index = known.unwrap_or_else(|| {
                styles.push(style);
                styles.len() - 1
            });
            grid.push(char::from(b'a' + index as u8));
        }
        grid.push('\n');
    }
    let letters = styles.iter().enumerate();
    let legend: String = letters
        .map(|(i, style)| format!("{} {style}\n", char::from(b'a' + i as u8)))
        .collect();
    format!("{}{grid}{legend}", text(buffer))
}

#[test]
fn the_stand_looks_as_it_does_in_each_theme() {
    let session = run_in();
    for theme in [Theme::Dark, Theme::Light, Theme::Plain] {
        for (columns, rows) in SIZES {
            let buffer = scene_in(theme, &(session.clone(), desk(), vec![]), (columns, rows));
            let name = format!("stand_{theme:?}_{columns}x{rows}").to_lowercase();
            assert_snapshot!(name, text_and_styles(&buffer));
        }
    }
}

#[test]
fn the_phrase_being_said_is_underlined_and_pointed_at() {
    let session = run_in();
    let buffer = scene_in(Theme::Plain, &(session, desk(), vec![]), (100, 40));
    let underlined: String = buffer
        .content()
        .iter()
        .filter(|cell| cell.modifier.contains(Modifier::UNDERLINED))
        .map(|cell| cell.symbol())
        .collect();
    assert_eq!(underlined.trim(), "Their boat was found in thespring,");
}

#[test]
fn the_countdown_is_seven_rows_high_from_120_by_40() {
    let text = stand(&run_in(), (120, 40));
    let rows = text.lines().skip(2).take(7);
    assert_eq!(rows.filter(|line| line.contains("██")).count(), 7, "{text}");
}

#[test]
fn a_picture_is_well_formed() {
    for scene in scenes() {
        for theme in [Theme::Dark, Theme::Plain] {
            let svg = svg(&scene_in(theme, &scene, (80, 24)));
            assert!(svg.starts_with("<svg ") && svg.ends_with("</svg>\n"));
            let texts = (
                svg.matches("<text ").count(),
                svg.matches("</text>").count(),
            );
            assert_eq!(texts.0, texts.1);
            assert!(texts.0 > 0 && !svg.contains("& "));
        }
    }
}

#[test]
fn an_outline_is_asked_for_once() {
    use std::sync::Arc;
    use std::sync::atomic::{AtomicUsize, Ordering};

    struct Counted(Arc<AtomicUsize>);
    impl abeam::screens::Outline for Counted {
        fn peaks(
            &self,
            _: abeam::units::Span,
            _: abeam::units::Span,
            columns: usize,
        ) -> Vec<(f32, f32)> {
            self.0.fetch_add(1, Ordering::Relaxed);
            vec![(-0.5, 0.5); columns]
        }
    }
    let session = run_in();
    let asked = Arc::new(AtomicUsize::new(0));
    let mut desk = desk();
    desk.tracks[1].outline = Some(Arc::new(Counted(asked.clone())));
    let mut panel = panel(&session, Theme::Dark);
    for _ in 0..5 {
        drawn(&mut panel, &session, &desk, (120, 40));
    }
    assert_eq!(asked.load(Ordering::Relaxed), 1);
    desk.tracks[1].loaded = 0.9;
    drawn(&mut panel, &session, &desk, (120, 40));
    assert_eq!(asked.load(Ordering::Relaxed), 2);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn no_size_is_too_odd_to_draw_on(columns in 1u16..260, rows in 1u16..90, small in any::<bool>()) {
        let size = if small { (columns % 24 + 1, rows % 12 + 1) } else { (columns, rows) };
        thread_local! {
            static SCENES: Vec<(Session, DeskFacts, Vec<KeyCode>)> = scenes();
        }
        SCENES.with(|scenes| {
            for scene in scenes {
                scene_in(Theme::Light, scene, size);
            }
        });
    }
}

const DOCUMENT: &str = "tests/stage/show.toml";

/// The hymn close up, as it was found to be: a beat every 0.75 s, a bar every 3 s.
fn close_up(session: &Session) -> Panel {
    let mut panel = panel(session, Theme::Dark);
    press(&mut panel, session, KeyCode::Tab);
    press(&mut panel, session, KeyCode::Down);
    assert_eq!(
        press(&mut panel, session, KeyCode::Char('v')),
        [Wish::Spot(1)]
    );
    let every = |s: f64| (0..(134.0 / s) as u32).map(move |i| Span::from_s(s * f64::from(i)));
    let found = Landmarks {
        pulse: Pulse {
            tempo: Some(Tempo::from_bpm(80.0)),
            beats: every(0.75).collect(),
            downbeats: every(3.0).collect(),
        },
        onsets: every(0.375).collect(),
        vamps: vec![Vamping {
            from: Span::from_s(12.0),
            to: Span::from_s(24.0),
            written: Span::from_s(15.0),
            bars: 4,
            alike: 0.97,
            even: true,
        }],
    };
    let manuscript = Manuscript::open(Path::new(DOCUMENT)).expect("it opens");
    let length = Span::from_s(134.0);
    let spotting = Spotting::new(manuscript, &"hymn".into(), length, 48_000);
    let mut spotting = spotting.expect("it has a hymn");
    spotting.found(Arc::new(found));
    panel.begin_spotting(spotting);
    panel.open_track();
    panel
}

fn said(panel: &mut Panel) -> String {
    panel.spotting().expect("begun").said().text.clone()
}

#[test]
fn a_track_close_up_shows_all_of_it_and_what_is_set_in_it() {
    let session = long_before();
    for size in SIZES {
        let mut panel = close_up(&session);
        assert_snapshot!(
            format!("track_{}x{}", size.0, size.1),
            text(&drawn(&mut panel, &session, &desk(), size))
        );
        press(&mut panel, &session, KeyCode::Char('v'));
        assert_snapshot!(
            format!("track_vamp_{}x{}", size.0, size.1),
            text(&drawn(&mut panel, &session, &desk(), size))
        );
    }
}

#[test]
fn a_hit_is_set_named_moved_and_undone_and_nothing_else_changes() {
    let session = long_before();
    let mut panel = close_up(&session);
    let text = std::fs::read_to_string(DOCUMENT).expect("the document");
    let before = panel.spotting().expect("begun").text().to_owned();
    assert_eq!(before, text);
    panel
        .spotting()
        .expect("begun")
        .go_to(Span::from_ms(30_020));
    for key in ['l', 'h', 'b', 'e', 'l', 'l'] {
        press(&mut panel, &session, KeyCode::Char(key));
    }
    press(&mut panel, &session, KeyCode::Enter);
    for key in ['1', '.', '.', '2', ',', '3', '.'] {
        press(&mut panel, &session, KeyCode::Char(key));
    }
    let spotting = panel.spotting().expect("begun");
    let hits = &spotting.track().expect("the hymn").hits;
    let bell = hits
        .iter()
        .find(|(name, _)| *name == "bell")
        .expect("the hit")
        .1;
    // Two frames later, a hundredth earlier, a beat later.
    let expected = Span::from_s(30.0 + 2.0 / 48_000.0 - 0.01 + 0.75);
    assert!((bell - expected).abs() <= Span::from_us(1), "{bell}");
    assert!(!spotting.is_written());
    let changed: Vec<_> = spotting
        .text()
        .lines()
        .zip(text.lines())
        .filter(|(a, b)| a != b)
        .collect();
    assert_eq!(changed.len(), 1, "{changed:?}");
    while !said(&mut panel).starts_with("nothing is left") {
        press(&mut panel, &session, KeyCode::Char('z'));
    }
    assert_eq!(panel.spotting().expect("begun").text(), text);
    press(&mut panel, &session, KeyCode::Char('Z'));
    assert!(
        said(&mut panel).starts_with("done again: hit hit_1 set"),
        "{}",
        said(&mut panel)
    );
}

#[test]
fn when_a_track_ends_is_moved_by_the_same_keys() {
    let session = long_before();
    let mut panel = close_up(&session);
    for _ in 0..20 {
        press(&mut panel, &session, KeyCode::Down);
    }
    for (key, ends) in [
        ('.', "memorial.end + 4.01 s"),
        ('1', "memorial.end + 4.01 s"),
        ('.', "memorial.end + 4.010021 s"),
        (',', "memorial.end + 4.01 s"),
        ('3', "memorial.end + 4.01 s"),
        (',', "memorial.end + 3.26 s"),
    ] {
        press(&mut panel, &session, KeyCode::Char(key));
        let spotting = panel.spotting().expect("begun");
        let track = spotting.track().expect("the hymn");
        assert_eq!(track.ends.as_ref().expect("an end").to_string(), ends);
        let line = format!("\"{ends}\"\nduck");
        assert!(spotting.text().contains(&line), "{ends}");
    }
    assert_eq!(said(&mut panel), "ends memorial.end + 3.26 s");
    while !said(&mut panel).starts_with("nothing is left") {
        press(&mut panel, &session, KeyCode::Char('z'));
    }
    let text = std::fs::read_to_string(DOCUMENT).expect("the document");
    assert_eq!(panel.spotting().expect("begun").text(), text);
}

#[test]
fn in_a_running_show_its_keys_stay_keys_and_its_document_stays_as_it_is() {
    let session = run_in();
    let mut panel = close_up(&session);
    press(&mut panel, &session, KeyCode::Char('h'));
    let save = KeyEvent::new(KeyCode::Char('s'), KeyModifiers::CONTROL);
    assert_eq!(panel.key(save, &session), []);
    assert!(
        said(&mut panel).contains("when you leave"),
        "{}",
        said(&mut panel)
    );
    for (key, what) in [('k', What::KnockItOff), ('w', What::Delay)] {
        let wishes = press(&mut panel, &session, KeyCode::Char(key));
        assert_eq!(wishes, [Wish::Happen(what)], "{key}");
    }
    assert_eq!(
        press(&mut panel, &session, KeyCode::Esc),
        [Wish::HearNothing]
    );
    assert_eq!(panel.page(), Page::Desk);
}
