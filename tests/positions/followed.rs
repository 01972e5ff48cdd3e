//! A show whose aircraft is followed by its positions: what they move, and what moves nothing.

use abeam::live::event::Position;
use abeam::live::{MarkKind, What};
use abeam::show::Name;
use abeam::units::Instant;

use crate::rehearsal::Rehearsal;

/// The planned speed of the memorial pass, 240 kt in still air.
const PLANNED_MPS: f64 = 240.0 * 1852.0 / 3600.0;
const HOLD_M: f64 = 4.0 * 1852.0;

fn seen(show: &mut Rehearsal, at: f64, along_m: f64, across_m: f64, along_mps: f64) {
    let position = Position {
        observed: Instant::from_s(at),
        aircraft: Name::from("solo"),
        along_m,
        across_m,
        along_mps: Some(along_mps),
    };
    show.at(at, What::Position(position));
}

/// The memorial pass from its hold at `leaves`, at a speed, seen every second until the last instant.
fn run_in(show: &mut Rehearsal, leaves: f64, mps: f64, until: f64) {
    let mut at = leaves + 1.0;
    while at <= until {
        seen(show, at, -HOLD_M + mps * (at - leaves), 230.0, mps);
        at += 1.0;
    }
}

/// A show flown as planned until the aircraft is in the hold before the memorial pass.
fn in_the_hold() -> (Rehearsal, f64) {
    let mut show = Rehearsal::new();
    let inbound = show.planned("memorial", "inbound");
    show.fly_as_planned_until(inbound - 10.0);
    (show, inbound)
}

fn notices(show: &Rehearsal) -> Vec<String> {
    show.session
        .notices()
        .iter()
        .map(|(_, text)| text.clone())
        .collect()
}

#[test]
fn a_faster_run_in_nobody_has_marked_moves_the_pass_and_the_music() {
    let (mut show, inbound) = in_the_hold();
    let fast = 1.06 * PLANNED_MPS;
    let leaves = inbound + 12.0;
    let abeam = leaves + HOLD_M / fast;
    run_in(&mut show, leaves, fast, abeam - 20.0);
    let expected = show.expects("memorial", "abeam");
    assert!(
        (expected - abeam).abs() < 0.7,
        "expects {expected}, abeam {abeam}"
    );
    let mut at = abeam - 19.0;
    while at < abeam + 3.0 {
        seen(&mut show, at, fast * (at - abeam), 230.0, fast);
        at += 1.0;
    }
    let expected = show.expects("memorial", "abeam");
    assert!(
        (expected - abeam).abs() < 0.3,
        "expects {expected}, abeam {abeam}"
    );
    let start = show.starts("hymn")[0];
    assert!(
        (start + 48.0 - abeam).abs() < 3.0,
        "hymn at {start}, abeam {abeam}"
    );
    assert!(
        notices(&show)
            .iter()
            .any(|text| text.contains("solo is on its run-in to memorial abeam"))
    );
}

#[test]
fn a_keyed_mark_wins_over_any_position() {
    let (mut show, inbound) = in_the_hold();
    run_in(&mut show, inbound, PLANNED_MPS, inbound + 50.0);
    let abeam = inbound + 55.0;
    show.mark(MarkKind::Abeam, abeam);
    let marked = show.expects("memorial", "abeam");
    // Positions that have it on the run-in still, later and earlier, change nothing.
    for at in [abeam + 0.5, abeam + 1.5, abeam + 2.5] {
        seen(
            &mut show,
            at,
            -800.0 + PLANNED_MPS * (at - abeam),
            230.0,
            PLANNED_MPS,
        );
        assert!((show.expects("memorial", "abeam") - marked).abs() < 1e-6);
    }
}

#[test]
fn positions_that_contradict_a_marked_gate_are_not_used() {
    let (mut show, inbound) = in_the_hold();
    show.mark(MarkKind::Inbound, inbound);
    // Seen a whole two miles further back than it is, all the way.
    let further_back = |show: &mut Rehearsal, at: f64| {
        let along = -HOLD_M + PLANNED_MPS * (at - inbound) - 3_000.0;
        seen(show, at, along, 230.0, PLANNED_MPS);
    };
    let mut at = inbound + 20.0;
    let gate = inbound + (HOLD_M - 2.0 * 1852.0) / PLANNED_MPS;
    while at < gate {
        further_back(&mut show, at);
        at += 1.0;
    }
    show.mark(MarkKind::Gate, gate);
    let by_marks = show.expects("memorial", "abeam");
    while at < gate + 8.0 {
        further_back(&mut show, at);
        at += 1.0;
    }
    let abeam = inbound + HOLD_M / PLANNED_MPS;
    assert!((by_marks - abeam).abs() < 1.0, "{by_marks} {abeam}");
    assert!((show.expects("memorial", "abeam") - by_marks).abs() < 0.3);
}

#[test]
fn what_is_not_on_the_run_in_moves_nothing_and_one_that_leaves_it_is_said() {
    let (mut show, inbound) = in_the_hold();
    show.mark(MarkKind::Inbound, inbound);
    let expected = show.expects("memorial", "abeam");
    for (along, across, mps) in [
        (-5_000.0, 3_500.0, PLANNED_MPS),
        (-5_000.0, 230.0, -PLANNED_MPS),
        (5_000.0, 230.0, PLANNED_MPS),
        (-5_000.0, 230.0, 0.1 * PLANNED_MPS),
        (-HOLD_M - 6_000.0, 230.0, PLANNED_MPS),
    ] {
        let at = show.session.now().s() + 0.5;
        seen(&mut show, at, along, across, mps);
        assert!(
            (show.expects("memorial", "abeam") - expected).abs() < 1e-6,
            "{along} {across} {mps}"
        );
    }
    run_in(&mut show, inbound, PLANNED_MPS, inbound + 20.0);
    seen(&mut show, inbound + 21.0, -4_000.0, 4_000.0, PLANNED_MPS);
    seen(&mut show, inbound + 22.0, -4_000.0, 4_100.0, PLANNED_MPS);
    let said = notices(&show);
    let left: Vec<_> = said
        .iter()
        .filter(|text| text.contains("not on its run-in"))
        .collect();
    assert_eq!(left.len(), 1, "{said:?}");
}

#[test]
fn a_feed_that_ends_leaves_the_pass_to_be_seen() {
    let (mut show, inbound) = in_the_hold();
    run_in(&mut show, inbound, PLANNED_MPS, inbound + 30.0);
    let abeam = inbound + HOLD_M / PLANNED_MPS;
    show.until(abeam + 20.0);
    // Nobody has seen it: it is still to come.
    assert!(show.expects("memorial", "abeam") > abeam + 20.0);
    show.mark(MarkKind::Abeam, abeam + 20.5);
    assert!((show.expects("memorial", "abeam") - (abeam + 20.5)).abs() < 2.0);
}
