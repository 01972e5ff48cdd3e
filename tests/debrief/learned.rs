//! What the plan learns from journals, and what of it is written into the document.

use abeam::debrief::seen::How;
use abeam::debrief::stretch::{PartOf, took};
use abeam::debrief::{Lessons, Went};
use abeam::live::event::{MarkKind, What};

use crate::close;
use crate::made::*;
use crate::rehearsal::{DISPLAY, mark, plan_of};

/// By hand: from the arrival's abeam to the slow pass's, 6 s longer than planned, go through the rest of the arrival
/// (1 s of spread for all that is flown of it), the reposition (2 s) and the run-in of the slow pass (2 s for all of
/// it). What is longer is shared by variance.
#[test]
fn what_a_stretch_takes_longer_is_shared_by_variance() {
    let made = flown(DISPLAY, [0.0, 0.0, 6.0, 6.0, 6.0]);
    let went = made.went();
    let took = took(&went.folded, &went.points);
    let of = |figure: &str, part| {
        let found = took
            .iter()
            .find(|took| took.figure == figure && took.part == part);
        found.unwrap_or_else(|| panic!("{figure}: {took:?}"))
    };
    let s = |key: &str, point: &str| made.plan_s(key, point);
    let arrival = s("arrival", "end") - s("arrival", "inbound");
    let out = s("arrival", "end") - s("arrival", "abeam");
    let slow = s("slow-pass", "end") - s("slow-pass", "start");
    let run_in = s("slow-pass", "abeam") - s("slow-pass", "start");
    let variances = [out / arrival, 4.0, 4.0 * run_in / slow];
    let all: f64 = variances.iter().sum();
    // All of the arrival lies between things that were seen, so its share is its own.
    close(
        of("arrival", PartOf::Flight).longer,
        6.0 * variances[0] / all,
        1e-4,
        "arrival",
    );
    close(
        of("back-one", PartOf::Flight).longer,
        6.0 * variances[1] / all,
        1e-4,
        "back-one",
    );
    // The slow pass's own way out took as long as planned, so all of it has what its run-in had.
    close(
        of("slow-pass", PartOf::Flight).longer,
        6.0 * variances[2] / all,
        1e-4,
        "slow pass",
    );
    // Nothing of what came after was longer; the departure was never seen to end.
    close(of("memorial", PartOf::Hold).longer, 0.0, 1e-4, "hold");
    assert!(took.iter().all(|took| took.figure != "departure"));
}

#[test]
fn nothing_is_learned_across_a_hold_up_or_from_what_nobody_saw() {
    let mut made = Made::of(DISPLAY);
    let held = made.plan_s("arrival", "abeam") + 5.0;
    made.marked("arrival", "inbound", 0.0)
        .marked("arrival", "abeam", 0.0);
    made.at(held, What::Delay).at(held + 60.0, What::Resume);
    let abeam = made.plan_s("slow-pass", "abeam") + 60.0;
    made.at(abeam, mark(MarkKind::Abeam, abeam))
        .closed(abeam + 5.0);
    let went = made.went();
    assert_eq!(went.folded.changes.len(), 2);
    let took = took(&went.folded, &went.points);
    assert!(took.iter().all(|took| took.figure == "arrival"), "{took:?}");
}

