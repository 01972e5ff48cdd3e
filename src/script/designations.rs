//! Names with numbers in them: aircraft, marks, squadrons' aircraft, registrations, fractions, decades.

use super::chunks::is_upper;
use super::number::{cardinal, decade, digits, numeral, ordinal};
use super::symbols::{short_form, unit};

/// A Roman number of `I`, `V` and `X`: up to 39, as marks, wars and monarchs are counted.
pub(super) fn roman(text: &str) -> Option<u64> {
    let value = |c: char| match c {
        'I' => Some(1),
        'V' => Some(5),
        'X' => Some(10),
        _ => None,
    };
    let values: Vec<u64> = text.chars().map(value).collect::<Option<_>>()?;
    let signed = values.iter().enumerate().map(|(i, &this)| {
        let smaller = values.get(i + 1).is_some_and(|&next| next > this);
        if smaller { -(this as i64) } else { this as i64 }
    });
    let number = u64::try_from(signed.sum::<i64>()).ok()?;
    // Only the one right way to write it is a number: `IIX` is a name.
    (number > 0 && written(number) == text).then_some(number)
}

fn written(number: u64) -> String {
    const ONES: [&str; 10] = ["", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX"];
    let ones = ONES[(number % 10) as usize];
    "X".repeat((number / 10) as usize) + ones
}

/// Letters of an aircraft's registration, `G-LAKE`, `SE-ABC`, one by one.
pub(super) fn registration(text: &str) -> Option<String> {
    let (nation, own) = text.split_once('-')?;
    let letters = nation.chars().chain(own.chars());
    let fits = (1..=2).contains(&nation.len()) && (3..=4).contains(&own.len());
    (fits && letters.clone().all(|c| c.is_ascii_uppercase())).then(|| {
        let letters: Vec<String> = letters.map(String::from).collect();
        letters.join(" ")
    })
}

/// The number of a type of aircraft or engine, after its letter: `104` "one oh four", `111` "one eleven",
/// `200` "two hundred", `16` "sixteen".
fn type_number(run: &str) -> Option<String> {
    let number: u64 = run.parse().ok()?;
    if run.len() != 3 || run.starts_with('0') {
        return None;
    }
    let hundreds = cardinal(number / 100);
    Some(match number % 100 {
        0 => format!("{hundreds} hundred"),
        rest @ 1..10 => format!("{hundreds} oh {}", cardinal(rest)),
        rest => format!("{hundreds} {}", cardinal(rest)),
    })
}

/// `½`, `2½`, `3/4`.
pub(super) fn fraction(core: &str) -> Option<String> {
    let whole = core.trim_end_matches(['½', '¼', '¾']);
    let part = match &core[whole.len()..] {
        "½" => "a half",
        "¼" => "a quarter",
        "¾" => "three quarters",
        _ => {
            return Some(
                match core {
                    "1/2" => "one half",
                    "1/4" => "one quarter",
                    "3/4" => "three quarters",
                    "1/3" => "one third",
                    "2/3" => "two thirds",
                    _ => return None,
                }
                .into(),
            );
        }
    };
    match whole {
        "" => Some(part.into()),
        whole => Some(format!("{} and {part}", numeral(whole)?)),
    }
}

/// `21st`, `1940s`, `'40s`.
pub(super) fn numbered(core: &str) -> Option<String> {
    let body = core.trim_start_matches(['\'', '’']);
    let end = body.find(|c: char| !c.is_ascii_digit())?;
    let (number, ending) = body.split_at(end);
    let value: u64 = number.parse().ok()?;
    match ending {
        "st" | "nd" | "rd" | "th" if body == core => Some(ordinal(value)),
        "s" | "'s" | "’s"
            if value.is_multiple_of(10) && matches!(number.len(), 2 | 4) && value > 0 =>
        {
            Some(decade(value))
        }
        _ => None,
    }
}

/// Anything else with digits in it, run by run: `F-16`, `Mk2`, `30-year-old`, `6.5-litre`, `F-104`.
pub(super) fn mixed(core: &str) -> String {
    let mut words: Vec<String> = Vec::new();
    let mut rest = core;
    let mut after_letter = false;
    while let Some(first) = rest.chars().next() {
        let (run, after) = rest.split_at(run_end(rest, first));
        let kind = Kind::of(first);
        match kind {
            Kind::Digit => {
                let number = type_number(run).filter(|_| after_letter);
                words.push(
                    number
                        .or_else(|| numeral(run))
                        .unwrap_or_else(|| digits(run)),
                );
            }
            Kind::Letter => words.extend(letters(run, after.is_empty() && !words.is_empty())),
            Kind::Sign => words.extend(run.chars().filter_map(|c| match c {
                '&' => Some("and".to_owned()),
                '+' => Some("plus".to_owned()),
                '%' => Some("percent".to_owned()),
                '°' => Some("degrees".to_owned()),
                '×' => Some("by".to_owned()),
                _ => None,
            })),
        }
        after_letter = match kind {
            Kind::Letter => is_upper(run) && run.len() <= 3,
            Kind::Sign => after_letter && run == "-",
            Kind::Digit => false,
        };
        rest = after;
    }
    words.join(" ")
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Digit,
    Letter,
    Sign,
}

impl Kind {
    fn of(c: char) -> Kind {
        match c {
            c if c.is_ascii_digit() => Kind::Digit,
            c if c.is_alphabetic() || matches!(c, '\'' | '’') => Kind::Letter,
            _ => Kind::Sign,
        }
    }
}

/// Where the run of one kind that `text` begins with ends. `6.5` and `20,000` are one run.
fn run_end(text: &str, first: char) -> usize {
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    let ends = |&(i, c): &(usize, char)| {
        let inside = matches!(c, '.' | ',') && digit(text[i + 1..].chars().next());
        Kind::of(c) != Kind::of(first) && !(inside && Kind::of(first) == Kind::Digit)
    };
    let end = text.char_indices().find(ends);
    let end = end.map_or(text.len(), |(end, _)| end);
    let whole = numeral(&text[..end]).is_some() || Kind::of(first) != Kind::Digit;
    match text[..end].find(['.', ',']).filter(|_| !whole) {
        Some(cut) => cut,
        None => end,
    }
}

/// A run of letters beside digits: a unit, a short form, letters one by one, or a word.
fn letters(run: &str, last: bool) -> Vec<String> {
    let bare = run.trim_matches(['\'', '’']);
    if let Some(unit) = unit(bare, true).filter(|_| last && bare.len() > 1) {
        return vec![unit.to_owned()];
    }
    if bare.len() <= 3 && is_upper(bare) {
        return match bare {
            "WW" => vec!["world war".to_owned()],
            _ => bare.chars().map(String::from).collect(),
        };
    }
    let full = short_form(bare).unwrap_or(bare).to_owned();
    if full.is_empty() {
        Vec::new()
    } else {
        vec![full]
    }
}
