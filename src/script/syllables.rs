//! How much there is to say: syllables, from the dictionary and by rule for words it does not have, and letters.

use std::iter::Sum;

use super::dictionary::count;

/// Syllables and letters of an ordinary word of running narration (of the text in
/// `tests/reference/syllables.py`, counted in the CMU dictionary).
const ORDINARY: (f64, f64) = (1.37, 4.39);
/// How far the letters decide how long a word takes, the syllables the rest: `stretched` takes longer than
/// `area`. By what a synthesiser takes to read thirty paragraphs (`tests/speaking.rs`).
const BY_LETTERS: f64 = 0.6;
/// A syllable has at least as many: a letter said by its name has more sounds than one.
const LEAST_LETTERS: usize = 2;

/// What there is to say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Load {
    pub(super) syllables: usize,
    letters: usize,
}

impl Load {
    /// In ordinary words, as rates count them.
    pub(super) fn words(self) -> f64 {
        let (syllables, letters) = ORDINARY;
        (1.0 - BY_LETTERS) * self.syllables as f64 / syllables
            + BY_LETTERS * self.letters as f64 / letters
    }

    fn of(syllables: usize, word: &str) -> Load {
        let letters = word.chars().filter(|c| c.is_alphabetic()).count();
        Load {
            syllables,
            letters: letters.max(LEAST_LETTERS * syllables),
        }
    }
}

impl Sum for Load {
    fn sum<I: Iterator<Item = Load>>(loads: I) -> Load {
        loads.fold(Load::default(), |sum, load| Load {
            syllables: sum.syllables + load.syllables,
            letters: sum.letters + load.letters,
        })
    }
}

/// What a text as it is said comes to. Every word has at least one syllable.
pub(super) fn load(said: &str) -> Load {
    said.split(|c: char| !(c.is_alphabetic() || matches!(c, '\'' | '’')))
        .filter(|word| word.chars().any(char::is_alphabetic))
        .map(|word| Load::of(in_word(word), word))
        .sum()
}

/// A word written as it is to be said, `noy-SHVAHN-stine`: one syllable for each piece between hyphens.
/// Without a hyphen it is a word like any other.
pub(super) fn respelt(word: &str) -> Load {
    let pieces = word.split('-');
    match pieces.filter(|piece| !piece.is_empty()).count() {
        0 | 1 => load(word),
        pieces => Load::of(pieces, word),
    }
}

fn in_word(word: &str) -> usize {
    let word: String = word
        .chars()
        .flat_map(char::to_lowercase)
        .map(plain)
        .collect();
    count(word.trim_matches('\''))
}

/// A letter without its accent, as far as syllables go.
const fn plain(c: char) -> char {
    match c {
        '’' => '\'',
        'à' | 'á' | 'â' | 'ã' | 'ä' | 'å' | 'æ' => 'a',
        'ç' => 'c',
        'è' | 'é' | 'ê' | 'ë' => 'e',
        'ì' | 'í' | 'î' | 'ï' => 'i',
        'ñ' => 'n',
        'ò' | 'ó' | 'ô' | 'õ' | 'ö' | 'ø' => 'o',
        'ù' | 'ú' | 'û' | 'ü' => 'u',
        'ý' | 'ÿ' => 'y',
        c => c,
    }
}
