//! How faults speak: the nearest known name, and what was written, cut to a readable length.

/// Longest piece of the document repeated inside a message, in characters.
const LONGEST_QUOTE: usize = 48;

/// `text` as it can stand in a message: control characters escaped, the middle of a long one left out.
pub(super) fn quoted(text: &str) -> String {
    let shown: String = if text.chars().nth(LONGEST_QUOTE).is_some() {
        text.chars().take(LONGEST_QUOTE - 1).chain(['…']).collect()
    } else {
        text.to_owned()
    };
    let mut out = String::with_capacity(shown.len());
    for c in shown.chars() {
        if c.is_control() {
            out.extend(c.escape_debug());
        } else {
            out.push(c);
        }
    }
    out
}

/// The known word that `word` was probably meant to be.
pub(super) fn nearest<'k>(word: &str, known: &[&'k str]) -> Option<&'k str> {
    let length = word.chars().count();
    if length > LONGEST_QUOTE {
        return None;
    }
    let word = word.to_lowercase();
    known
        .iter()
        .map(|&other| (strsim::osa_distance(&word, &other.to_lowercase()), other))
        .min_by_key(|&(distance, _)| distance)
        .filter(|&(distance, _)| distance <= (length / 3).max(1) && distance < length)
        .map(|(_, other)| other)
}

/// What follows the number in an example: `kt cas` of `350 kt cas`; empty if no number leads.
pub(super) fn unit_of(example: &str) -> &str {
    let digits = example
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-')))
        .unwrap_or(example.len());
    if digits == 0 || example[digits..].contains(':') {
        return "";
    }
    example[digits..].trim()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_name_is_found_and_a_far_one_is_not() {
        assert_eq!(nearest("sped", &["height", "speed"]), Some("speed"));
        assert_eq!(
            nearest("Memorail", &["arrival", "memorial"]),
            Some("memorial")
        );
        assert_eq!(nearest("name", &["vamp", "file"]), None);
        assert_eq!(nearest("a", &["b"]), None);
        assert_eq!(nearest("zebra", &["height", "speed"]), None);
    }

    #[test]
    fn what_is_quoted_stays_short_and_printable() {
        assert_eq!(quoted("a\u{1b}b"), "a\\u{1b}b");
        assert_eq!(quoted(&"x".repeat(500)).chars().count(), LONGEST_QUOTE);
    }
}
