//! Notation: pitches by name, lengths in beats. `D5/1.5 E5/.5 -/1` is a dotted crotchet, a quaver and a crotchet's rest;
//! `D4+F4+A4/2` sounds together.

use super::wave::exp2;

/// One sounding event of a line.
pub struct Event {
    /// Beats from the line's start.
    pub beat: f64,
    /// Beats it is held.
    pub length: f64,
    /// Frequencies, hertz; none in a rest.
    pub hertz: Vec<f64>,
}

/// Reads a line of notation. The scores are part of the program, so a slip in one stops it with the word at fault.
pub fn line(text: &str) -> Vec<Event> {
    let mut beat = 0.0;
    text.split_whitespace()
        .filter(|word| *word != "|")
        .map(|word| {
            let (names, length) = word
                .split_once('/')
                .unwrap_or_else(|| panic!("{word}: a length in beats after a stroke is missing"));
            let length: f64 = length
                .parse()
                .unwrap_or_else(|_| panic!("{word}: {length} is no number of beats"));
            let hertz = if names == "-" {
                Vec::new()
            } else {
                chord(names)
            };
            let event = Event {
                beat,
                length,
                hertz,
            };
            beat += length;
            event
        })
        .collect()
}

/// Frequencies of pitches joined by `+`.
pub fn chord(names: &str) -> Vec<f64> {
    names.split('+').map(pitch).collect()
}

/// Equal-tempered frequency of a name such as `F#4` or `Bb3`, A4 = 440 Hz.
pub fn pitch(name: &str) -> f64 {
    let mut letters = name.chars();
    let step = match letters.next() {
        Some('C') => 0,
        Some('D') => 2,
        Some('E') => 4,
        Some('F') => 5,
        Some('G') => 7,
        Some('A') => 9,
        Some('B') => 11,
        _ => panic!("{name}: no such pitch"),
    };
    let rest = letters.as_str();
    let (bend, octave) = match rest.split_at(rest.len().saturating_sub(1)) {
        ("", octave) => (0, octave),
        ("#", octave) => (1, octave),
        ("b", octave) => (-1, octave),
        _ => panic!("{name}: no such pitch"),
    };
    let octave: i32 = octave
        .parse()
        .unwrap_or_else(|_| panic!("{name}: the octave is missing"));
    440.0 * exp2(f64::from((octave + 1) * 12 + step + bend - 69) / 12.0)
}

/// The same line an octave lower.
pub fn octave_lower(text: &str) -> String {
    let letters: Vec<char> = text.chars().collect();
    let mut lower = String::with_capacity(text.len());
    for (n, letter) in letters.iter().enumerate() {
        let ends_a_pitch = matches!(letters.get(n + 1), Some('/' | '+'));
        match letter.to_digit(10) {
            Some(octave) if ends_a_pitch => lower.push_str(&octave.saturating_sub(1).to_string()),
            _ => lower.push(*letter),
        }
    }
    lower
}

#[cfg(test)]
mod tests {
    use super::{line, octave_lower, pitch};

    #[test]
    fn pitches_are_those_of_equal_temperament_at_a_440() {
        // ISO 16 sets A at 440 Hz; middle C is nine semitones under it.
        let middle_c = 440.0 * 2f64.powf(-9.0 / 12.0);
        for (name, hertz) in [
            ("A4", 440.0),
            ("A2", 110.0),
            ("C4", middle_c),
            ("B#3", middle_c),
            ("Bb4", 440.0 * 2f64.powf(1.0 / 12.0)),
        ] {
            assert!(
                (pitch(name) / hertz - 1.0).abs() < 1e-9,
                "{name}: {}",
                pitch(name)
            );
        }
    }

    #[test]
    fn a_line_puts_each_event_after_the_last() {
        let events = line("D4/1.5 -/.5 | F#4+A4/2");
        let beats: Vec<(f64, f64, usize)> = events
            .iter()
            .map(|event| (event.beat, event.length, event.hertz.len()))
            .collect();
        assert_eq!(beats, [(0.0, 1.5, 1), (1.5, 0.5, 0), (2.0, 2.0, 2)]);
        assert_eq!(
            octave_lower("D4/1.5 -/.5 | F#4+A4/2"),
            "D3/1.5 -/.5 | F#3+A3/2"
        );
    }
}
