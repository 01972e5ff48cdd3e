//! What holds of every journal: it is read back as it was written, and a show killed anywhere goes on as if it
//! had not been.

use abeam::live::journal::{self, Line, Record};
use abeam::live::{Effect, Event, Session, What};
use abeam::units::Instant;
use proptest::prelude::*;

use crate::anything::{any_line, happening};
use crate::{event, header, line, opened, rehearsal, written};

fn in_order<T>(mut list: Vec<(f64, T)>) -> Vec<(f64, T)> {
    list.sort_by(|a, b| a.0.total_cmp(&b.0));
    list
}

fn rehearsal_session() -> Session {
    let (show, plan) = rehearsal::plan("high");
    Session::new(show, plan, Instant::from_s(-120.0))
}

fn apply_all(session: &mut Session, events: impl IntoIterator<Item = Event>) -> Vec<Effect> {
    let effects = events.into_iter().map(|event| session.apply(&event));
    effects.collect::<Vec<_>>().concat()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn every_line_is_read_back_as_it_was_written(
        lines in prop::collection::vec(any_line(), 0..60),
    ) {
        let (_folder, path) = written(&lines);
        let record = journal::read(&path).expect("a journal");
        prop_assert_eq!(record, Record { header: header(), lines, torn: 0 });
    }

    #[test]
    fn a_kill_anywhere_doubles_and_loses_nothing(
        events in prop::collection::vec(happening(), 0..25).prop_map(in_order),
        ticks in prop::collection::vec(-120.0..600.0, 0..60),
        killed in -119.0..590.0_f64,
        away in 0.0..60.0_f64,
    ) {
        as_if_not_killed(&events, &ticks, killed, away)?;
    }
}

/// A track started by hand, and a kill that outlasts the show: it was begun twice once.
#[test]
fn a_track_begun_by_hand_long_before_a_kill_is_not_begun_again() {
    let hymn = What::StartTrack {
        track: "hymn".into(),
    };
    as_if_not_killed(&[(0.0, hymn)], &[], 577.602, 47.801).expect("the same show");
}

/// A show with `events` and looked at at `ticks`, killed at a second and away for some, is the same show uncut.
fn as_if_not_killed(
    events: &[(f64, What)],
    ticks: &[f64],
    killed: f64,
    away: f64,
) -> Result<(), TestCaseError> {
    // While the program is away nothing is keyed.
    let keyed = events
        .iter()
        .filter(|(s, _)| !(killed..=killed + away).contains(s));
    let all: Vec<(f64, What)> = in_order(
        ticks
            .iter()
            .map(|&s| (s, What::Tick))
            .chain(keyed.cloned())
            .collect(),
    );
    // Both are looked at when whoever is away longest is back.
    let end = event(f64::max(600.0, killed + away), What::Tick);
    let mut whole = rehearsal_session();
    let live = all.iter().map(|(s, what)| event(*s, what.clone()));
    let uncut = apply_all(&mut whole, live.chain([end.clone()]));

    // The same, killed: what was keyed before is in the journal, ticks are not.
    let mut lines = vec![opened(-120.0)];
    let mut session = rehearsal_session();
    let mut done = Vec::new();
    for (s, what) in all.iter().filter(|(s, _)| *s < killed) {
        let event = event(*s, what.clone());
        if *what != What::Tick {
            lines.push(line(event.clone()));
        }
        let effects = session.apply(&event);
        lines.extend(effects.iter().map(|effect| Line::Sent(effect.id)));
        done.extend(effects);
    }
    let (_folder, path) = written(&lines);
    let record = journal::read(&path).expect("a journal");
    let mut session = rehearsal_session();
    let again = record
        .events()
        .cloned()
        .chain([event(killed + away, What::Tick)]);
    let again = apply_all(&mut session, again);
    prop_assert_eq!(&again[..done.len()], &done[..]);
    let last = record.last_sent();
    done.extend(again.into_iter().filter(|effect| effect.id > last));
    let rest = all.iter().filter(|(s, _)| *s > killed + away);
    let rest = rest.map(|(s, what)| event(*s, what.clone()));
    done.extend(apply_all(&mut session, rest.chain([end])));

    prop_assert_eq!(done, uncut);
    prop_assert_eq!(session.tracks(), whole.tracks());
    prop_assert_eq!(session.calls(), whole.calls());
    prop_assert_eq!(session.blocks(), whole.blocks());
    prop_assert_eq!(session.marks(), whole.marks());
    prop_assert_eq!(session.programme(), whole.programme());
    prop_assert_eq!(session.mode(), whole.mode());
    prop_assert_eq!(session.hack(), whole.hack());
    prop_assert_eq!(session.notices(), whole.notices());
    Ok(())
}
