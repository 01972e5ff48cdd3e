//! A figure that starts at a stated time is told of where that is too early for its aircraft, or has them stand in the air.

mod planned;

use planned::{PASS, document, of_text, timed};

/// What is said of a pass that is flown, and of a second behind it with more said of it.
fn told(second: &str, hold: bool) -> Vec<String> {
    let legs = "{ run = \"for 2 km\" },";
    let legs = if hold {
        format!("{{ hold = \"4 km\", expect = \"120 s\" }},\n{legs}")
    } else {
        legs.to_owned()
    };
    let body = format!(
        "{PASS}\n[[figure]]\nid = \"second\"\nname = \"Second\"\naircraft = \"solo\"\nfrom = \"right\"\n{second}\nlegs = [\n{legs}\n]\n"
    );
    let planned = of_text(&document("", &["pass", "second"], &body));
    planned
        .faults()
        .into_iter()
        .map(|(_, message, _)| message.to_owned())
        .collect()
}

#[test]
fn a_start_that_its_aircraft_cannot_keep_is_told() {
    let told = told("starts = \"show + 10 s\"", false);
    assert!(
        told[0].starts_with("\"second\" is to start at "),
        "{told:?}"
    );
    assert!(
        told[0].contains("but its aircraft come to it at "),
        "{told:?}"
    );
}

#[test]
fn a_start_for_which_it_would_stand_in_the_air_is_told_and_a_hold_is_enough() {
    let late = "starts = \"pass.end + 5:00\"";
    let said = told(late, false);
    assert_eq!(
        said,
        [
            "\"second\" starts 5:00.0 after \"pass\" has ended, and nothing says where its aircraft is meanwhile"
        ]
    );
    assert_eq!(told(late, true), [""; 0]);
    // At once, or a moment later, is no wait; and timed figures are nowhere.
    assert_eq!(told("starts = \"pass.end + 1 s\"", false), [""; 0]);
    let body = format!(
        "{PASS}{}",
        timed("second", 20.0, "starts = \"pass.end + 5:00\"")
    );
    assert!(
        of_text(&document("", &["pass", "second"], &body))
            .faults()
            .is_empty()
    );
}
