//! Any event, with anything in it, and any that may happen in the rehearsal display.

use abeam::live::clock::{Reading, ShowClock};
use abeam::live::event::Position;
use abeam::live::journal::{Line, Stamped};
use abeam::live::{Event, Halt, Mark, MarkKind, PointOf, What};
use abeam::show::{Name, PointName};
use abeam::units::{Instant, Span};
use proptest::prelude::*;

use crate::rehearsal;

/// A name of anything, quotes and line breaks too.
fn any_name() -> impl Strategy<Value = Name> {
    any::<String>().prop_map(Name::from)
}

fn any_span() -> impl Strategy<Value = Span> {
    any::<i64>().prop_map(Span::from_us)
}

fn any_instant() -> impl Strategy<Value = Instant> {
    any::<i64>().prop_map(Instant::from_us)
}

fn any_mark() -> impl Strategy<Value = Mark> {
    let kinds = vec![MarkKind::Abeam, MarkKind::Inbound, MarkKind::Gate];
    let points = prop_oneof![
        Just(PointName::Start),
        Just(PointName::Inbound),
        Just(PointName::Cross),
        Just(PointName::End),
        (1..=255_u8).prop_map(PointName::Abeam),
        (1..=255_u8).prop_map(PointName::Heard),
        (1..=255_u8).prop_map(PointName::Gate),
        "[b-d][a-z_]{3,8}".prop_map(|hit| PointName::Hit(hit.into())),
    ];
    let point = (any_name(), points).prop_map(|(key, point)| PointOf { key, point });
    (
        prop::sample::select(kinds),
        any_instant(),
        prop::option::of(point),
    )
        .prop_map(|(kind, observed, point)| Mark {
            kind,
            observed,
            point,
        })
}

fn any_halt() -> impl Strategy<Value = Halt> {
    prop::sample::select(vec![
        Halt::WeatherHold,
        Halt::TechnicalDelay,
        Halt::EndedEarly,
    ])
}

fn any_position() -> impl Strategy<Value = Position> {
    let number = || prop::num::f64::NORMAL;
    let place = (number(), number(), prop::option::of(number()));
    (any_instant(), any_name(), place).prop_map(
        |(observed, aircraft, (along_m, across_m, along_mps))| Position {
            observed,
            aircraft,
            along_m,
            across_m,
            along_mps,
        },
    )
}

/// Every kind of event, with anything in it.
fn any_what() -> impl Strategy<Value = What> {
    let name = any_name;
    prop_oneof![
        Just(What::Tick),
        any_mark().prop_map(What::Mark),
        Just(What::UndoMark),
        any_span().prop_map(|by| What::ShiftMark { by }),
        Just(What::Dismiss),
        Just(What::Delay),
        Just(What::Resume),
        name().prop_map(|key| What::Drop { key }),
        name().prop_map(|key| What::Reinstate { key }),
        name().prop_map(|figure| What::Repeat { figure }),
        (name(), prop::option::of(name()))
            .prop_map(|(figure, before)| What::Insert { figure, before }),
        (name(), name()).prop_map(|(first, second)| What::Swap { first, second }),
        name().prop_map(|key| What::Mirror { key }),
        name().prop_map(|name| What::Profile { name }),
        prop_oneof![
            Just(What::Audible),
            name().prop_map(|block| What::BeginBlock { block }),
            Just(What::EndBlock),
            name().prop_map(|block| What::SkipBlock { block }),
            any::<bool>().prop_map(|latched| What::Duck { latched }),
            name().prop_map(|track| What::StartTrack { track }),
            name().prop_map(|track| What::FadeTrack { track }),
            (name(), prop::num::f64::NORMAL)
                .prop_map(|(track, gain_db)| What::Level { track, gain_db }),
            any::<bool>().prop_map(|armed| What::Arm { armed }),
            Just(What::KnockItOff),
            any_halt().prop_map(|why| What::Halt { why }),
            Just(What::Accident),
            Just(What::Release),
        ],
        prop_oneof![
            any_position().prop_map(What::Position),
            any::<String>().prop_map(|says| What::Feed { says }),
            any::<usize>().prop_map(|phrase| What::Read { phrase }),
            (name(), any::<bool>(), any::<String>())
                .prop_map(|(block, short, text)| What::Reword { block, short, text }),
            (any_span(), any::<bool>()).prop_map(|(by, moves)| What::Hack { by, moves }),
        ],
    ]
}

fn any_reading() -> impl Strategy<Value = Reading> {
    (any::<String>(), any::<i64>(), any::<i64>()).prop_map(|(boot_id, boot_us, wall_us)| Reading {
        boot_id,
        boot_us,
        wall_us,
    })
}