#[test]
fn several_journals_teach_more_than_one_and_correct_the_plan_in_words() {
    // The reposition takes about six seconds longer each time, as in the test above.
    let journals: Vec<Made> = [5.5, 6.0, 6.5, 6.0]
        .iter()
        .map(|late| flown(DISPLAY, [0.0, 0.0, *late, *late, *late]))
        .collect();
    let all: Vec<Went> = journals.iter().map(Made::went).collect();
    let of = |count: usize| {
        let went: Vec<&Went> = all.iter().take(count).collect();
        Lessons::of(&journals[0].show, &went)
    };
    let (one, four) = (of(1), of(4));
    let back = |lessons: &Lessons| {
        let habit = lessons
            .habits
            .iter()
            .find(|habit| habit.figure == "back-one");
        habit.expect("the reposition").clone()
    };
    assert_eq!((back(&one).times, back(&four).times), (1, 4));
    assert!(back(&four).drawn < back(&one).drawn);
    assert!(back(&four).bias > back(&one).bias && back(&four).bias <= back(&four).longer);
    assert!(back(&four).bias_spread < back(&one).bias_spread);
    // Steadier than stated, four times: its spread comes down; that of one flying is as stated.
    assert!(back(&four).spread < back(&four).stated);
    let told: Vec<String> = four
        .corrections
        .iter()
        .map(|one| one.place.to_string())
        .collect();
    assert!(told.contains(&"back-one: takes".to_owned()), "{told:?}");
    let takes = four
        .corrections
        .iter()
        .find(|one| one.place.to_string() == "back-one: takes");
    let takes = takes.expect("it");
    let becomes = (40.0 + back(&four).bias.s()) * 10.0;
    assert_eq!(
        takes.becomes.to_string(),
        format!("\"{} s\"", becomes.round() / 10.0)
    );
    assert!(takes.because.contains("4 flyings"), "{}", takes.because);
}

#[test]
fn a_show_begun_in_the_middle_teaches_nothing_of_what_was_before() {
    let mut made = Made::of(DISPLAY);
    let opened = made.record.lines.remove(0);
    made.marked("arrival", "inbound", 0.0)
        .marked("arrival", "abeam", 0.0);
    made.record.lines.push(opened);
    let closed = made.plan_s("slow-pass", "abeam") + 20.0;
    made.marked("slow-pass", "abeam", 9.0).closed(closed);
    let went = made.went();
    let assumed = went
        .points
        .iter()
        .filter(|flown| flown.how == How::Assumed)
        .count();
    assert_eq!(assumed, 2);
    assert!(took(&went.folded, &went.points).is_empty());
}

/// `late` is how corrections are written for what is flown leg by leg: shared by time, so that the pass of a run-in
/// that is 70 % of the flown time comes 70 % of it later.
#[test]
fn late_is_shared_among_what_is_flown_by_time() {
    let late = DISPLAY.replace("gates = [\"1 nmi\"]", "gates = [\"1 nmi\"]\nlate = \"5 s\"");
    let (before, after) = (Made::of(DISPLAY), Made::of(&late));
    let took =
        |made: &Made, to: &str| made.plan_s("slow-pass", to) - made.plan_s("slow-pass", "start");
    close(
        took(&after, "end") - took(&before, "end"),
        5.0,
        1e-5,
        "all of it",
    );
    let share = took(&before, "abeam") / took(&before, "end");
    close(
        took(&after, "abeam") - took(&before, "abeam"),
        5.0 * share,
        1e-5,
        "its run-in",
    );
    // What was late and is planned so is no longer late.
    let mut made = Made::of(&late);
    let closed = made.plan_s("slow-pass", "end") + 60.0;
    made.marked("arrival", "abeam", 0.0)
        .marked("slow-pass", "abeam", 0.0)
        .closed(closed);
    let took = abeam::debrief::stretch::took(&made.went().folded, &made.went().points);
    assert!(took.iter().all(|took| took.longer.abs() < 1e-4), "{took:?}");
}

/// The rehearsal with a second aircraft that flies `other` between the slow pass and the reposition after it.
pub fn with_another(other: &str) -> String {
    DISPLAY
        .replace("\"slow-pass\", \"back-two\"", "\"slow-pass\", \"other\", \"back-two\"")
        .replace(
            "[[figure]]\nid = \"back-two\"",
            &format!(
                "[aircraft.two]\nname = \"Lantern Two\"\n\n[[figure]]\nid = \"other\"\nname = \"Other\"\naircraft = \"two\"\n\
                 from = \"left\"\nspread = \"1 s\"\n{other}\n\n[[figure]]\nid = \"back-two\""
            ),
        )
}

