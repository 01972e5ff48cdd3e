//! How long words take to say, whole and phrase by phrase.

use std::ops::Range;

use super::chunks::Pause;
use super::spoken::{Part, hard_names, parts};
use super::syllables::Load;
use crate::show::{Block, Narrator, Pauses, Pronunciation, Rest, Show, Side, Wording};
use crate::units::Span;

impl Pauses {
    /// The rest of this kind.
    const fn after(&self, pause: Pause) -> Span {
        match pause {
            Pause::None => Span::ZERO,
            Pause::Comma => self.comma,
            Pause::Clause => self.clause,
            Pause::Sentence => self.sentence,
            Pause::Paragraph => self.paragraph,
        }
    }
}

impl Narrator {
    /// Seconds an ordinary word. A rate that is none, or below one word a minute, is taken as one.
    pub(super) fn pace(&self) -> f64 {
        60.0 / self.words_per_minute.max(1.0)
    }
}

/// A piece of a text that is said in one breath: up to the next punctuation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Phrase {
    /// Bytes of the text, punctuation included.
    pub range: Range<usize>,
    /// How many waits come before it.
    pub piece: usize,
    /// When its first word begins, from the beginning of its piece.
    pub from: Span,
    /// When its last word is out, from the beginning of its piece.
    pub until: Span,
}

/// How long words take: piece by piece between the waits in them.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Each piece from its first word to its last, rests included, to the tenth of a second; one more than there are
    /// waits.
    pub pieces: Vec<Span>,
    /// Syllables of all of it.
    pub syllables: usize,
    /// All of it in ordinary words: long ones count for more, short ones for less.
    pub words: f64,
    /// Rests in all of it, waits not counted.
    pub rests: Span,
}

/// Words without waits that take so long.
impl From<Span> for Reading {
    fn from(lasts: Span) -> Self {
        Reading {
            pieces: vec![lasts],
            syllables: 0,
            words: 0.0,
            rests: Span::ZERO,
        }
    }
}

impl Reading {
    /// How long all its pieces take, waits not counted.
    pub fn lasts(&self) -> Span {
        self.pieces.iter().copied().sum()
    }
}

/// Somebody who reads words out: a narrator, and how hard names are said.
#[derive(Debug, Clone)]
pub struct Reader<'s> {
    narrator: &'s Narrator,
    hard: Vec<&'s Pronunciation>,
}

impl<'s> Reader<'s> {
    /// The show's narrator reading one of its blocks.
    pub fn of(show: &'s Show, block: &'s Block) -> Self {
        Reader {
            narrator: &show.narrator,
            hard: block.say.iter().chain(&show.say).collect(),
        }
    }

    /// A narrator who knows no hard names.
    pub fn new(narrator: &'s Narrator) -> Self {
        Reader {
            narrator,
            hard: Vec::new(),
        }
    }

    /// The words phrase by phrase.
    pub fn phrases(&self, words: &Wording) -> Vec<Phrase> {
        self.read(words).0
    }

    /// Every hard name in a text: the byte after it, and how it is said.
    pub fn hard_names(&self, text: &str) -> Vec<(usize, String)> {
        hard_names(text, &self.hard)
    }

    /// How long the words take.
    pub fn reading(&self, words: &Wording) -> Reading {
        self.read(words).1
    }

    fn read(&self, words: &Wording) -> (Vec<Phrase>, Reading) {
        let mut voice = Voice {
            reader: self,
            phrases: Vec::new(),
            piece: 0,
            said: Load::default(),
            rested: Span::ZERO,
            rest: Span::ZERO,
            open: false,
        };
        let mut reading = Reading {
            pieces: Vec::new(),
            syllables: 0,
            words: 0.0,
            rests: Span::ZERO,
        };
        let mut from = 0;
        for aside in &words.asides {
            voice.say(&words.text, from..aside.range.start);
            from = aside.range.end;
            match &aside.what {
                Rest::Pause(span) => voice.pause(*span),
                Rest::Wait(_) => voice.end_piece(&mut reading),
            }
        }
        voice.say(&words.text, from..words.text.len());
        let phrases = std::mem::take(&mut voice.phrases);
        voice.end_piece(&mut reading);
        (phrases, reading)
    }
}

/// A voice on its way through a text.
struct Voice<'r> {
    reader: &'r Reader<'r>,
    phrases: Vec<Phrase>,
    piece: usize,
    /// Words of this piece so far.
    said: Load,
    /// Rests of this piece so far, between words that are said.
    rested: Span,
    /// The rest before the next word.
    rest: Span,
    /// Whether the last phrase goes on.
    open: bool,
}

impl Voice<'_> {
    /// Says a stretch of the text.
    fn say(&mut self, text: &str, range: Range<usize>) {
        let Some(stretch) = text.get(range.clone()) else {
            return;
        };
        for part in parts(stretch, &self.reader.hard) {
            let here = part.range.start + range.start..part.range.end + range.start;
            self.word(&part, here);
        }
    }

    fn word(&mut self, part: &Part<'_>, here: Range<usize>) {
        if !self.open {
            self.rested += std::mem::take(&mut self.rest);
            let now = self.now();
            self.phrases.push(Phrase {
                range: here.clone(),
                piece: self.piece,
                from: now,
                until: now,
            });
        }
        self.said = [self.said, part.load].into_iter().sum();
        let now = self.now();
        if let Some(phrase) = self.phrases.last_mut() {
            phrase.range.end = here.end;
            phrase.until = now;
        }
        self.rest = self.reader.narrator.pauses.after(part.pause);
        self.open = part.pause == Pause::None;
    }

    /// How long this piece has taken.
    fn now(&self) -> Span {
        Span::from_s(self.said.words() * self.reader.narrator.pace()) + self.rested
    }

    fn pause(&mut self, span: Span) {
        self.rest = self.rest.max(span);
        self.open = false;
    }

    fn end_piece(&mut self, reading: &mut Reading) {
        reading.pieces.push(to_the_tenth(self.now()));
        reading.syllables += self.said.syllables;
        reading.words += self.said.words();
        reading.rests += self.rested;
        self.piece += 1;
        (self.said, self.rested, self.rest) = (Load::default(), Span::ZERO, Span::ZERO);
        self.open = false;
    }
}

/// Nobody reads to the hundredth of a second. In tenths many ways through a script come to the same instant, which is
/// what makes the best of all of them quick to find.
fn to_the_tenth(lasts: Span) -> Span {
    const TENTH: i64 = 100_000;
    let tenths = (lasts.us() + TENTH / 2).div_euclid(TENTH);
    let least = i64::from(lasts > Span::ZERO);
    Span::from_us(tenths.max(least) * TENTH)
}

/// How long each block takes, full and short.
pub fn readings(show: &Show) -> Vec<(Reading, Option<Reading>)> {
    let blocks = show.blocks.iter();
    blocks.map(|block| readings_of(show, block)).collect()
}

/// How long one block takes, full and short.
pub fn readings_of(show: &Show, block: &Block) -> (Reading, Option<Reading>) {
    let reader = Reader::of(show, block);
    // Either side takes as long, to a fraction of a syllable.
    let read = |words: &Wording| reader.reading(&words.with_sides(Side::Left));
    (read(&block.text), block.short.as_ref().map(read))
}

/// How long a text without brackets takes to say, to the end of its last word.
pub fn speaking_time(text: &str, narrator: &Narrator) -> Span {
    let phrases = Reader::new(narrator).phrases(&text.into());
    phrases.last().map_or(Span::ZERO, |last| last.until)
}
