//! A METAR gives the day's wind, temperature and QNH, whatever else is in it.
//!
//! Group formats: WMO-No. 306, FM 15 METAR. Wind groups with a source named are examples printed there;
//! the reports around them are made up for the test. What is marked `from memory` was not looked up.

use abeam::flight::metar::{Report, Varies, read};
use abeam::flight::observed::observe;
use abeam::flight::{entries, fly};
use abeam::show::load::read as read_show;
use abeam::show::{Fault, Show};
use abeam::units::{Angle, Speed};

fn wind(report: &Report) -> (f64, f64, f64) {
    let wind = report.wind.expect("a wind");
    (
        wind.from.deg().round(),
        (wind.speed.mps() * 100.0).round() / 100.0,
        (wind.gust.mps() * 100.0).round() / 100.0,
    )
}

fn c(temperature: Option<abeam::units::Temperature>) -> f64 {
    temperature.expect("a temperature").c().round()
}

#[test]
fn wind_with_gusts_in_knots() {
    // "27025G40KT": US Navy Aerographer's Mate training manual 14269, METAR wind group.
    let report =
        read("METAR EXMP 121150Z 27025G40KT 9999 SCT030 18/07 Q1009 NOSIG=").expect("read");
    let (from, speed, gust) = wind(&report);
    assert_eq!(from, 270.0);
    assert!((speed - 12.86).abs() < 0.01 && (gust - 7.72).abs() < 0.01);
    assert_eq!(c(report.temperature), 18.0);
    assert_eq!(c(report.dew_point), 7.0);
    assert!((report.qnh.expect("a QNH").pa() - 100_900.0).abs() < 1e-6);
}

#[test]
fn three_figure_winds_and_the_american_altimeter() {
    // "33065G105KT", and the report around "27004KT": US Navy training manual P-304, group 4.
    let report = read("METAR KNPA 082255Z 27004KT 7/8SM R04/4500FT DZ FG SCT000 BKN011 OVC380 19/18 A2997 RMK VIS1/2V1 CIG009V013 FG SCT000 BKN TOPS 027 SLP149").expect("read");
    assert_eq!(wind(&report), (270.0, 2.06, 0.0));
    assert_eq!((c(report.temperature), c(report.dew_point)), (19.0, 18.0));
    // 29.97 inches of mercury at 3386.389 Pa.
    assert!((report.qnh.expect("a QNH").pa() - 101_490.08).abs() < 0.01);
    let (from, speed, gust) = wind(&read("33065G105KT").expect("read"));
    assert_eq!(from, 330.0);
    assert!((speed - 33.44).abs() < 0.01 && (gust - 20.58).abs() < 0.01);
}

#[test]
fn metres_a_second_and_kilometres_an_hour() {
    let report = read("EXMP 121200Z 24008G14MPS CAVOK M02/M11 Q1032").expect("read");
    assert_eq!(wind(&report), (240.0, 8.0, 6.0));
    assert_eq!((c(report.temperature), c(report.dew_point)), (-2.0, -11.0));
    assert_eq!(
        wind(&read("EXMP 09036KMH").expect("read")),
        (90.0, 10.0, 0.0)
    );
}

/// The extremes of a direction that varies by 60 degrees and more, and a direction that varies too much to have a
/// mean: WMO-No. 306, FM 15, `dnVd` groups; the examples are of ICAO Annex 3, table A3-2 (from memory).
#[test]
fn directions_that_vary_are_read_with_their_extremes() {
    let varies = |text: &str| read(text).expect(text).varies;
    let between = |from, to| Some(Varies::Between(Angle::from_deg(from), Angle::from_deg(to)));
    assert_eq!(varies("EXMP 02010KT 350V070 CAVOK"), between(350.0, 70.0));
    assert_eq!(
        varies("EXMP 24015G25KT 200V280 9999 24/16"),
        between(200.0, 280.0)
    );
    assert_eq!(
        varies("EXMP VRB03KT CAVOK"),
        Some(Varies::Round(Speed::from_kt(3.0)))
    );
    assert_eq!(varies("EXMP 24015KT CAVOK"), None);
    // Visibility and runway groups have a V too.
    assert_eq!(varies("EXMP 24015KT 0600 R12/0300V0600U"), None);
    assert!(read("EXMP 24015KT 200V480 CAVOK").is_err());
}

