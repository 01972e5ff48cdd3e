//! Where and when a track starts so that its hit falls on an instant of flight.

use crate::show::{IfMissed, Meet, Track};
use crate::units::{Instant, Span};

/// What becomes of a meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Meeting {
    /// Where in the track it begins.
    pub entry: Span,
    /// When it begins.
    pub start: Instant,
    /// When the hit should fall.
    pub wanted: Instant,
    /// How much later than that it falls; negative is earlier.
    pub miss: Span,
    /// Whether that is within what the document allows.
    pub met: bool,
    /// Whether the track is left out because it would miss (`if_missed = "fade"`).
    pub left_out: bool,
}

/// The start that puts the hit on `wanted`: the first entry that need not start before `earliest`.
/// Where none will do, what `if_missed` says.
pub fn solve(track: &Track, meet: &Meet, wanted: Instant, earliest: Instant) -> Meeting {
    let entries = || {
        track
            .entries
            .iter()
            .copied()
            .filter(|entry| *entry <= meet.hit_at)
    };
    let on_time = entries()
        .map(|entry| (entry, wanted - (meet.hit_at - entry)))
        .find(|&(_, start)| start >= earliest);
    if let Some((entry, start)) = on_time {
        return meeting(meet, entry, start, wanted);
    }
    let preferred = entries().next().unwrap_or(Span::ZERO);
    let entry = match meet.if_missed {
        IfMissed::Late | IfMissed::Fade => preferred,
        // The latest entry is the least late.
        IfMissed::Nearest => entries().max().unwrap_or(preferred),
    };
    let late = meeting(meet, entry, earliest, wanted);
    Meeting {
        left_out: meet.if_missed == IfMissed::Fade && !late.met,
        ..late
    }
}

/// What a track begun at `start` from `entry` makes of its meet.
pub fn meeting(meet: &Meet, entry: Span, start: Instant, wanted: Instant) -> Meeting {
    let miss = start + (meet.hit_at - entry) - wanted;
    Meeting {
        entry,
        start,
        wanted,
        miss,
        met: miss.abs() <= meet.within,
        left_out: false,
    }
}
