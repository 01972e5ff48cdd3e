//! Position logs beside a journal.

use std::fs;

use abeam::position::{Fix, Ground, Place, Spot};
use abeam::units::{Angle, Length};
use jiff::Timestamp;

use crate::close;
use crate::made::*;
use crate::rehearsal::DISPLAY;

/// An aircraft flies its memorial pass straight and steady, 3 s late, with a receiver that fixes it once a second:
/// the log says when it was abeam, by the closed form to 10 ms, whatever was keyed.
#[test]
fn a_position_log_says_when_an_aircraft_passed_and_wins_over_marks() {
    let placed = DISPLAY.replace(
        "stand = \"40 m left\"",
        "centre = { lat = 61.0, lon = 9.5 }   # where the flag stands\nstand = \"40 m left\"",
    );
    let made = flown(&placed, [0.5, 0.5, 4.0, 5.0, 5.5]);
    let (dir, journal) = folder(&made);
    let abeam_s = made.plan_s("memorial", "abeam") + 3.0;
    let centre = Place::from_deg(61.0, 9.5).expect("a place");
    let ground = Ground::new(centre, Angle::from_deg(90.0));
    let mut csv = "time,lat,lon\n".to_owned();
    for second in -40..40 {
        let s = f64::from(second) + 0.37;
        let spot = Spot {
            along: Length::from_m(120.0 * s),
            across: Length::from_m(230.0),
        };
        let place = ground.place(spot).expect("a place");
        let at =
            jiff::Timestamp::from_microsecond(made.reading(abeam_s + s).wall_us).expect("a time");
        csv += &format!("{at},{:.9},{:.9}\n", place.lat().deg(), place.lon().deg());
    }
    let log = dir.path().join("solo.csv");
    fs::write(&log, csv).expect("a log");
    let log = log.to_str().expect("a path");
    let journal = journal.to_str().expect("a path");
    let (code, out, err) = abeam(dir.path(), &["debrief", journal, "--track", log, "--json"]);
    assert_eq!(code, 0, "{err}");
    let report: serde_json::Value = serde_json::from_str(&out).expect("JSON");
    let passes = report["shows"][0]["passes"].as_array().expect("passes");
    let [pass] = &passes[..] else {
        panic!("one pass: {passes:?}");
    };
    assert_eq!(
        (&pass["aircraft"], &pass["figure"]),
        (&"solo".into(), &"memorial".into())
    );
    let number = |key: &str| pass[key].as_f64().expect("a number");
    close(number("late_s"), 3.0, 0.01, "late");
    close(number("ground_speed_mps"), 120.0, 0.1, "ground speed");
    close(number("nearest_to_centre_m"), 230.0, 0.1, "nearest");
    let points = report["shows"][0]["points"].as_array().expect("points");
    let abeam_point = points
        .iter()
        .find(|point| point["figure"] == "memorial" && point["point"] == "abeam")
        .expect("the pass");
    assert_eq!(abeam_point["known"], "logged");
    close(
        abeam_point["late_s"].as_f64().expect("it"),
        3.0,
        0.01,
        "late in the table",
    );
    let (code, _, err) = abeam(
        dir.path(),
        &["debrief", journal, "--track", &format!("nobody={log}")],
    );
    assert_eq!(code, 2);
    assert!(err.contains("solo"), "{err}");
}

/// A straight and steady pass at 120 m/s towards the crowd's right, abeam at `abeam_s` of the show.
fn pass(made: &Made, abeam_s: f64, across_m: f64) -> Vec<Fix> {
    let ground = Ground::new(
        Place::from_deg(61.0, 9.5).expect("a place"),
        Angle::from_deg(90.0),
    );
    let fix = |second: i32| {
        let s = f64::from(second) + 0.37;
        let spot = Spot {
            along: Length::from_m(120.0 * s),
            across: Length::from_m(across_m),
        };
        let at = Timestamp::from_microsecond(made.reading(abeam_s + s).wall_us);
        Fix {
            height: Some(Length::from_m(252.4)),
            ..Fix::new(at.expect("a time"), ground.place(spot).expect("a place"))
        }
    };
    (-60..40).map(fix).collect()
}

