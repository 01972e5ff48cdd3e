//! The plan: every figure, word and track on one clock, at times worked by hand.

mod planned;

use abeam::flight::{self, Entry};
use abeam::show::{Name, PointName};
use abeam::sound::Course;
use abeam::timeline::{CueTime, SpokenBlock, Version, chain};
use abeam::units::{Instant, Span, Speed};
use planned::{PASS, Planned, planned, same, timed};
use proptest::prelude::*;

fn call(id: &str, at: &str) -> String {
    format!("[[call]]\nid = \"{id}\"\nwho = \"coordinator\"\nat = \"{at}\"\ntext = \"now\"\n")
}

fn block(id: &str, full: f64, starts: &str, more: &str) -> String {
    format!("[[block]]\nid = \"{id}\"\ntext = \"{full} s\"\nstarts = \"{starts}\"\n{more}\n")
}

fn track(id: &str, length: f64, more: &str) -> String {
    format!("[[track]]\nid = \"{id}\"\nfile = \"{length} s.flac\"\n{more}\n")
}

#[test]
fn every_kind_of_time_is_where_it_says() {
    // The pass is abeam at 0, so it starts at -100 and ends at 20; the double pass takes 40 s from there.
    let expected = [
        ("pass.start", -100.0),
        ("pass.inbound", -40.0),
        ("pass.gate.1", -20.0),
        ("pass.gate.2", -10.0),
        ("pass.abeam", 0.0),
        // 260 m at the speed of sound 50 m up (288.15 - 0.325 K): 20.046796 √287.825 = 340.102 m/s.
        ("pass.heard", 0.76448),
        ("pass.end", 20.0),
        ("double.abeam", 30.0),
        ("double.abeam.2", 50.0),
        // A timed figure is heard from the display line, 240 m off, at 340.294 m/s (ISO 2533).
        ("double.heard.2", 50.70527),
        ("double.end", 60.0),
        ("words.start", 21.0),
        ("words.end", 28.0),
        ("music.start", 20.0),
        // Begun at its entry, 2 s in: the hit 12 s in comes after 10 s, the end of 30 s after 28 s.
        ("music.rise", 30.0),
        ("music.end", 48.0),
        ("show", 0.0),
        ("show + 1:30", 90.0),
        ("pass.abeam - 2.5 s", -2.5),
        // Show zero is 23:59:00.
        ("clock 00:00:30", 90.0),
        ("clock 23:58:50 + 1 s", -9.0),
    ];
    let calls: String = expected
        .iter()
        .enumerate()
        .map(|(i, (time, _))| call(&format!("call-{i}"), time))
        .collect();
    let body = [
        PASS,
        &timed("double", 40.0, "passes = [\"10 s\", \"30 s\"]"),
        &block("words", 7.0, "pass.end + 1 s", ""),
        &track(
            "music",
            30.0,
            "starts = \"double.start\"\nhits = { rise = \"0:12\" }\nentries = [\"0:02\"]",
        ),
        &calls,
    ]
    .concat();
    let lake = planned(
        "start = \"23:59:00\"\nzero = \"pass.abeam\"",
        &["pass", "double"],
        &body,
    );
    for (i, (time, at)) in expected.iter().enumerate() {
        let laid = lake.call(&format!("call-{i}"));
        assert!(same(laid, *at), "{time}: {laid}, by hand {at}");
    }
}

#[test]
fn show_zero_is_where_the_document_puts_it() {
    let body = [
        PASS,
        &timed("double", 40.0, "passes = [\"10 s\", \"30 s\"]"),
    ]
    .concat();
    for (zero, starts) in [
        ("", 0.0),
        ("zero = \"pass.start\"", 0.0),
        ("zero = \"pass.gate.2\"", -90.0),
        ("zero = \"double.abeam.2\"", -150.0),
        ("zero = \"double.end + 10 s\"", -170.0),
    ] {
        let lake = planned(zero, &["pass", "double"], &body);
        let laid = lake.point("pass", "start");
        assert!(same(laid, starts), "{zero}: {laid}");
    }
}

#[test]
fn a_figure_on_the_clock_stays_there_when_show_zero_moves_the_rest() {
    let body = [PASS, &timed("late", 10.0, "starts = \"clock 12:02:00\"")].concat();
    let lake = planned(
        "start = \"12:00:00\"\nzero = \"pass.abeam\"",
        &["pass", "late"],
        &body,
    );
    assert!(same(lake.point("pass", "abeam"), 0.0));
    assert!(same(lake.point("late", "start"), 120.0));
}

