//! The running show: what it does when, whatever happens and however the clock ticks.

mod rehearsal;

use abeam::live::session::{LEAD, NextKind, Orphan};
use abeam::live::{Act, CueState, Effect, Event, Halt, MarkKind, Mode, Session, What};
use abeam::show::PointName;
use abeam::units::{Instant, Span};
use proptest::prelude::*;
use rehearsal::{Rehearsal, mark, plan};

fn close(a: f64, b: f64, within: f64) -> bool {
    (a - b).abs() <= within
}

#[test]
fn a_show_flown_as_planned_plays_as_planned() {
    let mut show = Rehearsal::new();
    let abeam = show.planned("memorial", "abeam");
    show.fly_as_planned_until(abeam + 60.0);
    let starts = show.starts("hymn");
    assert_eq!(starts.len(), 1);
    assert!(
        close(starts[0] + 48.0, abeam, 0.3),
        "hit at {}, abeam at {abeam}",
        starts[0] + 48.0
    );
    assert_eq!(show.starts("overture"), [-10.0]);
    assert_eq!(show.call_state("smoke"), CueState::Done);
}

#[test]
fn the_hit_follows_a_late_inbound() {
    let mut show = Rehearsal::new();
    let inbound = show.planned("memorial", "inbound");
    show.fly_as_planned_until(inbound - 10.0);
    show.until(inbound + 19.0)
        .mark(MarkKind::Inbound, inbound + 20.0);
    let abeam = show.planned("memorial", "abeam") + 20.0;
    assert!(close(show.expects("memorial", "abeam"), abeam, 1.0));
    show.until(abeam - 1.0);
    let starts = show.starts("hymn");
    assert_eq!(starts.len(), 1, "{starts:?}");
    assert!(
        close(starts[0] + 48.0, abeam, 1.0),
        "hit at {}, abeam {abeam}",
        starts[0] + 48.0
    );
}

#[test]
fn music_that_meets_a_pass_waits_for_inbound() {
    let mut show = Rehearsal::new();
    let inbound = show.planned("memorial", "inbound");
    show.fly_as_planned_until(inbound - 10.0)
        .until(inbound + 300.0);
    assert_eq!(show.starts("hymn"), [0.0; 0]);
    assert_eq!(show.track_state("hymn"), CueState::Ahead);
}

#[test]
fn an_overdue_pass_slips_and_nothing_that_hangs_on_it_fires() {
    let mut show = Rehearsal::new();
    let inbound = show.planned("memorial", "inbound");
    show.fly_as_planned_until(inbound + 1.0);
    let abeam = show.expects("memorial", "abeam");
    for late in [0.0, 1.0, 5.0, 20.0] {
        show.until(abeam + late);
        assert!(show.expects("memorial", "abeam") > abeam + late);
        let until = show.session.layout().silences[0].1.instant();
        assert!(until.is_none_or(|until| until > show.session.now()));
    }
    assert_eq!(show.session.silences()[0].state, CueState::Running);
    show.mark(MarkKind::Abeam, abeam + 20.0).until(abeam + 29.0);
    assert_eq!(show.session.silences()[0].state, CueState::Done);
}

#[test]
fn a_mark_is_corrected_for_where_the_stand_is() {
    let mut show = Rehearsal::new();
    // From the left at 240 kt a stand 40 m to the left of centre sees it 0.324 s early (worked by hand:
    // 40 m / 123.47 m/s).
    show.mark(MarkKind::Inbound, show.planned("arrival", "inbound"));
    show.mark(MarkKind::Abeam, -0.324);
    assert!(
        close(show.expects("arrival", "abeam"), 0.0, 0.01),
        "{}",
        show.expects("arrival", "abeam")
    );
}

#[test]
fn two_marks_of_one_pass_fuse_and_never_eat_the_next_figure() {
    let mut show = Rehearsal::new();
    show.mark(MarkKind::Abeam, 0.0).mark(MarkKind::Abeam, 0.4);
    let points: Vec<&str> = show
        .session
        .marks()
        .iter()
        .map(|mark| mark.point.key.as_str())
        .collect();
    assert_eq!(points, ["arrival", "arrival"]);
    // Two equally sharp observations: the mean of both, the stand's 0.324 s put back.
    assert!(close(show.expects("arrival", "abeam"), 0.2 + 0.324, 0.01));
}

