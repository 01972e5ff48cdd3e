//! A text as it is said: numerals, units, clock times, years and abbreviations read out.

use std::ops::Range;

use super::chunks::{Chunk, Pause, chunks};
use super::dates::{clock, four_digits, is_month, ordinal_day};
use super::designations::{fraction, mixed, numbered, registration, roman};
use super::number::{all_digits, cardinal, digits, numeral, year};
use super::syllables::{Load, load, respelt};
use super::symbols::{currency, initials, short_form, unit};
use crate::show::Pronunciation;

/// The text as a narrator says it. Punctuation stays; each line break becomes a space, each empty line
/// a line break.
///
/// ```
/// # use abeam::script::spoken;
/// assert_eq!(spoken("In 1987, at 600 kt!"), "In nineteen eighty-seven, at six hundred knots!");
/// ```
pub fn spoken(text: &str) -> String {
    let mut out = String::with_capacity(text.len() * 2);
    for part in parts(text, &[]) {
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
    /// What they come to.
    pub(super) load: Load,
    pub(super) pause: Pause,
    opening: &'t str,
    closing: &'t str,
    /// Whether a dash follows.
    dash: bool,
}

/// Splits a text into what is said; hard names as `hard` says them.
pub(super) fn parts<'t>(text: &'t str, hard: &[&Pronunciation]) -> Vec<Part<'t>> {
    let chunks = chunks(text);
    let mut parts: Vec<Part<'_>> = Vec::with_capacity(chunks.len());
    let mut at = 0;
    while let Some((chunk, after)) = chunks.get(at..).and_then(<[_]>::split_first) {
        let before = at.checked_sub(1).and_then(|i| chunks.get(i));
        let (said, load, taken) = match pronounced(&chunks[at..], hard) {
            Some(pronounced) => pronounced,
            None => {
                let words = match chunk.core {
                    "" => Vec::new(),
                    _ => say(before, chunk, after),
                };
                let said = words.join(" ");
                let load = load(&said);
                (said, load, words.len())
            }
        };
        let Some(last) = taken.checked_sub(1).and_then(|more| chunks.get(at + more)) else {
            silent(chunk, parts.last_mut());
            at += 1;
            continue;
        };
        parts.push(Part {
            range: chunk.range.start..last.range.end,
            said,
            load,
            pause: last.pause(),
            opening: chunk.opening,
            closing: match last.short() {
                true => last.closing.trim_start_matches('.'),
                false => last.closing,
            },
            dash: last.dash,
        });
        at += taken;
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
fn say(before: Option<&Chunk<'_>>, chunk: &Chunk<'_>, after: &[Chunk<'_>]) -> Vec<String> {
    let next = after.first().filter(|_| chunk.open());
    if let Some(said) = next.and_then(|next| together(chunk.core, next.core)) {
        return said.into();
    }
    if let Some(amount) = Amount::read(chunk.core) {
        if let Some(unit) = next.and_then(|next| unit(next.core, amount.is_one())) {
            return vec![amount.counted(), unit.to_owned()];
        }
        let day = before.is_some_and(|before| before.open() && is_month(before.core));
        return vec![match ordinal_day(chunk.core).filter(|_| day) {
            Some(day) => format!("the {day}"),
            None => amount.alone(),
        }];
    }
    if let Some(sum) = sum(chunk.core) {
        let large = next.filter(|next| matches!(next.core, "million" | "billion" | "thousand"));
        return match large {
            Some(next) => vec![sum.amount, format!("{} {}", next.core, sum.many)],
            None => vec![format!("{} {}{}", sum.amount, sum.name, sum.rest)],
        };
    }
    // `I` and `V` alone are a word and a letter, but for a mark.
    let marked =
        |before: &Chunk<'_>| matches!(before.core, "Mk" | "Mark" | "Type" | "Series" | "Phase");
    let numbered = before.is_some_and(|before| {
        before.open() && before.is_name() && (chunk.core.len() > 1 || marked(before))
    });
    let said = match roman(chunk.core).filter(|_| numbered) {
        Some(number) => cardinal(number),
        None if chunk.counts => "number".to_owned(),
        None => word(chunk.core, next.is_some_and(|next| next.is_name())),
    };
    if said.is_empty() {
        Vec::new()
    } else {
        vec![said]
    }
}

/// Two chunks that are said otherwise than each by itself: `6 June`, `1940 hrs`, `7.30 pm`, `617 Squadron`.
fn together(this: &str, next: &str) -> Option<[String; 2]> {
    if is_month(next)
        && let Some(day) = ordinal_day(this)
    {
        return Some([format!("the {day}"), format!("of {next}")]);
    }
    // `1500 hours` may be a pilot's; `1945 hours` is a time of day.
    let of_day = this.starts_with('0') || !this.ends_with("00");
    if (matches!(next, "hrs" | "hours") && of_day || matches!(next, "local" | "zulu"))
        && let Some(time) = four_digits(this)
    {
        let next = if next == "hrs" { "hours" } else { next };
        return Some([time, next.to_owned()]);
    }
    if let "am" | "pm" | "a.m" | "p.m" = next
        && let Some(time) = clock(&this.replace('.', ":"))
    {
        return Some([time, next.replace('m', " m").replace('.', "")]);
    }
    if let "Squadron" | "Sqn" | "Sqdn" = next
        && this.len() == 3
        && all_digits(this)
    {
        return Some([digits(this).replace("zero", "oh"), "squadron".to_owned()]);
    }
    None
}

/// Every hard name in a text: the byte after it, and how it is said.
pub(super) fn hard_names(text: &str, hard: &[&Pronunciation]) -> Vec<(usize, String)> {
    let chunks = chunks(text);
    let (mut at, mut found) = (0, Vec::new());
    while let Some(rest) = chunks.get(at..).filter(|rest| !rest.is_empty()) {
        let name = pronounced(rest, hard);
        let taken = name.as_ref().map_or(1, |(_, _, taken)| (*taken).max(1));
        let last = rest.get(taken - 1).filter(|_| name.is_some());
        if let (Some((said, ..)), Some(last)) = (name, last) {
            found.push((
                last.range.start + last.opening.len() + last.core.len(),
                said,
            ));
        }
        at += taken;
    }
    found
}

/// A hard name at the beginning of these chunks: how it is said, what that comes to, and how many chunks it takes.
/// The longest wins, and of two as long the first.
fn pronounced(chunks: &[Chunk<'_>], hard: &[&Pronunciation]) -> Option<(String, Load, usize)> {
    let fits = |name: &&&Pronunciation| {
        let words = name.written.split_whitespace().count();
        let written = name.written.split_whitespace();
        let here = chunks.iter().zip(written).enumerate();
        let same = here.filter(|(i, (chunk, word))| {
            let core = if i + 1 == words {
                owner(chunk.core)
            } else {
                chunk.core
            };
            let joined = i + 1 == words || chunk.open();
            joined && core.to_lowercase() == word.to_lowercase()
        });
        words > 0 && same.count() == words
    };
    let name = hard
        .iter()
        .rev()
        .filter(fits)
        .max_by_key(|name| name.written.len())?;
    let taken = name.written.split_whitespace().count();
    let last = chunks.get(taken - 1)?;
    let owns = &last.core[owner(last.core).len()..];
    let load = name.said.split_whitespace().map(respelt).sum();
    Some((format!("{}{owns}", name.said), load, taken))
}

/// `Tarnwing` of `Tarnwing's`.
fn owner(core: &str) -> &str {
    core.strip_suffix("'s")
        .or_else(|| core.strip_suffix("’s"))
        .unwrap_or(core)
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
    let scales = [("bn", " billion"), ("m", " million"), ("k", " thousand")];
    let scaled = scales
        .iter()
        .find_map(|(suffix, scale)| Some((number.strip_suffix(suffix)?, *scale)));
    if let Some((number, scale)) = scaled {
        return Some(Sum {
            amount: numeral(number)? + scale,
            name: many,
            many,
            rest: String::new(),
        });
    }
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

/// A word by itself, and whether a name follows it; empty if it is silent.
fn word(core: &str, before_name: bool) -> String {
    match core {
        "&" => return "and".into(),
        "+" => return "plus".into(),
        "°" => return "degrees".into(),
        "%" => return "percent".into(),
        "St" => return if before_name { "saint" } else { "street" }.into(),
        _ => {}
    }
    if let Some(full) = short_form(core) {
        return full.to_owned();
    }
    if let Some(letters) = initials(core).or_else(|| registration(core)) {
        return letters;
    }
    if !core.contains(|c: char| c.is_numeric()) {
        let numbered = core.strip_prefix("Mk").and_then(roman);
        return match numbered {
            Some(number) => format!("mark {}", cardinal(number)),
            None if core.contains(char::is_alphabetic) => core.to_owned(),
            None => String::new(),
        };
    }
    clock(core)
        .or_else(|| fraction(core))
        .or_else(|| numbered(core))
        .or_else(|| measured(core))
        .unwrap_or_else(|| mixed(core))
}

/// A number with its unit written to it: `600kt`, `10-15kt`, `24°C`, `5%`, `500k`.
fn measured(core: &str) -> Option<String> {
    let end = core
        .char_indices()
        .rev()
        .find(|(_, c)| c.is_ascii_digit())
        .map(|(i, c)| i + c.len_utf8())?;
    let (number, rest) = core.split_at(end);
    let amount = Amount::read(number)?;
    let unit = match rest {
        "k" => "thousand",
        "bn" => "billion",
        rest => unit(rest, amount.is_one())?,
    };
    Some(format!("{} {unit}", amount.counted()))
}
