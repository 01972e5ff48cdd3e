//! How a track is played through by its document: what is cut out of it, what goes round.

use super::meet::Round;
use crate::show::{Passage, Track};
use crate::sound::{Course, Join};
use crate::units::Span;

/// What loops goes round for this long at the most; its end is always stated, or a hand's.
const GOES_ROUND: Span = Span::from_ms(3_600_000);

/// A track from its preferred entry, with the bars that are planned to come again.
pub fn as_planned(track: &Track) -> Course {
    let entry = track.entries.first().copied().unwrap_or_default();
    let round = Round::of(track).filter(|round| entry < round.to);
    from_entry(
        track,
        entry,
        &again(round, round.map_or(0, |round| round.planned)),
    )
}

/// A track from `entry` on, with `again`, the joins of its vamp.
pub fn from_entry(track: &Track, entry: Span, again: &[Join]) -> Course {
    let mut course = going_on(track, Course::plain(entry), again);
    if let Some(looped) = track.looped.filter(|looped| entry < looped.to) {
        go_round(track, looped, &mut course);
    }
    course
}

/// A course of which only what is settled is there, going on: past its cuts, with `again`, the joins of its vamp.
pub fn going_on(track: &Track, settled: Course, again: &[Join]) -> Course {
    let here = settled.joins.last().map_or(settled.entry, Join::goes_on);
    let ahead = track.cuts.iter().filter(|cut| cut.from >= here);
    let vamp = again.first().map(|join| join.at);
    let (before, after): (Vec<&Passage>, Vec<_>) =
        ahead.partition(|cut| vamp.is_some_and(|vamp| cut.from < vamp));
    let mut course = settled;
    course.joins.extend(before.into_iter().map(left_out));
    course.joins.extend(again);
    course.joins.extend(after.into_iter().map(left_out));
    course
}

/// The joins of `bars` bars of a vamp.
pub fn again(round: Option<Round>, bars: u32) -> Vec<Join> {
    round.map_or(Vec::new(), |round| round.joins(bars))
}

fn left_out(cut: &Passage) -> Join {
    Join {
        at: cut.from,
        back: cut.from - cut.to,
        bars: 0,
    }
}

/// Goes round `looped` for as long as anybody may want it.
fn go_round(track: &Track, looped: Passage, course: &mut Course) {
    let back = Join {
        at: looped.to,
        back: looped.to - looped.from,
        bars: 0,
    };
    let inside = track.cuts.iter().filter(|cut| looped.holds(cut.from));
    let mut round: Vec<Join> = inside.map(left_out).collect();
    round.push(back);
    let length: Span = round.iter().map(|join| join.back).sum();
    let rounds = (GOES_ROUND.us() / length.us().max(1)).max(1) as usize;
    course.joins.retain(|join| join.at < looped.to);
    course.joins.push(back);
    course
        .joins
        .extend(round.iter().cycle().take(round.len() * rounds));
}
