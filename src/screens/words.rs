//! Which words are now, and which come next.

use std::borrow::Cow;
use std::ops::Range;

use super::text::on_one_line;
use crate::live::session::BlockCue;
use crate::live::{CueState, Session};
use crate::script::Reader;
use crate::show::Wording;
use crate::timeline::{CueTime, Version};
use crate::units::{Instant, Span};

/// Longer than any show.
const NEVER: Span = Span::from_ms(86_400_000);

/// The block being said.
pub(super) fn speaking(session: &Session) -> Option<usize> {
    let running = |cue: &BlockCue| cue.state == CueState::Running;
    session.blocks().iter().position(running)
}

/// The block somebody should begin: the one due longest.
pub(super) fn due(session: &Session) -> Option<usize> {
    let first = queue(session).first().copied();
    first.filter(|&block| session.blocks()[block].state == CueState::Due)
}

/// Blocks still to be said: those due, those with a time, those held up, those for any time.
pub(super) fn queue(session: &Session) -> Vec<usize> {
    let cues = session.blocks().iter().zip(&session.layout().blocks);
    let mut queue: Vec<(u8, Instant, usize)> = cues
        .enumerate()
        .filter_map(|(i, (cue, laid))| {
            let (class, at) = match (cue.state, laid.starts) {
                (CueState::Ahead, _) if laid.version == Version::LeftOut => return None,
                (CueState::Due, at) => (0, at.instant().unwrap_or_default()),
                (CueState::Ahead, CueTime::At(at)) => (1, at),
                (CueState::Ahead, CueTime::Held) => (2, Instant::ZERO),
                (CueState::Ahead, CueTime::Free) => (3, Instant::ZERO),
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

/// The words of a block, on one line, in the version that is, or would be, said.
pub(super) fn words(session: &Session, block: usize) -> (String, Version) {
    let (words, version) = written(session, block);
    (on_one_line(&words.text), version)
}

/// The words of a block as they are said today, in the lines of the document.
fn written(session: &Session, block: usize) -> (Cow<'_, Wording>, Version) {
    let version = session.blocks()[block]
        .version
        .unwrap_or(session.layout().blocks[block].version);
    (session.block_words(block, version), version)
}

/// The words of a block on one line, and the bytes of each phrase of them with when it is out, after its
/// first word.
pub(super) fn phrased(session: &Session, block: usize) -> (String, Vec<(Range<usize>, Span)>) {
    let (words, _) = written(session, block);
    let text = &words.text;
    let phrases = Reader::of(session.show(), &session.show().blocks[block]).phrases(&words);
    let pieces = &session.layout().pieces[block];
    let waited = |piece: usize| match (pieces.get(piece), pieces.first()) {
        (Some((goes_on, _)), Some((first, _))) => *goes_on - *first,
        // Nobody knows when it goes on.
        _ => NEVER,
    };
    let mut line = String::new();
    let mut said = Vec::new();
    let mut from = 0;
    for (i, phrase) in phrases.iter().enumerate() {
        let last = i + 1 == phrases.len();
        let until = if last { text.len() } else { phrase.range.end };
        let piece = on_one_line(&text[from..until]);
        from = until;
        if !line.is_empty() && !piece.is_empty() {
            line.push(' ');
        }
        let start = line.len();
        line.push_str(&piece);
        said.push((start..line.len(), waited(phrase.piece) + phrase.until));
    }
    (line, said)
}
