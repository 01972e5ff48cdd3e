//! Position logs: what is read of NMEA 0183, GPX 1.1 and CSV.

use abeam::position::nmea::{self, Broken, Sentence};
use abeam::position::{DoubtKind, Ground, LONGEST_GAP, Log, LogError, Spot, passes, read};
use abeam::show::Side;
use abeam::units::quantity::KNOT;
use abeam::units::{Angle, Length};
use proptest::prelude::*;

use crate::{as_gpx, flown, log, place};

fn fails(text: &str) -> LogError {
    read(text.as_bytes(), "log", None).expect_err(text)
}

fn times(log: &Log) -> Vec<String> {
    let fixes = log.tracks.iter().flat_map(|track| &track.fixes);
    fixes.map(|fix| fix.at.to_string()).collect()
}

fn doubts(log: &Log) -> Vec<String> {
    log.doubts.iter().map(ToString::to_string).collect()
}

/// A sentence with its checksum.
fn nmea(body: &str) -> String {
    format!("${body}*{:02X}\r\n", nmea::checksum(body))
}

// NMEA 0183

#[test]
fn nmea_sentences_of_the_published_description_are_read() {
    // The examples of gpsd's "NMEA Revealed" (gpsd.io/NMEA.html) for RMC and GGA.
    let rmc =
        nmea::sentence(b"$GNRMC,001031.00,A,4404.13993,N,12118.86023,W,0.146,,100117,,,A*7B\r\n");
    let Ok(Sentence::Rmc(rmc)) = rmc else {
        panic!("{rmc:?}")
    };
    assert_eq!(rmc.time, Some(jiff::civil::time(0, 10, 31, 0)));
    assert_eq!(rmc.date, Some(jiff::civil::date(2017, 1, 10)));
    assert!(rmc.measured && rmc.track.is_none());
    assert!((rmc.ground_speed.expect("a speed").kt() - 0.146).abs() < 1e-12);
    let at = rmc.place.expect("a place");
    assert!((at.lat().deg() - (44.0 + 4.13993 / 60.0)).abs() < 1e-12);
    assert!((at.lon().deg() + (121.0 + 18.86023 / 60.0)).abs() < 1e-12);
    let gga = nmea::sentence(
        b"$GNGGA,001043.00,4404.14036,N,12118.85961,W,1,12,0.98,1113.0,M,-21.3,M*47",
    );
    let Ok(Sentence::Gga(gga)) = gga else {
        panic!("{gga:?}")
    };
    assert!(gga.measured);
    assert_eq!(gga.height, Some(Length::from_m(1113.0)));
}

#[test]
fn sentences_that_are_damaged_are_refused_and_others_passed_over() {
    // Sentences of our own, by the fields of the same description.
    let good = "GPRMC,120000,A,6100.000,N,00930.000,E,200.0,064.0,050726,,,A";
    let refused = |text: &str| nmea::sentence(text.as_bytes());
    let whole = nmea(good);
    let whole = whole.trim_end();
    assert!(matches!(refused(whole), Ok(Sentence::Rmc(_))));
    let tagged = format!("\\s:rcv1,c:1783252800*2C\\{whole}");
    assert!(matches!(refused(&tagged), Ok(Sentence::Rmc(_))));
    for other in [
        "",
        "\r\n",
        &nmea("GPVTG,064.0,T,,M,200.0,N,370.4,K,A"),
        &nmea("PXYZRMC,120000,A"),
        "!AIVDM,1,1,,A,14eG;o@034o8sd<L9i:a;WF>062D,0*7D",
    ] {
        assert_eq!(refused(other), Ok(Sentence::Other), "{other}");
    }
    let changed = whole.replace("200.0", "210.0");
    let bare = whole.split_once('*').expect("a checksum").0;
    for (damaged, why) in [
        (changed.as_str(), Broken::Checksum),
        (bare, Broken::Checksum),
        (&format!("{bare}*"), Broken::Checksum),
        (&format!("{bare}*+2"), Broken::Checksum),
        (&whole[..20], Broken::Checksum),
        (&whole[3..], Broken::NoSentence),
        ("\\s:rcv1", Broken::NoSentence),
    ] {
        assert_eq!(refused(damaged), Err(why), "{damaged}");
    }
    for (right, wrong) in [
        ("6100.000,N", "6160.000,N"),
        ("6100.000,N", "9100.000,N"),
        ("6100.000,N", "6100.000,X"),
        ("6100.000,N", "é100.000,N"),
        ("00930.000,E", "18100.000,E"),
        ("120000", "250000"),
        ("120000", "12"),
        ("120000", "120061"),
        ("050726", "310226"),
        ("050726", "5726"),
        ("200.0", "fast"),
        ("200.0", "NaN"),
    ] {
        let wrong = nmea(&good.replacen(right, wrong, 1));
        assert_eq!(refused(&wrong), Err(Broken::Field), "{wrong}");
    }
}

