//! Numbers as English words, British fashion: `one hundred and five`.

const UNDER_TWENTY: [&str; 20] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];
const TENS: [&str; 10] = [
    "", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety",
];
const SCALES: [(u64, &str); 6] = [
    (1_000_000_000_000_000_000, "quintillion"),
    (1_000_000_000_000_000, "quadrillion"),
    (1_000_000_000_000, "trillion"),
    (1_000_000_000, "billion"),
    (1_000_000, "million"),
    (1_000, "thousand"),
];

/// `1500` is "one thousand five hundred": as heights are said on the radio, and longer than
/// "fifteen hundred", so that a block is never given too little time.
pub fn cardinal(number: u64) -> String {
    let mut words = Vec::new();
    let mut rest = number;
    for (scale, name) in SCALES {
        if rest >= scale {
            words.push(format!("{} {name}", below_thousand(rest / scale)));
            rest %= scale;
        }
    }
    if words.is_empty() {
        return below_thousand(rest);
    }
    if (1..100).contains(&rest) {
        words.push(format!("and {}", below_thousand(rest)));
    } else if rest > 0 {
        words.push(below_thousand(rest));
    }
    words.join(" ")
}

fn below_thousand(number: u64) -> String {
    let (hundreds, rest) = (number / 100 % 10, number % 100);
    match (hundreds, rest) {
        (0, _) => below_hundred(rest),
        (_, 0) => format!("{} hundred", below_hundred(hundreds)),
        _ => format!(
            "{} hundred and {}",
            below_hundred(hundreds),
            below_hundred(rest)
        ),
    }
}

fn below_hundred(number: u64) -> String {
    let number = (number % 100) as usize;
    if number < 20 {
        return UNDER_TWENTY[number].to_owned();
    }
    match number % 10 {
        0 => TENS[number / 10].to_owned(),
        ones => format!("{}-{}", TENS[number / 10], UNDER_TWENTY[ones]),
    }
}

/// `23` is "twenty-third".
pub fn ordinal(number: u64) -> String {
    let cardinal = cardinal(number);
    let split = cardinal.rfind([' ', '-']).map_or(0, |i| i + 1);
    let (before, last) = cardinal.split_at(split);
    let last = match last {
        "one" => "first".to_owned(),
        "two" => "second".to_owned(),
        "three" => "third".to_owned(),
        "five" => "fifth".to_owned(),
        "eight" => "eighth".to_owned(),
        "nine" => "ninth".to_owned(),
        "twelve" => "twelfth".to_owned(),
        last => match last.strip_suffix('y') {
            Some(stem) => format!("{stem}ieth"),
            None => format!("{last}th"),
        },
    };
    format!("{before}{last}")
}

/// `1987` is "nineteen eighty-seven", `1905` "nineteen oh five", `2005` "two thousand and five".
pub fn year(number: u64) -> String {
    let (century, rest) = (number / 100, number % 100);
    if (2000..2010).contains(&number) || !(1100..10_000).contains(&number) {
        return cardinal(number);
    }
    match rest {
        0 => format!("{} hundred", below_hundred(century)),
        1..10 => format!("{} oh {}", below_hundred(century), below_hundred(rest)),
        _ => format!("{} {}", below_hundred(century), below_hundred(rest)),
    }
}

/// `1940` is "nineteen forties", `40` "forties".
pub fn decade(number: u64) -> String {
    let year = if number < 100 {
        cardinal(number)
    } else {
        year(number)
    };
    match year.strip_suffix('y') {
        Some(stem) => format!("{stem}ies"),
        None => format!("{year}s"),
    }
}

/// Digits one by one; anything else in the text is left out.
pub fn digits(text: &str) -> String {
    let words: Vec<&str> = text
        .chars()
        .filter_map(|c| c.to_digit(10))
        .map(|digit| UNDER_TWENTY[digit as usize])
        .collect();
    words.join(" ")
}

/// A numeral as written, `1,500` or `0.94` or `-3` or `064`; `None` if it is none.
/// Leading zeros and what is beyond counting are read digit by digit.
pub fn numeral(text: &str) -> Option<String> {
    let (minus, body) = match text.strip_prefix(['-', '−']) {
        Some(rest) => ("minus ", rest),
        None => ("", text.strip_prefix('+').unwrap_or(text)),
    };
    let (whole, part) = match body.split_once('.') {
        Some((whole, part)) => (whole, Some(part)),
        None => (body, None),
    };
    let plain = whole.replace(',', "");
    if !well_grouped(whole) || !all_digits(&plain) || part.is_some_and(|part| !all_digits(part)) {
        return None;
    }
    let said = match plain.parse::<u64>() {
        Ok(number) if plain == "0" || !plain.starts_with('0') => cardinal(number),
        _ => digits(&plain),
    };
    Some(match part {
        Some(part) => format!("{minus}{said} point {}", digits(part)),
        None => format!("{minus}{said}"),
    })
}

/// Whether commas, if there are any, stand before groups of three.
fn well_grouped(whole: &str) -> bool {
    let mut groups = whole.split(',');
    let first = groups.next().map_or(0, str::len);
    let mut rest = groups.peekable();
    rest.peek().is_none() || ((1..=3).contains(&first) && rest.all(|group| group.len() == 3))
}

pub(super) fn all_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}
