//! What a text says besides words: pauses, waits, hard names; and who reads it.

mod planned;
mod rehearsal;

use abeam::live::{CueState, Mark, MarkKind, What};
use abeam::script::{Reader, Reading, Version, fit_rate, readings, speaking_time};
use abeam::show::load::read;
use abeam::show::{Narrator, Rest, Severity, Show};
use abeam::timeline::{Facts, Plan};
use abeam::units::{Instant, Share, Span};
use planned::{PASS, document};
use proptest::prelude::*;
use rehearsal::Rehearsal;

/// A show of the pass, abeam at 0 and too loud from -5 to 8 s, with words that take the time they say.
fn loaded(head: &str, body: &str) -> Show {
    let text = written(head, body);
    let (show, faults) = read("lake.toml", &text);
    show.unwrap_or_else(|| panic!("{faults:#?}"))
}

fn written(head: &str, body: &str) -> String {
    let pass = PASS.to_owned() + "hush = { from = \"-5 s\", until = \"8 s\" }\n";
    document(
        "zero = \"pass.abeam\"",
        &["pass"],
        &format!("{pass}{head}{body}"),
    )
}

fn block(text: &str, more: &str) -> String {
    format!("[[block]]\nid = \"a\"\ntext = \"{text}\"\n{more}\n")
}

/// How the only block's text is read.
fn read_out(head: &str, text: &str, more: &str) -> Reading {
    let show = loaded(head, &block(text, more));
    readings(&show).remove(0).0
}

/// The show planned by what its narrator takes.
fn plan(show: &Show) -> Plan {
    let facts = Facts {
        readings: readings(show),
        track_lengths: Vec::new(),
    };
    Plan::new(show, &show.profile, &show.day, facts)
}

fn say(text: &str) -> Span {
    speaking_time(text, &Narrator::default())
}

#[test]
fn a_pause_takes_the_place_of_the_rest_before_it() {
    let lasts = |text: &str| read_out("", text, "").lasts();
    let plain = lasts("Please stand. They are here.");
    let sentence = Narrator::default().pauses.sentence;
    // Whole texts take whole tenths of a second.
    let paused = lasts("Please stand. [pause 2 s] They are here.");
    let by_hand = plain - sentence + Span::from_ms(2_000);
    assert!((paused - by_hand).abs() <= Span::from_ms(100), "{paused}");
    // A shorter one than the voice takes anyway changes nothing; one between two words parts them.
    assert_eq!(lasts("Please stand. [pause 0.1 s] They are here."), plain);
    assert_eq!(
        lasts("Please [pause 1.5 s] stand"),
        lasts("Please stand") + Span::from_ms(1_500)
    );
    // After the last word nobody waits for anything.
    assert_eq!(lasts("Please stand. [pause 9 s]"), lasts("Please stand."));
}

#[test]
fn words_after_a_wait_go_on_when_its_point_comes() {
    let text = "Please stand. [wait pass.abeam + 9 s] Thank you.";
    let show = loaded("", &block(text, "starts = \"show - 20 s\""));
    let laid = plan(&show).layout;
    let (before, after) = (say("Please stand."), say("Thank you."));
    let pieces: Vec<f64> = laid.pieces[0]
        .iter()
        .flat_map(|(a, b)| [a.s(), b.s()])
        .collect();
    let by_hand = [-20.0, -20.0 + before.s(), 9.0, 9.0 + after.s()];
    assert!(
        pieces
            .iter()
            .zip(by_hand)
            .all(|(a, b)| (a - b).abs() < 0.0501),
        "{pieces:?}"
    );
    assert_eq!(laid.blocks[0].ends, Some(laid.pieces[0][1].1));
    // The hush from -5 s is waited through: what is left before it is left before the first piece ends.
    let left = laid.blocks[0].slack.expect("a limit").s();
    assert!((left - (-5.0 + 20.0 - before.s())).abs() < 0.0501, "{left}");
    // What has come already is not waited for.
    let late = text.replace("pass.abeam + 9 s", "pass.start");
    let show = loaded("", &block(&late, "starts = \"show - 20 s\""));
    assert_eq!(
        plan(&show).layout.pieces[0][1].0,
        plan(&show).layout.pieces[0][0].1
    );
}