#[test]
fn calm_and_variable_winds_have_no_mean() {
    assert_eq!(
        wind(&read("EXMP 00000KT 9999 M00/M01 Q1020").expect("read")),
        (0.0, 0.0, 0.0)
    );
    let (_, speed, gust) = wind(&read("EXMP VRB04KT 9999 12/10 Q1020").expect("read"));
    assert!(speed == 0.0 && (gust - 2.06).abs() < 0.01);
}

/// ICAO Annex 3, table A3-2, wind: each example in metres a second and the same in knots (from memory; both
/// are rounded to whole units). Bearing, mean, and gust above it in knots.
#[test]
fn the_wind_examples_of_annex_3_are_the_same_in_either_unit() {
    for (mps, kt, from, mean, gust) in [
        ("24004MPS", "24008KT", 240.0, 8.0, 0.0),
        ("19006MPS", "19012KT", 190.0, 12.0, 0.0),
        ("00000MPS", "00000KT", 0.0, 0.0, 0.0),
        ("12003G09MPS", "12006G18KT", 120.0, 6.0, 12.0),
        ("24008G14MPS", "24016G28KT", 240.0, 16.0, 12.0),
        ("02005MPS 350V070", "02010KT 350V070", 20.0, 10.0, 0.0),
    ] {
        for group in [mps, kt] {
            let (bearing, speed, more) = wind(&read(&format!("EXMP {group} CAVOK")).expect(group));
            assert_eq!(bearing, from, "{group}");
            // A unit more or less of metres a second, where the mean and its gust are both rounded.
            let within = if group == mps { 1.0 } else { 0.01 };
            let knot = 1_852.0 / 3_600.0;
            assert!((speed - mean * knot).abs() < within, "{group}: {speed}");
            assert!((more - gust * knot).abs() < within, "{group}: {more}");
        }
    }
    // More than either group can say: 50 m/s and 100 kt are not the same limit.
    for (group, mps) in [("140P49MPS", 49.0), ("140P99KT", 50.93)] {
        assert_eq!(
            wind(&read(&format!("EXMP {group} CAVOK")).expect(group)),
            (140.0, mps, 0.0)
        );
    }
}

/// ICAO Annex 3, table A3-2: air and dew-point temperature, and QNH (from memory).
#[test]
fn the_temperature_and_pressure_examples_of_annex_3() {
    for (group, air, dew) in [
        ("17/10", 17.0, 10.0),
        ("02/M08", 2.0, -8.0),
        ("M01/M10", -1.0, -10.0),
    ] {
        for (pressure, hpa) in [
            ("Q0995", 995.0),
            ("Q1009", 1_009.0),
            ("Q1022", 1_022.0),
            ("Q0987", 987.0),
        ] {
            let report = read(&format!("EXMP 24004MPS 9999 {group} {pressure}")).expect(group);
            assert_eq!((c(report.temperature), c(report.dew_point)), (air, dew));
            assert!((report.qnh.expect("a QNH").pa() - hpa * 100.0).abs() < 1e-6);
        }
    }
}

/// ICAO Annex 3, examples A3-1 and A3-2 (from memory): a routine and a special report, whole.
#[test]
fn the_whole_reports_of_annex_3() {
    let fog = read(
        "METAR YUDO 221630Z 24004MPS 0600 R12/1000U DZ FG SCT010 OVC020 17/16 Q1018 \
         BECMG TL1700 0800 FG BECMG AT1800 9999 NSW=",
    )
    .expect("read");
    assert_eq!(wind(&fog), (240.0, 4.0, 0.0));
    assert_eq!((c(fog.temperature), c(fog.dew_point)), (17.0, 16.0));
    assert!((fog.qnh.expect("a QNH").pa() - 101_800.0).abs() < 1e-6);

    let storm = read(
        "SPECI YUDO 151115Z 05025G37KT 3000 1200NE +TSRA BKN005CB 25/22 Q1008 \
         TEMPO TL1200 0600 BECMG AT1200 8000 NSW NSC=",
    )
    .expect("read");
    let (from, mean, gust) = wind(&storm);
    assert_eq!(from, 50.0);
    assert!((mean - 12.86).abs() < 0.01 && (gust - 6.17).abs() < 0.01);
    assert_eq!((c(storm.temperature), c(storm.dew_point)), (25.0, 22.0));
    assert!((storm.qnh.expect("a QNH").pa() - 100_800.0).abs() < 1e-6);
}

