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
    assert!(compared >= 2_000, "{compared}");
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
        ("the Mk IX and the Mk. II", "the mark nine and the mark two"),
        ("a Mark V and a MkIV", "a Mark five and a mark four"),
        ("in World War II, and I say", "in World War two, and I say"),
        ("And I went", "And I went"),
        ("Malcolm X", "Malcolm X"),
        ("in WWII", "in world war two"),
        ("in WW1", "in world war one"),
        (
            "the F-104 and the F-111",
            "the F one oh four and the F one eleven",
        ),
        ("an AB-200", "an A B two hundred"),
        (
            "a V12 and a 12-cylinder",
            "a V twelve and a twelve cylinder",
        ),
        ("a P-51D", "a P fifty-one D"),
        ("G-LAKE is her name", "G L A K E is her name"),
        ("617 Squadron", "six one seven squadron"),
        ("No. 303 Squadron", "number three oh three squadron"),
        ("No 5 Squadron", "number five Squadron"),
        ("Air Cdre. Moss", "Air commodore Moss"),
        ("Sqn Ldr Moss, Retd.", "squadron leader Moss, retired"),
        ("St Mary's, in High St.", "saint Mary's, in High street"),
        ("at 0705 hrs", "at oh seven oh five hours"),
        ("at 1945 hours", "at nineteen forty-five hours"),
        (
            "1500 hours or 1200 feet",
            "one thousand five hundred hours or one thousand two hundred feet",
        ),
        ("at 1900 local", "at nineteen hundred local"),
        ("7.30 pm", "seven thirty p m"),
        ("on 6 June 1944", "on the sixth of June nineteen forty-four"),
        ("on June 6, 1944", "on June the sixth, nineteen forty-four"),
        ("a 6.5-litre engine", "a six point five litre engine"),
        ("a 30-ft span", "a thirty foot span"),
        ("a 20,000-strong crowd", "a twenty thousand strong crowd"),
        ("20,000+ people", "twenty thousand plus people"),
        (
            "£3m and $2.5bn",
            "three million pounds and two point five billion dollars",
        ),
        ("500k", "five hundred thousand"),
        (
            "½ a mile, 2½ miles, 3/4 full",
            "a half a mile, two and a half miles, three quarters full",
        ),
        ("24/7", "twenty-four seven"),
        ("360 deg/s", "three hundred and sixty degrees a second"),
        ("30 m²", "thirty square metres"),
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