/// The rehearsal with a place, and a log of the memorial pass flown straight at 120 m/s, so many seconds late.
pub fn logged(late: f64) -> (Made, Vec<Fix>) {
    let placed = DISPLAY.replace(
        "stand = \"40 m left\"",
        "centre = { lat = 61.0, lon = 9.5 }\nstand = \"40 m left\"",
    );
    let made = flown(&placed, [0.5, 0.5, 4.0, 5.0, 5.5]);
    let abeam_s = made.plan_s("memorial", "abeam") + late;
    let fixes = pass(&made, abeam_s, 250.0);
    (made, fixes)
}

/// As GPX 1.1 has it.
pub fn gpx(fixes: &[Fix]) -> String {
    let points: String = fixes
        .iter()
        .map(|fix| {
            let (lat, lon) = (fix.place.lat().deg(), fix.place.lon().deg());
            let height = fix.height.expect("a height").m();
            format!(
                "<trkpt lat=\"{lat:.8}\" lon=\"{lon:.8}\"><ele>{height}</ele><time>{}</time></trkpt>\n",
                fix.at
            )
        })
        .collect();
    format!(
        "<gpx version=\"1.1\" creator=\"a test\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>\n{points}</trkseg></trk></gpx>\n"
    )
}

#[test]
fn the_page_shows_the_passes_the_path_and_the_curves_that_a_log_has() {
    let (made, mut fixes) = logged(3.0);
    // A gap of twenty seconds after the pass.
    fixes.drain(70..90);
    let (dir, _) = folder(&made);
    fs::write(dir.path().join("solo.gpx"), gpx(&fixes)).expect("a log");
    let arguments = [
        "debrief",
        "evening.journal",
        "--track",
        "solo.gpx",
        "--html",
        "evening.html",
    ];
    let (code, out, err) = abeam(dir.path(), &arguments);
    assert_eq!(code, 0, "{err}");
    assert!(
        err.contains("the log of solo has nothing for 21 s, from "),
        "{err}"
    );
    // The other passes of its programme are not in it.
    assert!(
        err.contains("arrival abeam is not in the log of solo"),
        "{err}"
    );
    assert!(out.contains("by position log"), "{out}");
    let page = fs::read_to_string(dir.path().join("evening.html")).expect("a page");
    for said in [
        "Passes by position logs",
        "Passes of crowd centre, over the ground",
        "233 kt",
        "250 m",
        "+3.0 s",
        "not in the log",
        "Gaps of the logs",
        "as planned, dashed, and as flown by position logs",
        "Lantern One as flown, by its log; a mark every 10 s",
        "and as flown by position logs, solid",
        "Height flown",
    ] {
        assert!(page.contains(said), "{said}");
    }
    // 252.4 m above the sea are 152.4 m, 500 ft, above a site at 100 m.
    let rows = page.split("<th scope=\"row\">abeam</th>").skip(1);
    let mut rows = rows.filter_map(|row| row.split("</tr>").next());
    assert!(rows.any(|row| row.ends_with("500 ft</td><td class=\"number\">233 kt</td>")));
}

#[test]
fn a_pass_in_a_gap_is_called_a_guess_and_counts_for_nothing() {
    let (made, mut fixes) = logged(3.0);
    fixes.drain(55..65);
    let (dir, _) = folder(&made);
    fs::write(dir.path().join("solo.gpx"), gpx(&fixes)).expect("a log");
    let arguments = ["debrief", "evening.journal", "--track", "solo.gpx"];
    let (code, out, err) = abeam(dir.path(), &arguments);
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("guessed: a gap of 11 s"), "{out}");
    let marked = out
        .lines()
        .find(|line| line.starts_with("memorial abeam"))
        .expect("the pass");
    assert!(
        marked.contains("+5.5") && marked.ends_with("marked"),
        "{marked}"
    );
}