#[test]
fn what_the_station_did_not_measure_is_left_out() {
    let report = read("EXMP 121200Z AUTO /////KT //// // ////// 21/// Q////").expect("read");
    assert_eq!(report.wind, None);
    assert_eq!(c(report.temperature), 21.0);
    assert_eq!((report.dew_point, report.qnh), (None, None));
}

#[test]
fn only_the_observation_counts_not_the_trend_or_the_remarks() {
    let report = read("EXMP 121200Z 24010KT 20/10 Q1011 TEMPO 30030G45KT").expect("read");
    assert_eq!(wind(&report).0, 240.0);
    assert!(read("RMK 30030KT").is_err());
}

#[test]
fn what_is_no_metar_says_what_to_type() {
    for wrong in [
        "",
        "fine weather",
        "EXMP 121200Z 40010KT Q1011",
        "EXMP 2401KT",
        "EXMP 240100000KT",
        "KT",
        "é1015KT",
        "24é10KT 20/10",
    ] {
        let error = read(wrong).expect_err(wrong).to_string();
        assert!(error.contains("24015G25KT"), "{error}");
    }
}

#[test]
fn a_report_gives_the_day_what_the_document_leaves_to_it() {
    let document = |day: &str| {
        let text = include_str!("document/sample.toml");
        let start = text.find("[day]").expect("a day");
        let end = text.find("[aircraft.solo]").expect("an aircraft");
        let text = format!("{}[day]\n{day}\n{}", &text[..start], &text[end..]);
        let (show, faults) = abeam::show::load::read("test", &text);
        show.unwrap_or_else(|| panic!("{faults:?}")).day
    };
    let report = "metar = \"EXMP 121200Z 24008G14MPS CAVOK M02/M11 Q1032\"";
    let day = observe(&document(report)).day;
    assert!((day.qnh.pa() - 103_200.0).abs() < 1e-6 && (day.temperature.c() + 2.0).abs() < 1e-9);
    assert_eq!(day.wind.len(), 1);
    assert!((day.wind[0].speed.mps() - 8.0).abs() < 1e-9 && day.metar.is_none());

    let day = observe(&document(&format!("{report}\nqnh = \"1009 hPa\""))).day;
    assert!((day.qnh.pa() - 100_900.0).abs() < 1e-6 && (day.temperature.c() + 2.0).abs() < 1e-9);

    let fault = &observe(&document("metar = \"fine weather\"")).remarks[0];
    assert!(fault.help.contains("24015G25KT") && fault.at.is_some());
}

#[test]
fn a_pressure_that_no_place_has_is_not_read() {
    for slip in ["Q9999", "Q0000", "Q0500", "A9999"] {
        let report = format!("EXMP 121150Z 24004KT 9999 18/09 {slip}");
        assert!(read(&report).is_err(), "{slip}");
    }
}

/// A show of one timed figure on a day, and what is said of it when it is flown.
fn flown_on(day: &str) -> (String, Show, Vec<Fault>) {
    let text = format!(
        "[show]\ntitle = \"Lake\"\n[profile.high]\norder = [\"a\"]\n[site]\nelevation = \"0 m\"\n\
         line_bearing = 64\nline_distance = \"230 m\"\n[day]\n{day}\n[aircraft.solo]\n\
         [[figure]]\nid = \"a\"\naircraft = \"solo\"\nfrom = \"left\"\ntakes = \"40 s\"\n"
    );
    let (show, faults) = read_show("lake.toml", &text);
    let show = show.unwrap_or_else(|| panic!("{faults:?}"));
    let flight = fly(&show, &show.day, &entries(&show, &show.profile));
    (text, show, flight.faults)
}

#[test]
fn a_group_that_cannot_be_read_is_pointed_at() {
    for (report, group) in [
        ("EXMP 121200Z 40010KT CAVOK 24/16 Q1009", "40010KT"),
        ("EXMP 24010KT 200V480 CAVOK 24/16 Q1009", "200V480"),
        ("EXMP 24010KT CAVOK 24/16 q9999", "q9999"),
    ] {
        let (text, _, faults) = flown_on(&format!("metar = \"{report}\""));
        let [fault] = &faults[..] else {
            panic!("{faults:?}")
        };
        assert_eq!(&text[fault.at.clone().expect("a place")], group);
        assert!(
            fault.message.starts_with(&format!("\"{group}\" is not a ")),
            "{}",
            fault.message
        );
    }
    // Written with an escape, the places in it are not those in the document.
    let (text, _, faults) = flown_on("metar = \"EXMP\\t40010KT Q1009\"");
    assert_eq!(
        &text[faults[0].at.clone().expect("a place")],
        "\"EXMP\\t40010KT Q1009\""
    );
}