#[test]
fn words_that_would_go_on_in_the_noise_are_told() {
    let text = "Please stand. [wait pass.abeam] Thank you.";
    let show = loaded("", &block(text, "starts = \"show - 20 s\""));
    let told: Vec<_> = plan(&show)
        .faults
        .iter()
        .map(|f| f.message.clone())
        .collect();
    assert_eq!(
        told,
        ["\"a\" goes on while pass is too loud to talk over, until 0:08.0 ±11.3 s"]
    );
}

#[test]
fn what_hangs_on_the_end_of_words_hangs_on_what_they_wait_for() {
    let body = block("One. [wait pass.end] Two.", "starts = \"show - 20 s\"")
        + "[[call]]\nid = \"c\"\nwho = \"stewards\"\nat = \"a.end + 1 s\"\ntext = \"Sit\"\n";
    let laid = plan(&loaded("", &body)).layout;
    let at = laid.calls[0].instant().expect("a time").s();
    // The pass ends 20 s after it is abeam.
    assert!((at - 21.0 - say("Two.").s()).abs() < 0.0501, "{at}");
}

#[test]
fn brackets_that_say_nothing_clear_are_faults_at_their_place() {
    for (bracket, message, column) in [
        ("[pause]", "\"[pause]\" is no pause", 20),
        ("[pause 2]", "\"[pause 2]\" is no pause", 20),
        ("[pause -1 s]", "\"[pause -1 s]\" is no pause", 20),
        ("[pause 1:00:00]", "\"[pause 1:00:00]\" is no pause", 20),
        ("[wait]", "\"[wait]\" does not say what is waited for", 20),
        (
            "[wait memorial]",
            "\"[wait memorial]\" does not say what is waited for",
            20,
        ),
        (
            "[puase 2 s]",
            "\"[puase 2 s]\" is neither a pause nor a wait",
            20,
        ),
        ("[wait pas.abeam]", "nothing is called `pas`", 26),
        ("[wait pass.abeam.2]", "the figure `pass` has no pass 2", 26),
        (
            "[wait clock 12:00:00]",
            "a clock time in a show without a start",
            20,
        ),
        (
            "[wait a.end]",
            "these times wait for each other: a.end → a.end",
            20,
        ),
    ] {
        let text = written(
            "",
            &block(&format!("Stand now. {bracket} Sit."), "starts = \"show\""),
        );
        let (show, faults) = read("lake.toml", &text);
        assert!(show.is_none(), "{bracket}");
        let errors: Vec<_> = faults
            .iter()
            .filter(|f| f.severity == Severity::Error)
            .collect();
        assert_eq!(errors[0].message, message, "{bracket}");
        let at = errors[0].at.clone().expect("a place").start;
        let line = text[..at].matches('\n').count();
        let written_at = text
            .lines()
            .position(|line| line.contains("Stand now"))
            .expect("a line");
        let start = text[..at].rfind('\n').map_or(0, |i| i + 1);
        assert_eq!((line, at - start + 1), (written_at, column), "{bracket}");
        assert!(!errors[0].help.is_empty(), "{bracket}");
    }
}

#[test]
fn other_brackets_are_words() {
    let show = loaded("", &block("Stand now [all of you] here.", ""));
    assert!(show.blocks[0].text.asides.is_empty());
    let show = loaded("", &block("Stand. [ pause  1:05.5 ] Sit.", ""));
    let [aside] = &show.blocks[0].text.asides[..] else {
        panic!("one aside");
    };
    assert!(matches!(aside.what, Rest::Pause(span) if span == Span::from_ms(65_500)));
    assert_eq!(
        &show.blocks[0].text.text[aside.range.clone()],
        "[ pause  1:05.5 ]"
    );
}

