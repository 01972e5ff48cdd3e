//! The time hack: how far the system's clock is off, and what goes by the hack then.

use abeam::live::{Event, Session, What};
use abeam::screens::{ClockFace, Panel, Scene, Theme, Wish};
use abeam::show::PointName;
use abeam::units::{Instant, Span};
use jiff::civil;
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyCode::{self, Char, Enter, Esc};
use ratatui::layout::Rect;

use crate::stage::*;

/// Presses a key, the system's clock standing at a time of day; what it wishes for.
fn pressed(panel: &mut Panel, session: &mut Session, clock: ClockFace, key: KeyCode) -> Vec<Wish> {
    let desk = desk();
    let scene = Scene {
        session,
        clock,
        desk: &desk,
        practice: None,
    };
    let area = Rect::new(0, 0, 100, 40);
    panel.paint(&scene, area, &mut Buffer::empty(area));
    let wishes = press(panel, session, key);
    for wish in &wishes {
        if let Wish::Happen(what) = wish.clone() {
            let at = session.now();
            session.apply(&Event { at, what });
        }
    }
    // Sooner again it would be a key that is held.
    let now = session.now().s();
    wait(session, now + 1.0);
    wishes
}

fn at_clock(time_of_day: civil::Time, is_followed: bool) -> ClockFace {
    ClockFace {
        time_of_day: Some(time_of_day),
        is_followed,
        ..ClockFace::default()
    }
}

/// The hack is the nearest full minute: keyed when the clock says 19:42:59.3, it is 0.7 s behind.
#[test]
fn a_time_hack_tells_how_far_the_clock_is_off() {
    for (clock, by, told) in [
        (civil::time(19, 42, 59, 300_000_000), 0.7, "0.7 s behind"),
        (civil::time(19, 43, 0, 420_000_000), -0.4, "0.4 s ahead of"),
        (civil::time(23, 59, 59, 960_000_000), 0.0, "on the hack"),
    ] {
        let mut session = opening();
        let mut panel = panel(&session, Theme::Dark);
        let clock = at_clock(clock, false);
        for key in [Char('z'), Enter] {
            assert_eq!(pressed(&mut panel, &mut session, clock, key), []);
        }
        let shown = text(&drawn(&mut panel, &session, &desk(), (120, 40)));
        assert!(shown.contains(told), "{shown}");
        assert!(shown.contains("no time of it moves"), "{shown}");
        let by = Span::from_s(by);
        let wishes = pressed(&mut panel, &mut session, clock, Enter);
        assert_eq!(wishes, [Wish::Happen(What::Hack { by, moves: false })]);
        assert_eq!(session.hack(), Some(by));
        let shown = text(&drawn(&mut panel, &session, &desk(), (120, 40)));
        assert!(shown.contains(&format!("hack {:+.1} s", by.s())), "{shown}");
    }
}

/// A show that follows the clock, with things that hang on it.
fn by_the_clock() -> Session {
    let calls = r#"
[[call]]
id = "by-clock"
who = "coordinator"
at = "clock 19:41:00"
text = "Lights"
[[call]]
id = "by-show"
who = "coordinator"
at = "show + 2 min"
text = "Flags"
"#;
    // Long before, so that nothing is overdue yet.
    at(
        &(include_str!("../stage/show.toml").to_owned() + calls),
        -300.0,
    )
}

/// When the last two calls and the first abeam are expected, in seconds of the show clock, and when they are planned.
fn times(session: &Session) -> ([f64; 3], f64) {
    let calls = &session.layout().calls;
    let [.., by_clock, by_show] = &calls[..] else {
        panic!("two calls");
    };
    let first = &session.moments().figures[0];
    let abeam = first.expected(&PointName::Abeam(1)).expect("a pass");
    let call = |at: abeam::timeline::CueTime| at.instant().expect("a time").s();
    let planned = session.planned_point(&first.key, &PointName::Abeam(1));
    (
        [call(*by_clock), call(*by_show), abeam.at.s()],
        planned.expect("a plan").s(),
    )
}

#[test]
fn what_hangs_on_the_clock_goes_by_the_hack_once_it_is_taken() {
    let mut session = by_the_clock();
    let (before, planned) = times(&session);
    assert_eq!(before[..2], [60.0, 120.0]);
    let mut panel = panel(&session, Theme::Dark);
    // The system says 19:35:48 when somebody else's clock says 19:36: 12 s behind.
    let clock = at_clock(civil::time(19, 35, 48, 0), true);
    for key in [Char('z'), Enter] {
        assert_eq!(pressed(&mut panel, &mut session, clock, key), []);
    }
    assert_eq!(times(&session).0, before, "asked first");
    let shown = text(&drawn(&mut panel, &session, &desk(), (100, 30)));
    assert!(shown.contains("then comes 12.0 s sooner"), "{shown}");
    let by = Span::from_s(12.0);
    let wishes = pressed(&mut panel, &mut session, clock, Enter);
    assert_eq!(wishes, [Wish::Happen(What::Hack { by, moves: true })]);
    let (after, planned_after) = times(&session);
    for (after, before) in after.iter().zip(&before) {
        assert!((before - after - 12.0).abs() < 1e-6, "{before}: {after}");
    }
    assert!((planned - planned_after - 12.0).abs() < 1e-6);
    // Told as the hack has it: what is planned for 19:41 is told for 19:41, and the show has come as far.
    let face = crate::stage::clock(&session);
    assert_eq!(face.text(Instant::from_s(after[0]), 0), "19:41:00");
    let shown = text(&drawn(&mut panel, &session, &desk(), (100, 30)));
    let show = (session.now() + by - Instant::ZERO).clock(0);
    assert!(shown.contains(&format!("show {show}")), "{shown}");
    // Taken back.
    let undo = [Char('z'), Char('u')].map(|key| pressed(&mut panel, &mut session, clock, key));
    let none = Span::ZERO;
    assert_eq!(
        undo[1],
        [Wish::Happen(What::Hack {
            by: none,
            moves: true
        })]
    );
    assert_eq!(times(&session), (before, planned));
}

#[test]
fn a_hack_nobody_meant_is_not_taken() {
    let mut session = by_the_clock();
    let before = times(&session);
    let mut panel = panel(&session, Theme::Dark);
    let clock = at_clock(civil::time(19, 35, 48, 0), true);
    for leave in [Esc, Char('u'), Char('z')] {
        for key in [Char('z'), Enter, leave, Esc] {
            assert_eq!(pressed(&mut panel, &mut session, clock, key), []);
        }
        assert_eq!((times(&session), session.hack()), (before, None));
    }
}

/// A journal has the hack in it, so that a show gone on with has it too; one written before hacks moved anything
/// moves nothing.
#[test]
fn a_hack_is_journaled() {
    let hack = Event {
        at: Instant::from_s(-250.0),
        what: What::Hack {
            by: Span::from_s(0.7),
            moves: true,
        },
    };
    let line = serde_json::to_string(&hack).expect("a line");
    assert_eq!(
        line,
        r#"{"at_us":-250000000,"what":"hack","by_us":700000,"moves":true}"#
    );
    assert_eq!(
        serde_json::from_str::<Event>(&line).expect("an event"),
        hack
    );
    let old = line.replace(",\"moves\":true", "");
    let old: Event = serde_json::from_str(&old).expect("an event");
    let mut session = by_the_clock();
    let before = times(&session);
    session.apply(&old);
    assert_eq!(times(&session), before);
}