#[test]
fn chains_run_beside_each_other_and_join_where_they_fly_together() {
    let figure = |id: &str, who: &str, takes: f64, more: &str| {
        timed(id, takes, more).replace("\"solo\"", who)
    };
    let body = [
        figure("solo-1", "\"solo\"", 60.0, ""),
        figure("pair-1", "\"pair\"", 30.0, "starts = \"show + 10 s\""),
        // Joins the later of both: the solo at 60, the pair at 40.
        figure("both", "[\"solo\", \"pair\"]", 20.0, ""),
        // Behind both, and told to start at 100.
        figure("pair-2", "\"pair\"", 10.0, "starts = \"show + 100 s\""),
        // Told to start at 70, but still flying until 80.
        figure("solo-2", "\"solo\"", 15.0, "starts = \"show + 70 s\""),
        // Its own aircraft is free at 95; the programme before it, the solo's figure, ends at 95 too.
        figure("solo-3", "\"solo\"", 5.0, ""),
        // Behind what comes before it in the programme and behind its own, which ends at 110.
        figure("pair-3", "\"pair\"", 5.0, ""),
    ]
    .concat();
    let order = [
        "solo-1", "pair-1", "both", "pair-2", "solo-2", "solo-3", "pair-3",
    ];
    let lake = planned("", &order, &body);
    let starts = order.map(|id| lake.point(id, "start"));
    assert_eq!(starts, [0.0, 10.0, 60.0, 100.0, 80.0, 95.0, 110.0]);
}

#[test]
fn slack_is_what_is_left_before_the_first_thing_that_stops_a_speaker() {
    let pass = PASS.to_owned() + "hush = { from = \"-5 s\", until = \"8 s\" }\n";
    let body = [
        &pass,
        // Next: its ends_by at -60, though the next words begin at -58.
        &block("by", 10.0, "pass.abeam - 80 s", "ends_by = \"show - 60 s\""),
        // Next: words at -45.
        &block("words", 10.0, "pass.abeam - 58 s", ""),
        // Next: the silence at -20.
        &block("still", 10.0, "pass.abeam - 45 s", ""),
        // Next: the hush at -5; 14 s of words from -18 are over at -4.
        &block("loud", 14.0, "pass.abeam - 18 s", ""),
        // Nothing follows.
        &block("last", 5.0, "pass.end", ""),
        "[[silence]]\nfrom = \"show - 20 s\"\nuntil = \"show - 19 s\"\n",
        // A filler has no time, and stops nobody.
        "[[block]]\nid = \"filler\"\ntext = \"5 s\"\n",
    ]
    .concat();
    let lake = planned("zero = \"pass.abeam\"", &["pass"], &body);
    assert_eq!(lake.slack("by"), Some(10.0));
    assert_eq!(lake.slack("words"), Some(3.0));
    assert_eq!(lake.slack("still"), Some(15.0));
    assert_eq!(lake.slack("loud"), Some(-1.0));
    assert_eq!(lake.slack("last"), None);
    assert_eq!(lake.block("filler").starts, CueTime::Free);
    assert_eq!(lake.slack("filler"), None);
}

#[test]
fn the_short_text_is_said_only_where_the_full_does_not_fit() {
    // A full text that has a shorter one has to fit with its spread, 6 % where nothing is stated.
    let body = [
        PASS,
        &block(
            "fits",
            10.0,
            "show",
            "short = \"2 s\"\nends_by = \"show + 10.6 s\"",
        ),
        &block(
            "long",
            10.001,
            "show + 20 s",
            "short = \"2 s\"\nends_by = \"show + 30.6 s\"",
        ),
        &block(
            "hopeless",
            20.0,
            "show + 40 s",
            "short = \"15 s\"\nends_by = \"show + 50 s\"",
        ),
        &block("only", 20.0, "show + 80 s", "ends_by = \"show + 90 s\""),
    ]
    .concat();
    let lake = planned("", &["pass"], &body);
    let version = |id| lake.block(id).version;
    assert_eq!(version("fits"), Version::Full);
    assert_eq!(version("long"), Version::Short);
    assert_eq!(version("hopeless"), Version::Short);
    assert_eq!(version("only"), Version::Full);
    assert_eq!(lake.slack("fits"), Some(0.6));
    assert_eq!(lake.slack("long"), Some(8.6));
    assert_eq!(lake.slack("hopeless"), Some(-5.0));
}