#[test]
fn a_mark_that_fits_nothing_asks_and_an_answer_places_it() {
    let mut show = Rehearsal::new();
    show.fly_as_planned_until(5.0).mark(MarkKind::Abeam, 40.0);
    let ask = show.session.ask().expect("a question").clone();
    assert_eq!(ask.observed, Instant::from_s(40.0));
    assert!(ask.offered.iter().any(|point| point.key == "slow-pass"));
    let answer = abeam::live::Mark {
        kind: ask.kind,
        observed: ask.observed,
        point: ask
            .offered
            .iter()
            .find(|point| point.key == "slow-pass")
            .cloned(),
    };
    show.at(42.0, What::Mark(answer));
    assert!(show.session.ask().is_none());
    assert!(close(show.expects("slow-pass", "abeam"), 40.0, 1.0));
}

#[test]
fn a_mark_undone_never_was_and_a_mark_shifted_moves_its_point() {
    let mut show = Rehearsal::new();
    show.fly_as_planned_until(5.0);
    let before = show.expects("memorial", "abeam");
    show.mark(MarkKind::Abeam, 0.5).at(6.0, What::UndoMark);
    assert!(close(show.expects("memorial", "abeam"), before, 1e-5));
    let arrival = show.expects("arrival", "abeam");
    show.at(
        7.0,
        What::ShiftMark {
            by: Span::from_ms(-500),
        },
    );
    assert!(close(show.expects("arrival", "abeam"), arrival - 0.5, 0.05));
}

#[test]
fn a_delay_holds_what_is_not_flown_and_resuming_starts_it_then() {
    let mut show = Rehearsal::new();
    show.fly_as_planned_until(2.0)
        .at(3.0, What::Delay)
        .until(200.0);
    assert!(matches!(show.session.mode(), Mode::Delayed(_)));
    assert_eq!(show.block_state("slow-words"), CueState::Ahead);
    assert_eq!(show.track_state("hymn"), CueState::Ahead);
    // A time of day does not wait.
    show.until(301.0);
    assert_eq!(show.call_state("half-past"), CueState::Running);
    show.at(310.0, What::Resume);
    assert!(close(show.expects("back-one", "start"), 310.0, 0.1));
    let flown = show.planned("slow-pass", "abeam") - show.planned("back-one", "start");
    assert!(close(
        show.expects("slow-pass", "abeam"),
        310.0 + flown,
        0.5
    ));
}

#[test]
fn music_that_plays_fades_when_the_show_is_held_up() {
    let mut show = Rehearsal::new();
    show.fly_as_planned_until(2.0).at(3.0, What::Delay);
    assert!(
        show.effects
            .iter()
            .any(|e| matches!(e.act, Act::Fade { track: 0, .. }))
    );
    show.until(8.0);
    assert_eq!(show.track_state("overture"), CueState::Done);
}

#[test]
fn pace_learned_before_a_delay_is_kept_after_it() {
    let mut show = Rehearsal::new();
    let inbound = show.planned("arrival", "inbound");
    let run = show.planned("arrival", "abeam") - inbound;
    show.mark(MarkKind::Inbound, inbound)
        .mark(MarkKind::Abeam, inbound + run * 1.05);
    let pace = show.session.learned()[0].pace;
    assert!(pace.whole() > 0.0);
    show.at(20.0, What::Delay).at(100.0, What::Resume);
    assert!(close(
        show.session.learned()[0].pace.whole(),
        pace.whole(),
        1e-9
    ));
}

#[test]
fn a_dropped_figure_takes_its_cues_with_it_and_brings_them_back() {
    let mut show = Rehearsal::new();
    show.fly_as_planned_until(5.0);
    let before = show.expects("memorial", "abeam");
    show.at(
        6.0,
        What::Drop {
            key: "slow-pass".into(),
        },
    );
    assert_eq!(show.block_state("slow-words"), CueState::Dropped);
    assert!(show.expects("memorial", "abeam") < before - 30.0);
    show.at(
        7.0,
        What::Reinstate {
            key: "slow-pass".into(),
        },
    );
    assert_eq!(show.block_state("slow-words"), CueState::Ahead);
    assert!(close(show.expects("memorial", "abeam"), before, 1e-5));
}

