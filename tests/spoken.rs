//! Numerals, units and short forms are said as a narrator says them.

use abeam::script::number::{cardinal, numeral, ordinal, year};
use abeam::script::spoken;
use proptest::prelude::*;

/// Words without what only the eye sees: commas, hyphens, and the "and" that fashions differ about.
fn bare(words: &str) -> String {
    words
        .replace([',', '-'], " ")
        .split_whitespace()
        .filter(|word| *word != "and")
        .collect::<Vec<_>>()
        .join(" ")
}

/// `tests/reference/spoken_numbers.csv`: PyPI num2words 0.5.14.
#[test]
fn numbers_are_said_as_num2words_says_them() {
    let table = include_str!("reference/spoken_numbers.csv");
    let mut compared = 0;
    for line in table.lines().skip(1) {
        let mut cells = line.splitn(3, ',');
        let [Some(kind), Some(written), Some(said)] = [cells.next(), cells.next(), cells.next()]
        else {
            panic!("{line}");
        };
        let number = || written.parse::<u64>().expect(line);
        let ours = match kind {
            "ordinal" => ordinal(number()),
            "year" => year(number()),
            "cardinal" if !written.starts_with('-') => {
                assert_eq!(numeral(written), Some(cardinal(number())));
                cardinal(number())
            }
            _ => numeral(written).expect(line),
        };
        assert_eq!(bare(&ours), bare(said.trim_matches('"')), "{line}");
        compared += 1;
    }
    assert!(compared > 300, "{compared}");
}

/// How they are said: common practice, no published source.
#[test]
fn what_is_written_short_is_said_in_full() {
    for (written, said) in [
        ("600 kt", "six hundred knots"),
        ("at 600kt, low", "at six hundred knots, low"),
        ("1,500 ft", "one thousand five hundred feet"),
        ("1500 ft.", "one thousand five hundred feet."),
        ("1 ft", "one foot"),
        ("1 nmi out", "one nautical mile out"),
        ("In 1940 and 1905", "In nineteen forty and nineteen oh five"),
        ("1987", "nineteen eighty-seven"),
        (
            "1,987 people",
            "one thousand nine hundred and eighty-seven people",
        ),
        ("the 1940s", "the nineteen forties"),
        ("the ’40s", "the forties"),
        (
            "the 2nd, 3rd and 21st",
            "the second, third and twenty-first",
        ),
        ("19:40", "nineteen forty"),
        ("at 7:05pm", "at seven oh five p m"),
        ("7 pm", "seven p m"),
        ("19:00", "nineteen hundred"),
        ("7:00", "seven o'clock"),
        ("14:30:05", "fourteen thirty and five seconds"),
        ("0.94 mach", "zero point nine four mach"),
        ("3.25 km", "three point two five kilometres"),
        ("-3 °C", "minus three degrees Celsius"),
        ("24°C", "twenty-four degrees Celsius"),
        ("5 % or 5%", "five percent or five percent"),
        ("90 deg", "ninety degrees"),
        ("a 180° turn", "a one hundred and eighty degrees turn"),
        ("10–15 kt", "ten to fifteen knots"),
        ("10-15 minutes", "ten to fifteen minutes"),
        ("1939–1945", "nineteen thirty-nine to nineteen forty-five"),
        ("heading 064", "heading zero six four"),
        (
            "the RAF and the R.A.F. here",
            "the R A F and the R A F here",
        ),
        ("THE BIG SHOW", "THE BIG SHOW"),
        ("NATO", "NATO"),
        ("Flt. Lt. Moss", "flight lieutenant Moss"),
        ("No. 5 and no.", "number five and no."),
        ("No. Five.", "No. Five."),
        ("the F-16", "the F sixteen"),
        ("Mk2", "mark two"),
        ("£2,500", "two thousand five hundred pounds"),
        ("£3 million", "three million pounds"),
        ("£1.50", "one pound fifty"),
        ("salt & light", "salt and light"),
        ("6 g", "six g"),
        ("stop. 5 m", "stop. five metres"),
        ("in 5. m", "in five. m"),
        ("wait — now", "wait – now"),
        ("wait—now", "wait – now"),
        ("(about 5 m)", "(about five metres)"),
        ("“600 kt”", "“six hundred knots”"),
        ("one\ntwo\n\nthree", "one two\nthree"),
        ("", ""),
        ("*** — ***", ""),
    ] {
        assert_eq!(spoken(written), said, "{written}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_text_panics_and_no_numeral_is_left(text in "\\PC{0,60}", more in "[0-9:.,£%°C ktfs–-]{0,30}") {
        let said = spoken(&format!("{text} {more}"));
        prop_assert!(!said.contains(|c: char| c.is_ascii_digit()), "{said}");
    }
}
