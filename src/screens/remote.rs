//! The two keys of a presenter's remote, and what they do to the words.

use super::words;
use crate::live::{Session, What};
use crate::units::{Instant, Span};

/// A key that comes within this after the words have moved on by themselves is meant for that move.
const SAME_MOVE: Span = Span::from_ms(1_000);
/// Words are not ended sooner than this after they were begun: a key that bounces ends nothing.
const LEAST_SAID: Span = Span::from_ms(2_000);

/// What waits for a time of the show goes on before that only where the key comes again within this.
const TWICE: Span = Span::from_ms(10_000);

/// The key of a presenter's remote: begins the due or next words, goes on to the next phrase of those being
/// said, and ends them at the last phrase, or where the narrator must stop. `asked` is when the key last came while
/// words waited for a time of the show.
pub(super) fn on(session: &Session, asked: &mut Option<Instant>) -> Option<What> {
    let Some(block) = session.speaking() else {
        let next = words::queue(session).first().copied()?;
        let block = session.show().blocks[next].id.clone();
        return Some(What::BeginBlock { block });
    };
    let now = session.now();
    if now - session.blocks()[block].since? < LEAST_SAID {
        return None;
    }
    let waits = session.waiting().filter(|waiting| waiting.time.is_some());
    let before = asked.take().filter(|_| waits.is_some());
    if waits.is_some() {
        if before.is_none_or(|before| now - before > TWICE) {
            *asked = Some(now);
            return None;
        }
        let phrase = session.place()?.phrase;
        return Some(What::Read { phrase });
    }
    let overdue = session.stop().is_some_and(|(stop, _)| stop <= now);
    if overdue || words::must_be_quiet(session).is_some() {
        return Some(What::EndBlock);
    }
    let place = session.place()?;
    let moved = !place.keyed && now - place.since < SAME_MOVE;
    // A key before its first word begins it.
    let begins = place.share.is_none_or(|share| moved && share < 0.5);
    Some(match (begins, place.last) {
        (true, _) => What::Read {
            phrase: place.phrase,
        },
        (false, true) => What::EndBlock,
        (false, false) => What::Read {
            phrase: place.phrase + 1,
        },
    })
}

/// The other key of a presenter's remote: back to the phrase before.
pub(super) fn back(session: &Session) -> Option<What> {
    let phrase = session.place()?.phrase.saturating_sub(1);
    Some(What::Read { phrase })
}