/// What was learned of a part of a figure; `None` where nothing was.
fn longer(went: &Went, figure: &str, part: PartOf) -> Option<f64> {
    let took = took(&went.folded, &went.points);
    let found = took
        .iter()
        .find(|took| took.figure == figure && took.part == part);
    found.map(|took| took.longer)
}

/// By hand: between the slow pass's abeam and the memorial's inbound, 9 s longer than planned, lie the rest of the slow
/// pass, the second reposition (2 s of spread) and the hold (15 s), shared by variance.
#[test]
fn a_figure_that_another_aircraft_could_keep_waiting_but_did_not_breaks_no_stretch() {
    let lates = [0.0, 0.0, 0.0, 9.0, 9.0];
    let alone = flown(DISPLAY, lates).went();
    let waited = flown(
        &with_another("starts = \"arrival.end\"\ntakes = \"10 s\""),
        lates,
    )
    .went();
    for (figure, part) in [
        ("slow-pass", PartOf::Flight),
        ("back-two", PartOf::Flight),
        ("memorial", PartOf::Hold),
    ] {
        let (a, b) = (longer(&alone, figure, part), longer(&waited, figure, part));
        close(a.expect(figure), b.expect(figure), 1e-3, figure);
    }
    let hold = longer(&waited, "memorial", PartOf::Hold).expect("the hold");
    assert!((8.0..9.0).contains(&hold), "{hold}");
}

#[test]
fn a_figure_that_waited_for_another_aircraft_is_timed_from_when_that_was_through() {
    // The other one leaves later than the slow pass is over: the reposition begins with its end, 5 s later than
    // planned as it was seen, and ends on time: the hold was shorter, not what was flown before.
    let other = "starts = \"slow-pass.end\"\ntakes = \"30 s\"\npasses = [\"29 s\"]";
    let mut made = Made::of(&with_another(other));
    made.marked("arrival", "inbound", 0.0)
        .marked("arrival", "abeam", 0.0)
        .marked("slow-pass", "abeam", 0.0);
    let passed = made.plan_s("other", "abeam") + 5.0;
    made.at(passed, named("other", "abeam", passed))
        .marked("memorial", "inbound", 0.0)
        .marked("memorial", "abeam", 0.0);
    let end = made.plan_s("departure", "end");
    made.closed(end);
    let went = made.went();
    let hold = longer(&went, "memorial", PartOf::Hold).expect("the hold");
    assert!((-5.5..-4.0).contains(&hold), "{hold}");
    // The other one itself is timed from when the slow pass was over.
    let other = longer(&went, "other", PartOf::Flight).expect("the other");
    assert!((3.0..6.0).contains(&other), "{other}");
}

#[test]
fn what_was_seen_too_little_is_named() {
    let made = flown(DISPLAY, [0.5, 0.5, 4.0, 5.0, 5.5]);
    let lessons = Lessons::of(&made.show, &[&made.went()]);
    // The arrival's hold has nothing before it, the departure nothing after it.
    let unseen: Vec<(&str, PartOf)> = lessons
        .unseen
        .iter()
        .map(|(figure, part)| (figure.as_str(), *part))
        .collect();
    assert_eq!(
        unseen,
        [("arrival", PartOf::Hold), ("departure", PartOf::Flight)]
    );
    let (dir, _) = folder(&made);
    let (code, out, err) = abeam(
        dir.path(),
        &["debrief", "evening.journal", "--html", "evening.html"],
    );
    assert_eq!(code, 0, "{err}");
    let said = "less than 30 % between things seen: arrival hold, departure\n";
    assert!(out.contains(said), "{out}");
    let page = std::fs::read_to_string(dir.path().join("evening.html")).expect("a page");
    assert!(page.contains("arrival hold; departure"));
}

