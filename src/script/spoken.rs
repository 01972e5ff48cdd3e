//! A text as it is said: numerals, units, clock times, years and abbreviations read out.

use std::ops::Range;

use super::chunks::{Chunk, Pause, chunks, is_upper};
use super::number::{all_digits, cardinal, decade, digits, numeral, ordinal, year};
use super::symbols::{currency, initials, short_form, unit};

/// The text as a narrator says it. Punctuation stays; each line break becomes a space, each empty line
/// a line break.
///
/// ```
/// # use abeam::script::spoken;
/// assert_eq!(spoken("In 1987, at 600 kt!"), "In nineteen eighty-seven, at six hundred knots!");
/// ```
pub fn spoken(text: &str) -> String {
    let mut out = String::with_capacity(text.len() * 2);
    for part in parts(text) {
        if !out.is_empty() && !out.ends_with('\n') {
            out.push(' ');
        }
        for piece in [part.opening, part.said.as_str(), part.closing] {
            out.push_str(piece);
        }
        if part.dash {
            out.push_str(" –");
        }
        if part.pause == Pause::Paragraph {
            out.push('\n');
        }
    }
    out.truncate(out.trim_end().len());
    out
}

/// A word, or a numeral with its unit, and what stands around it.
pub(super) struct Part<'t> {
    /// Bytes of the text, punctuation included.
    pub(super) range: Range<usize>,
    /// The words said.
    pub(super) said: String,
    pub(super) pause: Pause,
    opening: &'t str,
    closing: &'t str,
    /// Whether a dash follows.
    dash: bool,
}

/// Splits a text into what is said.
pub(super) fn parts(text: &str) -> Vec<Part<'_>> {
    let chunks = chunks(text);
    let mut parts: Vec<Part<'_>> = Vec::with_capacity(chunks.len());
    let mut rest = chunks.as_slice();
    while let Some((chunk, after)) = rest.split_first() {
        let taken = match chunk.core {
            "" => Vec::new(),
            _ => say(chunk, after),
        };
        let Some((last, said)) = taken
            .last()
            .zip(Some(&taken))
            .map(|(last, said)| (last.1, said))
        else {
            silent(chunk, parts.last_mut());
            rest = after;
            continue;
        };
        let words: Vec<&str> = said.iter().map(|(word, _)| word.as_str()).collect();
        parts.push(Part {
            range: chunk.range.start..last.range.end,
            said: words.join(" "),
            pause: last.pause(),
            opening: chunk.opening,
            closing: match last.short() {
                true => last.closing.trim_start_matches('.'),
                false => last.closing,
            },
            dash: last.dash,
        });
        rest = rest.get(said.len()..).unwrap_or_default();
    }
    parts
}

/// A chunk that is not said: a dash on its own, stars between paragraphs. It still makes a pause.
fn silent(chunk: &Chunk<'_>, before: Option<&mut Part<'_>>) {
    let Some(before) = before else { return };
    let dash = chunk.dash || chunk.opening.contains(['-', '–', '—']);
    before.dash |= dash && before.pause < Pause::Clause;
    before.pause = before
        .pause
        .max(if dash { Pause::Clause } else { Pause::None });
    before.pause = before.pause.max(chunk.pause());
}

/// What is said of this chunk and perhaps of those after it that belong to it, one entry for each.
/// Nothing if it is silent.
fn say<'c, 't>(chunk: &'c Chunk<'t>, after: &'c [Chunk<'t>]) -> Vec<(String, &'c Chunk<'t>)> {
    let next = after.first().filter(|_| chunk.open());
    let next_unit = |one| next.and_then(|next| Some((unit(next.core, one)?, next)));
    if let Some(amount) = Amount::read(chunk.core) {
        let one = amount.is_one();
        if let Some((unit, next)) = next_unit(one) {
            return vec![(amount.counted(), chunk), (unit.to_owned(), next)];
        }
        return vec![(amount.alone(), chunk)];
    }
    if let Some(sum) = sum(chunk.core) {
        let large = next.filter(|next| matches!(next.core, "million" | "billion" | "thousand"));
        return match large {
            Some(next) => vec![
                (sum.amount, chunk),
                (format!("{} {}", next.core, sum.many), next),
            ],
            None => vec![(format!("{} {}{}", sum.amount, sum.name, sum.rest), chunk)],
        };
    }
    let said = match chunk.counts {
        true => "number".to_owned(),
        false => word(chunk.core),
    };
    if said.is_empty() {
        return Vec::new();
    }
    vec![(said, chunk)]
}

/// A number, or a range of two.
enum Amount<'t> {
    One(&'t str),
    Range(&'t str, &'t str),
}

impl<'t> Amount<'t> {
    fn read(core: &'t str) -> Option<Self> {
        if numeral(core).is_some() {
            return Some(Amount::One(core));
        }
        let (i, dash) = core
            .char_indices()
            .skip(1)
            .find(|(_, c)| matches!(c, '-' | '–'))?;
        let (from, to) = (&core[..i], &core[i + dash.len_utf8()..]);
        let digit = |text: &str| text.starts_with(|c: char| c.is_ascii_digit());
        (digit(to) && numeral(from).is_some() && numeral(to).is_some())
            .then_some(Amount::Range(from, to))
    }

    fn is_one(&self) -> bool {
        matches!(self, Amount::One("1"))
    }

    /// Before a unit.
    fn counted(&self) -> String {
        let say = |text| numeral(text).unwrap_or_default();
        match self {
            Amount::One(number) => say(number),
            Amount::Range(from, to) => format!("{} to {}", say(from), say(to)),
        }
    }