/// What is wrong in a log of sentences is said when it is used: a checksum, a field left empty, time that runs
/// backwards.
#[test]
fn what_of_a_log_cannot_be_relied_on_is_said() {
    let (made, fixes) = logged(3.0);
    let mut sentences: Vec<String> = fixes.iter().map(rmc).collect();
    sentences[10] = sentences[10].replace(",A,", ",V,");
    sentences[12] = sealed("GPRMC,120000,A,,,,,233.3,090.0,200626,,,A");
    sentences.swap(20, 21);
    let (dir, _) = folder(&made);
    fs::write(dir.path().join("solo.nmea"), sentences.concat()).expect("a log");
    let arguments = [
        "debrief",
        "evening.journal",
        "--track",
        "solo.nmea",
        "--json",
    ];
    let (code, out, err) = abeam(dir.path(), &arguments);
    assert_eq!(code, 0, "{err}");
    let report: serde_json::Value = serde_json::from_str(&out).expect("one object");
    let show = &report["shows"][0];
    let notes = show["notes"].to_string();
    for said in [
        "1 sentence has a missing or wrong checksum (line 11)",
        "1 fix lacks its time or place (line 13)",
        "1 time runs backwards once: put in order (line 22)",
    ] {
        assert!(notes.contains(said), "{said}: {notes}");
    }
    let pass = &show["passes"][0];
    close(pass["late_s"].as_f64().expect("it"), 3.0, 0.01, "late");
}

/// A sentence with its checksum.
fn sealed(body: &str) -> String {
    format!("${body}*{:02X}\r\n", abeam::position::nmea::checksum(body))
}

/// A fix as an RMC sentence: NMEA 0183, as gpsd.io/NMEA.html describes it.
fn rmc(fix: &Fix) -> String {
    let minutes = |degrees: f64| (degrees.trunc(), degrees.fract() * 60.0);
    let ((lat, lat_min), (lon, lon_min)) = (
        minutes(fix.place.lat().deg()),
        minutes(fix.place.lon().deg()),
    );
    let time = fix.at.strftime("%H%M%S%.3f");
    let date = fix.at.strftime("%d%m%y");
    sealed(&format!(
        "GPRMC,{time},A,{lat:02.0}{lat_min:08.5},N,{lon:03.0}{lon_min:08.5},E,233.3,090.0,{date},,,A"
    ))
}

#[test]
fn each_of_several_aircraft_passes_by_its_own_log() {
    let other = "starts = \"slow-pass.end\"\ntakes = \"30 s\"\npasses = [\"20 s\"]";
    let placed = crate::learned::with_another(other).replace(
        "stand = \"40 m left\"",
        "centre = { lat = 61.0, lon = 9.5 }\nstand = \"40 m left\"",
    );
    // Nobody keyed the other one.
    let mut made = Made::of(&placed);
    made.marked("arrival", "inbound", 0.0)
        .marked("arrival", "abeam", 0.0)
        .marked("slow-pass", "abeam", 0.0)
        .marked_as("memorial", "inbound", 0.0)
        .marked_as("memorial", "abeam", 0.0);
    let end = made.plan_s("departure", "end");
    made.closed(end);
    let (dir, _) = folder(&made);
    for (name, key, late, across_m) in [
        ("solo.gpx", "memorial", 1.5, 230.0),
        ("two.gpx", "other", -2.25, 310.0),
    ] {
        let fixes = pass(&made, made.plan_s(key, "abeam") + late, across_m);
        fs::write(dir.path().join(name), gpx(&fixes)).expect("a log");
    }
    let arguments = [
        "debrief",
        "evening.journal",
        "--track",
        "solo=solo.gpx",
        "--track",
        "two=two.gpx",
        "--json",
    ];
    let (code, out, err) = abeam(dir.path(), &arguments);
    assert_eq!(code, 0, "{err}");
    let report: serde_json::Value = serde_json::from_str(&out).expect("one object");
    let passes = report["shows"][0]["passes"].as_array().expect("passes");
    for (aircraft, figure, late, nearest) in [
        ("two", "other", -2.25, 310.0),
        ("solo", "memorial", 1.5, 230.0),
    ] {
        let of = |pass: &&serde_json::Value| pass["aircraft"] == aircraft;
        let found: Vec<_> = passes.iter().filter(of).collect();
        let [pass] = &found[..] else {
            panic!("{aircraft}: {out}");
        };
        assert_eq!(pass["figure"], figure);
        let number = |key: &str| pass[key].as_f64().expect("a number");
        close(number("late_s"), late, 0.01, "late");
        close(number("nearest_to_line_m"), nearest, 0.2, "nearest");
    }
}