#[test]
fn hard_names_are_said_as_they_are_written_out() {
    let words = "[words]\nsay = { \"Tarnwing\" = \"TARN-wing\", \"Lac d'Or\" = \"lack-DOR\", \"Xq\" = \"ex cue\" }\n";
    let syllables = |text: &str, more: &str| read_out(words, text, more).syllables;
    assert_eq!(syllables("the Tarnwing", ""), 3);
    assert_eq!(syllables("TARNWING,", ""), 2);
    assert_eq!(syllables("the Tarnwing's wing", ""), 4);
    assert_eq!(syllables("over Lac d'Or!", ""), 4);
    assert_eq!(
        syllables("Lac, d'Or", ""),
        syllables("Lac", "") + syllables("d'Or", "")
    );
    assert_eq!(syllables("Xq", ""), 2);
    // A block's own way of saying it comes first; with a hyphen, every piece is one syllable.
    let own = "say = { Tarnwing = \"tar-ni-a-wing\" }";
    assert_eq!(syllables("the Tarnwing", own), 5);
    let (show, faults) = read(
        "lake.toml",
        &written("[words]\nsay = { Tarnwing = \"\", Lac = 3 }\n", ""),
    );
    assert!(show.is_none());
    let told: Vec<&str> = faults.iter().map(|fault| fault.message.as_str()).collect();
    assert_eq!(told[0], "`Tarnwing` is said as nothing");
    assert!(told[1].starts_with("`Lac` of"), "{told:?}");
}

#[test]
fn a_narrator_has_a_rate_rests_and_a_spread_of_their_own() {
    let head = "[narrator]\nwords_per_minute = 65\nspread = \"10 %\"\npauses = { comma = \"1 s\", sentence = \"2 s\" }\n";
    let show = loaded(
        head,
        &block(
            "One, two. Three.",
            "starts = \"show + 20 s\"\nends_by = \"show + 60 s\"",
        ),
    );
    let narrator = &show.narrator;
    assert_eq!(narrator.pauses.comma, Span::from_ms(1_000));
    assert_eq!(narrator.pauses.clause, Narrator::default().pauses.clause);
    let reading = Reader::new(narrator).reading(&show.blocks[0].text);
    assert_eq!(reading.rests, Span::from_ms(3_000));
    let words = reading.lasts() - reading.rests;
    // In whole tenths of a second.
    assert!((words.s() - reading.words * 60.0 / 65.0).abs() < 0.0501);
    for wrong in [
        "spread = \"60 %\"",
        "pauses = { comma = \"11 s\" }",
        "pauses = { stop = \"1 s\" }",
    ] {
        let (show, _) = read("lake.toml", &written(&format!("[narrator]\n{wrong}\n"), ""));
        assert!(show.is_none(), "{wrong}");
    }
}

#[test]
fn a_running_block_waits_for_a_late_aircraft() {
    let display = rehearsal::DISPLAY.replace(
        "text = \"Slow and low.\"",
        "text = \"Slow and low. [wait slow-pass.abeam + 5 s] And gone.\"",
    );
    let mut show = Rehearsal::of(&display);
    let pass = show.planned("slow-pass", "abeam");
    show.fly_as_planned_until(pass - 20.0);
    let block = What::BeginBlock {
        block: "slow-words".into(),
    };
    show.at(pass - 20.0, block);
    let goes_on = |show: &Rehearsal| show.session.layout().pieces[1][1].0.s();
    assert!(
        (goes_on(&show) - pass - 5.0).abs() < 0.5,
        "{}",
        goes_on(&show)
    );
    show.mark(MarkKind::Abeam, pass + 3.0);
    let seen = show.expects("slow-pass", "abeam");
    assert!(seen > pass + 1.0, "{seen}");
    assert!((goes_on(&show) - seen - 5.0).abs() < 1e-3);
    assert_eq!(show.block_state("slow-words"), CueState::Running);
}