#[test]
fn a_pass_broken_off_and_flown_again_gets_its_music_again() {
    let mut show = Rehearsal::new();
    let inbound = show.planned("memorial", "inbound");
    show.fly_as_planned_until(inbound + 20.0);
    assert_eq!(show.starts("hymn").len(), 1);
    show.at(
        inbound + 25.0,
        What::Drop {
            key: "memorial".into(),
        },
    );
    show.at(
        inbound + 26.0,
        What::FadeTrack {
            track: "hymn".into(),
        },
    );
    show.at(
        inbound + 27.0,
        What::Repeat {
            figure: "memorial".into(),
        },
    );
    show.until(inbound + 40.0);
    assert_eq!(show.track_state("hymn"), CueState::Ahead);
    assert!(show.session.times_of(&"memorial#2".into()).is_some());
    let again = show.expects("memorial#2", "inbound");
    show.mark(MarkKind::Inbound, again + 3.0)
        .until(again + 40.0);
    let starts = show.starts("hymn");
    assert_eq!(starts.len(), 2);
    assert!(close(
        starts[1] + 48.0,
        show.expects("memorial#2", "abeam"),
        1.0
    ));
}

#[test]
fn a_figure_repeated_after_its_cues_are_over_gets_them_again() {
    let mut show = Rehearsal::new();
    let abeam = show.planned("memorial", "abeam");
    show.fly_as_planned_until(abeam + 14.0);
    let over = |show: &Rehearsal| {
        show.call_state("smoke") == CueState::Done
            && show.block_state("memorial-words") == CueState::Done
            && show.session.silences()[0].state == CueState::Done
    };
    show.at(
        abeam + 15.0,
        What::FadeTrack {
            track: "hymn".into(),
        },
    );
    show.until(abeam + 20.0);
    assert!(over(&show));
    assert_eq!(show.track_state("hymn"), CueState::Done);
    show.at(
        abeam + 21.0,
        What::Repeat {
            figure: "memorial".into(),
        },
    );
    assert!(!over(&show));
    assert_eq!(show.track_state("hymn"), CueState::Ahead);
    let again = show.expects("memorial#2", "inbound");
    show.mark(MarkKind::Inbound, again).until(again + 60.0);
    assert_eq!(show.starts("hymn").len(), 2);
    let calls = show
        .effects
        .iter()
        .filter(|e| e.act == Act::Call { call: 0 });
    assert_eq!(calls.count(), 2);
}

#[test]
fn music_not_started_for_one_flying_is_laid_for_the_next() {
    let mut show = Rehearsal::new();
    let abeam = show.planned("memorial", "abeam");
    let inbound = show.planned("memorial", "inbound");
    show.fly_as_planned_until(inbound - 1.0)
        .at(inbound - 0.5, What::Arm { armed: false })
        .mark(MarkKind::Inbound, inbound)
        .mark(MarkKind::Abeam, abeam)
        .until(inbound + 200.0);
    assert_eq!(show.starts("hymn"), [0.0; 0]);
    assert_eq!(
        show.track_state("hymn"),
        CueState::Due,
        "it waits for a hand"
    );
    show.at(inbound + 201.0, What::Arm { armed: true }).at(
        inbound + 201.0,
        What::Repeat {
            figure: "memorial".into(),
        },
    );
    let again = show.expects("memorial#2", "inbound");
    show.mark(MarkKind::Inbound, again).until(again + 60.0);
    assert_eq!(show.starts("hymn").len(), 1);
}

#[test]
fn a_figure_taken_up_again_while_the_show_is_held_up_waits_too() {
    let mut show = Rehearsal::new();
    let key = || "slow-pass".into();
    show.fly_as_planned_until(5.0)
        .at(6.0, What::Drop { key: key() })
        .at(7.0, What::Delay)
        .at(8.0, What::Reinstate { key: key() })
        .until(200.0);
    assert_eq!(show.block_state("slow-words"), CueState::Ahead);
    show.at(210.0, What::KnockItOff)
        .at(211.0, What::Drop { key: key() })
        .at(212.0, What::Reinstate { key: key() })
        .at(213.0, What::Release);
    assert!(matches!(show.session.mode(), Mode::Delayed(_)));
    show.until(400.0);
    assert_eq!(show.block_state("slow-words"), CueState::Ahead);
    show.at(401.0, What::Resume);
    assert!(show.expects("slow-pass", "start") > 401.0);
}

