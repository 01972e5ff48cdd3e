//! Times of day and days of the year as they are said.

use super::number::{all_digits, cardinal, ordinal};

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// Whether a word is the name of a month.
pub(super) fn is_month(word: &str) -> bool {
    MONTHS.contains(&word)
}

/// `6` as a day of a month: "sixth".
pub(super) fn ordinal_day(text: &str) -> Option<String> {
    let day = text.parse().ok().filter(|day| (1..=31).contains(day))?;
    (text.len() <= 2 && all_digits(text)).then(|| ordinal(day))
}

/// `1940` as a time of day, as services write it: "nineteen forty", `0705` "oh seven oh five", `1900`
/// "nineteen hundred".
pub(super) fn four_digits(text: &str) -> Option<String> {
    if text.len() != 4 || !all_digits(text) {
        return None;
    }
    let (hour, minute): (u64, u64) = (text[..2].parse().ok()?, text[2..].parse().ok()?);
    if hour > 24 || minute > 59 {
        return None;
    }
    let two = |number: u64| match number {
        0..10 => format!("oh {}", cardinal(number)),
        _ => cardinal(number),
    };
    Some(match minute {
        0 => format!("{} hundred", two(hour)),
        _ => format!("{} {}", two(hour), two(minute)),
    })
}

/// `19:40`, `7:05pm`, `19:40:10`.
pub(super) fn clock(core: &str) -> Option<String> {
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