#[test]
fn fewer_words_before_leave_room_for_the_full_text_after() {
    // In full: 0 to 20, then 20 to 35, both too late. With 8 s said first, the second is over at 23.
    let body = [
        PASS,
        &block(
            "first",
            20.0,
            "show",
            "short = \"8 s\"\nends_by = \"show + 10 s\"",
        ),
        &block(
            "second",
            15.0,
            "first.end",
            "short = \"3 s\"\nends_by = \"show + 30 s\"",
        ),
    ]
    .concat();
    let lake = planned("", &["pass"], &body);
    assert_eq!(lake.block("first").version, Version::Short);
    assert_eq!(lake.start("second"), Some(8.0));
    assert_eq!(lake.block("second").version, Version::Full);
    assert_eq!(lake.slack("second"), Some(7.0));
}

/// A track with a hit that meets the pass, which is abeam 100 s after the display begins.
fn meeting(hit: &str, entries: &str, more: &str) -> Planned {
    let music = track(
        "music",
        300.0,
        &format!(
            "hits = {{ peak = \"{hit}\" }}\nentries = {entries}\nmeets = {{ hit = \"peak\", on = \"pass.abeam\"{more} }}"
        ),
    );
    planned(
        "zero = \"pass.abeam\"",
        &["pass"],
        &(PASS.to_owned() + &music),
    )
}

#[test]
fn what_is_cut_out_of_a_track_lets_it_start_later_for_its_meet() {
    // 3 s are cut out before the hit, 40 s after it.
    let cuts = "cuts = [{ from = \"0:10\", to = \"0:13\" }, { from = \"1:00\", to = \"1:40\" }]";
    let body = track(
        "music",
        300.0,
        &format!(
            "hits = {{ peak = \"0:30\" }}\n{cuts}\nmeets = {{ hit = \"peak\", on = \"pass.abeam\" }}"
        ),
    );
    let show = planned(
        "zero = \"pass.abeam\"",
        &["pass"],
        &(PASS.to_owned() + &body),
    );
    let music = show.track("music");
    assert_eq!(music.starts.instant().map(planned::seconds), Some(-27.0));
    assert_eq!(music.ends.map(planned::seconds), Some(-27.0 + 300.0 - 43.0));
    assert_eq!(music.meeting.map(|made| made.miss.s()), Some(0.0));
}

/// The course of a track of a minute that begins with the show; 10 to 14 s and 50 to 55 s are cut out.
fn cut(more: &str) -> Course {
    let cuts = "cuts = [{ from = \"0:10\", to = \"0:14\" }, { from = \"0:50\", to = \"0:55\" }]";
    let body = track(
        "bed",
        60.0,
        &format!("starts = \"pass.start\"\n{cuts}\n{more}"),
    );
    let show = planned(
        "zero = \"pass.abeam\"",
        &["pass"],
        &(PASS.to_owned() + &body),
    );
    show.track("bed").course
}

#[test]
fn what_is_cut_out_is_not_played_and_all_behind_it_comes_sooner() {
    let s = Span::from_s;
    let course = cut("entries = [\"0:02\"]");
    for (after, place) in [
        (0.0, 2.0),
        (7.9, 9.9),
        (8.0, 14.0),
        (43.9, 49.9),
        (44.0, 55.0),
    ] {
        assert_eq!(course.place_at(s(after)), s(place), "after {after} s");
    }
    assert_eq!(course.reaches(s(9.0)), Some(s(7.0)));
    assert_eq!(course.reaches(s(12.0)), None, "it is cut out");
    assert_eq!(course.reaches(s(14.0)), Some(s(8.0)));
    assert_eq!(course.reaches(s(58.0)), Some(s(47.0)));
    assert_eq!(course.ends(Instant::ZERO, s(60.0)), Instant::from_s(49.0));
    // From behind the first cut, only the second is left.
    let course = cut("entries = [\"0:20\"]");
    assert_eq!(course.reaches(s(58.0)), Some(s(33.0)));
}

#[test]
fn what_loops_goes_round_with_its_cuts_for_an_hour() {
    let s = Span::from_s;
    let looped = "loop = { from = \"0:06\", to = \"0:30\" }\nends = \"pass.end\"";
    let course = cut(looped);
    // 26 s to the end of the loop; each round of it is 20 s.
    for round in [0.0, 1.0, 2.0, 150.0] {
        let from = 26.0 + 20.0 * round;
        assert_eq!(course.place_at(s(from)), s(6.0), "round {round}");
        assert_eq!(course.place_at(s(from + 5.0)), s(15.0), "round {round}");
    }
    assert!(course.ends(Instant::ZERO, s(60.0)) > Instant::from_s(3_600.0));
}