#[test]
fn what_the_receiver_does_not_vouch_for_is_not_taken() {
    let with = |status: &str, mode: &str| {
        nmea(&format!(
            "GPRMC,120001,{status},6100.100,N,00930.000,E,200,064,050726,,,{mode}"
        ))
    };
    let first = nmea("GPRMC,120000,A,6100.000,N,00930.000,E,200,064,050726,,");
    for unmeasured in [
        with("V", "N"),
        with("V", "A"),
        with("A", "E"),
        with("A", "S"),
    ] {
        let log = log(&format!("{first}{unmeasured}"));
        assert_eq!(times(&log), ["2026-07-05T12:00:00Z"], "{unmeasured}");
        assert_eq!(log.doubts.count(DoubtKind::Unmeasured), 1, "{unmeasured}");
    }
    let empty = nmea("GPRMC,120001,A,,,,,,,050726,,,A");
    let log = log(&format!("{first}{empty}"));
    assert_eq!(log.doubts.count(DoubtKind::Incomplete), 1);
}

#[test]
fn rmc_and_gga_of_an_epoch_are_one_fix_over_midnight_and_the_date_line() {
    let text = [
        // The first place before any date is known.
        "GPGGA,235958.00,0000.000,S,17959.866,E,1,08,1.0,100.0,M,0.0,M,,",
        "GPRMC,235959.00,A,0000.000,S,17959.920,E,194.4,090.0,311226,,,A",
        "GPGGA,235959.00,0000.000,S,17959.920,E,1,08,1.0,120.0,M,0.0,M,,",
        // Height alone, on the next day.
        "GPGGA,000000.00,0000.000,S,17959.974,E,1,08,1.0,140.0,M,0.0,M,,",
        "GPGGA,000001.00,0000.000,S,17959.972,W,1,08,1.0,160.0,M,0.0,M,,",
        "GPRMC,000001.00,A,0000.000,S,17959.972,W,194.4,090.0,010127,,,A",
    ]
    .map(nmea)
    .concat();
    let log = log(&text);
    assert_eq!(
        times(&log),
        [
            "2026-12-31T23:59:59Z",
            "2027-01-01T00:00:00Z",
            "2027-01-01T00:00:01Z"
        ]
    );
    assert_eq!(doubts(&log), ["1 fix has no date (line 1)"]);
    let fixes = &log.tracks[0].fixes;
    assert!(fixes.iter().all(|fix| fix.height.is_some()));
    assert!(fixes[0].ground_speed.is_some() && fixes[1].ground_speed.is_none());
    // With the date of the day given, the first is dated too.
    let day = jiff::civil::date(2026, 12, 31);
    let dated = read(text.as_bytes(), "log", Some(day)).expect("a log");
    assert_eq!(dated.tracks[0].fixes.len(), 4);
    // A pass over the date line, centre on it.
    let ground = Ground::new(place(0.0, 180.0), Angle::from_deg(90.0));
    let passed = passes(&ground, fixes, LONGEST_GAP).passes;
    assert_eq!(passed.len(), 1);
    assert!(
        (passed[0].ground_speed.kt() - 194.4).abs() < 1.0,
        "{passed:?}"
    );
    assert_eq!(passed[0].from, Side::Left);
}

