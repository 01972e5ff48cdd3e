//! Every instant as it was, beside the plan.

use abeam::debrief::Lessons;
use abeam::debrief::seen::How;
use abeam::live::event::MarkKind;
use abeam::show::PointName;
use abeam::units::Span;

use crate::close;
use crate::made::*;
use crate::rehearsal::DISPLAY;

#[test]
fn every_mark_is_told_as_late_as_it_was() {
    let lates = [1.0, 1.5, -2.0, 3.25, 4.5];
    let made = flown(DISPLAY, lates);
    let went = made.went();
    let marked: Vec<_> = went
        .points
        .iter()
        .filter(|flown| flown.how == How::Marked)
        .collect();
    assert_eq!(marked.len(), 5);
    for (flown, late) in marked.iter().zip(lates) {
        let told = flown.late().expect("a plan").s();
        close(told, late, 2e-6, &format!("{} {}", flown.key, flown.point));
    }
    // The gates that nobody keyed lie between what was seen.
    let gate = went
        .points
        .iter()
        .find(|flown| flown.point == PointName::Gate(2))
        .expect("a gate");
    assert_eq!(gate.how, How::Estimated);
    let late = gate.late().expect("a plan").s();
    assert!((3.0..4.6).contains(&late), "{late}");
    // What a figure gained is what the show was later for it; figures follow one another.
    for pair in went.drift.windows(2) {
        assert_eq!(pair[0].late[1], pair[1].late[0]);
    }
    let first = went.drift.first().expect("a figure");
    let last = went.drift.last().expect("a figure");
    let gained: Span = went.drift.iter().map(|drift| drift.gained()).sum();
    assert_eq!(gained, last.late[1] - first.late[0]);
}

#[test]
fn words_are_timed_from_key_to_key() {
    let mut made = Made::of(DISPLAY);
    let from = made.plan_s("arrival", "abeam") + 12.0;
    let (reading, _) = made.plan.facts.readings[0].clone();
    let took = reading.lasts().s() * 1.25;
    made.said("welcome", from, from + took).closed(from + 20.0);
    let went = made.went();
    let [pace] = &went.paces[..] else {
        panic!("{:?}", went.paces);
    };
    close(pace.took.s(), took, 2e-6, "took");
    let rate = reading.words / (took - reading.rests.s()) * 60.0;
    close(
        pace.words_per_minute().expect("a rate"),
        rate,
        1e-3,
        "words a minute",
    );
    let begun = went
        .done
        .iter()
        .find(|done| done.what == "welcome begun")
        .expect("begun");
    close(
        (begun.at - begun.planned.expect("a plan")).s(),
        0.0,
        2e-6,
        "begun",
    );
    let lessons = Lessons::of(&made.show, &[&went]);
    let voice = lessons.voice.expect("a narrator");
    // Slower than stated, but one block does not say by how much.
    assert!(voice.learned.words_per_minute < voice.stated.words_per_minute);
    assert!(voice.learned.words_per_minute > rate);
}

/// Two keyboards that marked one pass saw one pass, between the two.
#[test]
fn two_marks_of_one_point_are_one_sighting() {
    let mut made = Made::of(DISPLAY);
    let abeam = made.plan_s("arrival", "abeam") + made.parallax("arrival", MarkKind::Abeam);
    made.at(abeam + 0.2, named("arrival", "abeam", abeam + 0.2));
    made.at(abeam + 0.6, named("arrival", "abeam", abeam + 0.6))
        .closed(abeam + 5.0);
    let went = made.went();
    let arrival = went
        .points
        .iter()
        .find(|flown| flown.point == PointName::Abeam(1))
        .expect("it");
    close(arrival.late().expect("a plan").s(), 0.4, 2e-6, "late");
}