pub fn any_line() -> impl Strategy<Value = Line> {
    let event = (any_reading(), any_instant(), any_what()).prop_map(|(reading, at, what)| {
        Line::Event(Stamped {
            reading,
            event: Event { at, what },
        })
    });
    let opened = (any_reading(), any_instant(), prop::num::f64::NORMAL)
        .prop_map(|(reading, at, rate)| Line::Opened(ShowClock::new(reading, at, rate)));
    prop_oneof![
        8 => event,
        1 => opened,
        1 => any::<u64>().prop_map(Line::Sent),
        1 => any_reading().prop_map(Line::Closed),
    ]
}

/// Something that may happen in the rehearsal display, at a second of it.
pub fn happening() -> impl Strategy<Value = (f64, What)> {
    let figures = vec![
        "arrival",
        "slow-pass",
        "memorial",
        "departure",
        "memorial#2",
    ];
    let figure = || prop::sample::select(figures.clone()).prop_map(Name::from);
    let track = || prop::sample::select(vec!["overture", "hymn", "sting"]).prop_map(Name::from);
    let block = || {
        prop::sample::select(vec!["welcome", "slow-words", "memorial-words"]).prop_map(Name::from)
    };
    let mark = |kind| move |s: f64| rehearsal::mark(kind, s);
    let what = prop_oneof![
        4 => Just(None).boxed(),
        1 => Just(Some(What::UndoMark)).boxed(),
        1 => (-900..900_i64).prop_map(|ms| Some(What::ShiftMark { by: Span::from_ms(ms) })).boxed(),
        1 => Just(Some(What::Delay)).boxed(),
        2 => Just(Some(What::Resume)).boxed(),
        1 => figure().prop_map(|key| Some(What::Drop { key })).boxed(),
        1 => figure().prop_map(|key| Some(What::Reinstate { key })).boxed(),
        1 => figure().prop_map(|figure| Some(What::Repeat { figure })).boxed(),
        1 => figure().prop_map(|key| Some(What::Mirror { key })).boxed(),
        1 => Just(Some(What::Profile { name: "low".into() })).boxed(),
        1 => block().prop_map(|block| Some(What::BeginBlock { block })).boxed(),
        1 => Just(Some(What::EndBlock)).boxed(),
        1 => block().prop_map(|block| Some(What::SkipBlock { block })).boxed(),
        1 => any::<bool>().prop_map(|latched| Some(What::Duck { latched })).boxed(),
        1 => track().prop_map(|track| Some(What::StartTrack { track })).boxed(),
        1 => track().prop_map(|track| Some(What::FadeTrack { track })).boxed(),
        1 => (track(), -70.0..20.0).prop_map(|(track, gain_db)| Some(What::Level { track, gain_db })).boxed(),
        1 => any::<bool>().prop_map(|armed| Some(What::Arm { armed })).boxed(),
        1 => Just(Some(What::KnockItOff)).boxed(),
        1 => any_halt().prop_map(|why| Some(What::Halt { why })).boxed(),
        1 => Just(Some(What::Accident)).boxed(),
        1 => Just(Some(What::Audible)).boxed(),
        1 => Just(Some(What::Dismiss)).boxed(),
        1 => (0..6_usize).prop_map(|phrase| Some(What::Read { phrase })).boxed(),
        1 => (block(), any::<bool>(), "[a-d ]{0,60}").prop_map(|(block, short, text)| Some(What::Reword { block, short, text })).boxed(),
        1 => (figure(), prop::option::of(figure())).prop_map(|(figure, before)| Some(What::Insert { figure, before })).boxed(),
        1 => (figure(), figure()).prop_map(|(first, second)| Some(What::Swap { first, second })).boxed(),
        1 => (-60_000..60_000_i64, any::<bool>()).prop_map(|(ms, moves)| Some(What::Hack { by: Span::from_ms(ms), moves })).boxed(),
        2 => Just(Some(What::Release)).boxed(),
    ];
    let kinds = vec![MarkKind::Abeam, MarkKind::Inbound, MarkKind::Gate];
    let seen = (
        prop::sample::select(kinds),
        -9_000.0..9_000.0,
        -150.0..150.0,
    );
    (-100.0..500.0, what, any::<bool>(), seen).prop_map(
        move |(s, what, told, (kind, along_m, along_mps))| {
            let position = What::Position(Position {
                observed: Instant::from_s(s),
                aircraft: "solo".into(),
                along_m,
                across_m: 230.0,
                along_mps: Some(along_mps),
            });
            let seen = if told { position } else { mark(kind)(s) };
            (s, what.unwrap_or(seen))
        },
    )
}
