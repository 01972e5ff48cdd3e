//! A meet whose track does not play yet.

use super::{Means, Meeting, Way};
use crate::show::IfMissed;
use crate::sound::{Bend, Course};
use crate::units::{Instant, Span};

/// The way to play the track so that its hit falls on `wanted`, started no sooner than `earliest`; and what
/// becomes of the meet.
pub fn solve(means: &Means<'_>, wanted: Instant, earliest: Instant) -> (Way, Meeting) {
    let way = way(means, wanted, earliest);
    let mut meeting = means.meeting(&way, wanted);
    meeting.left_out = way.left_out && !meeting.met;
    (way, meeting)
}

/// One entry with so many bars that come again.
#[derive(Debug, Clone)]
struct Choice {
    course: Course,
    bars: u32,
    /// How much music there is from it to the hit.
    music: Span,
    /// What else it costs: bars left out, place in the list.
    cost: (u32, usize),
}

fn way(means: &Means<'_>, wanted: Instant, earliest: Instant) -> Way {
    let time = wanted - earliest;
    let (_, fastest) = means.rates();
    let choices = choices(means);
    let rate = |choice: &Choice| (choice.music.s() / time.s()).max(1.0);
    let exact = choices
        .iter()
        .filter(|choice| time > Span::ZERO && rate(choice) <= fastest + 1e-12)
        .min_by(|a, b| rate(a).total_cmp(&rate(b)).then(a.cost.cmp(&b.cost)));
    if let Some(choice) = exact {
        return begun(choice, rate(choice), wanted - choice.music, earliest);
    }
    let late = |choice: &Choice| choice.music / fastest - time;
    let nearest = choices
        .iter()
        .min_by(|a, b| late(a).cmp(&late(b)).then(a.cost.cmp(&b.cost)));
    let wanted_late = match nearest {
        Some(choice) if late(choice) <= means.meet.within => Some((choice, fastest)),
        Some(choice) if means.meet.if_missed == IfMissed::Nearest => Some((choice, fastest)),
        _ => choices
            .iter()
            .min_by_key(|choice| (choice.cost.1, choice.bars))
            .map(|choice| (choice, 1.0)),
    };
    match wanted_late {
        Some((choice, rate)) => Way {
            left_out: means.meet.if_missed == IfMissed::Fade,
            ..begun(choice, rate, earliest, earliest)
        },
        None => Way {
            start: earliest,
            course: Course::default(),
            left_out: false,
        },
    }
}

/// Every entry before the hit, with every number of bars up to those planned.
fn choices(means: &Means<'_>) -> Vec<Choice> {
    let entries = means.track.entries.iter().enumerate();
    let choices = entries.flat_map(|(place, &entry)| {
        let planned = means.planned_from(entry);
        (0..=planned).filter_map(move |bars| {
            let (course, music) = means.played_from(entry, bars)?;
            Some(Choice {
                course,
                bars,
                music,
                cost: (planned - bars, place),
            })
        })
    });
    choices.collect()
}

/// A choice as it is played: at `start` or, when bent, as early as can be.
fn begun(choice: &Choice, rate: f64, start: Instant, earliest: Instant) -> Way {
    let bend = (rate != 1.0).then_some(Bend {
        after: Span::ZERO,
        rate,
        over: Span::ZERO,
    });
    Way {
        start: start.max(earliest),
        course: Course {
            bends: bend.into_iter().collect(),
            ..choice.course.clone()
        },
        left_out: false,
    }
}