#[test]
fn a_bed_that_loops_lasts_until_what_ends_it() {
    let looped = "loop = { from = \"0:04\", to = \"0:10\" }";
    let bed = |more: &str| {
        let body = track("bed", 12.0, &format!("starts = \"pass.start\"\n{more}"));
        planned(
            "zero = \"pass.abeam\"",
            &["pass"],
            &(PASS.to_owned() + &body),
        )
        .track("bed")
    };
    // From -100: as written it is over after its 12 s.
    assert_eq!(
        bed("ends = \"pass.end\"").ends.map(planned::seconds),
        Some(-88.0)
    );
    let ends = "ends = \"pass.end\"\nfade_out = \"5 s\"";
    let round = bed(&format!("{looped}\n{ends}"));
    assert_eq!(round.fades.map(planned::seconds), Some(15.0));
    assert_eq!(round.ends.map(planned::seconds), Some(20.0));
    // 10 s to its first join, then 6 s a round: after 62 s it is 4 s into its ninth.
    assert_eq!(round.course.place_at(Span::from_s(62.0)), Span::from_s(8.0));
}

#[test]
fn a_meet_is_made_by_when_its_track_starts() {
    let music = meeting("0:30", "[\"0:00\"]", "").track("music");
    let made = music.meeting.expect("a meet");
    assert_eq!(music.starts.instant().map(planned::seconds), Some(-30.0));
    assert_eq!((made.miss.s(), made.met), (0.0, true));
    // From -30, all of its 300 s.
    assert_eq!(music.ends.map(planned::seconds), Some(270.0));
}

#[test]
fn a_meet_that_comes_too_soon_is_made_from_a_later_entry() {
    // From its beginning it would have to start at -120; the display begins at -100.
    let music = meeting("2:00", "[\"0:00\", \"0:15\", \"0:30\", \"1:00\"]", "").track("music");
    let made = music.meeting.expect("a meet");
    // From 0:15 that is -105, still too soon; from 0:30 it is -90.
    assert_eq!(
        (made.entry.s(), made.start.s(), made.met),
        (30.0, -90.0, true)
    );
    assert_eq!(music.ends.map(planned::seconds), Some(180.0));
}

#[test]
fn a_meet_that_cannot_be_made_does_what_the_document_says() {
    // From -100 the hit, 120 s after the beginning and 110 after the entry, comes at 20 or at 10.
    let entries = "[\"0:00\", \"0:10\"]";
    for (if_missed, entry, miss, left_out) in [
        ("late", 0.0, 20.0, false),
        ("nearest", 10.0, 10.0, false),
        ("fade", 0.0, 20.0, true),
    ] {
        let lake = meeting("2:00", entries, &format!(", if_missed = \"{if_missed}\""));
        let made = lake.track("music").meeting.expect("a meet");
        assert_eq!(
            (made.entry.s(), made.miss.s(), made.left_out, made.met),
            (entry, miss, left_out, false),
            "{if_missed}"
        );
        assert_eq!(made.start.s(), -100.0);
    }
    // Within what is allowed it counts as met, and is not left out.
    let made = meeting(
        "2:00",
        "[\"0:19.5\"]",
        ", within = \"1 s\", if_missed = \"fade\"",
    );
    let made = made.track("music").meeting.expect("a meet");
    assert_eq!((made.miss.s(), made.met, made.left_out), (0.5, true, false));
}

#[test]
fn the_hush_is_heard_later_than_it_is_flown() {
    // Above -6.0206 dB is within twice 240 m. At 260 m abeam that is √(480² − 260²) = 403.48 m to each
    // side, 4.0348 s at 100 m/s; the sound of 480 m takes 480 / 340.102 = 1.4113 s.
    let text = planned::document("zero = \"pass.abeam\"", &["pass"], PASS)
        .replace("\"0 dB\"", "\"-6.0206 dB\"");
    let lake = planned::of_text(&text);
    let [(from, until)] = lake.plan.moments.hushes()[..] else {
        panic!("one hush");
    };
    assert!(same(from.s(), -4.0348 + 1.4113), "{}", from.s());
    assert!(same(until.s(), 4.0348 + 1.4113), "{}", until.s());
}

#[test]
fn a_stated_hush_lies_around_the_first_abeam() {
    let body = timed(
        "double",
        40.0,
        "passes = [\"10 s\", \"30 s\"]\nhush = { from = \"-4 s\", until = \"6 s\" }",
    );
    let lake = planned("", &["double"], &body);
    let hushes: Vec<_> = lake.plan.moments.hushes();
    assert_eq!(hushes.len(), 1);
    assert_eq!((hushes[0].0.s(), hushes[0].1.s()), (6.0, 16.0));
}

