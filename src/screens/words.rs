//! Which words are now, and which come next.

use crate::live::{CueState, Session};
use crate::timeline::CueTime;
use crate::units::Instant;

/// The block somebody should begin: the one due longest.
pub(super) fn due(session: &Session) -> Option<usize> {
    let first = queue(session).first().copied();
    first.filter(|&block| session.blocks()[block].state == CueState::Due)
}

/// Blocks still to be said: those due, those with a time, those held up. The pool is no part of it.
pub(super) fn queue(session: &Session) -> Vec<usize> {
    let cues = session.blocks().iter().zip(&session.layout().blocks);
    let mut queue: Vec<(u8, Instant, usize)> = cues
        .enumerate()
        .filter_map(|(i, (cue, laid))| {
            let (class, at) = match (cue.state, laid.starts) {
                (CueState::Ahead, _) if !laid.is_said() => return None,
                (CueState::Due, at) => (0, at.instant().unwrap_or_default()),
                (CueState::Ahead, CueTime::At(at)) => (1, at),
                (CueState::Ahead, CueTime::Held) => (2, Instant::ZERO),
                _ => return None,
            };
            Some((class, at, i))
        })
        .collect();
    queue.sort_unstable();
    queue.into_iter().map(|(_, _, block)| block).collect()
}

/// Why nobody may speak now, and until when.
pub(super) fn must_be_quiet(session: &Session) -> Option<(&'static str, Instant)> {
    let silences = session.silences().iter().zip(&session.layout().silences);
    let silence = silences
        .filter(|(cue, _)| cue.state == CueState::Running)
        .filter_map(|(_, (_, until))| until.instant())
        .max();
    let hush = session.hush_until();
    match (hush, silence) {
        (Some(hush), silence) if silence.is_none_or(|until| hush >= until) => {
            Some(("HUSH, too loud to talk over", hush))
        }
        (_, Some(until)) => Some(("SILENCE", until)),
        _ => None,
    }
}