#[test]
fn a_hand_does_not_start_what_is_fixed_to_start() {
    let mut show = Rehearsal::new();
    let start = What::StartTrack {
        track: "overture".into(),
    };
    show.at(-10.4, start.clone()).until(0.0);
    assert_eq!(show.starts("overture"), [-10.0]);
    // Before that it does, and nothing starts it again.
    let mut show = Rehearsal::new();
    show.at(-10.6, start).until(0.0);
    assert_eq!(show.starts("overture"), [-10.6]);
}

#[test]
fn figures_can_be_swapped_inserted_and_mirrored() {
    let mut show = Rehearsal::new();
    show.fly_as_planned_until(5.0);
    let along = |show: &Rehearsal, key: &str| {
        let figure = show
            .session
            .figures()
            .iter()
            .find(|f| f.key == *key)
            .expect("flown");
        let abeam = figure
            .points
            .iter()
            .find(|p| p.point == PointName::Abeam(1))
            .expect("a pass");
        abeam.along.mps()
    };
    assert!(along(&show, "memorial") > 0.0);
    show.at(
        6.0,
        What::Mirror {
            key: "memorial".into(),
        },
    );
    assert!(along(&show, "memorial") < 0.0);
    show.at(
        7.0,
        What::Swap {
            first: "slow-pass".into(),
            second: "memorial".into(),
        },
    );
    assert!(show.expects("memorial", "abeam") < show.expects("slow-pass", "abeam"));
    show.at(
        8.0,
        What::Insert {
            figure: "memorial".into(),
            before: Some("departure".into()),
        },
    );
    assert!(show.expects("memorial#2", "abeam") < show.expects("departure", "start"));
    // What has begun can be neither moved nor mirrored.
    show.at(
        9.0,
        What::Swap {
            first: "arrival".into(),
            second: "memorial".into(),
        },
    );
    assert!(close(show.expects("arrival", "abeam"), 0.0, 0.1));
}

#[test]
fn another_profile_lists_what_it_orphans_before_it_is_taken() {
    let mut show = Rehearsal::new();
    show.fly_as_planned_until(5.0);
    let change = What::Profile { name: "low".into() };
    let orphans = show.session.orphans_of(&change);
    assert_eq!(
        orphans,
        [Orphan {
            kind: "block",
            id: "slow-words".into()
        }]
    );
    assert_eq!(
        show.block_state("slow-words"),
        CueState::Ahead,
        "asking changes nothing"
    );
    show.at(6.0, change);
    assert_eq!(show.block_state("slow-words"), CueState::Dropped);
    assert!(show.session.times_of(&"slow-pass".into()).is_none());
    assert!(show.expects("memorial", "abeam") > 60.0);
}

#[test]
fn disarmed_nothing_starts_by_itself_and_a_hand_still_can() {
    let mut show = Rehearsal::new();
    show.at(-20.0, What::Arm { armed: false }).until(0.0);
    assert_eq!(show.starts("overture"), [0.0; 0]);
    assert_eq!(show.track_state("overture"), CueState::Due);
    // Arming again starts nothing whose time is past.
    show.at(1.0, What::Arm { armed: true }).until(5.0);
    assert_eq!(show.starts("overture"), [0.0; 0]);
    show.at(
        6.0,
        What::StartTrack {
            track: "overture".into(),
        },
    );
    assert_eq!(show.starts("overture"), [6.0]);
    assert_eq!(
        show.starts("sting"),
        [0.0; 0],
        "a track started by hand waits for one"
    );
}

#[test]
fn a_hand_on_a_track_that_is_about_to_start_by_itself_starts_it_no_second_time() {
    let mut show = Rehearsal::new();
    let track = "overture".into();
    show.at(-10.3, What::StartTrack { track }).until(0.0);
    assert_eq!(show.starts("overture"), [-10.0]);
    assert_eq!(show.track_state("overture"), CueState::Running);
}

