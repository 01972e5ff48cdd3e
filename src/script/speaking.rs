//! How long a text takes to say, whole and phrase by phrase.

use std::ops::Range;

use super::chunks::Pause;
use super::spoken::{Part, parts};
use super::syllables::syllables;
use crate::units::Span;

/// Syllables in a word as rates count words: what running narration has on average (1.37 in the text of
/// `tests/reference/syllables.py`, counted in the CMU dictionary). So a text of long words and large
/// numbers is given the time it takes, and an ordinary one the time its count of words says.
const SYLLABLES_PER_WORD: f64 = 1.4;

/// Rests at punctuation, on top of the words (common practice, no published source): the narrator's
/// rate is that of the words between them.
const fn rest(pause: Pause) -> Span {
    Span::from_ms(match pause {
        Pause::None => 0,
        Pause::Comma => 250,
        Pause::Clause => 400,
        Pause::Sentence => 650,
        Pause::Paragraph => 1_200,
    })
}

/// A piece of a text that is said in one breath: up to the next punctuation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Phrase {
    /// Bytes of the text, punctuation included.
    pub range: Range<usize>,
    /// When its first word begins, from the beginning of the text.
    pub from: Span,
    /// When its last word is out.
    pub until: Span,
}

/// How long the text takes to say at `words_per_minute`, to the end of its last word.
/// A rate that is none, or below one word a minute, is taken as one.
pub fn speaking_time(text: &str, words_per_minute: f64) -> Span {
    phrases(text, words_per_minute)
        .last()
        .map_or(Span::ZERO, |phrase| phrase.until)
}

/// The text phrase by phrase, with the times at which each is said at `words_per_minute`.
pub fn phrases(text: &str, words_per_minute: f64) -> Vec<Phrase> {
    let pace = 60.0 / SYLLABLES_PER_WORD / words_per_minute.max(1.0);
    let mut phrases: Vec<Phrase> = Vec::new();
    let (mut said, mut rested) = (0, Span::ZERO);
    let mut open: Option<(usize, Span)> = None;
    for Part {
        range,
        said: words,
        pause,
        ..
    } in parts(text)
    {
        let at = |syllables: usize| Span::from_s(syllables as f64 * pace) + rested;
        let (start, from) = *open.get_or_insert((range.start, at(said)));
        said += syllables(&words);
        let phrase = Phrase {
            range: start..range.end,
            from,
            until: at(said),
        };
        if start == range.start {
            phrases.push(phrase);
        } else if let Some(last) = phrases.last_mut() {
            *last = phrase;
        }
        if pause != Pause::None {
            rested += rest(pause);
            open = None;
        }
    }
    phrases
}