#[test]
fn time_running_backwards_is_put_in_order_and_said() {
    let at = |second: u32, minutes: f64| {
        nmea(&format!(
            "GPRMC,1200{second:02},A,6100.000,N,009{minutes:06.3},E,60,090,050726,,,A"
        ))
    };
    // 60 kt at 61 degrees north are about 0.034 minutes of longitude a second.
    let lines = [
        at(0, 30.000),
        at(1, 30.034),
        at(3, 30.102),
        at(2, 30.068),
        at(3, 30.102),
        at(4, 30.136),
    ];
    let log = log(&lines.concat());
    let seconds: Vec<String> = (0..5).map(|s| format!("2026-07-05T12:00:0{s}Z")).collect();
    assert_eq!(times(&log), seconds);
    assert_eq!(
        doubts(&log),
        [
            "1 time runs backwards once: put in order (line 4)",
            "1 fix is at the instant of another (line 5)"
        ]
    );
}

#[test]
fn a_fix_no_aircraft_can_reach_is_left_out_and_said() {
    let ground = Ground::new(place(61.0, 9.5), Angle::from_deg(64.0));
    let mut fixes = flown(&ground, 20.0, 1.0, |t| (100.0 * t - 1_000.0, 230.0));
    let aside = Spot {
        along: Length::from_m(-500.0),
        across: Length::from_m(900.0),
    };
    fixes[5].place = ground.place(aside).expect("a place");
    let log = log(&as_gpx(&fixes));
    assert_eq!(log.tracks[0].fixes.len(), fixes.len() - 1);
    assert_eq!(log.doubts.count(DoubtKind::Impossible), 1);
    // A first fix of long ago and far away does not take the rest with it.
    let mut fixes = flown(&ground, 20.0, 1.0, |t| (100.0 * t - 1_000.0, 230.0));
    fixes[0].place = place(48.0, 2.0);
    let log = crate::log(&as_gpx(&fixes));
    assert!(log.tracks[0].fixes.len() >= fixes.len() - 5);
}

// GPX 1.1

/// A file of our own, by the schema of GPX 1.1 (topografix.com/GPX/1/1/gpx.xsd).
const GPX: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="a test" xmlns="http://www.topografix.com/GPX/1/1">
  <metadata><name>not an aircraft</name><time>2026-07-05T11:00:00Z</time></metadata>
  <wpt lat="1" lon="2"><time>2026-07-05T11:00:00Z</time><name>a waypoint</name></wpt>
  <rte><rtept lat="3" lon="4"><time>2026-07-05T11:00:00Z</time></rtept></rte>
  <trk>
    <name>One &amp; &#x4f;nly</name>
    <trkseg>
      <trkpt lat="61.0" lon="9.5"><ele>200.5</ele><time>2026-07-05T12:00:00Z</time><fix>3d</fix></trkpt>
      <trkpt lon='9.501' lat='61.0'><time>2026-07-05T14:00:01.250+02:00</time>
        <extensions><tpx:TrackPointExtension xmlns:tpx="http://example.org/tpx">
          <tpx:speed>43.2</tpx:speed><tpx:course>90.0</tpx:course>
        </tpx:TrackPointExtension></extensions>
      </trkpt>
      <trkpt lat="61.0" lon="9.502"/>
      <trkpt lat="61.0" lon="nowhere"><time>2026-07-05T12:00:03Z</time></trkpt>
    </trkseg>
    <trkseg><trkpt lat="61.0" lon="9.503"><time>2026-07-05T12:00:04</time></trkpt></trkseg>
  </trk>
  <trk><trkseg><trkpt lat="61.1" lon="-170.5"><time>2026-07-05T12:00:00Z</time></trkpt></trkseg></trk>
  <trk><name>One &amp; Only</name>
    <trkseg><trkpt lat="61.0" lon="9.504"><time>2026-07-05T12:00:06Z</time></trkpt></trkseg></trk>