#[test]
fn knock_it_off_fades_everything_and_starts_nothing() {
    let mut show = Rehearsal::new();
    let inbound = show.planned("memorial", "inbound");
    show.fly_as_planned_until(inbound + 5.0)
        .at(inbound + 6.0, What::KnockItOff);
    assert!(
        show.effects
            .iter()
            .any(|e| matches!(e.act, Act::FadeAll { .. }))
    );
    show.until(inbound + 100.0);
    assert_eq!(show.starts("hymn"), [0.0; 0]);
    show.at(inbound + 101.0, What::Arm { armed: true });
    assert!(!show.session.is_armed(), "arming takes leaving it first");
    show.at(inbound + 102.0, What::Release);
    assert!(
        matches!(show.session.mode(), Mode::Delayed(since) if since.s() == inbound + 6.0),
        "still held up"
    );
    assert!(!show.session.is_armed());
    show.at(inbound + 200.0, What::Resume);
    assert_eq!(show.session.mode(), Mode::Running);
    assert!(show.expects("departure", "start") >= inbound + 200.0);
}

#[test]
fn an_accident_is_left_by_two_deliberate_keys_only() {
    let mut show = Rehearsal::new();
    show.fly_as_planned_until(2.0).at(3.0, What::Accident);
    show.at(4.0, What::KnockItOff).at(
        5.0,
        What::StartTrack {
            track: "sting".into(),
        },
    );
    assert_eq!(show.starts("sting"), [0.0; 0]);
    show.at(6.0, What::Release);
    assert!(matches!(show.session.mode(), Mode::Accident { .. }));
    // The second key too late is a first one again.
    show.at(30.0, What::Release);
    assert!(matches!(show.session.mode(), Mode::Accident { .. }));
    show.at(35.0, What::Release);
    assert!(matches!(show.session.mode(), Mode::Delayed(_)));
    assert!(!show.session.is_armed());
}

#[test]
fn music_is_ducked_while_words_are_said_or_the_key_is_latched() {
    let mut show = Rehearsal::new();
    show.fly_as_planned_until(14.0);
    let ducks = |show: &Rehearsal| -> Vec<bool> {
        let ducks = show.effects.iter().filter_map(|effect| match effect.act {
            Act::Duck { down } => Some(down),
            _ => None,
        });
        ducks.collect()
    };
    assert!(ducks(&show).is_empty(), "planned times alone duck nothing");
    show.at(
        14.0,
        What::BeginBlock {
            block: "welcome".into(),
        },
    );
    show.at(15.0, What::Duck { latched: true })
        .at(16.0, What::EndBlock);
    assert_eq!(ducks(&show), [true]);
    show.at(17.0, What::Duck { latched: false });
    assert_eq!(ducks(&show), [true, false]);
}

#[test]
fn music_stays_down_a_moment_after_words_and_through_a_short_gap() {
    let mut show = Rehearsal::new();
    let say = |block: &str| What::BeginBlock {
        block: block.into(),
    };
    show.fly_as_planned_until(10.0).at(14.0, say("welcome"));
    show.at(16.0, What::EndBlock).at(16.5, say("slow-words"));
    show.at(18.0, What::EndBlock).until(60.0);
    let ducks = show.effects.iter().filter_map(|effect| match effect.act {
        Act::Duck { down } => Some((effect.at.s(), down)),
        _ => None,
    });
    assert_eq!(ducks.collect::<Vec<_>>(), [(14.0, true), (18.8, false)]);
}

#[test]
fn what_is_next_is_in_order_and_in_the_future() {
    let mut show = Rehearsal::new();
    show.fly_as_planned_until(2.0);
    let coming = show.session.coming();
    assert!(coming.windows(2).all(|pair| pair[0].at <= pair[1].at));
    assert!(coming.iter().all(|next| next.at > show.session.now()));
    assert!(
        coming
            .iter()
            .any(|next| matches!(next.kind, NextKind::Call(_)))
    );
}

