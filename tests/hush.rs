//! The hush is where the aircraft's stated loudness, at crowd centre, is more than can be talked over.

mod flights;
mod planned;

use abeam::flight::FlownFigure;
use abeam::show::{Aircraft, LevelAt, Noise, Show, TurnTowards};
use abeam::units::{Gain, Level};
use flights::{figure, fly_all, fly_mirrored, hold, m, run_for, s, tas, to_centre, turn, wind};
use planned::{PASS, Planned, document, of_text, planned};
use proptest::prelude::*;

/// The pass of the solo, of which `noise` says how loud it is.
fn loud(show: &str, noise: &str, figures: &str) -> Planned {
    let text = document(show, &["pass"], figures);
    of_text(&text.replace("name = \"Lantern One\"", noise))
}

fn hush(planned: &Planned) -> Vec<(f64, f64)> {
    let hushes = planned.plan.moments.hushes();
    let seconds = hushes.iter().map(|(from, until)| (from.s(), until.s()));
    seconds.collect()
}

#[test]
fn a_stated_loudness_falls_by_the_inverse_distance_law_to_what_can_be_talked_over() {
    let hushes = hush(&loud(
        "talk_over = \"80 dB\"",
        "loudness = \"95 dB at 300 m\"",
        PASS,
    ));
    // Inverse distance law: 15 dB are a factor of 10^(15/20) in range: 1,687.0 m. It is abeam at 100 s,
    // 260 m away, at 100 m/s; sound on its way down from 100 m goes at that of 50 m, 340.1 m/s.
    let range = 300.0 * 10_f64.powf(0.75);
    let along = (range * range - 260.0 * 260.0).sqrt() / 100.0;
    let travels = range / (20.046_80 * (288.15_f64 - 0.325).sqrt());
    let [(from, until)] = hushes[..] else {
        panic!("{hushes:?}")
    };
    assert!((from - (100.0 - along + travels)).abs() < 2e-3, "{from}");
    assert!((until - (100.0 + along + travels)).abs() < 2e-3, "{until}");
}

#[test]
fn astern_moves_the_hush_to_where_it_departs() {
    let of = |noise: &str| hush(&loud("", noise, PASS))[0];
    let even = of("loudness = \"95 dB at 300 m\"");
    let rear = of("loudness = \"95 dB at 300 m\"\nastern = \"6 dB\"");
    assert!(
        rear.0 > even.0 + 1.0 && rear.1 > even.1 + 1.0,
        "{even:?} {rear:?}"
    );
}

#[test]
fn a_quiet_aircraft_or_a_distant_figure_mutes_nobody() {
    let quiet = "loudness = \"70 dB at 300 m\"";
    assert!(hush(&loud("", quiet, PASS)).is_empty());
    let noisy = "loudness = \"95 dB at 300 m\"";
    // Between 4 and 3 km out, 75 dB at most.
    let distant = PASS
        .replace("run = \"to centre\"", "run = \"for 1 km\"")
        .replace(", pass = true", "")
        .replace("gates = [\"2 km\", \"1 km\"]", "")
        .replace("{ run = \"for 2 km\" },", "");
    assert!(hush(&loud("", noisy, &distant)).is_empty());
    // What can be talked over decides.
    let louder = hush(&loud("talk_over = \"70 dB\"", quiet, PASS));
    assert_eq!(louder.len(), 1);
}

#[test]
fn without_a_loudness_the_hush_is_relative_and_a_stated_hush_wins_over_both() {
    // No louder than itself abeam on the display line, 240 m away: it is 260 m away.
    assert!(hush(&planned("", &["pass"], PASS)).is_empty());
    let stated = PASS.replace(
        "from = \"left\"",
        "from = \"left\"\nhush = { from = \"-5 s\", until = \"7 s\" }",
    );
    let hushes = hush(&loud("", "loudness = \"120 dB at 300 m\"", &stated));
    assert_eq!(hushes, [(95.0, 107.0)]);
}

/// A figure that is only timed has no path to be heard from.
#[test]
fn a_timed_figure_with_words_beside_it_is_asked_for_its_hush() {
    let told = |figure: &str, words: &str| {
        let planned = planned("", &["one"], &format!("{figure}{words}"));
        let faults = planned.faults().into_iter();
        faults
            .map(|(_, message, _)| message.to_owned())
            .collect::<Vec<String>>()
    };
    let words = "[[block]]\nid = \"w\"\ntext = \"4 s\"\nstarts = \"one.start\"\n";
    let timed = |more: &str| planned::timed("one", 60.0, more);
    let asked = told(&timed("passes = [\"30 s\"]"), words);
    assert_eq!(
        asked,
        ["\"one\" is only timed, and nothing says when it is too loud to talk over"]
    );
    let hush = "passes = [\"30 s\"]\nhush = { from = \"-4 s\", until = \"8 s\" }";
    for (figure, words) in [
        (timed(hush), words),
        (timed(""), words),
        (timed("passes = [\"30 s\"]"), ""),
    ] {
        assert!(told(&figure, words).is_empty(), "{figure}");
    }
}

