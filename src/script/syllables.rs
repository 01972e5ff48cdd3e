//! Syllables, by groups of vowels: near enough to time a sentence, not to teach a word.

/// Syllables of a text as it is said. Every word has at least one.
pub(super) fn syllables(said: &str) -> usize {
    said.split(|c: char| !(c.is_alphabetic() || matches!(c, '\'' | '’')))
        .filter(|word| word.chars().any(char::is_alphabetic))
        .map(in_word)
        .sum()
}

fn in_word(word: &str) -> usize {
    let letters: Vec<char> = word
        .chars()
        .flat_map(char::to_lowercase)
        .filter(|c| c.is_alphabetic())
        .map(plain)
        .collect();
    if letters == ['w'] {
        return 3; // double-u
    }
    let groups = letters
        .iter()
        .enumerate()
        .filter(|&(i, c)| vowel(*c) && (i == 0 || !vowel(letters[i - 1]) || parted(&letters, i)))
        .count();
    groups
        .saturating_sub(usize::from(silent_end(&letters)))
        .max(1)
}

/// Whether the vowel at `i` begins a syllable of its own after another vowel: `radi-o`, `go-ing`,
/// but not `sta-tion`, `so-cial`.
fn parted(letters: &[char], i: usize) -> bool {
    let before = i.checked_sub(2).map(|j| letters[j]);
    match (letters[i - 1], letters[i]) {
        ('i', 'a' | 'o' | 'u') => !matches!(before, Some('t' | 's' | 'c' | 'g' | 'x')),
        ('e', 'o') | ('u', 'a') => !matches!(before, Some('q' | 'g' | 'b' | 'j' | 'l' | 'r')),
        ('o' | 'e' | 'u', 'i') => letters[i + 1..].starts_with(&['n', 'g']),
        ('y', after) => i > 1 && after != 'e',
        _ => false,
    }
}

/// Whether the last group of vowels is silent: `like`, `likes`, `turned`, `called`, but not `table`,
/// `metres`, `hundred`, `started`.
fn silent_end(letters: &[char]) -> bool {
    match letters {
        [.., a, b @ ('l' | 'r'), 'e'] | [.., a, b @ ('l' | 'r'), 'e', 's' | 'd']
            if !vowel(*a) && a != b =>
        {
            false
        }
        [.., 't' | 'd', 'e', 'd'] => false,
        [.., 's' | 'z' | 'x' | 'c' | 'g', 'e', 's'] | [.., 'c' | 's', 'h', 'e', 's'] => false,
        [.., _, b, 'e'] | [.., _, b, 'e', 's' | 'd'] => !vowel(*b),
        _ => false,
    }
}

const fn vowel(c: char) -> bool {
    matches!(c, 'a' | 'e' | 'i' | 'o' | 'u' | 'y')
}

/// A letter without its accent, as far as vowels go.
const fn plain(c: char) -> char {
    match c {
        'à' | 'á' | 'â' | 'ã' | 'ä' | 'å' | 'æ' => 'a',
        'è' | 'é' | 'ê' | 'ë' => 'e',
        'ì' | 'í' | 'î' | 'ï' => 'i',
        'ò' | 'ó' | 'ô' | 'õ' | 'ö' | 'ø' => 'o',
        'ù' | 'ú' | 'û' | 'ü' => 'u',
        'ý' | 'ÿ' => 'y',
        c => c,
    }
}