    /// By itself, where four digits are a year.
    fn alone(&self) -> String {
        match self {
            Amount::One(number) => year_or_number(number),
            Amount::Range(from, to) => {
                format!("{} to {}", year_or_number(from), year_or_number(to))
            }
        }
    }
}

/// `1987` is a year, `1,987` and `987` are numbers.
fn year_or_number(text: &str) -> String {
    match text.parse::<u64>() {
        Ok(number) if text.len() == 4 && (1100..2100).contains(&number) => year(number),
        _ => numeral(text).unwrap_or_default(),
    }
}

/// A sum of money: `£2,500`, `£1.50`.
struct Sum {
    amount: String,
    name: &'static str,
    many: &'static str,
    rest: String,
}

fn sum(core: &str) -> Option<Sum> {
    let sign = core.chars().next()?;
    let many = currency(sign, false)?;
    let number = &core[sign.len_utf8()..];
    let (whole, rest) = match number.split_once('.') {
        Some((whole, part)) if part.len() == 2 && all_digits(part) && part != "00" => {
            (whole, format!(" {}", cardinal(part.parse().ok()?)))
        }
        Some((whole, "00")) => (whole, String::new()),
        _ => (number, String::new()),
    };
    Some(Sum {
        amount: numeral(whole)?,
        name: currency(sign, whole == "1")?,
        many,
        rest,
    })
}

/// A word by itself; empty if it is silent.
fn word(core: &str) -> String {
    if let Some(full) = short_form(core) {
        return full.to_owned();
    }
    if let Some(letters) = initials(core) {
        return letters;
    }
    match core {
        "&" => return "and".into(),
        "+" => return "plus".into(),
        "°" => return "degrees".into(),
        "%" => return "percent".into(),
        _ => {}
    }
    if !core.contains(|c: char| c.is_ascii_digit()) {
        let said = core.contains(char::is_alphabetic);
        return if said { core.to_owned() } else { String::new() };
    }
    clock(core)
        .or_else(|| numbered(core))
        .or_else(|| measured(core))
        .unwrap_or_else(|| mixed(core))
}

/// `19:40`, `7:05pm`, `19:40:10`.
fn clock(core: &str) -> Option<String> {
    let end = core
        .find(|c: char| !(c.is_ascii_digit() || c == ':'))
        .unwrap_or(core.len());
    let (time, half) = core.split_at(end);
    let half = match half {
        "" => "",
        "am" => " a m",
        "pm" => " p m",
        _ => return None,
    };
    let parts: Vec<&str> = time.split(':').collect();
    let fits = |text: &str, most: u64| {
        let number: u64 = text.parse().ok().filter(|number| *number <= most)?;
        ((1..=2).contains(&text.len()) && all_digits(text)).then_some(number)
    };
    let ([hour, minute] | [hour, minute, _]) = parts[..] else {
        return None;
    };
    let (hour, minute) = (
        fits(hour, 24)?,
        fits(minute, 59).filter(|_| minute.len() == 2)?,
    );
    let minute = match minute {
        0 if !half.is_empty() => String::new(),
        0 if (1..=12).contains(&hour) => " o'clock".into(),
        0 => " hundred".into(),
        1..10 => format!(" oh {}", cardinal(minute)),
        _ => format!(" {}", cardinal(minute)),
    };
    let second = match parts.get(2) {
        Some(second) => match fits(second, 59).filter(|_| second.len() == 2)? {
            0 => String::new(),
            1 => " and one second".into(),
            second => format!(" and {} seconds", cardinal(second)),
        },
        None => String::new(),
    };
    Some(format!("{}{minute}{second}{half}", cardinal(hour)))
}

/// `21st`, `1940s`, `'40s`.
fn numbered(core: &str) -> Option<String> {
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

/// A number with its unit written to it: `600kt`, `10-15kt`, `24°C`, `5%`.
fn measured(core: &str) -> Option<String> {
    let end = core
        .char_indices()
        .rev()
        .find(|(_, c)| c.is_ascii_digit())
        .map(|(i, c)| i + c.len_utf8())?;
    let (number, rest) = core.split_at(end);
    let amount = Amount::read(number)?;
    Some(format!(
        "{} {}",
        amount.counted(),
        unit(rest, amount.is_one())?
    ))
}

/// Anything else with digits in it, run by run: `F-16`, `Mk2`, `3/4`.
fn mixed(core: &str) -> String {
    let mut words: Vec<String> = Vec::new();
    let mut rest = core;
    while let Some(first) = rest.chars().next() {
        let kind = |c: char| {
            (
                c.is_ascii_digit(),
                c.is_alphabetic() || matches!(c, '\'' | '’'),
            )
        };
        let end = rest
            .find(|c: char| kind(c) != kind(first))
            .unwrap_or(rest.len());
        let (run, after) = rest.split_at(end);
        match kind(first) {
            (true, _) => words.push(numeral(run).unwrap_or_else(|| digits(run))),
            (_, true) if run.len() <= 3 && is_upper(run) => {
                words.extend(run.chars().map(String::from));
            }
            (_, true) => {
                let run = run.trim_matches(['\'', '’']);
                if !run.is_empty() {
                    words.push(short_form(run).unwrap_or(run).to_owned());
                }
            }
            _ => words.extend(run.chars().filter_map(|c| match c {
                '&' => Some("and".to_owned()),
                '+' => Some("plus".to_owned()),
                '%' => Some("percent".to_owned()),
                '°' => Some("degrees".to_owned()),
                _ => None,
            })),
        }
        rest = after;
    }
    words.join(" ")
}