#[test]
fn the_aircraft_is_where_it_should_be_on_the_run_in() {
    let mut show = Rehearsal::new();
    let inbound = show.planned("memorial", "inbound");
    let abeam = show.planned("memorial", "abeam");
    show.fly_as_planned_until(inbound + (abeam - inbound) / 2.0);
    let aloft = show.session.aloft();
    let x = aloft.first().expect("an aircraft in the air").sample.x.m();
    assert!(
        close(x, -2.0 * 1852.0, 60.0),
        "{x} m, half way in from 4 nmi"
    );
}

/// Something an operator might do at some second of the show.
fn happening() -> impl Strategy<Value = (f64, What)> {
    let keys = prop::sample::select(vec![
        "arrival",
        "slow-pass",
        "back-two",
        "memorial",
        "departure",
        "memorial#2",
    ]);
    let what = prop_oneof![
        6 => Just(None),
        1 => Just(Some(What::UndoMark)),
        1 => Just(Some(What::ShiftMark { by: Span::from_ms(-500) })),
        1 => Just(Some(What::Delay)),
        2 => Just(Some(What::Resume)),
        1 => keys.clone().prop_map(|key| Some(What::Drop { key: key.into() })),
        1 => keys.clone().prop_map(|key| Some(What::Reinstate { key: key.into() })),
        1 => Just(Some(What::Repeat { figure: "memorial".into() })),
        1 => Just(Some(What::Swap { first: "slow-pass".into(), second: "memorial".into() })),
        1 => Just(Some(What::Profile { name: "low".into() })),
        1 => Just(Some(What::Audible)),
        1 => Just(Some(What::BeginBlock { block: "welcome".into() })),
        1 => Just(Some(What::EndBlock)),
        1 => Just(Some(What::FadeTrack { track: "hymn".into() })),
        1 => any::<bool>().prop_map(|armed| Some(What::Arm { armed })),
    ];
    (
        -30.0..500.0,
        what,
        prop::sample::select(vec![MarkKind::Abeam, MarkKind::Inbound, MarkKind::Gate]),
    )
        .prop_map(|(s, what, kind)| (s, what.unwrap_or_else(|| mark(kind, s))))
}

/// The events in order of time.
fn happenings() -> impl Strategy<Value = Vec<(f64, What)>> {
    prop::collection::vec(happening(), 0..25).prop_map(|mut list| {
        list.sort_by(|a, b| a.0.total_cmp(&b.0));
        list
    })
}

/// Everything a session does with `events`, ticked at `ticks` besides.
fn effects(events: &[(f64, What)], ticks: &[f64]) -> (Session, Vec<Effect>) {
    let (show, plan) = plan("high");
    let mut session = Session::new(show, plan, Instant::from_s(-120.0));
    let mut all: Vec<(f64, What)> = ticks
        .iter()
        .map(|&s| (s, What::Tick))
        .chain(events.iter().cloned())
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all.push((600.0, What::Tick));
    let mut effects = Vec::new();
    for (s, what) in all {
        effects.extend(session.apply(&Event {
            at: Instant::from_s(s),
            what,
        }));
    }
    (session, effects)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn ticks_at_any_spacing_give_the_same_effects(
        events in happenings(),
        ticks in prop::collection::vec(-120.0..600.0, 0..200),
    ) {
        let (few, plain) = effects(&events, &[]);
        let (many, ticked) = effects(&events, &ticks);
        prop_assert_eq!(plain, ticked);
        prop_assert_eq!(few.tracks(), many.tracks());
        prop_assert_eq!(few.marks(), many.marks());
    }

    #[test]
    fn no_cue_is_begun_twice_and_nothing_starts_late(events in happenings()) {
        let (session, effects) = effects(&events, &[]);
        let ids: Vec<u64> = effects.iter().map(|effect| effect.id).collect();
        prop_assert_eq!(ids, (1..=session.last_effect()).collect::<Vec<_>>());
        // The overture hangs on the clock alone: whatever happens it starts at its second, or not at all.
        let starts: Vec<_> = effects.iter().filter(|e| matches!(e.act, Act::Start { track: 0, .. })).collect();
        prop_assert!(starts.len() <= 1);
        prop_assert!(starts.iter().all(|start| start.at == Instant::from_s(-10.0)));
        // The hymn starts at most once for each flying of its figure: the planned one and those asked for.
        let hymns = effects.iter().filter(|e| matches!(e.act, Act::Start { track: 1, .. })).count();
        let asked = events.iter().filter(|(_, what)| matches!(what,
            What::Repeat { figure } | What::Insert { figure, .. } if *figure == "memorial")).count();
        prop_assert!(hymns <= 1 + asked, "{} starts, {} asked for", hymns, asked);
    }

    #[test]
    fn a_start_is_fixed_before_it_sounds(late in -20.0..40.0_f64) {
        let mut show = Rehearsal::new();
        let inbound = show.planned("memorial", "inbound");
        show.fly_as_planned_until(inbound - 30.0).mark(MarkKind::Inbound, inbound + late);
        let abeam = show.expects("memorial", "abeam");
        let fixed = abeam - 48.0 - LEAD.s();
        show.until(fixed - 0.01);
        prop_assert_eq!(show.starts("hymn"), Vec::<f64>::new());
        show.until(fixed + 0.01);
        prop_assert_eq!(show.starts("hymn").len(), 1);
        prop_assert!(close(show.starts("hymn")[0], abeam - 48.0, 1e-3));
    }
}

