//! What does not fit is said: words against words and noise, music against music, meets, the slot.

mod planned;

use abeam::show::Severity::{Advice, Error};
use planned::{PASS, Planned, planned, timed};

/// Abeam at show zero, 19:40:00, to 11.3 s (the start to 5, the hold to 10, and a little for the run); too
/// loud to talk over from -5 to 8 s.
fn with_pass(body: &str) -> Planned {
    let pass = PASS.to_owned() + "hush = { from = \"-5 s\", until = \"8 s\" }\n";
    planned(
        "start = \"19:40:00\"\nzero = \"pass.abeam\"",
        &["pass"],
        &(pass + body),
    )
}

fn block(id: &str, full: f64, starts: &str, more: &str) -> String {
    format!("[[block]]\nid = \"{id}\"\ntext = \"{full} s\"\nstarts = \"{starts}\"\n{more}\n")
}

fn track(id: &str, length: f64, more: &str) -> String {
    format!("[[track]]\nid = \"{id}\"\nfile = \"{length} s.flac\"\n{more}\n")
}

const SILENCE: &str = "[[silence]]\nfrom = \"show + 60 s\"\nuntil = \"show + 70 s\"\n";

#[test]
fn words_that_fit_are_no_fault() {
    let lake = with_pass(
        &[
            block("a", 10.0, "show - 15 s", ""),
            block("b", 10.0, "show + 8 s", "ends_by = \"show + 18 s\""),
            block("c", 5.0, "show + 18 s", ""),
            block("d", 37.0, "show + 23 s", ""),
            SILENCE.into(),
        ]
        .concat(),
    );
    assert_eq!(lake.messages(), [""; 0]);
}

#[test]
fn words_that_run_into_something_say_what_when_and_by_how_much() {
    let cases = [
        (
            block("a", 12.0, "show - 15 s", ""),
            "\"a\" runs into pass, too loud to talk over from 19:39:55 ±11.3 s: 2 s too long",
        ),
        (
            block("a", 12.25, "show + 50 s", ""),
            "\"a\" runs into the silence at 19:41:00: 2.3 s too long",
        ),
        (
            block("a", 12.0, "show + 20 s", "ends_by = \"show + 31 s\""),
            "\"a\" is not over by 19:40:31, its ends_by: 1 s too long",
        ),
        (
            block("a", 12.0, "show + 20 s", "") + &block("b", 2.0, "show + 25 s", ""),
            "\"a\" is still being said when \"b\" begins at 19:40:25: 7 s too long",
        ),
        (
            block("a", 1.0, "show + 7 s", ""),
            "\"a\" begins while pass is too loud to talk over, until 19:40:08 ±11.3 s",
        ),
        (
            block("a", 1.0, "show + 60 s", ""),
            "\"a\" begins in the silence that lasts until 19:41:10",
        ),
    ];
    for (body, message) in cases {
        let lake = with_pass(&(body + SILENCE));
        assert_eq!(lake.messages(), [message]);
        assert_eq!(lake.faults()[0].0, Error);
    }
}

#[test]
fn what_is_too_long_for_several_things_is_measured_against_the_first() {
    // From 20 s on: the words at 30, then its ends_by at 35, then the silence at 60.
    let body = block("a", 45.0, "show + 20 s", "ends_by = \"show + 35 s\"")
        + &block("b", 2.0, "show + 30 s", "")
        + SILENCE;
    let lake = with_pass(&body);
    assert_eq!(
        lake.messages(),
        ["\"a\" is still being said when \"b\" begins at 19:40:30: 35 s too long"]
    );
    assert_eq!(lake.slack("a"), Some(-35.0));
}

#[test]
fn two_blocks_at_one_instant_are_both_told() {
    let body = block("a", 2.0, "show + 30 s", "") + &block("b", 3.0, "show + 30 s", "");
    assert_eq!(
        with_pass(&body).messages(),
        [
            "\"a\" is still being said when \"b\" begins at 19:40:30: 2 s too long",
            "\"b\" is still being said when \"a\" begins at 19:40:30: 3 s too long",
        ]
    );
}

#[test]
fn words_that_may_go_are_only_advice() {
    let lake = with_pass(&block("a", 12.0, "show - 15 s", "keep = \"may\""));
    assert_eq!(lake.faults()[0].0, Advice);
}

#[test]
fn the_help_says_whether_there_is_a_short_text_left() {
    let help = |more: &str| {
        let lake = with_pass(&block("a", 12.0, "show - 15 s", more));
        lake.faults().first().map(|fault| fault.2.to_owned())
    };
    assert!(help("").is_some_and(|help| help.contains("give it a `short` text")));
    assert!(help("short = \"11 s\"").is_some_and(|help| help.contains("even its short text")));
    assert_eq!(help("short = \"10 s\""), None);
}