#[test]
fn the_next_block_said_in_another_version_is_announced() {
    let display = rehearsal::DISPLAY.replace(
        "text = \"Slow and low.\"",
        "text = \"Slow and low over the water now, as slow as the wing allows.\"\nshort = \"Slow and low.\"\nends_by = \"clock 19:41:13\"",
    );
    let mut show = Rehearsal::of(&display);
    show.fly_as_planned_until(-1.0).at(
        -1.0,
        What::SkipBlock {
            block: "welcome".into(),
        },
    );
    let laid = |show: &Rehearsal| show.session.layout().blocks[1];
    assert_eq!(laid(&show).version, Version::Full);
    assert!(
        laid(&show)
            .slack
            .is_some_and(|slack| slack < Span::from_ms(3_500))
    );
    let announced = |show: &Rehearsal| -> Vec<String> {
        let notices = show.session.notices().iter();
        let notices = notices.filter(|(_, said)| said.contains("\"slow-words\" is"));
        notices.map(|(_, said)| said.clone()).collect()
    };
    assert_eq!(announced(&show), [""; 0]);
    show.mark(MarkKind::Abeam, 5.0);
    assert_eq!(laid(&show).version, Version::Short);
    let said = "\"slow-words\" is said short now: the full text would have less to spare than its own spread";
    assert_eq!(announced(&show), [said]);
    let seen = Mark {
        kind: MarkKind::Abeam,
        observed: Instant::from_s(0.5),
        point: None,
    };
    show.at(6.0, What::UndoMark).at(6.1, What::Mark(seen));
    assert_eq!(laid(&show).version, Version::Full);
    assert_eq!(
        announced(&show)[1..],
        ["\"slow-words\" is said in full again"]
    );
}

fn observed(narrator: &Narrator) -> impl Strategy<Value = Vec<(Reading, Span)>> + use<> {
    let narrator = narrator.clone();
    prop::collection::vec((1_usize..60, 0.9_f64..1.1), 0..12).prop_map(move |said| {
        let read = |(words, off): (usize, f64)| {
            let text = "over the lake, ".repeat(words);
            let reading = Reader::new(&narrator).reading(&text.as_str().into());
            let took = Span::from_s(reading.lasts().s() * off);
            (reading, took)
        };
        said.into_iter().map(read).collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// The rate lies between what was stated and what was heard, and goes the whole way with enough of it.
    #[test]
    fn a_fitted_rate_lies_between_the_stated_and_the_heard(heard in 70.0_f64..220.0, said in observed(&Narrator::default())) {
        let stated = Narrator::default();
        let faster = Narrator { words_per_minute: heard, ..stated.clone() };
        let exact: Vec<(Reading, Span)> = said
            .iter()
            .map(|(reading, _)| {
                let words = reading.words * 60.0 / faster.words_per_minute;
                (reading.clone(), Span::from_s(words) + reading.rests)
            })
            .collect();
        let fitted = fit_rate(exact.iter().map(|(reading, took)| (reading, *took)), &stated);
        let (low, high) = (heard.min(130.0) - 1e-3, heard.max(130.0) + 1e-3);
        prop_assert!((low..=high).contains(&fitted.words_per_minute), "{}", fitted.words_per_minute);
        let many: Vec<_> = std::iter::repeat_n(&exact, 50).flatten().map(|(reading, took)| (reading, *took)).collect();
        let fitted = fit_rate(many.iter().copied(), &stated);
        if !many.is_empty() {
            prop_assert!((fitted.words_per_minute / heard - 1.0).abs() < 0.01, "{}", fitted.words_per_minute);
            prop_assert!(fitted.spread < Share::from_whole(0.02));
        } else {
            prop_assert_eq!(fitted, stated);
        }
    }

    /// What was heard scatters by a tenth at most, evenly: its spread is between nothing and that.
    #[test]
    fn a_fitted_spread_lies_between_the_stated_and_the_heard(said in observed(&Narrator::default())) {
        let fitted = fit_rate(said.iter().map(|(reading, took)| (reading, *took)), &Narrator::default());
        prop_assert!((0.0..0.11).contains(&fitted.spread.whole()));
        prop_assert!((130.0 / 1.15..130.0 / 0.85).contains(&fitted.words_per_minute));
    }
}