#[test]
fn a_show_begun_in_the_middle_has_flown_as_planned_until_there() {
    let mut show = Rehearsal::new();
    let inbound = show.planned("memorial", "inbound");
    for event in show.session.planned_marks(Instant::from_s(inbound + 1.0)) {
        show.effects.extend(show.session.apply(&event));
    }
    show.until(inbound + 1.0);
    for (key, point) in [
        ("arrival", "abeam"),
        ("slow-pass", "abeam"),
        ("memorial", "inbound"),
    ] {
        assert!(
            close(show.expects(key, point), show.planned(key, point), 0.05),
            "{key}.{point}"
        );
    }
    let abeam = show.planned("memorial", "abeam");
    assert!(close(show.expects("memorial", "abeam"), abeam, 0.1));
    assert_eq!(show.session.marks().len(), 4);
}

#[test]
fn a_pass_broken_off_in_the_hold_keeps_its_cues_for_the_next_flying() {
    let mut show = Rehearsal::new();
    let start = show.planned("memorial", "start");
    show.fly_as_planned_until(start + 10.0);
    let drop = What::Drop {
        key: "memorial".into(),
    };
    show.at(start + 11.0, drop);
    show.at(
        start + 12.0,
        What::Repeat {
            figure: "memorial".into(),
        },
    );
    let inbound = start + 60.0;
    show.until(inbound).mark(MarkKind::Inbound, inbound);
    let abeam = show.expects("memorial#2", "abeam");
    show.until(abeam - 4.0);
    assert_eq!(show.starts("hymn").len(), 1);
    let hit = show.starts("hymn")[0] + 48.0;
    assert!(
        close(hit, abeam, 1.0),
        "hit {hit}, abeam {abeam}, marks {:?}, notices {:?}",
        show.session.marks(),
        show.session.notices()
    );
    assert_eq!(show.call_state("smoke"), CueState::Done);
    show.until(abeam - 1.0);
    assert_eq!(show.session.silences()[0].state, CueState::Running);
}

#[test]
fn music_that_meets_the_figure_being_flown_plays_on_when_the_show_is_held_up() {
    let mut show = Rehearsal::new();
    let abeam = show.planned("memorial", "abeam");
    show.fly_as_planned_until(abeam - 30.0)
        .at(abeam - 29.0, What::Delay);
    show.until(abeam - 1.0);
    assert_eq!(show.track_state("hymn"), CueState::Running);
    assert!(
        !show
            .effects
            .iter()
            .any(|e| matches!(e.act, Act::Fade { track: 1, .. }))
    );
}

#[test]
fn a_block_begun_late_is_said_short() {
    let display = rehearsal::DISPLAY.replace(
        "text = \"Slow and low.\"",
        "text = \"Slow and low over the water now, as slow as the wing allows.\"\nshort = \"Slow and low.\"\nends_by = \"slow-pass.abeam - 12 s\"",
    );
    let begun_after = |late: f64| {
        let mut show = Rehearsal::of(&display);
        let start = show.planned("slow-pass", "abeam") - 20.0;
        show.fly_as_planned_until(start + late);
        show.at(
            start + late,
            What::BeginBlock {
                block: "slow-words".into(),
            },
        );
        show.session.blocks()[1].version
    };
    assert_eq!(begun_after(0.0), Some(abeam::timeline::Version::Full));
    assert_eq!(begun_after(5.0), Some(abeam::timeline::Version::Short));
}