#[test]
fn a_show_on_a_time_hack_is_told_in_show_time() {
    let lake = planned(
        "zero = \"pass.abeam\"",
        &["pass"],
        &(PASS.to_owned() + &block("a", 12.0, "show + 80 s", "ends_by = \"show + 90 s\"")),
    );
    assert_eq!(
        lake.messages(),
        ["\"a\" is not over by 1:30.0, its ends_by: 2 s too long"]
    );
}

#[test]
fn words_that_must_be_said_but_hang_on_a_figure_not_flown_are_advice() {
    let body = timed("extra", 10.0, "")
        + "[profile.low]\norder = [\"pass\", \"extra\"]\n"
        + &block("a", 2.0, "extra.start", "keep = \"must\"")
        + &block("b", 2.0, "extra.start + 5 s", "");
    let lake = with_pass(&body);
    assert_eq!(
        lake.messages(),
        ["\"a\" must be said, but extra.start is not flown in this profile"]
    );
    assert_eq!(lake.faults()[0].0, Advice);
}

#[test]
fn tracks_that_overlap_without_a_cross_fade_are_told() {
    let first = |more: &str| track("first", 30.0, &format!("starts = \"show\"\n{more}"));
    let second = |more: &str| track("second", 30.0, &format!("starts = \"show + 26 s\"\n{more}"));
    let said = "\"second\" starts 4 s before \"first\" ends";
    let none: [&str; 0] = [];
    assert_eq!(with_pass(&(first("") + &second(""))).messages(), [said]);
    // A fade that is asked for is heard at its own end too.
    let own_end = first("fade_out = \"4 s\"") + &second("");
    assert_eq!(with_pass(&own_end).messages(), none);
    let cross_faded = first("fade_out = \"3 s\"\nends = \"show + 29 s\"") + &second("");
    assert_eq!(with_pass(&cross_faded).messages(), none);
    let too_short = first("fade_out = \"2 s\"\nends = \"show + 29 s\"") + &second("");
    assert_eq!(
        with_pass(&too_short).messages(),
        ["\"second\" starts 3 s before \"first\" ends"]
    );
    let under = first("under = true") + &second("");
    assert_eq!(with_pass(&under).messages(), none);
    let after = first("") + &track("second", 30.0, "starts = \"show + 30 s\"");
    assert_eq!(with_pass(&after).messages(), none);
}

#[test]
fn a_long_track_overlaps_more_than_the_next_one() {
    let body = track("long", 100.0, "starts = \"show\"")
        + &track("one", 10.0, "starts = \"show + 10 s\"")
        + &track("two", 10.0, "starts = \"show + 30 s\"");
    assert_eq!(
        with_pass(&body).messages(),
        [
            "\"one\" starts 90 s before \"long\" ends".replace("90 s", "1:30.0"),
            "\"two\" starts 1:10.0 before \"long\" ends".into(),
        ]
    );
}

#[test]
fn a_meet_too_soon_for_the_display_says_when_it_would_start_and_what_is_done() {
    let meets = |if_missed: &str| {
        track(
            "hymn",
            200.0,
            &format!(
                "hits = {{ verse = \"2:00\" }}\nmeets = {{ hit = \"verse\", on = \"pass.abeam\", if_missed = \"{if_missed}\" }}"
            ),
        )
    };
    // The display begins at -100, 19:38:20; the hit is 120 s into the track.
    let lake = with_pass(&meets("late"));
    assert_eq!(
        lake.messages(),
        [
            "\"hymn\" cannot meet pass.abeam: it would have to start 20 s before the display begins, at 19:38:20 ±11.3 s; its hit \"verse\" comes 20 s late"
        ]
    );
    assert_eq!(lake.faults()[0].0, Error);
    let lake = with_pass(&meets("fade"));
    assert!(lake.messages()[0].ends_with("; it is left out"));
}

#[test]
fn a_meet_too_soon_after_the_track_before_it_names_the_meet() {
    let before = track("march", 60.0, "starts = \"show - 90 s\"");
    let hymn = |entries: &str| {
        track(
            "hymn",
            200.0,
            &format!(
                "hits = {{ verse = \"0:38\" }}\nentries = {entries}\nmeets = {{ hit = \"verse\", on = \"pass.abeam\" }}"
            ),
        )
    };
    // The march is over at -30; the hymn must start at -38, or from 0:10 at -28.
    let lake = with_pass(&(before.clone() + &hymn("[\"0:00\"]")));
    let (severity, message, help) = lake.faults()[0];
    assert_eq!(severity, Error);
    assert_eq!(
        message,
        "\"hymn\" cannot meet pass.abeam before \"march\" ends: it starts at 19:39:22 ±11.3 s, 8 s too early"
    );
    assert!(help.contains("a later entry"), "{help}");
    let lake = with_pass(&(before.clone() + &hymn("[\"0:00\", \"0:10\"]")));
    let (_, _, help) = lake.faults()[0];
    assert!(
        help.contains("write the entry \"0:10.000\" first"),
        "{help}"
    );
    let lake = with_pass(&(before + &hymn("[\"0:10\", \"0:00\"]")));
    assert_eq!(lake.messages(), [""; 0]);
}