</gpx>"#;

#[test]
fn gpx_tracks_are_aircraft_and_nothing_else_is_taken_for_a_fix() {
    let log = log(GPX);
    let tracks: Vec<(&str, usize)> = log
        .tracks
        .iter()
        .map(|track| (track.name.as_str(), track.fixes.len()))
        .collect();
    assert_eq!(tracks, [("One & Only", 4), ("log", 1)]);
    let fixes = &log.tracks[0].fixes;
    assert_eq!(fixes[0].height, Some(Length::from_m(200.5)));
    assert_eq!(fixes[1].at.to_string(), "2026-07-05T12:00:01.25Z");
    assert_eq!(fixes[1].ground_speed.map(|v| v.mps()), Some(43.2));
    assert!((fixes[1].track.expect("a course").deg() - 90.0).abs() < 1e-12);
    assert_eq!(fixes[2].at.to_string(), "2026-07-05T12:00:04Z");
    assert_eq!(
        doubts(&log),
        ["2 fixes lack their time or place (the first on line 15)"]
    );
}

/// The examples of W3C, XML Schema Part 2: Datatypes, 3.2.7, whose `dateTime` GPX 1.1 has for its times: noon where it
/// is five hours earlier than in Greenwich is 17:00 there (from memory).
#[test]
fn gpx_times_are_those_of_xml_schema() {
    for (written, meant) in [
        ("2002-10-10T12:00:00-05:00", "2002-10-10T17:00:00Z"),
        ("2002-10-10T12:00:00+05:00", "2002-10-10T07:00:00Z"),
        ("2002-10-10T00:00:00+05:00", "2002-10-09T19:00:00Z"),
        ("2002-10-10T12:00:00Z", "2002-10-10T12:00:00Z"),
    ] {
        let point = format!("<trkpt lat=\"-90\" lon=\"-180\"><time>{written}</time></trkpt>");
        let log = log(&format!("<gpx><trk><trkseg>{point}</trkseg></trk></gpx>"));
        assert_eq!(times(&log), [meant], "{written}");
    }
}

#[test]
fn a_gpx_file_that_breaks_off_keeps_what_it_has() {
    let cut = &GPX[..GPX.find("nowhere").expect("the place")];
    let log = log(cut);
    assert_eq!(log.tracks[0].fixes.len(), 2);
    assert_eq!(log.doubts.count(DoubtKind::BrokenOff), 1);
    let untimed = r#"<gpx><trk><trkseg><trkpt lat="1" lon="2"/></trkseg></trk></gpx>"#;
    let error = fails(untimed).to_string();
    assert!(
        error.contains("1 fix lacks its time or place (line 1)"),
        "{error}"
    );
    assert!(fails("<html></html>").to_string().contains("no positions"));
    assert!(fails("").to_string().contains("time, lat_deg, lon_deg"));
}

// CSV