#[test]
fn a_pass_flown_mirrored_meets_the_wind_from_the_other_side() {
    // The wind blows along the line from the crowd's left at 20 m/s: 4 km at 120 m/s from the left, at
    // 80 m/s from the right.
    let lake = planned("", &["pass"], PASS);
    let mut day = lake.show.day.clone();
    day.wind[0].speed = Speed::from_mps(20.0);
    for (mirrored, run_in) in [(false, 4000.0 / 120.0), (true, 50.0)] {
        let entries = [Entry {
            key: Name::from("pass"),
            figure: Name::from("pass"),
            profile: Name::from("high"),
            mirrored,
        }];
        let flight = flight::fly(&lake.show, &day, &entries);
        let moments = chain::planned(&lake.show, &flight);
        let at = |point| moments.figures[0].expected(&point).expect("a point").at.s();
        let took = at(PointName::Abeam(1)) - at(PointName::Inbound);
        assert!(same(took, run_in), "mirrored {mirrored}: {took}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn the_order_of_the_document_does_not_move_anything(
        words in proptest::collection::vec((1_u32..25, 1_u32..10, 0_i32..200), 1..7),
        chained in any::<bool>(),
        order in Just((0..20_usize).collect::<Vec<_>>()).prop_shuffle(),
    ) {
        let mut pieces: Vec<String> = words
            .iter()
            .enumerate()
            .map(|(i, (full, short, at))| {
                let starts = match i.checked_sub(1).filter(|_| chained) {
                    Some(before) => format!("b{before}.end + {at} s"),
                    None => format!("show + {at} s"),
                };
                block(&format!("b{i}"), f64::from(*full), &starts, &format!("short = \"{short} s\""))
            })
            .collect();
        pieces.push(track("t0", 20.0, "starts = \"b0.end\"\nhits = { peak = \"0:05\" }"));
        pieces.push(track("t1", 30.0, "starts = \"t0.peak + 3 s\""));
        pieces.push("[[silence]]\nfrom = \"t1.end\"\nuntil = \"t1.end + 5 s\"\n".into());
        let mut shuffled: Vec<(usize, &String)> = order.iter().copied().zip(&pieces).collect();
        shuffled.sort();
        let shuffled: String = shuffled.into_iter().map(|(_, piece)| piece.as_str()).collect();
        let one = planned("", &["pass"], &(PASS.to_owned() + &pieces.concat()));
        let other = planned("", &["pass"], &(PASS.to_owned() + &shuffled));
        for block in &one.show.blocks {
            // A cause names a block by its place in the document.
            let laid = |lake: &Planned| SpokenBlock { because: None, ..lake.block(block.id.as_str()) };
            prop_assert_eq!(laid(&one), laid(&other));
        }
        for track in ["t0", "t1"] {
            prop_assert_eq!(one.track(track), other.track(track));
        }
    }

    #[test]
    fn more_noise_never_leaves_more_room(
        words in proptest::collection::vec((1_u32..25, 0_i32..120), 1..7),
        from in -60_i32..60,
        lasts in 1_i32..30,
    ) {
        let blocks: String = words
            .iter()
            .enumerate()
            .map(|(i, (full, at))| block(&format!("b{i}"), f64::from(*full), &format!("show + {at} s"), "keep = \"must\""))
            .collect();
        let hush = format!("hush = {{ from = \"{from} s\", until = \"{} s\" }}\n", from + lasts);
        let quiet = planned("", &["pass"], &(PASS.to_owned() + &blocks));
        let loud = planned("", &["pass"], &(PASS.to_owned() + &hush + &blocks));
        for block in &quiet.show.blocks {
            let id = block.id.as_str();
            let less = match (loud.slack(id), quiet.slack(id)) {
                (Some(loud), Some(quiet)) => loud <= quiet,
                (None, Some(_)) => false,
                (_, None) => true,
            };
            prop_assert!(less, "{id}: {:?} with the hush, {:?} without", loud.slack(id), quiet.slack(id));
        }
    }
}

/// What an aircraft is learnt to take longer counts for a figure that is only timed as for a modelled one.
#[test]
fn a_timed_figure_is_as_late_as_it_is_said_to_be() {
    let body = |more: &str| timed("double", 40.0, &format!("passes = [\"10 s\"]\n{more}"));
    let plain = planned("", &["double"], &body(""));
    let late = planned("", &["double"], &body("late = \"4 s\""));
    for (point, later) in [("abeam", 1.0), ("end", 4.0)] {
        let (plain, late) = (plain.point("double", point), late.point("double", point));
        assert!(same(late - plain, later), "{point}: {plain} {late}");
    }
}