/// In profile low the reposition is timed by itself: it is that time which is corrected, not the figure's own.
#[test]
fn a_version_that_is_only_timed_is_corrected_where_its_time_is() {
    let timed = DISPLAY.replace(
        "takes = \"40 s\"\n\n[[figure]]\nid = \"slow-pass\"",
        "takes = \"40 s\"\n[figure.versions.low]   # lower\ntakes = \"50 s\"\n\n[[figure]]\nid = \"slow-pass\"",
    );
    let (show, plan) = plan_of(&timed, "low");
    let mut made = Made::planned(show, plan);
    made.record.header.profile = "low".into();
    made.marked("arrival", "inbound", 0.0)
        .marked("arrival", "abeam", 0.0)
        .marked("memorial", "inbound", 0.0)
        .marked("memorial", "abeam", 0.0);
    let closed = made.plan_s("departure", "end");
    made.closed(closed);
    // All that is longer is put down to the reposition: the hold is as sharp as a hold can be.
    let (dir, _) = folder(&made);
    let document = dir.path().join("cues/rehearsal.toml");
    let text = std::fs::read_to_string(&document).expect("it");
    let sharp = text.replace(
        "expect = \"60 s\", spread = \"15 s\"",
        "expect = \"54 s\", spread = \"0.1 s\"",
    );
    std::fs::write(&document, &sharp).expect("it");
    let journals = ["a.journal", "b.journal", "c.journal"];
    for journal in journals {
        made.write(&dir.path().join(journal));
    }
    let arguments = [&["debrief"], &journals[..], &["--write"]].concat();
    let (code, out, err) = abeam(dir.path(), &arguments);
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("back-one: takes in profile low"), "{out}");
    let after = std::fs::read_to_string(&document).expect("it");
    assert!(
        after.contains("takes = \"40 s\"\n[figure.versions.low]   # lower\ntakes = \"5"),
        "{after}"
    );
    assert!(!after.contains("takes = \"50 s\""), "{after}");
}

#[test]
fn nothing_is_learned_from_a_practice() {
    let mut made = flown(DISPLAY, [0.5, 0.5, 16.0, 16.5, 17.0]);
    made.record.header.practice = true;
    let lessons = Lessons::of(&made.show, &[&made.went()]);
    assert!(lessons.habits.is_empty() && lessons.corrections.is_empty());
    let (dir, _) = folder(&made);
    let (code, out, err) = abeam(dir.path(), &["debrief", "evening.journal"]);
    assert_eq!(code, 0, "{err}");
    assert!(err.contains("nobody flew"), "{err}");
    assert!(out.contains("No correction is worth writing."), "{out}");
}

/// Journals of two profiles: what is timed in one of them is learned by itself.
#[test]
fn a_version_is_learned_apart_from_what_it_is_a_version_of() {
    let timed = DISPLAY.replace(
        "takes = \"40 s\"\n\n[[figure]]\nid = \"slow-pass\"",
        "takes = \"40 s\"\n[figure.versions.low]\ntakes = \"50 s\"\n\n[[figure]]\nid = \"slow-pass\"",
    );
    let high = flown(&timed, [0.0, 0.0, 6.0, 6.0, 6.0]);
    let (show, plan) = plan_of(&timed, "low");
    let mut low = Made::planned(show, plan);
    low.marked("arrival", "abeam", 0.0)
        .marked("memorial", "inbound", -9.0);
    let closed = low.plan_s("departure", "end");
    low.closed(closed);
    let lessons = Lessons::of(&high.show, &[&high.went(), &low.went()]);
    let names: Vec<String> = lessons.habits.iter().map(|habit| habit.name()).collect();
    for name in ["back-one", "back-one in low"] {
        let found = lessons.habits.iter().find(|habit| habit.name() == name);
        let habit = found.unwrap_or_else(|| panic!("{name}: {names:?}"));
        assert_eq!(habit.times, 1, "{name}");
        assert_eq!(habit.longer > abeam::units::Span::ZERO, name == "back-one");
    }
}
