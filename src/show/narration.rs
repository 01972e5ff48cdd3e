//! Words as they are written for somebody to say, and who says them.

use std::ops::Range;

use super::TimeExpression;
use super::sides::{OTHER_SIDE, SIDE, braces};
use crate::units::{Share, Span};

/// Who speaks: how fast, how steadily, and with what rests.
#[derive(Debug, Clone, PartialEq)]
pub struct Narrator {
    /// Words a minute between the rests.
    pub words_per_minute: f64,
    /// One standard deviation of the time a block takes, as a share of it.
    pub spread: Share,
    /// The rests.
    pub pauses: Pauses,
}

/// How long a voice rests at punctuation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pauses {
    /// At a comma.
    pub comma: Span,
    /// At a colon, a semicolon or a dash.
    pub clause: Span,
    /// At the end of a sentence.
    pub sentence: Span,
    /// Before a new paragraph.
    pub paragraph: Span,
}

/// A narrator nobody has listened to yet (common practice, no published source).
impl Default for Narrator {
    fn default() -> Self {
        Narrator {
            words_per_minute: 130.0,
            spread: Share::from_whole(0.06),
            pauses: Pauses {
                comma: Span::from_ms(250),
                clause: Span::from_ms(400),
                sentence: Span::from_ms(650),
                paragraph: Span::from_ms(1_200),
            },
        }
    }
}

/// Words, with what the document says in brackets between them.
#[derive(Debug, Clone, Default)]
pub struct Wording {
    /// As written, brackets included.
    pub text: String,
    /// The brackets, in order.
    pub asides: Vec<Aside>,
}

/// Something in brackets among words: `[pause 2 s]`, `[wait memorial.abeam]`.
#[derive(Debug, Clone)]
pub struct Aside {
    /// Bytes of the text, brackets included.
    pub range: Range<usize>,
    /// What is done there.
    pub what: Rest,
}

/// Why a voice rests in the middle of words.
#[derive(Debug, Clone)]
pub enum Rest {
    /// For so long, instead of the rest at the punctuation before it.
    Pause(Span),
    /// Until a point of the show; not at all where that has come already.
    Wait(TimeExpression),
}

impl Wording {
    /// Other words with the same brackets in the same order and no new braces but for the sides; `None` where
    /// that is not so, or nothing is left.
    pub fn reworded(&self, text: &str) -> Option<Wording> {
        let text = text.trim();
        let mut asides = Vec::with_capacity(self.asides.len());
        let mut from = 0;
        for aside in &self.asides {
            let bracket = self.text.get(aside.range.clone())?;
            let start = from + text.get(from..)?.find(bracket)?;
            from = start + bracket.len();
            asides.push(Aside {
                range: start..from,
                what: aside.what.clone(),
            });
        }
        let rests = text.matches("[pause").count() + text.matches("[wait").count();
        let sides = braces(text).all(|(_, within)| matches!(within, Some(SIDE | OTHER_SIDE)));
        let keeps = rests == asides.len() && sides && !text.is_empty();
        keeps.then(|| Wording {
            text: text.to_owned(),
            asides,
        })
    }

    /// The times waited for, in order.
    pub fn waits(&self) -> impl Iterator<Item = &TimeExpression> {
        self.asides.iter().filter_map(|aside| match &aside.what {
            Rest::Wait(time) => Some(time),
            Rest::Pause(_) => None,
        })
    }
}

/// Words with nothing in brackets.
impl From<&str> for Wording {
    fn from(text: &str) -> Self {
        Wording {
            text: text.into(),
            asides: Vec::new(),
        }
    }
}

/// How a hard name is said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pronunciation {
    /// As the texts write it.
    pub written: String,
    /// As it is said, syllables apart by hyphens: `noy-SHVAHN-stine`.
    pub said: String,
}