/// WMO-No. 306, FM 51: a forecast begins with TAF.
#[test]
fn a_forecast_is_no_report() {
    let (_, _, faults) = flown_on("metar = \"TAF EXMP 121100Z 1212/1312 24015KT 9999 SCT030\"");
    assert!(
        faults[0].message.ends_with("is not a METAR but a forecast"),
        "{}",
        faults[0].message
    );
}

#[test]
fn a_wind_of_more_than_its_group_can_say_is_told() {
    let (_, _, faults) = flown_on("metar = \"EXMP 240P49MPS CAVOK 24/16 Q1009\"");
    assert!(
        faults[0]
            .message
            .contains("more than its group can say: 95 kt"),
        "{}",
        faults[0].message
    );
    // The unit has a P of its own.
    let (_, _, faults) = flown_on("metar = \"EXMP 24008G14MPS CAVOK 24/16 Q1009\"");
    assert!(faults.is_empty(), "{faults:?}");
    let (_, _, faults) = flown_on("metar = \"EXMP 24020GP99KT CAVOK 24/16 Q1009\"");
    assert!(
        faults[0].message.contains("99 kt is taken"),
        "{}",
        faults[0].message
    );
}

/// A report tells the wind at the surface: a wind the document gives aloft goes with it, one at the surface instead of it.
#[test]
fn the_reports_wind_is_the_surface_wind_beside_those_aloft() {
    let report = "metar = \"EXMP 24015KT 200V280 CAVOK 24/16 Q1009\"\n";
    let aloft = "wind = [{ height = \"3000 ft\", from = 260, speed = \"30 kt\" }]";
    let (_, show, faults) = flown_on(&format!("{report}{aloft}"));
    assert!(faults.is_empty(), "{faults:?}");
    let observed = observe(&show.day);
    let winds: Vec<_> = observed
        .day
        .wind
        .iter()
        .map(|wind| wind.speed.kt().round())
        .collect();
    assert_eq!(winds, [15.0, 30.0]);
    assert!(observed.varies.is_some());
    let own = "wind = [{ from = 230, speed = \"9 kt\" }]";
    let (_, show, faults) = flown_on(&format!("{report}{own}"));
    assert!(
        faults[0]
            .message
            .contains("taken as 230/9 kt; the METAR says 240/15 kt"),
        "{faults:?}"
    );
    assert_eq!(observe(&show.day).day.wind.len(), 1);
}

/// What a report does not say is not taken for a calm standard day without a word.
#[test]
fn what_a_report_leaves_out_is_said() {
    let told = |day: &str| {
        let (_, _, faults) = flown_on(day);
        faults
            .iter()
            .map(|fault| fault.message.clone())
            .collect::<Vec<String>>()
    };
    for (day, said) in [
        ("metar = \"EXMP 24015 9999 24/16 Q1009\"", "no wind that"),
        ("metar = \"EXMP /////KT 9999 24/16 Q1009\"", "no wind that"),
        (
            "metar = \"EXMP 24015KT 9999\"",
            "no temperature, no pressure that",
        ),
    ] {
        let told = told(day);
        assert!(
            told.iter().any(|told| told.contains(said)),
            "{day}: {told:?}"
        );
    }
    for day in [
        "metar = \"EXMP 24015KT 9999 24/16 Q1009\"",
        "metar = \"exmp 24015kt 9999 24/16 q1009\"",
        "metar = \"EXMP 24015KT 9999\"\ntemperature = \"24 C\"\nqnh = \"1009 hPa\"",
    ] {
        assert_eq!(told(day), Vec::<String>::new(), "{day}");
    }
    let (low, high) = (
        read("exmp 24015kt 24/16 q1009"),
        read("EXMP 24015KT 24/16 Q1009"),
    );
    assert_eq!(low.expect("read"), high.expect("read"));
}