#[test]
fn a_meet_begun_before_inbound_rests_on_the_hold() {
    // Inbound is planned 40 s before abeam.
    let body = track(
        "hymn",
        200.0,
        "hits = { verse = \"0:50\" }\nmeets = { hit = \"verse\", on = \"pass.abeam\" }",
    );
    let lake = with_pass(&body);
    assert_eq!(
        lake.messages(),
        [
            "\"hymn\" must start 10 s before pass is planned inbound: until then its meet rests on the length of the hold"
        ]
    );
    assert_eq!(lake.faults()[0].0, Advice);
}

#[test]
fn a_display_longer_than_its_slot_says_which_figures_to_drop() {
    // 60 + 30 + 20 + 25 s from 14:00:00: over at 14:02:15.
    let figures = [("a", 60.0), ("b", 30.0), ("c", 20.0), ("d", 25.0)];
    let body: String = figures.map(|(id, takes)| timed(id, takes, "")).concat();
    let show = |ends: &str| {
        let heading = format!("start = \"14:00:00\"\nzero = \"a.start\"\nslot_ends = \"{ends}\"");
        planned(&heading, &["a", "b", "c", "d"], &body)
    };
    assert_eq!(show("14:02:15").messages(), [""; 0]);
    // 23 s over: without b or d alone. Show zero hangs on a, which stays.
    let lake = show("14:01:52");
    assert_eq!(
        lake.faults(),
        // The start to 5 s, 2 s of each crew's own, 2 % of 2:15 in pace.
        [(
            Error,
            "the display ends at 14:02:15 ±6.9 s, 23 s after its slot",
            "dropping any of these would cure it: b; d"
        )]
    );
    // 40 s over: no single one; each two of b, c, d.
    let lake = show("14:01:35");
    let (_, _, help) = lake.faults()[0];
    assert_eq!(
        help,
        "dropping any of these would cure it: b and c; b and d; c and d"
    );
    // 70 s over: only all three.
    assert_eq!(
        show("14:01:05").faults()[0].2,
        "dropping b and c and d would cure it"
    );
    // 1:30 over: nothing.
    let lake = show("14:00:45");
    assert!(lake.messages()[0].contains("1:30.0 after its slot"));
    assert_eq!(
        lake.faults()[0].2,
        "dropping up to 3 figures does not cure it"
    );
}

#[test]
fn a_long_display_far_over_its_slot_is_answered() {
    // 60 figures of 10 s in a slot of a minute: more sets of three than anybody would wait for.
    let ids: Vec<String> = (0..60).map(|i| format!("f{i}")).collect();
    let order: Vec<&str> = ids.iter().map(String::as_str).collect();
    let body: String = ids.iter().map(|id| timed(id, 10.0, "")).collect();
    let lake = planned(
        "start = \"14:00:00\"\nslot_ends = \"14:01:00\"",
        &order,
        &body,
    );
    assert_eq!(
        lake.faults()[0].2,
        "dropping up to 3 figures does not cure it"
    );
}

#[test]
fn a_vamp_says_where_its_bars_are() {
    let vamp = |id: &str, more: &str| {
        track(
            id,
            60.0,
            &format!(
                "starts = \"show + 1 s\"\nunder = true\nvamp = {{ from = \"0:10\", to = \"0:30\" }}\n{more}"
            ),
        )
    };
    let body = PASS.to_owned()
        + &vamp("known", "bar = \"2.5 s\"")
        + &vamp(
            "beats",
            "tempo = \"96 bpm\"\nbar = \"4 beats\"\nfirst_bar = \"0:00.500\"",
        )
        + &vamp("unknown", "")
        + &vamp("longer", "bar = \"15 s\"\nfirst_bar = \"0:05\"");
    let lake = planned("", &["pass"], &body);
    let about: Vec<_> = lake
        .faults()
        .into_iter()
        .filter(|fault| fault.1.contains("bar"))
        .collect();
    assert_eq!(about.len(), 2, "{about:?}");
    assert_eq!((about[0].0, about[1].0), (Advice, Advice));
    assert!(about[0].1.contains("where the bars of \"unknown\" are"));
    assert!(
        about[1]
            .1
            .contains("no whole bar is in the vamp of \"longer\"")
    );
}