#[test]
fn what_hangs_on_the_end_of_words_waits_for_the_narrator() {
    let display = rehearsal::DISPLAY.replace(
        "at = \"memorial.abeam - 10 s\"",
        "at = \"welcome.end + 6 s\"",
    );
    let mut show = Rehearsal::of(&display);
    show.fly_as_planned_until(13.0).at(
        13.0,
        What::BeginBlock {
            block: "welcome".into(),
        },
    );
    show.until(40.0);
    assert_eq!(
        show.call_state("smoke"),
        CueState::Ahead,
        "still being said"
    );
    show.at(41.0, What::EndBlock).until(46.5);
    assert_eq!(show.call_state("smoke"), CueState::Due);
    show.until(47.5);
    assert_eq!(show.call_state("smoke"), CueState::Running);
}

#[test]
fn words_left_out_stop_nobody() {
    let display = rehearsal::DISPLAY.replace(
        "starts = \"slow-pass.abeam - 20 s\"",
        "starts = \"arrival.abeam + 14 s\"",
    );
    let mut show = Rehearsal::of(&display);
    show.fly_as_planned_until(5.0);
    let slack = |show: &Rehearsal| show.session.layout().blocks[0].slack.expect("a limit").s();
    assert!(slack(&show) < 0.0);
    show.at(
        6.0,
        What::SkipBlock {
            block: "slow-words".into(),
        },
    );
    assert!(slack(&show) > 0.0, "{}", slack(&show));
}

#[test]
fn a_shift_moves_the_mark_that_is_being_asked_about() {
    let mut show = Rehearsal::new();
    show.fly_as_planned_until(5.0).mark(MarkKind::Abeam, 40.0);
    let arrival = show.expects("arrival", "abeam");
    show.at(
        41.0,
        What::ShiftMark {
            by: Span::from_ms(-500),
        },
    );
    let ask = show.session.ask().expect("a question");
    assert_eq!(ask.observed, Instant::from_s(39.5));
    assert!(close(show.expects("arrival", "abeam"), arrival, 1e-9));
}

#[test]
fn a_change_that_comes_too_late_says_so() {
    let mut show = Rehearsal::new();
    show.fly_as_planned_until(5.0).at(
        6.0,
        What::Mirror {
            key: "arrival".into(),
        },
    );
    let (_, said) = show.session.notices().last().expect("a notice");
    assert!(said.contains("arrival has begun"), "{said}");
}

#[test]
fn a_halt_fades_the_music_and_the_way_back_times_what_is_left_anew() {
    for why in [Halt::WeatherHold, Halt::TechnicalDelay, Halt::EndedEarly] {
        let mut show = Rehearsal::new();
        show.fly_as_planned_until(30.0).at(31.0, What::Halt { why });
        let fades = |show: &Rehearsal| {
            let fades = show.effects.iter();
            fades
                .filter(|effect| matches!(effect.act, Act::FadeAll { .. }))
                .count()
        };
        assert_eq!(fades(&show), 1);
        show.at(31.4, What::Halt { why });
        assert_eq!(fades(&show), 1, "a key pressed twice is pressed once");
        let begun = show.effects.len();
        show.until(700.0);
        let started = show.effects[begun..].iter();
        let started = started.filter(|effect| matches!(effect.act, Act::Start { .. }));
        assert_eq!(started.count(), 0, "nothing starts by itself");
        assert!(
            matches!(show.session.mode(), Mode::Halted(since, is) if since.s() == 31.0 && is == why)
        );
        show.at(710.0, What::Release);
        assert!(matches!(show.session.mode(), Mode::Delayed(_)));
        assert_eq!(show.session.is_armed(), why != Halt::EndedEarly);
        show.at(720.0, What::Resume);
        assert_eq!(show.session.mode(), Mode::Running);
        assert!(show.expects("slow-pass", "start") >= 720.0);
    }
}