#[test]
fn several_aircraft_are_as_loud_as_their_powers_together_if_all_say_how_loud() {
    let both = PASS.replace("aircraft = \"solo\"", "aircraft = [\"solo\", \"pair\"]");
    let text = document("", &["pass"], &both);
    let loudness = |db: f64| format!("loudness = \"{db} dB at 300 m\"");
    let one = hush(&loud("", &loudness(98.0103), PASS));
    let two = text
        .replace("name = \"Lantern One\"", &loudness(95.0))
        .replace("name = \"Lantern Two and Three\"", &loudness(95.0));
    let two = hush(&of_text(&two));
    // Two equal sources: 10 lg 2 = 3.0103 dB.
    assert!((one[0].0 - two[0].0).abs() < 1e-3 && (one[0].1 - two[0].1).abs() < 1e-3);

    let (_, faults) = abeam::show::load::read(
        "lake.toml",
        &text.replace("name = \"Lantern One\"", &loudness(95.0)),
    );
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert!(
        faults[0].message.contains("how loud `pair` is"),
        "{}",
        faults[0].message
    );
    assert!(faults[0].help.contains("[aircraft.pair]"));
}

#[test]
fn a_loudness_written_otherwise_says_how_it_is_written() {
    let text = document("", &["pass"], PASS);
    for (wrong, says) in [
        ("loudness = \"105 dB\"", "\"105 dB at 300 m\""),
        ("loudness = 105", "loudness"),
        ("astern = \"6 kt\"", "\"-3 dB\""),
        ("astern = \"60 dB\"", "\"6 dB\""),
    ] {
        let (show, faults) =
            abeam::show::load::read("lake.toml", &text.replace("name = \"Lantern One\"", wrong));
        assert!(show.is_none());
        let told = format!("{} {}", faults[0].message, faults[0].help);
        assert!(told.contains(says), "{told}");
    }
}

/// A pass and a turn back at `speed` m/s, as loud as said.
fn noisy(speed: f64, level: f64, astern: f64, x: f64, y: f64) -> Show {
    let mut show = flights::show(vec![figure(
        "pass",
        vec![
            hold(6_000.0),
            to_centre(tas(speed)),
            run_for(1_500.0),
            turn(200.0, TurnTowards::Away, 65.0, None),
            run_for(3_000.0),
        ],
    )]);
    show.day.wind = wind(x, y);
    let noise = Noise {
        loudness: Some(LevelAt {
            level: Level::from_db(level),
            at: m(300.0),
        }),
        astern: Gain::from_db(astern),
    };
    show.aircraft = vec![Aircraft {
        noise,
        ..show.aircraft.remove(0)
    }];
    show
}

fn contains(outer: &FlownFigure, inner: &FlownFigure) -> bool {
    inner.hush.iter().all(|(from, until)| {
        let within =
            |(first, last): &(_, _)| *first <= *from + s(1e-5) && *until <= *last + s(1e-5);
        outer.hush.iter().any(within)
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    #[test]
    fn the_hush_of_a_louder_aircraft_holds_that_of_a_quieter_one(
        speed in 60.0..300.0_f64, level in 80.0..110.0_f64, more in 0.0..15.0_f64,
        astern in 0.0..12.0_f64, x in -12.0..12.0_f64, y in -12.0..12.0_f64,
    ) {
        let quiet = fly_all(&noisy(speed, level, astern, x, y));
        let loud = fly_all(&noisy(speed, level + more, astern, x, y));
        prop_assert!(contains(&loud.figures[0], &quiet.figures[0]));
    }

    #[test]
    fn flown_mirrored_in_a_mirrored_wind_the_hush_is_the_same(
        speed in 60.0..300.0_f64, level in 80.0..110.0_f64, astern in 0.0..12.0_f64,
        x in -12.0..12.0_f64, y in -12.0..12.0_f64,
    ) {
        let plain = fly_all(&noisy(speed, level, astern, x, y));
        let mirrored = fly_mirrored(&noisy(speed, level, astern, -x, y));
        let (plain, mirrored) = (&plain.figures[0].hush, &mirrored.figures[0].hush);
        prop_assert_eq!(plain.len(), mirrored.len());
        for (a, b) in plain.iter().zip(mirrored) {
            prop_assert!((a.0 - b.0).abs() < s(1e-4) && (a.1 - b.1).abs() < s(1e-4));
        }
    }
}