#[test]
fn csv_columns_are_found_by_name_and_unit() {
    let comma = "# a logger\n\
        Time (UTC),Latitude,Longitude,Altitude (ft),Speed [km/h],Course,Callsign\n\
        2026-07-05T12:00:00.500Z,61.0,9.5,1000,360,64,Tarn 1\n\
        2026-07-05 12:00:00,61.1,9.5,,360,64,\"Tarn, 2\"\n\
        2026-07-05T12:00:01.500Z,61.0005,9.5015,1010,,,Tarn 1\n";
    let log = log(&comma.replace("Time (UTC)", "Time UTC"));
    let names: Vec<&str> = log.tracks.iter().map(|track| track.name.as_str()).collect();
    assert_eq!(names, ["Tarn 1", "Tarn, 2"]);
    let first = &log.tracks[0].fixes[0];
    assert_eq!(first.height, Some(Length::from_m(304.8)));
    assert!((first.ground_speed.expect("a speed").mps() - 100.0).abs() < 1e-9);
    assert_eq!(log.tracks[0].fixes[1].ground_speed, None);
    assert_eq!(
        log.tracks[1].fixes[0].at.to_string(),
        "2026-07-05T12:00:00Z"
    );

    let semicolon = "date;time;lat_deg;lon_deg;speed_kt\n\
        2026-07-05;23:59:59,5;61,0;9,5;100,0\n\
        2026-07-06;00:00:00,5;61,0;9,5009;100,0\n";
    let log = crate::log(semicolon);
    assert_eq!(
        times(&log),
        ["2026-07-05T23:59:59.5Z", "2026-07-06T00:00:00.5Z"]
    );
    assert!(
        (log.tracks[0].fixes[0].ground_speed.expect("a speed").mps() - 100.0 * KNOT).abs() < 1e-9
    );

    let unix = "unix_s\tlat\tlon\n1783252800.25\t61.0\t9.5\n";
    assert_eq!(times(&crate::log(unix)), ["2026-07-05T12:00:00.25Z"]);
}

#[test]
fn a_damaged_csv_says_what_to_write() {
    for (text, said) in [
        ("time,lon\n1,2\n", "log:1:1: no column has the latitude"),
        ("time,lat,x\n1,2,3\n", "name the one that has it `lon_deg`"),
        ("lat,lon\n1,2\n", "no column has the time"),
        (
            "time,lat,lon,altitude\n2026-07-05T12:00:00Z,1,2,3\n",
            "log:1:4: column 4 is `altitude`, with no unit",
        ),
        ("time,lat,lon\n12:00:00,1,2\n", "1 fix has no date (line 2)"),
        (
            "time,lat,lon\nnoon,1,2\n",
            "1 fix lacks its time or place (line 2)",
        ),
        (
            "time,lat,lon\n2026-07-05T12:00:00Z,91,2\n",
            "1 fix lacks its time or place",
        ),
        ("time,lat,lon\n", "has no positions with a time"),
        ("once upon a time", "no column has the"),
    ] {
        let error = fails(text).to_string();
        assert!(error.contains(said), "{text}\n{error}");
    }
    let log = log("time,lat,lon\n2026-07-05T12:00:00Z,1,2\n\n2026-07-05T12:00:01Z,1\n\u{0},,,,\n");
    assert_eq!(log.tracks[0].fixes.len(), 1);
    assert_eq!(log.doubts.count(DoubtKind::Incomplete), 2);
}

proptest! {
    #[test]
    fn no_bytes_make_the_reader_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let _ = read(bytes.as_slice(), "log", None);
    }

    #[test]
    fn no_sentence_makes_the_reader_panic(body in "(GP|GN|P)?(RMC|GGA),[0-9.,ANSEWMV\\-+é]{0,80}") {
        let _ = read(nmea(&body).as_bytes(), "log", Some(jiff::civil::date(2026, 7, 5)));
    }

    #[test]
    fn no_damage_makes_the_reader_panic(at in 0..GPX.len(), byte in any::<u8>(), csv in any::<bool>()) {
        let csv_text = "time,lat,lon,altitude_m\n2026-07-05T12:00:00Z,61.0,9.5,\"1\"\n".repeat(3);
        let mut bytes = if csv { csv_text.into_bytes() } else { GPX.as_bytes().to_vec() };
        let at = at % bytes.len();
        bytes[at] = byte;
        let _ = read(bytes.as_slice(), "log", None);
        bytes.truncate(at);
        let _ = read(bytes.as_slice(), "log", None);
    }
}
